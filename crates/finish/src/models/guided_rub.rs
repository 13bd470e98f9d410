//! Guided straight rub: a block held against a guide, or drawn along a straight-edge.

use super::path::{Curve, Path};
use super::prior::{
    COMMON_PRACTICE, Matched, Parameter, Scale, Values, any_angle, either_sign, normal, span,
};
use super::{Model, Motion};
use rand::RngExt;
use rand_pcg::Pcg64;

/// Long strokes, nearly straight and nearly parallel.
pub struct GuidedRub;

const SPREAD: usize = 0;
const RADIUS: usize = 1;
const LENGTH: usize = 2;
const SECOND: usize = 3;

static PARAMETERS: [Parameter; 4] = [
    Parameter {
        name: "spread_deg",
        unit: "°",
        scale: Scale::Log,
        narrow: span(0.5, 4.0),
        shifted: &[span(2.0, 8.0)],
        beyond: span(6.0, 14.0),
        source: COMMON_PRACTICE,
    },
    Parameter {
        name: "radius_mm",
        unit: "mm",
        scale: Scale::Log,
        narrow: span(500.0, 10_000.0),
        shifted: &[span(200.0, 2000.0)],
        beyond: span(5000.0, 20_000.0),
        source: "common practice, no source; the play of the guide bends the stroke a little",
    },
    Parameter {
        name: "length_mm",
        unit: "mm",
        scale: Scale::Log,
        narrow: span(30.0, 400.0),
        shifted: &[span(10.0, 100.0)],
        beyond: span(300.0, 800.0),
        source: COMMON_PRACTICE,
    },
    Parameter {
        name: "second_direction",
        unit: "",
        scale: Scale::Chance,
        narrow: span(0.1, 0.2),
        shifted: &[span(0.1, 0.3)],
        beyond: span(0.3, 0.5),
        source: COMMON_PRACTICE,
    },
];

impl Model for GuidedRub {
    fn name(&self) -> &'static str {
        "guided-rub"
    }

    fn sentence(&self) -> &'static str {
        "a block rubbed along a guide: long strokes, nearly straight and nearly parallel"
    }

    fn parameters(&self) -> &'static [Parameter] {
        &PARAMETERS
    }

    fn motions(&self, values: &Values, rng: &mut Pcg64) -> Vec<Motion> {
        let first = any_angle(rng);
        let sets = if values[SECOND] > 0.5 { 2 } else { 1 };
        (0..sets)
            .map(|set| Motion {
                heading_rad: if set == 0 { first } else { any_angle(rng) },
                centre_mm: [0.0; 2],
                sense: either_sign(rng),
                radius_mm: values[RADIUS] * (0.2 * normal(rng)).exp(),
                share: 0.4 + rng.random::<f64>(),
            })
            .collect()
    }

    fn stroke(&self, values: &Values, motion: &Motion, at_mm: [f64; 2], rng: &mut Pcg64) -> Path {
        let heading_rad = motion.heading_rad + values[SPREAD].to_radians() * normal(rng);
        // The guide bends all its strokes alike.
        let per_mm = motion.sense * (1.0 + 0.15 * normal(rng)) / motion.radius_mm;
        let length = values[LENGTH] * (0.3 * normal(rng)).exp();
        let behind_mm = length * rng.random::<f64>();
        let curve = Curve::Bend { per_mm, change_per_mm2: 0.3 * normal(rng) * per_mm / length };
        Path { at_mm, heading_rad, behind_mm, ahead_mm: length - behind_mm, curve }
    }

    fn match_to(&self, values: &mut Values, matched: &Matched, rng: &mut Pcg64) {
        values[SPREAD] = matched.spread_deg.draw(rng).max(0.1);
        values[RADIUS] = matched.radius_mm.log_draw(rng);
        values[LENGTH] = matched.stroke_mm.log_draw(rng);
        values[SECOND] = 0.0;
    }
}
