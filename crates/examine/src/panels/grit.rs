//! Panels of known grit: how wide the scratches of a grain are, as the user's own stone shows it.

use ::stone::grit::Grade;
use ::stone::{FEWEST_PANELS, WidthRule};
use archive::Examination;
use weigh::{FEWEST_TRACES, Visit};
use wire::panels::PanelGrit;

use super::{PanelInput, kept_panels, visit_at};
use crate::ExamineError;
use crate::weighing::visit_of;

/// A panel that was finished with a grit, written with its scale (`P400`, `F220`): its grains and its scratches.
///
/// # Errors
/// The grit names no scale or no grade; the panel cannot be read or has too few traces with a scale.
pub fn graded_panel(grit: &str, input: &PanelInput) -> Result<PanelGrit, ExamineError> {
    match input {
        PanelInput::Path(path) => graded(grit, &visit_at(path)?),
        PanelInput::Measure { measure, .. } => graded(grit, &visit_of(measure)?),
    }
}

fn graded(grit: &str, visit: &Visit) -> Result<PanelGrit, ExamineError> {
    let grade = Grade::parse(grit).map_err(|e| ExamineError::request(e.to_string()))?;
    let width_um = median_width_um(visit)?;
    Ok(PanelGrit { grade: grade.name(), grain_um: (grade.low_um * grade.high_um).sqrt(), width_um })
}

/// Median width of the traces of a visit, µm; suspects and captures without a scale left out.
fn median_width_um(visit: &Visit) -> Result<f64, ExamineError> {
    let mut widths = Vec::new();
    for capture in &visit.captures {
        let Some(scale) = capture.scale else { continue };
        let counted = capture.traces.iter().filter(|trace| !trace.suspect);
        widths.extend(counted.map(|trace| trace.width_px * scale.value()));
    }
    if widths.len() < FEWEST_TRACES {
        return Err(ExamineError::request(format!(
            "the panel has {} traces with a scale, which say too little of their width; {FEWEST_TRACES} or more are needed",
            widths.len()
        )));
    }
    widths.sort_by(f64::total_cmp);
    Ok(lay::width::quantile(&widths, 0.5))
}

/// The rule that panels of known grit give; the stated assumption where there are none.
///
/// # Errors
/// Too few panels; a grain or width that is not positive, which only an edited text has.
pub(crate) fn rule_of(panels: &[PanelGrit]) -> Result<WidthRule, ExamineError> {
    if panels.is_empty() {
        return Ok(WidthRule::default());
    }
    let pairs: Vec<(f64, f64)> = panels.iter().map(|panel| (panel.grain_um, panel.width_um)).collect();
    WidthRule::from_panels(&pairs).map_err(|e| ExamineError::request(e.to_string()))
}

/// The panels of known grit that the examination keeps; none where they are too few to tell a rule.
///
/// # Errors
/// The examination cannot be read.
pub(crate) fn graded_panels(examination: &Examination) -> Result<Vec<PanelGrit>, ExamineError> {
    let panels: Vec<PanelGrit> =
        kept_panels(examination)?.panels.into_iter().filter_map(|panel| panel.grit).collect();
    Ok(if panels.len() < FEWEST_PANELS { Vec::new() } else { panels })
}

/// How wide the scratches of a grain are taken to be: by the panels of known grit that the examination keeps, else by the
/// stated assumption.
///
/// # Errors
/// The examination cannot be read.
pub(crate) fn width_rule(examination: &Examination) -> Result<WidthRule, ExamineError> {
    rule_of(&graded_panels(examination)?)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::panels::{NamedPanel, add_panel};
    use crate::{SOFTWARE, StoneQuestion, stone_examination};
    use wire::measure::{CaptureForm, LayForm, Measure, QualityForm, ReachForm, TraceForm};

    /// Twelve scratches, at 2 µm per px.
    fn panel(width_um: f64) -> PanelInput {
        let trace = |id: u32| {
            let y = 20.0 * f64::from(id);
            TraceForm {
                id,
                points: vec![[10.0, y], [200.0, y + 5.0], [390.0, y + 10.0]],
                length_px: 380.1,
                width_px: width_um / 2.0,
                direction_deg: 178.5,
                direction_u_deg: 0.3,
                curvature_per_px: 0.0,
                curvature_u_per_px: 2e-5,
                ends_inside: 2,
                contrast: 2.0,
                log10_nfa: -4.0,
                suspect: None,
            }
        };
        let capture = CaptureForm {
            file: "panel.png".into(),
            sha256: "ab".repeat(32),
            width_px: 400,
            height_px: 300,
            um_per_px: Some(2.0),
            quality: QualityForm::default(),
            traces: (1..=12).map(trace).collect(),
            lay: LayForm {
                count: 12,
                density_per_mm2: None,
                intensity_per_mm: None,
                resultant: 1.0,
                uniform_p: 0.0,
                sets: Vec::new(),
                crossing_deg: None,
                crossing_u_deg: None,
            },
            reach: ReachForm { radius_mm: None, radius_px: 4800.0, limited_by: "sharpness".into() },
        };
        PanelInput::Measure { name: "panel".into(), measure: Box::new(Measure::new(vec![capture])) }
    }

    #[test]
    fn a_panel_of_known_grit_gives_grain_and_width() {
        // ISO 6344: the mean grain of P400 is 35.0 µm.
        let grit = graded_panel("P400", &panel(7.0)).unwrap();
        assert!((grit.grain_um - 35.0).abs() < 0.6 && (grit.width_um - 7.0).abs() < 1e-9, "{grit:?}");
        assert!(graded_panel("400", &panel(7.0)).unwrap_err().to_string().contains("scale"));
    }

    #[test]
    fn panels_kept_with_the_examination_take_the_place_of_the_assumption() {
        let folder = std::env::temp_dir().join(format!("rubstone-grit-{}", std::process::id()));
        let _ = std::fs::remove_dir_all(&folder);
        let examination = Examination::begin(&folder.join("exam"), SOFTWARE).unwrap();
        let ask = || {
            let question = StoneQuestion { widths_um: Some([6.0, 8.0]), ..StoneQuestion::default() };
            stone_examination(&examination, &question).unwrap().answer.grains.unwrap()
        };
        let assumed = ask();
        for (grit, width_um) in [("P400", 7.0), ("P120", 25.0), ("P240", 12.0)] {
            let given = NamedPanel { finish: "guided-rub".to_owned(), input: panel(width_um) };
            add_panel(&examination, given, Some(grit)).unwrap();
        }
        let measured = ask();
        assert!(measured.assumption.contains("3 panels"), "{}", measured.assumption);
        assert!(measured.low_um > assumed.low_um && measured.high_um < assumed.high_um, "{measured:?}");
        std::fs::remove_dir_all(&folder).unwrap();
    }
}
