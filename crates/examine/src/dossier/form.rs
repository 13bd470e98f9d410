//! What was measured on height maps and meshes, as the report prints it.

use report::dossier::{Chapter, ChapterFigure, Table};
use report::figures::{self, Line, Map};
use wire::form::{CurveForm, KeptForm, MapForm, QuantityForm};

use crate::form::quantity_words;

/// The chapter on all files; `None` where none was measured.
pub(crate) fn chapter(files: &[KeptForm]) -> Option<Chapter> {
    let mut whole = Chapter::default();
    for file in files {
        let of = of_file(file);
        let named = |text: String| format!("{}: {text}", file.form.file);
        whole.observed.extend(of.observed.into_iter().map(named));
        whole.computed.extend(of.computed.into_iter().map(named));
        whole.tables.extend(of.tables);
        whole.figures.extend(of.figures);
        whole.cannot_tell.extend(of.cannot_tell.into_iter().map(named));
    }
    (!files.is_empty()).then_some(whole)
}

/// What was measured on one file.
pub(crate) fn of_file(kept: &KeptForm) -> Chapter {
    let file = &kept.form.file;
    let mut facts: Vec<Vec<String>> = kept.asked.iter().chain(&kept.form.facts).map(pair).collect();
    facts.push(vec!["SHA-256 of the file".to_owned(), kept.sha256.clone()]);
    let mut tables = vec![Table {
        caption: format!("{file}: what was said of it and found on reading it."),
        headings: ["Property", "Value"].map(str::to_owned).to_vec(),
        rows: facts,
    }];
    if !kept.form.quantities.is_empty() {
        tables.push(Table {
            caption: format!(
                "{file}: what was measured. Where no uncertainty stands, none is known; that is not none."
            ),
            headings: ["Quantity", "Value"].map(str::to_owned).to_vec(),
            rows: kept.form.quantities.iter().map(row).collect(),
        });
    }
    Chapter {
        title: format!("Form of {file}"),
        computed: kept.form.notes.clone(),
        figures: kept
            .maps
            .iter()
            .map(|map| map_figure(file, map))
            .chain(kept.curves.iter().map(curve_figure))
            .collect(),
        cannot_tell: kept.form.cannot_tell.clone(),
        tables,
        ..Chapter::default()
    }
}

fn pair((name, value): &(String, String)) -> Vec<String> {
    vec![name.clone(), value.clone()]
}

fn row(quantity: &QuantityForm) -> Vec<String> {
    vec![quantity.name.clone(), quantity_words(quantity)]
}

fn map_figure(file: &str, map: &MapForm) -> ChapterFigure {
    let values: Vec<f64> = map.values.iter().map(|value| value.unwrap_or(f64::NAN)).collect();
    let figure = figures::map(&Map {
        title: &map.title,
        columns: map.columns,
        values: &values,
        unit: &map.unit,
        width_mm: Some(map.width_mm),
    });
    ChapterFigure { figure, caption: format!("{file}: {}", map.caption) }
}

fn curve_figure(curve: &CurveForm) -> ChapterFigure {
    let lines: Vec<Line<'_>> = curve
        .lines
        .iter()
        .map(|line| Line { name: &line.name, points: &line.points, half_widths: &line.half_widths })
        .collect();
    ChapterFigure {
        figure: figures::curves(&curve.title, &curve.x_label, &curve.y_label, &lines),
        caption: curve.caption.clone(),
    }
}
