//! Copies of a path moved aside: what the picture gives to the same line where no groove was claimed.

use crate::course::resampled;
use crate::plane::{Plane, quantile};
use crate::recentre::{BLOCK_CUT, Bank, Section, Strip};

/// Half-width of the strip in which copies are laid, px.
const ASIDE: usize = 48;
const WIDE: usize = 2 * ASIDE + 1;
/// Copies close beside the groove, on either side, and their spacing, px.
const NEAR: (usize, f64) = (4, 1.5);
/// Copies further out, on either side, their first distance beyond the flank and their spacing, px.
const FAR: (usize, f64, f64) = (7, 7.0, 3.5);

/// Responses of a groove's cross-section on copies of its path.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Decoys {
    /// Largest mean response close beside the groove's flanks: repeats of a lamella, neighbours of a crowded set.
    pub near: f64,
    /// Second largest mean response of the copies further out.
    pub far: f64,
    /// Root mean square of the mean responses further out, times the root of the number of blocks: 1 where blocks are
    /// independent, more where the stone's texture runs along the path or neighbours do.
    pub spread: f64,
    /// The same by the median, which a few neighbouring grooves do not raise.
    pub robust_spread: f64,
}

/// Lays copies of a path (points at any spacing) aside and reads them off.
pub(crate) fn decoys(residual: &Plane, bank: &Bank, path: &[[f64; 2]], section: Section) -> Decoys {
    let line = resampled(path, 1.0);
    let strip: Strip<WIDE> = Strip::along(residual, &line);
    let inside: Vec<&[f32; WIDE]> = strip
        .profiles()
        .iter()
        .zip(&strip.inside)
        .filter(|(_, inside)| **inside > 0.9)
        .map(|(profile, _)| profile)
        .collect();
    let n = inside.len().max(1) as f64;
    let mean_at = |shift_px: f64| {
        let shift = (2.0 * shift_px).round() as i32;
        let cut = |v: f32| f64::from(v.clamp(-BLOCK_CUT, BLOCK_CUT));
        inside.iter().map(|profile| cut(bank.section_response(*profile, section, shift))).sum::<f64>() / n
    };
    let flank = 2.5 * section.sigma_px + 1.5;
    let both_sides = |count: usize, first: f64, step: f64| {
        (0..count).flat_map(move |k| [-1.0, 1.0].map(|side| side * (flank + first + step * k as f64)))
    };
    let near = both_sides(NEAR.0, 0.0, NEAR.1).map(mean_at).fold(f64::NEG_INFINITY, f64::max);
    let mut far: Vec<f64> = both_sides(FAR.0, FAR.1, FAR.2).map(mean_at).collect();
    far.sort_by(f64::total_cmp);
    let root_mean_square = (far.iter().map(|v| v * v).sum::<f64>() / far.len().max(1) as f64).sqrt();
    let mut sizes: Vec<f32> = far.iter().map(|v| v.abs() as f32).collect();
    Decoys {
        near,
        far: far.get(far.len().saturating_sub(2)).copied().unwrap_or(0.0),
        spread: root_mean_square * n.sqrt(),
        robust_spread: f64::from(quantile(&mut sizes, 0.5)) / 0.674_49 * n.sqrt(),
    }
}
