//! Scanned and drawn meshes of a registry's package, which nobody made for this program: read, mirrored, and drawn as
//! deviation maps to be looked at.

use std::path::{Path, PathBuf};

use form::{
    Bvh, FilletOptions, LengthUnit, Limits, MeasureError, Mesh, SymmetryOptions, deviation_image, fillet,
    mesh_view, mirror_symmetry, open_mesh,
};

use super::{row, spent};

/// Meshes looked at; lengths in them are in no stated unit, so millimetres are as good as any.
const NAMES: [&str; 9] = [
    "pig.stl",
    "sphere.stl",
    "bear.off",
    "mannequin-devil.off",
    "triceratops.off",
    "camel.off",
    "cow.off",
    "elephant-with-holes.off",
    "fandisk.off",
];

/// Reads what of [`NAMES`] the folder in `RUBSTONE_MESHES` holds; the pictures go beside them.
pub fn bars() -> Result<(), MeasureError> {
    let Some(folder) = std::env::var_os("RUBSTONE_MESHES").map(PathBuf::from) else {
        row("meshes of others", "read and mirrored", "RUBSTONE_MESHES names no folder", false);
        return Ok(());
    };
    for name in NAMES {
        let path = folder.join(name);
        let read = if name.ends_with(".off") { open_off(&path) } else { open(&path) };
        let (mesh, notes) = match read {
            Ok(read) => read,
            Err(reason) => {
                row(name, "read", &reason, false);
                continue;
            }
        };
        let tree = Bvh::new(&mesh);
        let mut found = None;
        let cost = spent(|| {
            found = Some(mirror_symmetry(&tree, &SymmetryOptions::default(), &|_| true)?);
            Ok(())
        })?;
        let Some(found) = found else { continue };
        let share = |mm: f64| 100.0 * mm / found.width_mm;
        let normal = found.best.plane.normal;
        let drawn =
            draw(&mesh, &found.deviation_mm, normal, found.p95_mm, &folder.join(format!("{name}.png")));
        row(
            name,
            "read, mirrored, drawn",
            &format!(
                "{} triangles, normal {:.2} {:.2} {:.2} ± {:.2}°, deviation {:.2} % and {:.2} % (95 %) of the width, {} others, {cost}; {}",
                mesh.triangles().len(),
                normal[0],
                normal[1],
                normal[2],
                found.direction_u_deg,
                share(found.median_mm),
                share(found.p95_mm),
                found.others.len(),
                notes.join("; "),
            ),
            drawn.is_ok(),
        );
        if name == HOLLOW_IN {
            hollow(&tree)?;
        }
    }
    Ok(())
}

/// The mesh whose hollow quarter of a cylinder is measured, and the path along the middle of the hollow, in its own unit.
const HOLLOW_IN: &str = "fandisk.off";
const HOLLOW: [[f64; 3]; 2] = [[-0.08, 0.05775, -0.064], [0.11, 0.05775, -0.064]];

/// Radius of the hollow in sections, against the circle through the corners of the mesh that lie well within it: least
/// squares by linear algebra (Kåsa 1976, from memory), which shares no code with the sections.
fn hollow(tree: &Bvh<'_>) -> Result<(), MeasureError> {
    let options = FilletOptions { spacing_mm: 0.01, look_mm: 0.16, arc_mm: None, scale_u: 0.0 };
    let found = fillet(tree, &HOLLOW, &options)?;
    // Corners along the path, between 25° and 70° of the quarter, seen from its rough middle.
    let (y0, z0) = (-0.0394, -0.1684);
    let near = |p: &&[f64; 3]| {
        let (y, z) = (p[1] - y0, p[2] - z0);
        let angle = z.atan2(y).to_degrees();
        (HOLLOW[0][0]..HOLLOW[1][0]).contains(&p[0])
            && (25.0..70.0).contains(&angle)
            && (y.hypot(z) - 0.143).abs() < 0.002
    };
    let mut normal = nalgebra::Matrix3::zeros();
    let mut right = nalgebra::Vector3::zeros();
    for p in tree.mesh().points_mm().iter().filter(near) {
        let row = nalgebra::Vector3::new(2.0 * p[1], 2.0 * p[2], 1.0);
        normal += row * row.transpose();
        right += row * (p[1] * p[1] + p[2] * p[2]);
    }
    let by_corners =
        normal.lu().solve(&right).map_or(f64::NAN, |q| (q[2] + q[0] * q[0] + q[1] * q[1]).sqrt());
    let error = found.mean_mm.value - by_corners;
    row(
        HOLLOW_IN,
        "radius of a hollow",
        &format!(
            "{:.5} ± {:.5} in {} sections, {by_corners:.5} through the corners: {:+.2} %, {:+.1} u",
            found.mean_mm.value,
            found.mean_mm.u,
            found.stations.len(),
            100.0 * error / by_corners,
            error / found.mean_mm.u
        ),
        error.abs() < 2.0 * found.mean_mm.u,
    );
    Ok(())
}

fn open(path: &Path) -> Result<(Mesh, Vec<String>), String> {
    let read =
        open_mesh(path, Some(LengthUnit::Millimetre), &Limits::default()).map_err(|e| e.to_string())?;
    Ok((read.mesh, read.notes))
}

/// The plain text the package keeps most of its meshes in: a word, three counts, corners, faces.
fn open_off(path: &Path) -> Result<(Mesh, Vec<String>), String> {
    let text = std::fs::read_to_string(path).map_err(|e| format!("{}: {e}", path.display()))?;
    let mut words = text
        .lines()
        .map(|line| line.split('#').next().unwrap_or_default())
        .flat_map(str::split_whitespace)
        .skip(1);
    let mut number = || words.next().and_then(|word| word.parse::<f64>().ok()).ok_or("a number is missing");
    let (corners, faces, _) = (number()? as usize, number()? as usize, number()?);
    let mut points = Vec::new();
    for _ in 0..corners {
        points.push([number()?, number()?, number()?]);
    }
    let mut triangles = Vec::new();
    for _ in 0..faces {
        let count = number()? as usize;
        let face = (0..count).map(|_| number().map(|n| n as u32)).collect::<Result<Vec<u32>, _>>()?;
        triangles
            .extend(face.get(1..).unwrap_or_default().windows(2).map(|pair| [face[0], pair[0], pair[1]]));
    }
    let (mesh, condition) = Mesh::new(points, triangles).map_err(|e| e.to_string())?;
    Ok((mesh, form::Rows::notes(&condition)))
}

/// The deviations seen along the mirror plane, so that both halves show, as a picture.
fn draw(mesh: &Mesh, values: &[f64], normal: [f64; 3], range: f64, to: &Path) -> Result<(), String> {
    // Look along the axis that lies most nearly in the plane's second direction: any view that shows both halves will do.
    let up = if normal[1].abs() < 0.8 { [0.0, 1.0, 0.0] } else { [0.0, 0.0, 1.0] };
    let towards = [
        normal[1] * up[2] - normal[2] * up[1],
        normal[2] * up[0] - normal[0] * up[2],
        normal[0] * up[1] - normal[1] * up[0],
    ];
    let raster = mesh_view(mesh, values, towards, up, 600).ok_or("no view")?;
    let pixels: Vec<u8> = deviation_image(&raster, range).into_iter().flatten().collect();
    let file = std::fs::File::create(to).map_err(|e| e.to_string())?;
    let mut encoder =
        png::Encoder::new(std::io::BufWriter::new(file), raster.width as u32, raster.height as u32);
    encoder.set_color(png::ColorType::Rgb);
    encoder.write_header().and_then(|mut writer| writer.write_image_data(&pixels)).map_err(|e| e.to_string())
}
