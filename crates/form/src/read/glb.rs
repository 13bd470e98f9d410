//! glTF 2.0, as JSON with embedded data or binary.

use base64::Engine;
use gltf::accessor::{DataType, Dimensions};
use gltf::mesh::Mode;
use nalgebra::{Matrix4, Point3};

use super::{Limits, RawMesh, within};
use crate::ReadError;

const FORMAT: &str = "glTF";
/// Magic, version and length of a binary file.
const HEADER_BYTES: u32 = 12;
/// Nodes nested deeper than this are a loop or an attack (our choice).
const MAX_DEPTH: usize = 64;
/// More nodes than this on all paths of the scene are one part placed over and over (our choice).
const MAX_NODES: usize = 100_000;

struct Walk<'a> {
    buffers: &'a [Option<Vec<u8>>],
    limits: &'a Limits,
    mesh: RawMesh,
    nodes_left: usize,
    skipped: usize,
}

/// Reads the triangles of the default scene, nodes placed by their transformations.
pub(super) fn read(bytes: &[u8], limits: &Limits) -> Result<RawMesh, ReadError> {
    let (document, mut blob) = checked(bytes)?;
    let buffers: Vec<Option<Vec<u8>>> = document
        .buffers()
        .map(|buffer| match buffer.source() {
            gltf::buffer::Source::Bin => blob.take(),
            gltf::buffer::Source::Uri(uri) => embedded(uri),
        })
        .collect();
    if buffers.iter().any(Option::is_none) {
        return Err(ReadError::Unsupported {
            format: FORMAT,
            fault: "keeps its data in another file; save it as one binary .glb file".to_owned(),
        });
    }
    let mesh = RawMesh { points: Vec::new(), triangles: Vec::new(), notes: Vec::new() };
    let mut walk = Walk { buffers: &buffers, limits, mesh, nodes_left: MAX_NODES, skipped: 0 };
    let scene = document.default_scene().or_else(|| document.scenes().next());
    let scene = scene.ok_or(ReadError::Empty { format: FORMAT, fault: "no scene" })?;
    for node in scene.nodes() {
        walk.node(&node, Matrix4::identity(), 0)?;
    }
    if walk.skipped > 0 {
        walk.mesh.notes.push(format!("{} parts left out: not made of single triangles", walk.skipped));
    }
    Ok(walk.mesh)
}

/// The document, checked by the reader; before that for what the reader's own check trips over, corners that are kept
/// nowhere.
fn checked(bytes: &[u8]) -> Result<(gltf::Document, Option<Vec<u8>>), ReadError> {
    let fault = |fault: gltf::Error| damaged(fault.to_string());
    if stated_length(bytes).is_some_and(|length| length < HEADER_BYTES) {
        return Err(damaged("its header states a length shorter than the header".to_owned()));
    }
    let gltf::Gltf { document, blob } = gltf::Gltf::from_slice_without_validation(bytes).map_err(fault)?;
    let root = document.into_json();
    let primitives = root.meshes.iter().flat_map(|mesh| &mesh.primitives);
    let mut attributes = primitives.flat_map(|primitive| primitive.attributes.values());
    if attributes.any(|accessor| accessor.value() >= root.accessors.len()) {
        return Err(damaged("a part names corners that are kept nowhere".to_owned()));
    }
    gltf::Document::from_json(root).map(|document| (document, blob)).map_err(fault)
}

/// The length a binary file states of itself, bytes (glTF 2.0 specification, binary glTF layout: magic, version, length);
/// the reader subtracts the header from it unasked.
fn stated_length(bytes: &[u8]) -> Option<u32> {
    let header = bytes.strip_prefix(b"glTF")?;
    Some(u32::from_le_bytes(header.get(4..8)?.try_into().ok()?))
}

impl<'a> Walk<'a> {
    fn node(&mut self, node: &gltf::Node<'_>, parent: Matrix4<f64>, depth: usize) -> Result<(), ReadError> {
        if depth > MAX_DEPTH || self.nodes_left == 0 {
            return Err(damaged("its nodes are nested or repeated without end".to_owned()));
        }
        self.nodes_left -= 1;
        let columns = node.transform().matrix();
        let placed = parent * Matrix4::from_fn(|row, column| f64::from(columns[column][row]));
        for primitive in node.mesh().iter().flat_map(gltf::Mesh::primitives) {
            if primitive.mode() == Mode::Triangles {
                self.primitive(&primitive, &placed)?;
            } else {
                self.skipped += 1;
            }
        }
        for child in node.children() {
            self.node(&child, placed, depth + 1)?;
        }
        Ok(())
    }

    fn primitive(&mut self, primitive: &gltf::Primitive<'_>, placed: &Matrix4<f64>) -> Result<(), ReadError> {
        let Some(positions) = primitive.get(&gltf::Semantic::Positions) else {
            self.skipped += 1;
            return Ok(());
        };
        if positions.data_type() != DataType::F32 || positions.dimensions() != Dimensions::Vec3 {
            return Err(damaged("positions are not three 32-bit floating-point numbers".to_owned()));
        }
        let first = self.mesh.points.len();
        for item in self.items(&positions)? {
            let coordinate = |axis: usize| {
                let bytes = item.get(4 * axis..4 * axis + 4).and_then(|bytes| bytes.try_into().ok());
                bytes.map_or(f64::NAN, |bytes| f64::from(f32::from_le_bytes(bytes)))
            };
            let place = placed.transform_point(&Point3::new(coordinate(0), coordinate(1), coordinate(2)));
            self.mesh.points.push([place.x, place.y, place.z]);
        }
        let count = self.mesh.points.len() - first;
        within(
            "the corners of the mesh",
            self.mesh.points.len() as u64,
            self.limits.triangles.saturating_mul(3),
        )?;
        let indices: Vec<usize> = match primitive.indices() {
            Some(indices) => self.items(&indices)?.into_iter().map(little_endian).collect(),
            None => (0..count).collect(),
        };
        within("the mesh", (self.mesh.triangles.len() + indices.len() / 3) as u64, self.limits.triangles)?;
        if first + count > u32::MAX as usize || indices.iter().any(|&index| index >= count) {
            return Err(damaged("a triangle names a corner that does not exist".to_owned()));
        }
        // A mirroring transformation turns the triangles inside out.
        let mirrored = placed.fixed_view::<3, 3>(0, 0).determinant() < 0.0;
        for corners in indices.chunks_exact(3) {
            let mut triangle: [u32; 3] = std::array::from_fn(|k| (first + corners[k]) as u32);
            if mirrored {
                triangle.swap(1, 2);
            }
            self.mesh.triangles.push(triangle);
        }
        Ok(())
    }

    /// The bytes of every item of an accessor, checked to lie inside its buffer.
    fn items(&self, accessor: &gltf::Accessor<'_>) -> Result<Vec<&'a [u8]>, ReadError> {
        let outside = || damaged("an accessor reaches past the end of its data".to_owned());
        if accessor.sparse().is_some() {
            let fault = "uses sparse accessors; export it without".to_owned();
            return Err(ReadError::Unsupported { format: FORMAT, fault });
        }
        let view = accessor.view().ok_or_else(outside)?;
        let buffers: &'a [Option<Vec<u8>>] = self.buffers;
        let data = buffers.get(view.buffer().index()).and_then(Option::as_ref).ok_or_else(outside)?;
        let view_end = view.offset().checked_add(view.length()).ok_or_else(outside)?;
        let data = data.get(view.offset()..view_end).ok_or_else(outside)?;
        let (size, stride) = (accessor.size(), view.stride().unwrap_or(accessor.size()));
        let last_end = accessor.count().checked_sub(1).and_then(|last| last.checked_mul(stride.max(1)));
        let needed = last_end.and_then(|end| end.checked_add(accessor.offset())?.checked_add(size));
        if needed.is_none_or(|needed| needed > data.len()) {
            return Err(outside());
        }
        Ok((0..accessor.count())
            .filter_map(|item| data.get(accessor.offset() + item * stride..)?.get(..size))
            .collect())
    }
}

fn little_endian(bytes: &[u8]) -> usize {
    bytes.iter().rev().fold(0, |value, &byte| value << 8 | usize::from(byte))
}

/// Data written into the address itself (`data:…;base64,…`); `None` for another file.
fn embedded(uri: &str) -> Option<Vec<u8>> {
    let (_, encoded) = uri.strip_prefix("data:")?.split_once(";base64,")?;
    base64::engine::general_purpose::STANDARD.decode(encoded).ok()
}

fn damaged(fault: String) -> ReadError {
    ReadError::Damaged { format: FORMAT, fault: fault.split_whitespace().collect::<Vec<_>>().join(" ") }
}
