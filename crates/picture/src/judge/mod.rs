//! How far a picture can be trusted: focus, motion blur, clipping, uneven light, compression, sensor lines, noise.

mod blocks;
mod focus;
mod level;
mod lines;
mod motion;
mod noise;
mod spectrum;
mod verdict;

use quantity::{AxialDeg, Measured};

use crate::{Facts, Grey};

/// Whether a picture can be measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Verdict {
    /// Nothing found that harms.
    Usable,
    /// Usable, with the reasons kept in mind.
    UsableWithCare,
    /// Its marks would mislead.
    NotUsable,
}

impl Verdict {
    /// The verdict in words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Usable => "usable",
            Self::UsableWithCare => "usable with care",
            Self::NotUsable => "not usable",
        }
    }
}

/// Blur from motion during the exposure: it draws every speck out into a streak and so fakes a lay.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Motion {
    /// Direction of the motion.
    pub direction: AxialDeg,
    /// Length of the motion in pixels.
    pub length_px: f64,
}

/// The grid that block-wise compression leaves; it fakes lines at 0° and 90°.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BlockGrid {
    /// Distance of the grid lines in pixels: 8 as saved, otherwise the picture was resized afterwards.
    pub period_px: f64,
    /// Positions of the first grid line in x and y, pixels from the centre of the first pixel.
    pub phase_px: [f64; 2],
    /// Mean step at grid lines beyond that elsewhere, as a share of the mean step elsewhere.
    pub strength: f64,
}

/// Lines that the sensor adds to whole rows or columns; they fake lines at 0° and 90°.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SensorLines {
    /// Standard deviation of the rows' own offsets, on the 0–1 scale; 0 where none is found.
    pub rows: f64,
    /// The same of the columns.
    pub columns: f64,
}

/// The judgement of one picture.
#[derive(Debug, Clone, PartialEq)]
pub struct Quality {
    /// In one word.
    pub verdict: Verdict,
    /// Why, in plain words; empty if nothing was found.
    pub reasons: Vec<String>,
    /// Blur as the standard deviation of the point spread, in pixels; `None` where no edge is strong enough to tell.
    pub focus_sigma_px: Option<Measured>,
    /// Motion blur, if found.
    pub motion: Option<Motion>,
    /// Compression grid, if found.
    pub blocks: Option<BlockGrid>,
    /// Sensor lines, if found.
    pub sensor_rows: Option<SensorLines>,
    /// Share of pixels that are fully black or fully white.
    pub clipped_share: f64,
    /// Range of the light's fall-off over the picture, as a share of its mean.
    pub unevenness: f64,
    /// Standard deviation of the fine noise, on the 0–1 scale.
    pub noise_sigma: f64,
}

/// Judges a picture.
///
/// # Source
/// Each measure names its own (files of this module); the limits of the verdict are ours, set on rendered stone.
#[must_use]
pub fn judge(grey: &Grey, facts: &Facts) -> Quality {
    let level = level::measure(grey);
    let noise_sigma = noise::sigma(grey);
    let parts = focus::parts(grey);
    let mut quality = Quality {
        verdict: Verdict::Usable,
        reasons: Vec::new(),
        focus_sigma_px: focus::sigma(&parts, noise_sigma),
        motion: spectrum::mean_power(&parts)
            .and_then(|power| motion::find(&power))
            .filter(|found| motion::is_everywhere(grey, *found, noise_sigma)),
        blocks: blocks::find(grey),
        sensor_rows: lines::find(grey),
        clipped_share: level.clipped_share,
        unevenness: level.unevenness,
        noise_sigma,
    };
    verdict::weigh_up(&mut quality, facts, &level);
    quality
}
