//! What could scratch what, and which grains could have left a scratch of this width.

use ::stone::grit::Scale;
use ::stone::{
    ABRASIVES, Material, MineralAnswer, ROCKS, Scratching, TOOLS, Verdict, WidthRule, WidthRuleError,
    what_could_scratch,
};
use wire::stone::{GradesForm, GrainsForm, MineralForm, StoneForm, ToolForm};

use crate::ExamineError;

/// What is asked about stone.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct StoneQuestion {
    /// Rock by name; without one, only widths are answered.
    pub rock: Option<String>,
    /// Tool by name; every tool without one.
    pub tool: Option<String>,
    /// Loose abrasive by name; the tool alone without one.
    pub abrasive: Option<String>,
    /// Smallest and largest width of scratches, µm.
    pub widths_um: Option<[f64; 2]>,
    /// Smallest and largest ratio of scratch width to grain size; a stated assumption without them.
    pub width_ratio: Option<[f64; 2]>,
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
/// A name that is not known, or widths that make no sense; the words say what is known.
pub fn stone(question: &StoneQuestion) -> Result<StoneForm, ExamineError> {
    let [rocks, tools, abrasives] = known();
    let unknown = |what: &str, name: &str, known: &[&str]| {
        ExamineError::request(format!("'{name}' is no {what} known here; choose {}", known.join(", ")))
    };
    let rock = match &question.rock {
        Some(name) => Some(::stone::rock(name).ok_or_else(|| unknown("rock", name, &rocks))?),
        None => None,
    };
    let abrasive = match &question.abrasive {
        Some(name) => Some(::stone::abrasive(name).ok_or_else(|| unknown("abrasive", name, &abrasives))?),
        None => None,
    };
    let wanted: Vec<&Material> = match &question.tool {
        Some(name) => vec![::stone::tool(name).ok_or_else(|| unknown("tool", name, &tools))?],
        None => TOOLS.iter().collect(),
    };
    let mut answers = Vec::new();
    for tool in rock.iter().flat_map(|rock| wanted.iter().map(move |tool| (rock, tool))) {
        let (rock, tool) = tool;
        let scratching = what_could_scratch(tool, abrasive, rock);
        answers.push(tool_form(tool, abrasive.map(|a| a.name), scratching));
    }
    let cautions = ::stone::cautions::CAUTIONS.iter();
    Ok(StoneForm {
        schema: wire::stone::SCHEMA.to_owned(),
        rock: rock.map(|rock| rock.name.to_owned()),
        rock_source: rock.map(|rock| rock.source.shown()),
        tools: answers,
        grains: question.widths_um.map(|widths| grains(widths, question.width_ratio)).transpose()?,
        cautions: std::iter::once(::stone::cautions::FIRST.to_owned())
            .chain(cautions.map(|caution| format!("{}: {}", caution.when, caution.what)))
            .collect(),
    })
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

fn mineral_form(answer: &MineralAnswer) -> MineralForm {
    let verdict = match answer.verdict {
        Verdict::Hardly => "hardly",
        Verdict::Partly => "partly",
        Verdict::Clearly => "clearly",
    };
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
        verdict: verdict.to_owned(),
    }
}

fn grains(widths_um: [f64; 2], ratio: Option<[f64; 2]>) -> Result<GrainsForm, ExamineError> {
    let wrong = |e: WidthRuleError| ExamineError::request(e.to_string());
    let rule = match ratio {
        Some([low, high]) => WidthRule::new("ratio given", low, high).map_err(wrong)?,
        None => WidthRule::default(),
    };
    let range = rule.grains(widths_um[0], widths_um[1]).map_err(wrong)?;
    Ok(GrainsForm {
        low_um: range.low_um,
        high_um: range.high_um,
        grades: Scale::ALL
            .into_iter()
            .map(|scale| GradesForm {
                scale: scale.name().to_owned(),
                numbers: range.grades(scale).iter().map(|grade| grade.number).collect(),
                source: scale.source().shown(),
            })
            .collect(),
        assumption: range.assumption,
    })
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
                rock: Some("diorite".into()),
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
        let question = StoneQuestion { rock: Some("cheese".into()), ..StoneQuestion::default() };
        assert!(stone(&question).unwrap_err().to_string().contains("granite"));
        let reversed = StoneQuestion { widths_um: Some([30.0, 10.0]), ..StoneQuestion::default() };
        assert!(stone(&reversed).is_err());
        let widths = StoneQuestion { widths_um: Some([10.0, 30.0]), ..StoneQuestion::default() };
        assert!(stone(&widths).unwrap().grains.unwrap().low_um < 30.0);
    }
}
