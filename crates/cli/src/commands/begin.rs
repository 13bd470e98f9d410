//! `rubstone begin`.

use archive::{Examination, MineralShare, Object, Rock};
use examine::{ExamineError, SOFTWARE, shown};
use wire::answers::BeginAnswer;

use super::json;
use crate::args::Begin;
use crate::outcome::{Outcome, Stop};
use crate::say;

pub fn run(args: &Begin) -> Result<Outcome, Stop> {
    let rock = match &args.rock {
        Some(name) => Rock::Named(name.clone()),
        None if args.mineral.is_empty() => Rock::Unknown,
        None => Rock::Minerals(args.mineral.iter().map(|text| mineral(text)).collect::<Result<_, _>>()?),
    };
    let examination = Examination::begin(&args.examination, SOFTWARE)?;
    examination.set_object(&Object {
        name: args.name.clone(),
        rock,
        place: args.place.clone(),
        conditions: args.conditions.clone(),
        note: args.note.clone(),
    })?;
    let folder = shown(&args.examination);
    if args.json {
        json!(&BeginAnswer { schema: "rubstone.begin/1", folder, uuid: examination.uuid()? });
    } else {
        say::result(&format!("begun:  {folder}"));
        super::say_next(&examination)?;
    }
    Ok(Outcome::default())
}

fn mineral(text: &str) -> Result<MineralShare, ExamineError> {
    let wrong =
        || ExamineError::request(format!("'{text}' is no mineral with its share; write it like quartz=0.3"));
    let (mineral, share) = text.split_once('=').ok_or_else(wrong)?;
    Ok(MineralShare { mineral: mineral.trim().to_owned(), share: share.trim().parse().map_err(|_| wrong())? })
}
