//! The object and where its stations are.

use crate::document::{Block, PrintedFigure, PrintedTable, Section, anchor};
use crate::dossier::{Dossier, Verdict};
use crate::figures;

/// Facts as typed, overviews with pins, table of stations.
pub(crate) fn chapter(dossier: &Dossier) -> Section {
    let mut section = Section::new("object", "The object and its stations");
    section.blocks.push(Block::Facts(facts(dossier)));
    if let Some(description) = &dossier.object.description {
        section.paragraph(description.clone());
    }
    if !dossier.stations.is_empty() {
        section.blocks.push(Block::Table(stations(dossier)));
    }
    let overviews: Vec<PrintedFigure> = dossier
        .overviews
        .iter()
        .enumerate()
        .map(|(index, overview)| PrintedFigure {
            id: anchor(&["fig", "overview", &index.to_string()]),
            figure: figures::overview(overview),
            caption: caption(overview),
        })
        .collect();
    if overviews.is_empty() {
        section.paragraph(
            "There is no overview photograph, so where the stations are is known by their names only.",
        );
    } else {
        section.blocks.push(Block::Figures(overviews));
    }
    if !dossier.remarks.is_empty() {
        section.paragraph("Remarks of the examiner, in their own words:");
        section.blocks.push(Block::List(dossier.remarks.clone()));
    }
    section
}

fn facts(dossier: &Dossier) -> Vec<(String, String)> {
    let object = &dossier.object;
    let name = if object.name.trim().is_empty() { "not named" } else { object.name.trim() };
    let mut facts = vec![("Object".to_owned(), name.to_owned())];
    for (label, text) in [
        ("Place", &object.place),
        ("Rock", &object.rock),
        ("Conditions", &object.conditions),
        ("Permission", &object.permission),
    ] {
        facts.push((label.to_owned(), text.clone().unwrap_or_else(|| "not recorded".into())));
    }
    facts
}

fn caption(overview: &crate::dossier::Overview) -> String {
    let note =
        overview.note.as_deref().map(|note| format!(" {}", crate::words::sentence(note))).unwrap_or_default();
    format!("Overview photograph ‘{}’ with the stations pinned on it.{note}", overview.file_name)
}

fn stations(dossier: &Dossier) -> PrintedTable {
    let rows = dossier
        .stations
        .iter()
        .map(|station| {
            let usable = station
                .captures
                .iter()
                .filter(|capture| capture.quality.verdict != Verdict::NotUsable)
                .count();
            let counted: usize = station.captures.iter().map(|capture| capture.accepted().count()).sum();
            vec![
                station.label.clone(),
                if station.name.is_empty() { "not named".into() } else { station.name.clone() },
                station.captures.len().to_string(),
                usable.to_string(),
                counted.to_string(),
                station.note.clone().unwrap_or_default(),
            ]
        })
        .collect();
    PrintedTable {
        id: "table-stations".into(),
        caption: "Stations.".into(),
        headings: ["Station", "Name", "Micrographs", "of them usable", "Traces counted", "Note"]
            .map(str::to_owned)
            .to_vec(),
        rows,
    }
}
