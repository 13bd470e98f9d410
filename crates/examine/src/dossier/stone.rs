//! The chapter on stone: what the minerals are, what could scratch them, and which grains the widths would fit.

use ::stone::{
    ABRASIVES, GrainRange, MINERALS, Material, Source, TOOLS, Verdict, WidthRule, what_could_scratch,
};
use archive::Rock;
use report::dossier::{Chapter, Lay, LengthUnit, Table, Widths};
use report::significant;
use wire::stone::{GradesForm, GrainsForm, LawForm, MineralForm, StoneForm, ToolForm};

use crate::stone::{LAWS_CAUTION, MadeOf, StoneKind, grains_form};

/// Fills in the grains that the middle nine tenths of the widths, in µm, would fit.
pub(super) fn fill_grains(widths: &mut Widths, rule: &WidthRule) {
    let grains = widths.range_90.and_then(|(low, high)| rule.grains(low, high).ok());
    if let Some(grains) = grains.filter(|_| widths.unit == LengthUnit::Micrometres) {
        widths.grain_um = Some((grains.low_um, grains.high_um));
        widths.grain_relation = Some(format!(
            "scratches are {:.2} to {:.2} times as wide as the grains that cut them, which is an assumption: {}",
            rule.low, rule.high, rule.name
        ));
    }
}

/// The chapter; `None` if neither the rock nor any width in micrometres is known.
pub(crate) fn chapter(rock: &Rock, whole: Option<&Lay>, rule: &WidthRule) -> Option<Chapter> {
    let made_of = kind(rock).and_then(|kind| MadeOf::new(&kind).ok());
    let grains = whole.and_then(|lay| lay.widths.as_ref()).and_then(|widths| widths.grain_um);
    if made_of.is_none() && grains.is_none() {
        return None;
    }
    let mut chapter = Chapter {
        cautions: crate::stone::cautions(),
        cannot_tell: vec![
            "who worked the stone, when, or with which of the tools that could have scratched it".to_owned(),
            "how fast the work went: hardness decides what can scratch, not how quickly".to_owned(),
        ],
        ..Chapter::default()
    };
    match &made_of {
        Some(made_of) => add_hardness(&mut chapter, made_of),
        None => chapter.cannot_tell.push(
            "what could scratch this stone: record its rock or its minerals with the object".to_owned(),
        ),
    }
    if let Some(grains) = grains {
        add_grains(&mut chapter, grains, rule);
    }
    Some(chapter)
}

fn kind(rock: &Rock) -> Option<StoneKind> {
    match rock {
        Rock::Unknown => None,
        Rock::Named(name) => Some(StoneKind::Rock(name.clone())),
        Rock::Minerals(shares) => {
            Some(StoneKind::Minerals(shares.iter().map(|m| (m.mineral.clone(), m.share)).collect()))
        }
    }
}

fn add_hardness(chapter: &mut Chapter, made_of: &MadeOf) {
    chapter.paragraphs.push(format!(
        "Taken as {} ({}). A rock has no single hardness; its minerals do, and a line is a scratch only where something harder \
         met the mineral it crosses.",
        made_of.name, made_of.source
    ));
    chapter.tables.push(minerals_table(made_of));
    chapter.computed.push(tools_sentence(made_of));
    chapter.inferred.push(
        "a soft tool that carries a hard loose abrasive works by the abrasive, so the hardness of a tool rules none out"
            .to_owned(),
    );
    chapter.tables.push(scratching_table("Tools by their own hardness", "tool", TOOLS, made_of));
    chapter.tables.push(scratching_table("Abrasives, loose or bonded", "abrasive", ABRASIVES, made_of));
    let parts = made_of.parts.iter().filter_map(|part| ::stone::mineral(part.mineral));
    let used = TOOLS.iter().chain(ABRASIVES).map(|material| material.hardness.source);
    let mut sources: Vec<Source> =
        parts.flat_map(|mineral| [mineral.mohs.source, mineral.vickers.source]).chain(used).collect();
    sources.sort_by_key(|source| source.cite);
    sources.dedup();
    chapter.sources.extend(sources.into_iter().map(Source::shown));
}

/// How much of the stone each tool could mark by its own hardness.
fn tools_sentence(made_of: &MadeOf) -> String {
    let mut shares: Vec<(f64, &str)> =
        TOOLS.iter().map(|tool| (share_marked(tool, made_of), tool.name)).collect();
    shares.sort_by(|a, b| b.0.total_cmp(&a.0));
    let said: Vec<String> = shares
        .iter()
        .filter(|(share, _)| *share > 0.0)
        .map(|(share, name)| format!("{name} {share:.0} %"))
        .collect();
    let none: Vec<&str> = shares.iter().filter(|(share, _)| *share <= 0.0).map(|(_, name)| *name).collect();
    let marked = match said.is_empty() {
        true => format!(
            "by its own hardness none of the tools more than hardly scratches any mineral of {}",
            made_of.name
        ),
        false => format!(
            "by their own hardness the tools could scratch, at least partly, these shares of {} by volume: {}",
            made_of.name,
            said.join(", ")
        ),
    };
    if none.is_empty() || said.is_empty() {
        marked
    } else {
        format!("{marked}; none of it: {}", none.join(", "))
    }
}

/// Share of the stone, percent of its middle volumes, that a tool alone scratches more than hardly.
fn share_marked(tool: &Material, made_of: &MadeOf) -> f64 {
    let answers = what_could_scratch(tool, None, &made_of.name, &made_of.parts).minerals;
    let middle = |answer: &::stone::MineralAnswer| (answer.share_percent[0] + answer.share_percent[1]) / 2.0;
    let all: f64 = answers.iter().map(middle).sum();
    let marked: f64 = answers.iter().filter(|answer| answer.verdict != Verdict::Hardly).map(middle).sum();
    if all > 0.0 { 100.0 * marked / all } else { 0.0 }
}

fn minerals_table(made_of: &MadeOf) -> Table {
    let row = |part: &::stone::RockPart| {
        let mineral = MINERALS.iter().find(|mineral| mineral.name == part.mineral)?;
        Some(vec![
            mineral.name.to_owned(),
            range(part.low, part.high, 0),
            range(mineral.mohs.low, mineral.mohs.high, 1),
            range(mineral.vickers.low, mineral.vickers.high, 0),
            mineral.vickers.source.shown(),
        ])
    };
    Table {
        caption: format!("Minerals of {}", made_of.name),
        headings: ["mineral", "share, %", "Mohs", "Vickers, kgf/mm²", "source of the Vickers hardness"]
            .map(str::to_owned)
            .to_vec(),
        rows: made_of.parts.iter().filter_map(row).collect(),
    }
}

fn scratching_table(caption: &str, what: &str, materials: &[Material], made_of: &MadeOf) -> Table {
    let row = |material: &Material| {
        let scratching = what_could_scratch(material, None, &made_of.name, &made_of.parts);
        let cell = |answer: &::stone::MineralAnswer| {
            format!("{:.2} {}", answer.by_tool, crate::stone::verdict_word(answer.verdict))
        };
        let hardness = range(material.hardness.low, material.hardness.high, 0);
        let first = format!("{} ({hardness})", material.name);
        std::iter::once(first).chain(scratching.minerals.iter().map(cell)).collect()
    };
    let minerals = made_of.parts.iter().map(|part| part.mineral.to_owned());
    Table {
        caption: format!(
            "{caption}: probability, from the ranges of hardness, that each mineral is scratched ({} above 0.9, {} below 0.1)",
            crate::stone::verdict_word(Verdict::Clearly),
            crate::stone::verdict_word(Verdict::Hardly)
        ),
        headings: std::iter::once(format!("{what} (Vickers, kgf/mm²)")).chain(minerals).collect(),
        rows: materials.iter().map(row).collect(),
    }
}

fn add_grains(chapter: &mut Chapter, (low_um, high_um): (f64, f64), rule: &WidthRule) {
    let range_um = GrainRange { low_um, high_um, assumption: rule.assumption() };
    chapter.inferred.push(format!(
        "over all stations, the middle nine tenths of the widths would fit grains of {low_um:.0} to {high_um:.0} µm"
    ));
    chapter.paragraphs.push(range_um.assumption.clone());
    chapter.tables.push(grades_table(&grains_form(range_um)));
}

/// The chapter with what somebody asked besides, and its answer.
pub(crate) fn with_answer(chapter: Option<Chapter>, answer: Option<&StoneForm>) -> Option<Chapter> {
    let Some(answer) = answer.map(answered) else { return chapter };
    let mut chapter = chapter.unwrap_or_default();
    chapter.paragraphs.extend(answer.paragraphs);
    chapter.computed.extend(answer.computed);
    chapter.inferred.extend(answer.inferred);
    chapter.tables.extend(answer.tables);
    chapter.sources.extend(answer.sources.into_iter().filter(|source| !source.is_empty()));
    Some(chapter)
}

/// The answer to a question somebody asked; its cautions stand in the chapter.
pub(crate) fn answered(answer: &StoneForm) -> Chapter {
    let mut chapter = Chapter::default();
    if let (Some(rock), Some(source)) = (&answer.rock, &answer.rock_source) {
        chapter.paragraphs.push(format!("The stone is taken as {rock} ({source})."));
    }
    if let Some(abrasive) = answer.tools.iter().find_map(|tool| tool.abrasive.as_ref()) {
        chapter.paragraphs.push(format!(
            "Tools are taken with loose {abrasive}: a soft tool that carries a hard loose abrasive works by the abrasive."
        ));
    }
    // One tool is answered in words; of many, the table says the same.
    if let [only] = answer.tools.as_slice() {
        chapter.computed.extend(only.sentences.iter().cloned());
    }
    chapter.tables.extend(tools_table(answer));
    chapter
        .sources
        .extend(answer.tools.iter().map(|tool| format!("{}: {}", tool.tool, tool.hardness_source)));
    if let Some(grains) = &answer.grains {
        chapter.inferred.push(format!(
            "grains of {} to {} µm could leave such scratches. {}",
            significant(grains.low_um, 2),
            significant(grains.high_um, 2),
            grains.assumption
        ));
        chapter.tables.push(grades_table(grains));
    }
    if let Some(grit) = &answer.grit {
        chapter.computed.push(format!(
            "{} has grains of {} µm mean size ({}); it could leave scratches of {} to {} µm. {}",
            grit.grade,
            range(grit.low_um, grit.high_um, 1),
            grit.source,
            significant(grit.scratch_um[0], 2),
            significant(grit.scratch_um[1], 2),
            grit.assumption
        ));
        chapter.tables.push(Table {
            caption: format!("The grade of each other scale that is nearest to {}.", grit.grade),
            headings: ["Grade", "Times as large", "Counterpart", "In words"].map(str::to_owned).to_vec(),
            rows: grit
                .others
                .iter()
                .map(|other| {
                    let counterpart = if other.counterpart { "yes" } else { "no" };
                    vec![
                        other.grade.clone(),
                        significant(other.ratio, 2),
                        counterpart.to_owned(),
                        other.caution.clone(),
                    ]
                })
                .collect(),
        });
    }
    chapter.computed.extend(answer.work.as_ref().map(|work| work.words.clone()));
    chapter.computed.extend(answer.face.as_ref().map(|face| face.words.clone()));
    if !answer.laws.is_empty() {
        chapter.paragraphs.push(LAWS_CAUTION.to_owned());
        chapter.tables.push(laws_table(answer));
    }
    chapter
}

/// What the laws of wear would say of the tool's load and speed.
fn laws_table(answer: &StoneForm) -> Table {
    let row = |law: &LawForm| {
        vec![law.law.clone(), law.coefficient_words.clone(), law.rate_words.clone(), law.source.clone()]
    };
    Table {
        caption: "What laws of wear would say of a tool with this load and speed, to the order of magnitude."
            .to_owned(),
        headings: ["Law", "Coefficient", "Removal", "Source of the coefficient"].map(str::to_owned).to_vec(),
        rows: answer.laws.iter().map(row).collect(),
    }
}

/// What each tool asked about could scratch: one row a tool, one column a mineral.
fn tools_table(answer: &StoneForm) -> Option<Table> {
    let minerals = &answer.tools.first()?.minerals;
    let cell = |mineral: &MineralForm| {
        let p = mineral.by_abrasive.map_or(mineral.by_tool, |by_abrasive| by_abrasive.max(mineral.by_tool));
        format!("{p:.2} {}", mineral.verdict)
    };
    let row = |tool: &ToolForm| {
        let hardness = range(tool.hardness_low, tool.hardness_high, 0);
        [tool.tool.clone(), hardness].into_iter().chain(tool.minerals.iter().map(cell)).collect()
    };
    Some(Table {
        caption: "Probability, from the ranges of hardness, that each mineral is scratched by the tool or by the loose abrasive it \
                  carries, whichever is larger."
            .to_owned(),
        headings: ["Tool", "Vickers, kgf/mm²"]
            .map(str::to_owned)
            .into_iter()
            .chain(minerals.iter().map(|mineral| mineral.mineral.clone()))
            .collect(),
        rows: answer.tools.iter().map(row).collect(),
    })
}

fn grades_table(grains: &GrainsForm) -> Table {
    let row = |grades: &GradesForm| {
        let numbers = match grades.numbers.as_slice() {
            [] => "none".to_owned(),
            [only] => only.to_string(),
            [first, .., last] => format!("{first} to {last}"),
        };
        vec![grades.scale.clone(), numbers, grades.source.clone()]
    };
    Table {
        caption: format!(
            "Grades whose mean grains lie between {} and {} µm; a number means another size on every scale.",
            significant(grains.low_um, 2),
            significant(grains.high_um, 2)
        ),
        headings: ["Scale", "Grades", "Source of the sizes"].map(str::to_owned).to_vec(),
        rows: grains.grades.iter().map(row).collect(),
    }
}

/// A range, or one value where both ends are the same.
fn range(low: f64, high: f64, digits: usize) -> String {
    if low == high { format!("{low:.digits$}") } else { format!("{low:.digits$} to {high:.digits$}") }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Common practice, no source: copper by itself hardly marks diorite.
    #[test]
    fn a_known_rock_is_answered_and_an_unknown_one_is_asked_for() {
        let rule = WidthRule::default();
        let chapter = chapter(&Rock::Named("diorite".to_owned()), None, &rule).unwrap();
        let tools = &chapter.tables[1];
        let copper = tools.rows.iter().find(|row| row[0].starts_with("annealed copper")).unwrap();
        assert!(
            copper[1..].iter().all(|cell| cell.contains("hardly") || cell.contains("partly")),
            "{copper:?}"
        );
        assert_eq!(tools.headings.len(), copper.len());
        assert!(super::chapter(&Rock::Unknown, None, &rule).is_none());
        assert!(super::chapter(&Rock::Named("moon cheese".to_owned()), None, &rule).is_none());
    }

    #[test]
    fn widths_in_pixels_give_no_grains() {
        let mut widths = Widths {
            unit: LengthUnit::Pixels,
            values: vec![3.0],
            median: None,
            range_90: Some((2.0, 9.0)),
            resolution: None,
            grain_um: None,
            grain_relation: None,
        };
        fill_grains(&mut widths, &WidthRule::default());
        assert_eq!(widths.grain_um, None);
        widths.unit = LengthUnit::Micrometres;
        fill_grains(&mut widths, &WidthRule::default());
        let (low, high) = widths.grain_um.unwrap();
        assert!(low > 2.0 && high > 9.0);
    }
}
