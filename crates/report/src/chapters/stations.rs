//! Station by station: every capture with its traces, then the lay of the station.

use picture::Light;

use crate::document::{Block, PrintedFigure, PrintedTable, Section, anchor};
use crate::dossier::{Capture, Dossier, Estimate, HiddenSector, Lay, Reading, Station, StraightnessVerdict};
use crate::figures::{self, Overlay, Rose};
use crate::findings::station_words;
use crate::words;

/// All stations under one heading, each on a page of its own.
pub(crate) fn chapter(dossier: &Dossier) -> Section {
    let mut section = Section::new("stations", "Station by station");
    section.new_page = !dossier.stations.is_empty();
    if dossier.stations.is_empty() {
        section.paragraph("There are no stations yet: add one and its micrographs, then measure.");
        return section;
    }
    section.paragraph(
        "Every micrograph is shown twice, as taken and with its traces. Solid lines count; dashed lines are suspects and do not \
         count; dotted lines were rejected by the examiner. Directions run from 0° to 180°, 0° to the right, counter-clockwise \
         as seen on the picture.",
    );
    for (index, station) in dossier.stations.iter().enumerate() {
        let mut part = of_station(station);
        part.new_page = index > 0;
        section.sections.push(part);
    }
    section
}

fn of_station(station: &Station) -> Section {
    let mut section = Section::new(anchor(&["station", &station.label]), station_words(station));
    if let Some(note) = &station.note {
        section.paragraph(words::sentence(note));
    }
    if station.captures.is_empty() {
        section.paragraph("No micrographs were taken here.");
    }
    section.sections.extend(station.captures.iter().map(of_capture));
    section.sections.push(lay_section(station));
    section
}

/// The lay of one station, or that it has none.
pub(crate) fn lay_section(station: &Station) -> Section {
    let mut section =
        Section::new(anchor(&["lay", &station.label]), format!("Lay of station {}", station.label));
    match station.described() {
        Some(lay) => {
            let hidden: Vec<HiddenSector> = station.hidden_everywhere().into_iter().collect();
            section.blocks.extend(lay_blocks(
                &station.label,
                &format!("station {}", station.label),
                lay,
                &hidden,
            ));
        }
        None => section.paragraph("No lay could be described: no trace of this station counts."),
    }
    section
}

fn of_capture(capture: &Capture) -> Section {
    let mut section = Section::new(
        anchor(&["capture", &capture.label]),
        format!("{}: {}", capture.label, capture.file_name),
    );
    section.blocks.push(Block::Figures(vec![
        PrintedFigure {
            id: anchor(&["fig", "picture", &capture.label]),
            figure: figures::micrograph(capture, Overlay::Bare),
            caption: format!("{} as taken.", capture.label),
        },
        PrintedFigure {
            id: anchor(&["fig", "traces", &capture.label]),
            figure: figures::micrograph(capture, Overlay::Traces),
            caption: format!("{} with its traces.", capture.label),
        },
    ]));
    section.blocks.push(Block::Facts(facts(capture)));
    section.together = true;
    section
}

fn verdict_words(capture: &Capture) -> String {
    let reasons = if capture.quality.reasons.is_empty() {
        ", nothing was found against it".to_owned()
    } else {
        format!(": {}", capture.quality.reasons.join("; "))
    };
    words::sentence(&format!("{}{reasons}", capture.quality.verdict.words()))
}

fn facts(capture: &Capture) -> Vec<(String, String)> {
    let mut facts = vec![
        ("Verdict".to_owned(), verdict_words(capture)),
        ("Field and scale".to_owned(), field_words(capture)),
        ("Light; lens".to_owned(), format!("{}; lens {}", light_words(capture), capture.lens)),
        ("Traces".to_owned(), trace_words(capture)),
        ("Reach".to_owned(), reach_words(capture)),
    ];
    if let Some(lay) = &capture.lay {
        facts.push(("Lay".to_owned(), words::sentence(&crate::findings::direction_words(lay))));
    }
    facts
}

fn field_words(capture: &Capture) -> String {
    let pixels = format!("{} × {} px", capture.width_px, capture.height_px);
    match (&capture.scale, capture.field_mm()) {
        (Some(scale), Some((width, height))) => format!(
            "{} × {} mm, {pixels}, {}, from {}",
            words::significant(width, 3),
            words::significant(height, 3),
            scale_words(capture),
            scale.origin
        ),
        _ => format!("{pixels}; no scale"),
    }
}

/// `1.2930 ± 0.0015 µm/px`, or that there is none.
pub(crate) fn scale_words(capture: &Capture) -> String {
    match &capture.scale {
        Some(scale) => {
            let um_per_px = scale.um_per_px;
            words::measured(quantity::Measured { value: um_per_px.value(), u: um_per_px.u() }, "µm/px")
        }
        None => "none".into(),
    }
}

/// Where the light came from and what it may have hidden.
pub(crate) fn light_words(capture: &Capture) -> String {
    let light = match capture.light {
        Light::Azimuth(axis) => format!("one-sided, along {:.0}°", axis.degrees()),
        Light::Ring => "ring".into(),
        Light::Coaxial => "through the lens".into(),
        Light::Unknown => "not recorded".into(),
    };
    match capture.hidden {
        Some(hidden) => format!(
            "{light}; traces within {:.0}° of {:.0}° may be hidden",
            hidden.half_width_deg,
            hidden.axis.degrees()
        ),
        None => light,
    }
}

fn trace_words(capture: &Capture) -> String {
    if let Some(why) = &capture.refused {
        return format!("none reported: {why}");
    }
    let count = |reading| capture.traces.iter().filter(|shown| shown.reading == reading).count();
    let mut parts = vec![format!("{} counted", words::thousands(count(Reading::Accepted) as u64))];
    let suspects = suspect_words(capture);
    if !suspects.is_empty() {
        parts.push(format!("{} suspect ({suspects})", words::thousands(count(Reading::Suspect) as u64)));
    }
    if count(Reading::Rejected) > 0 {
        parts.push(format!("{} rejected", words::thousands(count(Reading::Rejected) as u64)));
    }
    let by_hand = capture.traces.iter().filter(|shown| shown.by_hand).count();
    if by_hand > 0 {
        parts.push(format!("{by_hand} of all drawn by hand"));
    }
    let expected = capture.expected_false.map_or(String::new(), |expected| {
        format!("; false ones to be expected: {}", words::significant(expected, 2))
    });
    format!("{}{expected}", words::list(&parts))
}

fn suspect_words(capture: &Capture) -> String {
    use trace::Suspect;
    let kinds = [
        (Suspect::Lamella, "like lamellae"),
        (Suspect::GrainEdge, "like grain edges"),
        (Suspect::Compression, "on the compression grid"),
        (Suspect::Sensor, "on sensor rows"),
        (Suspect::Blur, "drawn by blur"),
    ];
    let suspects = || capture.traces.iter().filter(|shown| shown.reading == Reading::Suspect);
    let mut parts: Vec<String> = kinds
        .iter()
        .filter_map(|(kind, label)| {
            let count = suspects().filter(|shown| shown.trace.suspect == Some(*kind)).count();
            (count > 0).then(|| format!("{count} {label}"))
        })
        .collect();
    let marked = suspects().filter(|shown| shown.trace.suspect.is_none()).count();
    if marked > 0 {
        parts.push(format!("{marked} marked by the examiner"));
    }
    words::list(&parts)
}

/// The reach with what limits it.
pub(crate) fn reach_words(capture: &Capture) -> String {
    match capture.reach.as_ref().filter(|reach| reach.radius_px.is_finite()) {
        Some(reach) => format!("{}; larger radii cannot be told from straight", reach.words()),
        None => "not known".into(),
    }
}

/// Figures, numbers and cautions of one lay. `label` makes the anchors, `who` the captions.
pub(crate) fn lay_blocks(label: &str, who: &str, lay: &Lay, hidden: &[HiddenSector]) -> Vec<Block> {
    let mut blocks = vec![Block::Paragraph(words::sentence(&crate::findings::direction_words(lay)))];
    // Before the figures and numbers they bear on.
    blocks.extend(lay.cautions.iter().map(|caution| Block::Caution(words::sentence(caution))));
    let mut printed = vec![PrintedFigure {
        id: anchor(&["fig", "rose", label]),
        figure: figures::rose(&Rose {
            heading: who,
            directions: &lay.directions,
            weighting: &lay.weighting,
            sets: &lay.sets,
            hidden,
        }),
        caption: format!(
            "Directions at {who}; area shows the share. Dashed: sets; bars outside the circle: their 95 % intervals."
        ),
    }];
    if let Some(straightness) = &lay.straightness {
        printed.push(PrintedFigure {
            id: anchor(&["fig", "bow", label]),
            figure: figures::straightness(who, straightness),
            caption: format!(
                "Bow of the traces at {who}. Grey: radii above the reach, which cannot be told from straight."
            ),
        });
    }
    if let Some(stroke) = &lay.stroke_length {
        printed.push(PrintedFigure {
            id: anchor(&["fig", "stroke", label]),
            figure: figures::stroke_length(who, stroke),
            caption: format!("Share of traces longer than a length at {who}, those cut off by the field counted as such. Grey: 95 % band."),
        });
    }
    // With fewer than two distances there is nothing to draw; the table says so.
    for (index, spacing) in lay.spacings.iter().enumerate().filter(|(_, spacing)| spacing.distances.len() > 1)
    {
        printed.push(PrintedFigure {
            id: anchor(&["fig", "spacing", label, &index.to_string()]),
            figure: figures::spacing(who, spacing),
            caption: format!(
                "Distances between neighbours of the set at {:.0}°. Dashed: random places; grey: where 95 % of such curves pass. Distances are counted from the smallest that can be seen apart.",
                spacing.direction.degrees()
            ),
        });
    }
    if let Some(widths) = &lay.widths {
        printed.push(PrintedFigure {
            id: anchor(&["fig", "width", label]),
            figure: figures::widths(who, widths),
            caption: format!("Widths of the traces at {who}. Grey: narrower than the optics can show."),
        });
    }
    blocks.push(Block::Figures(printed));
    blocks.push(Block::Table(numbers_table(label, who, lay)));
    if let Some(relation) = lay.widths.as_ref().and_then(|widths| widths.grain_relation.as_ref()) {
        blocks
            .push(Block::Paragraph(words::sentence(&format!("Grain sizes from widths hold if {relation}"))));
    }
    blocks
}

fn numbers_table(label: &str, who: &str, lay: &Lay) -> PrintedTable {
    let mut rows: Vec<[String; 3]> = vec![
        [
            "Traces counted".into(),
            lay.directions.len().to_string(),
            format!("from {}", words::count(lay.captures, "micrograph")),
        ],
        [
            "Density".into(),
            lay.density_per_mm2
                .map_or("no scale".into(), |density| format!("{} per mm²", words::significant(density, 3))),
            "traces met per area of the captures of the widest scale".into(),
        ],
        [
            "Intensity".into(),
            lay.intensity_per_mm
                .map_or("no scale".into(), |value| format!("{} per mm", words::significant(value, 3))),
            "length of trace per area (P21)".into(),
        ],
        [
            "Resultant length".into(),
            words::significant(lay.resultant, 2),
            format!(
                "0 no preferred axis, 1 all parallel; {}: {}",
                lay.uniform_test,
                words::p_value(lay.uniform_p)
            ),
        ],
    ];
    for (index, set) in lay.sets.iter().enumerate() {
        let half =
            set.half_width_95_deg.map(|half| format!(" ± {}", words::half_angle(half))).unwrap_or_default();
        rows.push([
            format!("Set {}", index + 1),
            format!("{:.1}°{half}", set.direction.degrees()),
            format!(
                "95 % interval; {} of the weight; concentration {}",
                words::percent(set.share),
                words::significant(set.concentration, 2)
            ),
        ]);
    }
    rows.push(["Outside any set".into(), words::percent(lay.background_share), "of the weight".into()]);
    rows.push([
        "Crossing angle".into(),
        lay.crossing_deg.map_or("none".into(), |crossing| format!("{:.1}°", crossing.value)),
        lay.crossing_deg.map_or("fewer than two sets".into(), |c| {
            format!("95 % interval {:.1}° to {:.1}°", c.low, c.high)
        }),
    ]);
    rows.extend(measured_rows(lay));
    PrintedTable {
        id: anchor(&["table", "lay", label]),
        caption: format!("Numbers of {who}."),
        headings: ["Quantity", "Value", "Interval, test or reason"].map(str::to_owned).to_vec(),
        rows: rows.into_iter().map(|row| row.to_vec()).collect(),
    }
}

/// Rows on bow, stroke length, spacing and width.
fn measured_rows(lay: &Lay) -> Vec<[String; 3]> {
    let mut rows = vec![];
    if let Some(straightness) = &lay.straightness {
        let unit = straightness.unit.symbol();
        let verdict = match straightness.verdict() {
            StraightnessVerdict::Bowed => "bowed",
            StraightnessVerdict::NotToldFromStraight => "not told from straight",
            StraightnessVerdict::CannotTell => "cannot tell",
        };
        let reach = straightness.reach.map_or("reach not known".into(), |reach| {
            format!("reach {} {unit}", words::significant(reach, 2))
        });
        let limit =
            straightness.limited_by.as_ref().map(|limit| format!(", limited by {limit}")).unwrap_or_default();
        let bow = |bow: Option<Estimate>| {
            bow.map_or("none".into(), |bow| {
                words::with_unit(&words::bracketed(bow), words::per(straightness.unit))
            })
        };
        rows.push([
            "Typical bow".into(),
            bow(straightness.typical),
            format!("95 % interval; half of the traces are bowed less; {verdict}; {reach}{limit}"),
        ]);
        rows.push([
            "Middle curvature".into(),
            bow(straightness.middle),
            "95 % interval; signed: near zero where traces bend to either side".into(),
        ]);
    }
    if let Some(stroke) = &lay.stroke_length {
        let value = stroke
            .mean
            .map_or("none".into(), |mean| words::with_unit(&words::bracketed(mean), stroke.unit.symbol()));
        let note = stroke.note.as_ref().map(|note| format!("; {note}")).unwrap_or_default();
        rows.push(["Mean stroke length".into(), value, format!("95 % interval; {}{note}", stroke.estimator)]);
    }
    for spacing in &lay.spacings {
        let value = spacing
            .mean
            .map_or("none".into(), |mean| words::with_unit(&words::bracketed(mean), spacing.unit.symbol()));
        let variation = match (spacing.variation, spacing.variation_if_random) {
            (Some(variation), Some((low, high))) => format!(
                "variation {}; random places give {} to {}",
                words::significant(variation, 2),
                words::significant(low, 2),
                words::significant(high, 2)
            ),
            _ => format!("{}, too few for a test", words::count(spacing.distances.len(), "distance")),
        };
        let p = spacing.p.map(|p| format!("; {}: {}", spacing.test, words::p_value(p))).unwrap_or_default();
        rows.push([
            format!("Spacing of the set at {:.0}°", spacing.direction.degrees()),
            value,
            format!("{variation}{p}"),
        ]);
    }
    if let Some(widths) = &lay.widths {
        let value = widths.median.map_or("none".into(), |median| {
            words::with_unit(&words::bracketed(median), widths.unit.symbol())
        });
        let grain = widths
            .grain_um
            .map(|(low, high)| {
                format!("; grains of {} to {} µm", words::significant(low, 2), words::significant(high, 2))
            })
            .unwrap_or_default();
        rows.push(["Median width".into(), value, format!("95 % interval{grain}")]);
    }
    rows
}
