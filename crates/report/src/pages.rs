//! The report's chapters for a screen: the same words, tables and figures, part by part.

use crate::Dossier;
use crate::chapters;
use crate::document::{Block, Item, Section, anchor};
use crate::dossier::{Capture, Chapter, Lay, Station, Weighing};
use crate::figures::Figure;

/// One heading with what stands under it.
#[derive(Debug, Clone, PartialEq)]
pub struct Page {
    /// Anchor of the heading in the report: `station-a`, `capture-a1`, `whole`, `weighing`, …
    pub id: String,
    /// Heading.
    pub title: String,
    /// What stands under it, in order.
    pub blocks: Vec<PageBlock>,
    /// Sub-headings with theirs.
    pub pages: Vec<Page>,
}

/// One piece of a page.
#[derive(Debug, Clone, PartialEq)]
pub enum PageBlock {
    /// Running text.
    Paragraph(String),
    /// Separate sentences.
    List(Vec<String>),
    /// Names and values.
    Facts(Vec<(String, String)>),
    /// A table.
    Table {
        /// Caption.
        caption: String,
        /// Headings.
        headings: Vec<String>,
        /// Cells, row by row; a cell may hold several lines, parted by `\n`.
        rows: Vec<Vec<String>>,
    },
    /// Figures, each with its anchor and caption.
    Figures(Vec<(String, Figure, String)>),
    /// Something that could hurt someone, the object or a conclusion.
    Caution(String),
}

/// The lay of one station alone.
#[must_use]
pub fn lay_of_station(station: &Station) -> Page {
    page(chapters::lay_of_station(station))
}

/// The lay of all stations taken together.
#[must_use]
pub fn lay_of_whole(whole: &Lay) -> Page {
    page(chapters::lay_of_whole(whole))
}

/// The stations side by side and whether they differ; `None` with fewer than two stations that have a lay.
#[must_use]
pub fn comparison(dossier: &Dossier) -> Option<Page> {
    let mut section = chapters::whole(dossier)?;
    section.sections.clear();
    Some(page(section))
}

/// The weighing alone; the reach of the captures is that of the dossier's stations.
#[must_use]
pub fn weighing_page(dossier: &Dossier) -> Option<Page> {
    Some(page(chapters::weighing(dossier, dossier.weighing.as_ref()?)))
}

/// What each finish would have looked like; `None` where nothing was rendered.
#[must_use]
pub fn simulated_page(weighing: &Weighing) -> Option<Page> {
    chapters::simulated(weighing).map(page)
}

/// One chapter that another crate worked out: form, stone, the next visit.
#[must_use]
pub fn chapter_page(id: &str, title: &str, chapter: &Chapter) -> Page {
    page(chapters::generic(id, title, chapter))
}

/// The lay of one capture alone, which the printed report gives by station only; `None` where it has none.
#[must_use]
pub fn lay_of_capture(capture: &Capture) -> Option<Page> {
    let lay = capture.lay.as_ref()?;
    let mut section = Section::new(
        anchor(&["lay", &capture.label]),
        format!("Lay of {}: {}", capture.label, capture.file_name),
    );
    let hidden: Vec<_> = capture.hidden.into_iter().collect();
    section.blocks =
        chapters::lay_blocks(&capture.label, &format!("capture {}", capture.label), lay, &hidden);
    Some(page(section))
}

fn page(section: Section) -> Page {
    Page {
        id: section.id,
        title: section.title,
        blocks: section.blocks.into_iter().map(block).collect(),
        pages: section.sections.into_iter().map(page).collect(),
    }
}

fn block(block: Block) -> PageBlock {
    match block {
        Block::Paragraph(text) => PageBlock::Paragraph(text),
        Block::List(items) => PageBlock::List(items),
        Block::Items(items) => PageBlock::List(items.into_iter().map(sentence).collect()),
        Block::Facts(facts) => PageBlock::Facts(facts),
        Block::Table(table) => {
            PageBlock::Table { caption: table.caption, headings: table.headings, rows: table.rows }
        }
        Block::Figures(figures) => PageBlock::Figures(
            figures.into_iter().map(|printed| (printed.id, printed.figure, printed.caption)).collect(),
        ),
        Block::Caution(text) => PageBlock::Caution(text),
    }
}

fn sentence(item: Item) -> String {
    if item.about.is_empty() { item.text } else { format!("{}: {}", item.about, item.text) }
}
