//! The convex hull of points: the smallest block without hollows that a piece could have been cut from.

use std::collections::BTreeMap;

use nalgebra::Vector3;

use crate::{MeasureError, Mesh};

/// Points closer to a face than this share of the extent lie on it: rounding of coordinates read as 32-bit numbers.
const ON_FACE: f64 = 1e-9;

/// A face of the growing hull.
struct Face {
    corners: [u32; 3],
    /// Face across the edge from corner `k` to corner `k + 1`.
    neighbours: [usize; 3],
    normal: Vector3<f64>,
    offset: f64,
    outside: Vec<u32>,
    alive: bool,
}

/// The convex hull of points in mm.
///
/// # Errors
/// [`MeasureError::TooFewPoints`] below four points, [`MeasureError::Degenerate`] if all lie in one plane or a coordinate
/// is not finite.
///
/// # Source
/// Quickhull (Barber, Dobkin & Huhdanpaa 1996; idea from memory, source not seen): the farthest point outside a face
/// replaces all faces it sees.
pub fn convex_hull(points_mm: &[[f64; 3]]) -> Result<Mesh, MeasureError> {
    if points_mm.len() < 4 {
        return Err(MeasureError::TooFewPoints { what: "a convex hull", found: points_mm.len(), needed: 4 });
    }
    let mut hull = Hull::start(points_mm)?;
    while let Some(face) = hull.open.pop() {
        if hull.faces[face].alive && !hull.faces[face].outside.is_empty() {
            hull.grow(face);
        }
    }
    let triangles = hull.faces.iter().filter(|face| face.alive).map(|face| face.corners).collect();
    Mesh::new(points_mm.to_vec(), triangles).map(|(mesh, _)| mesh)
}

struct Hull {
    points: Vec<Vector3<f64>>,
    faces: Vec<Face>,
    open: Vec<usize>,
    on_face: f64,
}

impl Hull {
    fn start(points_mm: &[[f64; 3]]) -> Result<Self, MeasureError> {
        let flat = |fault| MeasureError::Degenerate { what: "convex hull", fault };
        let points: Vec<Vector3<f64>> = points_mm.iter().map(|&p| Vector3::from(p)).collect();
        if !points.iter().all(|p| p.iter().all(|c| c.is_finite())) {
            return Err(flat("a coordinate is not a finite number"));
        }
        let farthest = |measure: &dyn Fn(&Vector3<f64>) -> f64| {
            (0..points.len())
                .max_by(|&a, &b| measure(&points[a]).total_cmp(&measure(&points[b])))
                .unwrap_or(0)
        };
        let a = farthest(&|p| -p.x);
        let b = farthest(&|p| (p - points[a]).norm());
        let along = points[b] - points[a];
        let c = farthest(&|p| along.cross(&(p - points[a])).norm());
        let normal = along.cross(&(points[c] - points[a]));
        let d = farthest(&|p| normal.dot(&(p - points[a])).abs());
        let on_face = ON_FACE * along.norm();
        let height = normal.dot(&(points[d] - points[a])) / normal.norm();
        if height.is_nan() || height.abs() <= on_face {
            return Err(flat("all points lie in one plane; a hull needs a solid"));
        }
        let (b, c) = if height > 0.0 { (c, b) } else { (b, c) };
        let mut hull = Self { points, faces: Vec::new(), open: Vec::new(), on_face };
        let [a, b, c, d] = [a, b, c, d].map(|index| index as u32);
        for corners in [[a, b, c], [a, d, b], [b, d, c], [c, d, a]] {
            hull.add(corners);
        }
        // Across the edges in order: see the corners above.
        for (face, neighbours) in [[1, 2, 3], [3, 2, 0], [1, 3, 0], [2, 1, 0]].into_iter().enumerate() {
            hull.faces[face].neighbours = neighbours;
        }
        let all: Vec<u32> = (0..hull.points.len() as u32).collect();
        hull.distribute(&all, &[0, 1, 2, 3]);
        Ok(hull)
    }

    fn add(&mut self, corners: [u32; 3]) -> usize {
        let [a, b, c] = corners.map(|corner| self.points[corner as usize]);
        let normal = (b - a).cross(&(c - a)).try_normalize(0.0).unwrap_or_default();
        let offset = normal.dot(&a);
        self.faces.push(Face {
            corners,
            neighbours: [0; 3],
            normal,
            offset,
            outside: Vec::new(),
            alive: true,
        });
        self.faces.len() - 1
    }

    fn height(&self, face: usize, point: u32) -> f64 {
        self.faces[face].normal.dot(&self.points[point as usize]) - self.faces[face].offset
    }

    /// Gives each point to the first of the faces that it lies outside of.
    fn distribute(&mut self, points: &[u32], faces: &[usize]) {
        for &point in points {
            if let Some(&face) = faces.iter().find(|&&face| self.height(face, point) > self.on_face) {
                self.faces[face].outside.push(point);
            }
        }
        self.open.extend(faces.iter().filter(|&&face| !self.faces[face].outside.is_empty()));
    }

    fn grow(&mut self, start: usize) {
        let heights = self.faces[start].outside.iter().map(|&p| (self.height(start, p), p));
        let Some((_, apex)) = heights.max_by(|a, b| a.0.total_cmp(&b.0).then(b.1.cmp(&a.1))) else { return };
        let mut seen = vec![start];
        self.faces[start].alive = false;
        let mut horizon: Vec<(u32, u32, usize)> = Vec::new();
        let mut next = 0;
        while next < seen.len() {
            let face = seen[next];
            next += 1;
            for edge in 0..3 {
                let neighbour = self.faces[face].neighbours[edge];
                if !self.faces[neighbour].alive {
                    continue;
                }
                if self.height(neighbour, apex) > self.on_face {
                    self.faces[neighbour].alive = false;
                    seen.push(neighbour);
                } else {
                    let corners = self.faces[face].corners;
                    horizon.push((corners[edge], corners[(edge + 1) % 3], neighbour));
                }
            }
        }
        // A face that turned out to be seen after its edge was noted is no neighbour any more.
        horizon.retain(|&(_, _, neighbour)| self.faces[neighbour].alive);
        let orphans: Vec<u32> = seen
            .iter()
            .flat_map(|&face| std::mem::take(&mut self.faces[face].outside))
            .filter(|&p| p != apex)
            .collect();
        let mut by_start: BTreeMap<u32, usize> = BTreeMap::new();
        let mut fresh = Vec::with_capacity(horizon.len());
        for &(from, to, neighbour) in &horizon {
            let face = self.add([from, to, apex]);
            self.faces[face].neighbours[0] = neighbour;
            if let Some(edge) = (0..3).find(|&k| self.faces[neighbour].corners[k] == to) {
                self.faces[neighbour].neighbours[edge] = face;
            }
            by_start.insert(from, face);
            fresh.push(face);
        }
        for &face in &fresh {
            let [_, to, _] = self.faces[face].corners;
            if let Some(&following) = by_start.get(&to) {
                self.faces[face].neighbours[1] = following;
                self.faces[following].neighbours[2] = face;
            }
        }
        self.distribute(&orphans, &fresh);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::mesh::tests::block;
    use rand::{RngExt, SeedableRng};
    use rand_pcg::Pcg64;

    #[test]
    fn a_block_full_of_points_is_its_own_hull() {
        let mut random = Pcg64::seed_from_u64(1);
        let mut points = block([2.0, 3.0, 4.0]).points_mm().to_vec();
        points.extend((0..500).map(|_| [2.0, 3.0, 4.0].map(|side: f64| side * random.random::<f64>())));
        // Points on the faces and edges must not trouble it.
        points.extend((0..100).map(|k| [0.0, 3.0 * f64::from(k % 10) / 9.0, 4.0 * f64::from(k / 10) / 9.0]));
        let hull = convex_hull(&points).unwrap();
        assert!((hull.enclosed_volume_mm3() - 24.0).abs() < 1e-9, "{}", hull.enclosed_volume_mm3());
    }

    #[test]
    fn no_point_is_left_outside() {
        let mut random = Pcg64::seed_from_u64(2);
        for count in [4, 10, 200, 3000] {
            let points: Vec<[f64; 3]> = (0..count)
                .map(|_| {
                    let p = Vector3::from_fn(|_, _| random.random::<f64>() - 0.5);
                    if count > 1000 { p.normalize().into() } else { p.into() }
                })
                .collect();
            let hull = convex_hull(&points).unwrap();
            for triangle in 0..hull.triangles().len() {
                let normal = hull.double_area_normal(triangle).normalize();
                let offset = normal.dot(&hull.corners(triangle)[0]);
                assert!(points.iter().all(|&p| normal.dot(&Vector3::from(p)) - offset < 1e-8));
            }
            // Euler: a closed surface of triangles.
            assert_eq!(hull.triangles().len(), 2 * hull.points_mm().len() - 4);
        }
    }

    #[test]
    fn flat_and_few_points_are_refused() {
        assert!(convex_hull(&[[0.0; 3]; 3]).is_err());
        assert!(convex_hull(&[[0.0; 3]; 9]).is_err());
        let flat: Vec<[f64; 3]> = (0..20).map(|k| [f64::from(k % 5), f64::from(k / 5), 1.0]).collect();
        assert!(convex_hull(&flat).is_err());
    }
}
