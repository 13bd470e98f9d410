//! Planes and outlines, shared by the measurements.

use nalgebra::Vector3;

/// A plane in space: the points `p` with `normal · p = offset`, `normal` of length 1. Any unit of length.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Plane {
    /// Unit normal.
    pub normal: [f64; 3],
    /// Distance of the plane from the origin along the normal.
    pub offset: f64,
}

impl Plane {
    /// A plane through `point` with the direction of `normal`; `None` if that has no usable length.
    #[must_use]
    pub fn through(point: [f64; 3], normal: [f64; 3]) -> Option<Self> {
        let unit = Vector3::from(normal).try_normalize(1e-300)?;
        let offset = unit.dot(&Vector3::from(point));
        (offset.is_finite() && unit.iter().all(|c| c.is_finite()))
            .then_some(Self { normal: unit.into(), offset })
    }

    /// The plane through three points, seen counter-clockwise from its normal's side; `None` if they lie on one line.
    #[must_use]
    pub fn through_three([a, b, c]: [[f64; 3]; 3]) -> Option<Self> {
        let [u, v] = [b, c].map(|p| Vector3::from(p) - Vector3::from(a));
        Self::through(a, u.cross(&v).into())
    }

    /// The plane `z = c + a·x + b·y`, normal upwards.
    #[must_use]
    pub fn from_slopes(slope_x: f64, slope_y: f64, height: f64) -> Self {
        let length = (1.0 + slope_x * slope_x + slope_y * slope_y).sqrt();
        Self { normal: [-slope_x / length, -slope_y / length, 1.0 / length], offset: height / length }
    }

    /// Signed distance of a point, positive on the normal's side.
    #[must_use]
    pub fn distance(&self, point: [f64; 3]) -> f64 {
        dot(self.normal, point) - self.offset
    }

    /// The point mirrored in the plane.
    #[must_use]
    pub fn mirror(&self, point: [f64; 3]) -> [f64; 3] {
        let twice = 2.0 * self.distance(point);
        [
            point[0] - twice * self.normal[0],
            point[1] - twice * self.normal[1],
            point[2] - twice * self.normal[2],
        ]
    }

    /// The same plane moved by `by` along its normal.
    #[must_use]
    pub fn raised(&self, by: f64) -> Self {
        Self { offset: self.offset + by, ..*self }
    }

    /// The same plane with its normal on the other side.
    #[must_use]
    pub fn flipped(&self) -> Self {
        Self { normal: self.normal.map(|n| -n), offset: -self.offset }
    }

    /// Two unit vectors that span the plane, so that (first, second, normal) is right-handed.
    #[must_use]
    pub fn axes(&self) -> ([f64; 3], [f64; 3]) {
        let normal = Vector3::from(self.normal);
        let helper = if normal.x.abs() < 0.6 { Vector3::x() } else { Vector3::y() };
        let first = (helper - normal * normal.dot(&helper)).normalize();
        let second = normal.cross(&first);
        (first.into(), second.into())
    }

    /// Angle between two planes, degrees in `[0, 90]`.
    #[must_use]
    pub fn angle_to_deg(&self, other: &Self) -> f64 {
        let (a, b) = (Vector3::from(self.normal), Vector3::from(other.normal));
        // The sine form keeps its digits for small angles.
        a.cross(&b).norm().atan2(a.dot(&b).abs()).to_degrees()
    }
}

/// Dot product.
pub(crate) fn dot(a: [f64; 3], b: [f64; 3]) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

/// A closed outline in a plane, without self-crossings; its last corner joins its first.
#[derive(Debug, Clone, PartialEq)]
pub struct Polygon {
    corners: Vec<[f64; 2]>,
}

impl Polygon {
    /// An outline from its corners; `None` if fewer than three, not all finite, or without area.
    #[must_use]
    pub fn new(corners: Vec<[f64; 2]>) -> Option<Self> {
        let usable = corners.len() >= 3 && corners.iter().flatten().all(|c| c.is_finite());
        let polygon = Self { corners };
        (usable && polygon.area() > 0.0).then_some(polygon)
    }

    /// An upright rectangle from two opposite corners; `None` without area.
    #[must_use]
    pub fn rectangle(a: [f64; 2], b: [f64; 2]) -> Option<Self> {
        Self::new(vec![a, [b[0], a[1]], b, [a[0], b[1]]])
    }

    /// The corners in order.
    #[must_use]
    pub fn corners(&self) -> &[[f64; 2]] {
        &self.corners
    }

    /// Enclosed area.
    #[must_use]
    pub fn area(&self) -> f64 {
        signed_area(&self.corners).abs()
    }

    /// Length of the outline.
    #[must_use]
    pub fn perimeter(&self) -> f64 {
        self.edges().map(|(a, b)| (b[0] - a[0]).hypot(b[1] - a[1])).sum()
    }

    /// Whether a point lies inside (even-odd rule).
    #[must_use]
    pub fn contains(&self, point: [f64; 2]) -> bool {
        let crossings = self.edges().filter(|&(a, b)| {
            let spans = (a[1] > point[1]) != (b[1] > point[1]);
            spans && point[0] < a[0] + (point[1] - a[1]) / (b[1] - a[1]) * (b[0] - a[0])
        });
        crossings.count() % 2 == 1
    }

    fn edges(&self) -> impl Iterator<Item = ([f64; 2], [f64; 2])> + '_ {
        let next = self.corners.iter().cycle().skip(1);
        self.corners.iter().zip(next).map(|(&a, &b)| (a, b))
    }
}

/// Area by the shoelace formula, positive counter-clockwise (y up).
pub(crate) fn signed_area(corners: &[[f64; 2]]) -> f64 {
    let next = corners.iter().cycle().skip(1);
    corners.iter().zip(next).map(|(a, b)| a[0] * b[1] - b[0] * a[1]).sum::<f64>() / 2.0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn mirroring_twice_gives_the_point_back() {
        let plane = Plane::through([1.0, 2.0, 3.0], [1.0, -2.0, 0.5]).unwrap();
        let point = [4.0, -1.0, 7.0];
        let back = plane.mirror(plane.mirror(point));
        for axis in 0..3 {
            assert!((back[axis] - point[axis]).abs() < 1e-12);
        }
        assert!((plane.distance(point) + plane.distance(plane.mirror(point))).abs() < 1e-12);
    }

    #[test]
    fn three_points_fix_a_plane_unless_they_lie_on_one_line() {
        let corners = [[0.0, 0.0, 2.0], [1.0, 0.0, 2.0], [0.0, 3.0, 2.0]];
        let plane = Plane::through_three(corners).unwrap();
        assert_eq!((plane.normal, plane.offset), ([0.0, 0.0, 1.0], 2.0));
        let point = [5.0, 6.0, 7.5];
        assert_eq!((plane.distance(point), plane.flipped().distance(point)), (5.5, -5.5));
        assert!(Plane::through_three([[0.0; 3], [1.0; 3], [2.0; 3]]).is_none());
    }

    #[test]
    fn an_l_shaped_outline() {
        let l_shape =
            Polygon::new(vec![[0.0, 0.0], [2.0, 0.0], [2.0, 1.0], [1.0, 1.0], [1.0, 2.0], [0.0, 2.0]])
                .unwrap();
        assert_eq!(l_shape.area(), 3.0);
        assert_eq!(l_shape.perimeter(), 8.0);
        assert!(l_shape.contains([0.5, 1.5]) && !l_shape.contains([1.5, 1.5]));
    }
}
