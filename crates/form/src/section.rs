//! Plane sections of a mesh.

use std::collections::BTreeMap;

use nalgebra::Vector3;

use crate::{Bvh, MeasureError, Plane};

/// A point where a plane cuts an edge of the mesh.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SectionPoint {
    /// Place in the section plane, mm, along the two axes the section was asked with.
    pub place_mm: [f64; 2],
    /// The two corners of the edge and the share of each.
    pub corners: [(u32, f64); 2],
}

/// One connected line of a section, from one end to the other (first and last point equal if closed).
pub type SectionLine = Vec<SectionPoint>;

/// Cuts the mesh, within `radius_mm` of `centre`, by the plane through `centre` spanned by `across` and `outward`
/// (unit vectors at right angles). Lines come in the order of the mesh; places are relative to `centre`.
///
/// # Errors
/// [`MeasureError::BadSetting`] for a radius that is not positive, [`MeasureError::Degenerate`] for axes that span no
/// plane.
pub fn section(
    tree: &Bvh<'_>,
    centre: [f64; 3],
    across: [f64; 3],
    outward: [f64; 3],
    radius_mm: f64,
) -> Result<Vec<SectionLine>, MeasureError> {
    if !(radius_mm.is_finite() && radius_mm > 0.0) {
        return Err(MeasureError::BadSetting {
            name: "radius of the section, mm",
            found: radius_mm,
            needed: "positive",
        });
    }
    let (centre, across, outward) = (Vector3::from(centre), Vector3::from(across), Vector3::from(outward));
    let plane = Plane::through(centre.into(), across.cross(&outward).into())
        .ok_or(MeasureError::Degenerate { what: "section", fault: "its axes span no plane" })?;
    let mesh = tree.mesh();
    // A corner on the plane counts as above it, so that every cut triangle is cut at exactly two edges.
    let height = |corner: u32| plane.distance(mesh.points_mm()[corner as usize]);
    let mut points: BTreeMap<(u32, u32), SectionPoint> = BTreeMap::new();
    let mut links: BTreeMap<(u32, u32), Vec<(u32, u32)>> = BTreeMap::new();
    for triangle in tree.in_ball(centre, radius_mm) {
        let [a, b, c] = mesh.triangles()[triangle];
        let cut: Vec<(u32, u32)> = [(a, b), (b, c), (c, a)]
            .into_iter()
            .filter(|&(from, to)| (height(from) >= 0.0) != (height(to) >= 0.0))
            .map(|(from, to)| (from.min(to), from.max(to)))
            .collect();
        let [first, second] = cut[..] else { continue };
        for key in [first, second] {
            points.entry(key).or_insert_with(|| {
                let (from, to) = (height(key.0), height(key.1));
                let share = from / (from - to);
                let corner = |index: u32| Vector3::from(mesh.points_mm()[index as usize]) - centre;
                let place = corner(key.0) * (1.0 - share) + corner(key.1) * share;
                SectionPoint {
                    place_mm: [across.dot(&place), outward.dot(&place)],
                    corners: [(key.0, 1.0 - share), (key.1, share)],
                }
            });
        }
        links.entry(first).or_default().push(second);
        links.entry(second).or_default().push(first);
    }
    Ok(lines(&points, links))
}

/// Walks the links from end to end; what is left afterwards are closed lines.
fn lines(
    points: &BTreeMap<(u32, u32), SectionPoint>,
    mut links: BTreeMap<(u32, u32), Vec<(u32, u32)>>,
) -> Vec<SectionLine> {
    let ends: Vec<(u32, u32)> = links.iter().filter(|(_, to)| to.len() != 2).map(|(&key, _)| key).collect();
    let all: Vec<(u32, u32)> = links.keys().copied().collect();
    let mut found = Vec::new();
    for start in ends.into_iter().chain(all) {
        while links.get(&start).is_some_and(|to| !to.is_empty()) {
            let mut line: SectionLine = points.get(&start).copied().into_iter().collect();
            let mut at = start;
            while let Some(next) = links.get_mut(&at).and_then(Vec::pop) {
                if let Some(back) = links.get_mut(&next)
                    && let Some(position) = back.iter().position(|&key| key == at)
                {
                    back.swap_remove(position);
                }
                line.extend(points.get(&next));
                at = next;
            }
            found.push(line);
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::mesh::tests::block;

    #[test]
    fn a_block_is_cut_along_its_outline() {
        let block = block([2.0, 3.0, 4.0]);
        let tree = Bvh::new(&block);
        let lines = section(&tree, [1.0, 1.5, 1.3], [1.0, 0.0, 0.0], [0.0, 1.0, 0.0], 10.0).unwrap();
        assert_eq!(lines.len(), 1);
        let line = &lines[0];
        assert_eq!(line.first().unwrap().place_mm, line.last().unwrap().place_mm);
        let length: f64 = line
            .windows(2)
            .map(|p| (p[1].place_mm[0] - p[0].place_mm[0]).hypot(p[1].place_mm[1] - p[0].place_mm[1]))
            .sum();
        assert!((length - 10.0).abs() < 1e-12, "{length}");
    }

    #[test]
    fn a_plane_through_corners_still_cuts_cleanly() {
        let block = block([1.0, 1.0, 1.0]);
        let tree = Bvh::new(&block);
        let half = 0.5_f64.sqrt();
        let lines = section(&tree, [0.5, 0.5, 0.5], [half, half, 0.0], [0.0, 0.0, 1.0], 10.0).unwrap();
        assert_eq!(lines.len(), 1);
    }
}
