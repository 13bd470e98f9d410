//! `rubstone sample`.

use examine::shown;
use wire::answers::SampleAnswer;

use super::{failed, json, report_answer, say_report};
use crate::args::Sample;
use crate::outcome::{Outcome, Stop};
use crate::progress::Progress;
use crate::say;

pub fn run(args: &Sample) -> Result<Outcome, Stop> {
    let sample = examine::sample(&args.examination, &Progress::new())?;
    let folder = shown(&args.examination);
    if args.json {
        json!(&SampleAnswer {
            schema: "rubstone.sample/1",
            folder,
            measured: sample.n_measured,
            report: report_answer(&sample.report),
            failed: failed(&sample.failures),
        });
    } else {
        say::result(&format!("sample: {folder}, {} micrographs measured", sample.n_measured));
        say_report(&sample.report);
    }
    Ok(Outcome { failures: sample.failures })
}
