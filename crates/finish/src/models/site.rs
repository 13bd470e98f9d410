//! One object, its stations, and the strokes a field of it shows.

use super::layers::Wear;
use super::path::{Curve, Path, Walk, Window};
use super::prior::{Draw, Values, any_angle, common_parameters, normal};
use super::{Density, Finish, Motion};
use rand::RngExt;
use rand_pcg::Pcg64;

/// What is common to all strokes of one object, whatever the finish.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Surface {
    /// Median width of a stroke, µm.
    pub width_um: f64,
    /// Mean distance between strokes, in stroke widths.
    pub spacing_ratio: f64,
    /// Standard deviation of the logarithm of the width.
    pub width_log_sd: f64,
}

/// One finished object: its finish, the values of that finish, and what lies over it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Object {
    /// How it was finished.
    pub finish: Finish,
    /// Values of the finish's parameters, in their order.
    pub values: Values,
    /// Width and spacing of the strokes.
    pub surface: Surface,
    /// The later layer.
    pub wear: Wear,
}

/// One station of an object: the motions that crossed it.
#[derive(Debug, Clone, PartialEq)]
pub struct Station {
    /// Motions of the finish.
    pub motions: Vec<Motion>,
    /// Direction of wiping of the later layer here, radians.
    pub wipe_rad: f64,
}

/// Where a field lies at its station and how the camera was turned.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Place {
    /// Centre of the field in the frame of the station, mm.
    pub centre_mm: [f64; 2],
    /// Turn of the camera, radians counter-clockwise.
    pub camera_rad: f64,
}

/// How finely strokes are drawn and how many at most.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Detail {
    /// Longest step between points, mm.
    pub step_mm: f64,
    /// Most turning between points, radians.
    pub step_rad: f64,
    /// Most strokes in one field.
    pub most: usize,
}

/// Which layer a stroke belongs to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Layer {
    /// The finish itself.
    Finish,
    /// The later wear or cleaning.
    Wear,
}

/// One stroke as a field shows it.
#[derive(Debug, Clone, PartialEq)]
pub struct Stroke {
    /// Points along it, mm, origin at the field's centre, x right, y upwards.
    pub points_mm: Vec<[f64; 2]>,
    /// Full width, µm.
    pub width_um: f64,
    /// Depth, µm.
    pub depth_um: f64,
    /// Visible length, mm.
    pub length_mm: f64,
    /// Whether the first and last point are true ends of the stroke.
    pub ends_inside: [bool; 2],
    /// Its layer.
    pub layer: Layer,
}

impl Stroke {
    /// The points in µm from the top-left corner of the field, x right, y down, as the renderer wants them.
    #[must_use]
    pub fn points_um(&self, window: Window) -> Vec<[f64; 2]> {
        let corner = [0.5 * window.width_mm, 0.5 * window.height_mm];
        self.points_mm.iter().map(|p| [(p[0] + corner[0]) * 1000.0, (corner[1] - p[1]) * 1000.0]).collect()
    }
}

/// Depth of a scratch as a share of its width (common practice, no source: blunt grains cut shallow).
const DEPTH_PER_WIDTH: f64 = 0.12;
/// Tries for each stroke before a field is left as it is (ours).
const TRIES_PER_STROKE: usize = 60;
/// Visible length below which a stroke is always kept, as a share of the field (ours). Strokes are met in
/// proportion to their visible length, so longer ones are thinned to undo that.
const KEEP_SHARE: f64 = 0.2;

impl Object {
    /// Draws an object of this finish.
    pub fn draw(finish: Finish, draw: &Draw, rng: &mut Pcg64) -> Object {
        let model = finish.model();
        let mut values = Values::default();
        let lean = draw.lean(rng);
        for (value, parameter) in values.iter_mut().zip(model.parameters()) {
            *value = draw.value(parameter, lean, rng);
        }
        if let Some(matched) = &draw.matched {
            model.match_to(&mut values, matched, rng);
        }
        let lean = draw.nuisance_lean(rng);
        let [width, spacing, width_sd] =
            [0, 1, 2].map(|index: usize| draw.value(&common_parameters()[index], lean, rng));
        let surface = Surface { width_um: width, spacing_ratio: spacing, width_log_sd: width_sd };
        Object { finish, values, surface, wear: Wear::draw(draw, rng) }
    }

    /// Draws one station of the object.
    pub fn station(&self, rng: &mut Pcg64) -> Station {
        Station { motions: self.finish.model().motions(&self.values, rng), wipe_rad: any_angle(rng) }
    }

    /// Length of stroke of the finish on each square millimetre, mm.
    #[must_use]
    pub fn length_per_mm2(&self) -> f64 {
        match self.finish.model().density(&self.values, self.surface.spacing_ratio) {
            Density::SpacingRatio(ratio) => 1000.0 / (ratio * self.surface.width_um),
            Density::LengthPerMm2(length) => length,
        }
    }
}

/// A place with the sine and cosine of the camera's turn.
struct Seat {
    place: Place,
    sin: f64,
    cos: f64,
}

impl Seat {
    fn at(place: Place) -> Seat {
        let (sin, cos) = place.camera_rad.sin_cos();
        Seat { place, sin, cos }
    }

    fn to_station(&self, p: [f64; 2]) -> [f64; 2] {
        let [x, y] = self.place.centre_mm;
        [x + p[0] * self.cos - p[1] * self.sin, y + p[0] * self.sin + p[1] * self.cos]
    }

    /// A path found in the frame of the station, seen by the camera; `at_mm` is its point in the field.
    fn to_field(&self, path: Path, at_mm: [f64; 2]) -> Path {
        let (sin, cos, camera_rad) = (self.sin, self.cos, self.place.camera_rad);
        let curve = match path.curve {
            Curve::Loop { radius_mm, phase_rad, drift_mm: [x, y] } => Curve::Loop {
                radius_mm,
                phase_rad: phase_rad - camera_rad,
                drift_mm: [x * cos + y * sin, y * cos - x * sin],
            },
            other => other,
        };
        Path { at_mm, heading_rad: path.heading_rad - camera_rad, curve, ..path }
    }
}

/// The strokes one field shows.
///
/// Strokes are drawn through random points of the field, at a random place along themselves, and kept with a chance
/// that falls with their visible length: a Poisson process of strokes seen through a window.
pub fn strokes(
    object: &Object,
    station: &Station,
    place: Place,
    window: Window,
    detail: Detail,
    rng: &mut Pcg64,
) -> Vec<Stroke> {
    let (mut found, mut room) = (Vec::new(), Vec::new());
    let seat = Seat::at(place);
    let walk = Walk { window, step_mm: detail.step_mm, step_rad: detail.step_rad };
    let spread = (0.2 * normal(rng)).exp();
    let mut left_mm =
        object.length_per_mm2() * window.area_mm2() * spread / (1.0 - object.wear.share).max(0.2);
    let keep_mm = KEEP_SHARE * window.width_mm.min(window.height_mm);
    let shares: f64 = station.motions.iter().map(|motion| motion.share).sum();
    for _ in 0..TRIES_PER_STROKE * detail.most {
        if found.len() >= detail.most || left_mm <= 0.0 {
            break;
        }
        let at =
            [(rng.random::<f64>() - 0.5) * window.width_mm, (rng.random::<f64>() - 0.5) * window.height_mm];
        let at_station = seat.to_station(at);
        let layer = if rng.random::<f64>() < object.wear.share { Layer::Wear } else { Layer::Finish };
        let path = match layer {
            Layer::Wear => object.wear.stroke(station.wipe_rad, at_station, rng),
            Layer::Finish => {
                let motion = pick(&station.motions, shares * rng.random::<f64>());
                object.finish.model().stroke(&object.values, &motion, at_station, rng)
            }
        };
        // Kept with a chance of `keep_mm` over the visible length: longer than this and it is not kept.
        let longest_mm = keep_mm / rng.random::<f64>();
        let path = seat.to_field(path, at);
        let Some(seen) = path.visible_up_to(longest_mm, &walk, &mut room) else {
            continue;
        };
        // The last stroke is kept with the chance that is left, so that the mean length comes out right.
        if seen.length_mm > left_mm && rng.random::<f64>() > left_mm / seen.length_mm {
            break;
        }
        left_mm -= seen.length_mm;
        let factor = if layer == Layer::Wear { object.wear.width_factor } else { 1.0 };
        let width_um = factor * object.surface.width_um * (object.surface.width_log_sd * normal(rng)).exp();
        let depth_um = width_um * DEPTH_PER_WIDTH * (0.3 * normal(rng)).exp();
        found.push(Stroke {
            points_mm: seen.points_mm,
            width_um,
            depth_um,
            length_mm: seen.length_mm,
            ends_inside: seen.ends_inside,
            layer,
        });
    }
    found
}

fn pick(motions: &[Motion], mut mark: f64) -> Motion {
    for motion in motions {
        mark -= motion.share;
        if mark <= 0.0 {
            return *motion;
        }
    }
    motions.last().copied().unwrap_or(Motion {
        heading_rad: 0.0,
        centre_mm: [0.0; 2],
        sense: 1.0,
        radius_mm: 1.0,
        share: 1.0,
    })
}

/// The strokes of a fresh object of this finish in one field at a fresh station.
pub fn strokes_in_field(
    finish: Finish,
    draw: &Draw,
    window: Window,
    detail: Detail,
    rng: &mut Pcg64,
) -> Vec<Stroke> {
    let object = Object::draw(finish, draw, rng);
    let station = object.station(rng);
    let place = Place { centre_mm: [0.0; 2], camera_rad: any_angle(rng) };
    strokes(&object, &station, place, window, detail, rng)
}

#[cfg(test)]
mod tests {
    use super::super::Region;
    use super::*;
    use rand::SeedableRng;

    const WINDOW: Window = Window { width_mm: 6.0, height_mm: 4.5 };
    const DETAIL: Detail = Detail { step_mm: 0.3, step_rad: 0.2, most: 60 };

    #[test]
    fn every_finish_draws_inside_the_field() {
        for finish in Finish::all() {
            let mut rng = Pcg64::seed_from_u64(7);
            let mut n_strokes = 0;
            let outside = [Region::Ends, Region::Beyond, Region::Under];
            for region in [Region::Narrow, Region::Shifted, Region::Wide].into_iter().chain(outside) {
                for _ in 0..20 {
                    let found =
                        strokes_in_field(finish, &Draw::from_region(region), WINDOW, DETAIL, &mut rng);
                    n_strokes += found.len();
                    for p in found.iter().flat_map(|stroke| &stroke.points_mm) {
                        assert!(
                            p[0].abs() <= 3.0 + 1e-9 && p[1].abs() <= 2.25 + 1e-9,
                            "{} {p:?}",
                            finish.name()
                        );
                    }
                }
            }
            assert!(n_strokes > 20, "{}: {n_strokes}", finish.name());
        }
    }

    #[test]
    fn turning_is_concentric() {
        let mut rng = Pcg64::seed_from_u64(3);
        let finish = Finish::named("turning").unwrap();
        let mut object = Object::draw(finish, &Draw::WIDE, &mut rng);
        object.values = [20.0, 0.0, 90.0, 0.0, 0.0, 0.0, 0.0, 0.0];
        object.wear = Wear::NONE;
        let station = object.station(&mut rng);
        let place = Place { centre_mm: [0.0; 2], camera_rad: 0.0 };
        let centre = station.motions[0].centre_mm;
        for stroke in strokes(&object, &station, place, WINDOW, DETAIL, &mut rng) {
            let radii: Vec<f64> =
                stroke.points_mm.iter().map(|p| (p[0] - centre[0]).hypot(p[1] - centre[1])).collect();
            let (low, high) = radii.iter().fold((f64::MAX, 0.0_f64), |(l, h), r| (l.min(*r), h.max(*r)));
            // Four standard deviations of the feed scatter over the diagonal of the field.
            assert!(high - low < 0.3, "{low} to {high} about a centre at 20 mm");
        }
    }

    #[test]
    fn same_seed_same_strokes() {
        for finish in Finish::all() {
            let draw =
                |seed| strokes_in_field(finish, &Draw::WIDE, WINDOW, DETAIL, &mut Pcg64::seed_from_u64(seed));
            assert_eq!(draw(11), draw(11));
        }
    }

    #[test]
    fn names_are_unique_and_found() {
        for finish in Finish::all() {
            assert_eq!(Finish::named(finish.name()), Some(finish));
            assert!(finish.model().parameters().iter().all(|p| !p.source.is_empty()));
        }
    }
}
