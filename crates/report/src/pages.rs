//! The report's chapters for a screen: the same words, tables and figures, as a tree that can be shown part by part.

use crate::Dossier;
use crate::document::{Block, Item, Section, anchor};
use crate::dossier::Capture;
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

impl Page {
    /// The page with this anchor, this one or one below it.
    #[must_use]
    pub fn find(self, id: &str) -> Option<Self> {
        if self.id == id {
            return Some(self);
        }
        self.pages.into_iter().find_map(|page| page.find(id))
    }
}

/// All chapters of the report, in order.
#[must_use]
pub fn pages(dossier: &Dossier) -> Vec<Page> {
    crate::chapters::document(dossier).sections.into_iter().map(page).collect()
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
        crate::chapters::lay_blocks(&capture.label, &format!("capture {}", capture.label), lay, &hidden);
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
