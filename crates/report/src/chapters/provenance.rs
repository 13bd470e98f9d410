//! Where every number comes from: originals, settings, seed, and inputs that could not be used.

use crate::document::{Block, PrintedTable, Section};
use crate::dossier::{Capture, Dossier};

/// Table of originals, settings and failures.
pub(crate) fn chapter(dossier: &Dossier) -> Section {
    let mut section = Section::new("provenance", "Provenance");
    section.new_page = !dossier.stations.is_empty();
    section.paragraph(
        "Every figure leads back to an untouched original by its SHA-256: recompute it from the file to check that it is the same file.",
    );
    section.blocks.push(Block::Facts(facts(dossier)));
    if dossier.stations.iter().any(|station| !station.captures.is_empty()) {
        section.blocks.push(Block::Table(captures(dossier)));
    }
    if !dossier.overviews.is_empty() {
        section.blocks.push(Block::Table(overviews(dossier)));
    }
    if !dossier.provenance.failures.is_empty() {
        section.blocks.push(Block::Table(PrintedTable {
            id: "table-failures".into(),
            caption: "Inputs that could not be used.".into(),
            headings: ["File", "Reason"].map(str::to_owned).to_vec(),
            rows: dossier
                .provenance
                .failures
                .iter()
                .map(|(file, why)| vec![file.clone(), why.clone()])
                .collect(),
        }));
    }
    section
}

fn facts(dossier: &Dossier) -> Vec<(String, String)> {
    let provenance = &dossier.provenance;
    let software = if provenance.software.is_empty() { "not recorded" } else { &provenance.software };
    let mut facts = vec![
        ("Software".to_owned(), software.to_owned()),
        ("Seed".to_owned(), provenance.seed.to_string()),
        (
            "Resamples behind the intervals".to_owned(),
            crate::words::thousands(u64::from(provenance.resamples)),
        ),
    ];
    facts.extend(provenance.settings.iter().cloned());
    facts
}

fn captures(dossier: &Dossier) -> PrintedTable {
    let row = |capture: &Capture| {
        let camera = capture.camera.clone().unwrap_or_else(|| "camera not named".into());
        let instrument = match (&capture.instrument, &capture.nominal_magnification) {
            (Some(instrument), Some(nominal)) => format!("{instrument} (nominal {nominal})"),
            (Some(instrument), None) => instrument.clone(),
            (None, Some(nominal)) => format!("nominal {nominal}"),
            (None, None) => "not recorded".into(),
        };
        let scale = match &capture.scale {
            Some(scale) => format!("{}\n{}", super::stations::scale_words(capture), scale.origin),
            None => "none".into(),
        };
        let notes: String = capture.notes.iter().map(|note| format!("\n{note}")).collect();
        vec![
            capture.label.clone(),
            format!(
                "{}\n{}\n{}, {} bytes{notes}",
                capture.file_name,
                capture.sha256,
                capture.format,
                crate::words::thousands(capture.bytes)
            ),
            capture.taken_at.clone().unwrap_or_else(|| "not recorded".into()),
            format!("{instrument}\n{camera}"),
            scale,
            capture.quality.verdict.words().to_owned(),
        ]
    };
    PrintedTable {
        id: "table-captures".into(),
        caption: "Originals of all micrographs.".into(),
        headings: [
            "Capture",
            "File, SHA-256, format",
            "Time in the file",
            "Instrument, camera",
            "Scale ± u",
            "Verdict",
        ]
        .map(str::to_owned)
        .to_vec(),
        rows: dossier.stations.iter().flat_map(|station| &station.captures).map(row).collect(),
    }
}

fn overviews(dossier: &Dossier) -> PrintedTable {
    PrintedTable {
        id: "table-overviews".into(),
        caption: "Originals of the overview photographs.".into(),
        headings: ["File, SHA-256"].map(str::to_owned).to_vec(),
        rows: dossier
            .overviews
            .iter()
            .map(|overview| vec![format!("{}\n{}", overview.file_name, overview.sha256)])
            .collect(),
    }
}
