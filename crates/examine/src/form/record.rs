//! An answer about one file while it is put together.

use ::form::{Raster, Row, Rows};
use quantity::Measured;
use report::{measured, significant};
use wire::form::{CurveForm, FormFile, KeptForm, LineForm, MapForm, QuantityForm};

/// Most cells along the longer side of a kept map: more than a printed figure shows would only make the record large.
const CELLS_AT_MOST: usize = 120;

/// An empty answer about a file.
pub(super) fn begin(file: String, kind: &str, facts: Vec<(String, String)>, notes: Vec<String>) -> KeptForm {
    KeptForm {
        sha256: String::new(),
        asked: Vec::new(),
        form: FormFile {
            file,
            kind: kind.to_owned(),
            facts,
            notes,
            quantities: Vec::new(),
            cannot_tell: Vec::new(),
        },
        maps: Vec::new(),
        curves: Vec::new(),
    }
}

/// Adds all rows of a result and its notes; `of` names the result before each row.
pub(super) fn add(kept: &mut KeptForm, of: &str, result: &dyn Rows) {
    let named = |row: Row| QuantityForm { name: format!("{of}: {}", row.label), ..quantity(row) };
    kept.form.quantities.extend(result.rows().into_iter().map(named));
    kept.form.notes.extend(result.notes().into_iter().filter(|note| !note.is_empty()));
}

/// One row as a quantity.
pub(super) fn quantity(row: Row) -> QuantityForm {
    QuantityForm {
        name: row.label,
        value: row.value.value,
        u: (row.value.u > 0.0).then_some(row.value.u),
        unit: row.unit.to_owned(),
    }
}

/// A quantity as it is printed: with its uncertainty where there is one, with its unit where it has one.
#[must_use]
pub fn quantity_words(quantity: &QuantityForm) -> String {
    let value = quantity.value;
    match (quantity.u, quantity.unit.as_str()) {
        (Some(u), unit) => measured(Measured { value, u }, unit),
        // Numbers of things are whole.
        (None, "") if value.fract() == 0.0 => format!("{value:.0}").replace('-', "−"),
        (None, "") => significant(value, 4),
        (None, "°") => format!("{}°", significant(value, 4)),
        (None, unit) => format!("{} {unit}", significant(value, 4)),
    }
}

/// A raster as a map that is small enough to keep; `to_mm` is one of its pixels' units in mm.
pub(super) fn map(title: &str, caption: &str, unit: &str, raster: &Raster, to_mm: f64) -> MapForm {
    let step = raster.width.max(raster.height).div_ceil(CELLS_AT_MOST).max(1);
    let (columns, rows) = (raster.width.div_ceil(step), raster.height.div_ceil(step));
    let mut values = Vec::with_capacity(columns * rows);
    for row in 0..rows {
        for column in 0..columns {
            values.push(mean(raster, column * step, row * step, step));
        }
    }
    MapForm {
        title: title.to_owned(),
        caption: caption.to_owned(),
        columns,
        values,
        unit: unit.to_owned(),
        width_mm: columns as f64 * step as f64 * raster.pixel * to_mm,
    }
}

/// Mean of the values of one cell; `None` where nothing was measured.
fn mean(raster: &Raster, x: usize, y: usize, step: usize) -> Option<f64> {
    let rows = y..(y + step).min(raster.height);
    let columns = x..(x + step).min(raster.width);
    let all = rows.flat_map(|row| {
        raster.values.get(row * raster.width + columns.start..row * raster.width + columns.end)
    });
    let (sum, count) = all
        .flatten()
        .filter(|value| value.is_finite())
        .fold((0.0, 0usize), |(sum, count), value| (sum + value, count + 1));
    (count > 0).then(|| short(sum / count as f64))
}

/// Five significant digits: what a figure can show, without the rest of the bits.
fn short(value: f64) -> f64 {
    format!("{value:.4e}").parse().unwrap_or(value)
}

/// One line with a band round it.
pub(super) fn curve(
    [title, caption]: [&str; 2],
    [x_label, y_label]: [&str; 2],
    lines: Vec<(String, Vec<[f64; 2]>, Vec<f64>)>,
) -> CurveForm {
    let line = |(name, points, half_widths): (String, Vec<[f64; 2]>, Vec<f64>)| LineForm {
        name,
        points: points.into_iter().map(|point| point.map(short)).collect(),
        half_widths: half_widths.into_iter().map(short).collect(),
    };
    CurveForm {
        title: title.to_owned(),
        caption: caption.to_owned(),
        x_label: x_label.to_owned(),
        y_label: y_label.to_owned(),
        lines: lines.into_iter().map(line).collect(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn small_quantities_keep_their_digits() {
        let one = |value, u, unit| quantity_words(&quantity(Row::new("q", Measured { value, u }, unit)));
        assert_eq!(one(5.76e-7, 0.0, "cm³"), "0.0000005760 cm³");
        assert_eq!(one(5.76e-7, 1.2e-8, "cm³"), "0.000000576 ± 0.000000012 cm³");
        assert_eq!([one(14400.0, 0.0, ""), one(-1.0, 0.0, "")], ["14400", "−1"]);
        assert_eq!(one(-3.0, 0.0, "°"), "−3.000°");
    }

    #[test]
    fn a_kept_map_is_averaged_and_keeps_its_holes_and_its_width() {
        let values = (0..300 * 2).map(|k| if k % 300 < 3 { f64::NAN } else { 2.0 }).collect();
        let raster = Raster { width: 300, height: 2, values, facing: vec![1.0; 600], pixel: 10.0 };
        let kept = map("t", "c", "µm", &raster, 1e-3);
        assert_eq!((kept.columns, kept.values.len()), (100, 100));
        assert_eq!((kept.values[0], kept.values[1]), (None, Some(2.0)));
        assert!((kept.width_mm - 3.0).abs() < 1e-12);
    }
}
