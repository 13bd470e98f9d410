//! `rubstone instrument`.

use archive::{Instrument, InstrumentKind};
use examine::ExamineError;
use quantity::counted;
use wire::answers::{NamedForm, NamesAnswer};

use super::json;
use crate::args;
use crate::outcome::{Outcome, Stop, open};
use crate::say;

pub fn run(args: &args::Instrument) -> Result<Outcome, Stop> {
    let examination = open(&args.examination)?;
    if let Some(name) = &args.name {
        let there = examination.instrument_named(name)?;
        let is_new = there.is_none();
        if is_new && args.rename.is_some() {
            let words =
                format!("there is no instrument '{name}'; `rubstone instrument EXAMINATION` lists them");
            return Err(ExamineError::request(words).into());
        }
        let mut instrument = there.unwrap_or_else(|| Instrument::named(name, InstrumentKind::Microscope));
        if args.camera {
            instrument.kind = InstrumentKind::Camera;
        }
        if args.microscope {
            instrument.kind = InstrumentKind::Microscope;
        }
        if let Some(name) = &args.rename {
            instrument.name.clone_from(name);
        }
        if let Some(light) = super::light(&args.light)? {
            instrument.light = light;
        }
        if let Some(nominal) = &args.nominal {
            instrument.nominal_magnification.clone_from(nominal);
        }
        if let Some(note) = &args.note {
            instrument.note.clone_from(note);
        }
        if is_new {
            examination.make_instrument(&instrument)?;
        } else {
            examination.set_instrument(&instrument)?;
        }
    }
    let captures = examination.captures()?;
    let mut items = Vec::new();
    for instrument in examination.instruments()? {
        items.push(NamedForm {
            id: instrument.id.0,
            captures: captures.iter().filter(|capture| capture.instrument == Some(instrument.id)).count(),
            um_per_px: instrument.scale.map(|scale| scale.um_per_px.value()),
            name: instrument.name,
            note: instrument.note,
        });
    }
    if args.json {
        json!(&NamesAnswer { schema: "rubstone.instruments/1", items });
        return Ok(Outcome::default());
    }
    if items.is_empty() {
        say::result("no instruments yet; make one: rubstone instrument EXAMINATION NAME");
    }
    for item in items {
        let scale = item.um_per_px.map_or("no scale".to_owned(), |scale| format!("{scale} µm/px"));
        say::result(&format!("{}: {}, {scale}", item.name, counted(item.captures, "capture")));
    }
    Ok(Outcome::default())
}
