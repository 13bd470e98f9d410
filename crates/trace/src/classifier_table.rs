//! Weights of the classifier. The program that trains it (`train_traces` in `benches`) writes this file; these weights come
//! from its prototype, the same regression on 46 rendered pictures of all stones and instruments of `finish::render::makes`,
//! 11 of them bare (25 November 2026).

use crate::features::N_FEATURES;

/// Mean of each feature over the candidates of the training pictures.
pub(crate) const MEANS: [f64; N_FEATURES] = [
    3.2364, 2.3525, 4.6591, 0.96853, 0.71657, 1.6198, -0.045005, 0.16972, 0.76522, -0.18061, 0.29253,
    0.23787, 0.47896, 1.4452, 0.44124, -0.5704, 0.33637, 2.6365, 0.64907, 0.022107, 0.37372, 3.8895,
];
/// Standard deviation of each feature there.
pub(crate) const SCALES: [f64; N_FEATURES] = [
    0.72433, 0.45706, 0.77274, 0.045562, 0.134, 0.66107, 0.35882, 0.37538, 0.16719, 0.36867, 0.26933,
    0.13907, 0.43596, 1.1744, 1.0923, 0.89427, 0.53808, 3.0901, 0.61367, 0.12079, 1.0533, 0.43111,
];
/// Weight of each standardised feature in the log-odds.
pub(crate) const WEIGHTS: [f64; N_FEATURES] = [
    0.19134, -0.16891, 0.39837, 0.027181, 0.66639, 0.0046778, -0.014367, 0.13332, 0.37351, 0.021656,
    -0.24212, -0.11357, -0.19679, -0.50324, 0.37734, 0.10814, -0.38294, -0.87447, 0.023652, -0.099963,
    0.91226, -0.14718,
];
/// Log-odds of a candidate with mean features.
pub(crate) const BIAS: f64 = -4.0032;
/// log10 of false traces per megapixel of scratch-free stone at log-odds 0, and its change per unit of log-odds.
pub(crate) const FALSE_LINE: [f64; 2] = [-0.6286, -1.007];
