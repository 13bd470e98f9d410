//! `rubstone add`.

use archive::{Added, Examination, Instrument, InstrumentId, InstrumentKind};
use examine::{AddOptions, ExamineError, shown};
use wire::answers::{AddAnswer, AddedForm};

use super::{failed, json};
use crate::args::Add;
use crate::outcome::{Outcome, Stop, open};
use crate::progress::Progress;
use crate::say;

pub fn run(args: &Add) -> Result<Outcome, Stop> {
    let examination = open(&args.examination)?;
    let options = AddOptions {
        kind: args.kind.into(),
        station: args.station.as_deref().map(|name| examination.make_station(name)).transpose()?,
        instrument: args.instrument.as_deref().map(|name| instrument(&examination, name)).transpose()?,
    };
    let taken = examine::add(&examination, &args.pictures, &options, &Progress::new())?;
    if args.json {
        let added = taken.files.iter().map(|(path, added, notes)| AddedForm {
            file: shown(path),
            capture: added.id().0,
            already: matches!(added, Added::Already(_)),
            notes: notes.clone(),
        });
        json!(&AddAnswer {
            schema: "rubstone.add/1",
            added: added.collect(),
            failed: failed(&taken.failures),
            passed_over: taken.passed_over,
        });
        return Ok(Outcome { failures: taken.failures });
    }
    for (path, added, notes) in &taken.files {
        let file = shown(path);
        match added {
            Added::New(id) => say::result(&format!("added:  {file} (capture {id})")),
            Added::Already(id) => say::result(&format!("known:  {file} is there already (capture {id})")),
        }
        for note in notes {
            say::result(&format!("        {note}"));
        }
    }
    if taken.passed_over > 0 {
        say::result(&format!("passed over: {} files that are no pictures by their names", taken.passed_over));
    }
    super::say_next(&examination)?;
    Ok(Outcome { failures: taken.failures })
}

/// The instrument of this name, made if there is none.
pub(super) fn instrument(examination: &Examination, name: &str) -> Result<InstrumentId, ExamineError> {
    match examination.instrument_named(name)? {
        Some(there) => Ok(there.id),
        None => Ok(examination.make_instrument(&Instrument::named(name, InstrumentKind::Microscope))?),
    }
}
