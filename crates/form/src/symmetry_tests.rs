use super::*;
use crate::Mesh;
use nalgebra::Rotation3;

/// One half of an invented figure, as a bumpy dome over a grid of angles, joined to its mirror image in x = 0.
pub(crate) fn figure(rings: usize, damage: impl Fn([f64; 3]) -> [f64; 3]) -> Mesh {
    let slices = 2 * rings;
    let mut points = Vec::new();
    for ring in 0..=rings {
        let polar = std::f64::consts::PI * ring as f64 / rings as f64;
        for slice in 0..slices {
            let around = std::f64::consts::TAU * slice as f64 / slices as f64;
            // Even in x by construction: only |cos| of the angle about y enters.
            let x = polar.sin() * around.cos();
            let (y, z) = (polar.sin() * around.sin(), polar.cos());
            let bump =
                0.2 * (3.0 * z + 1.0).sin() + 0.15 * (5.0 * y).cos() + 0.1 * (4.0 * x * x + 2.0 * y).sin();
            let radius = 100.0 * (1.0 + bump);
            points.push(damage([0.8 * radius * x, radius * y, 1.3 * radius * z]));
        }
    }
    let mut triangles = Vec::new();
    for ring in 0..rings {
        for slice in 0..slices {
            let at = |r: usize, s: usize| (r * slices + s % slices) as u32;
            triangles.push([at(ring, slice), at(ring + 1, slice), at(ring + 1, slice + 1)]);
            triangles.push([at(ring, slice), at(ring + 1, slice + 1), at(ring, slice + 1)]);
        }
    }
    Mesh::new(points, triangles).unwrap().0
}

/// The bar: 10 % damage, angle error < 0.05°, offset < 0.02 % of the width. The figure mirrors in x = 0 by
/// construction; it is then turned and moved by a known motion.
#[test]
fn a_damaged_figure_keeps_its_mirror_plane() {
    // A chip: everything beyond a slanting cut is pushed back onto it, 10 % of the surface.
    let cut = Plane::through([62.0, 55.5, 41.5], [1.0, 0.9, 0.8]).unwrap();
    let turn = Rotation3::from_euler_angles(0.3, -0.5, 0.9);
    let shift = Vector3::new(20.0, -35.0, 12.0);
    let chipped = figure(80, |p| {
        let beyond = cut.distance(p).max(0.0);
        let kept = Vector3::from(p) - Vector3::from(cut.normal) * beyond;
        (turn * kept + shift).into()
    });
    let truth = Plane::through(shift.into(), (turn * Vector3::x()).into()).unwrap();
    let whole = figure(80, |p| p);
    let damaged: f64 = (0..whole.triangles().len())
        .filter(|&t| cut.distance((whole.corners(t).iter().sum::<Vector3<f64>>() / 3.0).into()) > 0.0)
        .map(|t| whole.double_area_normal(t).norm() / 2.0)
        .sum::<f64>()
        / whole.area_mm2();
    assert!((0.08..0.16).contains(&damaged), "damage {damaged}");

    let tree = Bvh::new(&chipped);
    let options = SymmetryOptions { samples: 6_000, ..SymmetryOptions::default() };
    let found = mirror_symmetry(&tree, &options, &|_| true).unwrap();
    let angle_deg = found.best.plane.angle_to_deg(&truth);
    let middle =
        Vector3::from(chipped.points_mm().iter().fold([0.0; 3], |s, p| std::array::from_fn(|k| s[k] + p[k])))
            / chipped.points_mm().len() as f64;
    let offset = (found.best.plane.distance(middle.into()).abs() - truth.distance(middle.into()).abs()).abs();
    assert!(angle_deg < 0.05, "angle {angle_deg}°");
    assert!(offset < 0.0002 * found.width_mm, "offset {offset} mm of {}", found.width_mm);
    assert!(found.median_mm < 0.001 * found.width_mm, "median {}", found.median_mm);
    assert!(found.p95_mm > 0.005 * found.width_mm, "the damage must show: {}", found.p95_mm);
}

#[test]
fn a_ball_mirrors_in_many_planes_and_says_so() {
    let ball = figure(24, |p| {
        let unit = Vector3::from(p).normalize() * 50.0;
        unit.into()
    });
    let tree = Bvh::new(&ball);
    let options = SymmetryOptions { samples: 2_000, ..SymmetryOptions::default() };
    let found = mirror_symmetry(&tree, &options, &|_| true).unwrap();
    assert!(found.others.len() >= 3, "{} others", found.others.len());
    assert!(found.notes().iter().any(|note| note.contains("State which symmetry")));
}

#[test]
fn it_can_be_stopped() {
    let figure = figure(12, |p| p);
    let tree = Bvh::new(&figure);
    let stopped = mirror_symmetry(&tree, &SymmetryOptions::default(), &|_| false);
    assert_eq!(stopped, Err(MeasureError::Stopped));
}

#[test]
fn weighted_quantiles_of_known_values() {
    let values: Vec<f64> = (1..=100).map(f64::from).collect();
    assert_eq!(weighted_quantiles(&values, &[1.0; 100]), (50.0, 95.0));
    assert_eq!(weighted_quantiles(&[-3.0, 1.0, f64::NAN], &[9.0, 1.0, 5.0]), (3.0, 3.0));
}
