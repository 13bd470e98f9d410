//! Radius of an invented undercut over levels of noise: bias, and whether its uncertainty is true.

use std::f64::consts::{FRAC_PI_2, FRAC_PI_4};

use form::{Bvh, FilletOptions, FilletStation, MeasureError, Mesh, fillet};
use rand::SeedableRng;
use rand_pcg::Pcg64;
use rayon::prelude::*;

use super::{normal, row};

const RADIUS: f64 = 6.0;
/// Corners of the mesh are this far apart, mm.
const STEP: f64 = 0.3;

/// Floor, quarter-round fillet and wall, with noise along the normal.
fn undercut(noise_mm: f64, random: &mut Pcg64) -> Result<Mesh, MeasureError> {
    let arc = FRAC_PI_2 * RADIUS;
    let columns = ((18.0 + arc) / STEP) as usize;
    let rows = (120.0 / STEP) as usize + 1;
    let mut points = Vec::with_capacity(rows * columns);
    for row in 0..rows {
        for column in 0..columns {
            let s = column as f64 * STEP - 10.0;
            let angle = (s / RADIUS).clamp(0.0, FRAC_PI_2);
            let (x, z) =
                (s.min(0.0) + RADIUS * angle.sin(), RADIUS * (1.0 - angle.cos()) + (s - arc).max(0.0));
            let e = noise_mm * normal(random);
            points.push([x - e * angle.sin(), row as f64 * STEP, z + e * angle.cos()]);
        }
    }
    let at = |r: usize, c: usize| (r * columns + c) as u32;
    let mut triangles = Vec::new();
    for r in 0..rows - 1 {
        for c in 0..columns - 1 {
            triangles.push([at(r, c), at(r, c + 1), at(r + 1, c + 1)]);
            triangles.push([at(r, c), at(r + 1, c + 1), at(r + 1, c)]);
        }
    }
    Mesh::new(points, triangles).map(|(mesh, _)| mesh)
}

/// Sections of one undercut.
fn stations(noise_mm: f64, arc_mm: Option<f64>, seed: u64) -> Result<Vec<FilletStation>, MeasureError> {
    let mesh = undercut(noise_mm, &mut Pcg64::seed_from_u64(seed))?;
    let tree = Bvh::new(&mesh);
    let at = |y: f64| [RADIUS * FRAC_PI_4.sin(), y, RADIUS * (1.0 - FRAC_PI_4.cos())];
    let options = FilletOptions { spacing_mm: 0.9, look_mm: 9.0, arc_mm, scale_u: 0.0 };
    fillet(&tree, &[at(1.0), at(119.0)], &options).map(|found| found.stations)
}

/// Bias over many undercuts, so that it is known to well below the bar, and the spread of (estimate − truth)/u.
pub fn bars() -> Result<(), MeasureError> {
    for (extent, arc_mm, copies) in [("given, 57°", Some(6.0), 40), ("found", None, 12)] {
        for noise_mm in [0.005, 0.02, 0.05, 0.1] {
            let all: Vec<Vec<FilletStation>> = (0..copies)
                .into_par_iter()
                .map(|copy| stations(noise_mm, arc_mm, 1000 + copy))
                .collect::<Result<_, _>>()?;
            let radii: Vec<(f64, f64)> =
                all.iter().flatten().map(|s| (s.radius_mm.value, s.radius_mm.u)).collect();
            let (bias, bias_u) = mean_and_u(radii.iter().map(|(r, _)| 100.0 * (r / RADIUS - 1.0)));
            let scores: Vec<f64> = radii.iter().map(|(r, u)| (r - RADIUS) / u).collect();
            let (mean, _) = mean_and_u(scores.iter().copied());
            let count = scores.len() as f64;
            let sd = (scores.iter().map(|z| (z - mean).powi(2)).sum::<f64>() / (count - 1.0)).sqrt();
            row(
                &format!("fillet radius 6 mm, noise {noise_mm} mm, arc {extent}"),
                "bias < 0.5 %, sd of z 0.8–1.25",
                &format!("bias {bias:+.3} ± {bias_u:.3} %, z {mean:+.2} ± {sd:.2}, {count} sections"),
                bias.abs() < 0.5 && (0.8..1.25).contains(&sd),
            );
        }
    }
    Ok(())
}

fn mean_and_u(values: impl Iterator<Item = f64> + Clone) -> (f64, f64) {
    let count = values.clone().count() as f64;
    let mean = values.clone().sum::<f64>() / count;
    let squares: f64 = values.map(|v| (v - mean).powi(2)).sum();
    (mean, (squares / (count - 1.0) / count).sqrt())
}
