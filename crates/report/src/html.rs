//! The report as one HTML file: no script, nothing loaded from anywhere.

use minijinja::{AutoEscape, Environment, Value, context};

use crate::ReportError;
use crate::document::{Block, Document, Item, Numbers, PrintedFigure, PrintedTable, Section, runs};
use crate::figures::THEME_CSS;
use crate::words::tie;

/// Prints a document as HTML.
pub(crate) fn print(document: &Document) -> Result<String, ReportError> {
    let mut environment = Environment::new();
    environment.set_auto_escape_callback(|_| AutoEscape::Html);
    environment
        .add_template("report", include_str!("../templates/report.html.j2"))
        .and_then(|()| environment.get_template("report"))
        .and_then(|template| {
            template.render(context! {
                title => &document.title,
                subtitle => &document.subtitle,
                style => Value::from_safe_string(format!("{}\n{THEME_CSS}", include_str!("../templates/report.css"))),
                sections => sections(&document.sections, &document.numbers, 2),
            })
        })
        .map_err(|error| ReportError::Html { reason: error.to_string() })
}

/// Headings go down to this level; deeper sections keep it.
const DEEPEST: usize = 6;

fn sections(sections: &[Section], numbers: &Numbers, level: usize) -> Value {
    sections
        .iter()
        .map(|section| {
            context! {
                id => &section.id,
                title => &section.title,
                level => level,
                new_page => section.new_page,
                together => section.together,
                blocks => section.blocks.iter().map(|block| self::block(block, numbers)).collect::<Value>(),
                sections => self::sections(&section.sections, numbers, (level + 1).min(DEEPEST)),
            }
        })
        .collect()
}

fn block(block: &Block, numbers: &Numbers) -> Value {
    match block {
        Block::Paragraph(text) => context! { kind => "paragraph", text => tie(text) },
        Block::List(items) => {
            context! { kind => "list", items => items.iter().map(|item| tie(item)).collect::<Value>() }
        }
        Block::Items(items) => context! {
            kind => "items",
            runs => runs(items).map(|run| self::run(run, numbers)).collect::<Value>(),
        },
        Block::Facts(facts) => context! {
            kind => "facts",
            facts => facts.iter().map(|(name, value)| context! { name => tie(name), value => tie(value) }).collect::<Value>(),
        },
        Block::Caution(text) => context! { kind => "caution", text => tie(text) },
        Block::Table(table) => self::table(table, numbers),
        Block::Figures(figures) => context! {
            kind => "figures",
            figures => figures.iter().map(|figure| self::figure(figure, numbers)).collect::<Value>(),
        },
    }
}

fn run(run: &[Item], numbers: &Numbers) -> Value {
    context! {
        about => run.first().map(|item| tie(&item.about)),
        items => run.iter().map(|item| self::item(item, numbers)).collect::<Value>(),
    }
}

fn item(item: &Item, numbers: &Numbers) -> Value {
    // An anchor that is not in this report (its chapter was left out) is not printed.
    let references: Value = item
        .rests_on
        .iter()
        .filter_map(|id| numbers.get(id).map(|number| context! { id => id, number => number }))
        .collect();
    context! { text => tie(&item.text), references => references }
}

fn table(table: &PrintedTable, numbers: &Numbers) -> Value {
    let rows: Value = table
        .rows
        .iter()
        .map(|row| row.iter().map(|cell| cell.lines().map(line).collect::<Value>()).collect::<Value>())
        .collect();
    context! {
        kind => "table",
        id => &table.id,
        number => numbers.get(&table.id),
        caption => tie(&table.caption),
        headings => &table.headings,
        rows => rows,
    }
}

fn line(text: &str) -> Value {
    context! { text => tie(text), is_hash => is_hash(text) }
}

/// A SHA-256 in hexadecimal is set in small type.
pub(crate) fn is_hash(text: &str) -> bool {
    text.len() == 64 && text.bytes().all(|byte| byte.is_ascii_hexdigit())
}

fn figure(printed: &PrintedFigure, numbers: &Numbers) -> Value {
    context! {
        id => &printed.id,
        number => numbers.get(&printed.id),
        caption => tie(&printed.caption),
        wide => printed.figure.width > 400.0,
        svg => Value::from_safe_string(printed.figure.svg(&format!("{}-svg", printed.id))),
    }
}
