//! Random-orbital pad: every grain runs in a small circle while the pad drifts.

use super::path::{Curve, Path};
use super::prior::{
    COMMON_PRACTICE, Matched, Parameter, Scale, Values, any_angle, either_sign, normal, span,
};
use super::{Model, Motion};
use rand::RngExt;
use rand_pcg::Pcg64;
use std::f64::consts::{FRAC_PI_2, TAU};

/// Small loops: all grains share the orbit's radius; the drift opens the loops into a trochoid.
pub struct OrbitalPad;

const ORBIT: usize = 0;
const DRIFT: usize = 1;
const CONTACT: usize = 2;
const RATE: usize = 3;

static PARAMETERS: [Parameter; 4] = [
    Parameter {
        name: "orbit_radius_mm",
        unit: "mm",
        scale: Scale::Log,
        narrow: span(1.0, 5.0),
        shifted: &[span(0.7, 3.0)],
        beyond: span(4.0, 9.0),
        source: COMMON_PRACTICE,
    },
    Parameter {
        name: "drift_mm_per_s",
        unit: "mm/s",
        scale: Scale::Log,
        narrow: span(20.0, 1000.0),
        shifted: &[span(100.0, 2000.0)],
        beyond: span(1500.0, 3500.0),
        source: "common practice, no source; feed by hand together with the slow turning of the pad",
    },
    Parameter {
        name: "contact_mm",
        unit: "mm",
        scale: Scale::Log,
        narrow: span(2.0, 15.0),
        shifted: &[span(1.0, 8.0)],
        beyond: span(12.0, 28.0),
        source: COMMON_PRACTICE,
    },
    Parameter {
        name: "orbits_per_s",
        unit: "1/s",
        scale: Scale::Linear,
        narrow: span(130.0, 200.0),
        shifted: &[span(80.0, 200.0)],
        beyond: span(190.0, 260.0),
        source: COMMON_PRACTICE,
    },
];

impl Model for OrbitalPad {
    fn name(&self) -> &'static str {
        "orbital-pad"
    }

    fn sentence(&self) -> &'static str {
        "every grain runs in a small circle while the pad drifts and slowly turns: small loops, open where the drift is fast"
    }

    fn parameters(&self) -> &'static [Parameter] {
        &PARAMETERS
    }

    fn motions(&self, values: &Values, rng: &mut Pcg64) -> Vec<Motion> {
        let sense = either_sign(rng);
        (0..rng.random_range(1..4_u8))
            .map(|_| Motion {
                heading_rad: any_angle(rng),
                centre_mm: [0.0; 2],
                sense,
                radius_mm: values[ORBIT],
                share: 1.0,
            })
            .collect()
    }

    fn stroke(&self, values: &Values, motion: &Motion, at_mm: [f64; 2], rng: &mut Pcg64) -> Path {
        let radius_mm = motion.radius_mm * (0.03 * normal(rng)).exp();
        // The slowly turning pad gives each grain its own drift, scattered about the feed.
        let drift = values[DRIFT] / (TAU * values[RATE]) * (0.3 * normal(rng)).exp();
        let direction = motion.heading_rad + 0.5 * normal(rng);
        let phase_rad = any_angle(rng);
        let length = values[CONTACT] * (0.4 * normal(rng)).exp();
        let behind_mm = length * rng.random::<f64>();
        // Phase always runs counter-clockwise; the other sense is the mirrored drift.
        let drift_mm = [motion.sense * drift * direction.cos(), motion.sense * drift * direction.sin()];
        let curve = Curve::Loop { radius_mm, phase_rad, drift_mm };
        Path { at_mm, heading_rad: phase_rad + FRAC_PI_2, behind_mm, ahead_mm: length - behind_mm, curve }
    }

    fn match_to(&self, values: &mut Values, matched: &Matched, rng: &mut Pcg64) {
        values[CONTACT] = matched.stroke_mm.log_draw(rng);
    }
}
