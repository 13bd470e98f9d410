//! Bare rasters of numbers for pictures of deviations; titles, scales and colour keys belong to the report.

use nalgebra::Vector3;

use crate::{HeightMap, Mesh, Plane};

/// A raster of values, row by row; NaN where there is nothing.
#[derive(Debug, Clone, PartialEq)]
pub struct Raster {
    /// Columns.
    pub width: usize,
    /// Rows.
    pub height: usize,
    /// Values of what is shown.
    pub values: Vec<f64>,
    /// How squarely the surface faces the viewer, 0 to 1, for shading; 1 everywhere for a height map.
    pub facing: Vec<f64>,
    /// Size of one pixel in the unit of the surface.
    pub pixel: f64,
}

/// Departures of a height map from a plane (in µm coordinates, y down), µm, at full resolution.
impl Raster {
    /// Heights of a map above a plane, pixel by pixel; pixels are taken as square of the map's own step in x.
    #[must_use]
    pub fn above_plane(map: &HeightMap, plane: &Plane) -> Self {
        let mut values = Vec::with_capacity(map.z_um().len());
        for y in 0..map.height() {
            let place = |x: usize, z: f64| [x as f64 * map.dx_um(), y as f64 * map.dy_um(), z];
            values.extend(map.row(y).iter().enumerate().map(|(x, &z)| plane.distance(place(x, z))));
        }
        let facing = vec![1.0; values.len()];
        Self { width: map.width(), height: map.height(), values, facing, pixel: map.dx_um() }
    }
}

/// A mesh seen from afar along `towards` (no perspective), the longer side of the picture `side_px` pixels; each
/// pixel carries the value of the nearest surface there, blended between the corners' `values`. `up` is upwards on
/// the picture. `None` if the directions are unusable, `values` are not one per corner, or the picture has no pixels.
#[must_use]
pub fn mesh_view(
    mesh: &Mesh,
    values: &[f64],
    towards: [f64; 3],
    up: [f64; 3],
    side_px: usize,
) -> Option<Raster> {
    let towards = Vector3::from(towards).try_normalize(1e-12)?;
    let right = towards.cross(&Vector3::from(up)).try_normalize(1e-12)?;
    let up = right.cross(&towards);
    if values.len() != mesh.points_mm().len() || side_px == 0 {
        return None;
    }
    let project = |p: [f64; 3]| {
        let p = Vector3::from(p);
        [right.dot(&p), -up.dot(&p), towards.dot(&p)]
    };
    let seen: Vec<[f64; 3]> = mesh.points_mm().iter().map(|&p| project(p)).collect();
    let start = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
    let (low, high) = seen.iter().fold(start, |(low, high), p| {
        (std::array::from_fn(|k| low[k].min(p[k])), std::array::from_fn(|k| high[k].max(p[k])))
    });
    let pixel = (high[0] - low[0]).max(high[1] - low[1]) / side_px as f64;
    if !(pixel.is_finite() && pixel > 0.0) {
        return None;
    }
    let cells = |k: usize| (((high[k] - low[k]) / pixel).ceil() as usize).clamp(1, side_px);
    let (width, height) = (cells(0), cells(1));
    let mut raster = Raster {
        width,
        height,
        values: vec![f64::NAN; width * height],
        facing: vec![0.0; width * height],
        pixel,
    };
    let mut depth = vec![f64::INFINITY; width * height];
    for (index, triangle) in mesh.triangles().iter().enumerate() {
        let corners = triangle.map(|c| seen[c as usize]);
        let shown = triangle.map(|c| values[c as usize]);
        let facing = mesh.double_area_normal(index).normalize().dot(&towards).abs();
        let on_picture = corners.map(|c| [(c[0] - low[0]) / pixel - 0.5, (c[1] - low[1]) / pixel - 0.5]);
        each_pixel(on_picture, width, height, |x, y, share| {
            let blend = |of: [f64; 3]| share[0] * of[0] + share[1] * of[1] + share[2] * of[2];
            let (at, distance) = (y * width + x, blend(corners.map(|c| c[2])));
            if distance < depth[at] {
                depth[at] = distance;
                raster.values[at] = blend(shown);
                raster.facing[at] = facing;
            }
        });
    }
    Some(raster)
}

/// Calls `paint` with each pixel whose centre lies in the triangle and the shares of its corners there.
fn each_pixel(t: [[f64; 2]; 3], width: usize, height: usize, mut paint: impl FnMut(usize, usize, [f64; 3])) {
    let doubled = (t[1][0] - t[0][0]) * (t[2][1] - t[0][1]) - (t[1][1] - t[0][1]) * (t[2][0] - t[0][0]);
    if doubled == 0.0 {
        return;
    }
    let range = |k: usize, size: usize| {
        let low = t.iter().map(|c| c[k]).fold(f64::INFINITY, f64::min).ceil().max(0.0) as usize;
        let high = t.iter().map(|c| c[k]).fold(f64::NEG_INFINITY, f64::max).floor();
        (low, if high < 0.0 { 0 } else { (high as usize + 1).min(size) })
    };
    let ((x0, x1), (y0, y1)) = (range(0, width), range(1, height));
    for y in y0..y1 {
        for x in x0..x1 {
            let (px, py) = (x as f64, y as f64);
            let part =
                |a: [f64; 2], b: [f64; 2]| ((a[0] - px) * (b[1] - py) - (a[1] - py) * (b[0] - px)) / doubled;
            let share = [part(t[1], t[2]), part(t[2], t[0]), part(t[0], t[1])];
            if share.iter().all(|&s| s >= -1e-9) {
                paint(x, y, share);
            }
        }
    }
}

/// A raster as 8-bit RGB, row by row: grey where the value is 0, towards blue below and towards orange above, full
/// colour at ± `range`; white where there is nothing. Blue and orange stay apart for colour-blind readers.
#[must_use]
pub fn deviation_image(raster: &Raster, range: f64) -> Vec<[u8; 3]> {
    const BELOW: [f64; 3] = [33.0, 102.0, 172.0];
    const LEVEL: [f64; 3] = [232.0, 232.0, 228.0];
    const ABOVE: [f64; 3] = [213.0, 94.0, 0.0];
    let colour = |value: f64, facing: f64| {
        if value.is_nan() {
            return [255; 3];
        }
        let share = if range > 0.0 { (value / range).clamp(-1.0, 1.0) } else { 0.0 };
        let end = if share < 0.0 { BELOW } else { ABOVE };
        let light = 0.45 + 0.55 * facing;
        std::array::from_fn(|k| ((LEVEL[k] + (end[k] - LEVEL[k]) * share.abs()) * light).round() as u8)
    };
    raster.values.iter().zip(&raster.facing).map(|(&value, &facing)| colour(value, facing)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::mesh::tests::block;

    #[test]
    fn the_near_face_of_a_block_hides_the_far_one() {
        let block = block([2.0, 1.0, 3.0]);
        let depth: Vec<f64> = block.points_mm().iter().map(|p| p[2]).collect();
        let seen = mesh_view(&block, &depth, [0.0, 0.0, -1.0], [0.0, 1.0, 0.0], 20).unwrap();
        assert_eq!((seen.width, seen.height), (20, 10));
        assert!(seen.values.iter().all(|&z| (z - 3.0).abs() < 1e-9), "seen from above, the top shows");
        assert!(mesh_view(&block, &depth, [0.0; 3], [0.0, 1.0, 0.0], 20).is_none());
    }

    #[test]
    fn colours_go_both_ways_from_grey() {
        let raster = Raster {
            width: 3,
            height: 1,
            values: vec![-1.0, 0.0, f64::NAN],
            facing: vec![1.0; 3],
            pixel: 1.0,
        };
        assert_eq!(deviation_image(&raster, 1.0), [[33, 102, 172], [232, 232, 228], [255; 3]]);
    }
}
