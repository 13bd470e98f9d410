//! Flatness, volumes and reading: surfaces whose answers follow from geometry.

use std::f64::consts::{PI, TAU};
use std::time::Instant;

use form::{
    BlockFace, HeightMap, LengthUnit, Limits, MeasureError, Mesh, MeshCondition, Plane, flatness as measure,
    minimum_zone, orthogonal_plane, read_mesh, removed_from_hull, removed_from_map, removed_from_mesh, zone,
};
use rand::{RngExt, SeedableRng};
use rand_pcg::Pcg64;

use super::{normal, peak_gb, row, spent};

/// A million points, and a thousand clouds whose minimum zone must not be the wider.
pub fn flatness() -> Result<(), MeasureError> {
    let mut random = Pcg64::seed_from_u64(1);
    let points: Vec<[f64; 3]> = (0..1_000_000)
        .map(|i| {
            let (x, y) = (f64::from(i % 1000), f64::from(i / 1000));
            [x, y, 0.002 * x + 0.05 * (x * 0.01).sin() * (y * 0.013).cos() + 0.01 * normal(&mut random)]
        })
        .collect();
    let cost = spent(|| measure(&points, 0.01, "mm").map(|_| ()))?;
    row("flatness, 1 M points", "< 5 s", &cost.to_string(), cost.own() < 5.0);
    let mut wider = 0;
    for _ in 0..1000 {
        let thickness = 10_f64.powf(-4.0 * random.random::<f64>());
        let count = random.random_range(4..60);
        let cloud: Vec<[f64; 3]> = (0..count)
            .map(|_| [random.random(), random.random(), thickness * random.random::<f64>()])
            .collect();
        let plane = orthogonal_plane(&cloud)?;
        let found = minimum_zone(&cloud, &plane)?;
        wider += usize::from(found.zone.total > zone(&cloud, &plane).total * (1.0 + 1e-12));
    }
    row("minimum zone ≤ least squares", "1,000 clouds", &format!("{wider} wider"), wider == 0);
    Ok(())
}

/// Volumes of solids with a formula.
pub fn volume() -> Result<(), MeasureError> {
    let (radius, depth) = (50.0_f64, 10.0_f64);
    let truth = PI * depth * depth * (3.0 * radius - depth) / 3.0;
    let z_um = |i: i32| {
        let (x, y) = (f64::from(i % 801) * 0.1 - 40.0, f64::from(i / 801) * 0.1 - 40.0);
        let inside = radius * radius - x * x - y * y;
        1000.0 * if inside > 0.0 { (radius - depth - inside.sqrt()).min(0.0) } else { 0.0 }
    };
    let map = HeightMap::new(801, 801, 100.0, 100.0, (0..801 * 801).map(z_um).collect())?;
    let block = BlockFace { plane: Plane::from_slopes(0.0, 0.0, 0.0), u: 0.0, scale_u: 0.0 };
    let percent = |found: f64, truth: f64| 100.0 * (found / truth - 1.0);
    let on_map = percent(removed_from_map(&map, None, &block)?.volume_mm3.value, truth);
    row("volume, hollow cap, height map", "< 0.1 %", &format!("{on_map:+.4} %"), on_map.abs() < 0.1);
    let on_mesh = percent(removed_from_mesh(&map.to_mesh()?, None, &block)?.volume_mm3.value, truth);
    row("volume, hollow cap, mesh", "< 0.1 %", &format!("{on_mesh:+.4} %"), on_mesh.abs() < 0.1);
    // The hull of a ring is a disc widened by the tube's radius: 2πR²r + π²Rr² + 4πr³/3 (Steiner's formula).
    let (big, small) = (40.0_f64, 15.0_f64);
    let (mesh, condition) = ring(big, small, 600)?;
    let hull = 2.0 * PI * big * big * small + PI * PI * big * small * small + 4.0 / 3.0 * PI * small.powi(3);
    let removed = removed_from_hull(&mesh, &condition, 0.0)?.volume_mm3.value;
    let off = percent(removed, hull - 2.0 * PI * PI * big * small * small);
    row("volume, ring to its hull", "< 0.1 %", &format!("{off:+.4} %"), off.abs() < 0.1);
    Ok(())
}

/// A ring about the z axis.
fn ring(big: f64, small: f64, count: usize) -> Result<(Mesh, MeshCondition), MeasureError> {
    let mut points = Vec::with_capacity(count * count);
    for i in 0..count {
        let (sin, cos) = (TAU * i as f64 / count as f64).sin_cos();
        for j in 0..count {
            let (up, out) = (TAU * j as f64 / count as f64).sin_cos();
            let radius = big + small * out;
            points.push([radius * cos, radius * sin, small * up]);
        }
    }
    let at = |i: usize, j: usize| (i % count * count + j % count) as u32;
    let mut triangles = Vec::with_capacity(2 * count * count);
    for i in 0..count {
        for j in 0..count {
            triangles.push([at(i, j), at(i + 1, j), at(i + 1, j + 1)]);
            triangles.push([at(i, j), at(i + 1, j + 1), at(i, j + 1)]);
        }
    }
    Mesh::new(points, triangles)
}

/// Two million triangles from a file.
pub fn reading() -> Result<(), MeasureError> {
    let count: u32 = 2_000_000;
    let mut bytes = vec![0_u8; 80];
    bytes.extend(count.to_le_bytes());
    for k in 0..count {
        let (x, y) = ((k / 2 % 1000) as f32, (k / 2000) as f32);
        let corners = if k % 2 == 0 {
            [[x, y], [x + 1.0, y], [x + 1.0, y + 1.0]]
        } else {
            [[x, y], [x + 1.0, y + 1.0], [x, y + 1.0]]
        };
        bytes.extend([0_u8; 12]);
        for [x, y] in corners {
            for value in [x, y, (x * 0.1).sin()] {
                bytes.extend(value.to_le_bytes());
            }
        }
        bytes.extend([0_u8; 2]);
    }
    let start = Instant::now();
    let read = read_mesh(&bytes, "ramp.stl", Some(LengthUnit::Millimetre), &Limits::default());
    let elapsed = start.elapsed().as_secs_f64();
    let triangles = read.map_or(0, |read| read.mesh.triangles().len());
    let found = format!("{triangles} triangles, {elapsed:.1} s, peak {:.2} GB", peak_gb());
    row("reading a binary STL of 2 M triangles", "within memory", &found, triangles == count as usize);
    Ok(())
}
