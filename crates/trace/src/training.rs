//! What the program that trains the classifier needs: candidates before they are judged, with their features.

use picture::{Grey, Light};

pub use crate::classify::FEATURE_CUT;
use crate::duplicates;
pub use crate::features::N_FEATURES;
use crate::find::look;
use crate::level::{Level, Placed};

/// Number of levels, each with weights of its own: full and half resolution.
pub const LEVELS: usize = Level::COUNT;

/// A candidate with its features.
#[derive(Debug, Clone, PartialEq)]
pub struct Example {
    /// Number of the level where it was seen, below [`LEVELS`].
    pub level: usize,
    /// Features, in the order of the classifier's table.
    pub features: [f64; N_FEATURES],
    /// Its axis, px.
    pub points_px: Vec<[f64; 2]>,
    /// Width of its cross-section, px.
    pub sigma_px: f64,
}

/// All candidates on a picture in this light, those of each level together; some lie on one another.
#[must_use]
pub fn examples(grey: &Grey, light: Light) -> Vec<Example> {
    let seen = look(grey, light, None, &|_| true).map_or_else(Vec::new, |looked| looked.seen);
    seen.into_iter()
        .map(|seen| {
            let Placed { points_px, sigma_px, .. } = seen.placed;
            Example { level: seen.level as usize, features: seen.features, points_px, sigma_px }
        })
        .collect()
}

/// Of candidates on a picture of this size, best first, those that do not lie on better ones.
#[must_use]
pub fn single(examples: &[&Example], width: usize, height: usize) -> Vec<bool> {
    duplicates::single(examples.iter().map(|e| (e.points_px.as_slice(), e.sigma_px)), width, height)
}
