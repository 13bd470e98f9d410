//! `rubstone station`.

use archive::{Examination, Pin, StationId};
use examine::{ExamineError, find_capture};
use wire::answers::{NamedForm, NamesAnswer};

use super::json;
use crate::args;
use crate::outcome::{Outcome, Stop, open};
use crate::say;

pub fn run(args: &args::Station) -> Result<Outcome, Stop> {
    let examination = open(&args.examination)?;
    if let Some(name) = &args.name {
        let pin = args.pin.as_deref().map(|words| pin(&examination, words)).transpose()?;
        let taken = args
            .take
            .iter()
            .map(|called| find_capture(&examination, called))
            .collect::<Result<Vec<_>, _>>()?;
        let id = examination.make_station(name)?;
        write(&examination, id, args.note.as_deref(), pin)?;
        for mut capture in taken {
            capture.station = Some(id);
            examination.set_capture(&capture)?;
        }
    }
    let captures = examination.captures()?;
    let items: Vec<NamedForm> = examination
        .stations()?
        .into_iter()
        .map(|station| NamedForm {
            id: station.id.0,
            captures: captures.iter().filter(|capture| capture.station == Some(station.id)).count(),
            um_per_px: None,
            name: station.name,
            note: station.note,
        })
        .collect();
    if args.json {
        json!(&NamesAnswer { schema: "rubstone.stations/1", items });
        return Ok(Outcome::default());
    }
    if items.is_empty() {
        say::result("no stations yet; make one: rubstone station EXAMINATION NAME");
    }
    for item in items {
        say::result(&format!("{}: {} captures", item.name, item.captures));
    }
    Ok(Outcome::default())
}

fn write(
    examination: &Examination,
    id: StationId,
    note: Option<&str>,
    pin: Option<Pin>,
) -> Result<(), ExamineError> {
    let Some(mut station) = examination.stations()?.into_iter().find(|station| station.id == id) else {
        return Ok(());
    };
    if let Some(note) = note {
        note.clone_into(&mut station.note);
    }
    station.pin = pin.or(station.pin);
    Ok(examination.set_station(&station)?)
}

fn pin(examination: &Examination, words: &[String]) -> Result<Pin, ExamineError> {
    let [picture, x, y] = words else {
        return Err(ExamineError::request("a pin is an overview and two shares, such as front.jpg 0.25 0.6"));
    };
    let share = |text: &String| {
        text.parse::<f64>()
            .map_err(|_| ExamineError::request(format!("'{text}' is no share of the picture; give 0 to 1")))
    };
    Ok(Pin { capture: find_capture(examination, picture)?.id, at: [share(x)?, share(y)?] })
}
