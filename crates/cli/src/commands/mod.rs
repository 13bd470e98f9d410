//! One command, one file.

pub mod add;
pub mod bag;
pub mod begin;
pub mod capture;
pub mod form;
pub mod instrument;
pub mod landmarks;
pub mod lay;
pub mod measure;
pub mod object;
pub mod open;
pub mod panel;
mod panel_set;
pub mod plan;
pub mod reading;
pub mod render;
pub mod report;
pub mod sample;
pub mod scale;
pub mod station;
pub mod status;
pub mod stone;
pub mod weigh;

use examine::{ExamineError, Failure, shown};
use picture::Light;
use quantity::AxialDeg;
use wire::answers::FailedForm;

use crate::args::{LightArgs, LightKind};
use crate::outcome::Stop;
use crate::say;

/// Prints the one JSON object of a command.
macro_rules! json {
    ($answer:expr) => {
        $crate::say::result(&wire::to_text($answer)?)
    };
}
use json;

/// The light somebody gave; `None` if they gave none.
fn light(args: &LightArgs) -> Result<Option<Light>, ExamineError> {
    if let Some(azimuth_deg) = args.light_azimuth {
        let axis = AxialDeg::new(azimuth_deg)
            .ok_or_else(|| ExamineError::request(format!("{azimuth_deg} is no direction; give degrees")))?;
        return Ok(Some(Light::Azimuth(axis)));
    }
    Ok(args.light.map(|kind| match kind {
        LightKind::Ring => Light::Ring,
        LightKind::Coaxial => Light::Coaxial,
        LightKind::Unknown => Light::Unknown,
    }))
}

fn failed(failures: &[Failure]) -> Vec<FailedForm> {
    let form =
        |failure: &Failure| FailedForm { subject: failure.subject.clone(), message: failure.line.clone() };
    failures.iter().map(form).collect()
}

fn report_answer(report: &examine::Published) -> wire::answers::ReportAnswer {
    wire::answers::ReportAnswer {
        schema: "rubstone.report/1",
        html: shown(&report.html),
        pdf: shown(&report.pdf),
        tables: report.tables.iter().map(|table| shown(table)).collect(),
    }
}

fn say_report(report: &examine::Published) {
    say::result(&format!("report: {}", shown(&report.pdf)));
    say::result(&format!("        {}", shown(&report.html)));
    if let Some(folder) = report.tables.first().and_then(|table| table.parent()) {
        say::result(&format!("tables: {}", shown(folder)));
    }
}

/// Says what to do next, as `rubstone status` would.
fn say_next(examination: &archive::Examination) -> Result<(), Stop> {
    say::result(&format!("next:   {}", examine::status(examination, false)?.next));
    Ok(())
}
