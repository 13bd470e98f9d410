//! `rubstone station`.

use archive::{Examination, Pin, Station};
use examine::{ExamineError, find_capture};
use quantity::counted;
use wire::answers::{NamedForm, NamesAnswer};

use super::json;
use crate::args;
use crate::outcome::{Outcome, Stop, open};
use crate::say;

pub fn run(args: &args::Station) -> Result<Outcome, Stop> {
    let examination = open(&args.examination)?;
    match &args.name {
        Some(name) if args.remove => examination.remove_station(known(&examination, name)?.id)?,
        Some(name) => change(&examination, name, args)?,
        None => {}
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
        say::result(&format!("{}: {}", item.name, counted(item.captures, "capture")));
    }
    Ok(Outcome::default())
}

/// Changes the station of this name, which is made if there is none and it is not to be renamed.
fn change(examination: &Examination, name: &str, args: &args::Station) -> Result<(), ExamineError> {
    let pin = args.pin.as_deref().map(|words| pin(examination, words)).transpose()?;
    let taken =
        args.take.iter().map(|called| find_capture(examination, called)).collect::<Result<Vec<_>, _>>()?;
    if args.rename.is_none() {
        examination.make_station(name)?;
    }
    let mut station = known(examination, name)?;
    if let Some(note) = &args.note {
        station.note.clone_from(note);
    }
    if let Some(new) = &args.rename {
        station.name.clone_from(new);
    }
    station.pin = if args.unpin { None } else { pin.or(station.pin) };
    examination.set_station(&station)?;
    for mut capture in taken {
        capture.station = Some(station.id);
        examination.set_capture(&capture)?;
    }
    Ok(())
}

fn known(examination: &Examination, name: &str) -> Result<Station, ExamineError> {
    examination.station_named(name)?.ok_or_else(|| {
        let words = format!("there is no station '{name}'; `rubstone station EXAMINATION` lists them");
        ExamineError::request(words)
    })
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
