//! Grooves: depth, width, walls, raggedness of the edges, chips, and their change along the groove.

use nalgebra::{Matrix3, Vector3};
use quantity::Measured;
use rayon::prelude::*;

use crate::fillet::{nearest_line, places_along};
use crate::row::{Row, Rows};
use crate::{Bvh, HeightMap, MeasureError, ProfileShape, profile_shape, section};

/// What the caller decides.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GrooveOptions {
    /// Distance between sections along the path, mm.
    pub spacing_mm: f64,
    /// How far to either side of the path a section reaches, mm: the groove and some surface beside it.
    pub half_width_mm: f64,
    /// Share of a section at either end that is surface beside the groove.
    pub shoulder_share: f64,
    /// Smallest break of an edge that is called a chip, mm outwards.
    pub least_chip_mm: f64,
}

/// One cross-section.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GrooveStation {
    /// Distance from the start of the path, mm.
    pub along_mm: f64,
    /// The shape, lengths in mm.
    pub shape: ProfileShape,
}

/// A break of an edge.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Chip {
    /// Middle of the break, mm along the path.
    pub along_mm: f64,
    /// Its length along the edge, mm.
    pub length_mm: f64,
    /// How far it reaches beyond the edge, mm.
    pub depth_mm: f64,
}

/// One edge of a groove.
#[derive(Debug, Clone, PartialEq)]
pub struct Edge {
    /// Root mean square departure from a smooth line (a parabola), chips left out, mm.
    pub raggedness_mm: f64,
    /// The part of it that the uncertainty of the single edges does not explain, mm.
    pub raggedness_beyond_noise_mm: f64,
    /// Outermost plus innermost departure, chips included, mm.
    pub range_mm: f64,
    /// Breaks outwards.
    pub chips: Vec<Chip>,
}

/// A groove along a path.
#[derive(Debug, Clone, PartialEq)]
pub struct Groove {
    /// Sections in order.
    pub stations: Vec<GrooveStation>,
    /// Sections where no groove was found.
    pub without_groove: usize,
    /// Mean depth and its standard uncertainty, mm.
    pub depth_mm: Measured,
    /// Standard deviation of the depth along the groove, mm.
    pub depth_sd_mm: f64,
    /// Mean width, mm.
    pub width_mm: Measured,
    /// Standard deviation of the width along the groove, mm.
    pub width_sd_mm: f64,
    /// Median angle of the wall left of the path, degrees; NaN if it never had enough points.
    pub left_angle_deg: f64,
    /// Median angle of the wall right of the path, degrees.
    pub right_angle_deg: f64,
    /// Edge left of the path, walking along it.
    pub left: Edge,
    /// Edge right of the path.
    pub right: Edge,
    /// Change of the depth per millimetre of path.
    pub depth_change: Measured,
    /// Change of the width per millimetre of path.
    pub width_change: Measured,
}

/// A groove on a height map; `path_mm` in mm from the centre of the top-left pixel, x right, y down.
///
/// # Errors
/// [`MeasureError::BadSetting`] for settings out of range, [`MeasureError::TooFewPoints`] for a path of one point or
/// fewer than four sections with a groove.
pub fn groove(
    map: &HeightMap,
    path_mm: &[[f64; 2]],
    options: &GrooveOptions,
) -> Result<Groove, MeasureError> {
    check(options)?;
    let path: Vec<[f64; 3]> = path_mm.iter().map(|p| [p[0], p[1], 0.0]).collect();
    let places = places_along(&path, options.spacing_mm)?;
    let step_mm = map.dx_um().min(map.dy_um()) / 1000.0;
    let reach = (options.half_width_mm / step_mm).floor() as i64;
    let shapes: Vec<Option<GrooveStation>> = places
        .par_iter()
        .map(|(along, place, tangent)| {
            // Right of the path on the picture, where y runs down.
            let across = [-tangent.y, tangent.x];
            let points: Vec<[f64; 2]> = (-reach..=reach)
                .filter_map(|k| {
                    let t = k as f64 * step_mm;
                    let at = [place.x + t * across[0], place.y + t * across[1]];
                    let z_um = map.at_um([at[0] * 1000.0, at[1] * 1000.0])?;
                    Some([t, z_um / 1000.0])
                })
                .collect();
            let shape = profile_shape(&points, options.shoulder_share).ok()?;
            Some(GrooveStation { along_mm: *along, shape })
        })
        .collect();
    summary(shapes, options)
}

/// A groove on a mesh; sections at right angles to the path, which runs along the groove, on the surface or near it.
///
/// # Errors
/// As [`groove`].
pub fn groove_on_mesh(
    tree: &Bvh<'_>,
    path_mm: &[[f64; 3]],
    options: &GrooveOptions,
) -> Result<Groove, MeasureError> {
    check(options)?;
    let places = places_along(path_mm, options.spacing_mm)?;
    let shapes: Vec<Option<GrooveStation>> = places
        .par_iter()
        .map(|(along, place, tangent)| {
            // The surface around the groove, not the wall that happens to be nearest, says what is outward; and the
            // edges are measured from the path, which does not jump from wall to wall as the nearest place would.
            let around = tree.in_ball(*place, options.half_width_mm);
            let facing: Vector3<f64> = around.into_iter().map(|t| tree.mesh().double_area_normal(t)).sum();
            let outward = (facing - tangent * tangent.dot(&facing)).try_normalize(1e-12)?;
            let across = tangent.cross(&outward);
            let lines =
                section(tree, (*place).into(), across.into(), outward.into(), options.half_width_mm).ok()?;
            let (line, _) = nearest_line(&lines)?;
            let mut points: Vec<[f64; 2]> = line.iter().map(|p| p.place_mm).collect();
            if points.first().zip(points.last()).is_some_and(|(first, last)| first[0] > last[0]) {
                points.reverse();
            }
            let shape = profile_shape(&points, options.shoulder_share).ok()?;
            Some(GrooveStation { along_mm: *along, shape })
        })
        .collect();
    summary(shapes, options)
}

fn check(options: &GrooveOptions) -> Result<(), MeasureError> {
    for (name, found) in [
        ("spacing of the sections, mm", options.spacing_mm),
        ("reach of a section, mm", options.half_width_mm),
        ("smallest chip, mm", options.least_chip_mm),
    ] {
        if !(found.is_finite() && found > 0.0) {
            return Err(MeasureError::BadSetting { name, found, needed: "finite and positive" });
        }
    }
    Ok(())
}

fn summary(shapes: Vec<Option<GrooveStation>>, options: &GrooveOptions) -> Result<Groove, MeasureError> {
    let without_groove = shapes.iter().filter(|shape| shape.is_none()).count();
    let stations: Vec<GrooveStation> = shapes.into_iter().flatten().collect();
    if stations.len() < 4 {
        let found = stations.len();
        return Err(MeasureError::TooFewPoints {
            what: "a groove (sections that show it)",
            found,
            needed: 4,
        });
    }
    let along: Vec<f64> = stations.iter().map(|s| s.along_mm).collect();
    let of =
        |value: &dyn Fn(&ProfileShape) -> f64| stations.iter().map(|s| value(&s.shape)).collect::<Vec<f64>>();
    let depths = of(&|s| s.depth.value);
    let widths = of(&|s| s.width.value);
    let (depth_mm, depth_sd_mm, depth_change) = level_and_change(&along, &depths);
    let (width_mm, width_sd_mm, width_change) = level_and_change(&along, &widths);
    let edge = |outward: Vec<f64>, u: Vec<f64>| ragged_edge(&along, &outward, &u, options);
    Ok(Groove {
        without_groove,
        depth_mm,
        depth_sd_mm,
        width_mm,
        width_sd_mm,
        left_angle_deg: median(of(&|s| s.left.angle_deg.unwrap_or(f64::NAN))),
        right_angle_deg: median(of(&|s| s.right.angle_deg.unwrap_or(f64::NAN))),
        left: edge(of(&|s| -s.left.edge.value), of(&|s| s.left.edge.u)),
        right: edge(of(&|s| s.right.edge.value), of(&|s| s.right.edge.u)),
        depth_change,
        width_change,
        stations,
    })
}

/// Mean with its uncertainty, standard deviation, and change per unit of length.
fn level_and_change(along: &[f64], values: &[f64]) -> (Measured, f64, Measured) {
    let count = values.len() as f64;
    let mean = values.iter().sum::<f64>() / count;
    let middle = along.iter().sum::<f64>() / count;
    let squares: f64 = along.iter().map(|s| (s - middle).powi(2)).sum();
    let slope = along.iter().zip(values).map(|(s, v)| (s - middle) * (v - mean)).sum::<f64>() / squares;
    let total: f64 = values.iter().map(|v| (v - mean).powi(2)).sum();
    let left: f64 = along.iter().zip(values).map(|(s, v)| (v - mean - slope * (s - middle)).powi(2)).sum();
    let sd = (total / (count - 1.0)).sqrt();
    let slope_u = (left / (count - 2.0) / squares).sqrt();
    (Measured { value: mean, u: sd / count.sqrt() }, sd, Measured { value: slope, u: slope_u })
}

fn ragged_edge(along: &[f64], outward: &[f64], u: &[f64], options: &GrooveOptions) -> Edge {
    let smooth = smooth_line(along, outward);
    let departures: Vec<f64> = outward.iter().zip(&smooth).map(|(edge, line)| edge - line).collect();
    let spread = 1.4826 * median(departures.iter().map(|d| d.abs()).collect());
    let threshold = options.least_chip_mm.max(3.0 * spread);
    let mut chips = Vec::new();
    let mut kept = Vec::new();
    let broken: Vec<bool> = departures.iter().map(|&d| d > threshold).collect();
    let indices: Vec<usize> = (0..departures.len()).collect();
    for run in indices.chunk_by(|&a, &b| broken[a] == broken[b]) {
        let (first, last) = (run[0], run[run.len() - 1]);
        if broken[first] {
            let depth_mm = run.iter().map(|&k| departures[k]).fold(0.0, f64::max);
            let length_mm = along[last] - along[first] + options.spacing_mm;
            chips.push(Chip { along_mm: (along[first] + along[last]) / 2.0, length_mm, depth_mm });
        } else {
            kept.extend(run.iter().copied());
        }
    }
    let mean_square = |of: &dyn Fn(usize) -> f64| {
        kept.iter().map(|&k| of(k).powi(2)).sum::<f64>() / kept.len().max(1) as f64
    };
    let square = mean_square(&|k| departures[k]);
    let noise = mean_square(&|k| if u[k].is_finite() { u[k] } else { 0.0 });
    let (low, high) = departures.iter().fold((0.0_f64, 0.0_f64), |(l, h), &d| (l.min(d), h.max(d)));
    Edge {
        raggedness_mm: square.sqrt(),
        raggedness_beyond_noise_mm: (square - noise).max(0.0).sqrt(),
        range_mm: high - low,
        chips,
    }
}

/// A parabola through the edge; departures beyond three robust standard deviations lose their weight.
fn smooth_line(along: &[f64], values: &[f64]) -> Vec<f64> {
    let middle = (along[0] + along[along.len() - 1]) / 2.0;
    let half = ((along[along.len() - 1] - along[0]) / 2.0).max(f64::MIN_POSITIVE);
    let row = |s: f64| {
        let x = (s - middle) / half;
        Vector3::new(1.0, x, x * x)
    };
    let mut weights = vec![1.0; values.len()];
    let mut line = vec![0.0; values.len()];
    for _ in 0..10 {
        let (mut matrix, mut right) = (Matrix3::zeros(), Vector3::zeros());
        for ((&s, &value), &weight) in along.iter().zip(values).zip(&weights) {
            matrix += row(s) * row(s).transpose() * weight;
            right += row(s) * (value * weight);
        }
        let Some(inverse) = matrix.try_inverse() else { break };
        let coefficients = inverse * right;
        line = along.iter().map(|&s| row(s).dot(&coefficients)).collect();
        let departures: Vec<f64> = values.iter().zip(&line).map(|(v, l)| (v - l).abs()).collect();
        let limit = 3.0 * 1.4826 * median(departures.clone());
        let kept: Vec<f64> = departures.iter().map(|&d| f64::from(u8::from(d <= limit))).collect();
        if kept == weights || kept.iter().sum::<f64>() < 4.0 {
            break;
        }
        weights = kept;
    }
    line
}

fn median(mut values: Vec<f64>) -> f64 {
    values.retain(|v| !v.is_nan());
    values.sort_by(f64::total_cmp);
    values.get(values.len() / 2).copied().unwrap_or(f64::NAN)
}

impl Rows for Groove {
    fn rows(&self) -> Vec<Row> {
        let mut rows = vec![
            Row::new("Depth, mean", self.depth_mm, "mm"),
            Row::plain("Depth, standard deviation along the groove", self.depth_sd_mm, "mm"),
            Row::new("Width, mean", self.width_mm, "mm"),
            Row::plain("Width, standard deviation along the groove", self.width_sd_mm, "mm"),
            Row::new("Depth, change per 100 mm", self.depth_change.scaled(100.0), "mm"),
            Row::new("Width, change per 100 mm", self.width_change.scaled(100.0), "mm"),
        ];
        for (side, edge, angle) in
            [("left", &self.left, self.left_angle_deg), ("right", &self.right, self.right_angle_deg)]
        {
            if angle.is_finite() {
                rows.push(Row::plain(format!("Angle of the {side} wall, median"), angle, "°"));
            }
            rows.push(Row::plain(format!("Raggedness of the {side} edge, RMS"), edge.raggedness_mm, "mm"));
            rows.push(Row::plain(
                format!("Raggedness of the {side} edge beyond the noise, RMS"),
                edge.raggedness_beyond_noise_mm,
                "mm",
            ));
            rows.push(Row::plain(format!("Chips of the {side} edge"), edge.chips.len() as f64, ""));
        }
        rows.push(Row::plain("Sections with the groove", self.stations.len() as f64, ""));
        rows.push(Row::plain("Sections without it", self.without_groove as f64, ""));
        rows
    }

    fn notes(&self) -> Vec<String> {
        vec!["Depth is that of the deepest point of each section, so noise deepens it a little.".to_owned()]
    }
}

#[cfg(test)]
#[path = "groove_tests.rs"]
mod tests;
