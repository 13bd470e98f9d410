//! STL, as text or binary.

use std::collections::HashMap;
use std::io::Cursor;

use super::{Limits, RawMesh, read_fault, within};
use crate::ReadError;

const FORMAT: &str = "STL";
/// Header, count, and bytes per triangle of a binary file.
const HEADER_BYTES: usize = 80;
const BYTES_PER_TRIANGLE: u64 = 50;

/// Reads the triangles and joins corners with exactly equal coordinates: STL repeats them for each triangle.
pub(super) fn read(bytes: &[u8], limits: &Limits) -> Result<RawMesh, ReadError> {
    let binary_count = binary_count(bytes)?;
    let mut data = bytes.to_vec();
    if let Some(count) = binary_count {
        within("the mesh", count, limits.triangles)?;
        // Many binary files begin with the word that marks text; their length tells them apart.
        data[..HEADER_BYTES].fill(0);
    }
    let mut cursor = Cursor::new(data);
    let damaged = |fault: std::io::Error| ReadError::Damaged { format: FORMAT, fault: read_fault(&fault) };
    let mut points: Vec<[f64; 3]> = Vec::new();
    let mut triangles: Vec<[u32; 3]> = Vec::new();
    let mut known: HashMap<[u32; 3], u32> = HashMap::new();
    for triangle in stl_io::create_stl_reader(&mut cursor).map_err(damaged)? {
        let corners = triangle.map_err(damaged)?.vertices;
        let mut indices = [0; 3];
        for (index, corner) in indices.iter_mut().zip(corners) {
            // Adding zero turns -0 into 0, which is the same place.
            let place: [f32; 3] = std::array::from_fn(|axis| corner[axis] + 0.0);
            *index = *known.entry(place.map(f32::to_bits)).or_insert_with(|| {
                points.push(place.map(f64::from));
                points.len() as u32 - 1
            });
        }
        triangles.push(indices);
        within("the mesh", triangles.len() as u64, limits.triangles)?;
    }
    Ok(RawMesh { points, triangles, notes: Vec::new() })
}

/// The triangle count of a binary file; `None` for text.
fn binary_count(bytes: &[u8]) -> Result<Option<u64>, ReadError> {
    let Some((header, rest)) = bytes.split_at_checked(HEADER_BYTES) else { return Ok(None) };
    let Some(count) = rest.first_chunk().map(|bytes| u64::from(u32::from_le_bytes(*bytes))) else {
        return Ok(None);
    };
    let needed = (HEADER_BYTES + 4) as u64 + BYTES_PER_TRIANGLE * count;
    let found = bytes.len() as u64;
    if found == needed {
        Ok(Some(count))
    } else if header.trim_ascii_start().starts_with(b"solid") {
        Ok(None)
    } else {
        let fault =
            format!("its header promises {count} triangles, which take {needed} bytes, and it has {found}");
        Err(ReadError::Damaged { format: FORMAT, fault })
    }
}
