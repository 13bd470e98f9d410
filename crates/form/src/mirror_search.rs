//! The search for the plane that best folds a surface onto itself.

use nalgebra::{Matrix3, SymmetricEigen, Vector3};
use rand::{RngExt, SeedableRng};
use rand_pcg::Pcg64;
use rayon::prelude::*;

use crate::bvh::Nearest;
use crate::symmetry::{MirrorPlane, SymmetryOptions};
use crate::{Bvh, Plane};

/// Directions tried over the half sphere: neighbours are about 8° apart (our choice; the search then follows each).
const DIRECTIONS: usize = 400;
/// Places looked at for each direction tried, and for each candidate followed.
const ROUGH_SAMPLES: usize = 300;
pub(crate) const FOLLOW_SAMPLES: usize = 2_000;
/// Candidates followed after the first look.
pub(crate) const CANDIDATES: usize = 12;
/// Candidates closer than this are one, degrees.
pub(crate) const SAME_DEG: f64 = 3.0;
/// Spread of the first look and of the first steps, as a share of the surface's diagonal (our choice).
const ROUGH_SPREAD: f64 = 0.03;
/// Tukey's biweight with 95 % efficiency for normal departures (Holland & Welsch 1977, from memory, source not seen).
const TUKEY: f64 = 4.685;
/// Robust spread is never taken below this share of the diagonal: the digits of the coordinates.
const LEAST_SPREAD: f64 = 1e-9;
/// A plane that moves by less than this share of the diagonal in one step stands still: far below its uncertainty.
const STILL: f64 = 1e-7;
/// Blocks of the surface for the uncertainty: neighbouring places share their errors, distant ones do not.
const BLOCKS: usize = 24;

/// A sampled place.
pub(crate) struct Sample {
    place: Vector3<f64>,
    block: usize,
    /// Its number along the surface: neighbours are mostly near each other.
    order: usize,
}

/// Samples searched for one after the other, each beginning where the last one was found.
pub(crate) const RUN: usize = 128;

/// A sample's mirror image and the place of the surface nearest to it.
struct Counterpart {
    block: usize,
    /// Derivatives of the residual by the plane's two tilts and its offset.
    row: Vector3<f64>,
    /// Distance along the surface's normal, mm.
    residual: f64,
    distance_squared: f64,
}

impl Counterpart {
    /// Tukey's biweight.
    fn weight(&self, reach: f64) -> f64 {
        let rest = (1.0 - self.distance_squared / (reach * reach)).max(0.0);
        rest * rest
    }
}

pub(crate) struct Search<'a> {
    tree: &'a Bvh<'a>,
    pub(crate) samples: Vec<Sample>,
    centre: Vector3<f64>,
    pub(crate) diagonal: f64,
}
impl<'a> Search<'a> {
    pub(crate) fn new(tree: &'a Bvh<'a>, options: &SymmetryOptions) -> Self {
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
        let mut samples: Vec<Sample> = places
            .into_iter()
            .zip(blocks)
            .enumerate()
            .map(|(order, (place, block))| Sample { place, block, order })
            .collect();
        // Mixed, so that the first few hundred are spread over the surface too; within each number that is looked at
        // they go over the surface in its own order, so that one search begins where the last one ended.
        for last in (1..samples.len()).rev() {
            samples.swap(last, random.random_range(0..=last));
        }
        let mut rest = samples.as_mut_slice();
        for length in [ROUGH_SAMPLES, FOLLOW_SAMPLES - ROUGH_SAMPLES, usize::MAX] {
            let (part, later) = rest.split_at_mut(length.min(rest.len()));
            part.sort_unstable_by_key(|sample| sample.order);
            rest = later;
        }
        Self { tree, samples, centre, diagonal }
    }

    /// Planes through the middle worth following, most promising first.
    pub(crate) fn candidates(&self, near: Option<[f64; 3]>) -> Vec<Plane> {
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
    pub(crate) fn follow(&self, start: Plane, samples: usize) -> Plane {
        let mut plane = start;
        let mut spread = ROUGH_SPREAD * self.diagonal;
        for _ in 0..12 {
            let reach = self.reach(spread);
            plane = self.step(plane, &self.counterparts(&plane, reach, samples), reach).0;
            spread *= 0.75;
        }
        plane
    }

    /// Repeats steps with all samples and the robust spread of their own departures until the plane stands still.
    pub(crate) fn settle(&self, start: Plane) -> Plane {
        let mut plane = start;
        for _ in 0..40 {
            let counterparts = self.counterparts(&plane, self.farthest(), self.samples.len());
            let reach = self.reach(self.spread(&self.distances(&counterparts)));
            let (next, moved) = self.step(plane, &counterparts, reach);
            plane = next;
            if moved < STILL {
                break;
            }
        }
        plane
    }

    /// One Gauss–Newton step; also how far the plane moved, as a share of the diagonal.
    fn step(&self, plane: Plane, counterparts: &[Option<Counterpart>], reach: f64) -> (Plane, f64) {
        let (mut matrix, mut right) = (Matrix3::zeros(), Vector3::zeros());
        for pair in counterparts.iter().flatten() {
            let weight = pair.weight(reach);
            matrix += pair.row * pair.row.transpose() * weight;
            right -= pair.row * (pair.residual * weight);
        }
        // A surface that slides along itself (a cylinder about its axis) leaves a direction open: hold it.
        let hold = matrix.trace() * 1e-9 + f64::MIN_POSITIVE;
        let Some(inverse) = (matrix + Matrix3::identity() * hold).try_inverse() else { return (plane, 0.0) };
        let change = inverse * right;
        (self.moved(&plane, &change), change.norm() / self.diagonal)
    }

    /// Distance beyond which a departure of this spread has no weight.
    fn reach(&self, spread: f64) -> f64 {
        TUKEY * spread.max(LEAST_SPREAD * self.diagonal)
    }

    /// Distance beyond which there is no counterpart at all.
    fn farthest(&self) -> f64 {
        TUKEY * ROUGH_SPREAD * self.diagonal
    }

    /// The plane turned by `change[0]`, `change[1]` (mm at the end of the diagonal) and moved by `change[2]` mm.
    fn moved(&self, plane: &Plane, change: &Vector3<f64>) -> Plane {
        let (first, second) = plane.axes();
        let tilt = (Vector3::from(first) * change[0] + Vector3::from(second) * change[1]) / self.diagonal;
        let normal = (Vector3::from(plane.normal) + tilt).normalize();
        let offset = plane.distance(self.centre.into()) - change[2];
        Plane { normal: normal.into(), offset: normal.dot(&self.centre) - offset }
    }

    /// The place of the surface nearest to the mirror image of each of the first samples, within a distance.
    fn counterparts(&self, plane: &Plane, within: f64, samples: usize) -> Vec<Option<Counterpart>> {
        let normal = Vector3::from(plane.normal);
        let (first, second) = plane.axes();
        let (first, second) = (Vector3::from(first), Vector3::from(second));
        let counterpart = |sample: &Sample, mirrored: Vector3<f64>, near: Nearest| {
            let height = plane.distance(sample.place.into());
            let facing = self.tree.mesh().double_area_normal(near.triangle).normalize();
            let from_centre = sample.place - self.centre;
            let tilt = |axis: &Vector3<f64>| {
                -2.0 * (axis.dot(&from_centre) * normal.dot(&facing) + height * axis.dot(&facing))
                    / self.diagonal
            };
            Counterpart {
                block: sample.block,
                row: Vector3::new(tilt(&first), tilt(&second), 2.0 * normal.dot(&facing)),
                residual: (mirrored - near.place).dot(&facing),
                distance_squared: near.distance_squared,
            }
        };
        self.samples[..samples.min(self.samples.len())]
            .par_chunks(RUN)
            .flat_map_iter(|run| {
                let counterpart = &counterpart;
                let mut likely = None;
                run.iter().map(move |sample| {
                    let mirrored = Vector3::from(plane.mirror(sample.place.into()));
                    let near = self.tree.nearest_from(mirrored, within, likely)?;
                    likely = Some(near.triangle);
                    Some(counterpart(sample, mirrored, near))
                })
            })
            .collect()
    }

    /// Distances between the surface and its mirror image; the farthest one where there is no counterpart.
    fn distances(&self, counterparts: &[Option<Counterpart>]) -> Vec<f64> {
        let distance = |pair: &Option<Counterpart>| {
            pair.as_ref().map_or(self.farthest(), |pair| pair.distance_squared.sqrt())
        };
        counterparts.iter().map(distance).collect()
    }

    /// Robust spread of some distances, mm.
    fn spread(&self, distances: &[f64]) -> f64 {
        let mut sorted = distances.to_vec();
        sorted.sort_unstable_by(f64::total_cmp);
        let median = sorted.get(sorted.len() / 2).copied().unwrap_or(0.0);
        (1.4826 * median).clamp(LEAST_SPREAD * self.diagonal, ROUGH_SPREAD * self.diagonal)
    }

    pub(crate) fn judge(&self, plane: Plane, samples: usize) -> MirrorPlane {
        let distances = self.distances(&self.counterparts(&plane, self.farthest(), samples));
        let spread_mm = self.spread(&distances);
        let reach = TUKEY * spread_mm.max(1e-4 * self.diagonal);
        let unmatched =
            distances.iter().filter(|&&d| d >= reach).count() as f64 / distances.len().max(1) as f64;
        let rough = ROUGH_SPREAD * self.diagonal;
        let losses: f64 = distances.iter().map(|d| (d / rough).powi(2).min(1.0)).sum();
        let misfit = losses / distances.len().max(1) as f64;
        MirrorPlane { plane, unmatched, spread_mm, misfit }
    }

    /// Leaves out each block of the surface in turn: one step each from the settled plane.
    pub(crate) fn uncertainty(&self, best: &MirrorPlane) -> (f64, f64) {
        let reach = self.reach(best.spread_mm);
        let counterparts = self.counterparts(&best.plane, reach, self.samples.len());
        let mut matrices = vec![Matrix3::<f64>::zeros(); BLOCKS];
        let mut rights = vec![Vector3::<f64>::zeros(); BLOCKS];
        for pair in counterparts.iter().flatten() {
            let weight = pair.weight(reach);
            matrices[pair.block] += pair.row * pair.row.transpose() * weight;
            rights[pair.block] -= pair.row * (pair.residual * weight);
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
