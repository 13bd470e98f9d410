//! The field sheet: one page to take along to the next visit.

use super::Pdf;
use super::source::{literal, trailing};
use crate::ReportError;
use crate::words;

/// How the sheet looks on paper.
const STYLE: &str = include_str!("../../templates/sheet.typ");

/// What the next visit should do.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct FieldSheet {
    /// Name of the object; may be empty.
    pub object: String,
    /// The open questions, each a short line.
    pub questions: Vec<String>,
    /// Plans that would answer them, the cheapest first; the first is the one on the check list.
    pub plans: Vec<SheetPlan>,
    /// What to photograph, one row for each station.
    pub fields: Vec<SheetField>,
    /// Cautions to people and to the object, printed besides the usual ones.
    pub cautions: Vec<String>,
}

/// One plan.
#[derive(Debug, Clone, PartialEq)]
pub struct SheetPlan {
    /// What it takes: `4 fields of 6 mm at 3 stations, light from two sides`.
    pub what: String,
    /// Time at the object, minutes.
    pub minutes: Option<f64>,
    /// Probability that it tells the finishes apart, with the condition it holds under: `at least 0.91`.
    pub power: String,
}

/// One row of the check list.
#[derive(Debug, Clone, PartialEq)]
pub struct SheetField {
    /// Where.
    pub station: String,
    /// Number of fields there.
    pub fields: u32,
    /// Width of one field, mm.
    pub width_mm: Option<f64>,
    /// Light to use: `from 30° and from 120°`.
    pub light: String,
}

/// Prints the sheet.
pub(crate) fn print(sheet: &FieldSheet) -> Result<Pdf, ReportError> {
    let title = if sheet.object.trim().is_empty() {
        "Field sheet".to_owned()
    } else {
        format!("Field sheet: {}", sheet.object.trim())
    };
    let texts = |items: &[String]| {
        trailing(&items.iter().map(|item| literal(&words::sentence(item))).collect::<Vec<_>>())
    };
    let plans: Vec<String> = sheet
        .plans
        .iter()
        .map(|plan| {
            let minutes = plan
                .minutes
                .map_or("not estimated".into(), |minutes| format!("{} min", words::significant(minutes, 2)));
            format!("({}, {}, {})", literal(&plan.what), literal(&minutes), literal(&plan.power))
        })
        .collect();
    let fields: Vec<String> = sheet
        .fields
        .iter()
        .map(|field| {
            let width = field.width_mm.map_or("any width".into(), |width| format!("{} mm", trimmed(width)));
            let what = format!("{} × {width}", field.fields);
            format!(
                "({}, {}, {}, {})",
                literal(&field.station),
                literal(&what),
                literal(&field.light),
                field.fields.min(12)
            )
        })
        .collect();
    let text = format!(
        "{STYLE}\n#sheet({}, ({}), ({}), ({}), ({}))\n",
        literal(&title),
        texts(&sheet.questions),
        trailing(&plans),
        trailing(&fields),
        texts(&sheet.cautions)
    );
    super::set(text, vec![], &title)
}

/// `6`, `0.5`: as typed, without trailing zeros.
fn trimmed(value: f64) -> String {
    let shown = words::significant(value, 2);
    if shown.contains('.') { shown.trim_end_matches('0').trim_end_matches('.').to_owned() } else { shown }
}
