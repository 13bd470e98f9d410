//! Weights of the classifier, written by the program that trains it (`train_traces` in `benches`): do not edit by hand.

use crate::features::N_FEATURES;

/// Mean of each feature over the candidates of the training pictures.
pub(crate) const MEANS: [f64; N_FEATURES] = [
    3.23161, 2.59475, 4.80161, 0.98613, 0.80627, 2.05372, 0.07943, 0.15484, 0.49250, -0.21291, 0.20103,
    0.24112, 0.48486, 1.09396, 0.30949, -1.07262, -0.98302, 2.36691, 1.16069, 0.02915, 0.87203, 0.73461,
    0.92022, 3.90171,
];
/// Standard deviation of each feature there.
pub(crate) const SCALES: [f64; N_FEATURES] = [
    0.60988, 0.60194, 0.56460, 0.03044, 0.13825, 0.75883, 0.42038, 0.36176, 0.24526, 0.47236, 0.23917,
    0.15818, 0.52147, 1.13885, 0.67248, 0.79888, 0.75990, 3.04846, 0.65540, 0.13939, 0.42807, 0.16184,
    0.55520, 0.22103,
];
/// Weight of each standardised feature in the log-odds.
pub(crate) const WEIGHTS: [f64; N_FEATURES] = [
    0.41315, 0.15000, 0.34887, 0.03356, 0.30988, -0.08194, -0.30000, -0.23533, 1.11118, -0.26491, -0.42558,
    -0.08972, -0.60000, -0.70044, 0.21862, 0.13276, -0.60204, 0.40929, 0.13112, -0.11451, 0.81119, -0.15027,
    0.27378, -0.11540,
];
/// Log-odds of a candidate with mean features.
pub(crate) const BIAS: f64 = -3.56043;
/// log10 of false traces per megapixel of scratch-free stone at log-odds 0, and its change per unit of log-odds.
pub(crate) const FALSE_LINE: [f64; 2] = [0.31208, -0.55268];
