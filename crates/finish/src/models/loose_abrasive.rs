//! Loose-abrasive lapping: rolling grains pit the surface, few of them scratch.

use super::path::{Curve, Path};
use super::prior::{
    COMMON_PRACTICE, Matched, Parameter, Scale, Values, any_angle, either_sign, normal, span,
};
use super::{Density, Model, Motion};
use rand::RngExt;
use rand_pcg::Pcg64;

/// Few and short scratches without direction, left where a grain stuck for a moment. Pits are not modelled here.
pub struct LooseAbrasive;

const PER_MM2: usize = 0;
const LENGTH: usize = 1;
const BEND: usize = 2;

static PARAMETERS: [Parameter; 3] = [
    Parameter {
        name: "scratches_per_mm2",
        unit: "1/mm²",
        scale: Scale::Log,
        narrow: span(0.01, 2.0),
        shifted: &[span(0.05, 5.0)],
        beyond: span(3.0, 9.0),
        source: COMMON_PRACTICE,
    },
    Parameter {
        name: "length_mm",
        unit: "mm",
        scale: Scale::Log,
        narrow: span(0.15, 2.0),
        shifted: &[span(0.1, 5.0)],
        beyond: span(4.0, 9.0),
        source: COMMON_PRACTICE,
    },
    Parameter {
        name: "radius_mm",
        unit: "mm",
        scale: Scale::Log,
        narrow: span(3.0, 60.0),
        shifted: &[span(1.5, 200.0)],
        beyond: span(100.0, 400.0),
        source: "ours: a grain that sticks is dragged along whatever way the lap goes",
    },
];

impl Model for LooseAbrasive {
    fn name(&self) -> &'static str {
        "loose-abrasive"
    }

    fn sentence(&self) -> &'static str {
        "grains roll between lap and stone: a pitted surface with few, short scratches in no direction"
    }

    fn parameters(&self) -> &'static [Parameter] {
        &PARAMETERS
    }

    fn motions(&self, values: &Values, _rng: &mut Pcg64) -> Vec<Motion> {
        vec![Motion {
            heading_rad: 0.0,
            centre_mm: [0.0; 2],
            sense: 1.0,
            radius_mm: values[BEND],
            share: 1.0,
        }]
    }

    fn stroke(&self, values: &Values, motion: &Motion, at_mm: [f64; 2], rng: &mut Pcg64) -> Path {
        let per_mm = either_sign(rng) / (motion.radius_mm * (0.6 * normal(rng)).exp());
        let length = values[LENGTH] * (0.5 * normal(rng)).exp();
        let behind_mm = length * rng.random::<f64>();
        let curve = Curve::Bend { per_mm, change_per_mm2: 0.5 * normal(rng) * per_mm / length };
        Path { at_mm, heading_rad: any_angle(rng), behind_mm, ahead_mm: length - behind_mm, curve }
    }

    fn density(&self, values: &Values, _common_ratio: f64) -> Density {
        // exp(0.125) is the mean of the log-normal lengths over their median.
        Density::LengthPerMm2(values[PER_MM2] * values[LENGTH] * 1.133)
    }

    fn match_to(&self, values: &mut Values, matched: &Matched, rng: &mut Pcg64) {
        values[LENGTH] = matched.stroke_mm.log_draw(rng);
        values[BEND] = matched.radius_mm.log_draw(rng);
    }
}
