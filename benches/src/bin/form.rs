//! Bars of form: flatness, mirror symmetry, fillets, volumes and areal texture on surfaces with known answers.
//!
//! Prints one table: what was asked, what was found, and whether it holds. Run with
//! `cargo run --release -p rubstone-benches --bin form`.

use std::f64::consts::{FRAC_PI_2, FRAC_PI_4, PI, TAU};
use std::time::Instant;

use form::texture::{TextureOptions, height_parameters, hybrid_parameters, texture};
use form::{
    BlockFace, Bvh, FilletOptions, HeightMap, LengthUnit, Limits, MeasureError, Mesh, MeshCondition, Plane,
    SymmetryOptions, fillet, flatness, minimum_zone, mirror_symmetry, orthogonal_plane, read_mesh,
    removed_from_hull, removed_from_map, removed_from_mesh, zone,
};
use rand::{RngExt, SeedableRng};
use rand_pcg::Pcg64;

fn main() -> Result<(), MeasureError> {
    println!("| bar | asked | found | holds |");
    println!("|---|---|---|---|");
    flatness_bars()?;
    symmetry_bars()?;
    fillet_bars()?;
    volume_bars()?;
    texture_bars()?;
    reading_bar();
    Ok(())
}

fn row(bar: &str, asked: &str, found: &str, holds: bool) {
    println!("| {bar} | {asked} | {found} | {} |", if holds { "yes" } else { "NO" });
}

/// Wall clock and processor seconds of some work: on a shared machine only the second says what it costs.
struct Spent {
    wall: f64,
    processor: f64,
}

impl std::fmt::Display for Spent {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{:.2} s ({:.2} s of processor)", self.wall, self.processor)
    }
}

fn spent(work: impl FnOnce() -> Result<(), MeasureError>) -> Result<Spent, MeasureError> {
    let (start, before) = (Instant::now(), processor_seconds());
    work()?;
    Ok(Spent { wall: start.elapsed().as_secs_f64(), processor: processor_seconds() - before })
}

/// Processor time of this process so far; NaN where the system does not say.
fn processor_seconds() -> f64 {
    /// Clock ticks of Linux's process table.
    const PER_SECOND: f64 = 100.0;
    let stat = std::fs::read_to_string("/proc/self/stat").unwrap_or_default();
    let fields: Vec<f64> = stat
        .rsplit(')')
        .next()
        .into_iter()
        .flat_map(str::split_whitespace)
        .map(|field| field.parse().unwrap_or(f64::NAN))
        .collect();
    // The 14th and 15th field, counted with the name that ends at the bracket.
    fields.get(11).zip(fields.get(12)).map_or(f64::NAN, |(user, system)| (user + system) / PER_SECOND)
}

/// Normal deviate from twelve uniform ones: good to well beyond the quantiles used here.
fn normal(random: &mut Pcg64) -> f64 {
    (0..12).map(|_| random.random::<f64>()).sum::<f64>() - 6.0
}

/// Largest resident size of this process so far, GB; NaN where the system does not say.
fn peak_gb() -> f64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"));
    let kilobytes = line.and_then(|line| line.split_whitespace().next()?.parse::<f64>().ok());
    kilobytes.map_or(f64::NAN, |kb| kb / 1048576.0)
}

fn flatness_bars() -> Result<(), MeasureError> {
    let mut random = Pcg64::seed_from_u64(1);
    let points: Vec<[f64; 3]> = (0..1_000_000)
        .map(|i| {
            let (x, y) = (f64::from(i % 1000), f64::from(i / 1000));
            [x, y, 0.002 * x + 0.05 * (x * 0.01).sin() * (y * 0.013).cos() + 0.01 * normal(&mut random)]
        })
        .collect();
    let cost = spent(|| flatness(&points, 0.01, "mm").map(|_| ()))?;
    row("flatness, 1 M points", "< 5 s", &cost.to_string(), cost.wall < 5.0);
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

fn symmetry_bars() -> Result<(), MeasureError> {
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
            let wall = tree_cost.wall + cost.wall;
            let found = format!(
                "{} triangles, index {tree_cost}, search {cost}, peak {:.2} GB",
                mesh.triangles().len(),
                peak_gb()
            );
            row("mirror plane, cost", "2 M triangles < 60 s, < 4 GB", &found, wall < 60.0 && peak_gb() < 4.0);
        }
    }
    Ok(())
}

/// Floor, quarter-round fillet and wall, with noise along the normal.
fn undercut(radius: f64, step: f64, noise_mm: f64, random: &mut Pcg64) -> Result<Mesh, MeasureError> {
    let arc = FRAC_PI_2 * radius;
    let columns = ((18.0 + arc) / step) as usize;
    let rows = (120.0 / step) as usize + 1;
    let mut points = Vec::with_capacity(rows * columns);
    for row in 0..rows {
        for column in 0..columns {
            let s = column as f64 * step - 10.0;
            let angle = (s / radius).clamp(0.0, FRAC_PI_2);
            let (x, z) =
                (s.min(0.0) + radius * angle.sin(), radius * (1.0 - angle.cos()) + (s - arc).max(0.0));
            let e = noise_mm * normal(random);
            points.push([x - e * angle.sin(), row as f64 * step, z + e * angle.cos()]);
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

fn fillet_bars() -> Result<(), MeasureError> {
    const RADIUS: f64 = 6.0;
    let mut random = Pcg64::seed_from_u64(3);
    for arc_mm in [Some(6.0), None] {
        for noise_mm in [0.005, 0.02, 0.05, 0.1] {
            let mesh = undercut(RADIUS, 0.3, noise_mm, &mut random)?;
            let tree = Bvh::new(&mesh);
            let at = |y: f64| [RADIUS * FRAC_PI_4.sin(), y, RADIUS * (1.0 - FRAC_PI_4.cos())];
            let options = FilletOptions { spacing_mm: 0.9, look_mm: 9.0, arc_mm, scale_u: 0.0 };
            let found = fillet(&tree, &[at(1.0), at(119.0)], &options)?;
            let bias = 100.0 * (found.mean_mm.value / RADIUS - 1.0);
            let scores: Vec<f64> =
                found.stations.iter().map(|s| (s.radius_mm.value - RADIUS) / s.radius_mm.u).collect();
            let count = scores.len() as f64;
            let mean = scores.iter().sum::<f64>() / count;
            let sd = (scores.iter().map(|z| (z - mean).powi(2)).sum::<f64>() / (count - 1.0)).sqrt();
            // The mean of noisy sections is itself known to this only.
            let bias_u = 100.0 * found.mean_mm.u / RADIUS;
            let extent = if arc_mm.is_some() { "given" } else { "found" };
            row(
                &format!("fillet radius 6 mm, noise {noise_mm} mm, arc {extent}"),
                "bias < 0.5 %, sd of z 0.8–1.25",
                &format!("bias {bias:+.3} ± {bias_u:.3} %, sd {sd:.2}, {count} sections"),
                bias.abs() < 0.5 + 2.0 * bias_u && (0.8..1.25).contains(&sd),
            );
        }
    }
    Ok(())
}

fn volume_bars() -> Result<(), MeasureError> {
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

fn texture_bars() -> Result<(), MeasureError> {
    let wave = |ak: f64| {
        let z = (0..400 * 400).map(|i| ak * (TAU * f64::from(i % 400) / 400.0).sin()).collect();
        HeightMap::new(400, 400, TAU / 400.0, TAU / 400.0, z)
    };
    let mut worst: f64 = 0.0;
    for (ak, expected) in [(0.1, 0.249533), (0.5, 5.983938), (1.0, 21.600672), (2.0, 67.760997)] {
        worst = worst.max((hybrid_parameters(&wave(ak)?)?.sdr_percent - expected).abs());
    }
    row("Sdr of sinusoids", "six printed decimals", &format!("off by {worst:.1e}"), worst < 5.1e-7);
    let heights = height_parameters(&wave(1.0)?)?;
    let off = (heights.sq_um - 0.5_f64.sqrt()).abs().max((heights.sku - 1.5).abs());
    row("Sq, Sku of a sinusoid", "printed digits", &format!("off by {off:.1e}"), off < 1e-9);
    let mut random = Pcg64::seed_from_u64(4);
    let side = 4096;
    let z = (0..side * side)
        .map(|i| {
            let (x, y) = (f64::from(i % side), f64::from(i / side));
            (x * 0.31 + y * 0.17).sin() + 0.001 * x + 0.3 * (random.random::<f64>() - 0.5)
        })
        .collect();
    let map = HeightMap::new(side as usize, side as usize, 1.0, 1.0, z)?;
    let options =
        TextureOptions { s_filter_um: Some(5.0), l_filter_um: Some(800.0), ..TextureOptions::default() };
    let cost = spent(|| texture(&map, &options).map(|_| ()))?;
    row("4096 × 4096, both filters, all parameters", "< 5 s", &cost.to_string(), cost.wall < 5.0);
    Ok(())
}

fn reading_bar() {
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
}
