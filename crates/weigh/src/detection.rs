//! How likely a scratch is found at all, by its length, width and contrast.

/// Chance of detection as a product of logistic curves, times what the light hides.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DetectionModel {
    /// Length found in half of all cases at the usual contrast, px.
    pub length_px: f64,
    /// Spread of the logistic curve in the logarithm of the length.
    pub length_log_scale: f64,
    /// Width found in half of all cases, px.
    pub width_px: f64,
    /// Spread of the logistic curve in the logarithm of the width.
    pub width_log_scale: f64,
    /// By how much the logarithm of the contrast shifts the logarithm of the length needed.
    pub contrast_slope: f64,
    /// Highest chance: even a plain scratch may be lost in a crowd.
    pub ceiling: f64,
}

impl DetectionModel {
    /// The feasibility study's assumption (half of all at 40 px length and 0.8 px width), until measured.
    pub const ASSUMED: DetectionModel = DetectionModel {
        length_px: 40.0,
        length_log_scale: 0.25,
        width_px: 0.8,
        width_log_scale: 0.25,
        contrast_slope: 1.0,
        ceiling: 0.97,
    };

    /// Chance that a trace of this visible length and width is found.
    #[must_use]
    pub fn chance(&self, length_px: f64, width_px: f64, log_contrast: f64) -> f64 {
        let by_length = (length_px.max(1e-3) / self.length_px).ln() + self.contrast_slope * log_contrast;
        let by_width = (width_px.max(1e-3) / self.width_px).ln();
        self.ceiling * logistic(by_length / self.length_log_scale) * logistic(by_width / self.width_log_scale)
    }
}

fn logistic(x: f64) -> f64 {
    1.0 / (1.0 + (-x).exp())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn longer_wider_and_stronger_is_found_more_often() {
        let model = DetectionModel::ASSUMED;
        let base = model.chance(60.0, 1.5, 0.0);
        assert!(model.chance(120.0, 1.5, 0.0) > base);
        assert!(model.chance(60.0, 3.0, 0.0) > base);
        assert!(model.chance(60.0, 1.5, 0.5) > base);
        assert!(base > 0.0 && base < 1.0);
    }
}
