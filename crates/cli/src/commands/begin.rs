//! `rubstone begin`.

use archive::Examination;
use examine::forms::object_of;
use examine::{SOFTWARE, shown};
use wire::answers::BeginAnswer;
use wire::desk::ObjectForm;

use super::json;
use super::object::changed;
use crate::args::Begin;
use crate::outcome::{Outcome, Stop};
use crate::say;

pub fn run(args: &Begin) -> Result<Outcome, Stop> {
    // A wrong mineral must not leave a begun folder behind.
    let object = object_of(&changed(nothing_known(), &args.object)?)?;
    let examination = Examination::begin(&args.examination, SOFTWARE)?;
    examination.set_object(&object)?;
    let folder = shown(&args.examination);
    if args.json {
        json!(&BeginAnswer { schema: "rubstone.begin/1", folder, uuid: examination.uuid()? });
    } else {
        say::result(&format!("begun:  {folder}"));
        super::say_next(&examination)?;
    }
    Ok(Outcome::default())
}

fn nothing_known() -> ObjectForm {
    ObjectForm {
        name: String::new(),
        rock: String::new(),
        minerals: Vec::new(),
        place: String::new(),
        conditions: String::new(),
        note: String::new(),
    }
}
