//! The object as a whole: stations side by side, whether they differ, and the lay of all together.

use crate::document::{Block, PrintedFigure, PrintedTable, Section};
use crate::dossier::{Comparison, Dossier, Estimate, Lay, LengthUnit, Station};
use crate::figures::{self, IntervalRow, Rose, SetRow};
use crate::words;

/// Left out where there is nothing to compare: the chapter of limits says so.
pub(crate) fn chapter(dossier: &Dossier) -> Option<Section> {
    let described: Vec<(&Station, &Lay)> =
        dossier.stations.iter().filter_map(|station| Some((station, station.described()?))).collect();
    if described.len() < 2 {
        return None;
    }
    let mut section = Section::new("whole", "The stations side by side");
    section.new_page = true;
    section.blocks.push(Block::Figures(side_by_side(&described)));
    match &dossier.comparison {
        Some(comparison) => section.blocks.extend(comparison_blocks(comparison)),
        None => section.paragraph("Whether the stations differ was not tested."),
    }
    section.sections.extend(dossier.whole.as_ref().map(lay_section));
    Some(section)
}

/// The lay of all stations taken together.
pub(crate) fn lay_section(whole: &Lay) -> Section {
    let mut all = Section::new("lay-whole", "All stations together");
    all.paragraph(
        "Numbers of all stations taken as one surface. Where the stations differ, they describe a mixture that may exist nowhere on \
         the object.",
    );
    all.blocks.extend(super::stations::lay_blocks("whole", "all stations", whole, &[]));
    all
}

fn side_by_side(described: &[(&Station, &Lay)]) -> Vec<PrintedFigure> {
    let headings: Vec<String> =
        described.iter().map(|(station, _)| format!("Station {}", station.label)).collect();
    let roses: Vec<Rose<'_>> = described
        .iter()
        .zip(&headings)
        .map(|((_, lay), heading)| Rose {
            heading,
            directions: &lay.directions,
            weighting: &lay.weighting,
            sets: &lay.sets,
            hidden: &[],
        })
        .collect();
    let rows: Vec<SetRow> = described
        .iter()
        .zip(&headings)
        .map(|((_, lay), heading)| SetRow { label: heading.clone(), sets: lay.sets.clone() })
        .collect();
    let mut printed = vec![
        PrintedFigure {
            id: "fig-stations".into(),
            figure: figures::stations(&roses),
            caption: "Directions at every station on one scale.".into(),
        },
        PrintedFigure {
            id: "fig-sets".into(),
            figure: figures::set_directions("Directions of the sets", &rows),
            caption: "Directions of the sets with their 95 % intervals.".into(),
        },
    ];
    printed.extend(quantities(described, &headings));
    printed
}

/// One panel for each quantity that at least one station has.
fn quantities(described: &[(&Station, &Lay)], headings: &[String]) -> Vec<PrintedFigure> {
    let panel =
        |id: &str, title: &str, unit: &str, value: &dyn Fn(&Lay) -> Option<Estimate>, missing: &str| {
            let rows: Vec<IntervalRow> = described
                .iter()
                .zip(headings)
                .map(|((_, lay), heading)| IntervalRow {
                    label: heading.clone(),
                    estimate: value(lay),
                    note: missing.into(),
                })
                .collect();
            rows.iter().any(|row| row.estimate.is_some()).then(|| PrintedFigure {
                id: format!("fig-{id}"),
                figure: figures::intervals(title, &format!("{} ({unit})", title.to_lowercase()), unit, &rows),
                caption: format!("{title} with its 95 % interval."),
            })
        };
    let stroke_unit = one_unit(described, |lay| lay.stroke_length.as_ref().map(|stroke| stroke.unit));
    let width_unit = one_unit(described, |lay| lay.widths.as_ref().map(|widths| widths.unit));
    let mut printed =
        vec![panel("crossing", "Crossing angle", "°", &|lay| lay.crossing_deg, "fewer than two sets")];
    if let Some(unit) = stroke_unit {
        let mean = |lay: &Lay| lay.stroke_length.as_ref().filter(|stroke| stroke.unit == unit)?.mean;
        printed.push(panel(
            "strokes",
            "Mean stroke length",
            unit.symbol(),
            &mean,
            "none, or in another unit",
        ));
    }
    if let Some(unit) = width_unit {
        let median = |lay: &Lay| lay.widths.as_ref().filter(|widths| widths.unit == unit)?.median;
        printed.push(panel("medians", "Median width", unit.symbol(), &median, "none, or in another unit"));
    }
    printed.into_iter().flatten().collect()
}

/// The unit to compare in: that of the first station that has one; others are not converted, they have no scale.
fn one_unit(described: &[(&Station, &Lay)], unit: impl Fn(&Lay) -> Option<LengthUnit>) -> Option<LengthUnit> {
    let units: Vec<LengthUnit> = described.iter().filter_map(|(_, lay)| unit(lay)).collect();
    units.iter().copied().find(|unit| *unit != LengthUnit::Pixels).or(units.first().copied())
}

fn comparison_blocks(comparison: &Comparison) -> Vec<Block> {
    let rows = comparison
        .tests
        .iter()
        .map(|test| {
            let outcome = match test.p_adjusted {
                Some(p) if p < comparison.level => "differ",
                Some(_) => "no difference found",
                None => "not tested",
            };
            vec![
                test.property.clone(),
                test.test.clone(),
                test.p_adjusted.map_or("none".into(), words::p_value),
                outcome.to_owned(),
                test.note.clone().unwrap_or_default(),
            ]
        })
        .collect();
    let level = words::percent(comparison.level);
    let table = Block::Table(PrintedTable {
        id: "table-comparison".into(),
        caption: format!(
            "Whether the stations differ, at an error rate of {level} over all rows ({}).",
            comparison.multiplicity
        ),
        headings: ["Property", "Test", "Adjusted p", "Stations", "Note"].map(str::to_owned).to_vec(),
        rows,
    });
    let mut blocks = vec![table];
    blocks.extend(comparison.cautions.iter().map(|caution| Block::Caution(words::sentence(caution))));
    blocks
}
