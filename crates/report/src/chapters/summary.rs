//! The first pages: what was found, what cannot be told, what to do next.

use crate::document::{Block, Section};
use crate::dossier::Dossier;
use crate::findings::{Finding, Kind, findings as all_findings};
use crate::limits::{as_findings, limits as all_limits, remedies};

/// Findings in three parts.
pub(crate) fn findings(dossier: &Dossier) -> Section {
    let mut section = Section::new("findings", "What was found");
    section.paragraph(
        "Each sentence names the figures and tables it rests on. Observed: counted or seen on the pictures. Computed: follows \
         from the traces by a method of the chapter 'Methods and sources'. Inferred: goes beyond the numbers, and may be wrong \
         although they are right.",
    );
    let findings = all_findings(dossier);
    for (kind, id, title) in [
        (Kind::Observed, "observed", "Observed"),
        (Kind::Computed, "computed", "Computed"),
        (Kind::Inferred, "inferred", "Inferred"),
    ] {
        let of_kind: Vec<Finding> = findings.iter().filter(|finding| finding.kind == kind).cloned().collect();
        if of_kind.is_empty() {
            continue;
        }
        let mut part = Section::new(format!("findings-{id}"), title);
        part.blocks.push(Block::Findings(of_kind));
        section.sections.push(part);
    }
    section
}

/// The gaps, worked out from the numbers.
pub(crate) fn limits(dossier: &Dossier) -> Section {
    let mut section = Section::new("limits", "What these pictures cannot tell");
    let limits = all_limits(dossier);
    if limits.is_empty() {
        section.paragraph("No gap was found in the numbers of this examination; the methods chapter says what was looked for.");
    } else {
        section.paragraph("Worked out from the numbers of this examination:");
        section.blocks.push(Block::Findings(as_findings(&limits)));
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
    if !remedies.is_empty() {
        section.blocks.push(Block::List(remedies));
    }
    section.blocks.push(Block::Caution(
        "Do not touch, clean, wet or mark the object without its keeper's permission; a microscope that rests on the surface \
         touches it."
            .into(),
    ));
    if let Some(chapter) = &dossier.next_visit {
        section.sections.push(super::generic::chapter("plan", "Plan of the next visit", chapter));
    }
    Some(section)
}
