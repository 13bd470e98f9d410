//! Free-hand rub with grit on cloth, leather or stone.

use super::path::{Curve, Path};
use super::prior::{
    COMMON_PRACTICE, Matched, Parameter, Scale, Values, any_angle, either_sign, normal, span,
};
use super::{Model, Motion};
use rand::RngExt;
use rand_pcg::Pcg64;

/// Groups of strokes about the arm's own joints: radius, length and direction vary, and the side of bending flips.
pub struct FreeHand;

const RADIUS: usize = 0;
const GROUPS: usize = 1;
const LENGTH: usize = 2;
const SPREAD: usize = 3;
const FLIPS: usize = 4;
const RADIUS_LOG_SD: usize = 5;

static PARAMETERS: [Parameter; 6] = [
    Parameter {
        name: "radius_mm",
        unit: "mm",
        scale: Scale::Log,
        narrow: span(30.0, 300.0),
        shifted: &[span(80.0, 800.0)],
        beyond: span(600.0, 1500.0),
        source: "common practice, no source; from the wrist to the shoulder",
    },
    Parameter {
        name: "groups",
        unit: "",
        scale: Scale::Count,
        narrow: span(2.0, 6.0),
        shifted: &[span(1.0, 3.0)],
        beyond: span(5.0, 9.0),
        source: COMMON_PRACTICE,
    },
    Parameter {
        name: "length_mm",
        unit: "mm",
        scale: Scale::Log,
        narrow: span(10.0, 150.0),
        shifted: &[span(5.0, 60.0)],
        beyond: span(120.0, 300.0),
        source: COMMON_PRACTICE,
    },
    Parameter {
        name: "spread_deg",
        unit: "°",
        scale: Scale::Log,
        narrow: span(4.0, 15.0),
        shifted: &[span(3.0, 12.0)],
        beyond: span(12.0, 25.0),
        source: COMMON_PRACTICE,
    },
    Parameter {
        name: "flip_share",
        unit: "",
        scale: Scale::Linear,
        narrow: span(0.05, 0.5),
        shifted: &[span(0.0, 0.4)],
        beyond: span(0.3, 0.5),
        source: COMMON_PRACTICE,
    },
    Parameter {
        name: "radius_log_sd",
        unit: "",
        scale: Scale::Linear,
        narrow: span(0.3, 0.5),
        shifted: &[span(0.2, 0.5)],
        beyond: span(0.4, 0.7),
        source: COMMON_PRACTICE,
    },
];

impl Model for FreeHand {
    fn name(&self) -> &'static str {
        "free-hand"
    }

    fn sentence(&self) -> &'static str {
        "rubbing by hand with grit on cloth, leather or stone: groups of strokes of varying radius, length and direction"
    }

    fn parameters(&self) -> &'static [Parameter] {
        &PARAMETERS
    }

    fn motions(&self, values: &Values, rng: &mut Pcg64) -> Vec<Motion> {
        (0..values[GROUPS] as usize)
            .map(|_| Motion {
                heading_rad: any_angle(rng),
                centre_mm: [0.0; 2],
                sense: either_sign(rng),
                radius_mm: values[RADIUS] * (0.25 * normal(rng)).exp(),
                share: 0.2 + rng.random::<f64>(),
            })
            .collect()
    }

    fn stroke(&self, values: &Values, motion: &Motion, at_mm: [f64; 2], rng: &mut Pcg64) -> Path {
        let heading_rad = motion.heading_rad + values[SPREAD].to_radians() * normal(rng);
        let flip = if rng.random::<f64>() < values[FLIPS] { -1.0 } else { 1.0 };
        let radius = motion.radius_mm * (values[RADIUS_LOG_SD] * normal(rng)).exp();
        let per_mm = flip * motion.sense / radius;
        let length = values[LENGTH] * (0.5 * normal(rng)).exp();
        let behind_mm = length * rng.random::<f64>();
        let curve = Curve::Bend { per_mm, change_per_mm2: 0.8 * normal(rng) * per_mm / length };
        Path { at_mm, heading_rad, behind_mm, ahead_mm: length - behind_mm, curve }
    }

    fn match_to(&self, values: &mut Values, matched: &Matched, rng: &mut Pcg64) {
        values[RADIUS] = matched.radius_mm.log_draw(rng);
        values[LENGTH] = matched.stroke_mm.log_draw(rng);
        values[GROUPS] = 1.0;
        values[SPREAD] = matched.spread_deg.draw(rng);
    }
}
