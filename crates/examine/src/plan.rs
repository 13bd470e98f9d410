//! The next visit: which fields, how wide, under which light, to tell two finishes apart.

use archive::Examination;
use finish::models::Finish;
use quantity::counted;
use report::{FieldSheet, SheetField, SheetPlan};
use weigh::CannotWeigh;
use weigh::plan::{Instrument, Plan, PlannedLight, Question, plan as plan_visit};
use wire::plan::{KeptPlan, PlanAnswer, PlanForm, PlanQuestionForm};

use crate::{ExamineError, SOFTWARE, Watch, results};

/// Kind under which an examination keeps its plan.
const PLAN: &str = "plan";
/// Where the field sheet of a kept plan lies in its examination: beside the report, so that packages carry it.
const SHEET: &str = "report/field-sheet.pdf";

/// Plans the next visit to an examination's object and keeps the answer and its field sheet in it.
///
/// # Errors
/// As [`plan`]; the examination cannot be written.
pub fn plan_examination(
    examination: &Examination,
    question: &PlanQuestionForm,
    watch: &dyn Watch,
) -> Result<KeptPlan, ExamineError> {
    let (mut answer, sheet) = plan(question, &examination.object()?.name, watch)?;
    examination.write_file(SHEET, &sheet)?;
    answer.sheet = Some(SHEET.to_owned());
    let kept = KeptPlan { schema: wire::plan::KEPT_SCHEMA.to_owned(), question: question.clone(), answer };
    results::keep(examination, PLAN, SOFTWARE.to_owned(), wire::plan::write(&kept)?, question.seed)?;
    Ok(kept)
}

/// The plan an examination keeps, if it has been planned.
///
/// # Errors
/// The examination cannot be read.
pub fn kept(examination: &Examination) -> Result<Option<KeptPlan>, ExamineError> {
    let stored = examination.result(PLAN)?;
    Ok(stored.map(|stored| wire::plan::read(&stored.payload)).transpose()?)
}

/// Plans, and the field sheet of the first as a PDF; `object` is its name on the sheet and may be empty.
///
/// # Errors
/// Names or numbers that make no sense, in words; or the watcher gave up.
pub fn plan(
    question: &PlanQuestionForm,
    object: &str,
    watch: &dyn Watch,
) -> Result<(PlanAnswer, Vec<u8>), ExamineError> {
    let asked = Question {
        pairs: question.pairs.iter().map(pair).collect::<Result<_, _>>()?,
        instrument: Instrument {
            width_px: question.size_px[0],
            height_px: question.size_px[1],
            um_per_px: positive("scale, µm/px", &question.um_per_px)?,
            blur_px: question.blur_px,
            lens_residual: None,
        },
        lights: question.lights.iter().map(|word| light(word)).collect::<Result<_, _>>()?,
        minutes: question.minutes,
        minutes_per_station: question.minutes_per_station,
        minutes_per_picture: question.minutes_per_picture,
        most_stations: question.most_stations,
        probability: question.probability,
    };
    positive(
        "time, minutes",
        &[question.minutes, question.minutes_per_station, question.minutes_per_picture],
    )?;
    if !(question.probability > 0.0 && question.probability < 1.0) {
        let words = format!("{} is no chance to aim at; give a number between 0 and 1", question.probability);
        return Err(ExamineError::request(words));
    }
    let options = weigh::Options {
        seed: question.seed,
        objects_per_finish: question.objects_per_finish,
        sensitivity: false,
        ..weigh::Options::default()
    };
    let plans =
        plan_visit(&asked, &options, &|done| watch.at(done, "trying plans")).map_err(
            |error| match error {
                CannotWeigh::Interrupted => ExamineError::Stopped,
                other => ExamineError::Weigh(other),
            },
        )?;
    let shown: Vec<&Plan> = plans.enough.iter().chain(&plans.best_otherwise).collect();
    let sheet = report::field_sheet(&FieldSheet {
        object: object.to_owned(),
        questions: question.pairs.iter().map(|[a, b]| format!("{a} or {b}?")).collect(),
        plans: shown.iter().map(|plan| sheet_plan(plan)).collect(),
        fields: shown.first().map(|plan| sheet_fields(plan)).unwrap_or_default(),
        cautions: Vec::new(),
    })?;
    let answer = PlanAnswer {
        schema: wire::plan::SCHEMA.to_owned(),
        enough: plans.enough.iter().map(plan_form).collect(),
        best_otherwise: plans.best_otherwise.as_ref().map(plan_form),
        tried: plans.tried,
        words: plans.words,
        sheet: None,
    };
    Ok((answer, sheet))
}

fn pair([a, b]: &[String; 2]) -> Result<(Finish, Finish), ExamineError> {
    let (first, second) = (crate::weighing::finish_named(a)?, crate::weighing::finish_named(b)?);
    if first == second {
        return Err(ExamineError::request(format!("{a} cannot be told from itself; give two finishes")));
    }
    Ok((first, second))
}

fn light(word: &str) -> Result<PlannedLight, ExamineError> {
    match word {
        "one-side" => Ok(PlannedLight::OneSide),
        "two-sides" => Ok(PlannedLight::TwoSides),
        "ring" => Ok(PlannedLight::Ring),
        _ => Err(ExamineError::request(format!(
            "'{word}' is no light here; choose one-side, two-sides or ring"
        ))),
    }
}

fn positive(what: &str, values: &[f64]) -> Result<Vec<f64>, ExamineError> {
    match values.iter().find(|value| !(value.is_finite() && **value > 0.0)) {
        Some(wrong) => Err(ExamineError::request(format!("{wrong} is no {what}; give a number above 0"))),
        None => Ok(values.to_vec()),
    }
}

fn plan_form(plan: &Plan) -> PlanForm {
    PlanForm {
        stations: plan.stations,
        fields: plan.fields,
        width_mm: plan.width_mm,
        um_per_px: plan.um_per_px,
        light: plan.light.to_string(),
        minutes: plan.minutes,
        right: plan.right,
        wrong: plan.wrong,
        least_favourable: plan.least_favourable,
        hardest_pair: [plan.hardest_pair.0.name().to_owned(), plan.hardest_pair.1.name().to_owned()],
    }
}

fn sheet_plan(plan: &Plan) -> SheetPlan {
    SheetPlan {
        what: format!(
            "{} {:.1} mm wide at {}, {}",
            counted(plan.fields, "field"),
            plan.width_mm,
            counted(plan.stations, "station"),
            plan.light
        ),
        minutes: Some(plan.minutes),
        power: format!("{:.2} under the published ranges; {:.2} at worst", plan.right, plan.least_favourable),
    }
}

/// The fields spread as evenly as they go over the stations.
fn sheet_fields(plan: &Plan) -> Vec<SheetField> {
    (0..plan.stations)
        .map(|station| SheetField {
            station: format!("station {}", station + 1),
            fields: u32::try_from((plan.fields + plan.stations - 1 - station) / plan.stations.max(1))
                .unwrap_or(1),
            width_mm: Some(plan.width_mm),
            light: plan.light.to_string(),
        })
        .collect()
}
