//! The document in the typesetter's language. Every text goes in as a string literal, so no text can become code.

use std::fmt::Write as _;

use super::world::{figure_path, has_glyph};
use crate::document::{Block, Document, Item, Numbers, PrintedFigure, PrintedTable, Section, runs};
use crate::html::is_hash;
use crate::words::tie;

/// Page size, type and how each kind of block looks.
const STYLE: &str = include_str!("../../templates/report.typ");

/// Points on paper for one drawing unit: two panels of 320 units fill the text width of 482 pt (A4 less 20 mm on each side).
const PT_PER_UNIT: f64 = 0.74;

/// Drawing width from which a figure takes the whole text width.
const WIDE_FROM: f64 = 400.0;

/// Characters after which a long word may be broken, and from which it counts as long.
const BREAK_EVERY: usize = 16;
const LONG_WORD: usize = 24;

/// Rows from which a table may run over pages.
const LONG_TABLE: usize = 20;

/// A source text with the figures it names.
pub(super) struct Source {
    pub(super) text: String,
    pub(super) figures: Vec<String>,
}

pub(super) fn write(document: &Document) -> Source {
    let mut writer = Writer { text: STYLE.to_owned(), figures: vec![], numbers: &document.numbers };
    let subtitle: Vec<String> = document.subtitle.iter().map(|line| literal(line)).collect();
    writer.push(format_args!(
        "#show: report.with({}, ({}))\n",
        literal(&document.title),
        trailing(&subtitle)
    ));
    for section in &document.sections {
        writer.section(section, 1);
    }
    Source { text: writer.text, figures: writer.figures }
}

struct Writer<'a> {
    text: String,
    figures: Vec<String>,
    numbers: &'a Numbers,
}

impl Writer<'_> {
    fn push(&mut self, text: std::fmt::Arguments<'_>) {
        // Writing into a String cannot fail.
        let _ = self.text.write_fmt(text);
    }

    fn section(&mut self, section: &Section, level: usize) {
        if section.new_page {
            self.push(format_args!("#pagebreak(weak: true)\n"));
        }
        if section.together {
            self.push(format_args!("#block(breakable: false, above: 1.5em)[\n"));
        }
        self.push(format_args!("#heading(level: {level}, {})\n", literal(&section.title)));
        for (index, block) in section.blocks.iter().enumerate() {
            let leads = matches!(section.blocks.get(index + 1), Some(Block::Figures(_) | Block::Table(_)));
            match block {
                // A sentence that leads to a figure stays on its page.
                Block::Paragraph(text) if leads => {
                    self.push(format_args!("#block(sticky: true, {})\n", literal(text)))
                }
                block => self.block(block),
            }
        }
        if section.together {
            self.push(format_args!("]\n"));
        }
        for inner in &section.sections {
            self.section(inner, (level + 1).min(5));
        }
    }

    fn block(&mut self, block: &Block) {
        match block {
            Block::Paragraph(text) => self.push(format_args!("#par({})\n", literal(text))),
            Block::Caution(text) => self.push(format_args!("#caution({})\n", literal(text))),
            Block::List(items) => {
                let items: Vec<String> = items.iter().map(|item| literal(item)).collect();
                self.push(format_args!("#list({})\n", items.join(", ")));
            }
            Block::Items(items) => {
                let runs: Vec<String> = runs(items).map(|run| self.run(run)).collect();
                self.push(format_args!("#list({})\n", runs.join(", ")));
            }
            Block::Facts(facts) => {
                let facts: Vec<String> = facts
                    .iter()
                    .map(|(name, value)| format!("({}, {})", literal(name), literal(value)))
                    .collect();
                self.push(format_args!("#facts(({}))\n", trailing(&facts)));
            }
            Block::Table(table) => self.table(table),
            Block::Figures(figures) => self.gallery(figures),
        }
    }

    /// One list item, or as many as there are sentences about nothing in particular.
    fn run(&self, run: &[Item]) -> String {
        let items: Vec<String> = run.iter().map(|item| self.item(item)).collect();
        match run.first() {
            Some(first) if !first.about.is_empty() => {
                format!("[*#{}* #list({})]", literal(&first.about), items.join(", "))
            }
            _ => items.join(", "),
        }
    }

    fn item(&self, item: &Item) -> String {
        let links: Vec<String> = item
            .rests_on
            .iter()
            .filter_map(|id| {
                Some(format!("#link(label({}), {})", literal(id), literal(self.numbers.get(id)?)))
            })
            .collect();
        if links.is_empty() {
            return literal(&item.text);
        }
        format!("[#{} (#rests[{}])]", literal(&item.text), links.join(", "))
    }

    fn table(&mut self, table: &PrintedTable) {
        let headings: Vec<String> = table.headings.iter().map(|heading| literal(heading)).collect();
        let mut cells = String::new();
        for row in &table.rows {
            for cell in row {
                let lines: Vec<String> = cell.lines().flat_map(cell_line).collect();
                let _ = write!(cells, "[{}], ", lines.join(" \\ "));
            }
        }
        let widths = column_widths(table).join(", ");
        let (caption, id) = (literal(&table.caption), literal(&table.id));
        self.push(format_args!(
            "#numbers({caption}, ({widths},), ({}), ({cells}), {id}, {})\n",
            trailing(&headings),
            table.rows.len() > LONG_TABLE
        ));
    }

    /// Panels two by two, wide figures alone.
    fn gallery(&mut self, figures: &[PrintedFigure]) {
        let mut panels: Vec<String> = vec![];
        for figure in figures {
            let wide = figure.figure.width > WIDE_FROM;
            let call = self.figure(figure);
            if wide {
                self.panels(&mut panels);
                self.push(format_args!("#{call}\n"));
            } else {
                panels.push(call);
            }
        }
        self.panels(&mut panels);
    }

    fn panels(&mut self, panels: &mut Vec<String>) {
        if !panels.is_empty() {
            self.push(format_args!("#panels({})\n", panels.join(", ")));
            panels.clear();
        }
    }

    fn figure(&mut self, printed: &PrintedFigure) -> String {
        let path = figure_path(self.figures.len());
        let svg = printed.figure.svg("figure");
        self.figures.push(printable(&svg));
        format!(
            "drawing({}, {:.1}pt, {}, {}, {})",
            literal(&path),
            printed.figure.width * PT_PER_UNIT,
            literal(&printed.figure.alternative_text()),
            literal(&printed.caption),
            literal(&printed.id)
        )
    }
}

/// One line of a cell as markup; a hash is set small, on two lines.
fn cell_line(line: &str) -> Vec<String> {
    if is_hash(line) {
        let (first, second) = line.split_at(line.len() / 2);
        return [first, second].map(|half| format!("#hash({})", literal(half))).to_vec();
    }
    vec![format!("#{}", literal(line))]
}

/// Width of the text on paper and of an average character of a table, pt.
const TEXT_WIDTH_PT: f64 = 482.0;
const CHARACTER_PT: f64 = 4.3;

/// Columns as wide as their text asks for; where that is too much, long ones share what short ones leave.
fn column_widths(table: &PrintedTable) -> Vec<String> {
    const SHORT: usize = 14;
    let columns: Vec<(usize, bool)> = (0..table.headings.len())
        .map(|column| {
            let cells = table.rows.iter().filter_map(|row| row.get(column)).flat_map(|cell| cell.lines());
            let lines: Vec<&str> = cells.chain(table.headings.get(column).map(String::as_str)).collect();
            let longest = lines
                .iter()
                .filter(|line| !is_hash(line))
                .map(|line| line.chars().count())
                .max()
                .unwrap_or(0);
            (longest, lines.iter().any(|line| is_hash(line)))
        })
        .collect();
    let wanted: f64 = columns.iter().map(|(longest, _)| *longest as f64 * CHARACTER_PT + 6.0).sum();
    columns
        .into_iter()
        .map(|(longest, has_hash)| match (has_hash, longest) {
            // Half a hash in small type.
            (true, _) => "124pt".to_owned(),
            (false, longest) if longest <= SHORT || wanted <= TEXT_WIDTH_PT => "auto".to_owned(),
            (false, longest) => format!("{}fr", longest.clamp(15, 60)),
        })
        .collect()
}

/// Items of an array with the comma that one item alone needs.
pub(super) fn trailing(items: &[String]) -> String {
    let mut joined = items.join(", ");
    if !items.is_empty() {
        joined.push(',');
    }
    joined
}

/// A string literal.
pub(super) fn literal(text: &str) -> String {
    let mut literal = String::with_capacity(text.len() + 2);
    literal.push('"');
    for character in breakable(&printable(&tie(text))).chars() {
        match character {
            '"' => literal.push_str("\\\""),
            '\\' => literal.push_str("\\\\"),
            '\n' => literal.push_str("\\n"),
            '\t' => literal.push(' '),
            control if control.is_control() => {}
            other => literal.push(other),
        }
    }
    literal.push('"');
    literal
}

/// Characters that no embedded font can show are written as their number: a blank box would hide that something stood there.
fn printable(text: &str) -> String {
    if text.is_ascii() {
        return text.to_owned();
    }
    let mut printable = String::with_capacity(text.len());
    for character in text.chars() {
        if character.is_ascii() || character.is_control() || has_glyph(character) {
            printable.push(character);
        } else {
            let _ = write!(printable, "[U+{:04X}]", u32::from(character));
        }
    }
    printable
}

/// Lets long words (file names) break, so that they do not run off the page.
fn breakable(text: &str) -> String {
    let mut breakable = String::with_capacity(text.len());
    for (index, word) in text.split(' ').enumerate() {
        if index > 0 {
            breakable.push(' ');
        }
        // Anchors, hashes and paths of figures are never longer than they may be; only words are broken.
        if word.chars().count() < LONG_WORD || is_plain_name(word) {
            breakable.push_str(word);
            continue;
        }
        for (position, character) in word.chars().enumerate() {
            if position > 0 && position % BREAK_EVERY == 0 {
                breakable.push('\u{200b}');
            }
            breakable.push(character);
        }
    }
    breakable
}

/// Halves of hashes and anchors: they must stay as they are.
fn is_plain_name(word: &str) -> bool {
    let hash = word.len() <= 32 && word.bytes().all(|byte| byte.is_ascii_hexdigit());
    let anchor = ["fig-", "table-"].iter().any(|start| word.starts_with(start));
    hash || anchor
}
