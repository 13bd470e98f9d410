//! `rubstone form`.

use examine::{ExamineError, FormOptions, LengthUnit, form};
use quantity::Measured;
use wire::form::FormFile;

use super::json;
use crate::args::Form;
use crate::outcome::{Outcome, Stop};
use crate::progress::Progress;
use crate::say;

pub fn run(args: &Form) -> Result<Outcome, Stop> {
    let unit = match &args.unit {
        None => None,
        Some(sign) => Some(LengthUnit::from_sign(sign).ok_or_else(|| {
            ExamineError::request(format!(
                "'{sign}' is no unit of length known here; give m, cm, mm, um, nm or in"
            ))
        })?),
    };
    let options = FormOptions {
        unit,
        pitch_um: args.pitch_um,
        height_per_count: args.height_per_count,
        u_height_um: args.u_height_um,
        scale_u: args.scale_u,
        s_filter_um: args.s_filter_um,
        l_filter_um: args.l_filter_um,
        ..FormOptions::default()
    };
    let (answer, failures) = form(&args.files, &options, &Progress::new())?;
    if args.json {
        json!(&answer);
    } else {
        answer.files.iter().for_each(say_file);
    }
    Ok(Outcome { failures })
}

fn say_file(file: &FormFile) {
    say::result(&format!("{} ({})", file.file, file.kind));
    file.facts.iter().for_each(|(name, value)| say::result(&format!("    {name}: {value}")));
    for quantity in &file.quantities {
        let value = match quantity.u {
            Some(u) => Measured { value: quantity.value, u }.to_string(),
            None => format!("{:.4}", quantity.value),
        };
        say::result(&format!("    {}: {value} {}", quantity.name, quantity.unit));
    }
    file.cannot_tell.iter().for_each(|reason| say::result(&format!("    cannot tell {reason}")));
    file.notes.iter().for_each(|note| say::result(&format!("    {note}")));
}
