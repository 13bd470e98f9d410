//! The face of a mesh that a person pointed out by an outline.

use nalgebra::Vector3;

use crate::{MeasureError, Mesh, Polygon, orthogonal_plane};

/// Least cosine between a corner's direction and that of the outline: a face may curve by 60° and is not its own back.
const FACING: f64 = 0.5;

/// Indices of the mesh's corners inside an outline, seen square to the outline, on the side it was drawn on.
///
/// `outline_mm` are places on or near the surface, in order round the face. The side is the one that the mesh's corners
/// nearest to them face, so the outline may run either way round.
///
/// # Errors
/// [`MeasureError::Degenerate`] for an outline without area, [`MeasureError::TooFewPoints`] if it meets fewer than three
/// corners of the mesh.
pub fn face_corners(mesh: &Mesh, outline_mm: &[[f64; 3]]) -> Result<Vec<usize>, MeasureError> {
    let no_area = MeasureError::Degenerate { what: "region", fault: "its outline encloses no area" };
    let plane = orthogonal_plane(outline_mm).map_err(|_| no_area.clone())?;
    let (first, second) = plane.axes();
    let flat = |p: [f64; 3]| [first, second].map(|axis| Vector3::from(p).dot(&Vector3::from(axis)));
    let outline = Polygon::new(outline_mm.iter().map(|&p| flat(p)).collect()).ok_or(no_area)?;
    let normals = mesh.corner_areas_and_normals().1;
    let normal = Vector3::from(plane.normal);
    let facing = |index: usize| normals.get(index).map_or(0.0, |n| normal.dot(&Vector3::from(*n)));
    let side: f64 = outline_mm.iter().filter_map(|&place| nearest(mesh, place)).map(facing).sum();
    let points = mesh.points_mm().iter().enumerate();
    let inside: Vec<usize> = points
        .filter(|(index, point)| facing(*index) * side.signum() >= FACING && outline.contains(flat(**point)))
        .map(|(index, _)| index)
        .collect();
    if inside.len() < 3 {
        let found = inside.len();
        return Err(MeasureError::TooFewPoints {
            what: "region (corners of the mesh inside it)",
            found,
            needed: 3,
        });
    }
    Ok(inside)
}

fn nearest(mesh: &Mesh, place: [f64; 3]) -> Option<usize> {
    let place = Vector3::from(place);
    let away = |point: &[f64; 3]| (Vector3::from(*point) - place).norm_squared();
    let points = mesh.points_mm().iter().enumerate();
    points.min_by(|a, b| away(a.1).total_cmp(&away(b.1))).map(|(index, _)| index)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A box of 20 × 10 × 6 mm, its faces in squares of 1 mm; the top stands 0.3 mm proud beyond x = 15.
    fn stepped_box() -> Mesh {
        let mut points = Vec::new();
        let mut triangles = Vec::new();
        let mut face = |at: &dyn Fn(f64, f64) -> [f64; 3], across: u32, along: u32| {
            let base = points.len() as u32;
            for v in 0..=along {
                for u in 0..=across {
                    points.push(at(f64::from(u), f64::from(v)));
                }
            }
            let index = |u: u32, v: u32| base + v * (across + 1) + u;
            for v in 0..along {
                for u in 0..across {
                    triangles.push([index(u, v), index(u + 1, v), index(u + 1, v + 1)]);
                    triangles.push([index(u, v), index(u + 1, v + 1), index(u, v + 1)]);
                }
            }
        };
        face(&|u, v| [u, v, if u > 15.0 { 6.3 } else { 6.0 }], 20, 10);
        face(&|u, v| [20.0 - u, v, 0.0], 20, 10);
        face(&|u, v| [u, 0.0, v], 20, 6);
        face(&|u, v| [20.0 - u, 10.0, v], 20, 6);
        Mesh::new(points, triangles).unwrap().0
    }

    #[test]
    fn a_face_is_its_own_side_and_its_own_part() {
        let mesh = stepped_box();
        let top = [[0.5, 0.5, 6.0], [12.5, 0.5, 6.0], [12.5, 9.5, 6.0], [0.5, 9.5, 6.0]];
        for outline in [top.to_vec(), top.into_iter().rev().collect()] {
            let inside = face_corners(&mesh, &outline).unwrap();
            assert_eq!(inside.len(), 12 * 9);
            assert!(inside.iter().all(|&index| mesh.points_mm()[index][2] == 6.0));
        }
        let below = top.map(|[x, y, _]| [x, y, 0.0]);
        let inside = face_corners(&mesh, &below).unwrap();
        assert!(inside.iter().all(|&index| mesh.points_mm()[index][2] == 0.0));
    }

    #[test]
    fn an_outline_of_nothing_is_refused() {
        let mesh = stepped_box();
        assert!(face_corners(&mesh, &[[0.0; 3], [1.0, 0.0, 0.0]]).is_err());
        assert!(face_corners(&mesh, &[[0.0, 0.0, 6.0], [5.0, 0.0, 6.0], [9.0, 0.0, 6.0]]).is_err());
        let tiny = [[3.2, 3.2, 6.0], [3.4, 3.2, 6.0], [3.4, 3.4, 6.0]];
        assert!(face_corners(&mesh, &tiny).unwrap_err().to_string().contains("region"));
    }
}
