//! The stone room: what may be asked, what was answered, and what there is to look up.

use ::stone::Motion;
use ::stone::cautions::SILICA_LIMITS;
use ::stone::grit::{Scale, pad_sequence};
use archive::{Examination, Rock};
use quantity::Measured;
use report::dossier::{Chapter, LengthUnit, Table};
use report::significant;
use wire::desk::{PageForm, StoneRoomForm};
use wire::stones::{MineralShareForm, StoneQuestionForm};

use super::pages::page;
use crate::describe::by_station;
use crate::dossier::{lay_of, stone};
use crate::panels::width_rule;
use crate::{ExamineError, FaceQuestion, StoneKind, StoneQuestion, WorkQuestion};

/// What may be asked about the object's stone and what was answered.
///
/// # Errors
/// The examination cannot be read.
pub fn stone_room(examination: &Examination) -> Result<StoneRoomForm, ExamineError> {
    let kept = crate::stone::kept(examination)?;
    let object = examination.object()?;
    let groups = by_station(examination)?;
    let rule = width_rule(examination)?;
    let whole = lay_of(groups.iter().flat_map(|(_, reads)| reads), &rule);
    let [rocks, tools, abrasives] =
        crate::known_stone().map(|names| names.into_iter().map(str::to_owned).collect());
    let question = match &kept {
        Some(kept) => of_object(kept.question.clone(), &object.rock),
        None => StoneQuestionForm {
            widths_um: whole.as_ref().and_then(widths_um),
            volume_cm3: removed_cm3(examination)?,
            ..of_object(StoneQuestionForm::default(), &object.rock)
        },
    };
    let chapter = stone::chapter(&object.rock, whole.as_ref(), &rule);
    Ok(StoneRoomForm {
        reference: reference(chapter.is_none()),
        rocks,
        tools,
        abrasives,
        question,
        answer: kept
            .as_ref()
            .map(|kept| page(report::chapter_page("asked", "Answer", &stone::answered(&kept.answer)))),
        chapter: chapter.map(|chapter| page(report::chapter_page("stone", "Stone and tools", &chapter))),
    })
}

/// Answers a question about stone and keeps it. A volume or a face without a rate, a rate without either, a load without a
/// speed or a speed without a load is kept for nothing and answered by nothing.
///
/// # Errors
/// A name that is not known, numbers that make no sense; the examination cannot be written.
pub fn ask_stone(
    examination: &Examination,
    question: &StoneQuestionForm,
) -> Result<StoneRoomForm, ExamineError> {
    let named = |text: &Option<String>| text.clone().filter(|text| !text.trim().is_empty());
    let shares: Vec<(String, f64)> =
        question.minerals.iter().map(|one| (one.mineral.clone(), one.share)).collect();
    let work = question.volume_cm3.zip(question.rate_cm3_per_h);
    let face = question.area_cm2.zip(question.rate_cm2_per_h);
    let motion = question.load_n.zip(question.speed_m_per_s);
    crate::stone_examination(
        examination,
        &StoneQuestion {
            kind: if shares.is_empty() {
                named(&question.rock).map(StoneKind::Rock)
            } else {
                Some(StoneKind::Minerals(shares))
            },
            tool: named(&question.tool),
            abrasive: named(&question.abrasive),
            widths_um: question.widths_um,
            width_ratio: question.width_ratio,
            grit: named(&question.grit),
            work: work.map(|([value, u], rate_cm3_per_h)| WorkQuestion {
                volume_cm3: Measured { value, u },
                rate_cm3_per_h,
            }),
            face: face.map(|([value, u], rate_cm2_per_h)| FaceQuestion {
                area_cm2: Measured { value, u },
                rate_cm2_per_h,
            }),
            motion: motion.map(|(load_n, speed_m_per_s)| Motion { load_n, speed_m_per_s }),
            panels: Vec::new(),
        },
    )?;
    stone_room(examination)
}

/// The question with the object's own rock or minerals, which may have been recorded since it was asked.
fn of_object(question: StoneQuestionForm, rock: &Rock) -> StoneQuestionForm {
    match rock {
        Rock::Unknown => question,
        Rock::Named(name) => StoneQuestionForm { rock: Some(name.clone()), minerals: Vec::new(), ..question },
        Rock::Minerals(shares) => StoneQuestionForm {
            rock: None,
            minerals: shares
                .iter()
                .map(|one| MineralShareForm { mineral: one.mineral.clone(), share: one.share })
                .collect(),
            ..question
        },
    }
}

/// The middle nine tenths of the widths measured, µm.
fn widths_um(lay: &report::dossier::Lay) -> Option<[f64; 2]> {
    let widths = lay.widths.as_ref().filter(|widths| widths.unit == LengthUnit::Micrometres)?;
    let tenth = |value: f64| (10.0 * value).round() / 10.0;
    widths.range_90.map(|(low, high)| [tenth(low), tenth(high)])
}

/// The first removed volume that was measured, with its uncertainty, cm³.
fn removed_cm3(examination: &Examination) -> Result<Option<[f64; 2]>, ExamineError> {
    let kept = crate::form::kept(examination)?;
    let quantities = kept.iter().flat_map(|form| &form.form.quantities);
    let removed = quantities.clone().find(|q| q.unit == "cm³" && q.name.ends_with("Volume removed"));
    Ok(removed.map(|removed| [removed.value, removed.u.unwrap_or(0.0)]))
}

/// The worked example and the limits; the cautions where no chapter on the stone gives them.
fn reference(with_cautions: bool) -> PageForm {
    let texts = |headings: &[&str]| headings.iter().map(|heading| (*heading).to_owned()).collect();
    let pads = Table {
        caption: "A usual modern sequence of diamond pads on hard stone (common practice, no source). Numbers on pads follow no \
                  standard, so each is shown on every scale that has it, µm."
            .to_owned(),
        headings: std::iter::once("Pad".to_owned())
            .chain(Scale::ALL[..4].iter().map(|scale| scale.name().to_owned()))
            .chain(std::iter::once("What the step is for".to_owned()))
            .collect(),
        rows: pad_sequence()
            .iter()
            .map(|step| {
                let size = |scale: &Scale| {
                    let found = step.sizes_um.iter().find(|(of, _)| of == scale);
                    found.map_or("none".to_owned(), |(_, um)| significant(*um, 2))
                };
                std::iter::once(step.number.to_string())
                    .chain(Scale::ALL[..4].iter().map(size))
                    .chain(std::iter::once(step.purpose.to_owned()))
                    .collect()
            })
            .collect(),
    };
    let limits = Table {
        caption: "Limits for respirable crystalline silica in air.".to_owned(),
        headings: texts(&["Limit", "mg/m³", "Mean over, hours", "Source"]),
        rows: SILICA_LIMITS
            .iter()
            .map(|limit| {
                vec![
                    limit.name.to_owned(),
                    significant(limit.limit.low, 2),
                    significant(limit.hours, 2),
                    limit.limit.source.shown(),
                ]
            })
            .collect(),
    };
    let cautions = if with_cautions { crate::stone::cautions() } else { Vec::new() };
    page(report::chapter_page(
        "reference",
        "To look up",
        &Chapter { cautions, tables: vec![pads, limits], ..Chapter::default() },
    ))
}
