//! Material removed: the volume between a surface and the block face it was worked down from.

use nalgebra::Vector3;
use quantity::Measured;
use rayon::prelude::*;

use crate::geometry::signed_area;
use crate::row::{Row, Rows};
use crate::{HeightMap, MeasureError, Mesh, MeshCondition, Plane, Polygon, convex_hull};

/// The face of the raw block, as a plane in the surface's own coordinates with its normal out of the stone: fitted to
/// untouched bosses, or a planed face raised by a height ([`Plane::raised`]).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BlockFace {
    /// The plane: mm on a mesh, µm on a height map.
    pub plane: Plane,
    /// Standard uncertainty of its height, in the same unit.
    pub u: f64,
    /// Relative standard uncertainty of the surface's scale; 0 if unknown.
    pub scale_u: f64,
}

/// One source of uncertainty of a volume.
#[derive(Debug, Clone, PartialEq)]
pub struct RemovedPart {
    /// What it comes from.
    pub source: &'static str,
    /// Standard uncertainty of the volume from it, mm³.
    pub u_mm3: f64,
}

/// Material removed.
#[derive(Debug, Clone, PartialEq)]
pub struct Removed {
    /// Volume between the block face and the surface below it, mm³.
    pub volume_mm3: Measured,
    /// Volume of the surface that stands above the block face, mm³; not subtracted.
    pub above_mm3: f64,
    /// Area of the region in the block face, mm².
    pub area_mm2: f64,
    /// Area of the region where the surface was not measured, mm²; nothing is added for it.
    pub unseen_mm2: f64,
    /// Mean depth of the single points below the block face, mm: not from the integral, unless a region of a mesh holds
    /// no corner.
    pub mean_depth_mm: f64,
    /// The hand check, region's area × mean depth of the points, mm³.
    pub hand_check_mm3: f64,
    /// Where the uncertainty comes from.
    pub parts: Vec<RemovedPart>,
}

/// Volume removed over a region of a height map (the whole map without an outline; µm, x right, y down).
///
/// Each measured height stands for its cell of the grid.
///
/// # Errors
/// [`MeasureError::TooFewPoints`] if no height is measured in the region, [`MeasureError::BadSetting`] for a negative
/// uncertainty, [`MeasureError::Degenerate`] for a block face that stands upright.
pub fn removed_from_map(
    map: &HeightMap,
    outline_um: Option<&Polygon>,
    block: &BlockFace,
) -> Result<Removed, MeasureError> {
    check(block)?;
    let [nx, ny, nz] = block.plane.normal;
    if nz.abs() < 1e-6 {
        return Err(MeasureError::Degenerate {
            what: "volume",
            fault: "the block face stands upright on the map",
        });
    }
    let face_at = |x: f64, y: f64| (block.plane.offset - nx * x - ny * y) / nz;
    let cell_um2 = map.dx_um() * map.dy_um();
    let rows: Vec<[f64; 4]> = (0..map.height())
        .into_par_iter()
        .map(|y| {
            let mut sums = [0.0; 4];
            let y_um = y as f64 * map.dy_um();
            for (x, &z) in map.row(y).iter().enumerate() {
                let x_um = x as f64 * map.dx_um();
                if outline_um.is_some_and(|outline| !outline.contains([x_um, y_um])) {
                    continue;
                }
                if z.is_nan() {
                    sums[3] += 1.0;
                } else {
                    let depth = face_at(x_um, y_um) - z;
                    sums = [sums[0] + 1.0, sums[1] + depth.max(0.0), sums[2] + (-depth).max(0.0), sums[3]];
                }
            }
            sums
        })
        .collect();
    let [count, below, above, missing] =
        rows.into_iter().fold([0.0; 4], |a, b| std::array::from_fn(|k| a[k] + b[k]));
    if count < 1.0 {
        return Err(MeasureError::TooFewPoints { what: "volume", found: 0, needed: 1 });
    }
    const MM3: f64 = 1e-9;
    const MM2: f64 = 1e-6;
    let sums = Sums {
        below: below * cell_um2 * MM3,
        above: above * cell_um2 * MM3,
        area: outline_um.map_or((count + missing) * cell_um2, Polygon::area) * MM2,
        unseen: missing * cell_um2 * MM2,
        depth: (below - above) / count / 1000.0,
        face_u: block.u / 1000.0,
        scale_u: block.scale_u,
        // Whether a cell on the outline belongs to the region is known to half a cell.
        outline: outline_um.map_or(0.0, Polygon::perimeter) / 1000.0,
        cell: cell_um2.sqrt() / 1000.0,
    };
    Ok(sums.removed())
}

/// Net area of a surface, as a share of all of it, below which only rounding is left of front and back.
const CANCELLED: f64 = 1e-6;

/// Volume removed over a region of a mesh; `outline_mm` are corners of a region around which the surface is looked at
/// along the block face's normal (the whole mesh without).
///
/// Exact for the triangles: each is cut by the outline and by the block face. Parts of the surface that face away from
/// the block face (overhangs) count against it, so undercut hollows come out right.
///
/// # Errors
/// [`MeasureError::TooFewPoints`] if the region meets no triangle, [`MeasureError::BadSetting`] for a negative uncertainty,
/// [`MeasureError::Degenerate`] for an outline without area, a surface that closes round on itself or turns its back.
pub fn removed_from_mesh(
    mesh: &Mesh,
    outline_mm: Option<&[[f64; 3]]>,
    block: &BlockFace,
) -> Result<Removed, MeasureError> {
    check(block)?;
    let (first, second) = block.plane.axes();
    let flat = |p: [f64; 3]| {
        let p = Vector3::from(p);
        [p.dot(&Vector3::from(first)), p.dot(&Vector3::from(second))]
    };
    let no_area =
        MeasureError::Degenerate { what: "volume", fault: "the outline encloses no area on the block face" };
    let outline = match outline_mm {
        Some(corners) => Some(Polygon::new(corners.iter().map(|&p| flat(p)).collect()).ok_or(no_area)?),
        None => None,
    };
    let corner = |index: u32| {
        let point = mesh.points_mm()[index as usize];
        let [u, v] = flat(point);
        [u, v, -block.plane.distance(point)]
    };
    let parts: Vec<[f64; 3]> =
        mesh.triangles().par_iter().map(|triangle| prism(triangle.map(corner), outline.as_ref())).collect();
    let [below, above, area] = parts.iter().fold([0.0; 3], |a, b| std::array::from_fn(|k| a[k] + b[k]));
    let seen: Vec<f64> = (0..mesh.points_mm().len() as u32)
        .map(corner)
        .filter(|c| outline.as_ref().is_none_or(|outline| outline.contains([c[0], c[1]])))
        .map(|c| c[2])
        .collect();
    let gross = parts.iter().map(|part| part[2].abs()).sum::<f64>();
    if gross <= 0.0 {
        return Err(MeasureError::TooFewPoints {
            what: "volume (surface facing the block face)",
            found: 0,
            needed: 1,
        });
    }
    let fault = |fault: &'static str| MeasureError::Degenerate { what: "volume", fault };
    if area.abs() <= CANCELLED * gross {
        // What is left is the volume of the body itself.
        return Err(fault(
            "the surface closes round on itself, so that its back takes from its front; cut the scan to the worked face",
        ));
    }
    if area < 0.0 {
        return Err(fault("the surface turns its back to the block face; turn its triangles over"));
    }
    let whole = outline.as_ref().map_or(area, Polygon::area);
    let sums = Sums {
        below,
        above,
        area: whole,
        unseen: (whole - area).max(0.0),
        // A region inside a single large triangle holds no corner: then only the integral is left.
        depth: if seen.is_empty() {
            (below - above) / area
        } else {
            seen.iter().sum::<f64>() / seen.len() as f64
        },
        face_u: block.u,
        scale_u: block.scale_u,
        outline: 0.0,
        cell: 0.0,
    };
    Ok(sums.removed())
}

/// Volume between a closed mesh and its convex hull: the least that was taken from a block without hollows.
///
/// # Errors
/// [`MeasureError::Degenerate`] unless the mesh closes a volume, and those of [`convex_hull`].
pub fn removed_from_hull(
    mesh: &Mesh,
    condition: &MeshCondition,
    scale_u: f64,
) -> Result<Removed, MeasureError> {
    if !condition.is_closed() {
        return Err(MeasureError::Degenerate {
            what: "volume to the hull",
            fault: "the surface is open or inconsistent, so it encloses no volume; close it or choose a plane",
        });
    }
    let hull = convex_hull(mesh.points_mm())?;
    // A mesh turned inside out encloses a negative volume of the same size.
    let volume = hull.enclosed_volume_mm3() - mesh.enclosed_volume_mm3().abs();
    let area = hull.area_mm2();
    let sums = Sums {
        below: volume,
        above: 0.0,
        area,
        unseen: 0.0,
        depth: volume / area,
        face_u: 0.0,
        scale_u,
        outline: 0.0,
        cell: 0.0,
    };
    Ok(sums.removed())
}

/// What both kinds of surface add up, mm.
struct Sums {
    below: f64,
    above: f64,
    area: f64,
    unseen: f64,
    depth: f64,
    face_u: f64,
    scale_u: f64,
    outline: f64,
    cell: f64,
}

impl Sums {
    fn removed(self) -> Removed {
        let depth = self.depth.abs();
        let mut parts = vec![
            RemovedPart {
                source: "height of the block face",
                u_mm3: self.face_u * (self.area - self.unseen),
            },
            // A length enters three times.
            RemovedPart { source: "scale", u_mm3: 3.0 * self.scale_u * self.below },
            // Anything between nothing and twice the mean depth: rectangular (JCGM 100:2008, 4.3.7).
            RemovedPart { source: "surface not measured", u_mm3: self.unseen * depth / 3_f64.sqrt() },
        ];
        if self.outline > 0.0 {
            let cells = (self.outline / self.cell).max(1.0);
            let one_cell = self.cell * self.cell * depth / 12_f64.sqrt();
            parts.push(RemovedPart { source: "cells on the outline", u_mm3: one_cell * cells.sqrt() });
        }
        parts.retain(|part| part.u_mm3 > 0.0);
        let u = parts.iter().map(|part| part.u_mm3.powi(2)).sum::<f64>().sqrt();
        Removed {
            volume_mm3: Measured { value: self.below, u },
            above_mm3: self.above,
            area_mm2: self.area,
            unseen_mm2: self.unseen,
            mean_depth_mm: self.depth,
            hand_check_mm3: self.area * self.depth,
            parts,
        }
    }
}

fn check(block: &BlockFace) -> Result<(), MeasureError> {
    for (name, found) in
        [("uncertainty of the block face", block.u), ("uncertainty of the scale", block.scale_u)]
    {
        if !(found.is_finite() && found >= 0.0) {
            return Err(MeasureError::BadSetting { name, found, needed: "finite and not negative" });
        }
    }
    Ok(())
}

/// Volume below and above the block face and area of one triangle, corners `[u, v, depth]`; signed by the way it faces.
fn prism(corners: [[f64; 3]; 3], outline: Option<&Polygon>) -> [f64; 3] {
    let flat = corners.map(|c| [c[0], c[1]]);
    let facing = signed_area(&flat);
    if facing == 0.0 {
        return [0.0; 3];
    }
    // The region is cut by the three sides of the triangle: right for outlines of any shape, as the triangle is convex.
    let region = match outline {
        None => flat.to_vec(),
        Some(outline) => {
            if !boxes_meet(&flat, outline.corners()) {
                return [0.0; 3];
            }
            let mut region = outline.corners().to_vec();
            for k in 0..3 {
                let (a, b) = (flat[k], flat[(k + 1) % 3]);
                let inside =
                    |p: [f64; 2]| ((b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0])) * facing;
                region = cut(&region, inside);
            }
            region
        }
    };
    let depth = |p: [f64; 2]| {
        let part = |a: [f64; 2], b: [f64; 2]| signed_area(&[p, a, b]) / facing;
        part(flat[1], flat[2]) * corners[0][2]
            + part(flat[2], flat[0]) * corners[1][2]
            + part(flat[0], flat[1]) * corners[2][2]
    };
    let sign = facing.signum();
    let area = signed_area(&region).abs();
    let volume = |side: f64| {
        let part = cut(&region, |p| side * depth(p));
        if part.len() < 3 { 0.0 } else { integral(&part, depth) }
    };
    [sign * volume(1.0), -sign * volume(-1.0), sign * area]
}

/// Integral of a linear function over a polygon: area times the value at its centroid.
fn integral(polygon: &[[f64; 2]], value: impl Fn([f64; 2]) -> f64) -> f64 {
    let first = polygon[0];
    let fan = polygon.windows(2).skip(1).map(|pair| [first, pair[0], pair[1]]);
    let signed: f64 = fan
        .map(|t| {
            let middle = [(t[0][0] + t[1][0] + t[2][0]) / 3.0, (t[0][1] + t[1][1] + t[2][1]) / 3.0];
            signed_area(&t) * value(middle)
        })
        .sum();
    if signed_area(polygon) < 0.0 { -signed } else { signed }
}

/// The part of a polygon where a linear function is not negative (Sutherland–Hodgman).
fn cut(polygon: &[[f64; 2]], inside: impl Fn([f64; 2]) -> f64) -> Vec<[f64; 2]> {
    let mut kept = Vec::with_capacity(polygon.len() + 2);
    for (k, &from) in polygon.iter().enumerate() {
        let to = polygon[(k + 1) % polygon.len()];
        let (a, b) = (inside(from), inside(to));
        if a >= 0.0 {
            kept.push(from);
        }
        if (a >= 0.0) != (b >= 0.0) {
            let share = a / (a - b);
            kept.push([from[0] + share * (to[0] - from[0]), from[1] + share * (to[1] - from[1])]);
        }
    }
    kept
}

fn boxes_meet(a: &[[f64; 2]], b: &[[f64; 2]]) -> bool {
    let range = |points: &[[f64; 2]], k: usize| {
        points.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), p| (l.min(p[k]), h.max(p[k])))
    };
    (0..2).all(|k| {
        let ((al, ah), (bl, bh)) = (range(a, k), range(b, k));
        al <= bh && bl <= ah
    })
}

impl Rows for Removed {
    fn rows(&self) -> Vec<Row> {
        let mut rows = vec![
            Row::new("Volume removed", self.volume_mm3.scaled(1e-3), "cm³"),
            Row::plain("Hand check: area × mean depth of the points", self.hand_check_mm3 / 1000.0, "cm³"),
            Row::plain("Area of the region", self.area_mm2 / 100.0, "cm²"),
            Row::plain("Mean depth of the points", self.mean_depth_mm, "mm"),
            Row::plain("Standing above the block face", self.above_mm3 / 1000.0, "cm³"),
            Row::plain("Region not measured", self.unseen_mm2 / 100.0, "cm²"),
        ];
        rows.extend(self.parts.iter().map(|part| {
            Row::plain(format!("Standard uncertainty from: {}", part.source), part.u_mm3 / 1000.0, "cm³")
        }));
        rows
    }

    fn notes(&self) -> Vec<String> {
        vec!["The volume rests on the chosen block face: what the block was before it was worked is an assumption.".to_owned()]
    }
}

#[cfg(test)]
#[path = "volume_tests.rs"]
mod tests;
