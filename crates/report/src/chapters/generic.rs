//! A chapter whose content another crate worked out: form, stone, the plan of a visit.

use crate::document::{Block, PrintedFigure, PrintedTable, Section, anchor};
use crate::dossier::Chapter;
use crate::words;

/// The chapter with its cautions first: they are about people and the object.
pub(crate) fn chapter(id: &str, title: &str, chapter: &Chapter) -> Section {
    let title = if chapter.title.is_empty() { title } else { &chapter.title };
    let mut section = Section::new(id, title);
    section.blocks.extend(chapter.cautions.iter().map(|caution| Block::Caution(words::sentence(caution))));
    section
        .blocks
        .extend(chapter.paragraphs.iter().map(|paragraph| Block::Paragraph(words::sentence(paragraph))));
    for (kind, sentences) in
        [("Observed", &chapter.observed), ("Computed", &chapter.computed), ("Inferred", &chapter.inferred)]
    {
        if !sentences.is_empty() {
            section.paragraph(format!("{kind}:"));
            section
                .blocks
                .push(Block::List(sentences.iter().map(|sentence| words::sentence(sentence)).collect()));
        }
    }
    for (index, table) in chapter.tables.iter().enumerate() {
        section.blocks.push(Block::Table(PrintedTable {
            id: anchor(&["table", id, &index.to_string()]),
            caption: table.caption.clone(),
            headings: table.headings.clone(),
            rows: table.rows.clone(),
        }));
    }
    let figures: Vec<PrintedFigure> = chapter
        .figures
        .iter()
        .enumerate()
        .map(|(index, figure)| PrintedFigure {
            id: anchor(&["fig", id, &index.to_string()]),
            figure: figure.figure.clone(),
            caption: figure.caption.clone(),
        })
        .collect();
    if !figures.is_empty() {
        section.blocks.push(Block::Figures(figures));
    }
    if !chapter.cannot_tell.is_empty() {
        section.paragraph("Cannot be told:");
        section
            .blocks
            .push(Block::List(chapter.cannot_tell.iter().map(|text| words::sentence(text)).collect()));
    }
    if !chapter.sources.is_empty() {
        section.paragraph("Sources:");
        section.paragraph(crate::words::sentence(&chapter.sources.join("; ")));
    }
    section
}
