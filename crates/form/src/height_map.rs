//! A surface as heights on a grid.

use crate::{MeasureError, Mesh, Polygon};

/// Heights of a surface on a rectangular grid, micrometres. A height that was not measured is NaN.
///
/// Row 0 is the top row as shown, columns run to the right: the pixel convention of every picture here.
#[derive(Debug, Clone, PartialEq)]
pub struct HeightMap {
    width: usize,
    height: usize,
    dx_um: f64,
    dy_um: f64,
    z_um: Vec<f64>,
}

impl HeightMap {
    /// A map from its heights, row by row. Infinite heights count as not measured.
    ///
    /// # Errors
    /// * [`MeasureError::BadSetting`] if a step is not finite and positive or the number of heights is not
    ///   `width × height`.
    /// * [`MeasureError::TooFewPoints`] if no height is measured.
    pub fn new(
        width: usize,
        height: usize,
        dx_um: f64,
        dy_um: f64,
        mut z_um: Vec<f64>,
    ) -> Result<Self, MeasureError> {
        for (name, step) in [("step along the row, µm", dx_um), ("step between rows, µm", dy_um)] {
            if !(step.is_finite() && step > 0.0) {
                return Err(MeasureError::BadSetting { name, found: step, needed: "finite and positive" });
            }
        }
        if width.checked_mul(height) != Some(z_um.len()) {
            let found = z_um.len() as f64;
            return Err(MeasureError::BadSetting {
                name: "number of heights",
                found,
                needed: "width × height",
            });
        }
        for z in &mut z_um {
            if !z.is_finite() {
                *z = f64::NAN;
            }
        }
        if z_um.iter().all(|z| z.is_nan()) {
            return Err(MeasureError::TooFewPoints { what: "a height map", found: 0, needed: 1 });
        }
        Ok(Self { width, height, dx_um, dy_um, z_um })
    }

    /// The same grid with other heights, which must be as many.
    pub(crate) fn with_heights(&self, z_um: Vec<f64>) -> Self {
        debug_assert_eq!(z_um.len(), self.z_um.len());
        Self { z_um, ..*self }
    }

    /// Columns.
    #[must_use]
    pub fn width(&self) -> usize {
        self.width
    }

    /// Rows.
    #[must_use]
    pub fn height(&self) -> usize {
        self.height
    }

    /// Step between columns, µm.
    #[must_use]
    pub fn dx_um(&self) -> f64 {
        self.dx_um
    }

    /// Step between rows, µm.
    #[must_use]
    pub fn dy_um(&self) -> f64 {
        self.dy_um
    }

    /// All heights, row by row, µm; NaN where not measured.
    #[must_use]
    pub fn z_um(&self) -> &[f64] {
        &self.z_um
    }

    /// One row; empty if there is no such row.
    #[must_use]
    pub fn row(&self, y: usize) -> &[f64] {
        self.z_um.get(y * self.width..(y + 1) * self.width).unwrap_or(&[])
    }

    /// Number of measured heights.
    #[must_use]
    pub fn measured(&self) -> usize {
        self.z_um.iter().filter(|z| !z.is_nan()).count()
    }

    /// Whether every height is measured.
    #[must_use]
    pub fn is_complete(&self) -> bool {
        !self.z_um.iter().any(|z| z.is_nan())
    }

    /// Height at a place in µm from the centre of the top-left pixel (x right, y down), bilinear; `None` outside or
    /// next to a height that was not measured.
    #[must_use]
    pub fn at_um(&self, place_um: [f64; 2]) -> Option<f64> {
        let (column, row) = (place_um[0] / self.dx_um, place_um[1] / self.dy_um);
        if !(column >= 0.0 && row >= 0.0) {
            return None;
        }
        let (x, y) = (column.floor(), row.floor());
        let (fx, fy) = (column - x, row - y);
        let (x, y) = (x as usize, y as usize);
        // On the last row or column the neighbour has no weight, so its own value stands in.
        let right = if fx == 0.0 { x } else { x + 1 };
        let below = if fy == 0.0 { y } else { y + 1 };
        if right >= self.width || below >= self.height {
            return None;
        }
        let value = |x: usize, y: usize| self.z_um[y * self.width + x];
        let top = value(x, y) * (1.0 - fx) + value(right, y) * fx;
        let bottom = value(x, below) * (1.0 - fx) + value(right, below) * fx;
        let z = top * (1.0 - fy) + bottom * fy;
        (!z.is_nan()).then_some(z)
    }

    /// Measured points `[x, y, z]` in µm, y down, inside an outline given in µm (all points without one).
    #[must_use]
    pub fn points_um(&self, outline_um: Option<&Polygon>) -> Vec<[f64; 3]> {
        let mut points = Vec::with_capacity(self.z_um.len());
        for y in 0..self.height {
            for (x, &z) in self.row(y).iter().enumerate() {
                let place = [x as f64 * self.dx_um, y as f64 * self.dy_um];
                if !z.is_nan() && outline_um.is_none_or(|outline| outline.contains(place)) {
                    points.push([place[0], place[1], z]);
                }
            }
        }
        points
    }

    /// The surface as a mesh in millimetres, y upwards so that its normals point out of the surface; cells with a
    /// height that was not measured are left open.
    ///
    /// # Errors
    /// [`MeasureError::TooFewPoints`] if no cell is complete.
    pub fn to_mesh(&self) -> Result<Mesh, MeasureError> {
        let mm = |x: usize, y: usize, z: f64| {
            [x as f64 * self.dx_um / 1000.0, -(y as f64) * self.dy_um / 1000.0, z / 1000.0]
        };
        let mut points = Vec::with_capacity(self.z_um.len());
        for y in 0..self.height {
            points.extend(self.row(y).iter().enumerate().map(|(x, &z)| mm(x, y, z)));
        }
        let mut triangles = Vec::new();
        for y in 0..self.height.saturating_sub(1) {
            for x in 0..self.width.saturating_sub(1) {
                let corner = (y * self.width + x) as u32;
                let [a, b] = [corner, corner + 1];
                let [c, d] = [corner + self.width as u32, corner + self.width as u32 + 1];
                triangles.push([a, c, b]);
                triangles.push([b, c, d]);
            }
        }
        Mesh::new(points, triangles).map(|(mesh, _)| mesh)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bilinear_heights_follow_a_plane() {
        let z = (0..12).map(|i| f64::from(i % 4) * 2.0 + f64::from(i / 4) * 3.0).collect();
        let map = HeightMap::new(4, 3, 0.5, 2.0, z).unwrap();
        assert_eq!(map.at_um([0.25, 1.0]), Some(1.0 + 1.5));
        assert_eq!(map.at_um([1.5, 4.0]), Some(6.0 + 6.0));
        assert_eq!(map.at_um([1.6, 0.0]), None);
        assert_eq!(map.at_um([-0.1, 0.0]), None);
    }

    #[test]
    fn a_map_without_a_single_height_is_refused() {
        assert!(HeightMap::new(2, 1, 1.0, 1.0, vec![f64::NAN, f64::INFINITY]).is_err());
        assert!(HeightMap::new(2, 2, 1.0, 1.0, vec![0.0]).is_err());
        assert!(HeightMap::new(1, 1, 0.0, 1.0, vec![0.0]).is_err());
    }

    #[test]
    fn a_hole_opens_the_mesh() {
        let mut z = vec![0.0; 9];
        z[4] = f64::NAN;
        z[3] = 1.0;
        let map = HeightMap::new(3, 3, 1.0, 1.0, z).unwrap();
        let mesh = map.to_mesh().unwrap();
        // The middle point is a corner of six of the eight triangles.
        assert_eq!(mesh.triangles().len(), 2);
    }
}
