//! Undercuts and fillets: the radius along a path, and how even it is.

use nalgebra::{DMatrix, Vector3};
use quantity::Measured;
use rayon::prelude::*;

use crate::circle::radius_u;
use crate::row::{Row, Rows};
use crate::section::SectionLine;
use crate::{Bvh, Circle, MeasureError, fit_circle, section};

/// What the caller decides.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FilletOptions {
    /// Distance between the sections along the path, mm.
    pub spacing_mm: f64,
    /// How far from the path a section is looked at, mm: somewhat more than the fillet reaches.
    pub look_mm: f64,
    /// Length along the section, centred on the path, that belongs to the fillet, mm; `None` finds it from the
    /// curvature of the section.
    pub arc_mm: Option<f64>,
    /// Relative standard uncertainty of the mesh's scale; 0 if unknown.
    pub scale_u: f64,
}

/// One section.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FilletStation {
    /// Distance from the start of the path, mm.
    pub along_mm: f64,
    /// Place on the path, mm.
    pub place_mm: [f64; 3],
    /// Radius, mm.
    pub radius_mm: Measured,
    /// Whether the surface is hollow there (a fillet) or rounded outwards (an edge).
    pub hollow: bool,
    /// Angle the fitted arc spans, degrees.
    pub arc_deg: f64,
    /// Root mean square of the section's distances from the circle, mm.
    pub rms_mm: f64,
}

/// Radius along a path.
#[derive(Debug, Clone, PartialEq)]
pub struct Fillet {
    /// The sections, in order along the path; those without a circle are left out.
    pub stations: Vec<FilletStation>,
    /// Sections that showed no arc.
    pub without_arc: usize,
    /// Mean radius, mm.
    pub mean_mm: Measured,
    /// Standard deviation of the radius from section to section, mm.
    pub sd_mm: f64,
    /// The part of it that the uncertainty of the single radii does not explain, mm.
    pub sd_beyond_noise_mm: f64,
    /// Change of the radius per millimetre along the path.
    pub drift_per_mm: Measured,
    /// Index of the section farthest from the mean.
    pub worst: usize,
}

/// Sections narrower than this many points cannot show a curvature.
const LEAST_POINTS: usize = 7;

/// Radius of a fillet or rounded edge in sections at right angles to a path, by a circle of least geometric distance.
///
/// `path_mm` is a line of at least two points near the middle of the fillet; each section is laid through the nearest
/// place on the surface.
///
/// # Errors
/// [`MeasureError::BadSetting`] for settings out of range, [`MeasureError::TooFewPoints`] for a path of fewer than two
/// distinct points or if fewer than two sections show an arc.
///
/// # Source
/// Least-squares circle; uncertainty by the law of propagation with the corners of the mesh as independent sources
/// (JCGM 100:2008, 5.1.2 and 5.2.2). Extent of the arc where the curvature of the section, fitted over a window, is
/// above half of its plateau: derivation ours.
pub fn fillet(tree: &Bvh<'_>, path_mm: &[[f64; 3]], options: &FilletOptions) -> Result<Fillet, MeasureError> {
    for (name, found) in [
        ("spacing of the sections, mm", options.spacing_mm),
        ("reach of a section, mm", options.look_mm),
        ("length of the arc, mm", options.arc_mm.unwrap_or(1.0)),
    ] {
        if !(found.is_finite() && found > 0.0) {
            return Err(MeasureError::BadSetting { name, found, needed: "finite and positive" });
        }
    }
    let places = places_along(path_mm, options.spacing_mm)?;
    let normals = tree.mesh().corner_areas_and_normals().1;
    let cuts: Vec<Option<Cut>> = places
        .par_iter()
        .map(|(along, place, tangent)| Cut::new(tree, &normals, *along, place, tangent, options))
        .collect();
    let (half_arc, middles) = match options.arc_mm {
        Some(arc) => (arc / 2.0, vec![Some(0.0); cuts.len()]),
        // One length for all sections: chosen one by one, the sections whose arc happens to look long would be taken at
        // their word and bias the radius. An eighth at either end is left out, for the end is known no better.
        None => (0.375 * median(cuts.iter().flatten().filter_map(Cut::arc_length).collect()), middles(&cuts)),
    };
    let stations: Vec<FilletStation> = cuts
        .par_iter()
        .zip(&middles)
        .filter_map(|(cut, middle)| cut.as_ref()?.station((*middle)?, half_arc, options.scale_u))
        .collect();
    let without_arc = places.len() - stations.len();
    if stations.len() < 2 {
        let found = stations.len();
        return Err(MeasureError::TooFewPoints {
            what: "evenness of a radius (sections with an arc)",
            found,
            needed: 2,
        });
    }
    Ok(summary(stations, without_arc, options.scale_u))
}

/// Distance from the start of a path, the place there, and the path's direction.
pub(crate) type Place = (f64, Vector3<f64>, Vector3<f64>);

/// Places at even distances along a line, with their directions.
pub(crate) fn places_along(path: &[[f64; 3]], spacing: f64) -> Result<Vec<Place>, MeasureError> {
    /// More sections than this are a wrong unit, not a measurement.
    const MOST: f64 = 100_000.0;
    let points: Vec<Vector3<f64>> = path.iter().map(|&p| Vector3::from(p)).collect();
    let length: f64 = points.windows(2).map(|p| (p[1] - p[0]).norm()).sum();
    if !(length.is_finite() && length > 0.0) {
        return Err(MeasureError::TooFewPoints {
            what: "a path (distinct points)",
            found: path.len().min(1),
            needed: 2,
        });
    }
    if length / spacing > MOST {
        let found = length / spacing;
        return Err(MeasureError::BadSetting { name: "number of sections", found, needed: "at most 100000" });
    }
    let count = (length / spacing).floor() as usize;
    // The sections are centred on the path, so that both ends keep the same distance.
    let first = (length - count as f64 * spacing) / 2.0;
    let mut places = Vec::with_capacity(count + 1);
    let mut passed = 0.0;
    for pair in points.windows(2) {
        let step = pair[1] - pair[0];
        while places.len() <= count {
            let along = first + places.len() as f64 * spacing;
            if along > passed + step.norm() + 1e-12 * length {
                break;
            }
            let tangent = step.try_normalize(0.0).unwrap_or_default();
            places.push((along, pair[0] + tangent * (along - passed), tangent));
        }
        passed += step.norm();
    }
    Ok(places)
}

/// One section before its circle is fitted.
struct Cut {
    along_mm: f64,
    place_mm: [f64; 3],
    line: SectionLine,
    lengths: Vec<f64>,
    /// Number of the point nearest to the path.
    nearest: usize,
    /// Where the arc begins and ends, along the section from the point nearest to the path; `None` if it shows none or
    /// was not looked for.
    arc: Option<[f64; 2]>,
}

impl Cut {
    fn new(
        tree: &Bvh<'_>,
        normals: &[[f64; 3]],
        along_mm: f64,
        place: &Vector3<f64>,
        tangent: &Vector3<f64>,
        options: &FilletOptions,
    ) -> Option<Self> {
        let near = tree.nearest(*place, options.look_mm)?;
        let corners = tree.mesh().triangles()[near.triangle];
        let facing: Vector3<f64> =
            corners.iter().map(|&corner| Vector3::from(normals[corner as usize])).sum();
        let outward = (facing - tangent * tangent.dot(&facing)).try_normalize(1e-12)?;
        let across = outward.cross(tangent);
        let lines = section(tree, near.place.into(), across.into(), outward.into(), options.look_mm).ok()?;
        let (line, nearest) = nearest_line(&lines)?;
        let lengths = running_length(line);
        let arc = match options.arc_mm {
            Some(_) => None,
            None => arc_extent(line, &lengths, nearest),
        };
        let arc = arc.map(|(start, end)| [start - lengths[nearest], end - lengths[nearest]]);
        Some(Self { along_mm, place_mm: near.place.into(), line: line.clone(), lengths, nearest, arc })
    }

    fn arc_length(&self) -> Option<f64> {
        self.arc.map(|[start, end]| end - start)
    }

    /// Fits the circle to the points within `half_arc` of the middle of the arc, which lies `middle` from the point
    /// nearest to the path.
    fn station(&self, middle: f64, half_arc: f64, scale_u: f64) -> Option<FilletStation> {
        let middle = self.lengths[self.nearest] + middle;
        let within = |s: f64| (s - middle).abs() <= half_arc;
        let chosen: SectionLine =
            self.line.iter().zip(&self.lengths).filter(|&(_, &s)| within(s)).map(|(p, _)| *p).collect();
        if chosen.len() < LEAST_POINTS {
            return None;
        }
        let points: Vec<[f64; 2]> = chosen.iter().map(|p| p.place_mm).collect();
        let circle = fit_circle(&points)?;
        let noise_u = radius_u(&points, &circle, &sources(&chosen))?;
        // The fit is unbiased in the curvature; its inverse, the radius, comes out too large by the square of its
        // relative uncertainty (second-order term of the law of propagation, JCGM 100:2008, 5.1.2 note).
        let radius = circle.radius / (1.0 + (noise_u / circle.radius).powi(2));
        Some(FilletStation {
            along_mm: self.along_mm,
            place_mm: self.place_mm,
            radius_mm: Measured { value: radius, u: noise_u.hypot(scale_u * radius) },
            hollow: is_hollow(&points, &circle),
            arc_deg: (2.0 * half_arc / radius).to_degrees().min(360.0),
            rms_mm: circle.rms,
        })
    }
}

/// Where the middle of the arc lies in each section: the median of what the sections around it show, so that one
/// section's noise does not carry it onto the flat beside the arc. A section whose own arc is lost in the noise is taken
/// with its neighbours if most of them show one: left out, it would be those with the weakest bend that are missing.
fn middles(cuts: &[Option<Cut>]) -> Vec<Option<f64>> {
    /// Sections to either side: enough to quieten the noise, few enough to follow a path that strays (our choice).
    const AROUND: usize = 10;
    let own: Vec<Option<f64>> =
        cuts.iter().map(|cut| cut.as_ref()?.arc.map(|[start, end]| (start + end) / 2.0)).collect();
    let around = |index: usize| {
        let window = &own[index.saturating_sub(AROUND)..(index + AROUND + 1).min(own.len())];
        let shown: Vec<f64> = window.iter().flatten().copied().collect();
        let most = 3 * shown.len() >= 2 * window.len();
        (most || own[index].is_some()).then(|| median(shown))
    };
    (0..own.len()).map(around).collect()
}

/// Median; 0 of nothing.
fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    values.get(values.len() / 2).copied().unwrap_or(0.0)
}

/// The line of the section that passes nearest to its origin, and its point there.
pub(crate) fn nearest_line(lines: &[SectionLine]) -> Option<(&SectionLine, usize)> {
    let mut best: Option<(f64, &SectionLine, usize)> = None;
    for line in lines {
        for (index, point) in line.iter().enumerate() {
            let distance = point.place_mm[0].hypot(point.place_mm[1]);
            if best.is_none_or(|(least, ..)| distance < least) {
                best = Some((distance, line, index));
            }
        }
    }
    best.map(|(_, line, index)| (line, index))
}

fn running_length(line: &SectionLine) -> Vec<f64> {
    let mut sum = 0.0;
    let mut lengths = vec![0.0];
    for pair in line.windows(2) {
        sum += (pair[1].place_mm[0] - pair[0].place_mm[0]).hypot(pair[1].place_mm[1] - pair[0].place_mm[1]);
        lengths.push(sum);
    }
    lengths
}

/// Where along the section the arc runs. Curvature fitted over a window rises from flat to arc over the width of that
/// window and passes half of its plateau at the true end of the arc. The largest window is taken that fits twice into
/// the arc it shows.
fn arc_extent(line: &SectionLine, lengths: &[f64], nearest: usize) -> Option<(f64, f64)> {
    const SHARES: [f64; 8] = [0.5, 0.4, 0.32, 0.25, 0.2, 0.16, 0.12, 0.09];
    let total = lengths.last().copied()?;
    for share in SHARES {
        let window = share * total;
        let curvatures: Vec<Option<f64>> =
            lengths.iter().map(|&s| window_curvature(line, lengths, s, window)).collect();
        let Some((start, end)) = above_half(&curvatures, lengths, nearest, window) else { continue };
        if end - start >= 2.0 * window {
            return Some((start, end));
        }
    }
    None
}

/// The stretch around the path where the curvature stays above half of its plateau.
fn above_half(
    curvatures: &[Option<f64>],
    lengths: &[f64],
    nearest: usize,
    window: f64,
) -> Option<(f64, f64)> {
    let here = curvatures.get(nearest).copied().flatten()?;
    let sign = here.signum();
    let mut near: Vec<f64> = curvatures
        .iter()
        .zip(lengths)
        .filter(|&(_, &s)| (s - lengths[nearest]).abs() <= window / 2.0)
        .filter_map(|(k, _)| k.map(|k| k * sign))
        .collect();
    near.sort_by(f64::total_cmp);
    let plateau = *near.get(near.len() / 2)?;
    if plateau <= 0.0 {
        return None;
    }
    let above = |index: &usize| curvatures[*index].is_none_or(|k| k * sign > plateau / 2.0);
    let first = (0..=nearest).rev().take_while(above).last()?;
    let last = (nearest..curvatures.len()).take_while(above).last()?;
    Some((lengths[first], lengths[last]))
}

/// Curvature of the section near `at` over a window, positive to the left; `None` with too few points or where the
/// window hangs over the end of the section by more than half.
fn window_curvature(line: &SectionLine, lengths: &[f64], at: f64, window: f64) -> Option<f64> {
    let first = lengths.partition_point(|&s| s < at - window / 2.0);
    let last = lengths.partition_point(|&s| s <= at + window / 2.0);
    let points: Vec<[f64; 2]> = line[first..last].iter().map(|p| p.place_mm).collect();
    if points.len() < LEAST_POINTS {
        return None;
    }
    let Some(circle) = fit_circle(&points) else { return Some(0.0) };
    Some(turning(&points, &circle) / circle.radius)
}

/// +1 if the points run counter-clockwise around the circle's centre, −1 if clockwise.
fn turning(points: &[[f64; 2]], circle: &Circle) -> f64 {
    let (a, b) = (points[0], points[points.len() - 1]);
    let cross = (a[0] - circle.centre[0]) * (b[1] - circle.centre[1])
        - (a[1] - circle.centre[1]) * (b[0] - circle.centre[0]);
    cross.signum()
}

/// The second axis of a section points out of the stone: a centre out there means a hollow.
fn is_hollow(points: &[[f64; 2]], circle: &Circle) -> bool {
    let mean = points.iter().map(|p| p[1]).sum::<f64>() / points.len() as f64;
    circle.centre[1] > mean
}

/// How much of which corner of the mesh each point carries: rows points, columns corners.
fn sources(line: &SectionLine) -> DMatrix<f64> {
    let mut corners: Vec<u32> = line.iter().flat_map(|p| p.corners.map(|(corner, _)| corner)).collect();
    corners.sort_unstable();
    corners.dedup();
    let mut matrix = DMatrix::zeros(line.len(), corners.len());
    for (row, point) in line.iter().enumerate() {
        for (corner, share) in point.corners {
            if let Ok(column) = corners.binary_search(&corner) {
                matrix[(row, column)] += share;
            }
        }
    }
    matrix
}

fn summary(stations: Vec<FilletStation>, without_arc: usize, scale_u: f64) -> Fillet {
    let count = stations.len() as f64;
    let mean = stations.iter().map(|s| s.radius_mm.value).sum::<f64>() / count;
    let squares: f64 = stations.iter().map(|s| (s.radius_mm.value - mean).powi(2)).sum();
    let sd = (squares / (count - 1.0)).sqrt();
    // The scale is common to all sections: it moves the mean, not the scatter.
    let noise = |s: &FilletStation| (s.radius_mm.u.powi(2) - (scale_u * s.radius_mm.value).powi(2)).max(0.0);
    let noise_variance = stations.iter().map(noise).sum::<f64>() / count;
    let (drift, drift_u) = slope(&stations, mean, sd.max(noise_variance.sqrt()));
    let distance = |s: &FilletStation| (s.radius_mm.value - mean).abs();
    let worst = (0..stations.len())
        .max_by(|&a, &b| distance(&stations[a]).total_cmp(&distance(&stations[b])))
        .unwrap_or(0);
    let mean_u = (sd.max(noise_variance.sqrt()) / count.sqrt()).hypot(scale_u * mean);
    Fillet {
        stations,
        without_arc,
        mean_mm: Measured { value: mean, u: mean_u },
        sd_mm: sd,
        sd_beyond_noise_mm: (sd * sd - noise_variance).max(0.0).sqrt(),
        drift_per_mm: Measured { value: drift, u: drift_u },
        worst,
    }
}

fn slope(stations: &[FilletStation], mean_radius: f64, sd: f64) -> (f64, f64) {
    let count = stations.len() as f64;
    let middle = stations.iter().map(|s| s.along_mm).sum::<f64>() / count;
    let squares: f64 = stations.iter().map(|s| (s.along_mm - middle).powi(2)).sum();
    let products: f64 =
        stations.iter().map(|s| (s.along_mm - middle) * (s.radius_mm.value - mean_radius)).sum();
    (products / squares, sd / squares.sqrt())
}

impl Rows for Fillet {
    fn rows(&self) -> Vec<Row> {
        let worst = &self.stations[self.worst];
        vec![
            Row::new("Radius, mean along the path", self.mean_mm, "mm"),
            Row::plain("Radius, standard deviation from section to section", self.sd_mm, "mm"),
            Row::plain("Radius, standard deviation beyond the noise", self.sd_beyond_noise_mm, "mm"),
            Row::new("Radius, change per 100 mm of path", self.drift_per_mm.scaled(100.0), "mm"),
            Row::new(
                format!("Radius at the worst place, {:.1} mm along", worst.along_mm),
                worst.radius_mm,
                "mm",
            ),
            Row::plain("Sections with an arc", self.stations.len() as f64, ""),
            Row::plain("Sections without an arc", self.without_arc as f64, ""),
        ]
    }

    fn notes(&self) -> Vec<String> {
        let hollow = self.stations.iter().filter(|s| s.hollow).count();
        let rounded = self.stations.len() - hollow;
        let mut notes = Vec::new();
        if hollow > 0 && rounded > 0 {
            notes.push(format!(
                "{hollow} sections are hollow and {rounded} rounded outwards: the path leaves the fillet."
            ));
        }
        notes
    }
}

#[cfg(test)]
#[path = "fillet_tests.rs"]
mod tests;
