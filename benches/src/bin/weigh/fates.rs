//! What became of every stroke of a capture, and which traces belong to none.

use crate::captures::{Capture, SIZE_PX, WIDTH_MM};
use rubstone_benches::traces::samples::{Sample, samples};
use std::collections::BTreeMap;
use weigh::beside::{Beside, Facts};
use weigh::geometry::FieldGeometry;
use weigh::mark::{FIT_POINTS, Fitter, resample};

/// Share of a trace that must lie on one stroke for the trace to belong to it.
const SHARE: f64 = 0.6;
/// Largest angle between a trace and its stroke, degrees.
const SAME_WAY_DEG: f64 = 8.0;
/// Distance within which a trace lies on a stroke beyond half the stroke's width, px, and the most in all.
const NEAR_PX: [f64; 2] = [2.0, 6.0];

/// One stroke and the traces found of it.
pub struct Fate {
    /// What its finding depends on.
    pub facts: Facts,
    /// Where its traces begin and end along it, px, in order.
    pub stretches: Vec<[f64; 2]>,
}

/// One trace that lies on a stroke.
pub struct Followed {
    /// The facts of its stroke.
    pub facts: Facts,
    /// Length of the trace, px.
    pub length_px: f64,
    /// Log of its true width over 2 px.
    pub ln_width: f64,
    /// Log of the width read, px.
    pub ln_width_read: f64,
    /// Amounts of slope, bow and cubic by which it leaves the stroke, px, and the scatter left.
    pub shape: [f64; 3],
    /// Root mean square of what is left.
    pub scatter: f64,
}

/// One trace that lies on none.
pub struct Stray {
    /// Length, px.
    pub length_px: f64,
    /// Width read, px.
    pub width_px: f64,
    /// Whether a fifth of it or more lies on one stroke: pieced together.
    pub pieced: bool,
    /// Angle to the nearest direction of a found stroke, degrees.
    pub off_deg: f64,
    /// Bow and cubic about its chord, px, and scatter.
    pub shape: [f64; 3],
    /// Root mean square of what is left.
    pub scatter: f64,
}

/// All of one capture.
pub struct Fates {
    /// Stroke by stroke.
    pub strokes: Vec<Fate>,
    /// Traces on strokes.
    pub followed: Vec<Followed>,
    /// Traces on none.
    pub strays: Vec<Stray>,
}

/// From this share on one stroke a stray counts as pieced together.
const PIECED_SHARE: f64 = 0.2;

/// A stroke as samples one pixel apart.
struct Laid {
    samples: Vec<Sample>,
    width_px: f64,
}

/// Follows the strokes of a capture into its unsuspected traces.
pub fn follow(capture: &Capture, field: &FieldGeometry, light: f64) -> Fates {
    let (width, height) = (SIZE_PX[0] as usize, SIZE_PX[1] as usize);
    let px_per_um = f64::from(SIZE_PX[0]) / WIDTH_MM / 1000.0;
    let beside = Beside::of(&capture.strokes, field, light);
    let laid: Vec<Laid> = capture
        .strokes
        .iter()
        .enumerate()
        .map(|(number, stroke)| {
            let points: Vec<[f64; 2]> = stroke
                .points_um(crate::captures::window())
                .iter()
                .map(|p| p.map(|um| um * px_per_um))
                .collect();
            Laid { samples: samples(&points, number, width, height), width_px: stroke.width_um * px_per_um }
        })
        .collect();
    let mut fates = Fates {
        strokes: beside.facts().map(|facts| Fate { facts, stretches: Vec::new() }).collect(),
        followed: Vec::new(),
        strays: Vec::new(),
    };
    let grid = Grid::new(&laid);
    let mut without = Vec::new();
    for trace in capture.traces.iter().filter(|trace| !trace.suspect) {
        let own = samples(&trace.points_px, 0, width, height);
        let mut places: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
        for sample in &own {
            for (line, place) in grid.near(sample, &laid) {
                places.entry(line).or_default().push(place);
            }
        }
        let most = places.iter().max_by_key(|(_, places)| places.len());
        let share = most.map_or(0.0, |(_, places)| places.len() as f64 / own.len().max(1) as f64);
        match most {
            Some((&line, _)) if share >= SHARE => {
                let fate = &mut fates.strokes[line];
                fate.stretches.push(stretch(&own, &laid[line].samples));
                if let Some((shape, scatter)) = leaving(&trace.points_px, &laid[line].samples) {
                    let facts = fate.facts;
                    let ln_width = facts.ln_width + field.blur_px.ln();
                    let ln_width_read = trace.width_px.max(0.3).ln();
                    fates.followed.push(Followed {
                        facts,
                        length_px: trace.length_px,
                        ln_width,
                        ln_width_read,
                        shape,
                        scatter,
                    });
                }
            }
            _ => without.push((trace, share)),
        }
    }
    for fate in &mut fates.strokes {
        fate.stretches.sort_by(|a, b| a[0].total_cmp(&b[0]));
    }
    let headings: Vec<f64> = laid
        .iter()
        .zip(&fates.strokes)
        .filter(|(_, fate)| !fate.stretches.is_empty())
        .filter_map(|(laid, _)| Some(chord_deg(laid.samples.first()?.at, laid.samples.last()?.at)))
        .collect();
    for (trace, share) in without {
        let Some((even, _)) = resample(&trace.points_px) else { continue };
        let (shape, scatter) = Fitter::default().shape(&across_chord(&even));
        let own = chord_deg(even[0], even[FIT_POINTS - 1]);
        let off_deg = headings.iter().map(|other| fold_deg(own - other).abs()).fold(90.0, f64::min);
        fates.strays.push(Stray {
            length_px: trace.length_px,
            width_px: trace.width_px,
            pieced: share >= PIECED_SHARE,
            off_deg,
            shape,
            scatter,
        });
    }
    fates
}

/// From where to where along its stroke a trace goes, px: the places nearest to its ends, wherever it has strayed between.
fn stretch(own: &[Sample], stroke: &[Sample]) -> [f64; 2] {
    let nearest = |end: Option<&Sample>| {
        let end = end.map_or([0.0; 2], |sample| sample.at);
        let away = |s: &Sample| (s.at[0] - end[0]).hypot(s.at[1] - end[1]);
        (0..stroke.len()).min_by(|a, b| away(&stroke[*a]).total_cmp(&away(&stroke[*b]))).unwrap_or(0) as f64
    };
    let (a, b) = (nearest(own.first()), nearest(own.last()));
    [a.min(b), a.max(b)]
}

fn chord_deg(from: [f64; 2], to: [f64; 2]) -> f64 {
    (from[1] - to[1]).atan2(to[0] - from[0]).to_degrees()
}

/// An angle between axes, folded to −90 to 90 degrees.
fn fold_deg(angle: f64) -> f64 {
    (angle + 90.0).rem_euclid(180.0) - 90.0
}

fn across_chord(even: &[[f64; 2]; FIT_POINTS]) -> [f64; FIT_POINTS] {
    let (dx, dy) = (even[FIT_POINTS - 1][0] - even[0][0], even[FIT_POINTS - 1][1] - even[0][1]);
    let chord = dx.hypot(dy).max(1e-9);
    even.map(|p| ((p[1] - even[0][1]) * dx - (p[0] - even[0][0]) * dy) / chord)
}

/// How a trace leaves its stroke: offsets of even points from the nearest sample of the stroke, across it.
fn leaving(points: &[[f64; 2]], stroke: &[Sample]) -> Option<([f64; 3], f64)> {
    let (even, _) = resample(points)?;
    let mut across = [0.0; FIT_POINTS];
    for (offset, p) in across.iter_mut().zip(&even) {
        let away = |s: &Sample| (s.at[0] - p[0]).hypot(s.at[1] - p[1]);
        let nearest = stroke.iter().min_by(|a, b| away(a).total_cmp(&away(b)))?;
        // Along the axis and across it, y down.
        let (sin, cos) = nearest.axis.degrees().to_radians().sin_cos();
        *offset = (p[0] - nearest.at[0]) * sin + (p[1] - nearest.at[1]) * cos;
    }
    Some(Fitter::default().shape(&across))
}

/// Samples of all strokes by square cells.
struct Grid {
    columns: usize,
    cells: Vec<Vec<(usize, usize)>>,
}

impl Grid {
    fn cell(at: [f64; 2]) -> [usize; 2] {
        at.map(|v| (v.max(0.0) / NEAR_PX[1]) as usize + 1)
    }

    fn new(laid: &[Laid]) -> Grid {
        let [columns, rows] = SIZE_PX.map(|size| (f64::from(size) / NEAR_PX[1]) as usize + 4);
        let mut grid = Grid { columns, cells: vec![Vec::new(); columns * rows] };
        for (line, one) in laid.iter().enumerate() {
            for (place, sample) in one.samples.iter().enumerate() {
                let [column, row] = Grid::cell(sample.at);
                grid.cells[row * columns + column].push((line, place));
            }
        }
        grid
    }

    /// The nearest sample of every stroke that the sample lies on.
    fn near(&self, sample: &Sample, laid: &[Laid]) -> Vec<(usize, usize)> {
        let [column, row] = Grid::cell(sample.at);
        let mut nearest: BTreeMap<usize, (f64, usize)> = BTreeMap::new();
        for r in row.saturating_sub(1)..row + 2 {
            for c in column.saturating_sub(1)..column + 2 {
                for &(line, place) in self.cells.get(r * self.columns + c).into_iter().flatten() {
                    let other = &laid[line].samples[place];
                    let away = (other.at[0] - sample.at[0]).hypot(other.at[1] - sample.at[1]);
                    let near = (NEAR_PX[0] + 0.5 * laid[line].width_px).min(NEAR_PX[1]);
                    if away <= near && other.axis.angle_to(sample.axis) <= SAME_WAY_DEG {
                        let best = nearest.entry(line).or_insert((away, place));
                        if away < best.0 {
                            *best = (away, place);
                        }
                    }
                }
            }
        }
        nearest.into_iter().map(|(line, (_, place))| (line, place)).collect()
    }
}
