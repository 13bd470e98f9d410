//! Grooves as the caller gives them, and as they come out on this stone: depth and width at every point of the path.

use super::ground::Ground;
use super::noise;

/// One groove cut into the surface. Later grooves of a scene cut through earlier ones.
///
/// Field coordinates in µm: origin at the centre of the top-left pixel, x right, y down, before any lens.
#[derive(Debug, Clone, PartialEq)]
pub struct Groove {
    /// Centre line from one end to the other.
    pub points_um: Vec<[f64; 2]>,
    /// Full width at the level of the surface, µm.
    pub width_um: f64,
    /// Depth below the surface, µm.
    pub depth_um: f64,
    /// Form of the cross-section and its changes along the path.
    pub character: Character,
}

/// Cross-section of a groove and how unevenly it runs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Character {
    /// Exponent of the cross-section `depth·(1 − |2t/width|^exponent)`: 1 is a V, 2 a parabola, larger a U.
    pub exponent: f64,
    /// Height of the shoulders pushed up left and right, share of the depth.
    pub shoulders: [f64; 2],
    /// Standard deviation of the logarithm of the depth along the path.
    pub unevenness: f64,
    /// Correlation length of that unevenness, µm.
    pub unevenness_um: f64,
    /// Share of the length over which the grain left no mark.
    pub skips: f64,
    /// Length of the tapering ends, µm.
    pub taper_um: f64,
    /// How far the depth follows the minerals: 0 not at all, 1 fully.
    pub follows_minerals: f64,
    /// Crushed, whitened floor: 0 none, 1 matt white.
    pub whitening: f64,
}

impl Character {
    /// An even, shoulderless V without skips: the form for checks.
    pub const PLAIN: Self = Self {
        exponent: 1.0,
        shoulders: [0.0, 0.0],
        unevenness: 0.0,
        unevenness_um: 50.0,
        skips: 0.0,
        taper_um: 0.0,
        follows_minerals: 0.0,
        whitening: 0.0,
    };
}

/// A straight centre line.
#[must_use]
pub fn line(from_um: [f64; 2], to_um: [f64; 2]) -> Vec<[f64; 2]> {
    vec![from_um, to_um]
}

/// A circular arc about `centre_um` from angle `from_rad` through `sweep_rad` (both counter-clockwise as seen).
#[must_use]
pub fn arc(centre_um: [f64; 2], radius_um: f64, from_rad: f64, sweep_rad: f64) -> Vec<[f64; 2]> {
    // A chord of angle a misses the arc by r·a²/8: keep it under 0.01 µm, which no pixel here can show.
    let steps = (sweep_rad.abs() / (0.08 / radius_um.max(0.1)).sqrt()).ceil().clamp(8.0, 20_000.0) as usize;
    (0..=steps)
        .map(|k| {
            let angle = from_rad + sweep_rad * k as f64 / steps as f64;
            [centre_um[0] + radius_um * angle.cos(), centre_um[1] - radius_um * angle.sin()]
        })
        .collect()
}

/// One sample of a groove as it lies on the picture.
#[derive(Debug, Clone, Copy)]
pub(super) struct Sample {
    /// Place on the picture, after the lens, px.
    pub(super) drawn: [f64; 2],
    /// Place before the lens, px.
    pub(super) ideal: [f64; 2],
    /// Half-width, px.
    pub(super) half_width: f32,
    /// Depth, in pixels of height.
    pub(super) depth: f32,
}

/// A groove resolved on its stone.
#[derive(Debug, Clone)]
pub(super) struct Course {
    pub(super) samples: Vec<Sample>,
    pub(super) character: Character,
}

/// Distance between samples, px: short enough that the sagitta of a 50-px arc between samples is below 0.01 px.
pub(super) const STEP_PX: f64 = 1.5;

/// Depth below which the groove has left no mark, share of the nominal depth.
pub(super) const VISIBLE_SHARE: f32 = 0.2;

/// Lays a groove over the stone: even samples along the path, depth from taper, unevenness, skips and minerals.
pub(super) fn resolve(groove: &Groove, ground: &Ground, key: u32) -> Course {
    let path = even_samples(&groove.points_um, ground.um_per_px);
    let character = groove.character;
    let total = (path.len().max(2) - 1) as f64 * STEP_PX;
    let px = |um: f64| (um / ground.um_per_px) as f32;
    let grain = mineral_factors(&path, ground, character.follows_minerals as f32);
    let samples = path
        .iter()
        .zip(grain)
        .enumerate()
        .map(|(k, (&ideal, grain))| {
            let along = (k as f64 * STEP_PX) as f32;
            let ends = taper(along, total as f32 - along, px(character.taper_um));
            let factor = ends * grain * wander(key, along, &character, ground.um_per_px);
            // A V that goes deeper gets wider in proportion; the square root stands between that and a fixed tool edge.
            let widening = factor.sqrt().clamp(0.4, 1.7);
            let half_width = 0.5 * px(groove.width_um) * widening;
            Sample { drawn: ground.lens.draw(ideal), ideal, half_width, depth: px(groove.depth_um) * factor }
        })
        .collect();
    Course { samples, character }
}

/// Points every `STEP_PX` along the path, in ideal pixels.
fn even_samples(points_um: &[[f64; 2]], um_per_px: f64) -> Vec<[f64; 2]> {
    let points: Vec<[f64; 2]> = points_um.iter().map(|p| [p[0] / um_per_px, p[1] / um_per_px]).collect();
    let Some((&first, _)) = points.split_first() else { return Vec::new() };
    let mut samples = vec![first];
    let mut left = STEP_PX;
    for pair in points.windows(2) {
        let [a, b] = [pair[0], pair[1]];
        let length = (b[0] - a[0]).hypot(b[1] - a[1]);
        let mut at = left;
        while at <= length {
            let f = at / length;
            samples.push([a[0] + f * (b[0] - a[0]), a[1] + f * (b[1] - a[1])]);
            at += STEP_PX;
        }
        left = at - length;
    }
    samples
}

fn taper(before: f32, after: f32, taper_px: f32) -> f32 {
    if taper_px <= 0.0 {
        return 1.0;
    }
    let rise = |d: f32| {
        let t = (d / taper_px).clamp(0.0, 1.0);
        t * t * (3.0 - 2.0 * t)
    };
    rise(before) * rise(after)
}

/// Unevenness and skips along the path.
fn wander(key: u32, along_px: f32, character: &Character, um_per_px: f64) -> f32 {
    let length = (character.unevenness_um / um_per_px).max(2.0) as f32;
    // `smooth` has a variance of about 0.14 over its period (measured on 10⁵ draws of it).
    let uneven = (character.unevenness as f32 / 0.37 * noise::smooth(key, along_px / length, 0.5)).exp();
    if character.skips <= 0.0 {
        return uneven;
    }
    let chance = 0.5 + 0.5 * noise::smooth(key ^ 0x5bd1, along_px / (2.0 * length), 0.5);
    let open = ((chance - character.skips as f32) / 0.08 + 0.5).clamp(0.0, 1.0);
    uneven * open
}

/// Depth factor from the minerals under the path, averaged over about 5 px because an abrasive grain is not a point.
fn mineral_factors(path: &[[f64; 2]], ground: &Ground, follows: f32) -> Vec<f32> {
    let raw: Vec<f32> = path
        .iter()
        .map(|&ideal| {
            let at = ground.lens.draw(ideal);
            ground.yields_at(at).map_or(1.0, |yields| 1.0 + follows * (yields - 1.0))
        })
        .collect();
    (0..raw.len())
        .map(|k| {
            let window = &raw[k.saturating_sub(2)..(k + 3).min(raw.len())];
            window.iter().sum::<f32>() / window.len() as f32
        })
        .collect()
}

/// Height of the cross-section at distance `t` from the centre line (positive to the left of the path).
///
/// Returns the height of the cut and of the shoulder; one of them is zero.
pub(super) fn cross_section(t: f32, sample: &Sample, character: &Character) -> (f32, f32) {
    if sample.half_width <= 0.0 {
        return (0.0, 0.0);
    }
    let u = t.abs() / sample.half_width;
    if u < 1.0 {
        let power = if character.exponent == 1.0 {
            u
        } else if character.exponent == 2.0 {
            u * u
        } else {
            u.powf(character.exponent as f32)
        };
        return (-sample.depth * (1.0 - power), 0.0);
    }
    if u < SHOULDER_REACH {
        let v = (u - 1.0) / (SHOULDER_REACH - 1.0);
        let side = character.shoulders[usize::from(t < 0.0)] as f32;
        return (0.0, sample.depth * side * 6.75 * v * (1.0 - v) * (1.0 - v));
    }
    (0.0, 0.0)
}

/// Outer edge of the shoulders in half-widths.
pub(super) const SHOULDER_REACH: f32 = 1.9;
