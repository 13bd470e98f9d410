//! Marks of other kinds than the modelled finishes, shown to the engine so that it can say that none of them fits.
//!
//! Two independent choices make a kind: how strokes lie to each other (anywhere, side by side at even steps, in bundles of even
//! steps) and how they run (one bend, bends that come and go, kinks). What is left out are strokes of one bend that lie
//! anywhere: that is what the finishes are.

use crate::sources::Source;
use finish::models::{Curve, Detail, Layer, Path, Place, Stroke, Window, any_angle, normal, span};
use rand::RngExt;
use rand_pcg::Pcg64;
use std::f64::consts::{FRAC_PI_2, PI};

/// How strokes lie to each other.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Lie {
    /// Anywhere.
    Anywhere,
    /// Side by side at even steps.
    Row,
    /// In bundles of even steps.
    Bundles,
}

/// How one stroke runs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Run {
    /// One bend.
    Bend,
    /// Bends that come and go.
    Wander,
    /// Straight pieces that meet in corners.
    Kinked,
}

/// The kinds of foils.
pub const KINDS: [(Lie, Run); 8] = [
    (Lie::Anywhere, Run::Wander),
    (Lie::Row, Run::Bend),
    (Lie::Bundles, Run::Bend),
    (Lie::Anywhere, Run::Kinked),
    (Lie::Row, Run::Wander),
    (Lie::Bundles, Run::Wander),
    (Lie::Row, Run::Kinked),
    (Lie::Bundles, Run::Kinked),
];

/// Tries to put a stroke of a row inside the field.
const ROW_TRIES: usize = 4;

/// One object with marks of another kind.
#[derive(Debug, Clone, PartialEq)]
pub struct Foil {
    lie: Lie,
    run: Run,
    /// Distance of neighbours in a row or bundle, mm.
    step_mm: f64,
    /// Scatter of that distance, as a share.
    unevenness: f64,
    /// Radius of the bends, mm.
    radius_mm: f64,
    /// Length over which a wandering stroke keeps its bend, and between corners, mm.
    keeps_mm: f64,
    length_mm: f64,
    width_um: f64,
    width_log_sd: f64,
    teeth: usize,
    /// Spread of the directions of strokes or bundles, radians.
    spread_rad: f64,
    heading_rad: Vec<f64>,
}

impl Foil {
    /// Draws an object of a kind (ranges: ours, wide on purpose).
    pub fn draw((lie, run): (Lie, Run), n_stations: usize, rng: &mut Pcg64) -> Foil {
        let radius_mm = match run {
            Run::Bend => span(20.0, 10_000.0).log_draw(rng),
            Run::Wander | Run::Kinked => span(0.5, 20.0).log_draw(rng),
        };
        let directed = lie != Lie::Anywhere || rng.random::<f64>() < 0.5;
        let spread_rad = if directed { span(0.002, 0.3).log_draw(rng) } else { 10.0 };
        Foil {
            lie,
            run,
            step_mm: span(0.05, 2.5).log_draw(rng),
            unevenness: span(0.01, 0.15).log_draw(rng),
            radius_mm,
            keeps_mm: span(0.2, 3.0).log_draw(rng),
            length_mm: span(2.0, 300.0).log_draw(rng),
            width_um: span(3.0, 300.0).log_draw(rng),
            width_log_sd: span(0.1, 0.5).draw(rng),
            teeth: rng.random_range(3..14),
            spread_rad,
            heading_rad: (0..n_stations).map(|_| any_angle(rng)).collect(),
        }
    }

    /// A stroke through a point of the field, met at a random place along itself.
    fn stroke(
        &self,
        at_mm: [f64; 2],
        heading_rad: f64,
        (window, detail): (Window, Detail),
        rng: &mut Pcg64,
    ) -> Option<Stroke> {
        if at_mm[0].abs() > 0.5 * window.width_mm || at_mm[1].abs() > 0.5 * window.height_mm {
            return None;
        }
        let behind_mm = self.length_mm * rng.random::<f64>();
        let ahead_mm = self.length_mm - behind_mm;
        let (points_mm, ends_inside) = match self.run {
            Run::Bend => {
                let curve = Curve::Bend { per_mm: 1.0 / self.radius_mm, change_per_mm2: 0.0 };
                let path = Path { at_mm, heading_rad, behind_mm, ahead_mm, curve };
                let seen = path.visible(window, detail.step_mm, detail.step_rad)?;
                (seen.points_mm, seen.ends_inside)
            }
            Run::Wander | Run::Kinked => {
                let (back, first) = self.walk(at_mm, heading_rad + PI, behind_mm, window, rng);
                let (on, last) = self.walk(at_mm, heading_rad, ahead_mm, window, rng);
                let points = back.into_iter().rev().chain([at_mm]).chain(on).collect();
                (points, [first, last])
            }
        };
        let length_mm: f64 = points_mm.windows(2).map(|p| (p[1][0] - p[0][0]).hypot(p[1][1] - p[0][1])).sum();
        let width_um = self.width_um * (self.width_log_sd * normal(rng)).exp();
        let depth_um = 0.12 * width_um;
        (length_mm > 0.0).then_some(Stroke {
            points_mm,
            width_um,
            depth_um,
            length_mm,
            ends_inside,
            layer: Layer::Finish,
        })
    }

    /// Points of a wandering or kinked line from a point on, and whether it ended inside the window.
    fn walk(
        &self,
        from_mm: [f64; 2],
        mut heading: f64,
        length_mm: f64,
        window: Window,
        rng: &mut Pcg64,
    ) -> (Vec<[f64; 2]>, bool) {
        let half = [0.5 * window.width_mm, 0.5 * window.height_mm];
        let step = (window.width_mm / 60.0).min(0.3 * self.keeps_mm);
        let keep = (-step / self.keeps_mm).exp();
        let (mut here, mut bend) = (from_mm, normal(rng) / self.radius_mm);
        let mut points = Vec::new();
        for _ in 0..(length_mm / step) as usize {
            if self.run == Run::Wander {
                bend = keep * bend + (1.0 - keep * keep).sqrt() * normal(rng) / self.radius_mm;
                heading += bend * step;
            } else if rng.random::<f64>() > keep {
                // Corners as sharp as the bend that a wandering line of this radius would have made.
                heading += (self.keeps_mm / self.radius_mm).min(1.5) * normal(rng);
            }
            here = [here[0] + step * heading.cos(), here[1] + step * heading.sin()];
            if here[0].abs() > half[0] || here[1].abs() > half[1] {
                return (points, false);
            }
            points.push(here);
        }
        (points, true)
    }

    /// A place beside the line of a row and the heading of a stroke there, so that a bent one crosses the line square.
    fn beside_row(&self, along: f64, aside: f64, feed: f64) -> ([f64; 2], f64) {
        let (sin, cos) = feed.sin_cos();
        let lag = if self.run == Run::Bend { aside / self.radius_mm } else { 0.0 };
        let along = along - 0.5 * lag * aside;
        ([along * cos - aside * sin, along * sin + aside * cos], feed + FRAC_PI_2 + lag)
    }

    fn places(&self, feed: f64, window: Window, most: usize, rng: &mut Pcg64) -> Vec<([f64; 2], f64)> {
        let half = [0.5 * window.width_mm, 0.5 * window.height_mm];
        let anywhere = |rng: &mut Pcg64| half.map(|half| (2.0 * rng.random::<f64>() - 1.0) * half);
        let mut found = Vec::new();
        match self.lie {
            Lie::Anywhere => {
                let area = window.area_mm2();
                let visible = self.length_mm.min(0.7 * window.width_mm);
                let n = (area / (self.step_mm * visible)).clamp(6.0, most as f64) as usize;
                found.extend((0..n).map(|_| (anywhere(rng), feed + self.spread_rad * normal(rng))));
            }
            Lie::Row => {
                let reach = half[0].hypot(half[1]);
                let first = -reach + self.step_mm * rng.random::<f64>();
                for k in 0..((2.0 * reach / self.step_mm) as usize).min(most) {
                    let along = first + self.step_mm * (k as f64 + self.unevenness * normal(rng));
                    let place = |rng: &mut Pcg64| self.beside_row(along, 0.3 * reach * normal(rng), feed);
                    let tries: Vec<([f64; 2], f64)> = (0..ROW_TRIES).map(|_| place(rng)).collect();
                    let inside = |at: &[f64; 2]| at[0].abs() <= half[0] && at[1].abs() <= half[1];
                    let found_inside = tries.into_iter().find(|(at, _)| inside(at));
                    found.extend(found_inside.map(|(at, heading)| (at, heading + 0.01 * normal(rng))));
                }
            }
            Lie::Bundles => {
                let spread =
                    window.area_mm2() / (self.step_mm * self.teeth as f64 * self.length_mm.min(half[0]));
                let n = spread.clamp(2.0, most as f64 / self.teeth as f64) as usize;
                for _ in 0..n {
                    let (at, heading) = (anywhere(rng), feed + self.spread_rad * normal(rng));
                    let (sin, cos) = heading.sin_cos();
                    for tooth in 0..self.teeth {
                        let across = self.step_mm * (tooth as f64 + self.unevenness * normal(rng));
                        found.push(([at[0] - across * sin, at[1] + across * cos], heading));
                    }
                }
            }
        }
        found
    }
}

impl Source for Foil {
    fn field(
        &self,
        station: usize,
        place: Place,
        window: Window,
        detail: Detail,
        rng: &mut Pcg64,
    ) -> Vec<Stroke> {
        let feed = self.heading_rad.get(station).copied().unwrap_or(0.0) - place.camera_rad;
        let places = self.places(feed, window, detail.most, rng);
        places
            .into_iter()
            .filter_map(|(at, heading)| self.stroke(at, heading, (window, detail), rng))
            .take(detail.most)
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::SeedableRng;

    const WINDOW: Window = Window { width_mm: 6.0, height_mm: 4.5 };
    const DETAIL: Detail = Detail { step_mm: 0.6, step_rad: 0.2, most: 80 };

    fn field(foil: &Foil, rng: &mut Pcg64) -> Vec<Stroke> {
        foil.field(0, Place { centre_mm: [0.0; 2], camera_rad: 0.0 }, WINDOW, DETAIL, rng)
    }

    #[test]
    fn every_kind_draws_inside_the_field() {
        for kind in KINDS {
            let mut rng = Pcg64::seed_from_u64(3);
            let strokes: Vec<Stroke> = (0..20)
                .flat_map(|_| {
                    let foil = Foil::draw(kind, 1, &mut rng);
                    field(&foil, &mut rng)
                })
                .collect();
            assert!(strokes.len() > 100, "{kind:?}: {}", strokes.len());
            let inside = |p: &[f64; 2]| p[0].abs() <= 3.0 + 1e-9 && p[1].abs() <= 2.25 + 1e-9;
            assert!(strokes.iter().flat_map(|stroke| &stroke.points_mm).all(inside), "{kind:?}");
        }
    }

    /// Straight strokes of a row without scatter cross its line at even steps.
    #[test]
    fn a_row_is_even() {
        let mut rng = Pcg64::seed_from_u64(5);
        let drawn = Foil::draw((Lie::Row, Run::Bend), 1, &mut rng);
        let foil = Foil {
            step_mm: 0.25,
            unevenness: 0.0,
            radius_mm: 1e9,
            length_mm: 100.0,
            heading_rad: vec![0.0],
            ..drawn
        };
        let mut across: Vec<f64> =
            field(&foil, &mut rng).iter().map(|stroke| mean(&stroke.points_mm)).collect();
        across.sort_by(f64::total_cmp);
        let gaps: Vec<f64> = across.windows(2).map(|pair| pair[1] - pair[0]).collect();
        let middle = gaps.iter().sum::<f64>() / gaps.len() as f64;
        assert!(gaps.len() > 15 && (middle - 0.25).abs() < 0.01, "{} of {middle}", gaps.len());
    }

    fn mean(points: &[[f64; 2]]) -> f64 {
        points.iter().map(|p| p[0]).sum::<f64>() / points.len() as f64
    }
}
