//! Mirror symmetry of a mesh: the plane that best folds the surface onto itself, and what departs from it.

use nalgebra::Vector3;
use quantity::Measured;
use rayon::prelude::*;

use crate::mirror_search::{CANDIDATES, FOLLOW_SAMPLES, RUN, SAME_DEG, Search};
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

/// A plane whose misfit is below twice the best one's and this much more mirrors about as well (our choice).
const AS_GOOD: f64 = 0.02;

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

/// Signed distance of every corner to the mirrored surface.
fn deviations(tree: &Bvh<'_>, plane: &Plane, diagonal: f64) -> Vec<f64> {
    let (_, normals) = tree.mesh().corner_areas_and_normals();
    let normal = Vector3::from(plane.normal);
    let mut deviations = vec![f64::NAN; normals.len()];
    deviations
        .par_chunks_mut(RUN)
        .zip(tree.mesh().points_mm().par_chunks(RUN))
        .zip(normals.par_chunks(RUN))
        .for_each(|((deviations, points), normals)| {
            let mut likely = None;
            for ((deviation, &point), &facing) in deviations.iter_mut().zip(points).zip(normals) {
                let mirrored = Vector3::from(plane.mirror(point));
                let facing = Vector3::from(facing);
                let facing_mirrored = facing - normal * (2.0 * normal.dot(&facing));
                if let Some(near) = tree.nearest_from(mirrored, diagonal, likely) {
                    let apart = mirrored - near.place;
                    *deviation = apart.norm().copysign(apart.dot(&facing_mirrored));
                    likely = Some(near.triangle);
                }
            }
        });
    deviations
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
            notes.push(format!(
                "Other planes that mirror the surface about as well: {}. State which symmetry is meant.",
                self.others.len()
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
