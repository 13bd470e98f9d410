//! An invented examination for looking at pages and for tests: four stations of a stone trough that does not exist.
//! Its numbers are made up; they only have to be of every kind that a report prints.

#![allow(dead_code, reason = "shared by tests and an example, each of which uses a part")]
#![allow(clippy::unwrap_used, reason = "invented numbers that are known to be valid")]

use picture::Light;
use quantity::{AxialDeg, Measured, UmPerPx};
use report::Dossier;
use report::dossier::*;
use trace::{Suspect, Trace};

/// A small generator of even numbers in `[0, 1)` (constants of Knuth's MMIX generator, from memory, source not seen).
pub struct Dice(u64);

impl Dice {
    pub fn new(seed: u64) -> Self {
        Self(seed)
    }

    pub fn roll(&mut self) -> f64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 11) as f64 / (1u64 << 53) as f64
    }

    /// Nearly normal, mean 0, standard deviation 1.
    pub fn bell(&mut self) -> f64 {
        (0..12).map(|_| self.roll()).sum::<f64>() - 6.0
    }
}

pub const WIDTH: usize = 1600;
pub const HEIGHT: usize = 1200;

/// A trace through the field; ends outside the picture are cut at its edge.
pub fn trace(id: u32, dice: &mut Dice, direction_deg: f64, curvature_per_px: f64, length_px: f64) -> Trace {
    let (width, height) = (WIDTH as f64, HEIGHT as f64);
    let centre = [dice.roll() * width, dice.roll() * height];
    let axis = AxialDeg::new(direction_deg).unwrap();
    let (dx, dy) = axis.pixel_step();
    let at = |along: f64| {
        let bow = 0.5 * curvature_per_px * along * along;
        [centre[0] + dx * along + dy * bow, centre[1] + dy * along - dx * bow]
    };
    let inside = |point: &[f64; 2]| (0.0..width).contains(&point[0]) && (0.0..height).contains(&point[1]);
    let steps = 60;
    let all: Vec<[f64; 2]> =
        (0..=steps).map(|step| at(length_px * (f64::from(step) / f64::from(steps) - 0.5))).collect();
    let mut points: Vec<[f64; 2]> = all.iter().copied().filter(inside).collect();
    if points.len() < 2 {
        points = vec![centre, at(20.0)];
    }
    let (first, last) = (points[0], points[points.len() - 1]);
    Trace {
        id,
        length_px: (last[0] - first[0]).hypot(last[1] - first[1]),
        width_px: Measured { value: 3.5 + 1.2 * dice.bell().abs(), u: 0.4 },
        direction: axis,
        direction_u_deg: 0.15 + 0.3 * dice.roll(),
        curvature_per_px: Measured { value: curvature_per_px + 6e-6 * dice.bell(), u: 6e-6 },
        ends: trace::Ends { first_inside: inside(&all[0]), last_inside: inside(&all[60]) },
        contrast: 1.0 + 2.0 * dice.roll(),
        log10_nfa: -1.0 - 9.0 * dice.roll(),
        suspect: None,
        points_px: points,
    }
}

/// What the traces of one station look like.
pub struct Habit {
    pub sets_deg: Vec<f64>,
    pub curvature_per_px: f64,
    pub length_px: f64,
    pub count: u32,
}

fn traces(habit: &Habit, dice: &mut Dice) -> Vec<ShownTrace> {
    (1..=habit.count)
        .map(|id| {
            let set = habit.sets_deg.get(id as usize % habit.sets_deg.len().max(1));
            let direction = match set {
                Some(set) => set + 3.0 * dice.bell(),
                None => 180.0 * dice.roll(),
            };
            let lamella = id % 9 == 0;
            let length = if lamella { 140.0 } else { habit.length_px * (0.4 - (1.0 - dice.roll()).ln()) };
            let mut trace =
                trace(id, dice, if lamella { 155.0 } else { direction }, habit.curvature_per_px, length);
            if lamella {
                trace.suspect = Some(if id % 2 == 0 { Suspect::GrainEdge } else { Suspect::Lamella });
            }
            let reading = match (lamella, id % 23) {
                (true, _) => Reading::Suspect,
                (false, 0) => Reading::Rejected,
                _ => Reading::Accepted,
            };
            ShownTrace { trace, reading, by_hand: id % 41 == 0 }
        })
        .collect()
}

/// A mottled ground with the traces in it, JPEG.
pub fn stone_picture(shown: &[ShownTrace], seed: u64) -> Image {
    let (width, height) = (800usize, 600usize);
    let mut dice = Dice::new(seed);
    // One grain in each cell of a grid: the nearest one lies in a neighbouring cell.
    let (cell, columns) = (40usize, width / 40 + 1);
    let grains: Vec<([f64; 2], f64)> = (0..columns * (height / cell + 1))
        .map(|index| {
            let corner = [(index % columns * cell) as f64, (index / columns * cell) as f64];
            (corner.map(|start| start + cell as f64 * dice.roll()), 90.0 + 110.0 * dice.roll())
        })
        .collect();
    let mut pixels = vec![0u8; width * height];
    for (index, pixel) in pixels.iter_mut().enumerate() {
        let (x, y) = (index % width, index / width);
        let mut best = (f64::MAX, 0.0);
        for (dx, dy) in (0..9).map(|neighbour| (neighbour % 3, neighbour / 3)) {
            let Some((column, row)) = (x / cell + dx).checked_sub(1).zip((y / cell + dy).checked_sub(1))
            else {
                continue;
            };
            let Some((centre, level)) = grains.get(row * columns + column).filter(|_| column < columns)
            else {
                continue;
            };
            let distance = (centre[0] - x as f64).hypot(centre[1] - y as f64);
            if distance < best.0 {
                best = (distance, *level);
            }
        }
        *pixel = (best.1 + 9.0 * (dice.roll() + dice.roll() - 1.0)).clamp(0.0, 255.0) as u8;
    }
    for trace in shown.iter().map(|shown| &shown.trace) {
        for pair in trace.points_px.windows(2) {
            for step in 0..40 {
                let share = f64::from(step) / 40.0;
                let x = (pair[0][0] * (1.0 - share) + pair[1][0] * share) * 0.5;
                let y = (pair[0][1] * (1.0 - share) + pair[1][1] * share) * 0.5;
                if let Some(pixel) = pixels.get_mut(y as usize * width + (x as usize).min(width - 1)) {
                    *pixel = pixel.saturating_sub(12);
                }
            }
        }
    }
    jpeg(width, height, &pixels)
}

pub fn jpeg(width: usize, height: usize, grey: &[u8]) -> Image {
    let mut bytes = vec![];
    let encoder = image::codecs::jpeg::JpegEncoder::new_with_quality(&mut bytes, 80);
    let (w, h) = (u32::try_from(width).unwrap(), u32::try_from(height).unwrap());
    image::ImageEncoder::write_image(encoder, grey, w, h, image::ExtendedColorType::L8).unwrap();
    Image { kind: ImageKind::Jpeg, bytes, width_px: width, height_px: height }
}

fn overview_picture() -> Image {
    let (width, height) = (1200usize, 700usize);
    let mut dice = Dice::new(5);
    let grey: Vec<u8> = (0..width * height)
        .map(|index| {
            let (x, y) = ((index % width) as f64 / 1200.0, (index / width) as f64 / 700.0);
            let stone = (0.12..0.88).contains(&x) && (0.25..0.85).contains(&y);
            let trough = (0.2..0.8).contains(&x) && (0.25..0.42).contains(&y);
            let level = if trough {
                70.0
            } else if stone {
                150.0 + 25.0 * x
            } else {
                215.0 - 20.0 * y
            };
            (level + 8.0 * (dice.roll() - 0.5)).clamp(0.0, 255.0) as u8
        })
        .collect();
    jpeg(width, height, &grey)
}

/// The lay that fits the traces well enough to look at.
pub fn lay(captures: &[Capture], habit: &Habit, um_per_px: Option<f64>) -> Lay {
    let counted: Vec<&Trace> =
        captures.iter().flat_map(|capture| capture.accepted().map(|shown| &shown.trace)).collect();
    let mm = um_per_px.map_or(1.0, |um| um / 1000.0);
    let unit = if um_per_px.is_some() { LengthUnit::Millimetres } else { LengthUnit::Pixels };
    let fine = um_per_px.map_or(1.0, |um| um);
    let fine_unit = if um_per_px.is_some() { LengthUnit::Micrometres } else { LengthUnit::Pixels };
    let both = counted.iter().filter(|trace| trace.ends.count() == 2).count();
    let one = counted.iter().filter(|trace| trace.ends.count() == 1).count();
    let sets: Vec<Set> = habit
        .sets_deg
        .iter()
        .map(|set| Set {
            direction: AxialDeg::new(*set).unwrap(),
            half_width_95_deg: Some(1.3),
            concentration: 42.0,
            share: 0.86 / habit.sets_deg.len() as f64,
        })
        .collect();
    let crossing = (habit.sets_deg.len() > 1).then(|| (habit.sets_deg[1] - habit.sets_deg[0]).abs());
    let curvature = habit.curvature_per_px / mm;
    let (scatter, enough) = (1e-6 / mm, counted.len() >= 20);
    let reach = 2.4e5 * mm;
    let mut dice = Dice::new(99);
    Lay {
        captures: captures.len(),
        directions: counted.iter().map(|trace| Direction { axis: trace.direction, weight: trace.length_px }).collect(),
        weighting: "length of trace".into(),
        density_per_mm2: um_per_px.map(|_| 37.2),
        intensity_per_mm: um_per_px.map(|_| 21.4),
        resultant: if sets.len() == 1 { 0.81 } else { 0.34 },
        uniform_p: if sets.is_empty() { 0.31 } else { 2e-9 },
        uniform_test: "Kuiper's test".into(),
        background_share: if sets.is_empty() { 1.0 } else { 0.14 },
        crossing_deg: crossing.map(|value| Estimate { value, low: value - 1.9, high: value + 1.8 }),
        straightness: Some(Straightness {
            samples: counted
                .iter()
                .map(|trace| BowSample { length: trace.length_px * mm, curvature: trace.curvature_per_px.scaled(1.0 / mm) })
                .collect(),
            unit,
            reach: Some(reach),
            limited_by: Some("lens".into()),
            middle: enough.then_some(Estimate { value: curvature, low: curvature - scatter, high: curvature + scatter }),
            typical: enough.then_some(Estimate {
                value: curvature.abs(),
                low: (curvature.abs() - scatter).max(0.0),
                high: curvature.abs() + scatter,
            }),
        }),
        stroke_length: Some(stroke(&counted, unit, mm, both, one)),
        spacings: sets
            .iter()
            .map(|set| Spacing {
                direction: set.direction,
                unit: fine_unit,
                distances: (0..60).map(|_| -(1.0 - dice.roll()).ln() * 40.0 * fine).collect(),
                mean: Some(Estimate { value: 40.3 * fine, low: 36.0 * fine, high: 45.2 * fine }),
                variation: Some(0.97),
                variation_if_random: Some((0.79, 1.24)),
                p: Some(0.43),
                test: "Anderson–Darling".into(),
                verdict: SpacingVerdict::Random,
            })
            .collect(),
        widths: Some(Widths {
            unit: fine_unit,
            values: counted.iter().map(|trace| trace.width_px.value * fine).collect(),
            median: Some(Estimate { value: 4.3 * fine, low: 4.1 * fine, high: 4.5 * fine }),
            resolution: Some(2.2 * fine),
            grain_um: um_per_px.map(|_| (18.0, 75.0)),
            range_90: None,
            grain_relation: um_per_px.map(|_| {
                "a groove is between a tenth and a third as wide as the grain that cut it (common practice, no source)".into()
            }),
        }),
        sets,
        cautions: vec![],
    }
}

/// Kaplan–Meier by hand; the band is Greenwood's.
fn stroke(counted: &[&Trace], unit: LengthUnit, mm: f64, both: usize, one: usize) -> StrokeLength {
    let mut lengths: Vec<(f64, bool)> =
        counted.iter().map(|trace| (trace.length_px * mm, trace.ends.count() == 2)).collect();
    lengths.sort_by(|a, b| a.0.total_cmp(&b.0));
    let (mut share, mut sum) = (1.0, 0.0);
    let mut curve = vec![Step { length: 0.0, share: Estimate { value: 1.0, low: 1.0, high: 1.0 } }];
    for (index, (length, ended)) in lengths.iter().enumerate() {
        let left = (lengths.len() - index) as f64;
        if *ended && left > 1.0 {
            share *= 1.0 - 1.0 / left;
            sum += 1.0 / (left * (left - 1.0));
            let half = 1.96 * share * f64::sqrt(sum);
            curve.push(Step {
                length: *length,
                share: Estimate { value: share, low: (share - half).max(0.0), high: (share + half).min(1.0) },
            });
        }
    }
    if let (Some(last), Some((longest, _))) = (curve.last().copied(), lengths.last()) {
        curve.push(Step { length: *longest, share: last.share });
    }
    let total: f64 = lengths.iter().map(|(length, _)| length).sum();
    let ends = (one + 2 * both) as f64;
    let mean = (ends >= 5.0).then(|| 2.0 * total / ends);
    StrokeLength {
        unit,
        mean: mean.map(|value| Estimate { value, low: 0.8 * value, high: 1.25 * value }),
        estimator: "window ratio estimator 2L/m".into(),
        ends: Ends { none_inside: counted.len() - both - one, one_inside: one, both_inside: both },
        curve,
        note: mean.is_none().then(|| "fewer than five ends lie inside the fields".into()),
    }
}

fn hash_of(seed: usize) -> String {
    let mut dice = Dice::new(seed as u64 + 17);
    (0..64).map(|_| char::from(b"0123456789abcdef"[(dice.roll() * 16.0) as usize])).collect()
}

/// Four stations with every kind of trouble.
pub fn full() -> Dossier {
    let habits = [
        Habit { sets_deg: vec![34.0, 78.0], curvature_per_px: 0.0, length_px: 700.0, count: 120 },
        Habit { sets_deg: vec![36.0, 81.0], curvature_per_px: 0.0, length_px: 650.0, count: 90 },
        Habit { sets_deg: vec![121.0], curvature_per_px: 1.2e-4, length_px: 900.0, count: 150 },
        Habit { sets_deg: vec![], curvature_per_px: 0.0, length_px: 300.0, count: 7 },
    ];
    let names = ["north rim", "inner face, upper third", "basin floor", ""];
    let stations: Vec<Station> =
        habits.iter().enumerate().map(|(index, habit)| station(index, names[index], habit)).collect();
    let all: Vec<Capture> = stations.iter().flat_map(|station| station.captures.clone()).collect();
    let whole = lay(&all, &habits[0], Some(2.584));
    Dossier {
        object: Object {
            name: "the trough stone at Harrow Ford".into(),
            place: Some("yard of the old mill, Harrow Ford, lot 7".into()),
            rock: Some("diorite: plagioclase 60 %, hornblende 30 %, quartz 4 %, biotite 6 %".into()),
            conditions: Some("overcast, dry; one hour; the stone stands on a pallet 40 cm above the ground".into()),
            permission: Some("by the keeper, in writing: photographs and micrographs without contact".into()),
            description: Some(
                "A rectangular trough, 1.42 m long, with a rounded inner edge and a basin about 22 cm deep. The rim is chipped on the \
                 east side; the basin floor carries lichen in one corner."
                    .into(),
            ),
            examiner: Some("I. Marlowe".into()),
        },
        overviews: vec![Overview {
            file_name: "overview north.jpg".into(),
            sha256: hash_of(400),
            note: Some("seen from the north".into()),
            picture: overview_picture(),
            pins: ["A", "B", "C", "D"]
                .iter()
                .zip([(0.3, 0.28), (0.5, 0.36), (0.66, 0.4), (0.97, 0.7)])
                .map(|(label, (x_share, y_share))| Pin { station: (*label).into(), x_share, y_share })
                .collect(),
        }],
        stations,
        whole: Some(whole),
        comparison: Some(comparison()),
        weighing: Some(weighing()),
        form: Some(form()),
        stone: Some(stone()),
        next_visit: None,
        remarks: vec!["The east rim was wet on arrival and was left out.".into()],
        provenance: Provenance {
            software: "rubstone 0.1.0".into(),
            seed: 20_251,
            resamples: 1000,
            made_at: None,
            settings: vec![
                ("Expected false traces per picture".into(), "1".into()),
                ("Reading".into(), "I. Marlowe, first reading".into()),
            ],
            failures: vec![("D 4 (kopie).jpg".into(), "the file ends in the middle of the picture: copy it again from the card".into())],
        },
    }
}

fn station(index: usize, name: &str, habit: &Habit) -> Station {
    let label = ["A", "B", "C", "D"][index];
    let scaled = index != 3;
    let mut dice = Dice::new(1 + index as u64);
    let captures: Vec<Capture> = (1..=3)
        .map(|number| {
            let shown = traces(habit, &mut dice);
            capture(label, index, number, shown, scaled)
        })
        .collect();
    let usable: Vec<Capture> =
        captures.iter().filter(|capture| capture.quality.verdict != Verdict::NotUsable).cloned().collect();
    Station {
        label: label.into(),
        name: name.into(),
        note: (index == 0).then(|| "taken from left to right along the rim".into()),
        lay: Some(lay(&usable, habit, scaled.then_some(2.584))),
        captures,
    }
}

fn capture(label: &str, index: usize, number: usize, shown: Vec<ShownTrace>, scaled: bool) -> Capture {
    let blurred = index == 3 && number == 2;
    let care = index == 1 && number == 3;
    Capture {
        label: format!("{label}{number}"),
        file_name: format!(
            "{} {number:02}.tif",
            ["rim north", "inner face", "floor", "east & <corner>"][index]
        ),
        sha256: hash_of(10 * index + number),
        bytes: 3_841_227 + 1000 * number as u64,
        width_px: WIDTH,
        height_px: HEIGHT,
        format: "TIFF, 16 bit, grey".into(),
        taken_at: Some(format!("2026-05-1{index} 10:1{number}:02")),
        camera: Some("hand microscope H2".into()),
        instrument: Some("hand microscope, ring 2".into()),
        scale: scaled.then(|| Scale {
            um_per_px: UmPerPx::new(2.584, 0.0031).unwrap(),
            origin: "photographed graduation, 10 µm a tick".into(),
        }),
        nominal_magnification: (!scaled).then(|| "60×".into()),
        light: match index {
            0 => Light::Azimuth(AxialDeg::new(120.0).unwrap()),
            3 => Light::Unknown,
            _ => Light::Ring,
        },
        lens: "calibrated on a graduation; 0.05 % of the width remains".into(),
        quality: match (blurred, care) {
            (true, _) => Quality {
                verdict: Verdict::NotUsable,
                reasons: vec!["motion blur of 14 px along 12°, which would fake a lay".into()],
            },
            (_, true) => Quality {
                verdict: Verdict::UsableWithCare,
                reasons: vec![
                    "focus falls off to the right".into(),
                    "2.1 % of the pixels are clipped".into(),
                ],
            },
            _ => Quality { verdict: Verdict::Usable, reasons: vec![] },
        },
        picture: Some(stone_picture(&shown, (index * 10 + number) as u64)),
        traces: if blurred { vec![] } else { shown },
        refused: blurred.then(|| "motion blur draws lines of its own".into()),
        hidden: (index == 0)
            .then(|| HiddenSector { axis: AxialDeg::new(120.0).unwrap(), half_width_deg: 15.0 }),
        expected_false: Some(1.0),
        reach: Some(Reach {
            radius_px: 2.4e5,
            radius_mm: scaled.then_some(620.0),
            limited_by: "lens".into(),
            chord_px: 1280.0,
        }),
        lay: None,
        notes: if number == 1 { vec!["first of 2 pages".into()] } else { vec![] },
    }
}

fn comparison() -> Comparison {
    let test = |property: &str, test: &str, p_adjusted, note: Option<&str>| ComparisonTest {
        property: property.into(),
        test: test.into(),
        p_adjusted,
        note: note.map(str::to_owned),
    };
    Comparison {
        tests: vec![
            test("directions", "Watson's U², captures permuted", Some(0.004), Some("station C stands out")),
            test("mean stroke length", "permutation of captures", Some(0.21), None),
            test("widths", "permutation of captures", Some(0.68), None),
            test("bow", "permutation of captures", None, Some("station D has no scale")),
        ],
        level: 0.05,
        multiplicity: "Holm's procedure over 3 tests".into(),
        cautions: vec!["Stations were chosen by eye, not by a rule fixed beforehand".into()],
    }
}

fn weighing() -> Weighing {
    let titles = [
        "rotating pad",
        "orbital pad",
        "oscillating pad",
        "guided rub",
        "free hand",
        "turning",
        "loose abrasive",
    ];
    let strengths = [0.9, -1.9, 0.8, -0.6, 0.75, -0.3, -2.2];
    let finishes: Vec<FinishRow> = titles
        .iter()
        .zip(strengths)
        .enumerate()
        .map(|(index, (title, strength))| FinishRow {
            name: title.replace(' ', "-"),
            title: (*title).into(),
            model: "Overlapping strokes with radii, lengths and directions drawn from wide ranges (common practice, no source).".into(),
            log10_likelihood_relative: Some(strength - 0.9),
            simulated: (index < 4).then(|| {
                let habit = Habit { sets_deg: vec![20.0 * index as f64], curvature_per_px: 2e-4, length_px: 800.0, count: 60 };
                let shown = traces(&habit, &mut Dice::new(70 + index as u64));
                Simulated {
                    picture: stone_picture(&shown, 800 + index as u64),
                    like_capture: "A1".into(),
                    field_width_mm: Some(4.13),
                    strokes_px: shown.iter().map(|one| one.trace.points_px.clone()).collect(),
                }
            }),
        })
        .collect();
    let mut pairs = vec![];
    for (index, a) in finishes.iter().enumerate() {
        for (other, b) in finishes.iter().enumerate().skip(index + 1) {
            let log10_lr = strengths[index] - strengths[other];
            let words = if log10_lr.abs() > 2.0 { "moderately strong support" } else { "moderate support" };
            pairs.push(Pair {
                a: a.name.clone(),
                b: b.name.clone(),
                log10_lr,
                low: log10_lr - 0.45,
                high: log10_lr + 0.5,
                words: words.into(),
            });
        }
    }
    Weighing {
        stations: Some("one finish for all stations is not contradicted".into()),
        cannot: None,
        finishes,
        cannot_tell_apart: vec![Group {
            names: vec!["rotating-pad".into(), "oscillating-pad".into(), "free-hand".into()],
            why: "by design: with fields this narrow even perfect traces would not tell them apart".into(),
        }],
        pairs,
        none_fits: Some(NoneFits { p: 0.22, because: "spread of the curvatures".into(), flagged: false }),
        sensitivity: vec![
            SensitivityRow {
                change: "stroke ends left out".into(),
                a: "rotating-pad".into(),
                b: "guided-rub".into(),
                before: 1.5,
                after: 0.9,
            },
            SensitivityRow {
                change: "station C left out".into(),
                a: "free-hand".into(),
                b: "turning".into(),
                before: 1.05,
                after: -0.2,
            },
            SensitivityRow {
                change: "all ranges widened".into(),
                a: "rotating-pad".into(),
                b: "orbital-pad".into(),
                before: 2.8,
                after: 2.1,
            },
        ],
        typed_priors: vec![],
        cap_log10: Some(2.8),
        words_source: "the ENFSI guideline for evaluative reporting (2015)".into(),
        seed: 20_251,
        simulations: 21_000,
        cautions: vec![
            "The models were checked on rendered pictures only, not on reference panels of this rock".into(),
        ],
    }
}

fn form() -> Chapter {
    Chapter {
        title: "Form".into(),
        computed: vec!["The rim is flat within 0.42 ± 0.05 mm (minimum zone) over 1.1 m".into()],
        tables: vec![Table {
            caption: "Flatness of the rim.".into(),
            headings: vec!["Reference".into(), "Peak to valley (mm)".into(), "u (mm)".into()],
            rows: vec![
                vec!["least squares plane".into(), "0.47".into(), "0.05".into()],
                vec!["minimum zone".into(), "0.42".into(), "0.05".into()],
            ],
        }],
        figures: form_figures(),
        cannot_tell: vec!["Whether the south rim is as flat: it was not scanned".into()],
        sources: vec!["ISO 12781-1, reference planes".into()],
        ..Chapter::default()
    }
}

fn form_figures() -> Vec<ChapterFigure> {
    let (columns, rows) = (240, 120);
    let values: Vec<f64> = (0..columns * rows)
        .map(|index| {
            let (x, y) = ((index % columns) as f64 / columns as f64, (index / columns) as f64 / rows as f64);
            let hole = (x - 0.7).hypot(y - 0.3) < 0.08;
            if hole { f64::NAN } else { 0.4 * (3.0 * x).sin() * (2.0 * y).cos() - 0.1 }
        })
        .collect();
    let radius: Vec<[f64; 2]> =
        (0..200).map(|step| [f64::from(step) * 2.0, 31.0 + (f64::from(step) * 0.07).sin()]).collect();
    let half = vec![0.4; radius.len()];
    let figure = |figure, caption: &str| ChapterFigure { figure, caption: caption.into() };
    vec![
        figure(
            report::figures::map(&report::figures::Map {
                title: "Deviation of the north rim from its minimum-zone plane",
                columns,
                values: &values,
                unit: "mm",
                width_mm: Some(1100.0),
            }),
            "Deviation of the north rim from its plane.",
        ),
        figure(
            report::figures::curves(
                "Radius along the inner edge",
                "path along the edge (mm)",
                "radius (mm)",
                &[report::figures::Line { name: "fitted circle", points: &radius, half_widths: &half }],
            ),
            "Radius of the inner edge along its path; grey: standard uncertainty.",
        ),
        figure(
            report::figures::bars(
                "Hours of work",
                "hours",
                "h",
                &[("fast removal".into(), 40.0), ("slow removal".into(), 410.0)],
            ),
            "Work for the basin, by the typed removal rates.",
        ),
        figure(
            report::figures::empty("South rim", "the scan of the south rim is missing."),
            "Deviation of the south rim from its plane.",
        ),
    ]
}

/// A field sheet with everything on it.
pub fn sheet() -> report::FieldSheet {
    let field = |station: &str, fields, light: &str| report::SheetField {
        station: station.into(),
        fields,
        width_mm: Some(6.0),
        light: light.into(),
    };
    let plan = |what: &str, minutes, power: &str| report::SheetPlan {
        what: what.into(),
        minutes,
        power: power.into(),
    };
    report::FieldSheet {
        object: "the trough stone at Harrow Ford".into(),
        questions: vec![
            "Rotating pad or oscillating pad?".into(),
            "Is station D finished like the rest?".into(),
        ],
        plans: vec![
            plan("4 fields of 6 mm at 3 stations", Some(35.0), "at least 0.82 under the wide ranges"),
            plan("8 fields of 6 mm at 3 stations", Some(60.0), "at least 0.88 under the wide ranges"),
            plan("8 fields of 12 mm at 4 stations", Some(75.0), "at least 0.91 under the wide ranges"),
        ],
        fields: vec![
            field("A north rim", 4, "30° and 120°"),
            field("C basin floor", 4, "30° and 120°"),
            field("D east corner", 4, "30° and 120°; graduation again"),
        ],
        cautions: vec!["The basin floor is slippery when wet".into()],
    }
}

fn stone() -> Chapter {
    Chapter {
        title: "Stone and tools".into(),
        inferred: vec!["Loose quartz sand could scratch the plagioclase only in part; corundum could scratch every mineral of this rock".into()],
        cautions: vec!["Dry grinding of this rock sets free respirable crystalline silica: local rules and licensed practice come first".into()],
        tables: vec![Table {
            caption: "What could scratch what.".into(),
            headings: vec!["Mineral".into(), "Mohs".into(), "by bronze".into(), "by hardened steel".into(), "by quartz".into(), "by corundum".into()],
            rows: vec![
                vec!["plagioclase".into(), "6–6.5".into(), "hardly".into(), "partly".into(), "partly".into(), "clearly".into()],
                vec!["quartz".into(), "7".into(), "hardly".into(), "hardly".into(), "hardly".into(), "clearly".into()],
            ],
        }],
        ..Chapter::default()
    }
}

/// One station with this many traces in its only capture.
pub fn with_traces(count: u32) -> Dossier {
    let habit = Habit { sets_deg: vec![30.0], curvature_per_px: 0.0, length_px: 500.0, count };
    let shown = traces(&habit, &mut Dice::new(3));
    let capture = capture("A", 0, 1, shown, true);
    let described = (count > 0).then(|| lay(std::slice::from_ref(&capture), &habit, Some(2.584)));
    Dossier {
        object: Object { name: format!("a slab with {count} traces"), ..Object::default() },
        stations: vec![Station {
            label: "A".into(),
            captures: vec![capture],
            lay: described,
            ..Station::default()
        }],
        ..Dossier::default()
    }
}

/// Texts that try to break out of the page, the drawing and the typesetting.
pub fn hostile() -> Dossier {
    let nasty = "\"]#panic(\"x\") </script><b> & \\ $x$ @y <z> * _ ` {{ self }} {% if %} 🪨 石 \u{202e} \u{0} \t\n end";
    let mut dossier = with_traces(12);
    dossier.object = Object {
        name: nasty.into(),
        place: Some(nasty.into()),
        rock: Some(nasty.into()),
        conditions: Some("long".repeat(400)),
        permission: Some(nasty.into()),
        description: Some(nasty.into()),
        examiner: Some(nasty.into()),
    };
    dossier.remarks = vec![nasty.into()];
    dossier.provenance.settings = vec![(nasty.into(), nasty.into())];
    dossier.provenance.failures = vec![(nasty.into(), nasty.into())];
    if let Some(station) = dossier.stations.first_mut() {
        station.label = nasty.into();
        station.name = nasty.into();
        if let Some(capture) = station.captures.first_mut() {
            capture.label = nasty.into();
            capture.file_name = format!("{}{nasty}.tif", "very_long_name_without_a_space_".repeat(6));
            capture.quality.reasons = vec![nasty.into()];
            capture.lens = nasty.into();
            capture
                .traces
                .iter_mut()
                .take(3)
                .for_each(|shown| shown.trace.points_px = vec![[f64::NAN, 1.0], [2.0, f64::INFINITY]]);
        }
    }
    dossier
}
