//! The report as chapters of blocks: what the HTML and the PDF both print, in the same words and order.

use std::collections::BTreeMap;

use crate::figures::Figure;

/// The whole report.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Document {
    pub(crate) title: String,
    /// Lines under the title.
    pub(crate) subtitle: Vec<String>,
    pub(crate) sections: Vec<Section>,
    /// Numbers of figures and tables by their anchor.
    pub(crate) numbers: Numbers,
}

/// One heading with what stands under it.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Section {
    /// Anchor, unique in the report.
    pub(crate) id: String,
    pub(crate) title: String,
    pub(crate) blocks: Vec<Block>,
    pub(crate) sections: Vec<Section>,
    /// Starts a new page in print.
    pub(crate) new_page: bool,
    /// Is kept on one page in print.
    pub(crate) together: bool,
}

impl Section {
    pub(crate) fn new(id: impl Into<String>, title: impl Into<String>) -> Self {
        Self { id: id.into(), title: title.into(), ..Self::default() }
    }

    pub(crate) fn paragraph(&mut self, text: impl Into<String>) {
        self.blocks.push(Block::Paragraph(text.into()));
    }
}

/// One piece of a section.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Block {
    Paragraph(String),
    List(Vec<String>),
    /// Sentences with the figures they rest on.
    Items(Vec<Item>),
    /// Name and value, one line each.
    Facts(Vec<(String, String)>),
    Table(PrintedTable),
    /// Figures side by side as room allows.
    Figures(Vec<PrintedFigure>),
    /// Something that could hurt someone, the object or a conclusion.
    Caution(String),
}

/// A sentence with what it is about and the anchors of what it rests on. Items on one thing follow each other.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Item {
    pub(crate) about: String,
    pub(crate) text: String,
    pub(crate) rests_on: Vec<String>,
}

/// Runs of items about the same thing.
pub(crate) fn runs(items: &[Item]) -> impl Iterator<Item = &[Item]> {
    items.chunk_by(|one, next| one.about == next.about)
}

/// A figure with its caption.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct PrintedFigure {
    /// Anchor, unique in the report.
    pub(crate) id: String,
    pub(crate) figure: Figure,
    pub(crate) caption: String,
}

/// A table with its caption. A cell may hold several lines, parted by `\n`.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct PrintedTable {
    /// Anchor, unique in the report.
    pub(crate) id: String,
    pub(crate) caption: String,
    pub(crate) headings: Vec<String>,
    pub(crate) rows: Vec<Vec<String>>,
}

/// Running numbers of figures and tables.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(crate) struct Numbers(BTreeMap<String, String>);

impl Numbers {
    /// Numbers figures and tables in the order they are printed.
    pub(crate) fn of(sections: &[Section]) -> Self {
        let mut numbers = Self::default();
        let (mut figures, mut tables) = (0, 0);
        for section in sections {
            numbers.walk(section, &mut figures, &mut tables);
        }
        numbers
    }

    fn walk(&mut self, section: &Section, figures: &mut usize, tables: &mut usize) {
        for block in &section.blocks {
            match block {
                Block::Figures(printed) => {
                    for figure in printed {
                        *figures += 1;
                        self.0.insert(figure.id.clone(), format!("Figure\u{a0}{figures}"));
                    }
                }
                Block::Table(table) => {
                    *tables += 1;
                    self.0.insert(table.id.clone(), format!("Table\u{a0}{tables}"));
                }
                _ => {}
            }
        }
        for inner in &section.sections {
            self.walk(inner, figures, tables);
        }
    }

    /// `Figure 3`, `Table 1`; `None` for an anchor that is not in the report.
    pub(crate) fn get(&self, id: &str) -> Option<&str> {
        self.0.get(id).map(String::as_str)
    }
}

/// An anchor from free text: lower-case letters and digits, everything else a hyphen.
pub(crate) fn anchor(parts: &[&str]) -> String {
    let mut anchor = String::new();
    for part in parts {
        if !anchor.is_empty() {
            anchor.push('-');
        }
        for character in part.chars() {
            // Whatever is not plain is written as its number, so that two labels never share an anchor.
            match character {
                'a'..='z' | 'A'..='Z' | '0'..='9' => anchor.push(character),
                other => anchor.push_str(&format!("_{:x}", u32::from(other))),
            }
        }
    }
    anchor
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn anchors_are_plain_and_do_not_collide() {
        let labels = ["A 1", "A-1", "A_1", "A1", "Ä1", "<x>", "a1"];
        let anchors: std::collections::BTreeSet<String> =
            labels.iter().map(|label| anchor(&["fig", label])).collect();
        assert_eq!(anchors.len(), labels.len());
        assert!(
            anchors
                .iter()
                .all(|anchor| anchor.bytes().all(|b| b.is_ascii_alphanumeric() || b == b'-' || b == b'_'))
        );
    }
}
