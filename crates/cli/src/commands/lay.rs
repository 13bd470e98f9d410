//! `rubstone lay`.

use examine::describe::{Read, StationReads, by_station, describe_fields, fields};
use examine::{ExamineError, SEED, compare};
use quantity::counted;
use wire::answers::{CaptureLayForm, DifferenceForm, LayAnswer, StationLayForm};
use wire::measure::LayForm;

use super::json;
use crate::args::Lay;
use crate::outcome::{Outcome, Stop, open};
use crate::say;

pub fn run(args: &Lay) -> Result<Outcome, Stop> {
    let examination = open(&args.examination)?;
    let groups = by_station(&examination)?;
    let reads = || groups.iter().flat_map(|(_, reads)| reads);
    if reads().all(|read| read.standing.kept.is_none()) {
        let words = "nothing is measured in this examination yet; run `rubstone measure EXAMINATION` first";
        return Err(ExamineError::request(words).into());
    }
    let whole = describe_fields(&fields(reads()), SEED);
    let mut stations = Vec::new();
    for (station, reads) in &groups {
        let fields = fields(reads);
        if !fields.is_empty() {
            stations.push(StationLayForm {
                station: station.as_ref().map_or("no station".to_owned(), |station| station.name.clone()),
                captures: fields.len(),
                lay: wire::measure::lay(&describe_fields(&fields, SEED)),
            });
        }
    }
    let captures = args.captures.then(|| groups.iter().flat_map(of_captures).collect());
    let placed: Vec<Read> =
        groups.iter().filter(|(station, _)| station.is_some()).flat_map(|(_, reads)| reads.clone()).collect();
    let comparison = compare(&fields(&placed), SEED);
    let differences = comparison.overall.iter().flatten().map(|difference| DifferenceForm {
        quantity: difference.quantity.words().to_owned(),
        p: difference.p,
        p_holm: difference.p_holm,
        smallest_p: difference.smallest_p,
    });
    let answer = LayAnswer {
        schema: "rubstone.lay/1",
        object: wire::measure::lay(&whole),
        stations,
        captures,
        differences: differences.collect(),
        notes: whole.notes.iter().chain(&comparison.notes).cloned().collect(),
    };
    if args.json {
        json!(&answer);
        return Ok(Outcome::default());
    }
    say_lay("all stations", &answer.object);
    for station in &answer.stations {
        say_lay(&format!("{} ({})", station.station, counted(station.captures, "capture")), &station.lay);
    }
    for capture in answer.captures.iter().flatten() {
        say_lay(&capture.capture, &capture.lay);
    }
    for difference in &answer.differences {
        let word = if difference.p_holm < 0.05 { "differ" } else { "no difference shown" };
        say::result(&format!(
            "stations, {}: {word} (p {:.3} after Holm)",
            difference.quantity, difference.p_holm
        ));
    }
    answer.notes.iter().for_each(|note| say::result(note));
    Ok(Outcome::default())
}

/// The lay of each capture of a station by itself.
fn of_captures((station, reads): &StationReads) -> Vec<CaptureLayForm> {
    let one = |read: &Read| {
        let fields = fields([read]);
        (!fields.is_empty()).then(|| CaptureLayForm {
            capture: read.capture.file_name.clone(),
            station: station.as_ref().map(|station| station.name.clone()),
            lay: wire::measure::lay(&describe_fields(&fields, SEED)),
        })
    };
    reads.iter().filter_map(one).collect()
}

fn say_lay(title: &str, lay: &LayForm) {
    say::result(&format!("{title}: {}", counted(lay.count, "trace")));
    for set in &lay.sets {
        say::result(&format!(
            "    set at {:.1}° ± {:.1}°, {:.0} % of the traces",
            set.direction_deg,
            set.direction_u_deg,
            100.0 * set.share
        ));
    }
    if lay.sets.is_empty() {
        say::result(&format!("    no preferred direction (p of evenness {:.3})", lay.uniform_p));
    }
    if let (Some(crossing), Some(u)) = (lay.crossing_deg, lay.crossing_u_deg) {
        say::result(&format!("    crossing at {crossing:.1}° ± {u:.1}°"));
    }
}
