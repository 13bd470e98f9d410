//! A surface as triangles.

use nalgebra::Vector3;
use rayon::prelude::*;

use crate::MeasureError;
use crate::row::{Row, Rows};

/// Larger than any single worked stone anybody walks round: most likely the wrong unit, mm (our choice).
const SUSPICIOUSLY_LARGE_MM: f64 = 100_000.0;
/// Smaller than anything one would call an object, mm (our choice).
const SUSPICIOUSLY_SMALL_MM: f64 = 1.0;

/// A triangle mesh, millimetres. Every corner is finite, every triangle has an area and occurs once.
#[derive(Debug, Clone, PartialEq)]
pub struct Mesh {
    points_mm: Vec<[f64; 3]>,
    triangles: Vec<[u32; 3]>,
}

/// What was left out of a mesh on the way in, and what is peculiar about the rest.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct MeshCondition {
    /// Triangles left out because a corner was not a finite number or did not exist.
    pub broken: usize,
    /// Triangles left out because they had no area.
    pub without_area: usize,
    /// Triangles left out because the same three corners occurred before.
    pub repeated: usize,
    /// Edges of one triangle only: where the surface is open.
    pub open_edges: usize,
    /// Edges whose two triangles face opposite ways: flipped normals.
    pub flipped_edges: usize,
    /// Edges of more than two triangles.
    pub crowded_edges: usize,
    /// Size of the upright box around it, mm.
    pub size_mm: [f64; 3],
}

impl Mesh {
    /// A mesh from its corners and triangles; unusable triangles are left out and counted.
    ///
    /// # Errors
    /// [`MeasureError::TooFewPoints`] if no triangle is left.
    pub fn new(
        points_mm: Vec<[f64; 3]>,
        triangles: Vec<[u32; 3]>,
    ) -> Result<(Self, MeshCondition), MeasureError> {
        let mut condition = MeshCondition::default();
        let kept = without_unusable(&points_mm, triangles, &mut condition);
        if kept.is_empty() {
            return Err(MeasureError::TooFewPoints { what: "a mesh", found: 0, needed: 3 });
        }
        let mesh = compact(&points_mm, kept);
        mesh.count_edges(&mut condition);
        let (low, high) = mesh.bounds_mm();
        condition.size_mm = [high[0] - low[0], high[1] - low[1], high[2] - low[2]];
        Ok((mesh, condition))
    }

    /// Corners, mm.
    #[must_use]
    pub fn points_mm(&self) -> &[[f64; 3]] {
        &self.points_mm
    }

    /// Triangles as indices into the corners, counter-clockwise seen from outside.
    #[must_use]
    pub fn triangles(&self) -> &[[u32; 3]] {
        &self.triangles
    }

    /// The corners of one triangle, mm.
    pub(crate) fn corners(&self, triangle: usize) -> [Vector3<f64>; 3] {
        self.triangles[triangle].map(|corner| Vector3::from(self.points_mm[corner as usize]))
    }

    /// Lowest and highest corner of the upright box around the mesh, mm.
    #[must_use]
    pub fn bounds_mm(&self) -> ([f64; 3], [f64; 3]) {
        let start = ([f64::INFINITY; 3], [f64::NEG_INFINITY; 3]);
        self.points_mm.iter().fold(start, |(low, high), point| {
            (std::array::from_fn(|k| low[k].min(point[k])), std::array::from_fn(|k| high[k].max(point[k])))
        })
    }

    /// Twice-area normal of one triangle: its length is twice the area, mm².
    pub(crate) fn double_area_normal(&self, triangle: usize) -> Vector3<f64> {
        let [a, b, c] = self.corners(triangle);
        (b - a).cross(&(c - a))
    }

    /// Surface area, mm².
    #[must_use]
    pub fn area_mm2(&self) -> f64 {
        (0..self.triangles.len()).map(|t| self.double_area_normal(t).norm() / 2.0).sum()
    }

    /// Enclosed volume, mm³, by the divergence theorem; means something only where the surface is closed and its
    /// triangles all face outwards.
    #[must_use]
    pub fn enclosed_volume_mm3(&self) -> f64 {
        // Taken about the middle of the box: far from the origin the terms would cancel digits away.
        let (low, high) = self.bounds_mm();
        let middle = (Vector3::from(low) + Vector3::from(high)) / 2.0;
        let six_fold = |t: usize| {
            let [a, b, c] = self.corners(t).map(|corner| corner - middle);
            a.dot(&b.cross(&c))
        };
        (0..self.triangles.len()).map(six_fold).sum::<f64>() / 6.0
    }

    /// For every corner, a third of the area of its triangles (mm²) and their summed direction (unit length, or
    /// zero where they cancel).
    #[must_use]
    pub fn corner_areas_and_normals(&self) -> (Vec<f64>, Vec<[f64; 3]>) {
        let mut areas = vec![0.0; self.points_mm.len()];
        let mut normals = vec![Vector3::zeros(); self.points_mm.len()];
        for (index, triangle) in self.triangles.iter().enumerate() {
            let double = self.double_area_normal(index);
            for &corner in triangle {
                areas[corner as usize] += double.norm() / 6.0;
                normals[corner as usize] += double;
            }
        }
        let unit = |normal: Vector3<f64>| normal.try_normalize(1e-300).unwrap_or_default().into();
        (areas, normals.into_iter().map(unit).collect())
    }

    /// The mesh moved by `map`, point by point, mm.
    ///
    /// # Errors
    /// As [`Mesh::new`].
    pub fn mapped(&self, map: impl Fn([f64; 3]) -> [f64; 3]) -> Result<Self, MeasureError> {
        let points = self.points_mm.iter().map(|&point| map(point)).collect();
        Self::new(points, self.triangles.clone()).map(|(mesh, _)| mesh)
    }

    fn count_edges(&self, condition: &mut MeshCondition) {
        let mut edges: Vec<(u64, bool)> = self
            .triangles
            .par_iter()
            .flat_map_iter(|&[a, b, c]| [(a, b), (b, c), (c, a)])
            .map(|(from, to)| {
                let (low, high) = (u64::from(from.min(to)), u64::from(from.max(to)));
                (low << 32 | high, from < to)
            })
            .collect();
        edges.par_sort_unstable();
        for shared in edges.chunk_by(|a, b| a.0 == b.0) {
            match shared {
                [_] => condition.open_edges += 1,
                [first, second] => condition.flipped_edges += usize::from(first.1 == second.1),
                _ => condition.crowded_edges += 1,
            }
        }
    }
}

impl MeshCondition {
    /// Whether the surface closes a volume with all triangles facing the same side.
    #[must_use]
    pub fn is_closed(&self) -> bool {
        self.open_edges == 0 && self.flipped_edges == 0 && self.crowded_edges == 0
    }
}

impl Rows for MeshCondition {
    fn rows(&self) -> Vec<Row> {
        let [x, y, z] = self.size_mm;
        vec![
            Row::plain("Size along x", x, "mm"),
            Row::plain("Size along y", y, "mm"),
            Row::plain("Size along z", z, "mm"),
        ]
    }

    fn notes(&self) -> Vec<String> {
        let counted = [
            (self.broken, "triangles left out: a corner is missing or not a finite number"),
            (self.without_area, "triangles left out: no area"),
            (self.repeated, "triangles left out: repeated"),
            (self.open_edges, "open edges: the surface does not close a volume"),
            (
                self.flipped_edges,
                "edges between triangles that face opposite ways: signs of deviations may flip there",
            ),
            (self.crowded_edges, "edges of more than two triangles: the surface touches itself"),
        ];
        let mut notes: Vec<String> = counted
            .iter()
            .filter(|(count, _)| *count > 0)
            .map(|(count, what)| format!("{count} {what}"))
            .collect();
        let largest = self.size_mm.iter().copied().fold(0.0, f64::max);
        if largest > SUSPICIOUSLY_LARGE_MM {
            notes.push(format!("the object would be {} m long: check the unit", (largest / 1000.0).round()));
        } else if largest < SUSPICIOUSLY_SMALL_MM {
            notes.push(format!("the object would be {largest:.3} mm long: check the unit"));
        }
        notes
    }
}

fn without_unusable(
    points: &[[f64; 3]],
    triangles: Vec<[u32; 3]>,
    condition: &mut MeshCondition,
) -> Vec<[u32; 3]> {
    let finite = |corner: u32| points.get(corner as usize).is_some_and(|p| p.iter().all(|c| c.is_finite()));
    let mut kept: Vec<[u32; 3]> = Vec::with_capacity(triangles.len());
    for triangle in triangles {
        if !triangle.iter().all(|&corner| finite(corner)) {
            condition.broken += 1;
            continue;
        }
        let [a, b, c] = triangle.map(|corner| Vector3::from(points[corner as usize]));
        let double_area = (b - a).cross(&(c - a)).norm();
        if double_area > 0.0 && double_area.is_finite() {
            kept.push(triangle);
        } else {
            condition.without_area += 1;
        }
    }
    let before = kept.len();
    let mut keyed: Vec<([u32; 3], u32)> = kept
        .par_iter()
        .enumerate()
        .map(|(index, &triangle)| {
            let mut key = triangle;
            key.sort_unstable();
            (key, index as u32)
        })
        .collect();
    keyed.par_sort_unstable();
    keyed.dedup_by_key(|(key, _)| *key);
    if keyed.len() < before {
        condition.repeated = before - keyed.len();
        let mut first_indices: Vec<u32> = keyed.into_iter().map(|(_, index)| index).collect();
        first_indices.sort_unstable();
        kept = first_indices.into_iter().map(|index| kept[index as usize]).collect();
    }
    kept
}

/// Leaves out corners that no triangle uses, keeping the order of the rest.
fn compact(points: &[[f64; 3]], mut triangles: Vec<[u32; 3]>) -> Mesh {
    let mut new_index = vec![u32::MAX; points.len()];
    for &corner in triangles.iter().flatten() {
        new_index[corner as usize] = 0;
    }
    let mut points_mm = Vec::new();
    for (point, index) in points.iter().zip(&mut new_index) {
        if *index == 0 {
            *index = points_mm.len() as u32;
            points_mm.push(*point);
        }
    }
    for corner in triangles.iter_mut().flatten() {
        *corner = new_index[*corner as usize];
    }
    Mesh { points_mm, triangles }
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;

    /// An upright box from the origin.
    pub(crate) fn block(size_mm: [f64; 3]) -> Mesh {
        let points = (0..8)
            .map(|i| std::array::from_fn(|axis| if i >> axis & 1 == 1 { size_mm[axis] } else { 0.0 }))
            .collect();
        let quads = [[0, 2, 3, 1], [4, 5, 7, 6], [0, 1, 5, 4], [2, 6, 7, 3], [0, 4, 6, 2], [1, 3, 7, 5]];
        let triangles = quads.iter().flat_map(|&[a, b, c, d]| [[a, b, c], [a, c, d]]).collect();
        Mesh::new(points, triangles).unwrap().0
    }

    #[test]
    fn a_block_is_closed_and_measures_right() {
        let block = block([2.0, 3.0, 4.0]);
        let (_, condition) = Mesh::new(block.points_mm.clone(), block.triangles.clone()).unwrap();
        assert!(condition.is_closed(), "{condition:?}");
        assert!((block.enclosed_volume_mm3() - 24.0).abs() < 1e-12);
        assert!((block.area_mm2() - 52.0).abs() < 1e-12);
    }

    #[test]
    fn unusable_triangles_are_counted_and_left_out() {
        let points = vec![[0.0; 3], [1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [f64::NAN, 0.0, 0.0]];
        let triangles = vec![[0, 1, 2], [1, 2, 0], [0, 1, 3], [0, 1, 9], [0, 0, 1]];
        let (mesh, condition) = Mesh::new(points, triangles).unwrap();
        assert_eq!(mesh.triangles(), [[0, 1, 2]]);
        assert_eq!(mesh.points_mm().len(), 3);
        assert_eq!((condition.broken, condition.without_area, condition.repeated), (2, 1, 1));
        assert_eq!(condition.open_edges, 3);
    }

    #[test]
    fn flipped_triangles_are_noticed() {
        let block = block([1.0; 3]);
        let mut triangles = block.triangles.clone();
        triangles[0].swap(0, 1);
        let (_, condition) = Mesh::new(block.points_mm, triangles).unwrap();
        assert_eq!(condition.flipped_edges, 3);
        assert!(!condition.is_closed());
    }

    #[test]
    fn a_statue_two_kilometres_tall_is_questioned() {
        let giant = block([300_000.0, 300_000.0, 2_000_000.0]);
        let (_, condition) = Mesh::new(giant.points_mm, giant.triangles).unwrap();
        assert_eq!(condition.notes(), ["the object would be 2000 m long: check the unit"]);
    }
}
