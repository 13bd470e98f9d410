//! Cross-sections a groove can have: bright or dark strips (even) and a bright side beside a dark one (odd).

/// Which kind of cross-section.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Parity {
    /// One strip with two flanks of the other sign, `(1 − u²) exp(−u²/2)`.
    Even,
    /// A bright and a dark side, as one-sided light draws a groove, `u exp(−u²/2)`.
    Odd,
}

impl Parity {
    /// Shape at `u` template widths from the axis, not normalised.
    pub fn shape(self, u: f64) -> f64 {
        match self {
            Self::Even => (1.0 - u * u) * (-0.5 * u * u).exp(),
            Self::Odd => u * (-0.5 * u * u).exp(),
        }
    }

    /// Derivative of [`Parity::shape`] with respect to `u`.
    pub fn slope(self, u: f64) -> f64 {
        match self {
            Self::Even => (u * u - 3.0) * u * (-0.5 * u * u).exp(),
            Self::Odd => (1.0 - u * u) * (-0.5 * u * u).exp(),
        }
    }
}

/// A cross-section sampled at whole steps, mean zero and unit norm.
#[derive(Debug, Clone)]
pub(crate) struct Taps {
    /// Index of the sample on the axis.
    pub centre: usize,
    pub weights: Vec<f32>,
}

/// Samples a cross-section of width `sigma_px` at steps of `step_px`, its axis `shift_px` from the central sample.
pub(crate) fn taps(parity: Parity, sigma_px: f64, step_px: f64, shift_px: f64) -> Taps {
    let centre = ((3.2 * sigma_px + shift_px.abs()) / step_px).ceil().max(1.0) as usize;
    let mut weights: Vec<f64> = (0..=2 * centre)
        .map(|i| parity.shape(((i as f64 - centre as f64) * step_px - shift_px) / sigma_px))
        .collect();
    let mean = weights.iter().sum::<f64>() / weights.len() as f64;
    weights.iter_mut().for_each(|w| *w -= mean);
    let norm = weights.iter().map(|w| w * w).sum::<f64>().sqrt().max(1e-12);
    Taps { centre, weights: weights.iter().map(|w| (w / norm) as f32).collect() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn taps_have_no_mean_and_unit_norm() {
        for parity in [Parity::Even, Parity::Odd] {
            for (sigma, shift) in [(1.0, 0.0), (2.7, 0.4), (4.0, -1.3)] {
                let taps = taps(parity, sigma, 1.0, shift);
                assert!(taps.weights.iter().sum::<f32>().abs() < 1e-5);
                assert!((taps.weights.iter().map(|w| w * w).sum::<f32>() - 1.0).abs() < 1e-5);
            }
        }
    }

    #[test]
    fn slope_is_the_derivative() {
        for parity in [Parity::Even, Parity::Odd] {
            for u in [-1.7, -0.3, 0.0, 0.8, 2.1] {
                let numeric = (parity.shape(u + 1e-5) - parity.shape(u - 1e-5)) / 2e-5;
                assert!((parity.slope(u) - numeric).abs() < 1e-8);
            }
        }
    }
}
