//! The first pages: what was found, what cannot be told, what to do next.

use crate::document::{Block, Item, Section};
use crate::dossier::{Dossier, Lay, StraightnessVerdict, Weighing};
use crate::figures::{TOLD_APART_FROM, nearer_end};
use crate::findings::{Finding, Kind, findings as all_findings, title_of};
use crate::limits::{Limit, limits as all_limits, remedies};
use crate::words;

/// Findings in three parts.
pub(crate) fn findings(dossier: &Dossier) -> Section {
    let mut section = Section::new("findings", "What was found");
    section.paragraph(
        "Each sentence names the figures and tables it rests on. Observed: counted or seen on the pictures. Computed: follows \
         from the traces by a method of the chapter ‘Methods and sources’. Inferred: goes beyond the numbers, and may be wrong \
         although they are right.",
    );
    section.blocks.insert(0, Block::Facts(in_short(dossier)));
    let findings = all_findings(dossier);
    for (kind, id, title) in [
        (Kind::Observed, "observed", "Observed"),
        (Kind::Computed, "computed", "Computed"),
        (Kind::Inferred, "inferred", "Inferred"),
    ] {
        let of_kind: Vec<Item> = findings.iter().filter(|finding| finding.kind == kind).map(item).collect();
        if of_kind.is_empty() {
            continue;
        }
        let mut part = Section::new(format!("findings-{id}"), title);
        part.blocks.push(Block::Items(of_kind));
        section.sections.push(part);
    }
    section
}

/// The whole result in a few lines, for those who read no further.
fn in_short(dossier: &Dossier) -> Vec<(String, String)> {
    let captures: usize = dossier.stations.iter().map(|station| station.captures.len()).sum();
    let counted: usize =
        dossier.stations.iter().flat_map(|station| &station.captures).map(|c| c.accepted().count()).sum();
    let marks = format!(
        "{} counted on {} at {}",
        words::count(counted, "trace"),
        words::count(captures, "micrograph"),
        words::count(dossier.stations.len(), "station")
    );
    let marks = if captures == 0 { "nothing has been measured yet".to_owned() } else { marks };
    let mut lines = vec![("Marks".to_owned(), marks)];
    let described: Vec<(&str, &Lay)> = dossier
        .stations
        .iter()
        .filter_map(|station| Some((station.label.as_str(), station.described()?)))
        .collect();
    if !described.is_empty() {
        let lays: Vec<String> =
            described.iter().map(|(label, lay)| format!("{label}: {}", sets_in_short(lay))).collect();
        lines.push(("Lay by station".into(), lays.join("; ")));
        lines.push(("Straight or bowed".into(), bows_in_short(&described)));
    }
    if let Some(comparison) = &dossier.comparison {
        let differ: Vec<&str> = comparison
            .tests
            .iter()
            .filter(|test| test.p_adjusted.is_some_and(|p| p < comparison.level))
            .map(|test| test.property.as_str())
            .collect();
        let text = match differ.is_empty() {
            true => "no difference between stations was found".to_owned(),
            false => format!("the stations differ in {}", words::list(&differ)),
        };
        lines.push(("Stations".into(), text));
    }
    if let Some(weighing) = &dossier.weighing {
        lines.push(("Ways of finishing".into(), weighing_in_short(weighing)));
    }
    if let Some(first) = remedies(&all_limits(dossier)).first() {
        lines.push(("First thing to do".into(), first.clone()));
    }
    lines
}

fn sets_in_short(lay: &Lay) -> String {
    let sets: Vec<String> = lay.sets.iter().map(|set| format!("{:.0}°", set.direction.degrees())).collect();
    if sets.is_empty() { "no set stands out".into() } else { words::list(&sets) }
}

fn bows_in_short(described: &[(&str, &Lay)]) -> String {
    let with = |verdict: StraightnessVerdict| {
        let labels: Vec<String> = described
            .iter()
            .filter_map(|(label, lay)| Some((label, lay.straightness.as_ref()?)))
            .filter(|(_, straightness)| straightness.verdict() == verdict)
            .map(|(label, straightness)| {
                let unit = straightness.unit.symbol();
                let length = |value: f64| format!("{} {unit}", words::significant(value, 2));
                match (straightness.reach, straightness.radius()) {
                    (Some(reach), Some(radius)) if verdict == StraightnessVerdict::Bowed => {
                        format!("{label} (radius {}, reach {})", length(radius.value), length(reach))
                    }
                    (Some(reach), _) => format!("{label} (reach {})", length(reach)),
                    (None, _) => format!("{label} (reach not known)"),
                }
            })
            .collect();
        words::list(&labels)
    };
    let parts: Vec<String> = [
        ("bowed at", StraightnessVerdict::Bowed),
        ("not told from straight at", StraightnessVerdict::NotToldFromStraight),
        ("cannot be said at", StraightnessVerdict::CannotTell),
    ]
    .into_iter()
    .map(|(start, verdict)| (start, with(verdict)))
    .filter(|(_, labels)| !labels.is_empty())
    .map(|(start, labels)| format!("{start} {labels}"))
    .collect();
    if parts.is_empty() { "not assessed".into() } else { parts.join("; ") }
}

fn weighing_in_short(weighing: &Weighing) -> String {
    if let Some(why) = &weighing.cannot {
        return format!("cannot be weighed because {why}");
    }
    if weighing.none_fits.as_ref().is_some_and(|none_fits| none_fits.flagged) {
        return "none of the modelled finishes fits the marks present".into();
    }
    let groups: Vec<String> = weighing
        .cannot_tell_apart
        .iter()
        .map(|group| {
            words::list(&group.names.iter().map(|name| title_of(weighing, name)).collect::<Vec<_>>())
        })
        .collect();
    let told = weighing.pairs.iter().filter(|pair| nearer_end(pair).abs() >= TOLD_APART_FROM).count();
    let apart = if groups.is_empty() {
        String::new()
    } else {
        format!("cannot be told apart: {}; ", groups.join("; "))
    };
    format!(
        "{apart}{told} of {} are told apart by the marks present",
        words::count(weighing.pairs.len(), "pair")
    )
}

fn item(finding: &Finding) -> Item {
    Item { about: finding.about.clone(), text: finding.text.clone(), rests_on: finding.rests_on.clone() }
}

/// The gaps, worked out from the numbers.
pub(crate) fn limits(dossier: &Dossier) -> Section {
    let mut section = Section::new("limits", "What these pictures cannot tell");
    let limits = all_limits(dossier);
    if limits.is_empty() {
        section.paragraph("No gap was found in the numbers of this examination; the methods chapter says what was looked for.");
    } else {
        section.paragraph("Worked out from the numbers of this examination:");
        let item = |limit: &Limit| Item {
            about: limit.about.clone(),
            text: limit.text.clone(),
            rests_on: limit.rests_on.clone(),
        };
        section.blocks.push(Block::Items(limits.iter().map(item).collect()));
    }
    section
}

/// What would close the gaps.
pub(crate) fn next_visit(dossier: &Dossier) -> Option<Section> {
    let remedies = remedies(&all_limits(dossier));
    if remedies.is_empty() && dossier.next_visit.is_none() {
        return None;
    }
    let mut section = Section::new("next-visit", "What to do next");
    section.blocks.push(Block::Caution(
        "Do not touch, clean, wet or mark the object without its keeper’s permission; a microscope that rests on the surface \
         touches it."
            .into(),
    ));
    if !remedies.is_empty() {
        section.blocks.push(Block::List(remedies));
    }
    if let Some(chapter) = &dossier.next_visit {
        section.sections.push(super::generic::chapter("plan", "Plan of the next visit", chapter));
    }
    Some(section)
}
