//! Rotating pad: a flat disc turns about its own axis and is fed over the surface.

use super::path::{Curve, Path};
use super::prior::{
    COMMON_PRACTICE, Matched, Parameter, Scale, Values, any_angle, either_sign, normal, span,
};
use super::{Model, Motion};
use rand::RngExt;
use rand_pcg::Pcg64;
use std::f64::consts::FRAC_PI_2;

/// A disc fed along a line. A grain at distance `r` from the axis draws an arc of radius about `r`; what survives in
/// a spot is mostly what the trailing rim drew last, so radii reach from the rim down to a minimum.
pub struct RotatingPad;

const DIAMETER: usize = 0;
const TRAILING: usize = 1;
const ARC: usize = 2;
const PASSES: usize = 3;
const TILTED: usize = 4;

static PARAMETERS: [Parameter; 5] = [
    Parameter {
        name: "pad_diameter_mm",
        unit: "mm",
        scale: Scale::Log,
        narrow: span(20.0, 200.0),
        shifted: &[span(12.0, 40.0), span(150.0, 400.0)],
        beyond: span(300.0, 700.0),
        source: COMMON_PRACTICE,
    },
    Parameter {
        name: "trailing_weight",
        unit: "",
        scale: Scale::Linear,
        narrow: span(0.0, 6.0),
        shifted: &[span(3.0, 12.0)],
        beyond: span(9.0, 20.0),
        source: "ours: 0 keeps every contact of the pass, large values only the last one",
    },
    Parameter {
        name: "arc_length_mm",
        unit: "mm",
        scale: Scale::Log,
        narrow: span(5.0, 80.0),
        shifted: &[span(3.0, 30.0)],
        beyond: span(60.0, 140.0),
        source: COMMON_PRACTICE,
    },
    Parameter {
        name: "passes",
        unit: "",
        scale: Scale::Count,
        narrow: span(1.0, 4.0),
        shifted: &[span(1.0, 4.0)],
        beyond: span(4.0, 7.0),
        source: COMMON_PRACTICE,
    },
    Parameter {
        name: "tilted_pad",
        unit: "",
        scale: Scale::Chance,
        narrow: span(0.3, 0.5),
        shifted: &[span(0.3, 0.6)],
        beyond: span(0.6, 0.9),
        source: "common practice, no source: a pad held by hand is often pressed on one edge",
    },
];

/// Half-width of the sector of the rim that touches when the pad is tilted, radians (ours).
const TILTED_SECTOR_RAD: f64 = 0.35;
/// Nearest to the axis a grain draws a line at all, mm (ours): closer in it only turns on the spot.
const SMALLEST_RADIUS_MM: f64 = 0.5;

impl Model for RotatingPad {
    fn name(&self) -> &'static str {
        "rotating-pad"
    }

    fn sentence(&self) -> &'static str {
        "a disc turns about its own axis while it is fed over the surface: overlapping arcs, radii from the rim inwards"
    }

    fn parameters(&self) -> &'static [Parameter] {
        &PARAMETERS
    }

    fn motions(&self, values: &Values, rng: &mut Pcg64) -> Vec<Motion> {
        let radius_mm = 0.5 * values[DIAMETER];
        let (first, sense) = (any_angle(rng), either_sign(rng));
        // Passes either run parallel (to and fro) or cross.
        let crossing = rng.random::<f64>() < 0.5;
        (0..values[PASSES] as usize)
            .map(|pass| {
                let turn = if crossing { any_angle(rng) } else { std::f64::consts::PI * (pass % 2) as f64 };
                let heading_rad = first + turn + 0.1 * normal(rng);
                let lateral = radius_mm * (1.8 * rng.random::<f64>() - 0.9);
                let tilt = 0.6 * normal(rng);
                Motion {
                    heading_rad,
                    centre_mm: [lateral, tilt],
                    sense,
                    radius_mm,
                    share: 0.3 + rng.random::<f64>(),
                }
            })
            .collect()
    }

    fn stroke(&self, values: &Values, motion: &Motion, at_mm: [f64; 2], rng: &mut Pcg64) -> Path {
        let rim = motion.radius_mm;
        let (radius, bearing) = if values[TILTED] > 0.5 {
            let bearing = std::f64::consts::PI
                + motion.centre_mm[1]
                + TILTED_SECTOR_RAD * (2.0 * rng.random::<f64>() - 1.0);
            (rim * (0.88 + 0.12 * rng.random::<f64>()), bearing)
        } else {
            flat_contact(values, motion, at_mm, rng)
        };
        let heading_rad = motion.heading_rad + bearing + motion.sense * FRAC_PI_2;
        // The feed adds to or takes from the rim speed, so curvature differs a little and changes along the arc.
        let per_mm = motion.sense / radius * (1.0 + 0.04 * normal(rng));
        let change_per_mm2 = 0.03 * normal(rng) * per_mm / radius;
        let length = (values[ARC] * (0.4 * normal(rng)).exp()).min(5.0 * radius);
        let behind_mm = length * rng.random::<f64>();
        Path {
            at_mm,
            heading_rad,
            behind_mm,
            ahead_mm: length - behind_mm,
            curve: Curve::Bend { per_mm, change_per_mm2 },
        }
    }

    fn match_to(&self, values: &mut Values, matched: &Matched, rng: &mut Pcg64) {
        values[DIAMETER] = 2.0 * matched.radius_mm.log_draw(rng);
        values[ARC] = matched.stroke_mm.log_draw(rng);
        values[PASSES] = 1.0;
        values[TILTED] = 1.0;
    }
}

/// Radius and bearing (from the pad's axis, feed along 0) of the contact that drew the mark at a point.
fn flat_contact(values: &Values, motion: &Motion, at_mm: [f64; 2], rng: &mut Pcg64) -> (f64, f64) {
    let rim = motion.radius_mm;
    let (sin, cos) = motion.heading_rad.sin_cos();
    // Neighbouring passes overlap by a fifth: a point beyond this strip lies in the next one.
    let strip = 0.8 * rim;
    let lateral =
        (motion.centre_mm[0] + at_mm[1] * cos - at_mm[0] * sin + strip).rem_euclid(2.0 * strip) - strip;
    let half_chord = (rim * rim - lateral * lateral).sqrt();
    let weight = values[TRAILING] / rim;
    // Longer tracks are drawn further out: accept in proportion to the radius, a few tries are enough.
    let mut best = (rim, std::f64::consts::PI);
    for _ in 0..4 {
        let along = last_contact(half_chord, weight, rng.random::<f64>());
        let radius = along.hypot(lateral).max(SMALLEST_RADIUS_MM);
        best = (radius, lateral.atan2(along));
        if rng.random::<f64>() < radius / rim {
            break;
        }
    }
    best
}

/// Place along the chord, from `-half` (trailing, last) to `half`, with density falling as `exp(-weight·place)`.
fn last_contact(half: f64, weight: f64, u: f64) -> f64 {
    let span = weight * 2.0 * half;
    if span < 1e-6 {
        return half * (2.0 * u - 1.0);
    }
    -half - (1.0 - u * (1.0 - (-span).exp())).ln() / weight
}
