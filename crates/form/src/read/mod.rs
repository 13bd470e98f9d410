//! Files in: height maps and meshes, each by its ending, with bounded memory.

mod glb;
mod grid;
mod obj;
mod ply;
mod stl;
mod tiff_heights;
mod x3p;
mod x3p_xml;

use std::path::Path;

use crate::row::Rows;
use crate::{HeightMap, LengthUnit, Mesh, MeshCondition, ReadError};

/// How much a file may ask for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Limits {
    /// Largest file, bytes.
    pub file_bytes: u64,
    /// Largest number of heights on a map.
    pub heights: u64,
    /// Largest number of triangles of a mesh.
    pub triangles: u64,
}

impl Default for Limits {
    /// 4 GiB of file, 400 million heights (3.2 GB), 50 million triangles: what a desk computer bears (our choice).
    fn default() -> Self {
        Self { file_bytes: 4 << 30, heights: 400_000_000, triangles: 50_000_000 }
    }
}

/// Formats of height maps.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum HeightFormat {
    /// X3P container (ISO 25178-72).
    X3p,
    /// TIFF of 32- or 64-bit floating-point or 16-bit whole heights.
    Tiff,
    /// Text: one row of numbers a line, separated by blanks.
    Grid,
}

/// Formats of meshes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MeshFormat {
    /// PLY, as text or binary.
    Ply,
    /// Wavefront OBJ.
    Obj,
    /// STL, as text or binary.
    Stl,
    /// glTF 2.0, as JSON or binary.
    Gltf,
}

/// What a height map file does not say of itself. X3P says all of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pitch {
    /// Step between columns, µm.
    pub dx_um: f64,
    /// Step between rows, µm.
    pub dy_um: f64,
    /// Unit of the heights.
    pub height_unit: LengthUnit,
    /// Height of one count in that unit: 1 for floating-point files.
    pub height_per_count: f64,
}

/// A height map as read.
#[derive(Debug, Clone, PartialEq)]
pub struct HeightRead {
    /// The heights.
    pub map: HeightMap,
    /// What the file says of itself, as names and values.
    pub facts: Vec<(String, String)>,
    /// Warnings: what was odd, ignored or left out.
    pub notes: Vec<String>,
}

/// A mesh as read.
#[derive(Debug, Clone, PartialEq)]
pub struct MeshRead {
    /// The mesh, mm.
    pub mesh: Mesh,
    /// What was left out and what is peculiar.
    pub condition: MeshCondition,
    /// Warnings: those of the reader, then those of the condition.
    pub notes: Vec<String>,
}

/// Triangles before they are checked, in the file's own unit.
pub(crate) struct RawMesh {
    points: Vec<[f64; 3]>,
    triangles: Vec<[u32; 3]>,
    notes: Vec<String>,
}

impl HeightFormat {
    /// The format by the ending of a file's name.
    #[must_use]
    pub fn of_name(file_name: &str) -> Option<Self> {
        match ending(file_name).as_str() {
            "x3p" => Some(Self::X3p),
            "tif" | "tiff" => Some(Self::Tiff),
            "txt" | "asc" | "dat" | "xyz" | "grid" => Some(Self::Grid),
            _ => None,
        }
    }
}

impl MeshFormat {
    /// The format by the ending of a file's name.
    #[must_use]
    pub fn of_name(file_name: &str) -> Option<Self> {
        match ending(file_name).as_str() {
            "ply" => Some(Self::Ply),
            "obj" => Some(Self::Obj),
            "stl" => Some(Self::Stl),
            "gltf" | "glb" => Some(Self::Gltf),
            _ => None,
        }
    }
}

/// Reads a height map from its bytes; the ending of `file_name` tells the format.
///
/// `pitch` is needed for TIFF and text, which do not state their units; for X3P, which does, it is not used.
///
/// # Errors
/// [`ReadError`] naming what is wrong with the file or what has to be stated.
pub fn read_heights(
    bytes: &[u8],
    file_name: &str,
    pitch: Option<Pitch>,
    limits: &Limits,
) -> Result<HeightRead, ReadError> {
    check_size(bytes.len() as u64, limits)?;
    if bytes.is_empty() {
        return Err(ReadError::Empty { format: "this", fault: "not a single byte" });
    }
    let needed = "step between heights in x and y and the unit of the heights";
    match HeightFormat::of_name(file_name) {
        Some(HeightFormat::X3p) => x3p::read(bytes, limits),
        Some(HeightFormat::Tiff) => {
            tiff_heights::read(bytes, pitch.ok_or(ReadError::UnitNeeded { format: "TIFF", needed })?, limits)
        }
        Some(HeightFormat::Grid) => {
            grid::read(bytes, pitch.ok_or(ReadError::UnitNeeded { format: "text", needed })?, limits)
        }
        None => Err(ReadError::UnknownFormat {
            file: file_name.to_owned(),
            needed: "a name ending in .x3p, .tif, .tiff, .txt, .asc, .dat, .xyz or .grid",
        }),
    }
}

/// Reads a mesh from its bytes; the ending of `file_name` tells the format.
///
/// `unit` is needed for PLY, OBJ and STL, which do not state one. glTF 2.0 prescribes metres; a `unit` given for it
/// is followed instead and noted.
///
/// # Errors
/// [`ReadError`] naming what is wrong with the file or what has to be stated.
pub fn read_mesh(
    bytes: &[u8],
    file_name: &str,
    unit: Option<LengthUnit>,
    limits: &Limits,
) -> Result<MeshRead, ReadError> {
    check_size(bytes.len() as u64, limits)?;
    if bytes.is_empty() {
        return Err(ReadError::Empty { format: "this", fault: "not a single byte" });
    }
    let format = MeshFormat::of_name(file_name).ok_or_else(|| ReadError::UnknownFormat {
        file: file_name.to_owned(),
        needed: "a name ending in .ply, .obj, .stl, .gltf or .glb",
    })?;
    let name = format_name(format);
    let unit = match (format, unit) {
        (_, Some(unit)) => unit,
        // Khronos glTF 2.0 specification, 3.4: "The units for all linear distances are meters."
        (MeshFormat::Gltf, None) => LengthUnit::Metre,
        (_, None) => {
            return Err(ReadError::UnitNeeded { format: name, needed: "the unit of its coordinates" });
        }
    };
    let mut raw = match format {
        MeshFormat::Ply => ply::read(bytes, limits)?,
        MeshFormat::Obj => obj::read(bytes, limits)?,
        MeshFormat::Stl => stl::read(bytes, limits)?,
        MeshFormat::Gltf => glb::read(bytes, limits)?,
    };
    if format == MeshFormat::Gltf && unit != LengthUnit::Metre {
        raw.notes.push(format!("read in {unit} as asked; the glTF standard prescribes metres"));
    }
    let to_mm = unit.in_mm();
    for point in &mut raw.points {
        *point = point.map(|c| c * to_mm);
    }
    let (mesh, condition) = Mesh::new(raw.points, raw.triangles)
        .map_err(|_| ReadError::Empty { format: name, fault: "no usable triangle" })?;
    let mut notes = raw.notes;
    notes.extend(condition.notes());
    Ok(MeshRead { mesh, condition, notes })
}

/// Reads a height map file, see [`read_heights`].
///
/// # Errors
/// As [`read_heights`], and [`ReadError::Open`].
pub fn open_heights(path: &Path, pitch: Option<Pitch>, limits: &Limits) -> Result<HeightRead, ReadError> {
    read_heights(&file_bytes(path, limits)?, &file_name(path), pitch, limits)
}

/// Reads a mesh file, see [`read_mesh`].
///
/// # Errors
/// As [`read_mesh`], and [`ReadError::Open`].
pub fn open_mesh(path: &Path, unit: Option<LengthUnit>, limits: &Limits) -> Result<MeshRead, ReadError> {
    read_mesh(&file_bytes(path, limits)?, &file_name(path), unit, limits)
}

/// A count read from a file, checked against the limit before anything is set aside for it.
pub(crate) fn within(what: &'static str, found: u64, limit: u64) -> Result<usize, ReadError> {
    let too_large = ReadError::TooLarge { what, found, limit };
    if found > limit {
        return Err(too_large);
    }
    usize::try_from(found).map_err(|_| too_large)
}

fn check_size(found: u64, limits: &Limits) -> Result<(), ReadError> {
    within("the file", found, limits.file_bytes).map(|_| ())
}

/// What a decoder says of a fault, with the one message put plainly that says nothing to a user.
fn read_fault(fault: &dyn std::fmt::Display) -> String {
    let said = fault.to_string();
    if said.contains("failed to fill whole buffer") { "it ends in the middle".to_owned() } else { said }
}

fn file_bytes(path: &Path, limits: &Limits) -> Result<Vec<u8>, ReadError> {
    let refused = |reason: std::io::Error| ReadError::Open {
        path: path.display().to_string(),
        reason: reason.to_string(),
    };
    check_size(std::fs::metadata(path).map_err(refused)?.len(), limits)?;
    std::fs::read(path).map_err(refused)
}

fn file_name(path: &Path) -> String {
    path.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default()
}

fn ending(file_name: &str) -> String {
    file_name.rsplit_once('.').map(|(_, ending)| ending.to_ascii_lowercase()).unwrap_or_default()
}

fn format_name(format: MeshFormat) -> &'static str {
    match format {
        MeshFormat::Ply => "PLY",
        MeshFormat::Obj => "OBJ",
        MeshFormat::Stl => "STL",
        MeshFormat::Gltf => "glTF",
    }
}

#[cfg(test)]
mod mesh_tests;
