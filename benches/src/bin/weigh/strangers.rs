//! Marks no model of the engine knows: saw arcs, wandering lines, bundles of teeth.

use finish::models::{Curve, Detail, Layer, Path, Place, Stroke, Window, any_angle, normal, span};
use rand::RngExt;
use rand_pcg::Pcg64;
use weigh::sources::Source;

/// Kinds of marks that are not modelled.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stranger {
    /// Equal arcs of a disc saw, one beside the other at even steps.
    SawArcs,
    /// Lines that wander without plan, as roots or worms leave them.
    Wandering,
    /// Bundles of even parallel grooves of a toothed chisel.
    Toothed,
}

/// One object with such marks.
pub struct Strange {
    kind: Stranger,
    radius_mm: f64,
    step_mm: f64,
    width_um: f64,
    length_mm: f64,
    teeth: usize,
    heading_rad: Vec<f64>,
}

impl Strange {
    /// Draws an object (ranges: common practice, no source).
    pub fn draw(kind: Stranger, n_stations: usize, rng: &mut Pcg64) -> Strange {
        let (radius, step, width, length) = match kind {
            Stranger::SawArcs => (span(100.0, 400.0), span(0.1, 1.0), span(10.0, 60.0), span(50.0, 200.0)),
            Stranger::Wandering => (span(0.8, 8.0), span(0.3, 2.0), span(4.0, 30.0), span(4.0, 40.0)),
            Stranger::Toothed => (span(2000.0, 9000.0), span(0.6, 2.0), span(60.0, 300.0), span(3.0, 15.0)),
        };
        Strange {
            kind,
            radius_mm: radius.log_draw(rng),
            step_mm: step.log_draw(rng),
            width_um: width.log_draw(rng),
            length_mm: length.log_draw(rng),
            teeth: rng.random_range(4..10),
            heading_rad: (0..n_stations).map(|_| any_angle(rng)).collect(),
        }
    }

    fn stroke(&self, points_mm: Vec<[f64; 2]>, ends_inside: [bool; 2], rng: &mut Pcg64) -> Option<Stroke> {
        let length_mm: f64 = points_mm.windows(2).map(|p| (p[1][0] - p[0][0]).hypot(p[1][1] - p[0][1])).sum();
        let width_um = self.width_um * (0.25 * normal(rng)).exp();
        (length_mm > 0.0).then_some(Stroke {
            points_mm,
            width_um,
            depth_um: 0.12 * width_um,
            length_mm,
            ends_inside,
            layer: Layer::Finish,
        })
    }

    /// An arc through a point of the field, met at a random place along itself.
    fn bend(
        &self,
        at_mm: [f64; 2],
        heading_rad: f64,
        seen_in: (Window, Detail),
        rng: &mut Pcg64,
    ) -> Option<Stroke> {
        let (window, detail) = seen_in;
        let behind_mm = self.length_mm * rng.random::<f64>();
        let curve = Curve::Bend { per_mm: 1.0 / self.radius_mm, change_per_mm2: 0.0 };
        let path = Path { at_mm, heading_rad, behind_mm, ahead_mm: self.length_mm - behind_mm, curve };
        let seen = path.visible(window, detail.step_mm, detail.step_rad)?;
        self.stroke(seen.points_mm, seen.ends_inside, rng)
    }

    fn saw_arcs(&self, feed: f64, window: Window, detail: Detail, rng: &mut Pcg64) -> Vec<Stroke> {
        let reach = 0.5 * window.width_mm.hypot(window.height_mm);
        let first = -reach + self.step_mm * rng.random::<f64>();
        let n = (2.0 * reach / self.step_mm) as usize;
        let (sin, cos) = feed.sin_cos();
        let sideways = 0.1 * reach * normal(rng);
        (0..n)
            .filter_map(|k| {
                let along = first + self.step_mm * (k as f64 + 0.03 * normal(rng));
                let at = [along * cos - sideways * sin, along * sin + sideways * cos];
                let heading = feed + std::f64::consts::FRAC_PI_2 + 0.003 * normal(rng);
                self.bend(at, heading, (window, detail), rng)
            })
            .collect()
    }

    fn toothed(&self, feed: f64, window: Window, detail: Detail, rng: &mut Pcg64) -> Vec<Stroke> {
        let mut found = Vec::new();
        for _ in 0..12 {
            let at = [
                (rng.random::<f64>() - 0.5) * window.width_mm,
                (rng.random::<f64>() - 0.5) * window.height_mm,
            ];
            let heading = feed + 0.2 * normal(rng);
            let (sin, cos) = heading.sin_cos();
            for tooth in 0..self.teeth {
                let across = self.step_mm * (tooth as f64 + 0.03 * normal(rng));
                let place = [at[0] - across * sin, at[1] + across * cos];
                found.extend(self.bend(place, heading, (window, detail), rng));
            }
        }
        found
    }

    fn wandering(&self, window: Window, rng: &mut Pcg64) -> Vec<Stroke> {
        let half = [0.5 * window.width_mm, 0.5 * window.height_mm];
        let step = (window.width_mm / 60.0).min(0.3 * self.step_mm);
        (0..40)
            .filter_map(|_| {
                let mut here = [
                    (2.0 * rng.random::<f64>() - 1.0) * half[0],
                    (2.0 * rng.random::<f64>() - 1.0) * half[1],
                ];
                let (mut heading, mut bend) = (any_angle(rng), normal(rng) / self.radius_mm);
                let mut points = vec![here];
                let mut ended = true;
                for _ in 0..(self.length_mm / step) as usize {
                    // Curvature forgets itself over `step_mm` and has a spread of one over the radius.
                    let keep = (-step / self.step_mm).exp();
                    bend = keep * bend + (1.0 - keep * keep).sqrt() * normal(rng) / self.radius_mm;
                    heading += bend * step;
                    here = [here[0] + step * heading.cos(), here[1] + step * heading.sin()];
                    if here[0].abs() > half[0] || here[1].abs() > half[1] {
                        ended = false;
                        break;
                    }
                    points.push(here);
                }
                self.stroke(points, [true, ended], rng)
            })
            .collect()
    }
}

impl Source for Strange {
    fn field(
        &self,
        station: usize,
        place: Place,
        window: Window,
        detail: Detail,
        rng: &mut Pcg64,
    ) -> Vec<Stroke> {
        let feed = self.heading_rad.get(station).copied().unwrap_or(0.0) - place.camera_rad;
        let mut found = match self.kind {
            Stranger::SawArcs => self.saw_arcs(feed, window, detail, rng),
            Stranger::Toothed => self.toothed(feed, window, detail, rng),
            Stranger::Wandering => self.wandering(window, rng),
        };
        found.truncate(detail.most);
        found
    }
}
