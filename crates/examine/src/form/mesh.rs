//! What a mesh says.

use ::form::{
    BlockFace, Bvh, Fillet, FilletOptions, MeasureError, MeshRead, Row, Symmetry, SymmetryOptions,
    face_corners, fillet, flatness, groove_on_mesh, mesh_view, mirror_symmetry, removed_from_hull,
    removed_from_mesh,
};
use wire::form::KeptForm;

use super::heights::{add_groove, groove_options, where_of};
use super::record::{add, begin, curve, map, quantity};
use super::{BlockAsked, FormOptions, FormPart, cannot_tell, plane_through};
use crate::ExamineError;

/// Longer side of a view of a mesh, px: each cell of the kept map is the mean of some.
const VIEW_PX: usize = 480;

pub(super) fn measure(
    file: String,
    read: &MeshRead,
    options: &FormOptions,
    watch: &(dyn Fn(f64) -> bool + Sync),
) -> Result<KeptForm, ExamineError> {
    let (mesh, condition) = (&read.mesh, &read.condition);
    let [x, y, z] = condition.size_mm;
    let facts = vec![
        ("triangles".to_owned(), mesh.triangles().len().to_string()),
        ("corners".to_owned(), mesh.points_mm().len().to_string()),
        ("size".to_owned(), format!("{x:.3} × {y:.3} × {z:.3} mm")),
        ("open edges".to_owned(), condition.open_edges.to_string()),
    ];
    let mut kept = begin(file, "mesh", facts, read.notes.clone());
    kept.form.quantities.push(quantity(Row::plain("area of the surface", mesh.area_mm2(), "mm²")));
    if condition.is_closed() {
        let volume = mesh.enclosed_volume_mm3().abs();
        kept.form.quantities.push(quantity(Row::plain("enclosed volume", volume, "mm³")));
    }
    let tree = Bvh::new(mesh);
    for part in FormPart::ALL {
        let unasked = matches!(part, FormPart::Removed | FormPart::Symmetry);
        if !options.wants(part, unasked) {
            continue;
        }
        let done = match part {
            FormPart::Flatness => flat(&mut kept, read, options),
            FormPart::Symmetry => symmetric(&mut kept, &tree, watch),
            FormPart::Removed => removed(&mut kept, read, options),
            FormPart::Groove => grooved(&mut kept, &tree, options),
            FormPart::Fillet => filleted(&mut kept, &tree, options),
            FormPart::Texture | FormPart::Scratches => {
                Err(ExamineError::request("is measured on height maps; give one"))
            }
        };
        if let Err(error) = done {
            kept.form.cannot_tell.push(cannot_tell(part.word(), error)?);
        }
    }
    Ok(kept)
}

/// Flatness of the region, or of everything in the file where none was pointed out.
fn flat(kept: &mut KeptForm, read: &MeshRead, options: &FormOptions) -> Result<(), ExamineError> {
    let points = read.mesh.points_mm();
    let region = options.region_on_mesh();
    let chosen: Vec<usize> = match region {
        Some(outline) => face_corners(&read.mesh, outline)?,
        None => (0..points.len()).collect(),
    };
    let of_face: Vec<[f64; 3]> = chosen.iter().filter_map(|&index| points.get(index).copied()).collect();
    let flat = flatness(&of_face, options.u_height_um / 1000.0, "mm")?;
    add(kept, "flatness", &flat);
    let plane = flat.least_squares.plane;
    let mut above = vec![f64::NAN; points.len()];
    for &index in &chosen {
        if let (Some(value), Some(&point)) = (above.get_mut(index), points.get(index)) {
            *value = plane.distance(point);
        }
    }
    if let Some(view) = mesh_view(&read.mesh, &above, back(plane.normal), upright(plane.normal), VIEW_PX) {
        kept.maps.push(map(
            "Distance from the least-squares plane",
            &format!(
                "Distances of the surface from the least-squares plane of the {}, seen along the plane's normal.",
                where_of(region.is_some(), "file")
            ),
            "mm",
            &view,
            1.0,
        ));
    }
    if region.is_none() {
        kept.form.notes.push(
            "Flatness is that of everything in the file: point out a region, or cut the scan to one face before.".to_owned(),
        );
    }
    Ok(())
}

fn symmetric(
    kept: &mut KeptForm,
    tree: &Bvh<'_>,
    watch: &(dyn Fn(f64) -> bool + Sync),
) -> Result<(), ExamineError> {
    let found = mirror_symmetry(tree, &SymmetryOptions::default(), watch)?;
    add(kept, "symmetry", &found);
    views(kept, tree, &found);
    Ok(())
}

/// The deviations seen from both sides that face along the mirror plane.
fn views(kept: &mut KeptForm, tree: &Bvh<'_>, found: &Symmetry) {
    let (first, second) = found.best.plane.axes();
    // The upright view is the one whose picture has the mirror line standing.
    let (up, towards) =
        if first[2].abs() >= second[2].abs() { (first, second) } else { (second, back(first)) };
    let (up, towards) = if up[2] < 0.0 { (back(up), back(towards)) } else { (up, towards) };
    for (name, towards) in [("from one side", towards), ("from the other side", back(towards))] {
        if let Some(view) = mesh_view(tree.mesh(), &found.deviation_mm, towards, up, VIEW_PX) {
            kept.maps.push(map(
                &format!("Deviation from mirror symmetry, {name}"),
                "Distance of the surface from its mirror image: positive where it stands out of it.",
                "mm",
                &view,
                1.0,
            ));
        }
    }
}

fn removed(kept: &mut KeptForm, read: &MeshRead, options: &FormOptions) -> Result<(), ExamineError> {
    let found = match options.block {
        Some(BlockAsked::Through(corners)) => {
            let (low, high) = read.mesh.bounds_mm();
            let middle = std::array::from_fn(|k| (low[k] + high[k]) / 2.0);
            let face = BlockFace {
                plane: plane_through(corners, middle)?,
                u: options.block_u_mm,
                scale_u: options.scale_u,
            };
            removed_from_mesh(&read.mesh, options.region_on_mesh(), &face)?
        }
        Some(BlockAsked::Raised(_)) => {
            return Err(ExamineError::request(
                "a raised plane is for height maps; give three points of the block face, or none for the hull",
            ));
        }
        None => removed_from_hull(&read.mesh, &read.condition, options.scale_u)?,
    };
    let of = if options.block.is_some() {
        "stone taken away below the block face"
    } else {
        "stone taken away down from the convex hull, the least"
    };
    add(kept, of, &found);
    Ok(())
}

fn grooved(kept: &mut KeptForm, tree: &Bvh<'_>, options: &FormOptions) -> Result<(), ExamineError> {
    let (path, reach_mm, spacing_mm) = options.sections()?;
    let found = groove_on_mesh(tree, path, &groove_options(reach_mm, spacing_mm))?;
    add_groove(kept, &found);
    Ok(())
}

fn filleted(kept: &mut KeptForm, tree: &Bvh<'_>, options: &FormOptions) -> Result<(), ExamineError> {
    let (path, look_mm, spacing_mm) = options.sections()?;
    let how = FilletOptions { spacing_mm, look_mm, arc_mm: None, scale_u: options.scale_u };
    let found: Fillet = fillet(tree, path, &how).map_err(|error: MeasureError| ExamineError::from(error))?;
    add(kept, "fillet", &found);
    let sections =
        found.stations.iter().map(|s| ([s.along_mm, s.radius_mm.value], s.radius_mm.half_width_95()));
    let (points, halves) = sections.unzip();
    kept.curves.push(curve(
        ["Radius along the path", "Radius of the fillet from section to section, with 95 % intervals."],
        ["along the path, mm", "radius, mm"],
        vec![(String::new(), points, halves)],
    ));
    Ok(())
}

/// A direction that is not along `normal`, upwards where that is possible.
fn upright(normal: [f64; 3]) -> [f64; 3] {
    if normal[2].abs() < 0.9 { [0.0, 0.0, 1.0] } else { [0.0, 1.0, 0.0] }
}

/// The opposite direction.
fn back(direction: [f64; 3]) -> [f64; 3] {
    direction.map(|c| -c)
}
