//! Weights of the classifier, written by the program that trains it (`train_traces` in `benches`): do not edit by hand.

use crate::features::N_FEATURES;

/// Mean of each feature over the candidates of the training pictures.
pub(crate) const MEANS: [f64; N_FEATURES] = [
    3.23488, 2.46774, 4.84035, 0.97866, 0.76662, 1.84545, 0.08881, 0.14915, 0.49207, -0.24039, 0.20728,
    0.24806, 0.48803, 1.11961, 0.35124, -1.04079, -0.93254, 2.17932, 1.17057, 0.02837, 0.88917, 0.75001,
    0.93664, 3.97499,
];
/// Standard deviation of each feature there.
pub(crate) const SCALES: [f64; N_FEATURES] = [
    0.62063, 0.54555, 0.57398, 0.03803, 0.13825, 0.71744, 0.42569, 0.35624, 0.24479, 0.45765, 0.24354,
    0.15954, 0.52940, 1.14525, 0.69332, 0.80324, 0.76843, 2.84969, 0.66552, 0.13760, 0.44105, 0.21160,
    0.57814, 0.25924,
];
/// Weight of each standardised feature in the log-odds.
pub(crate) const WEIGHTS: [f64; N_FEATURES] = [
    0.43226, 0.15000, 0.41384, 0.05176, 0.31412, -0.03762, -0.30000, -0.29672, 1.10481, -0.19873, -0.43783,
    -0.10958, -0.60000, -0.73768, 0.18503, 0.17202, -0.59485, 0.47558, 0.12197, -0.15573, 0.74308, -0.21524,
    0.16172, -0.09365,
];
/// Log-odds of a candidate with mean features.
pub(crate) const BIAS: f64 = -3.75987;
/// log10 of false traces per megapixel of scratch-free stone at log-odds 0, and its change per unit of log-odds.
pub(crate) const FALSE_LINE: [f64; 2] = [0.39143, -0.55020];
