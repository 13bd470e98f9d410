//! Scratch or line of the stone: a logistic score per candidate, and how many false traces a score stands for.

use crate::classifier_table::{FALSE_LINE, FULL, HALF};
use crate::features::N_FEATURES;
use crate::level::Level;

/// Features further than this many spreads from their mean count as that far.
pub const FEATURE_CUT: f64 = 4.0;

/// A logistic score of standardised features.
pub(crate) struct Weights {
    /// Log-odds of a candidate with mean features.
    pub bias: f64,
    /// Mean of each feature over the candidates of the training pictures.
    pub means: [f64; N_FEATURES],
    /// Standard deviation of each feature there.
    pub scales: [f64; N_FEATURES],
    /// Weight of each standardised feature in the log-odds.
    pub weights: [f64; N_FEATURES],
}

/// Log-odds that most of a candidate seen at this level is a scratch.
pub(crate) fn log_odds(level: Level, features: &[f64; N_FEATURES]) -> f64 {
    let Weights { bias, means, scales, weights } = match level {
        Level::Full => &FULL,
        Level::Half => &HALF,
    };
    let terms = features.iter().zip(means).zip(scales).zip(weights);
    bias + terms
        .map(|(((f, mean), scale), weight)| weight * ((f - mean) / scale).clamp(-FEATURE_CUT, FEATURE_CUT))
        .sum::<f64>()
}

/// log10 of the number of false traces at least as convincing to be expected on `area_mpx` megapixels of scratch-free stone:
/// a line fitted to the tail of such traces on rendered scratch-free stone.
pub(crate) fn log10_nfa(log_odds: f64, area_mpx: f64) -> f64 {
    let [at_zero, slope] = FALSE_LINE;
    at_zero + slope * log_odds + area_mpx.max(1e-3).log10()
}
