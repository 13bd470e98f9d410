//! PLY, as text or binary.

use std::io::BufReader;

use ply_rs_bw::parser::{Parser, Reader};
use ply_rs_bw::ply::{Property, PropertyAccess, PropertyAccessResult};

use super::{Limits, RawMesh, within};
use crate::ReadError;

const FORMAT: &str = "PLY";

/// A vertex or a face: the two kinds of element that matter, in one type because the parser knows but one.
#[derive(Default)]
struct Element {
    place: [f64; 3],
    corners: Vec<u32>,
    negative_corner: bool,
}

impl PropertyAccess for Element {
    fn new() -> Self {
        Self::default()
    }

    fn set_property(&mut self, name: &str, property: Property) -> PropertyAccessResult {
        let axis = match name {
            "x" => 0,
            "y" => 1,
            "z" => 2,
            "vertex_indices" | "vertex_index" => {
                match property.to_u32_list() {
                    Some(corners) => self.corners = corners,
                    None => self.negative_corner = true,
                }
                return PropertyAccessResult::Set;
            }
            _ => return PropertyAccessResult::Ignored,
        };
        let value = match property {
            Property::Double(value) => Some(value),
            Property::Int(value) => Some(f64::from(value)),
            Property::UInt(value) => Some(f64::from(value)),
            other => other.to_f32_lossy().map(f64::from),
        };
        self.place[axis] = value.unwrap_or(f64::NAN);
        PropertyAccessResult::Set
    }
}

/// Reads `vertex` and `face`; faces of more than three corners are split as a fan.
pub(super) fn read(bytes: &[u8], limits: &Limits) -> Result<RawMesh, ReadError> {
    let damaged = |fault: String| ReadError::Damaged { format: FORMAT, fault: one_line(&fault) };
    let mut reader = Reader::new(BufReader::new(bytes));
    let parser = Parser::<Element>::new();
    let header = parser.read_header(&mut reader).map_err(|fault| damaged(fault.to_string()))?;
    for element in header.elements.values() {
        // Each element takes at least a byte or a line, so a larger count than bytes is a lie.
        if element.count > bytes.len() {
            let fault = format!(
                "the header promises {} of '{}' in {} bytes",
                element.count,
                element.name,
                bytes.len()
            );
            return Err(damaged(fault));
        }
        if element.name == "face" {
            within("the mesh", element.count as u64, limits.triangles)?;
        }
    }
    let mut payload =
        parser.read_payload(&mut reader, &header).map_err(|fault| damaged(fault.to_string()))?;
    let vertices = payload.shift_remove("vertex").unwrap_or_default();
    let faces = payload.shift_remove("face").unwrap_or_default();
    if faces.is_empty() {
        return Err(ReadError::Empty { format: FORMAT, fault: "no faces (a point cloud is not a mesh)" });
    }
    let mut triangles = Vec::with_capacity(faces.len());
    let mut unusable = 0_usize;
    for face in &faces {
        match face.corners.as_slice() {
            [first, rest @ ..] if rest.len() >= 2 && !face.negative_corner => {
                triangles.extend(rest.windows(2).map(|pair| [*first, pair[0], pair[1]]));
            }
            _ => unusable += 1,
        }
        within("the mesh", triangles.len() as u64, limits.triangles)?;
    }
    let mut notes = Vec::new();
    if unusable > 0 {
        notes.push(format!(
            "{unusable} faces left out: fewer than three corners, or a negative corner number"
        ));
    }
    Ok(RawMesh { points: vertices.iter().map(|vertex| vertex.place).collect(), triangles, notes })
}

/// The parser's messages run over several lines, may quote a whole line of the file, and end in what its own reader said.
fn one_line(message: &str) -> String {
    let joined: String = message.split_whitespace().collect::<Vec<_>>().join(" ");
    let said = joined.split(". Error:").next().unwrap_or_default();
    said.chars().take(200).collect()
}
