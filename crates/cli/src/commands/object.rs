//! `rubstone object`.

use examine::ExamineError;
use examine::forms::{object_form, object_of};
use wire::answers::ObjectAnswer;
use wire::desk::ObjectForm;
use wire::stones::MineralShareForm;

use super::json;
use crate::args::{self, ObjectArgs};
use crate::outcome::{Outcome, Stop, open};
use crate::say;

pub fn run(args: &args::Object) -> Result<Outcome, Stop> {
    let examination = open(&args.examination)?;
    let before = object_form(&examination)?;
    let object = changed(before.clone(), &args.object)?;
    if object != before {
        examination.set_object(&object_of(&object)?)?;
    }
    if args.json {
        json!(&ObjectAnswer { schema: "rubstone.object/1", object });
        return Ok(Outcome::default());
    }
    let minerals: Vec<String> =
        object.minerals.iter().map(|one| format!("{} {}", one.mineral, one.share)).collect();
    let rock = if minerals.is_empty() { object.rock } else { minerals.join(", ") };
    for (title, text) in [
        ("name", object.name),
        ("rock", rock),
        ("place", object.place),
        ("conditions", object.conditions),
        ("note", object.note),
    ] {
        let text = if text.is_empty() { "not recorded".to_owned() } else { text };
        say::result(&format!("{title}: {text}"));
    }
    Ok(Outcome::default())
}

/// What is known of the object once the options given have changed it. A rock takes the place of minerals and they of a rock.
pub(super) fn changed(object: ObjectForm, args: &ObjectArgs) -> Result<ObjectForm, ExamineError> {
    let or = |new: &Option<String>, old: String| new.clone().unwrap_or(old);
    let (rock, minerals) = if !args.mineral.is_empty() {
        let shares = args.mineral.iter().map(|text| mineral(text)).collect::<Result<Vec<_>, _>>()?;
        (String::new(), shares)
    } else if let Some(rock) = &args.rock {
        (rock.clone(), Vec::new())
    } else {
        (object.rock, object.minerals)
    };
    Ok(ObjectForm {
        name: or(&args.name, object.name),
        rock,
        minerals,
        place: or(&args.place, object.place),
        conditions: or(&args.conditions, object.conditions),
        note: or(&args.note, object.note),
    })
}

fn mineral(text: &str) -> Result<MineralShareForm, ExamineError> {
    let wrong =
        || ExamineError::request(format!("'{text}' is no mineral with its share; write it like quartz=0.3"));
    let (mineral, share) = text.split_once('=').ok_or_else(wrong)?;
    Ok(MineralShareForm {
        mineral: mineral.trim().to_owned(),
        share: share.trim().parse().map_err(|_| wrong())?,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn known() -> ObjectForm {
        ObjectForm {
            name: "bowl".to_owned(),
            rock: "diorite".to_owned(),
            minerals: Vec::new(),
            place: "shelf".to_owned(),
            conditions: String::new(),
            note: String::new(),
        }
    }

    fn nothing() -> ObjectArgs {
        ObjectArgs { name: None, rock: None, mineral: Vec::new(), place: None, conditions: None, note: None }
    }

    #[test]
    fn what_is_not_named_stays() {
        let args = ObjectArgs { place: Some(String::new()), ..nothing() };
        let object = changed(known(), &args).unwrap();
        assert_eq!(object, ObjectForm { place: String::new(), ..known() });
    }

    #[test]
    fn minerals_and_a_rock_take_each_others_place() {
        let args = ObjectArgs { mineral: vec!["quartz=0.3".to_owned()], ..nothing() };
        let object = changed(known(), &args).unwrap();
        assert_eq!((object.rock.as_str(), object.minerals.len()), ("", 1));
        let args = ObjectArgs { rock: Some("granite".to_owned()), ..nothing() };
        let back = changed(object, &args).unwrap();
        assert_eq!((back.rock.as_str(), back.minerals.len()), ("granite", 0));
        assert!(changed(known(), &ObjectArgs { mineral: vec!["quartz".to_owned()], ..nothing() }).is_err());
    }
}
