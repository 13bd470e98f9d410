//! What tells a scratch from a line of the stone, in numbers, for one candidate among all of its picture.

use crate::background::Cleared;
use crate::course::{Points, distance, extended, smoothed, tangents, window_px};
use crate::decoys::Decoys;
use crate::fit::Fit;
use crate::lattice::BLOCK_PX;
use crate::plane::{Plane, quantile};
use crate::recentre::Centred;
use crate::section::Axis;
use crate::template::Parity;

/// Number of features of one candidate.
pub const N_FEATURES: usize = 24;

/// Index of the strength of copies of the path close beside it.
pub(crate) const REPEATS: usize = 10;
/// Index of the background's step across the path.
pub(crate) const STEP: usize = 13;
/// Index of the background's change from block to block along the path.
pub(crate) const GRAIN_CHANGE: usize = 15;

/// Everything measured about one candidate before it is judged.
pub(crate) struct Candidate {
    pub centred: Centred,
    pub axis: Axis,
    pub fit: Fit,
    pub decoys: Decoys,
    /// Smoothed axis, one point per block.
    pub points_px: Points,
    pub length_px: f64,
}

impl Candidate {
    /// Evidence beyond what chance gives a re-centred path, null spreads.
    pub fn strength(&self) -> f64 {
        self.centred.evidence.iter().map(|e| f64::from(*e) - 0.8).sum()
    }
}

/// Features that need the candidate and its picture only.
pub(crate) fn own(candidate: &Candidate, cleared: &Cleared) -> [f64; N_FEATURES] {
    let evidence: Vec<f64> = candidate.centred.evidence.iter().map(|e| f64::from(*e)).collect();
    let n = evidence.len().max(1) as f64;
    let mean = evidence.iter().sum::<f64>() / n;
    let share = |least: f64| evidence.iter().filter(|e| **e > least).count() as f64 / n;
    let mixture = &candidate.axis.mixture;
    let decoys = &candidate.decoys;
    let ground = ground(candidate, &cleared.background);
    let noise = f64::from(cleared.noise_sigma).max(1e-6);
    let amplitude = mixture.amplitude();
    let lobes = (decoys.near / mean.max(0.2)).clamp(-1.0, 3.0);
    let far = (decoys.far / mean.max(0.2)).clamp(-1.0, 3.0);
    [
        candidate.strength().max(1.0).ln(),
        mean,
        candidate.length_px.ln(),
        share(0.0),
        share(1.5),
        weakest(&evidence, 5),
        candidate.centred.section.sigma_px.ln(),
        if candidate.centred.section.parity == Parity::Odd { 1.0 } else { 0.0 },
        mixture.explained,
        amplitude.max(0.05).ln(),
        lobes,
        far,
        decoys.spread.max(0.05).ln(),
        (ground.step / noise / amplitude.max(0.2)).min(3.0),
        (ground.spread / noise).max(EVEN_GROUND).ln(),
        (ground.change / noise).max(0.02).ln(),
        candidate.fit.residual_px.max(0.05).ln(),
        (candidate.fit.curvature_per_px.value.abs() * 1000.0).min(12.0),
        candidate.fit.inflation.ln(),
        squareness(candidate.fit.direction.degrees()),
        0.0,
        0.0,
        0.0,
        0.0,
    ]
}

/// Spread of the background along a path, noise units, below which more evenness says nothing against a scratch.
const EVEN_GROUND: f64 = 0.8;
/// Support by other candidates of a direction or bend, and evidence in the whole picture, below which their lack says nothing
/// against a lone scratch on calm stone: about the mean over candidates on rendered stone. Without these floors a picture of
/// bare stone teaches that whatever stands alone is false.
const ALONE: f64 = 0.7;
const CALM: f64 = 3.75;

/// How close a direction is to rows or columns of the picture: 1 on them, 0 from 1.5° off.
fn squareness(direction_deg: f64) -> f64 {
    let off = (direction_deg.rem_euclid(90.0)).min(90.0 - direction_deg.rem_euclid(90.0));
    (1.0 - off / 1.5).max(0.0)
}

/// Smallest mean over `window` neighbours.
fn weakest(values: &[f64], window: usize) -> f64 {
    let window = window.min(values.len()).max(1);
    values
        .windows(window)
        .map(|w| w.iter().sum::<f64>() / window as f64)
        .fold(f64::INFINITY, f64::min)
        .min(4.0)
}

/// What the background does along and across a path, grey units.
struct Ground {
    /// |mean right flank − mean left flank|.
    step: f64,
    /// Spread along the path.
    spread: f64,
    /// Mean change from block to block: many grains crossed.
    change: f64,
}

fn ground(candidate: &Candidate, background: &Plane) -> Ground {
    let tangents = tangents(&candidate.points_px);
    let aside = 3.0 + 2.0 * candidate.centred.section.sigma_px;
    let (mut left, mut right, mut levels) = (0.0, 0.0, Vec::new());
    for (p, t) in candidate.points_px.iter().zip(&tangents) {
        // The background is at half resolution.
        let at = |by: f64| {
            let (x, y) = (p[0] - t[1] * by, p[1] + t[0] * by);
            f64::from(background.at(((x - 0.5) / 2.0) as f32, ((y - 0.5) / 2.0) as f32).unwrap_or(f32::NAN))
        };
        let (l, r) = (at(-aside), at(aside));
        if l.is_finite() && r.is_finite() {
            left += l;
            right += r;
            levels.push((l + r) / 2.0);
        }
    }
    let n = levels.len().max(1) as f64;
    let mean = levels.iter().sum::<f64>() / n;
    Ground {
        step: (right - left).abs() / n,
        spread: (levels.iter().map(|v| (v - mean) * (v - mean)).sum::<f64>() / n).sqrt(),
        change: levels.windows(2).map(|p| if let &[a, b] = p { (a - b).abs() } else { 0.0 }).sum::<f64>() / n,
    }
}

/// Distance between middles beyond which two lines do not share a grain, px: the largest grains that still leave several in
/// a field.
const APART_PX: f64 = 250.0;
/// Ratio of curvatures up to which two bends are alike.
const ALIKE: f64 = 1.5;

/// Completes the features that depend on the picture's other candidates: how much strong evidence runs in the same
/// direction elsewhere, further than a grain and closer, how much bends alike, and how much strong evidence there is at all.
pub(crate) fn add_context(features: &mut [[f64; N_FEATURES]], candidates: &[Candidate], area_px: f64) {
    let weight = |c: &Candidate| {
        let mean = c.strength() / c.centred.evidence.len().max(1) as f64;
        // Faint or short candidates say nothing about the picture; the limits are those of what chance rarely gives.
        if c.length_px > 60.0 && mean > 0.9 { c.length_px * (mean / 2.0).min(1.0) } else { 0.0 }
    };
    let middles: Vec<[f64; 2]> = candidates
        .iter()
        .map(|c| c.points_px.get(c.points_px.len() / 2).copied().unwrap_or_default())
        .collect();
    let scale = area_px.sqrt();
    let total: f64 = candidates.iter().map(weight).sum();
    for ((own, candidate), middle) in features.iter_mut().zip(candidates).zip(&middles) {
        let (mut near, mut far, mut bent) = (0.0, 0.0, 0.0);
        let curvature = &candidate.fit.curvature_per_px;
        let is_bent = curvature.value.abs() > 3.0 * curvature.u;
        for (other, other_middle) in candidates.iter().zip(&middles) {
            let between = distance(*middle, *other_middle);
            if between <= 40.0 {
                continue;
            }
            let apart = candidate.fit.direction.angle_to(other.fit.direction);
            if apart < 6.0 {
                let worth = weight(other) * (1.0 - apart / 6.0);
                if between > APART_PX { far += worth } else { near += worth }
            }
            let ratio = other.fit.curvature_per_px.value.abs() / curvature.value.abs().max(1e-9);
            if is_bent && (1.0 / ALIKE..ALIKE).contains(&ratio) {
                bent += weight(other);
            }
        }
        // One 30th of an even spread over all directions falls within ± 6° with these weights.
        let level = |sum: f64| ((sum + 30.0) / scale).ln().max(ALONE);
        let [.., a, b, c, d] = own;
        *a = level(far);
        *b = level(near);
        *c = level(bent);
        *d = ((total - weight(candidate) + 100.0) / scale).ln().max(CALM);
    }
}

/// Smooths a measured axis for drawing and for reading off geometry.
pub(crate) fn smooth_axis(axis: &Axis) -> Points {
    let block = BLOCK_PX as f64;
    let half = (window_px(&axis.points_px, 5.0 * block) / block).round() as usize;
    extended(&smoothed(&axis.points_px, half), block / 2.0)
}

/// Median of values; 0 for none.
pub(crate) fn median(values: impl Iterator<Item = f64>) -> f64 {
    let mut values: Vec<f32> = values.map(|v| v as f32).collect();
    f64::from(quantile(&mut values, 0.5))
}
