//! Weights of the classifier, written by the program that trains it (`train_traces` in `benches`): do not edit by hand.

use crate::features::N_FEATURES;

/// Mean of each feature over the candidates of the training pictures.
pub(crate) const MEANS: [f64; N_FEATURES] = [
    3.26430, 2.58091, 4.85176, 0.98677, 0.80552, 2.02499, 0.08065, 0.12701, 0.47849, -0.20331, 0.18987,
    0.23638, 0.48917, 1.06845, 0.34478, -0.98449, -1.03207, 2.18824, 1.17358, 0.02986, 0.87893, 0.73506,
    0.95476, 3.88917,
];
/// Standard deviation of each feature there.
pub(crate) const SCALES: [f64; N_FEATURES] = [
    0.63844, 0.61392, 0.57093, 0.02959, 0.13981, 0.75365, 0.40040, 0.33299, 0.24501, 0.49418, 0.23200,
    0.15242, 0.51016, 1.11356, 0.69267, 0.73298, 0.74345, 2.82921, 0.65631, 0.14250, 0.47450, 0.15637,
    0.62379, 0.19123,
];
/// Weight of each standardised feature in the log-odds.
pub(crate) const WEIGHTS: [f64; N_FEATURES] = [
    0.30000, 0.15000, 0.42932, 0.02566, 0.42832, -0.00135, -0.15000, -0.20093, 1.08154, 0.05000, -0.48545,
    -0.06080, -0.56692, -0.59088, 0.06821, 0.09666, -0.37834, 0.32823, 0.08262, -0.10432, 0.78762, -0.11108,
    0.37885, 0.19193,
];
/// Log-odds of a candidate with mean features.
pub(crate) const BIAS: f64 = -2.94602;
/// log10 of false traces per megapixel of scratch-free stone at log-odds 0, and its change per unit of log-odds.
pub(crate) const FALSE_LINE: [f64; 2] = [0.74630, -0.49281];
