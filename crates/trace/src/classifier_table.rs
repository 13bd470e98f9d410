//! Weights of the classifier, written by the program that trains it (`train_traces` in `benches`): do not edit by hand.

use crate::features::N_FEATURES;

/// Mean of each feature over the candidates of the training pictures.
pub(crate) const MEANS: [f64; N_FEATURES] = [
    3.19336, 2.52307, 4.78706, 0.97697, 0.77414, 1.93242, 0.23360, 0.05040, 0.51580, -0.20308, 0.25155,
    0.25138, 0.48129, 1.14041, 0.28456, -1.10751, -0.83084, 2.69384, 1.14939, 0.02615, 1.00445, 0.78188,
    1.00526, 4.17347,
];
/// Standard deviation of each feature there.
pub(crate) const SCALES: [f64; N_FEATURES] = [
    0.60779, 0.57974, 0.57174, 0.04105, 0.14388, 0.78457, 0.48359, 0.21877, 0.24986, 0.47748, 0.25625,
    0.15912, 0.51874, 1.15600, 0.65780, 0.80052, 0.80172, 3.30658, 0.65317, 0.13165, 0.57905, 0.30187,
    0.71422, 0.34442,
];
/// Weight of each standardised feature in the log-odds.
pub(crate) const WEIGHTS: [f64; N_FEATURES] = [
    0.30000, 0.18784, 0.23957, -0.00492, 0.37030, -0.13545, -0.30000, -0.04829, 1.19524, -0.17236, -0.50000,
    -0.13144, -0.54584, -0.70814, 0.21820, 0.05185, -0.59769, 0.39095, 0.12430, -0.12657, 0.85059, -0.06299,
    0.29191, -0.12095,
];
/// Log-odds of a candidate with mean features.
pub(crate) const BIAS: f64 = -3.62155;
/// log10 of false traces per megapixel of scratch-free stone at log-odds 0, and its change per unit of log-odds.
pub(crate) const FALSE_LINE: [f64; 2] = [0.42783, -0.57768];
