//! The numbers of the report as CSV files (RFC 4180, UTF-8), units in the headings.

use csv::{Terminator, WriterBuilder};

use crate::ReportError;
use crate::dossier::{Capture, Dossier, Estimate, Lay, Reading, Station};

/// One CSV file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TableFile {
    /// Name of the file: `traces.csv`.
    pub name: &'static str,
    /// Its content, UTF-8.
    pub csv: Vec<u8>,
}

/// All tables of a dossier. A cell without a value is empty, never zero.
pub(crate) fn print(dossier: &Dossier) -> Result<Vec<TableFile>, ReportError> {
    let mut files = vec![
        file("captures.csv", &CAPTURES, captures(dossier))?,
        file("traces.csv", &TRACES, traces(dossier))?,
        file("lay.csv", &LAY, lay(dossier))?,
        file("sets.csv", &SETS, sets(dossier))?,
        file("spacings.csv", &SPACINGS, spacings(dossier))?,
        file("provenance.csv", &["name", "value"], provenance(dossier))?,
    ];
    if let Some(comparison) = &dossier.comparison {
        let rows = comparison.tests.iter().map(|test| {
            vec![
                test.property.clone(),
                test.test.clone(),
                optional(test.p_adjusted),
                number(comparison.level),
                test.note.clone().unwrap_or_default(),
            ]
        });
        files.push(file(
            "stations_compared.csv",
            &["property", "test", "p_adjusted", "level", "note"],
            rows.collect(),
        )?);
    }
    if let Some(weighing) = &dossier.weighing {
        let rows = weighing.pairs.iter().map(|pair| {
            vec![
                pair.a.clone(),
                pair.b.clone(),
                number(pair.log10_lr),
                number(pair.low),
                number(pair.high),
                pair.words.clone(),
            ]
        });
        files.push(file(
            "weighing_pairs.csv",
            &["a", "b", "log10_lr", "low_95", "high_95", "words"],
            rows.collect(),
        )?);
    }
    Ok(files)
}

fn file(name: &'static str, headings: &[&str], rows: Vec<Vec<String>>) -> Result<TableFile, ReportError> {
    let mut writer = WriterBuilder::new().terminator(Terminator::CRLF).from_writer(vec![]);
    let written =
        writer.write_record(headings).and_then(|()| rows.iter().try_for_each(|row| writer.write_record(row)));
    let csv =
        written.map_err(|error| ReportError::Table { name, reason: error.to_string() }).and_then(|()| {
            writer.into_inner().map_err(|error| ReportError::Table { name, reason: error.to_string() })
        })?;
    Ok(TableFile { name, csv })
}

/// The shortest digits that read back as the same number; what is not finite has no value.
fn number(value: f64) -> String {
    if value.is_finite() { value.to_string() } else { String::new() }
}

fn optional(value: Option<f64>) -> String {
    value.map(number).unwrap_or_default()
}

fn all_captures(dossier: &Dossier) -> impl Iterator<Item = (&Station, &Capture)> {
    dossier.stations.iter().flat_map(|station| station.captures.iter().map(move |capture| (station, capture)))
}

const CAPTURES: [&str; 24] = [
    "station",
    "capture",
    "file",
    "sha256",
    "bytes",
    "width_px",
    "height_px",
    "format",
    "time_in_file",
    "camera",
    "instrument",
    "scale_um_per_px",
    "scale_u_um_per_px",
    "scale_origin",
    "light",
    "lens",
    "verdict",
    "reasons",
    "expected_false_traces",
    "hidden_direction_deg",
    "hidden_half_width_deg",
    "reach_px",
    "reach_mm",
    "reach_limited_by",
];

fn captures(dossier: &Dossier) -> Vec<Vec<String>> {
    all_captures(dossier)
        .map(|(station, capture)| {
            let scale = capture.scale.as_ref();
            vec![
                station.label.clone(),
                capture.label.clone(),
                capture.file_name.clone(),
                capture.sha256.clone(),
                capture.bytes.to_string(),
                capture.width_px.to_string(),
                capture.height_px.to_string(),
                capture.format.clone(),
                capture.taken_at.clone().unwrap_or_default(),
                capture.camera.clone().unwrap_or_default(),
                capture.instrument.clone().unwrap_or_default(),
                optional(scale.map(|scale| scale.um_per_px.value())),
                optional(scale.map(|scale| scale.um_per_px.u())),
                scale.map(|scale| scale.origin.clone()).unwrap_or_default(),
                crate::chapters::light_words(capture),
                capture.lens.clone(),
                capture.quality.verdict.words().to_owned(),
                capture.quality.reasons.join("; "),
                optional(capture.expected_false),
                optional(capture.hidden.map(|hidden| hidden.axis.degrees())),
                optional(capture.hidden.map(|hidden| hidden.half_width_deg)),
                optional(capture.reach.as_ref().map(|reach| reach.radius_px)),
                optional(capture.reach.as_ref().and_then(|reach| reach.radius_mm)),
                capture.reach.as_ref().map(|reach| reach.limited_by.clone()).unwrap_or_default(),
            ]
        })
        .collect()
}

const TRACES: [&str; 20] = [
    "station",
    "capture",
    "trace",
    "reading",
    "by_hand",
    "suspect",
    "start_x_px",
    "start_y_px",
    "end_x_px",
    "end_y_px",
    "length_px",
    "width_px",
    "width_u_px",
    "direction_deg",
    "direction_u_deg",
    "curvature_per_px",
    "curvature_u_per_px",
    "ends_inside",
    "contrast",
    "log10_nfa",
];

fn traces(dossier: &Dossier) -> Vec<Vec<String>> {
    let mut rows = vec![];
    for (station, capture) in all_captures(dossier) {
        for shown in &capture.traces {
            let trace = &shown.trace;
            let end = |point: Option<&[f64; 2]>, axis: usize| {
                optional(point.and_then(|point| point.get(axis)).copied())
            };
            let (first, last) = (trace.points_px.first(), trace.points_px.last());
            rows.push(vec![
                station.label.clone(),
                capture.label.clone(),
                trace.id.to_string(),
                shown.reading.word().to_owned(),
                if shown.by_hand { "yes" } else { "no" }.to_owned(),
                trace.suspect.map(suspect_word).unwrap_or_default().to_owned(),
                end(first, 0),
                end(first, 1),
                end(last, 0),
                end(last, 1),
                number(trace.length_px),
                number(trace.width_px.value),
                number(trace.width_px.u),
                number(trace.direction.degrees()),
                number(trace.direction_u_deg),
                number(trace.curvature_per_px.value),
                number(trace.curvature_per_px.u),
                trace.ends.count().to_string(),
                number(trace.contrast),
                number(trace.log10_nfa),
            ]);
        }
    }
    rows
}

/// The words of the measuring contract.
fn suspect_word(suspect: trace::Suspect) -> &'static str {
    match suspect {
        trace::Suspect::Lamella => "lamella",
        trace::Suspect::GrainEdge => "grain_edge",
        trace::Suspect::Compression => "compression",
        trace::Suspect::Sensor => "sensor",
        trace::Suspect::Blur => "blur",
    }
}

/// Every lay with what it belongs to: level and label.
fn all_lays(dossier: &Dossier) -> Vec<(&'static str, String, &Lay)> {
    let mut lays = vec![];
    for (_, capture) in all_captures(dossier) {
        lays.extend(capture.lay.as_ref().map(|lay| ("capture", capture.label.clone(), lay)));
    }
    for station in &dossier.stations {
        lays.extend(station.lay.as_ref().map(|lay| ("station", station.label.clone(), lay)));
    }
    lays.extend(dossier.whole.as_ref().map(|lay| ("object", String::new(), lay)));
    lays
}

const LAY: [&str; 34] = [
    "level",
    "label",
    "traces_counted",
    "density_per_mm2",
    "intensity_per_mm",
    "resultant",
    "uniform_p",
    "uniform_test",
    "sets",
    "background_share",
    "crossing_deg",
    "crossing_low_95_deg",
    "crossing_high_95_deg",
    "length_unit",
    "reach_in_length_unit",
    "reach_limited_by",
    "typical_bow_per_length_unit",
    "typical_bow_low_95",
    "typical_bow_high_95",
    "middle_curvature_per_length_unit",
    "middle_curvature_low_95",
    "middle_curvature_high_95",
    "mean_stroke_in_length_unit",
    "mean_stroke_low_95",
    "mean_stroke_high_95",
    "stroke_estimator",
    "ends_none_inside",
    "ends_one_inside",
    "ends_both_inside",
    "width_unit",
    "median_width_in_width_unit",
    "median_width_low_95",
    "median_width_high_95",
    "captures",
];

fn lay(dossier: &Dossier) -> Vec<Vec<String>> {
    all_lays(dossier)
        .into_iter()
        .map(|(level, label, lay)| {
            let (bow, stroke, widths) =
                (lay.straightness.as_ref(), lay.stroke_length.as_ref(), lay.widths.as_ref());
            let unit = bow.map(|bow| bow.unit).or(stroke.map(|stroke| stroke.unit));
            let mut row = vec![
                level.to_owned(),
                label,
                lay.directions.len().to_string(),
                optional(lay.density_per_mm2),
                optional(lay.intensity_per_mm),
                number(lay.resultant),
                number(lay.uniform_p),
                lay.uniform_test.clone(),
                lay.sets.len().to_string(),
                number(lay.background_share),
            ];
            row.extend(estimate(lay.crossing_deg));
            row.extend([
                unit.map(|unit| unit.symbol().to_owned()).unwrap_or_default(),
                optional(bow.and_then(|bow| bow.reach)),
                bow.and_then(|bow| bow.limited_by.clone()).unwrap_or_default(),
            ]);
            row.extend(estimate(bow.and_then(|bow| bow.typical)));
            row.extend(estimate(bow.and_then(|bow| bow.middle)));
            row.extend(estimate(stroke.and_then(|stroke| stroke.mean)));
            row.push(stroke.map(|stroke| stroke.estimator.clone()).unwrap_or_default());
            row.extend(match stroke.map(|stroke| stroke.ends) {
                Some(ends) => {
                    [ends.none_inside, ends.one_inside, ends.both_inside].map(|count| count.to_string())
                }
                None => [const { String::new() }; 3],
            });
            row.push(widths.map(|widths| widths.unit.symbol().to_owned()).unwrap_or_default());
            row.extend(estimate(widths.and_then(|widths| widths.median)));
            row.push(lay.captures.to_string());
            row
        })
        .collect()
}

fn estimate(estimate: Option<Estimate>) -> [String; 3] {
    match estimate {
        Some(estimate) => [estimate.value, estimate.low, estimate.high].map(number),
        None => [const { String::new() }; 3],
    }
}

const SETS: [&str; 7] = [
    "level",
    "label",
    "set",
    "direction_deg",
    "half_width_95_deg",
    "concentration_doubled_angles",
    "share_of_weight",
];

fn sets(dossier: &Dossier) -> Vec<Vec<String>> {
    let mut rows = vec![];
    for (level, label, lay) in all_lays(dossier) {
        for (index, set) in lay.sets.iter().enumerate() {
            rows.push(vec![
                level.to_owned(),
                label.clone(),
                (index + 1).to_string(),
                number(set.direction.degrees()),
                optional(set.half_width_95_deg),
                number(set.concentration),
                number(set.share),
            ]);
        }
    }
    rows
}

const SPACINGS: [&str; 13] = [
    "level",
    "label",
    "set_direction_deg",
    "unit",
    "distances",
    "mean_in_unit",
    "mean_low_95",
    "mean_high_95",
    "variation",
    "variation_low_if_random",
    "variation_high_if_random",
    "p",
    "test",
];

fn spacings(dossier: &Dossier) -> Vec<Vec<String>> {
    let mut rows = vec![];
    for (level, label, lay) in all_lays(dossier) {
        for spacing in &lay.spacings {
            let mut row = vec![
                level.to_owned(),
                label.clone(),
                number(spacing.direction.degrees()),
                spacing.unit.symbol().to_owned(),
                spacing.distances.len().to_string(),
            ];
            row.extend(estimate(spacing.mean));
            row.extend([
                optional(spacing.variation),
                optional(spacing.variation_if_random.map(|(low, _)| low)),
                optional(spacing.variation_if_random.map(|(_, high)| high)),
                optional(spacing.p),
                spacing.test.clone(),
            ]);
            rows.push(row);
        }
    }
    rows
}

fn provenance(dossier: &Dossier) -> Vec<Vec<String>> {
    let provenance = &dossier.provenance;
    let counted: usize = all_captures(dossier)
        .map(|(_, capture)| capture.traces.iter().filter(|shown| shown.reading == Reading::Accepted).count())
        .sum();
    let mut rows = vec![
        ["object".to_owned(), dossier.object.name.clone()],
        ["software".to_owned(), provenance.software.clone()],
        ["seed".to_owned(), provenance.seed.to_string()],
        ["resamples".to_owned(), provenance.resamples.to_string()],
        ["traces counted".to_owned(), counted.to_string()],
    ];
    rows.extend(provenance.made_at.iter().map(|made_at| ["report made".to_owned(), made_at.clone()]));
    rows.extend(provenance.settings.iter().map(|(name, value)| [name.clone(), value.clone()]));
    rows.extend(provenance.failures.iter().map(|(name, why)| [format!("not used: {name}"), why.clone()]));
    rows.into_iter().map(|row| row.to_vec()).collect()
}
