//! Superposition: a layer of later wear or cleaning over a finish.

use super::path::{Curve, Path};
use super::prior::{COMMON_PRACTICE, Draw, Parameter, Scale, any_angle, either_sign, normal, span};
use rand::RngExt;
use rand_pcg::Pcg64;

/// A later layer: scattered scratches of handling and weather, or the wipes of a cleaning in one direction.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Wear {
    /// Share of all strokes that belong to the later layer, 0 to 1.
    pub share: f64,
    /// Wipes in one direction instead of scattered scratches.
    pub wiped: bool,
    /// Median length of a stroke, mm.
    pub length_mm: f64,
    /// Median radius of curvature, mm.
    pub radius_mm: f64,
    /// Width of its strokes as a factor of the finish's.
    pub width_factor: f64,
}

static PARAMETERS: [Parameter; 5] = [
    Parameter {
        name: "wear_share",
        unit: "",
        scale: Scale::Linear,
        narrow: span(0.0, 0.1),
        shifted: &[span(0.1, 0.4)],
        beyond: span(0.3, 0.6),
        source: COMMON_PRACTICE,
    },
    Parameter {
        name: "wiped",
        unit: "",
        scale: Scale::Chance,
        narrow: span(0.2, 0.4),
        shifted: &[span(0.2, 0.4)],
        beyond: span(0.2, 0.4),
        source: COMMON_PRACTICE,
    },
    Parameter {
        name: "wear_length_mm",
        unit: "mm",
        scale: Scale::Log,
        narrow: span(0.5, 30.0),
        shifted: &[span(0.5, 30.0)],
        beyond: span(20.0, 60.0),
        source: COMMON_PRACTICE,
    },
    Parameter {
        name: "wear_radius_mm",
        unit: "mm",
        scale: Scale::Log,
        narrow: span(20.0, 2000.0),
        shifted: &[span(20.0, 2000.0)],
        beyond: span(1000.0, 4000.0),
        source: COMMON_PRACTICE,
    },
    Parameter {
        name: "wear_width_factor",
        unit: "",
        scale: Scale::Log,
        narrow: span(0.5, 1.5),
        shifted: &[span(0.5, 1.5)],
        beyond: span(0.3, 0.6),
        source: COMMON_PRACTICE,
    },
];

impl Wear {
    /// Parameters of the layer and where their ranges come from.
    #[must_use]
    pub fn parameters() -> &'static [Parameter] {
        &PARAMETERS
    }

    /// No later layer.
    pub const NONE: Wear =
        Wear { share: 0.0, wiped: false, length_mm: 1.0, radius_mm: 100.0, width_factor: 1.0 };

    /// The layer over one object.
    pub fn draw(draw: &Draw, rng: &mut Pcg64) -> Wear {
        let lean = draw.nuisance_lean(rng);
        let mut value = |index: usize| draw.value(&PARAMETERS[index], lean, rng);
        Wear {
            share: value(0),
            wiped: value(1) > 0.5,
            length_mm: value(2),
            radius_mm: value(3),
            width_factor: value(4),
        }
    }

    /// A stroke of the layer through a point; `wipe_rad` is the direction of wiping at this station.
    pub(super) fn stroke(&self, wipe_rad: f64, at_mm: [f64; 2], rng: &mut Pcg64) -> Path {
        let heading_rad = if self.wiped { wipe_rad + 0.3 * normal(rng) } else { any_angle(rng) };
        let length = self.length_mm * (0.6 * normal(rng)).exp();
        let per_mm = either_sign(rng) / (self.radius_mm * (0.5 * normal(rng)).exp());
        let behind_mm = length * rng.random::<f64>();
        let curve = Curve::Bend { per_mm, change_per_mm2: 0.0 };
        Path { at_mm, heading_rad, behind_mm, ahead_mm: length - behind_mm, curve }
    }
}
