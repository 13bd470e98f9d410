//! What is truly on a rendered picture.

use picture::Light;
use quantity::AxialDeg;

use super::Scene;
use super::groove::{Course, STEP_PX, Sample, VISIBLE_SHARE, cross_section};
use super::ground::{Ground, kind_bit};
use super::light::Shader;
use super::optics::{gaussian, taps};
use super::sensor::Exposure;
use super::stone::LineKind;
use super::surface::facet;

/// The answers to a rendered picture.
#[derive(Debug, Clone, PartialEq)]
pub struct Truth {
    /// Micrometres per pixel.
    pub um_per_px: f64,
    /// Light as an examiner would note it.
    pub light: Light,
    /// Every visible run of every groove, in the order of the scene's grooves.
    pub scratches: Vec<TrueScratch>,
    /// Lines that the stone itself draws.
    pub lines_of_the_stone: Vec<StoneLine>,
    /// What the stone draws at every pixel, row by row: bits 1 lamella, 2 cleavage, 4 boundary, 8 crack, 16 fibre, 32 pit.
    pub stone_map: Vec<u8>,
    /// Local spread of the scratch-free picture minus its 6-px blur, encoded scale, on a coarse grid.
    pub clutter: Clutter,
}

impl Truth {
    /// Whether the stone itself draws `kind` at the pixel of this row-by-row index.
    #[must_use]
    pub fn stone_draws(&self, index: usize, kind: LineKind) -> bool {
        self.stone_map.get(index).is_some_and(|bits| bits & kind_bit(kind) != 0)
    }
}

/// One visible run of one groove: from where it enters the picture or begins to where it leaves or ends.
///
/// Ends are where the depth first and last exceeds a fifth of its nominal value. Direction and curvature are those of the
/// least-squares parabola in arc length, exact for lines and circles; signs as for `trace::Trace`.
#[derive(Debug, Clone, PartialEq)]
pub struct TrueScratch {
    /// Number of the groove in the scene, from 0.
    pub groove: usize,
    /// Centre line as drawn, after the lens, every 1.5 px.
    pub points_px: Vec<[f64; 2]>,
    /// The same points without the lens.
    pub ideal_points_px: Vec<[f64; 2]>,
    /// Full width at the level of the surface, px.
    pub width_px: f64,
    /// Nominal depth, µm.
    pub depth_um: f64,
    /// Length as drawn, px.
    pub length_px: f64,
    /// Length over which the groove is at least a fifth of its nominal depth, px.
    pub visible_px: f64,
    /// Whether the depth is at least that at each point.
    pub visible: Vec<bool>,
    /// Axis at mid-length, without the lens.
    pub direction: AxialDeg,
    /// Axis at mid-length, as drawn.
    pub drawn_direction: AxialDeg,
    /// Curvature without the lens, 1/px.
    pub curvature_per_px: f64,
    /// Curvature as drawn, 1/px.
    pub drawn_curvature_per_px: f64,
    /// First and last point are true ends.
    pub ends_inside: [bool; 2],
    /// Contrast-to-noise ratio: root mean square of `cnr_along` over the points.
    pub cnr: f64,
    /// Contrast-to-noise ratio at each point: `sqrt((1/max(w, 1)) ∫ dI² dt) / σ` with `dI` the groove's own change of the
    /// encoded, noise-free picture across it on a locally even stone, `w` its width in px, `t` across it in px, and `σ`
    /// the local spread of the scratch-free picture minus its 6-px blur.
    pub cnr_along: Vec<f32>,
}

/// One line of the stone as drawn.
#[derive(Debug, Clone, PartialEq)]
pub struct StoneLine {
    /// What it is.
    pub kind: LineKind,
    /// From one end to the other, px.
    pub points_px: Vec<[f64; 2]>,
}

/// Local spread on a coarse grid of square cells.
#[derive(Debug, Clone, PartialEq)]
pub struct Clutter {
    /// Side of a cell, px.
    pub cell_px: usize,
    /// Cells in a row.
    pub columns: usize,
    /// Standard deviation in each cell and its eight neighbours, row by row.
    pub sigma: Vec<f32>,
}

/// Side of a clutter cell: with its neighbours 96 px, a few grains' worth of texture.
const CELL_PX: usize = 32;
/// The blur that is taken off before the spread is measured, px.
const BACKGROUND_PX: f64 = 6.0;
/// Samples between two evaluations of the cross-section.
const STRIDE: usize = 4;

impl Clutter {
    pub(super) fn measure(values: &[f32], width: usize, height: usize) -> Self {
        let mut smooth = values.to_vec();
        gaussian(&mut smooth, width, BACKGROUND_PX);
        let (columns, rows) = (width.div_ceil(CELL_PX), height.div_ceil(CELL_PX));
        let mut power = vec![(0.0f64, 0.0f64, 0.0f64); columns * rows];
        for (at, (v, s)) in values.iter().zip(&smooth).enumerate() {
            let cell = &mut power[(at / width / CELL_PX) * columns + (at % width) / CELL_PX];
            let d = f64::from(v - s);
            *cell = (cell.0 + 1.0, cell.1 + d, cell.2 + d * d);
        }
        let sigma = (0..columns * rows)
            .map(|at| {
                let (c, r) = (at % columns, at / columns);
                let (mut n, mut sum, mut squares) = (0.0, 0.0, 0.0);
                for row in r.saturating_sub(1)..(r + 2).min(rows) {
                    for cell in
                        &power[row * columns + c.saturating_sub(1)..row * columns + (c + 2).min(columns)]
                    {
                        n += cell.0;
                        sum += cell.1;
                        squares += cell.2;
                    }
                }
                (squares / n - (sum / n).powi(2)).max(1e-8).sqrt() as f32
            })
            .collect();
        Self { cell_px: CELL_PX, columns, sigma }
    }

    /// Spread around a point; the nearest cell's outside the picture.
    #[must_use]
    pub fn at(&self, x_px: f64, y_px: f64) -> f32 {
        let rows = self.sigma.len() / self.columns.max(1);
        let cell = |v: f64, n: usize| ((v / self.cell_px as f64).max(0.0) as usize).min(n.saturating_sub(1));
        self.sigma.get(cell(y_px, rows) * self.columns + cell(x_px, self.columns)).copied().unwrap_or(1.0)
    }
}

/// What the signature of a groove is computed from.
pub(super) struct Signature<'a> {
    pub(super) scene: &'a Scene,
    pub(super) ground: &'a Ground,
    pub(super) shader: &'a Shader,
    pub(super) exposure: &'a Exposure<'a>,
    pub(super) clutter: &'a Clutter,
}

/// The visible runs of one groove.
pub(super) fn runs(number: usize, course: &Course, signature: &Signature<'_>) -> Vec<TrueScratch> {
    let Some(nominal) = signature.scene.grooves.get(number) else { return Vec::new() };
    let deep = (nominal.depth_um / signature.scene.um_per_px) as f32 * VISIBLE_SHARE;
    let inside: Vec<bool> =
        course.samples.iter().map(|s| signature.ground.index(s.drawn).is_some()).collect();
    let mut found = Vec::new();
    let mut from = 0;
    while from < inside.len() {
        if !inside[from] {
            from += 1;
            continue;
        }
        let to = (from..inside.len()).find(|&k| !inside[k]).unwrap_or(inside.len());
        let samples = &course.samples[from..to];
        let first = samples.iter().position(|s| s.depth >= deep);
        let last = samples.iter().rposition(|s| s.depth >= deep);
        if let (Some(first), Some(last)) = (first, last) {
            // Three points are the least that has a direction and a bend.
            if last >= first + 2 {
                let ends = [first > 0 || from == 0, last + 1 < samples.len() || to == inside.len()];
                found.extend(run(number, &samples[first..=last], ends, deep, course, signature));
            }
        }
        from = to;
    }
    found
}

fn run(
    groove: usize,
    samples: &[Sample],
    ends_inside: [bool; 2],
    deep: f32,
    course: &Course,
    signature: &Signature<'_>,
) -> Option<TrueScratch> {
    let scene = signature.scene;
    let points_px: Vec<[f64; 2]> = samples.iter().map(|s| s.drawn).collect();
    let ideal_points_px: Vec<[f64; 2]> = samples.iter().map(|s| s.ideal).collect();
    let visible: Vec<bool> = samples.iter().map(|s| s.depth >= deep).collect();
    let mut cnr_along = Vec::with_capacity(samples.len());
    for (k, _) in samples.iter().enumerate() {
        let held = if k % STRIDE == 0 { cnr(samples, k, course, signature) } else { cnr_along[k - 1] };
        cnr_along.push(held);
    }
    let power: f64 = cnr_along.iter().map(|&c| f64::from(c).powi(2)).sum::<f64>() / cnr_along.len() as f64;
    let (direction, curvature_per_px) = axis_and_curvature(&ideal_points_px)?;
    let (drawn_direction, drawn_curvature_per_px) = axis_and_curvature(&points_px)?;
    Some(TrueScratch {
        groove,
        width_px: scene.grooves[groove].width_um / scene.um_per_px,
        depth_um: scene.grooves[groove].depth_um,
        length_px: points_px.windows(2).map(|p| (p[1][0] - p[0][0]).hypot(p[1][1] - p[0][1])).sum(),
        visible_px: visible.iter().filter(|&&v| v).count() as f64 * STEP_PX,
        visible,
        direction,
        drawn_direction,
        curvature_per_px,
        drawn_curvature_per_px,
        ends_inside,
        cnr: power.sqrt(),
        cnr_along,
        points_px,
        ideal_points_px,
    })
}

/// Axis at mid-length and signed curvature of an evenly sampled path.
///
/// Both are the linear functionals of the tangent's angle that a least-squares parabola applies to a nearly straight path:
/// weights `s(L−s)` for the angle and `s²(L−s)²` for its rate of change; for a circle they are exact at any sweep.
/// Positive curvature bends counter-clockwise as seen when walked along increasing x (upwards for a vertical path), 1/px.
/// `None` with fewer than two different points.
#[must_use]
pub fn axis_and_curvature(points: &[[f64; 2]]) -> Option<(AxialDeg, f64)> {
    let n = points.len().checked_sub(1)?;
    let mut angles = Vec::with_capacity(n);
    let mut length = 0.0;
    for pair in points.windows(2) {
        let (dx, dy) = (pair[1][0] - pair[0][0], pair[1][1] - pair[0][1]);
        length += dx.hypot(dy);
        let angle = (-dy).atan2(dx);
        let unwound = angles.last().map_or(angle, |&last: &f64| last + turn(angle - last));
        angles.push(unwound);
    }
    let (mut angle, mut weight, mut rate, mut rate_weight) = (0.0, 0.0, 0.0, 0.0);
    for (k, &a) in angles.iter().enumerate() {
        let s = (k as f64 + 0.5) / n as f64;
        let w = s * (1.0 - s);
        angle += w * a;
        weight += w;
        // Integration by parts: the rate's weight s²(1−s)² becomes its negative derivative on the angle.
        let slope = 2.0 * s * (1.0 - s) * (1.0 - 2.0 * s);
        rate -= slope * a;
        rate_weight += slope * (0.5 - s);
    }
    let mean = angle / weight;
    let curvature = rate / rate_weight.max(1e-12) / length.max(1e-9);
    // Positive when walked along increasing x, or upwards where the path is vertical.
    let (sin, cos) = mean.sin_cos();
    let forward = if cos.abs() > 1e-9 { cos > 0.0 } else { sin > 0.0 };
    Some((AxialDeg::new(mean.to_degrees())?, if forward { curvature } else { -curvature }))
}

fn turn(angle: f64) -> f64 {
    use std::f64::consts::PI;
    (angle + PI).rem_euclid(2.0 * PI) - PI
}

/// Contrast-to-noise ratio of the groove at sample `k`.
fn cnr(samples: &[Sample], k: usize, course: &Course, signature: &Signature<'_>) -> f32 {
    let sample = &samples[k];
    let Some(at) = signature.ground.index(sample.drawn) else { return 0.0 };
    if sample.depth <= 0.0 {
        return 0.0;
    }
    let (before, after) = (samples[k.saturating_sub(1)].drawn, samples[(k + 1).min(samples.len() - 1)].drawn);
    let (dx, dy) = (after[0] - before[0], after[1] - before[1]);
    let length = dx.hypot(dy).max(1e-9);
    let normal = [(dy / length) as f32, (-dx / length) as f32];
    let (light, tone) = (signature.exposure.light(sample.drawn[0], sample.drawn[1]), signature.exposure.tone);
    let change = profile(sample, course, normal, at, signature);
    let flat = level(at, signature);
    let width = (2.0 * sample.half_width).max(1.0);
    let base = tone.encode(light * flat);
    let power: f32 =
        change.iter().map(|d| (tone.encode(light * (flat + d)) - base).powi(2)).sum::<f32>() * FINE_PX as f32;
    (power / width).sqrt() / signature.clutter.at(sample.drawn[0], sample.drawn[1])
}

/// Spacing of the cross-section's samples, px.
const FINE_PX: f64 = 0.25;

/// Radiance of the level surface of one pixel's mineral.
fn level(at: usize, signature: &Signature<'_>) -> f32 {
    let ground = signature.ground;
    let gloss = ground.minerals[usize::from(ground.mineral[at])].gloss as f32;
    facet(signature.shader, 0.0, 0.0, ground.grey[at], gloss, 0.0)
}

/// Blurred change of radiance across the groove.
fn profile(
    sample: &Sample,
    course: &Course,
    normal: [f32; 2],
    at: usize,
    signature: &Signature<'_>,
) -> Vec<f32> {
    let ground = signature.ground;
    let grey = ground.grey[at];
    let gloss = ground.minerals[usize::from(ground.mineral[at])].gloss as f32;
    let flat = level(at, signature);
    let sigma = signature.scene.optics.blur_px;
    let reach = f64::from(sample.half_width) * 2.0 + 4.0 * sigma + 1.0;
    let count = (reach / FINE_PX).ceil() as i32;
    let height = |t: f32| {
        let (cut, shoulder) = cross_section(t, sample, &course.character);
        cut + shoulder
    };
    let half = 0.5 * FINE_PX as f32;
    let raw: Vec<f32> = (-count..=count)
        .map(|i| {
            let t = i as f32 * FINE_PX as f32;
            let slope = (height(t + half) - height(t - half)) / FINE_PX as f32;
            let (cut, _) = cross_section(t, sample, &course.character);
            let crushed = course.character.whitening as f32 * (-cut / sample.depth).clamp(0.0, 1.0);
            facet(signature.shader, slope * normal[0], slope * normal[1], grey, gloss, crushed) - flat
        })
        .collect();
    let taps = taps(sigma.max(0.05) / FINE_PX);
    let middle = taps.len() / 2;
    (0..raw.len())
        .map(|i| {
            taps.iter()
                .enumerate()
                .filter_map(|(j, tap)| {
                    (i + j).checked_sub(middle).and_then(|from| raw.get(from)).map(|v| tap * v)
                })
                .sum()
        })
        .collect()
}
