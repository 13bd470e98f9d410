//! Turning about a fixed centre.

use super::path::{Curve, Path};
use super::prior::{COMMON_PRACTICE, Matched, Parameter, Scale, Values, any_angle, normal, span};
use super::{Model, Motion};
use rand::RngExt;
use rand_pcg::Pcg64;
use std::f64::consts::FRAC_PI_2;

/// Work or tool turns about one centre: all strokes are arcs about it, so curvature follows from the place.
pub struct Turning;

const DISTANCE: usize = 0;
const IRREGULAR: usize = 1;
const ARC: usize = 2;
const PLAY: usize = 3;

static PARAMETERS: [Parameter; 4] = [
    Parameter {
        name: "axis_distance_mm",
        unit: "mm",
        scale: Scale::Log,
        narrow: span(5.0, 200.0),
        shifted: &[span(20.0, 400.0)],
        beyond: span(300.0, 700.0),
        source: COMMON_PRACTICE,
    },
    Parameter {
        name: "irregular",
        unit: "",
        scale: Scale::Chance,
        narrow: span(0.3, 0.5),
        shifted: &[span(0.6, 0.8)],
        beyond: span(0.7, 0.95),
        source: "common practice, no source: turning by hand or with a loose centre",
    },
    Parameter {
        name: "arc_deg",
        unit: "°",
        scale: Scale::Log,
        narrow: span(20.0, 360.0),
        shifted: &[span(5.0, 120.0)],
        beyond: span(200.0, 360.0),
        source: COMMON_PRACTICE,
    },
    Parameter {
        name: "play_mm",
        unit: "mm",
        scale: Scale::Log,
        narrow: span(0.1, 1.5),
        shifted: &[span(0.3, 5.0)],
        beyond: span(4.0, 15.0),
        source: "ours: scatter of the centre, for irregular turning only; a pivot has its play whatever the radius",
    },
];

/// Stations lie at different distances from the axis: log standard deviation (ours).
const STATION_LOG_SD: f64 = 0.25;
/// Scatter of direction in regular turning, radians (ours): the feed of the tool.
const FEED_SCATTER_RAD: f64 = 0.01;

impl Model for Turning {
    fn name(&self) -> &'static str {
        "turning"
    }

    fn sentence(&self) -> &'static str {
        "work or tool turns about one fixed centre: all strokes are arcs about that centre"
    }

    fn parameters(&self) -> &'static [Parameter] {
        &PARAMETERS
    }

    fn motions(&self, values: &Values, rng: &mut Pcg64) -> Vec<Motion> {
        let distance = values[DISTANCE] * (STATION_LOG_SD * normal(rng)).exp();
        let bearing = any_angle(rng);
        let centre_mm = [distance * bearing.cos(), distance * bearing.sin()];
        vec![Motion { heading_rad: bearing, centre_mm, sense: 1.0, radius_mm: distance, share: 1.0 }]
    }

    fn stroke(&self, values: &Values, motion: &Motion, at_mm: [f64; 2], rng: &mut Pcg64) -> Path {
        let play = if values[IRREGULAR] > 0.5 { values[PLAY].min(0.5 * motion.radius_mm) } else { 0.0 };
        let centre = [motion.centre_mm[0] + play * normal(rng), motion.centre_mm[1] + play * normal(rng)];
        let (dx, dy) = (at_mm[0] - centre[0], at_mm[1] - centre[1]);
        let radius = dx.hypot(dy).max(0.3);
        let heading_rad = dy.atan2(dx) + FRAC_PI_2 + FEED_SCATTER_RAD * normal(rng);
        let length = (values[ARC].to_radians() * radius * (0.3 * normal(rng)).exp()).min(6.0 * radius);
        let behind_mm = length * rng.random::<f64>();
        let curve = Curve::Bend { per_mm: 1.0 / radius, change_per_mm2: 0.0 };
        Path { at_mm, heading_rad, behind_mm, ahead_mm: length - behind_mm, curve }
    }

    fn match_to(&self, values: &mut Values, matched: &Matched, rng: &mut Pcg64) {
        values[DISTANCE] = matched.radius_mm.log_draw(rng);
        values[ARC] = (matched.stroke_mm.log_draw(rng) / values[DISTANCE]).to_degrees();
    }
}
