//! What the program that trains the classifier needs: candidates before they are judged, with their features.

use picture::{Grey, Light};

use crate::background::clear;
pub use crate::classify::FEATURE_CUT;
use crate::duplicates;
pub use crate::features::N_FEATURES;
use crate::find::{candidates, features_of};

/// A candidate with its features.
#[derive(Debug, Clone, PartialEq)]
pub struct Example {
    /// Features, in the order of the classifier's table.
    pub features: [f64; N_FEATURES],
    /// Its axis, px.
    pub points_px: Vec<[f64; 2]>,
    /// Width of its cross-section, px.
    pub sigma_px: f64,
}

/// All candidates on a picture in this light, strongest first; some lie on one another.
#[must_use]
pub fn examples(grey: &Grey, light: Light) -> Vec<Example> {
    let cleared = clear(grey.width(), grey.height(), grey.values());
    let Some(candidates) = candidates(&cleared, light, None, &|_| true) else { return Vec::new() };
    let features = features_of(&candidates, &cleared);
    features
        .into_iter()
        .zip(candidates)
        .map(|(features, c)| {
            let (_, sigma_px) = c.line();
            Example { features, points_px: c.points_px, sigma_px }
        })
        .collect()
}

/// Of candidates on a picture of this size, best first, those that do not lie on better ones.
#[must_use]
pub fn single(examples: &[&Example], width: usize, height: usize) -> Vec<bool> {
    duplicates::single(examples.iter().map(|e| (e.points_px.as_slice(), e.sigma_px)), width, height)
}
