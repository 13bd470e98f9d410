//! Meshes of a Debian package, which nobody made for this program: read, mirrored and measured. `cargo xtask test` fetches
//! the package and names its folder in `RUBSTONE_MESHES`; without it these tests say so and check nothing.

#![allow(clippy::unwrap_used, reason = "a file of the package that cannot be read fails the test")]

use std::path::PathBuf;

use form::{
    Bvh, FilletOptions, LengthUnit, Limits, MeshRead, ReadError, SymmetryOptions, fillet, mirror_symmetry,
    open_mesh,
};

fn mesh(name: &str) -> Option<Result<MeshRead, ReadError>> {
    let folder = std::env::var_os("RUBSTONE_MESHES").filter(|folder| !folder.is_empty()).map(PathBuf::from);
    let Some(folder) = folder else {
        eprintln!("RUBSTONE_MESHES names no folder: {name} is not looked at");
        return None;
    };
    Some(open_mesh(&folder.join(name), Some(LengthUnit::Millimetre), &Limits::default()))
}

/// Drawn with two equal halves about x = 0, its seams left open.
#[test]
fn a_drawn_animal_mirrors_in_its_middle() {
    let Some(read) = mesh("pig.stl") else { return };
    let read = read.unwrap();
    assert!(read.notes.iter().any(|note| note.contains("open edges")), "{:?}", read.notes);
    let found = mirror_symmetry(&Bvh::new(&read.mesh), &SymmetryOptions::default(), &|_| true).unwrap();
    assert!(found.best.plane.normal[0].abs() > 0.999_99, "{:?}", found.best.plane);
    assert!(found.p95_mm < 1e-3 * found.width_mm, "{} of {}", found.p95_mm, found.width_mm);
}

/// A ball of 320 triangles: its corners lie on the ball, the middles of its edges up to 1 − cos 9° below.
#[test]
fn the_radius_of_a_ball_along_a_path() {
    let Some(read) = mesh("sphere.stl") else { return };
    let mesh = read.unwrap().mesh;
    let (low, high) = mesh.bounds_mm();
    let radius = (high[0] - low[0]) / 2.0;
    let path: Vec<[f64; 3]> = (0..30)
        .map(|k| f64::from(k) * 2_f64.to_radians())
        .map(|a| {
            let out = [a.cos(), a.sin(), 0.0];
            std::array::from_fn(|k| (low[k] + high[k]) / 2.0 + radius * out[k])
        })
        .collect();
    let options = FilletOptions {
        spacing_mm: radius / 20.0,
        look_mm: 1.2 * radius,
        arc_mm: Some(1.5 * radius),
        scale_u: 0.0,
    };
    let found = fillet(&Bvh::new(&mesh), &path, &options).unwrap();
    assert!(found.stations.iter().all(|station| !station.hollow));
    assert!((found.mean_mm.value / radius - 1.0).abs() < 0.02, "{:?} of {radius}", found.mean_mm);
}

#[test]
fn points_without_faces_are_named_so() {
    let Some(read) = mesh("b9.ply") else { return };
    assert!(read.unwrap_err().to_string().contains("a point cloud is not a mesh"));
}
