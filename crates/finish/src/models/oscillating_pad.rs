//! Oscillating pad: short strokes to and fro, straight or about a pivot.

use super::path::{Curve, Path};
use super::prior::{
    COMMON_PRACTICE, Matched, Parameter, Scale, Values, any_angle, either_sign, normal, span,
};
use super::{Model, Motion};
use rand::RngExt;
use rand_pcg::Pcg64;
use std::f64::consts::FRAC_PI_2;

/// Strokes of a few millimetres with both ends close together in length, in one direction or two that cross.
pub struct OscillatingPad;

const STROKE: usize = 0;
const PIVOTING: usize = 1;
const PIVOT_RADIUS: usize = 2;
const CROSSED: usize = 3;
const CROSSING: usize = 4;
const SPREAD: usize = 5;
const FEED: usize = 6;

static PARAMETERS: [Parameter; 7] = [
    Parameter {
        name: "stroke_mm",
        unit: "mm",
        scale: Scale::Log,
        narrow: span(1.5, 8.0),
        shifted: &[span(0.8, 4.0)],
        beyond: span(6.0, 15.0),
        source: COMMON_PRACTICE,
    },
    Parameter {
        name: "pivoting",
        unit: "",
        scale: Scale::Chance,
        narrow: span(0.3, 0.5),
        shifted: &[span(0.6, 0.8)],
        beyond: span(0.5, 0.9),
        source: COMMON_PRACTICE,
    },
    Parameter {
        name: "pivot_radius_mm",
        unit: "mm",
        scale: Scale::Log,
        narrow: span(30.0, 90.0),
        shifted: &[span(15.0, 60.0)],
        beyond: span(80.0, 170.0),
        source: COMMON_PRACTICE,
    },
    Parameter {
        name: "two_directions",
        unit: "",
        scale: Scale::Chance,
        narrow: span(0.4, 0.6),
        shifted: &[span(0.4, 0.6)],
        beyond: span(0.4, 0.6),
        source: COMMON_PRACTICE,
    },
    Parameter {
        name: "crossing_deg",
        unit: "°",
        scale: Scale::Linear,
        narrow: span(30.0, 50.0),
        shifted: &[span(15.0, 80.0)],
        beyond: span(70.0, 90.0),
        source: COMMON_PRACTICE,
    },
    Parameter {
        name: "spread_deg",
        unit: "°",
        scale: Scale::Log,
        narrow: span(2.0, 8.0),
        shifted: &[span(5.0, 15.0)],
        beyond: span(12.0, 25.0),
        source: COMMON_PRACTICE,
    },
    Parameter {
        name: "feed_per_stroke",
        unit: "",
        scale: Scale::Log,
        narrow: span(0.003, 0.05),
        shifted: &[span(0.01, 0.1)],
        beyond: span(0.08, 0.2),
        source: "ours: feed across the stroke as a share of the stroke",
    },
];

impl Model for OscillatingPad {
    fn name(&self) -> &'static str {
        "oscillating-pad"
    }

    fn sentence(&self) -> &'static str {
        "short strokes to and fro of nearly equal length, straight or about a pivot, in one direction or two that cross"
    }

    fn parameters(&self) -> &'static [Parameter] {
        &PARAMETERS
    }

    fn motions(&self, values: &Values, rng: &mut Pcg64) -> Vec<Motion> {
        let (first, sense) = (any_angle(rng), either_sign(rng));
        let crossing =
            if values[CROSSED] > 0.5 { either_sign(rng) * values[CROSSING].to_radians() } else { 0.0 };
        let sets: &[f64] = if crossing == 0.0 { &[0.0] } else { &[0.0, 1.0] };
        sets.iter()
            .map(|set| Motion {
                heading_rad: first + set * crossing,
                centre_mm: [0.0; 2],
                sense,
                radius_mm: values[PIVOT_RADIUS],
                share: 0.4 + rng.random::<f64>(),
            })
            .collect()
    }

    fn stroke(&self, values: &Values, motion: &Motion, at_mm: [f64; 2], rng: &mut Pcg64) -> Path {
        let heading_rad = motion.heading_rad + values[SPREAD].to_radians() * normal(rng);
        let stroke = values[STROKE] * (0.08 * normal(rng)).exp();
        if values[PIVOTING] > 0.5 {
            let per_mm = motion.sense / (motion.radius_mm * (0.06 * normal(rng)).exp());
            let behind_mm = stroke * rng.random::<f64>();
            let curve = Curve::Bend { per_mm, change_per_mm2: 0.0 };
            return Path { at_mm, heading_rad, behind_mm, ahead_mm: stroke - behind_mm, curve };
        }
        // Evenly along the stroke, not along the phase.
        let phase_rad = (2.0 * rng.random::<f64>() - 1.0).asin();
        let feed_mm = stroke * values[FEED] / (2.0 * FRAC_PI_2) * either_sign(rng);
        let curve = Curve::Swing { amplitude_mm: 0.5 * stroke, phase_rad, feed_mm };
        Path { at_mm, heading_rad, behind_mm: 2.0 * stroke, ahead_mm: 2.0 * stroke, curve }
    }

    fn match_to(&self, values: &mut Values, matched: &Matched, rng: &mut Pcg64) {
        values[STROKE] = matched.stroke_mm.log_draw(rng);
        values[PIVOTING] = 1.0;
        values[PIVOT_RADIUS] = matched.radius_mm.log_draw(rng);
        values[CROSSED] = 0.0;
        values[SPREAD] = matched.spread_deg.draw(rng);
    }
}
