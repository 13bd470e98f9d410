use super::*;
use crate::Mesh;
use rand::SeedableRng;
use rand_distr::{Distribution, Normal};
use rand_pcg::Pcg64;

/// An invented undercut: floor, quarter-round fillet of `radius(along)`, wall; as a grid of points `step` apart.
fn undercut(length_mm: f64, step_mm: f64, noise_mm: f64, seed: u64, radius: impl Fn(f64) -> f64) -> Mesh {
    let mut random = Pcg64::seed_from_u64(seed);
    let noise = Normal::new(0.0, noise_mm).unwrap();
    let rows = (length_mm / step_mm) as usize + 1;
    let mut points = Vec::new();
    let mut columns = 0;
    for row in 0..rows {
        let along = row as f64 * step_mm;
        let r = radius(along);
        let arc = std::f64::consts::FRAC_PI_2 * r;
        let flat = 10.0;
        columns = 0;
        let mut s = -flat;
        while s <= 8.0 + arc {
            // Floor along +x towards the fillet, then up the wall; noise along the normal.
            let (x, z, nx, nz) = if s < 0.0 {
                (s, 0.0, 0.0, 1.0)
            } else if s < arc {
                let angle = s / r;
                (r * angle.sin(), r * (1.0 - angle.cos()), -angle.sin(), angle.cos())
            } else {
                (r, r + (s - arc), -1.0, 0.0)
            };
            let e = noise.sample(&mut random);
            points.push([x + e * nx, along, z + e * nz]);
            s += step_mm;
            columns += 1;
        }
    }
    let mut triangles = Vec::new();
    for row in 0..rows - 1 {
        for column in 0..columns - 1 {
            let at = |r: usize, c: usize| (r * columns + c) as u32;
            triangles.push([at(row, column), at(row, column + 1), at(row + 1, column + 1)]);
            triangles.push([at(row, column), at(row + 1, column + 1), at(row + 1, column)]);
        }
    }
    Mesh::new(points, triangles).unwrap().0
}

fn middle_of(radius: f64, length_mm: f64) -> Vec<[f64; 3]> {
    let angle = std::f64::consts::FRAC_PI_4;
    let at = |y: f64| [radius * angle.sin(), y, radius * (1.0 - angle.cos())];
    vec![at(1.0), at(length_mm - 1.0)]
}

fn options(spacing_mm: f64, arc_mm: Option<f64>) -> FilletOptions {
    FilletOptions { spacing_mm, look_mm: 9.0, arc_mm, scale_u: 0.0 }
}

/// The bar: bias < 0.5 %, (estimate − truth)/u of standard deviation 0.8–1.25 over noise levels.
#[test]
fn radius_is_unbiased_and_its_uncertainty_true() {
    const RADIUS: f64 = 6.0;
    for arc_mm in [Some(6.0), None] {
        for noise_mm in [0.01, 0.03, 0.06] {
            let mesh = undercut(120.0, 0.3, noise_mm, 5, |_| RADIUS);
            let tree = Bvh::new(&mesh);
            let found = fillet(&tree, &middle_of(RADIUS, 120.0), &options(1.2, arc_mm)).unwrap();
            let scores: Vec<f64> =
                found.stations.iter().map(|s| (s.radius_mm.value - RADIUS) / s.radius_mm.u).collect();
            let count = scores.len() as f64;
            let mean = scores.iter().sum::<f64>() / count;
            let sd = (scores.iter().map(|z| (z - mean).powi(2)).sum::<f64>() / (count - 1.0)).sqrt();
            let bias = found.mean_mm.value / RADIUS - 1.0;
            println!(
                "arc {arc_mm:?} noise {noise_mm}: n {count} without {} bias {bias:.5} sd {sd:.3}",
                found.without_arc
            );
            assert!(count > 90.0, "{count} sections");
            // The mean of noisy sections is itself known to its own uncertainty only.
            assert!(bias.abs() < 0.005 + 2.0 * found.mean_mm.u / RADIUS, "bias {bias}");
            assert!((0.8..1.25).contains(&sd), "sd {sd}");
            assert!(found.stations.iter().all(|s| s.hollow));
        }
    }
}

#[test]
fn a_widening_fillet_drifts() {
    let mesh = undercut(100.0, 0.4, 0.0, 1, |along| 5.0 + 0.01 * along);
    let tree = Bvh::new(&mesh);
    let found = fillet(&tree, &middle_of(5.5, 100.0), &options(2.0, Some(5.0))).unwrap();
    assert!((found.drift_per_mm.value - 0.01).abs() < 5e-4, "{:?}", found.drift_per_mm);
    assert!((found.mean_mm.value - 5.5).abs() < 0.03, "{:?}", found.mean_mm);
}

#[test]
fn settings_and_paths_are_checked() {
    let mesh = undercut(5.0, 0.5, 0.0, 1, |_| 5.0);
    let tree = Bvh::new(&mesh);
    assert!(fillet(&tree, &[[0.0; 3]], &options(1.0, None)).is_err());
    assert!(fillet(&tree, &[[0.0; 3], [0.0; 3]], &options(1.0, None)).is_err());
    assert!(fillet(&tree, &middle_of(5.0, 5.0), &options(0.0, None)).is_err());
    // Far from the surface no section shows anything.
    let away = [[0.0, 0.0, 500.0], [0.0, 5.0, 500.0]];
    assert!(fillet(&tree, &away, &options(1.0, None)).is_err());
}
