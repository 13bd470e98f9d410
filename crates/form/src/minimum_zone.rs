//! The minimum zone: the closest pair of parallel planes that hold all points.

use nalgebra::{Matrix3, Matrix4, Rotation3, Vector3, Vector4};
use rayon::prelude::*;

use crate::flatness::{Zone, orthogonal_plane, vertical_plane, zone};
use crate::{MeasureError, Plane};

/// The minimum zone of a set of points.
#[derive(Debug, Clone, PartialEq)]
pub struct MinimumZone {
    /// Its middle plane and the departures from it: peak and valley are equal.
    pub zone: Zone,
    /// Indices of the points that touch the two outer planes and hold the zone.
    pub contacts: Vec<usize>,
    /// Standard uncertainty of the width over that of a single point, from the contacts' weights.
    pub sensitivity: f64,
}

/// Turning the frame into the last normal settles quadratically; a zone thicker than wide may wander longer.
const MAX_TURNS: usize = 30;
/// Exchanges of one contact; some tens suffice in practice, so this is a stop against endless loops.
const MAX_EXCHANGES: usize = 2_000;
/// Points from which on the cores share the work.
const SHARED_OUT: usize = 20_000;
/// Exchanges without progress before the anti-cycling rule takes over.
const PATIENCE: usize = 20;

/// The minimum zone of points near `start` (the least-squares plane): the width of the zone cannot be lowered by any
/// small turn of its planes, and is never larger than that of `start` or of the two least-squares planes.
///
/// For a face, which is far wider than its zone is thick, this is the narrowest zone of all. For a lump that is as
/// thick as it is wide another narrower zone may exist in a quite different direction; that is no flatness.
///
/// # Errors
/// [`MeasureError::TooFewPoints`], [`MeasureError::Degenerate`] as for the least-squares planes.
///
/// # Source
/// Chebyshev approximation by exchange of contacts, the simplex method on its dual linear programme; widths along the
/// normal by solving again in the frame of the last plane. Derivation ours; checked against exhaustive enumeration of
/// contacts in `tests/published/flatness.json`.
pub fn minimum_zone(points: &[[f64; 3]], start: &Plane) -> Result<MinimumZone, MeasureError> {
    let mut starts = vec![*start, orthogonal_plane(points)?];
    starts.extend(vertical_plane(points));
    let mut best: Option<MinimumZone> = None;
    let mut tried: Vec<Plane> = Vec::new();
    for plane in starts {
        if tried.iter().any(|other| other.angle_to_deg(&plane) < 1e-9) {
            continue;
        }
        tried.push(plane);
        let settled = settle(points, &plane)?;
        if best.as_ref().is_none_or(|best| settled.zone.total < best.zone.total) {
            best = Some(settled);
        }
    }
    best.ok_or(MeasureError::Degenerate { what: "minimum zone", fault: "no plane to start from" })
}

/// The plane with the least largest *vertical* distance, `z = c + a·x + b·y`, and half the width of its zone.
///
/// # Errors
/// [`MeasureError::TooFewPoints`] below three points, [`MeasureError::Degenerate`] if all lie on one line seen from
/// above.
pub fn chebyshev_plane(points: &[[f64; 3]]) -> Result<(Plane, f64), MeasureError> {
    vertical_plane(points)?;
    let fit = Exchange::new(points)?.solve();
    Ok((Plane::from_slopes(fit.slope_x, fit.slope_y, fit.height), fit.half_width))
}

fn settle(points: &[[f64; 3]], start: &Plane) -> Result<MinimumZone, MeasureError> {
    let mut plane = *start;
    let mut best: Option<MinimumZone> = None;
    for _ in 0..MAX_TURNS {
        let turn = upright(&plane);
        let turned: Vec<[f64; 3]> = points.iter().map(|&p| (turn * Vector3::from(p)).into()).collect();
        let fit = Exchange::new(&turned)?.solve();
        let local = Plane::from_slopes(fit.slope_x, fit.slope_y, fit.height);
        let normal = turn.inverse() * Vector3::from(local.normal);
        let found = centred(points, Plane { normal: normal.into(), offset: local.offset });
        let turned_by = plane.angle_to_deg(&found.plane);
        plane = found.plane;
        let gained = best.as_ref().is_none_or(|best| found.total < best.zone.total);
        if gained {
            best = Some(MinimumZone { zone: found, contacts: fit.contacts, sensitivity: fit.sensitivity });
        }
        if !gained || turned_by < 1e-10 {
            break;
        }
    }
    best.ok_or(MeasureError::Degenerate { what: "minimum zone", fault: "no plane was found" })
}

/// The zone of a plane moved to the middle between its highest and deepest point.
fn centred(points: &[[f64; 3]], plane: Plane) -> Zone {
    let rough = zone(points, &plane);
    zone(points, &plane.raised((rough.peak - rough.valley) / 2.0))
}

/// The rotation that turns a plane's normal upright.
fn upright(plane: &Plane) -> Rotation3<f64> {
    let normal = Vector3::from(plane.normal);
    Rotation3::rotation_between(&normal, &Vector3::z())
        .unwrap_or_else(|| Rotation3::from_matrix(&Matrix3::from_diagonal(&Vector3::new(1.0, -1.0, -1.0))))
}

/// What the exchange ends with.
struct Fit {
    slope_x: f64,
    slope_y: f64,
    height: f64,
    half_width: f64,
    contacts: Vec<usize>,
    sensitivity: f64,
}

/// One contact: a point, and whether it touches the upper (+1) or the lower (−1) plane.
#[derive(Clone, Copy, PartialEq)]
struct Contact {
    point: usize,
    side: f64,
}

/// The dual simplex tableau in the shape of four contacts with their weights.
///
/// With contacts `k` and sides `s`, the plane `(c, a, b)` and half width `h` solve
/// `s·(c + a·x + b·y) + h = s·z`; weights `w ≥ 0` solve the transposed system with right-hand side `(0, 0, 0, 1)`.
/// The contact that is violated most enters, the one whose weight would first become negative leaves.
struct Exchange<'a> {
    points: &'a [[f64; 3]],
    centre: [f64; 3],
    scale: [f64; 2],
    contacts: [Contact; 4],
}

impl<'a> Exchange<'a> {
    fn new(points: &'a [[f64; 3]]) -> Result<Self, MeasureError> {
        let start = ([f64::INFINITY; 3], [f64::NEG_INFINITY; 3]);
        let (low, high) = points.iter().fold(start, |(low, high), point| {
            (std::array::from_fn(|k| low[k].min(point[k])), std::array::from_fn(|k| high[k].max(point[k])))
        });
        let centre: [f64; 3] = std::array::from_fn(|k| (low[k] + high[k]) / 2.0);
        let half = |k: usize| if high[k] > low[k] { (high[k] - low[k]) / 2.0 } else { 1.0 };
        let scale = [half(0), half(1)];
        let mut exchange = Self { points, centre, scale, contacts: [Contact { point: 0, side: 1.0 }; 4] };
        exchange.contacts = exchange.first_contacts()?;
        Ok(exchange)
    }

    /// Three points that span a triangle; the first touches both planes, which is a zone of no width for these alone.
    fn first_contacts(&self) -> Result<[Contact; 4], MeasureError> {
        let fault = MeasureError::Degenerate {
            what: "minimum zone",
            fault: "all points lie on one line; choose points that span a face",
        };
        let farthest = |measure: &dyn Fn([f64; 2]) -> f64| {
            (0..self.points.len()).max_by(|&a, &b| measure(self.place(a)).total_cmp(&measure(self.place(b))))
        };
        let a = farthest(&|p| -(p[0] + p[1])).ok_or_else(|| fault.clone())?;
        let pa = self.place(a);
        let b = farthest(&|p| (p[0] - pa[0]).hypot(p[1] - pa[1])).ok_or_else(|| fault.clone())?;
        let pb = self.place(b);
        let doubled_area =
            |p: [f64; 2]| ((pb[0] - pa[0]) * (p[1] - pa[1]) - (pb[1] - pa[1]) * (p[0] - pa[0])).abs();
        let c = farthest(&doubled_area).ok_or_else(|| fault.clone())?;
        if doubled_area(self.place(c)) <= 1e-12 {
            return Err(fault);
        }
        let upper = |point| Contact { point, side: 1.0 };
        Ok([upper(a), Contact { point: a, side: -1.0 }, upper(b), upper(c)])
    }

    fn place(&self, index: usize) -> [f64; 2] {
        let p = self.points[index];
        [(p[0] - self.centre[0]) / self.scale[0], (p[1] - self.centre[1]) / self.scale[1]]
    }

    fn column(&self, contact: Contact) -> Vector4<f64> {
        let [x, y] = self.place(contact.point);
        Vector4::new(contact.side, contact.side * x, contact.side * y, 1.0)
    }

    fn solve(mut self) -> Fit {
        let mut idle = 0;
        let mut last_half_width = f64::NEG_INFINITY;
        let mut weights = Vector4::zeros();
        let mut solution = Vector4::zeros();
        for _ in 0..MAX_EXCHANGES {
            let basis = Matrix4::from_columns(&self.contacts.map(|contact| self.column(contact)));
            let Some(inverse) = basis.try_inverse() else { break };
            weights = inverse * Vector4::new(0.0, 0.0, 0.0, 1.0);
            let heights = Vector4::from_iterator(
                self.contacts
                    .iter()
                    .map(|contact| contact.side * (self.points[contact.point][2] - self.centre[2])),
            );
            solution = inverse.transpose() * heights;
            let half_width = solution[3];
            idle = if half_width > last_half_width { 0 } else { idle + 1 };
            last_half_width = last_half_width.max(half_width);
            let Some(entering) = self.entering(&solution, idle > PATIENCE) else { break };
            let direction = inverse * self.column(entering);
            let Some(leaving) = leaving(&weights, &direction) else { break };
            self.contacts[leaving] = entering;
        }
        self.fit(&solution, &weights)
    }

    /// The contact violated most, or, to break a cycle, the first that is violated.
    fn entering(&self, solution: &Vector4<f64>, first: bool) -> Option<Contact> {
        let (slope_x, slope_y) = (solution[1] / self.scale[0], solution[2] / self.scale[1]);
        let height = solution[0] - slope_x * self.centre[0] - slope_y * self.centre[1] + self.centre[2];
        let half_width = solution[3];
        let residual = |p: &[f64; 3]| p[2] - (height + slope_x * p[0] + slope_y * p[1]);
        // Rounding of the heights themselves must not look like a violation.
        let magnitude = height.abs() + (slope_x * self.centre[0]).abs() + (slope_y * self.centre[1]).abs();
        let tolerance = 8.0 * f64::EPSILON * (magnitude + self.centre[2].abs() + half_width.abs());
        let violated = |excess: f64| excess > half_width + tolerance;
        let side = |point: usize| Contact { point, side: residual(&self.points[point]).signum() };
        if first {
            return self.points.iter().position(|p| violated(residual(p).abs())).map(side);
        }
        let largest = |a: (f64, usize), b: (f64, usize)| {
            // The first of equals, so that the order of work does not matter.
            if b.0 > a.0 || (b.0 == a.0 && b.1 < a.1) { b } else { a }
        };
        let start = (f64::NEG_INFINITY, usize::MAX);
        let of = |(index, p): (usize, &[f64; 3])| (residual(p).abs(), index);
        // Few points are looked through faster than shared out; both ways find the same one.
        let (excess, point) = if self.points.len() < SHARED_OUT {
            self.points.iter().enumerate().map(of).fold(start, largest)
        } else {
            self.points.par_iter().enumerate().map(of).reduce(|| start, largest)
        };
        (violated(excess) && point < self.points.len()).then(|| side(point))
    }

    fn fit(&self, solution: &Vector4<f64>, weights: &Vector4<f64>) -> Fit {
        let (slope_x, slope_y) = (solution[1] / self.scale[0], solution[2] / self.scale[1]);
        let height = self.centre[2] + solution[0] - slope_x * self.centre[0] - slope_y * self.centre[1];
        let mut contacts: Vec<usize> = self.contacts.iter().map(|contact| contact.point).collect();
        contacts.sort_unstable();
        contacts.dedup();
        // The half width is the weighted sum of the contacts' heights, the width twice that.
        let sensitivity = 2.0 * weights.norm();
        Fit { slope_x, slope_y, height, half_width: solution[3], contacts, sensitivity }
    }
}

/// The contact whose weight first falls to zero as the entering one takes over; ties go to the first.
fn leaving(weights: &Vector4<f64>, direction: &Vector4<f64>) -> Option<usize> {
    let ratios = (0..4).filter(|&k| direction[k] > 1e-12).map(|k| (weights[k].max(0.0) / direction[k], k));
    ratios.min_by(|a, b| a.0.total_cmp(&b.0)).map(|(_, k)| k)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn points_of_a_plane_have_no_zone() {
        let points: Vec<[f64; 3]> =
            (0..100).map(|i| [f64::from(i % 10), f64::from(i / 10), f64::from(i % 10) * 0.3 + 5.0]).collect();
        let start = orthogonal_plane(&points).unwrap();
        assert!(minimum_zone(&points, &start).unwrap().zone.total < 1e-12);
    }

    #[test]
    fn a_tilted_face_has_the_zone_of_the_same_face_upright() {
        let face = |i: i32| [f64::from(i % 20), f64::from(i / 20), 0.05 * f64::from((i * 7919) % 13)];
        let upright: Vec<[f64; 3]> = (0..400).map(face).collect();
        let turn = Rotation3::from_euler_angles(0.7, -0.4, 1.1);
        let tilted: Vec<[f64; 3]> = upright.iter().map(|&p| (turn * Vector3::from(p)).into()).collect();
        let width = |points: &[[f64; 3]]| {
            minimum_zone(points, &orthogonal_plane(points).unwrap()).unwrap().zone.total
        };
        assert!((width(&upright) - width(&tilted)).abs() < 1e-12);
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(1000))]
        /// The bar: minimum zone ≤ least squares on 1,000 random clouds, thick and thin ones.
        #[test]
        fn never_wider_than_least_squares(
            cloud in proptest::collection::vec((-1.0_f64..1.0, -1.0_f64..1.0, -1.0_f64..1.0), 4..60),
            thickness in 1e-6_f64..1.0,
        ) {
            let points: Vec<[f64; 3]> = cloud.iter().map(|&(x, y, z)| [x, y, z * thickness]).collect();
            let plane = orthogonal_plane(&points).unwrap();
            let least_squares = zone(&points, &plane);
            let found = minimum_zone(&points, &plane).unwrap();
            prop_assert!(found.zone.total <= least_squares.total * (1.0 + 1e-12));
            prop_assert!((found.zone.peak - found.zone.valley).abs() <= 1e-9 * found.zone.total + 1e-15);
            if let Ok(vertical) = vertical_plane(&points) {
                prop_assert!(found.zone.total <= zone(&points, &vertical).total * (1.0 + 1e-12));
            }
        }
    }
}
