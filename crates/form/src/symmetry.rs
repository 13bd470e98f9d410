//! Mirror symmetry of a mesh: the plane that best folds the surface onto itself, and what departs from it.

use nalgebra::{Matrix3, SymmetricEigen, Vector3};
use quantity::Measured;
use rand::{RngExt, SeedableRng};
use rand_pcg::Pcg64;
use rayon::prelude::*;

use crate::bvh::Nearest;
use crate::row::{Row, Rows};
use crate::{Bvh, MeasureError, Plane};

/// What the caller decides.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SymmetryOptions {
    /// Places on the surface the plane is fitted to. More cost time, fewer cost certainty.
    pub samples: usize,
    /// Seed of the choice of places.
    pub seed: u64,
    /// A normal to search near, when the examiner already knows which symmetry is meant.
    pub near_normal: Option<[f64; 3]>,
}

impl Default for SymmetryOptions {
    fn default() -> Self {
        Self { samples: 20_000, seed: 1, near_normal: None }
    }
}

/// A plane that the surface nearly mirrors in.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MirrorPlane {
    /// The plane, mm.
    pub plane: Plane,
    /// Share of the surface's places without a counterpart on the mirrored surface, 0 to 1.
    pub unmatched: f64,
    /// Robust spread of the departures, mm.
    pub spread_mm: f64,
    /// How badly it fits: mean of the squared departures over those of 3 % of the surface's diagonal, each counted 1
    /// at most; 0 is perfect, 1 is no symmetry at all.
    pub misfit: f64,
}

/// Symmetry of a surface.
#[derive(Debug, Clone, PartialEq)]
pub struct Symmetry {
    /// The best plane.
    pub best: MirrorPlane,
    /// Standard uncertainty of the plane's direction, degrees (root mean square over its two tilts).
    pub direction_u_deg: f64,
    /// Standard uncertainty of the plane's place along its normal, at the middle of the surface, mm.
    pub offset_u_mm: f64,
    /// Other planes the surface also nearly mirrors in, best first.
    pub others: Vec<MirrorPlane>,
    /// Extent of the surface along the normal, mm: the width that shares refer to.
    pub width_mm: f64,
    /// For every corner of the mesh, distance to the mirrored surface, mm, positive where it stands out of it.
    pub deviation_mm: Vec<f64>,
    /// Area-weighted median of the absolute deviations, mm.
    pub median_mm: f64,
    /// Area-weighted 95 % quantile of the absolute deviations, mm.
    pub p95_mm: f64,
}

/// Directions tried over the half sphere: neighbours are about 8° apart (our choice; the search then follows each).
const DIRECTIONS: usize = 400;
/// Places looked at for each direction tried, and for each candidate followed.
const ROUGH_SAMPLES: usize = 300;
const FOLLOW_SAMPLES: usize = 2_000;
/// Candidates followed after the first look.
const CANDIDATES: usize = 12;
/// Candidates closer than this are one, degrees.
const SAME_DEG: f64 = 3.0;
/// Spread of the first look and of the first steps, as a share of the surface's diagonal (our choice).
const ROUGH_SPREAD: f64 = 0.03;
/// Tukey's biweight with 95 % efficiency for normal departures (Holland & Welsch 1977, from memory, source not seen).
const TUKEY: f64 = 4.685;
/// Robust spread is never taken below this share of the diagonal: the digits of the coordinates.
const LEAST_SPREAD: f64 = 1e-9;
/// A plane whose misfit is below twice the best one's and this much more mirrors about as well (our choice).
const AS_GOOD: f64 = 0.02;
/// Blocks of the surface for the uncertainty: neighbouring places share their errors, distant ones do not.
const BLOCKS: usize = 24;

/// A sampled place.
struct Sample {
    place: Vector3<f64>,
    block: usize,
}

struct Search<'a> {
    tree: &'a Bvh<'a>,
    samples: Vec<Sample>,
    centre: Vector3<f64>,
    diagonal: f64,
}

/// The best mirror plane of a surface, robust against damage and missing parts, and the deviations from symmetry.
///
/// `watch` is told the share done and stops the work by returning false.
///
/// # Errors
/// [`MeasureError::Stopped`], [`MeasureError::BadSetting`] for fewer than 500 samples, [`MeasureError::Degenerate`]
/// if no plane is found.
///
/// # Source
/// Own composition: search over directions, then Gauss–Newton on distances between the surface and its mirror image
/// along the surface normal with Tukey's biweight; uncertainty by leaving out blocks of the surface in turn (jackknife).
pub fn mirror_symmetry(
    tree: &Bvh<'_>,
    options: &SymmetryOptions,
    watch: &(dyn Fn(f64) -> bool + Sync),
) -> Result<Symmetry, MeasureError> {
    if options.samples < 500 {
        let found = options.samples as f64;
        return Err(MeasureError::BadSetting { name: "samples", found, needed: "at least 500" });
    }
    let go_on = |share: f64| if watch(share) { Ok(()) } else { Err(MeasureError::Stopped) };
    let search = Search::new(tree, options);
    go_on(0.05)?;
    let mut followed: Vec<MirrorPlane> = Vec::new();
    for candidate in search.candidates(options.near_normal) {
        let plane = search.follow(candidate, FOLLOW_SAMPLES);
        let known = followed.iter().any(|other| other.plane.angle_to_deg(&plane) < SAME_DEG);
        if !known {
            followed.push(search.judge(plane, FOLLOW_SAMPLES));
        }
        go_on(0.05 + 0.2 * followed.len() as f64 / CANDIDATES as f64)?;
    }
    followed.sort_by(|a, b| a.misfit.total_cmp(&b.misfit));
    let first = followed
        .first()
        .ok_or(MeasureError::Degenerate { what: "mirror symmetry", fault: "no plane found" })?;
    let plane = search.settle(first.plane);
    let best = search.judge(plane, search.samples.len());
    go_on(0.5)?;
    let (direction_u_deg, offset_u_mm) = search.uncertainty(&best);
    let as_good = |other: &&MirrorPlane| other.misfit < 2.0 * best.misfit + AS_GOOD;
    let others = followed.iter().skip(1).filter(as_good).copied().collect();
    go_on(0.6)?;
    let deviation_mm = deviations(tree, &best.plane, search.diagonal);
    go_on(0.99)?;
    let (areas, _) = tree.mesh().corner_areas_and_normals();
    let (median_mm, p95_mm) = weighted_quantiles(&deviation_mm, &areas);
    let width_mm = extent(tree, &best.plane);
    Ok(Symmetry { best, direction_u_deg, offset_u_mm, others, width_mm, deviation_mm, median_mm, p95_mm })
}

impl<'a> Search<'a> {
    fn new(tree: &'a Bvh<'a>, options: &SymmetryOptions) -> Self {
        let mesh = tree.mesh();
        let (low, high) = mesh.bounds_mm();
        let diagonal = (Vector3::from(high) - Vector3::from(low)).norm();
        let mut total = 0.0;
        let running: Vec<f64> = (0..mesh.triangles().len())
            .map(|t| {
                total += mesh.double_area_normal(t).norm();
                total
            })
            .collect();
        let mut random = Pcg64::seed_from_u64(options.seed);
        let places: Vec<Vector3<f64>> = (0..options.samples)
            .map(|index| {
                // One place per equal share of the area: evener than free throws.
                let area = (index as f64 + random.random::<f64>()) / options.samples as f64 * total;
                let triangle = running.partition_point(|&sum| sum < area).min(running.len() - 1);
                let (u, v): (f64, f64) = (random.random(), random.random());
                let (u, v) = if u + v > 1.0 { (1.0 - u, 1.0 - v) } else { (u, v) };
                let [a, b, c] = mesh.corners(triangle);
                a + (b - a) * u + (c - a) * v
            })
            .collect();
        let centre = places.iter().sum::<Vector3<f64>>() / places.len() as f64;
        let blocks = blocks(&places);
        let mut samples: Vec<Sample> =
            places.into_iter().zip(blocks).map(|(place, block)| Sample { place, block }).collect();
        // Mixed, so that the first few hundred are spread over the surface too.
        for last in (1..samples.len()).rev() {
            samples.swap(last, random.random_range(0..=last));
        }
        Self { tree, samples, centre, diagonal }
    }

    /// Planes through the middle worth following, most promising first.
    fn candidates(&self, near: Option<[f64; 3]>) -> Vec<Plane> {
        let near = near.and_then(|normal| Vector3::from(normal).try_normalize(1e-300));
        let mut normals = half_sphere(DIRECTIONS);
        normals.extend(self.principal_axes());
        if let Some(near) = near {
            normals.retain(|normal| normal.dot(&near).abs() > 20_f64.to_radians().cos());
            normals.push(near);
        }
        let spread = ROUGH_SPREAD * self.diagonal;
        let mut scored: Vec<(f64, Plane)> = normals
            .par_iter()
            .map(|normal| {
                let plane = Plane { normal: (*normal).into(), offset: normal.dot(&self.centre) };
                let losses = self.samples.iter().take(ROUGH_SAMPLES).map(|sample| {
                    let mirrored = Vector3::from(plane.mirror(sample.place.into()));
                    let near = self.tree.nearest(mirrored, spread);
                    near.map_or(1.0, |near| near.distance_squared / (spread * spread))
                });
                (losses.sum(), plane)
            })
            .collect();
        scored.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut chosen: Vec<Plane> = Vec::new();
        for (_, plane) in scored {
            if chosen.len() < CANDIDATES
                && chosen.iter().all(|other| other.angle_to_deg(&plane) > 2.0 * SAME_DEG)
            {
                chosen.push(plane);
            }
        }
        chosen
    }

    fn principal_axes(&self) -> Vec<Vector3<f64>> {
        let mut scatter = Matrix3::zeros();
        for sample in &self.samples {
            let from_centre = sample.place - self.centre;
            scatter += from_centre * from_centre.transpose();
        }
        let eigen = SymmetricEigen::new(scatter);
        eigen.eigenvectors.column_iter().map(|column| column.into_owned()).collect()
    }

    /// Follows a candidate with a few samples while the spread it forgives shrinks.
    fn follow(&self, start: Plane, samples: usize) -> Plane {
        let mut plane = start;
        let mut spread = ROUGH_SPREAD * self.diagonal;
        for _ in 0..12 {
            plane = self.step(plane, spread, samples).0;
            spread *= 0.75;
        }
        plane
    }

    /// Repeats steps with all samples and the robust spread of their own departures until the plane stands still.
    fn settle(&self, start: Plane) -> Plane {
        let mut plane = start;
        for _ in 0..40 {
            let spread = self.spread(&plane, self.samples.len());
            let (next, moved) = self.step(plane, spread, self.samples.len());
            plane = next;
            if moved < 1e-9 {
                break;
            }
        }
        plane
    }

    /// One Gauss–Newton step; also how far the plane moved, as a share of the diagonal.
    fn step(&self, plane: Plane, spread: f64, samples: usize) -> (Plane, f64) {
        let rows = self.equations(&plane, spread, samples);
        let (mut matrix, mut right) = (Matrix3::zeros(), Vector3::zeros());
        for (_, row, residual, weight) in &rows {
            matrix += row * row.transpose() * *weight;
            right -= row * (residual * weight);
        }
        // A surface that slides along itself (a cylinder about its axis) leaves a direction open: hold it.
        let hold = matrix.trace() * 1e-9 + f64::MIN_POSITIVE;
        let Some(inverse) = (matrix + Matrix3::identity() * hold).try_inverse() else { return (plane, 0.0) };
        let change = inverse * right;
        (self.moved(&plane, &change), change.norm() / self.diagonal)
    }

    /// The plane turned by `change[0]`, `change[1]` (mm at the end of the diagonal) and moved by `change[2]` mm.
    fn moved(&self, plane: &Plane, change: &Vector3<f64>) -> Plane {
        let (first, second) = plane.axes();
        let tilt = (Vector3::from(first) * change[0] + Vector3::from(second) * change[1]) / self.diagonal;
        let normal = (Vector3::from(plane.normal) + tilt).normalize();
        let offset = plane.distance(self.centre.into()) - change[2];
        Plane { normal: normal.into(), offset: normal.dot(&self.centre) - offset }
    }

    /// For each sample with a counterpart: block, derivatives, residual and weight.
    fn equations(&self, plane: &Plane, spread: f64, samples: usize) -> Vec<(usize, Vector3<f64>, f64, f64)> {
        let reach = TUKEY * spread.max(LEAST_SPREAD * self.diagonal);
        let normal = Vector3::from(plane.normal);
        let (first, second) = plane.axes();
        let (first, second) = (Vector3::from(first), Vector3::from(second));
        let rows: Vec<Option<_>> = self.samples[..samples.min(self.samples.len())]
            .par_iter()
            .map(|sample| {
                let height = plane.distance(sample.place.into());
                let mirrored = sample.place - normal * (2.0 * height);
                let near = self.tree.nearest(mirrored, reach)?;
                let facing = self.tree.mesh().double_area_normal(near.triangle).normalize();
                let residual = (mirrored - near.place).dot(&facing);
                let share = near.distance_squared / (reach * reach);
                let weight = (1.0 - share) * (1.0 - share);
                let from_centre = sample.place - self.centre;
                let tilt = |axis: &Vector3<f64>| {
                    -2.0 * (axis.dot(&from_centre) * normal.dot(&facing) + height * axis.dot(&facing))
                        / self.diagonal
                };
                let row = Vector3::new(tilt(&first), tilt(&second), 2.0 * normal.dot(&facing));
                Some((sample.block, row, residual, weight))
            })
            .collect();
        rows.into_iter().flatten().collect()
    }

    fn nearest_mirrored(&self, plane: &Plane, place: Vector3<f64>, within: f64) -> Option<Nearest> {
        self.tree.nearest(Vector3::from(plane.mirror(place.into())), within)
    }

    /// Robust spread of the distances between the surface and its mirror image, mm.
    fn spread(&self, plane: &Plane, samples: usize) -> f64 {
        let mut distances = self.distances(plane, samples);
        distances.sort_unstable_by(f64::total_cmp);
        let median = distances.get(distances.len() / 2).copied().unwrap_or(0.0);
        (1.4826 * median).clamp(LEAST_SPREAD * self.diagonal, ROUGH_SPREAD * self.diagonal)
    }

    fn distances(&self, plane: &Plane, samples: usize) -> Vec<f64> {
        let within = 4.0 * ROUGH_SPREAD * self.diagonal;
        self.samples[..samples.min(self.samples.len())]
            .par_iter()
            .map(|sample| {
                self.nearest_mirrored(plane, sample.place, within)
                    .map_or(within, |n| n.distance_squared.sqrt())
            })
            .collect()
    }

    fn judge(&self, plane: Plane, samples: usize) -> MirrorPlane {
        let distances = self.distances(&plane, samples);
        let spread_mm = self.spread(&plane, samples);
        let reach = TUKEY * spread_mm.max(1e-4 * self.diagonal);
        let unmatched =
            distances.iter().filter(|&&d| d > reach).count() as f64 / distances.len().max(1) as f64;
        let rough = ROUGH_SPREAD * self.diagonal;
        let losses: f64 = distances.iter().map(|d| (d / rough).powi(2).min(1.0)).sum();
        let misfit = losses / distances.len().max(1) as f64;
        MirrorPlane { plane, unmatched, spread_mm, misfit }
    }

    /// Leaves out each block of the surface in turn: one step each from the settled plane.
    fn uncertainty(&self, best: &MirrorPlane) -> (f64, f64) {
        let rows = self.equations(&best.plane, best.spread_mm, self.samples.len());
        let mut matrices = vec![Matrix3::<f64>::zeros(); BLOCKS];
        let mut rights = vec![Vector3::<f64>::zeros(); BLOCKS];
        for (block, row, residual, weight) in &rows {
            matrices[*block] += row * row.transpose() * *weight;
            rights[*block] -= row * (residual * weight);
        }
        let matrix: Matrix3<f64> = matrices.iter().sum();
        let right: Vector3<f64> = rights.iter().sum();
        let steps: Vec<Vector3<f64>> = (0..BLOCKS)
            .filter_map(|block| {
                (matrix - matrices[block]).try_inverse().map(|inverse| inverse * (right - rights[block]))
            })
            .collect();
        let count = steps.len() as f64;
        if count < 2.0 {
            return (f64::INFINITY, f64::INFINITY);
        }
        let mean = steps.iter().sum::<Vector3<f64>>() / count;
        let squares: Vector3<f64> =
            steps.iter().map(|step| (step - mean).component_mul(&(step - mean))).sum::<Vector3<f64>>();
        let variance = squares * ((count - 1.0) / count);
        let tilt = ((variance[0] + variance[1]) / 2.0).sqrt() / self.diagonal;
        (tilt.to_degrees(), variance[2].sqrt())
    }
}

/// Signed distance of every corner to the mirrored surface.
fn deviations(tree: &Bvh<'_>, plane: &Plane, diagonal: f64) -> Vec<f64> {
    let (_, normals) = tree.mesh().corner_areas_and_normals();
    let normal = Vector3::from(plane.normal);
    tree.mesh()
        .points_mm()
        .par_iter()
        .zip(&normals)
        .map(|(&point, &facing)| {
            let mirrored = Vector3::from(plane.mirror(point));
            let facing = Vector3::from(facing);
            let facing_mirrored = facing - normal * (2.0 * normal.dot(&facing));
            let near = tree.nearest(mirrored, diagonal);
            near.map_or(f64::NAN, |near| {
                let apart = mirrored - near.place;
                apart.norm().copysign(apart.dot(&facing_mirrored))
            })
        })
        .collect()
}

fn extent(tree: &Bvh<'_>, plane: &Plane) -> f64 {
    let start = (f64::INFINITY, f64::NEG_INFINITY);
    let (low, high) = tree.mesh().points_mm().iter().fold(start, |(low, high), &point| {
        let along = plane.distance(point);
        (low.min(along), high.max(along))
    });
    high - low
}

/// Median and 95 % quantile of absolute values under weights.
fn weighted_quantiles(values: &[f64], weights: &[f64]) -> (f64, f64) {
    let mut pairs: Vec<(f64, f64)> =
        values.iter().zip(weights).filter(|(v, _)| !v.is_nan()).map(|(v, w)| (v.abs(), *w)).collect();
    pairs.par_sort_unstable_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)));
    let total: f64 = pairs.iter().map(|p| p.1).sum();
    let quantile = |share: f64| {
        let mut sum = 0.0;
        let found = pairs.iter().find(|(_, weight)| {
            sum += weight;
            sum >= share * total
        });
        found.map_or(f64::NAN, |pair| pair.0)
    };
    (quantile(0.5), quantile(0.95))
}

/// Nearly even directions over half a sphere (golden-angle spiral).
fn half_sphere(count: usize) -> Vec<Vector3<f64>> {
    let golden = std::f64::consts::PI * (3.0 - 5_f64.sqrt());
    (0..count)
        .map(|i| {
            let z = (i as f64 + 0.5) / count as f64;
            let (sin, cos) = (golden * i as f64).sin_cos();
            let radius = (1.0 - z * z).sqrt();
            Vector3::new(radius * cos, radius * sin, z)
        })
        .collect()
}

/// Cuts the places into [`BLOCKS`] compact blocks of equal number: halves and thirds across the longest side.
fn blocks(places: &[Vector3<f64>]) -> Vec<usize> {
    let mut blocks = vec![0; places.len()];
    let mut indices: Vec<usize> = (0..places.len()).collect();
    cut(&mut indices, places, BLOCKS, 0, &mut blocks);
    blocks
}

fn cut(indices: &mut [usize], places: &[Vector3<f64>], parts: usize, first: usize, blocks: &mut [usize]) {
    if parts == 1 || indices.len() < parts {
        indices.iter().for_each(|&index| blocks[index] = first);
        return;
    }
    let spread = |axis: usize| {
        let along = indices.iter().map(|&index| places[index][axis]);
        along.clone().fold(f64::NEG_INFINITY, f64::max) - along.fold(f64::INFINITY, f64::min)
    };
    let axis = (0..3).max_by(|&a, &b| spread(a).total_cmp(&spread(b))).unwrap_or(0);
    indices.sort_unstable_by(|&a, &b| places[a][axis].total_cmp(&places[b][axis]).then(a.cmp(&b)));
    let left_parts = parts / 2;
    let middle = indices.len() * left_parts / parts;
    let (left, right) = indices.split_at_mut(middle);
    cut(left, places, left_parts, first, blocks);
    cut(right, places, parts - left_parts, first + left_parts, blocks);
}

impl Rows for Symmetry {
    fn rows(&self) -> Vec<Row> {
        let share = |mm: f64| 100.0 * mm / self.width_mm;
        let offset = Measured { value: self.best.plane.offset, u: self.offset_u_mm };
        let [x, y, z] = self.best.plane.normal;
        vec![
            Row::plain("Deviation from symmetry, median", self.median_mm, "mm"),
            Row::plain("Deviation from symmetry, median, share of the width", share(self.median_mm), "%"),
            Row::plain("Deviation from symmetry, 95 % of the surface below", self.p95_mm, "mm"),
            Row::plain(
                "Deviation from symmetry, 95 % of the surface below, share of the width",
                share(self.p95_mm),
                "%",
            ),
            Row::plain("Width across the plane", self.width_mm, "mm"),
            Row::plain("Surface without a counterpart", 100.0 * self.best.unmatched, "%"),
            Row::plain("Normal of the plane, x", x, ""),
            Row::plain("Normal of the plane, y", y, ""),
            Row::plain("Normal of the plane, z", z, ""),
            Row::plain("Standard uncertainty of the plane's direction", self.direction_u_deg, "°"),
            Row::new("Distance of the plane from the origin", offset, "mm"),
        ]
    }

    fn notes(&self) -> Vec<String> {
        let mut notes = vec![
            "Damage on one side shows twice on the deviation map: where it is, and mirrored with the opposite sign."
                .to_owned(),
        ];
        if !self.others.is_empty() {
            let count = self.others.len();
            notes.push(format!(
                "{count} other planes mirror the surface about as well: state which symmetry is meant."
            ));
        }
        if self.best.unmatched > 0.4 {
            notes.push("Much of the surface has no counterpart: the plane may be a chance fit.".to_owned());
        }
        notes
    }
}

#[cfg(test)]
#[path = "symmetry_tests.rs"]
mod tests;
