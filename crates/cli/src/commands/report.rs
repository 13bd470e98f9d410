//! `rubstone report`.

use examine::{PublishOptions, publish};

use super::{json, report_answer, say_report};
use crate::args::Report;
use crate::outcome::{Outcome, Stop, open};
use crate::progress::Progress;

pub fn run(args: &Report) -> Result<Outcome, Stop> {
    let examination = open(&args.examination)?;
    let options = PublishOptions {
        made_at: args.made_at.clone(),
        without: args.without.clone(),
        ..PublishOptions::default()
    };
    let report = publish(&examination, &options, &Progress::new())?;
    if args.json {
        json!(&report_answer(&report));
    } else {
        say_report(&report);
    }
    Ok(Outcome::default())
}
