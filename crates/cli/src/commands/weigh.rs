//! `rubstone weigh`.

use archive::DATABASE;
use examine::{
    ExamineError, WeighOptions, cache_folder, measure_in, named_panels, weigh_examination, weigh_measure,
};
use wire::weigh::KeptWeighing;

use super::json;
use super::panel::named_panel;
use crate::args::Weigh;
use crate::outcome::{About, Outcome, Stop, open};
use crate::progress::Progress;
use crate::say;

pub fn run(args: &Weigh) -> Result<Outcome, Stop> {
    let mut options = WeighOptions {
        seed: args.seed,
        finishes: args.finish.clone(),
        priors: args.prior.iter().map(|text| prior(text)).collect::<Result<_, _>>()?,
        panels: args.panel.iter().map(|text| named_panel(text)).collect::<Result<_, _>>()?,
        replace: args.replace,
        cache: if args.no_cache { None } else { cache_folder() },
    };
    let kept = if args.input.is_dir() || args.input.join(DATABASE).exists() {
        let examination = open(&args.input)?;
        if args.kept_panels {
            options.panels.extend(named_panels(&examination)?);
        }
        with_panels(&options)?;
        weigh_examination(&examination, &options, &Progress::new()).about(&args.input)?
    } else {
        if args.kept_panels {
            let words = "a file keeps no panels; give them with --panel";
            return Err(ExamineError::request(words).into());
        }
        with_panels(&options)?;
        let measure = measure_in(&args.input).about(&args.input)?;
        weigh_measure(&measure, &options, &Progress::new()).about(&args.input)?
    };
    if args.json {
        json!(&kept.weighing);
    } else {
        say_weighing(&kept);
    }
    Ok(Outcome::default())
}

/// Whether there are panels where they are to replace models.
fn with_panels(options: &WeighOptions) -> Result<(), ExamineError> {
    if options.replace && options.panels.is_empty() {
        let words = "there are no panels to replace models; give --panel, or --kept-panels";
        return Err(ExamineError::request(words));
    }
    Ok(())
}

fn prior(text: &str) -> Result<(String, f64), ExamineError> {
    let wrong = || ExamineError::request(format!("'{text}' is no prior; write it like rotating-pad=0.5"));
    let (name, probability) = text.split_once('=').ok_or_else(wrong)?;
    Ok((name.trim().to_owned(), probability.trim().parse().map_err(|_| wrong())?))
}

fn say_weighing(kept: &KeptWeighing) {
    let weighing = &kept.weighing;
    for group in &weighing.cannot_tell_apart {
        say::result(&format!("cannot be told apart with these pictures: {}", group.join(", ")));
    }
    for (pair, words) in weighing.pairs.iter().zip(&kept.pair_words) {
        if words.contains("support") {
            let (for_, over) = if pair.log10_lr >= 0.0 { (&pair.a, &pair.b) } else { (&pair.b, &pair.a) };
            say::result(&format!(
                "the marks present give {words} for {for_} over {over} (log10 LR of {} over {}: {:.1}, {:.1} to {:.1})",
                pair.a, pair.b, pair.log10_lr, pair.low, pair.high
            ));
        }
    }
    let fits = &weighing.none_fits;
    say::result(&if kept.none_fits_flagged {
        format!("none of the modelled finishes fits (p {:.3}): {}", fits.p, fits.because)
    } else {
        format!(
            "the modelled finishes can explain the marks (p {:.3}; furthest out: {})",
            fits.p, fits.because
        )
    });
    say::result(&kept.stations);
    for (name, prior, posterior) in &kept.posterior {
        say::result(&format!("{name}: prior {prior}, posterior {posterior:.3}"));
    }
    kept.notes.iter().for_each(|note| say::result(note));
    say::result(&kept.scale_citation);
}
