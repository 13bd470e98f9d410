//! What is asked of a search for traces, and what comes of it.

use picture::{Distortion, Light};
use quantity::AxialDeg;

use crate::types::Trace;

/// False traces per megapixel of bare stone to expect by default: half of what is bearable, since on stones unlike those that
/// the judge learnt from up to twice as many come as expected; more gain little (F1 of rendered sets .61 at three, .62 at five and
/// at six).
const EXPECTED_FALSE: f64 = 5.0;

/// How to look for traces.
#[derive(Debug, Clone, PartialEq)]
pub struct Settings {
    /// False traces to expect per megapixel of scratch-free stone: 5 by default, 0.05 is strict. A number per area, so that the
    /// same stone is judged alike on pictures of one and of four megapixels.
    pub expected_false: f64,
    /// Where the light came from, as noted: one-sided light hides scratches along it; under light from all sides a line with a
    /// bright and a dark side is the edge of a groove. What the grooves themselves show goes before.
    pub light: Light,
    /// Lens distortion, taken off before directions and curvatures are fitted.
    pub lens: Option<Distortion>,
}

impl Default for Settings {
    fn default() -> Self {
        Self { expected_false: EXPECTED_FALSE, light: Light::Unknown, lens: None }
    }
}

/// Area that a smaller picture is judged as, MP: a crop of a few hundred pixels would otherwise ask more of each of its traces
/// than a lone clear line can give.
const LEAST_AREA_MPX: f64 = 0.6;

impl Settings {
    /// False traces to expect on a picture of scratch-free stone of this size.
    #[must_use]
    pub fn expected_on(&self, width_px: usize, height_px: usize) -> f64 {
        self.expected_false * ((width_px * height_px) as f64 / 1e6).max(LEAST_AREA_MPX)
    }
}

/// The traces on one picture.
#[derive(Debug, Clone, PartialEq)]
pub struct Found {
    /// Traces, strongest first.
    pub traces: Vec<Trace>,
    /// Why no traces are reported, where that is so; not an error but an answer.
    pub refused: Option<String>,
    /// Spread of the grey values about their local background, grey units.
    pub noise_sigma: f32,
    /// Typical standard deviation with which one independent pixel of length places the axis of a groove, px.
    pub localisation_px: f64,
    /// Typical wandering of grooves about their arcs beyond that, px.
    pub waviness_px: f64,
    /// Directions that this light could not have shown.
    pub hidden: Option<HiddenSector>,
}

/// Directions within an angle of an axis.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HiddenSector {
    /// Middle of the sector: the azimuth of the light.
    pub axis: AxialDeg,
    /// Half its width, degrees.
    pub half_width_deg: f64,
}
