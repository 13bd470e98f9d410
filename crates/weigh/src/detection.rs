//! How likely a scratch is found at all, by its length, width and contrast.

/// Chance of detection: logistic in the logarithms of length, width and contrast.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DetectionModel {
    /// Log odds for a scratch of 1 px length and 1 px width at a contrast of 1.
    pub constant: f64,
    /// Gain in log odds for each e-fold of the visible length.
    pub per_log_length: f64,
    /// Gain for each e-fold of the width.
    pub per_log_width: f64,
    /// Gain for each e-fold of the contrast (contrast-to-noise ratio of the strip).
    pub per_log_contrast: f64,
    /// Contrast that the nuisance of contrast is counted from.
    pub usual_contrast: f64,
}

impl DetectionModel {
    /// Measured: which of the true scratches on rendered micrographs this project's tracer finds. Logistic regression on
    /// [`MEASURED_ON`] scratches; `cargo run --release -p rubstone-benches --bin weigh -- detect 10` prints it anew.
    pub const MEASURED: DetectionModel = DetectionModel {
        constant: -4.80,
        per_log_length: 1.08,
        per_log_width: 1.20,
        per_log_contrast: 1.64,
        usual_contrast: 1.04,
    };

    /// Its numbers, for the key of a stored engine.
    pub(crate) fn numbers(&self) -> [f64; 5] {
        [self.constant, self.per_log_length, self.per_log_width, self.per_log_contrast, self.usual_contrast]
    }

    /// Chance that a trace of this visible length and width is found; `log_contrast` counts from the usual contrast.
    #[must_use]
    pub fn chance(&self, length_px: f64, width_px: f64, log_contrast: f64) -> f64 {
        let odds = self.constant
            + self.per_log_length * length_px.max(1e-3).ln()
            + self.per_log_width * width_px.max(1e-3).ln()
            + self.per_log_contrast * (self.usual_contrast.ln() + log_contrast);
        1.0 / (1.0 + (-odds).exp())
    }
}

/// Scratches behind [`DetectionModel::MEASURED`]: ten rendered pictures of about 1 MP (eight with scratches, on four stones
/// under three instruments; a tenth, half and nine tenths of the scratches had contrasts below 0.39, 1.04 and 2.91).
pub const MEASURED_ON: usize = 808;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn longer_wider_and_stronger_is_found_more_often() {
        let model = DetectionModel::MEASURED;
        let base = model.chance(60.0, 1.5, 0.0);
        assert!(model.chance(120.0, 1.5, 0.0) > base);
        assert!(model.chance(60.0, 3.0, 0.0) > base);
        assert!(model.chance(60.0, 1.5, 0.5) > base);
        assert!(base > 0.0 && base < 1.0);
    }
}
