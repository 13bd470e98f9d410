//! Wavefront OBJ.

use super::{Limits, RawMesh, within};
use crate::ReadError;

const FORMAT: &str = "OBJ";

/// Reads all shapes as one mesh; faces of more than three corners are split, materials are not looked for.
pub(super) fn read(bytes: &[u8], limits: &Limits) -> Result<RawMesh, ReadError> {
    let damaged = |fault: String| ReadError::Damaged { format: FORMAT, fault };
    let options = tobj::LoadOptions {
        triangulate: true,
        ignore_points: true,
        ignore_lines: true,
        ..Default::default()
    };
    let (shapes, _) = tobj::load_obj_buf(&mut &bytes[..], &options, |_| Err(tobj::LoadError::OpenFileFailed))
        .map_err(|fault| damaged(fault.to_string()))?;
    let mut mesh = RawMesh { points: Vec::new(), triangles: Vec::new(), notes: Vec::new() };
    for shape in &shapes {
        let first = u32::try_from(mesh.points.len()).map_err(|_| damaged("too many corners".to_owned()))?;
        mesh.points.extend(shape.mesh.positions.chunks_exact(3).map(|p| [p[0], p[1], p[2]]));
        let faces = shape.mesh.indices.chunks_exact(3);
        mesh.triangles.extend(faces.map(|t| [t[0], t[1], t[2]].map(|corner| corner.saturating_add(first))));
        within("the mesh", mesh.triangles.len() as u64, limits.triangles)?;
    }
    if shapes.len() > 1 {
        mesh.notes.push(format!("{} shapes read as one mesh", shapes.len()));
    }
    Ok(mesh)
}
