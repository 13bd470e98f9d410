//! What the program that trains the classifier needs: candidates before they are judged, with their features.

use picture::Grey;

use crate::background::clear;
pub use crate::classify::FEATURE_CUT;
pub use crate::features::N_FEATURES;
use crate::find::{candidates, features_of};

/// A candidate with its features.
#[derive(Debug, Clone, PartialEq)]
pub struct Example {
    /// Features, in the order of the classifier's table.
    pub features: [f64; N_FEATURES],
    /// Its axis, px.
    pub points_px: Vec<[f64; 2]>,
}

/// All candidates on a picture, strongest first.
#[must_use]
pub fn examples(grey: &Grey) -> Vec<Example> {
    let cleared = clear(grey.width(), grey.height(), grey.values());
    let Some(candidates) = candidates(&cleared, None, &|_| true) else { return Vec::new() };
    let features = features_of(&candidates, &cleared);
    features
        .into_iter()
        .zip(candidates)
        .map(|(features, c)| Example { features, points_px: c.points_px })
        .collect()
}
