//! Scratch or line of the stone: a logistic score per candidate, and how many false traces a score stands for.

use crate::classifier_table::{BIAS, FALSE_LINE, MEANS, SCALES, WEIGHTS};
use crate::features::N_FEATURES;

/// Features further than this many spreads from their mean count as that far.
pub const FEATURE_CUT: f64 = 4.0;

/// Log-odds that most of a candidate is a scratch.
pub(crate) fn log_odds(features: &[f64; N_FEATURES]) -> f64 {
    let terms = features.iter().zip(&MEANS).zip(&SCALES).zip(&WEIGHTS);
    BIAS + terms
        .map(|(((f, mean), scale), weight)| weight * ((f - mean) / scale).clamp(-FEATURE_CUT, FEATURE_CUT))
        .sum::<f64>()
}

/// log10 of the number of false traces at least as convincing to be expected on `area_mpx` megapixels of scratch-free stone:
/// a line fitted to the tail of such traces on rendered scratch-free stone.
pub(crate) fn log10_nfa(log_odds: f64, area_mpx: f64) -> f64 {
    let [at_zero, slope] = FALSE_LINE;
    at_zero + slope * log_odds + area_mpx.max(1e-3).log10()
}
