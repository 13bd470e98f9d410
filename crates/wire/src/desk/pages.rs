//! Pages of results, in the words and figures of the report.

use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

/// A page of results, in the words and figures of the report.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct PageForm {
    /// Heading.
    pub title: String,
    /// What stands under it, in order.
    pub blocks: Vec<BlockForm>,
    /// Sub-headings with theirs.
    #[schema(no_recursion)]
    pub sections: Vec<PageForm>,
}

/// One piece of a page.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
#[serde(tag = "kind", rename_all = "lowercase")]
pub enum BlockForm {
    /// Running text.
    Paragraph {
        /// The text.
        text: String,
    },
    /// Separate sentences.
    List {
        /// The sentences.
        items: Vec<String>,
    },
    /// Names and values.
    Facts {
        /// Name and value, one pair a line.
        facts: Vec<[String; 2]>,
    },
    /// A table.
    Table {
        /// Caption.
        caption: String,
        /// Headings.
        headings: Vec<String>,
        /// Cells, row by row.
        rows: Vec<Vec<String>>,
    },
    /// Figures side by side as room allows.
    Figures {
        /// The figures.
        figures: Vec<FigureForm>,
    },
    /// Something that could hurt someone, the object or a conclusion.
    Caution {
        /// The text.
        text: String,
    },
}

/// A figure that the server draws.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct FigureForm {
    /// Caption.
    pub caption: String,
    /// What it shows, for those who do not see it.
    pub alternative_text: String,
    /// The drawing, SVG.
    pub svg: String,
    /// Whether it needs the whole width to be read.
    pub wide: bool,
}

/// How the report is wanted.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, IntoParams)]
#[serde(default)]
#[into_params(parameter_in = Query)]
pub struct ReportQuery {
    /// Chapters left out, parted by commas.
    pub without: String,
    /// Day or time printed as that of the report; empty for none.
    pub made_at: String,
}
