//! A chapter of paragraphs, tables and figures: form, stone, next visit.

/// A chapter whose content another crate worked out.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Chapter {
    /// Heading.
    pub title: String,
    /// Sentences that rest on a measurement: what was seen.
    pub observed: Vec<String>,
    /// Sentences that rest on a computation.
    pub computed: Vec<String>,
    /// Sentences that go beyond the numbers.
    pub inferred: Vec<String>,
    /// Plain paragraphs.
    pub paragraphs: Vec<String>,
    /// Tables, in order.
    pub tables: Vec<Table>,
    /// Figures, in order.
    pub figures: Vec<ChapterFigure>,
    /// Cautions to people and to the object.
    pub cautions: Vec<String>,
    /// What this chapter cannot tell.
    pub cannot_tell: Vec<String>,
    /// Sources: short reference each.
    pub sources: Vec<String>,
}

/// A table with its headings; units belong into the headings.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Table {
    /// What it shows.
    pub caption: String,
    /// One heading for each column; the first column names the rows.
    pub headings: Vec<String>,
    /// Rows of as many cells as there are headings.
    pub rows: Vec<Vec<String>>,
}

/// A figure made elsewhere.
#[derive(Debug, Clone, PartialEq)]
pub struct ChapterFigure {
    /// Drawing with its alternative text.
    pub figure: crate::figures::Figure,
    /// Caption printed under it.
    pub caption: String,
}
