//! Mirror planes of an invented figure, whole, damaged and large.

use std::f64::consts::{PI, TAU};

use form::{Bvh, MeasureError, Mesh, Plane, SymmetryOptions, mirror_symmetry};
use rand::SeedableRng;
use rand_pcg::Pcg64;

use super::{normal, peak_gb, row, spent};

/// An invented figure that mirrors in x = 0: a bumpy ball; `change` moves its points afterwards.
fn figure(rings: usize, change: impl Fn([f64; 3]) -> [f64; 3]) -> Result<Mesh, MeasureError> {
    let slices = 2 * rings;
    let mut points = Vec::with_capacity((rings + 1) * slices);
    for ring in 0..=rings {
        let polar = PI * ring as f64 / rings as f64;
        for slice in 0..slices {
            let around = TAU * slice as f64 / slices as f64;
            let (x, y, z) = (polar.sin() * around.cos(), polar.sin() * around.sin(), polar.cos());
            let bump =
                0.2 * (3.0 * z + 1.0).sin() + 0.15 * (5.0 * y).cos() + 0.1 * (4.0 * x * x + 2.0 * y).sin();
            let radius = 100.0 * (1.0 + bump);
            points.push(change([0.8 * radius * x, radius * y, 1.3 * radius * z]));
        }
    }
    let at = |ring: usize, slice: usize| (ring * slices + slice % slices) as u32;
    let mut triangles = Vec::with_capacity(2 * rings * slices);
    for ring in 0..rings {
        for slice in 0..slices {
            triangles.push([at(ring, slice), at(ring + 1, slice), at(ring + 1, slice + 1)]);
            triangles.push([at(ring, slice), at(ring + 1, slice + 1), at(ring, slice + 1)]);
        }
    }
    Mesh::new(points, triangles).map(|(mesh, _)| mesh)
}

/// Angle and offset of the plane found, and what two million triangles cost.
pub fn bars() -> Result<(), MeasureError> {
    let cut = Plane::through([62.0, 55.5, 41.5], [1.0, 0.9, 0.8]);
    let cut = cut.ok_or(MeasureError::Degenerate { what: "bench", fault: "no cut" })?;
    let mut random = Pcg64::seed_from_u64(2);
    for (name, rings, noise_mm, bar) in [
        ("10 % damage, no noise", 100, 0.0, true),
        ("10 % damage, 0.1 mm noise", 100, 0.1, true),
        ("2 M triangles, 10 % damage", 708, 0.02, true),
    ] {
        let noise: Vec<f64> = (0..4096).map(|_| noise_mm * normal(&mut random)).collect();
        let count = std::cell::Cell::new(0_usize);
        let mesh = figure(rings, |p| {
            let beyond = cut.distance(p).max(0.0);
            let n = count.replace(count.get() + 1);
            let rough = noise[(n * 7919) % noise.len()];
            std::array::from_fn(|k| (p[k] - beyond * cut.normal[k]) * (1.0 + rough / 100.0))
        })?;
        let tree_cost = spent(|| {
            let _ = Bvh::new(&mesh);
            Ok(())
        })?;
        let tree = Bvh::new(&mesh);
        let mut result = None;
        let cost = spent(|| {
            result = Some(mirror_symmetry(&tree, &SymmetryOptions::default(), &|_| true)?);
            Ok(())
        })?;
        let Some(found) = result else { continue };
        let truth = Plane { normal: [1.0, 0.0, 0.0], offset: 0.0 };
        let angle_deg = found.best.plane.angle_to_deg(&truth);
        // The figure is centred on the origin, so the plane's distance from it is the offset at its middle.
        let offset_percent = 100.0 * found.best.plane.offset.abs() / found.width_mm;
        row(
            &format!("mirror plane, {name}"),
            "< 0.05°, < 0.02 % of the width",
            &format!(
                "{angle_deg:.4}° (u {:.4}°), {offset_percent:.4} % (u {:.4} %)",
                found.direction_u_deg,
                100.0 * found.offset_u_mm / found.width_mm
            ),
            bar && angle_deg < 0.05 && offset_percent < 0.02,
        );
        if mesh.triangles().len() > 1_000_000 {
            let seconds = tree_cost.own() + cost.own();
            let found = format!(
                "{} triangles, index {tree_cost}, search {cost}, peak {:.2} GB",
                mesh.triangles().len(),
                peak_gb()
            );
            row(
                "mirror plane, cost",
                "2 M triangles < 60 s, < 4 GB",
                &found,
                seconds < 60.0 && peak_gb() < 4.0,
            );
        }
    }
    Ok(())
}
