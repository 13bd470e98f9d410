//! `rubstone form`.

use archive::Examination;
use examine::form::quantity_words;
use examine::{BlockAsked, ExamineError, Failure, FormOptions, FormPart, form, form_examination};
use wire::form::{FormAnswer, FormFile};

use super::json;
use crate::args::Form;
use crate::outcome::{About, Outcome, Stop, open};
use crate::progress::Progress;
use crate::say;

pub fn run(args: &Form) -> Result<Outcome, Stop> {
    if let (Some(file), Some(examination)) = (&args.forget, &args.keep) {
        return forget(&open(examination)?, file, args.json);
    }
    let (answer, failures) =
        if args.pair.is_empty() { surfaces(args)? } else { super::landmarks::measured(args)? };
    if args.json {
        json!(&answer);
    } else {
        answer.files.iter().for_each(say_file);
    }
    Ok(Outcome { failures })
}

/// Forgets what was measured on one file, and says what is still kept.
fn forget(examination: &Examination, called: &str, json: bool) -> Result<Outcome, Stop> {
    let kept = examine::form::kept(examination)?;
    let mut meant = kept.iter().filter(|file| file.form.file == called || file.sha256 == called);
    let sha256 = match (meant.next(), meant.next()) {
        (Some(one), None) => one.sha256.clone(),
        (Some(_), Some(_)) => {
            let words =
                format!("several files are called {called}; give the SHA-256 of the one that is meant");
            return Err(ExamineError::request(words).into());
        }
        (None, _) => {
            let names: Vec<&str> = kept.iter().map(|file| file.form.file.as_str()).collect();
            let known = if names.is_empty() { "nothing is kept".to_owned() } else { names.join(", ") };
            let words = format!("nothing measured on {called} is kept; there is: {known}");
            return Err(ExamineError::request(words).into());
        }
    };
    examine::form::forget(examination, &sha256)?;
    let files: Vec<FormFile> =
        kept.into_iter().filter(|file| file.sha256 != sha256).map(|file| file.form).collect();
    if json {
        json!(&FormAnswer { schema: wire::form::SCHEMA.to_owned(), files });
    } else {
        say::result(&format!(
            "forgotten: what was measured on {called}; {} files are still kept",
            files.len()
        ));
    }
    Ok(Outcome::default())
}

/// What height maps and meshes say.
fn surfaces(args: &Form) -> Result<(FormAnswer, Vec<Failure>), Stop> {
    let options = FormOptions {
        unit: args.unit.as_deref().map(examine::form::length_unit).transpose()?,
        pitch_um: args.pitch_um,
        height_per_count: args.height_per_count,
        u_height_um: args.u_height_um,
        scale_u: args.scale_u,
        s_filter_um: args.s_filter_um,
        l_filter_um: args.l_filter_um,
        parts: args.measure.iter().map(|word| FormPart::of_word(word)).collect::<Result<_, _>>()?,
        region_mm: args.region_mm.iter().map(|text| point(text)).collect::<Result<_, _>>()?,
        path_mm: args.path_mm.iter().map(|text| point(text)).collect::<Result<_, _>>()?,
        reach_mm: args.reach_mm,
        spacing_mm: args.spacing_mm,
        block: block(args)?,
        block_u_mm: args.block_u_mm,
    };
    Ok(match &args.keep {
        Some(folder) => {
            let examination = open(folder)?;
            let (kept, failures) =
                form_examination(&examination, &args.files, &options, &Progress::new()).about(folder)?;
            let files = kept.into_iter().map(|file| file.form).collect();
            (FormAnswer { schema: wire::form::SCHEMA.to_owned(), files }, failures)
        }
        None => form(&args.files, &options, &Progress::new())?,
    })
}

/// Where the raw block's face lay, if it was said.
fn block(args: &Form) -> Result<Option<BlockAsked>, ExamineError> {
    if let Some(by) = args.block_raised_mm {
        return Ok(Some(BlockAsked::Raised(by)));
    }
    let points = args.block_point_mm.iter().map(|text| point(text)).collect::<Result<Vec<_>, _>>()?;
    match points.as_slice() {
        [] => Ok(None),
        [a, b, c] => Ok(Some(BlockAsked::Through([*a, *b, *c]))),
        other => Err(ExamineError::request(format!(
            "a block face needs three points, {} were given; give --block-point-mm three times",
            other.len()
        ))),
    }
}

pub(super) fn point(text: &str) -> Result<[f64; 3], ExamineError> {
    let numbers: Result<Vec<f64>, _> = text.split(',').map(|part| part.trim().parse()).collect();
    match numbers.as_deref() {
        Ok([x, y]) => Ok([*x, *y, 0.0]),
        Ok([x, y, z]) => Ok([*x, *y, *z]),
        _ => Err(ExamineError::request(format!("'{text}' is no point; write it like 12.5,3 or 12.5,3,0.8"))),
    }
}

fn say_file(file: &FormFile) {
    say::result(&format!("{} ({})", file.file, file.kind));
    file.facts.iter().for_each(|(name, value)| say::result(&format!("    {name}: {value}")));
    for quantity in &file.quantities {
        say::result(&format!("    {}: {}", quantity.name, quantity_words(quantity)));
    }
    file.cannot_tell.iter().for_each(|reason| say::result(&format!("    cannot tell {reason}")));
    file.notes.iter().for_each(|note| say::result(&format!("    {note}")));
}
