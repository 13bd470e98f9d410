//! Weights of the classifier, as the program that trains it (`train_traces` in `benches`) writes them: do not edit by hand.
//! Fitted on 40 rendered pictures, 16 of them bare, by the same regression and bounds over the same features, one picture at a
//! time (25 November 2026).

use crate::features::N_FEATURES;

/// Mean of each feature over the candidates of the training pictures.
pub(crate) const MEANS: [f64; N_FEATURES] = [
    3.27620, 2.61875, 4.82223, 0.98696, 0.81142, 2.06591, 0.08165, 0.15735, 0.61183, -0.09433, 0.27377,
    0.23053, 0.46905, 1.04962, 0.33818, -0.98812, -0.94221, 2.62292, 1.15538, 0.02809, 0.90171, 0.74150,
    1.12081, 3.93280,
];
/// Standard deviation of each feature there.
pub(crate) const SCALES: [f64; N_FEATURES] = [
    0.64158, 0.63159, 0.58047, 0.02938, 0.14033, 0.77819, 0.40164, 0.36413, 0.21392, 0.45714, 0.24433,
    0.14914, 0.50511, 1.10751, 0.69274, 0.73768, 0.76466, 3.21002, 0.65199, 0.13749, 0.50330, 0.17481,
    0.77665, 0.22833,
];
/// Weight of each standardised feature in the log-odds.
pub(crate) const WEIGHTS: [f64; N_FEATURES] = [
    0.30000, 0.15000, 0.31297, -0.00918, 0.19858, -0.10479, -0.15000, -0.09604, 0.82224, 0.05000, -0.17624,
    0.05075, -0.57400, -0.63545, 0.10196, 0.07747, -0.47586, 0.19462, 0.13170, -0.08200, 0.71526, -0.05305,
    0.50661, 0.28055,
];
/// Log-odds of a candidate with mean features.
pub(crate) const BIAS: f64 = -3.10865;
/// log10 of false traces per megapixel of scratch-free stone at log-odds 0, and its change per unit of log-odds.
pub(crate) const FALSE_LINE: [f64; 2] = [-0.23059, -0.65470];
