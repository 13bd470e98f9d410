//! `rubstone plan`.

use examine::{ExamineError, plan, plan_examination, shown};
use quantity::counted;
use wire::plan::{PlanAnswer, PlanForm, PlanQuestionForm};

use super::json;
use crate::args::Plan;
use crate::outcome::{About, Outcome, Stop, open};
use crate::progress::Progress;
use crate::say;

pub fn run(args: &Plan) -> Result<Outcome, Stop> {
    let question = PlanQuestionForm {
        pairs: args.tell.iter().map(|text| pair(text)).collect::<Result<_, _>>()?,
        size_px: [args.width_px, args.height_px],
        um_per_px: args.um_per_px.clone(),
        blur_px: args.blur_px,
        lights: args.light.clone(),
        minutes: args.minutes,
        minutes_per_station: args.minutes_per_station,
        minutes_per_picture: args.minutes_per_picture,
        most_stations: args.stations,
        probability: args.probability,
        seed: args.seed,
        objects_per_finish: args.objects,
    };
    if let Some(folder) = &args.keep {
        let kept = plan_examination(&open(folder)?, &question, &Progress::new()).about(folder)?;
        return say_answer(&kept.answer, args.json);
    }
    let (mut answer, sheet) = plan(&question, &args.object, &Progress::new())?;
    if let Some(path) = &args.sheet {
        let disk = |e: std::io::Error| {
            ExamineError::request(format!("cannot be written ({e}); choose another file"))
        };
        std::fs::write(path, sheet).map_err(disk).about(path)?;
        answer.sheet = Some(shown(path));
    }
    say_answer(&answer, args.json)
}

fn say_answer(answer: &PlanAnswer, as_json: bool) -> Result<Outcome, Stop> {
    if as_json {
        json!(answer);
        return Ok(Outcome::default());
    }
    say::result(&answer.words);
    answer.enough.iter().for_each(say_plan);
    if answer.enough.is_empty() {
        answer.best_otherwise.iter().for_each(say_plan);
    }
    if let Some(sheet) = &answer.sheet {
        say::result(&format!("field sheet: {sheet}"));
    }
    Ok(Outcome::default())
}

fn pair(text: &str) -> Result<[String; 2], ExamineError> {
    let wrong = || {
        ExamineError::request(format!(
            "'{text}' is no pair of finishes; write it like rotating-pad,guided-rub"
        ))
    };
    let (a, b) = text.split_once(',').ok_or_else(wrong)?;
    Ok([a.trim().to_owned(), b.trim().to_owned()])
}

fn say_plan(plan: &PlanForm) {
    say::result(&format!(
        "{:.0} min: {} {:.1} mm wide ({} µm/px) at {}, {}; chance {:.2} (at worst {:.2}, the wrong way {:.3}); decided by {} and {}",
        plan.minutes,
        counted(plan.fields, "field"),
        plan.width_mm,
        plan.um_per_px,
        counted(plan.stations, "station"),
        plan.light,
        plan.right,
        plan.least_favourable,
        plan.wrong,
        plan.hardest_pair[0],
        plan.hardest_pair[1]
    ));
}
