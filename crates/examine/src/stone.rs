//! What could scratch what, and which grains could have left a scratch of this width.

mod kept;

use ::stone::cautions::{CAUTIONS, Caution, FIRST};
use ::stone::grit::{Grade, Scale};
use ::stone::{
    ABRASIVES, GrainRange, LAWS, MINERALS, Material, MineralAnswer, Motion, ROCKS, Rate, RockPart,
    Scratching, TOOLS, Verdict, WidthRule, hours, what_could_scratch,
};
use quantity::Measured;
use wire::panels::PanelGrit;
use wire::stone::{
    FaceForm, GradesForm, GrainsForm, GritForm, LawForm, MineralForm, OtherGradeForm, StoneForm, ToolForm,
    WorkForm,
};

pub use kept::{kept, stone_examination};

use crate::ExamineError;
use crate::panels::rule_of;

/// What hours of work leave out, and why nothing checks them.
const NOT_COUNTED: &str = "setting out, sharpening and rest not counted. There is no published rate to check it against: \
                           measure yours on a panel of the same stone.";

/// What stands beside every answer of the laws of wear.
pub const LAWS_CAUTION: &str = "These laws give an order of magnitude only: their coefficients were found for glass \
    or for metals, not for this stone, and span a factor of ten each. No hours are reckoned from them; measure a rate on a \
    panel of the same stone.";

/// What the stone is made of.
#[derive(Debug, Clone, PartialEq)]
pub enum StoneKind {
    /// A rock by name, with its usual minerals.
    Rock(String),
    /// Minerals that were determined, each with its share, 0 to 1.
    Minerals(Vec<(String, f64)>),
}

/// What was taken away, and how fast the user says it goes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WorkQuestion {
    /// Volume, cm³.
    pub volume_cm3: Measured,
    /// Slowest and fastest removal rate, cm³ per hour.
    pub rate_cm3_per_h: [f64; 2],
}

/// What was polished, and how fast the user says it goes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FaceQuestion {
    /// Area, cm².
    pub area_cm2: Measured,
    /// Slowest and fastest polishing, cm² per hour.
    pub rate_cm2_per_h: [f64; 2],
}

/// What is asked about stone.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct StoneQuestion {
    /// The stone; without it no tool is answered.
    pub kind: Option<StoneKind>,
    /// Tool by name; every tool without one.
    pub tool: Option<String>,
    /// Loose abrasive by name; the tool alone without one.
    pub abrasive: Option<String>,
    /// Smallest and largest width of scratches, µm.
    pub widths_um: Option<[f64; 2]>,
    /// Smallest and largest ratio of scratch width to grain size; a stated assumption without them.
    pub width_ratio: Option<[f64; 2]>,
    /// Panels of known grit, three or more, that tell that ratio.
    pub panels: Vec<PanelGrit>,
    /// A grade of grit with its scale: `P400`, `F220`, `JIS 1000`.
    pub grit: Option<String>,
    /// Hours for a volume.
    pub work: Option<WorkQuestion>,
    /// Hours for a face.
    pub face: Option<FaceQuestion>,
    /// How a tool is pressed and moved, for the laws of wear.
    pub motion: Option<Motion>,
}

/// Names of the rocks, tools and abrasives known.
#[must_use]
pub fn known() -> [Vec<&'static str>; 3] {
    let names = |materials: &[Material]| materials.iter().map(|material| material.name).collect();
    [ROCKS.iter().map(|rock| rock.name).collect(), names(TOOLS), names(ABRASIVES)]
}

/// Answers a question about stone, each value with its source.
///
/// # Errors
/// A name that is not known, or widths, shares or rates that make no sense; the words say what is known.
pub fn stone(question: &StoneQuestion) -> Result<StoneForm, ExamineError> {
    let [_, tools, abrasives] = known();
    let abrasive = match &question.abrasive {
        Some(name) => Some(::stone::abrasive(name).ok_or_else(|| unknown("abrasive", name, &abrasives))?),
        None => None,
    };
    let wanted: Vec<&Material> = match &question.tool {
        Some(name) => vec![::stone::tool(name).ok_or_else(|| unknown("tool", name, &tools))?],
        None => TOOLS.iter().collect(),
    };
    let made_of = question.kind.as_ref().map(MadeOf::new).transpose()?;
    let answer = |made: &MadeOf, tool: &Material| {
        tool_form(tool, abrasive.map(|a| a.name), what_could_scratch(tool, abrasive, &made.name, &made.parts))
    };
    let rule = width_rule(question)?;
    let hardness = made_of.as_ref().and_then(MadeOf::hardness_kgf_per_mm2);
    Ok(StoneForm {
        schema: wire::stone::SCHEMA.to_owned(),
        tools: made_of.iter().flat_map(|made| wanted.iter().map(|tool| answer(made, tool))).collect(),
        rock_source: made_of.as_ref().map(|made| made.source.clone()),
        rock: made_of.map(|made| made.name),
        grains: question.widths_um.map(|widths| grains(widths, &rule)).transpose()?,
        grit: question.grit.as_deref().map(|grit| grit_form(grit, &rule)).transpose()?,
        work: question.work.map(work_form).transpose()?,
        face: question.face.map(face_form).transpose()?,
        laws: question.motion.map(|motion| laws(motion, hardness)).transpose()?.unwrap_or_default(),
        cautions: cautions(),
    })
}

/// What may hurt, one caution a sentence with its source; what comes before all of them first.
pub(crate) fn cautions() -> Vec<String> {
    let words =
        |caution: &Caution| format!("{}: {} Source: {}", caution.when, caution.what, caution.source.shown());
    std::iter::once(FIRST.to_owned()).chain(CAUTIONS.iter().map(words)).collect()
}

/// A stone as its minerals.
pub(crate) struct MadeOf {
    /// What sentences call it.
    pub(crate) name: String,
    /// Its minerals.
    pub(crate) parts: Vec<RockPart>,
    /// Where their shares come from.
    pub(crate) source: String,
}

impl MadeOf {
    /// The minerals of a rock that is known here, or the ones given.
    pub(crate) fn new(kind: &StoneKind) -> Result<Self, ExamineError> {
        match kind {
            StoneKind::Rock(name) => {
                let rock = ::stone::rock(name).ok_or_else(|| unknown("rock", name, &known()[0]))?;
                let source = rock.source.shown();
                Ok(Self { name: rock.name.to_owned(), parts: rock.parts.to_vec(), source })
            }
            StoneKind::Minerals(shares) => Ok(Self {
                name: "this stone".to_owned(),
                parts: shares.iter().map(determined).collect::<Result<_, _>>()?,
                source: "shares as the examiner gave them".to_owned(),
            }),
        }
    }
}

impl MadeOf {
    /// Vickers hardness from the softest to the hardest of its minerals, kgf/mm².
    fn hardness_kgf_per_mm2(&self) -> Option<[f64; 2]> {
        let minerals = || self.parts.iter().filter_map(|part| ::stone::mineral(part.mineral));
        let low = minerals().map(|mineral| mineral.vickers.low).min_by(f64::total_cmp)?;
        let high = minerals().map(|mineral| mineral.vickers.high).max_by(f64::total_cmp)?;
        Some([low, high])
    }
}

fn determined((name, share): &(String, f64)) -> Result<RockPart, ExamineError> {
    if !(*share > 0.0 && *share <= 1.0) {
        return Err(ExamineError::request(format!(
            "{share} is no share of {name}; give a number above 0, at most 1"
        )));
    }
    let minerals: Vec<&str> = MINERALS.iter().map(|mineral| mineral.name).collect();
    RockPart::determined(name, *share).ok_or_else(|| unknown("mineral", name, &minerals))
}

fn unknown(what: &str, name: &str, known: &[&str]) -> ExamineError {
    ExamineError::request(format!("'{name}' is no {what} known here; choose {}", known.join(", ")))
}

fn tool_form(tool: &Material, abrasive: Option<&str>, scratching: Scratching) -> ToolForm {
    ToolForm {
        tool: tool.name.to_owned(),
        abrasive: abrasive.map(str::to_owned),
        hardness_low: tool.hardness.low,
        hardness_high: tool.hardness.high,
        hardness_source: tool.hardness.source.shown(),
        minerals: scratching.minerals.iter().map(mineral_form).collect(),
        sentences: scratching.sentences,
    }
}

/// A verdict in a word.
pub(crate) fn verdict_word(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Hardly => "hardly",
        Verdict::Partly => "partly",
        Verdict::Clearly => "clearly",
    }
}

fn mineral_form(answer: &MineralAnswer) -> MineralForm {
    MineralForm {
        mineral: answer.mineral.name.to_owned(),
        share_low_percent: answer.share_percent[0],
        share_high_percent: answer.share_percent[1],
        mohs_low: answer.mineral.mohs.low,
        mohs_high: answer.mineral.mohs.high,
        vickers_low: answer.mineral.vickers.low,
        vickers_high: answer.mineral.vickers.high,
        source: answer.mineral.vickers.source.shown(),
        by_tool: answer.by_tool,
        by_abrasive: answer.by_abrasive,
        verdict: verdict_word(answer.verdict).to_owned(),
    }
}

/// The ratio given, else what panels say, else the stated assumption.
fn width_rule(question: &StoneQuestion) -> Result<WidthRule, ExamineError> {
    match question.width_ratio {
        Some([low, high]) => WidthRule::new("ratio given", low, high).map_err(in_words),
        None => rule_of(&question.panels),
    }
}

fn in_words(error: impl std::error::Error) -> ExamineError {
    ExamineError::request(error.to_string())
}

fn grains([narrow, wide]: [f64; 2], rule: &WidthRule) -> Result<GrainsForm, ExamineError> {
    rule.grains(narrow, wide).map(grains_form).map_err(in_words)
}

/// Grains with the grades that hold them on every scale.
pub(crate) fn grains_form(range: GrainRange) -> GrainsForm {
    let grades = |scale: Scale| GradesForm {
        scale: scale.name().to_owned(),
        numbers: range.grades(scale).iter().map(|grade| grade.number).collect(),
        source: scale.source().shown(),
    };
    GrainsForm {
        low_um: range.low_um,
        high_um: range.high_um,
        grades: Scale::ALL.into_iter().map(grades).collect(),
        assumption: range.assumption,
    }
}

fn grit_form(written: &str, rule: &WidthRule) -> Result<GritForm, ExamineError> {
    let grade = Grade::parse(written).map_err(in_words)?;
    let other = |scale: Scale| {
        let compared = grade.compared(scale);
        OtherGradeForm {
            grade: compared.nearest.name(),
            ratio: compared.ratio,
            counterpart: compared.counterpart,
            caution: compared.caution,
        }
    };
    Ok(GritForm {
        grade: grade.name(),
        low_um: grade.low_um,
        high_um: grade.high_um,
        source: grade.scale.source().shown(),
        scratch_um: rule.widths_um(&grade),
        assumption: rule.assumption(),
        others: Scale::ALL.into_iter().filter(|scale| *scale != grade.scale).map(other).collect(),
    })
}

fn work_form(question: WorkQuestion) -> Result<WorkForm, ExamineError> {
    let (hours, range) = hours_at(question.volume_cm3, question.rate_cm3_per_h)?;
    Ok(WorkForm {
        volume_cm3: question.volume_cm3.value,
        volume_u_cm3: question.volume_cm3.u,
        rate_cm3_per_h: question.rate_cm3_per_h,
        hours,
        words: format!(
            "{range} hours of removal at the rate given, least volume at the fastest rate to most at the slowest; {NOT_COUNTED}"
        ),
    })
}

fn face_form(question: FaceQuestion) -> Result<FaceForm, ExamineError> {
    let (hours, range) = hours_at(question.area_cm2, question.rate_cm2_per_h)?;
    Ok(FaceForm {
        area_cm2: question.area_cm2.value,
        area_u_cm2: question.area_cm2.u,
        rate_cm2_per_h: question.rate_cm2_per_h,
        hours,
        words: format!(
            "{range} hours of polishing at the rate given, for one pass over the whole face with every grit that the rate stands for; \
             {NOT_COUNTED}"
        ),
    })
}

/// Fewest and most hours for an amount at a range of rates, and the same in words.
fn hours_at(amount: Measured, [low, high]: [f64; 2]) -> Result<([f64; 2], String), ExamineError> {
    let hours = hours(amount, Rate { low, high }).map_err(in_words)?;
    let [fewest, most] = [hours.low, hours.high].map(|h| report::significant(h, 2));
    Ok(([hours.low, hours.high], format!("{fewest} to {most}")))
}

/// What the laws of wear would say.
fn laws(motion: Motion, hardness: Option<[f64; 2]>) -> Result<Vec<LawForm>, ExamineError> {
    LAWS.iter()
        .map(|law| {
            let rate = law.rate_cm3_per_h(motion, hardness).map_err(in_words)?;
            Ok(LawForm {
                law: law.name.to_owned(),
                coefficient: [law.coefficient.low, law.coefficient.high],
                unit: law.unit().to_owned(),
                coefficient_words: format!(
                    "{:.0e} to {:.0e} {}",
                    law.coefficient.low,
                    law.coefficient.high,
                    law.unit()
                )
                .trim_end()
                .to_owned(),
                source: law.coefficient.source.shown(),
                rate_cm3_per_h: rate.map(|rate| [rate.low, rate.high]),
                rate_words: rate.map_or("needs the rock or its minerals".to_owned(), |rate| {
                    let [low, high] = [rate.low, rate.high].map(|rate| report::significant(rate, 2));
                    format!("{low} to {high} cm³ per hour")
                }),
            })
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Common practice, no source: diorite about 6.5 on the Mohs scale, bronze 4, copper 3; a soft tool with a hard loose
    /// abrasive works by the abrasive.
    #[test]
    fn soft_metal_alone_hardly_scratches_diorite_and_quartz_sand_changes_that() {
        let ask = |abrasive: Option<&str>| {
            let question = StoneQuestion {
                kind: Some(StoneKind::Rock("diorite".into())),
                tool: Some("annealed copper".into()),
                abrasive: abrasive.map(str::to_owned),
                ..StoneQuestion::default()
            };
            stone(&question).unwrap()
        };
        let alone = ask(None);
        let plagioclase = |form: &StoneForm| {
            form.tools[0].minerals.iter().find(|m| m.mineral == "plagioclase").unwrap().verdict.clone()
        };
        assert_eq!(plagioclase(&alone), "hardly");
        let sand = known()[2].iter().copied().find(|name| name.contains("quartz")).unwrap();
        assert_ne!(plagioclase(&ask(Some(sand))), "hardly");
    }

    #[test]
    fn unknown_names_are_answered_with_the_known_ones() {
        let question =
            StoneQuestion { kind: Some(StoneKind::Rock("cheese".into())), ..StoneQuestion::default() };
        assert!(stone(&question).unwrap_err().to_string().contains("granite"));
        let reversed = StoneQuestion { widths_um: Some([30.0, 10.0]), ..StoneQuestion::default() };
        assert!(stone(&reversed).is_err());
        let widths = StoneQuestion { widths_um: Some([10.0, 30.0]), ..StoneQuestion::default() };
        assert!(stone(&widths).unwrap().grains.unwrap().low_um < 30.0);
    }

    #[test]
    fn minerals_that_were_determined_stand_in_for_a_rock() {
        let minerals = vec![("quartz".to_owned(), 0.4), ("calcite".to_owned(), 0.6)];
        let question =
            StoneQuestion { kind: Some(StoneKind::Minerals(minerals)), ..StoneQuestion::default() };
        let answer = stone(&question).unwrap();
        let shares: Vec<f64> = answer.tools[0].minerals.iter().map(|m| m.share_low_percent).collect();
        assert_eq!(shares, [40.0, 60.0]);
        for (name, share) in [("cheese", 0.4), ("quartz", 0.0), ("quartz", f64::NAN)] {
            let kind = Some(StoneKind::Minerals(vec![(name.to_owned(), share)]));
            assert!(stone(&StoneQuestion { kind, ..StoneQuestion::default() }).is_err(), "{name} {share}");
        }
    }

    #[test]
    fn a_grit_needs_its_scale_and_hours_need_a_rate_in_order() {
        let grit =
            |text: &str| stone(&StoneQuestion { grit: Some(text.to_owned()), ..StoneQuestion::default() });
        assert!(grit("400").unwrap_err().to_string().contains("names no scale"));
        // ISO 6344: the mean grain of P400 is 35.0 µm.
        let p400 = grit("P400").unwrap().grit.unwrap();
        assert!((p400.low_um - 35.0).abs() < 0.6 && p400.others.len() == 4);
        let hours = |rate_cm3_per_h| {
            let work = Some(WorkQuestion { volume_cm3: Measured { value: 10.0, u: 0.0 }, rate_cm3_per_h });
            stone(&StoneQuestion { work, ..StoneQuestion::default() })
        };
        assert_eq!(hours([2.0, 5.0]).unwrap().work.unwrap().hours, [2.0, 5.0]);
        assert!(hours([5.0, 2.0]).is_err());
    }
}
