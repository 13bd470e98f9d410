//! `rubstone status`.

use examine::{ExamineError, Failure};
use wire::answers::StatusAnswer;

use super::json;
use crate::args;
use crate::outcome::{Outcome, Stop, open};
use crate::say;

pub fn run(args: &args::Status) -> Result<Outcome, Stop> {
    let examination = open(&args.examination)?;
    let status = examine::status(&examination, args.check)?;
    let lost = |line: &String| Failure::new("", &ExamineError::request(line.clone()));
    let failures = status.lost.iter().map(lost).collect();
    let [overviews, micrographs, graduations] = status.captures;
    if args.json {
        json!(&StatusAnswer {
            schema: "rubstone.status/1",
            object: status.object,
            stations: status.stations,
            overviews,
            micrographs,
            graduations,
            without_scale: status.without_scale,
            without_station: status.without_station,
            to_measure: status.to_measure,
            lost: status.lost,
            unfinished: status.unfinished,
            next: status.next,
        });
        return Ok(Outcome { failures });
    }
    let name = if status.object.is_empty() { "not named yet" } else { &status.object };
    say::result(&format!("object: {name}"));
    say::result(&format!(
        "        {} stations, {overviews} overviews, {micrographs} micrographs, {graduations} graduations",
        status.stations
    ));
    for (count, what) in [
        (status.without_scale, "micrographs without a scale"),
        (status.without_station, "micrographs without a station"),
        (status.to_measure, "micrographs to be measured"),
    ] {
        if count > 0 {
            say::result(&format!("        {count} {what}"));
        }
    }
    say::result(&format!("next:   {}", status.next));
    Ok(Outcome { failures })
}
