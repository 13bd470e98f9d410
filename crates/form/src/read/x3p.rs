//! X3P containers (ISO 25178-72): a zip with a description, the heights and a mask.

use std::io::{Cursor, Read};

use md5::{Digest, Md5};
use zip::ZipArchive;

use super::x3p_xml::Description;
use super::{HeightRead, Limits, within};
use crate::{HeightMap, ReadError};

const FORMAT: &str = "X3P";
const UM_PER_M: f64 = 1e6;
/// Largest description: one with heights written inside takes about 30 bytes a height (our choice).
const MAX_XML_BYTES: u64 = 256 << 20;

type Container<'a> = ZipArchive<Cursor<&'a [u8]>>;

/// How the heights are stored.
#[derive(Clone, Copy)]
enum DataType {
    I16,
    I32,
    F32,
    F64,
}

/// Reads a surface (or a single profile as a map of one row). Wrong checksums are warned of, not refused: real
/// containers with a wrong one are on record.
///
/// # Source
/// Structure and meaning after the public schema text of ISO 5436-2/ISO 25178-72. Order of the mask's bits after the
/// library that was published beside the standard (openGPS, source seen): point i is bit i mod 8, counted from the least
/// significant, of byte i/8, 1 is valid, and the bits left over in the last byte mean nothing; a general-purpose Python
/// reader of surface files (seen) agrees.
pub(super) fn read(bytes: &[u8], limits: &Limits) -> Result<HeightRead, ReadError> {
    let mut container = ZipArchive::new(Cursor::new(bytes)).map_err(|fault| damaged(fault.to_string()))?;
    let xml = entry(&mut container, "main.xml", MAX_XML_BYTES)?;
    let mut notes = Vec::new();
    check_description_digest(&mut container, &xml, &mut notes)?;
    let xml_text =
        std::str::from_utf8(&xml).map_err(|_| damaged("main.xml is not text in UTF-8".to_owned()))?;
    let description = Description::parse(xml_text)?;

    let (width, height) = grid_size(&description, limits)?;
    let count = width * height;
    let (dx_um, dy_um) = (step_um(&description, "CX")?, step_um(&description, "CY")?);
    let dy_um = if height == 1 { dy_um.or(dx_um) } else { dy_um };
    let missing = |axis: &str| damaged(format!("Record1/Axes/{axis}/Increment is missing"));
    let (dx_um, dy_um) = (dx_um.ok_or_else(|| missing("CX"))?, dy_um.ok_or_else(|| missing("CY"))?);

    let data_type = data_type(&description)?;
    let offset_m = description.number("Record1/Axes/CZ/Offset")?.unwrap_or(0.0);
    let scale_m = match data_type {
        // Whole numbers are counts of the increment; floating-point heights are metres already.
        DataType::I16 | DataType::I32 => {
            description.number("Record1/Axes/CZ/Increment")?.ok_or_else(|| {
                damaged("Record1/Axes/CZ/Increment is missing for whole-number heights".to_owned())
            })?
        }
        DataType::F32 | DataType::F64 => 1.0,
    };
    if description.text("Record1/Axes/Rotation/r11").is_some() {
        notes.push("the rotation of the axes is not applied".to_owned());
    }
    let facts = description.facts();
    let stored = match description.text("Record3/DataLink/PointDataLink") {
        Some(link) => stored_heights(&mut container, &description, link, data_type, count, &mut notes)?,
        None => listed_heights(description, count)?,
    };
    let z_um = stored.into_iter().map(|z| (offset_m + z * scale_m) * UM_PER_M).collect();
    let map =
        HeightMap::new(width, height, dx_um, dy_um, z_um).map_err(|fault| damaged(fault.to_string()))?;
    Ok(HeightRead { map, facts, notes })
}

fn grid_size(description: &Description, limits: &Limits) -> Result<(usize, usize), ReadError> {
    let kind = description.text("Record1/FeatureType").unwrap_or("SUR");
    if kind != "SUR" && kind != "PRF" {
        return Err(unsupported(format!("holds '{kind}' data; needed: a surface (SUR) or a profile (PRF)")));
    }
    for axis in ["CX", "CY"] {
        if description.text(&format!("Record1/Axes/{axis}/AxisType")) == Some("A")
            && !(kind == "PRF" && axis == "CY")
        {
            return Err(unsupported(format!(
                "places its points one by one along {axis}; needed: a regular grid"
            )));
        }
    }
    let size = |axis: &str| description.count(&format!("Record3/MatrixDimension/Size{axis}"));
    let (width, height) = (size("X")?, size("Y")?);
    let layers = size("Z").unwrap_or(1);
    if layers > 1 {
        return Err(unsupported(format!("holds {layers} layers; needed: one")));
    }
    if width == 0 || height == 0 {
        return Err(ReadError::Empty { format: FORMAT, fault: "a grid without points" });
    }
    within("the grid of heights", width.saturating_mul(height), limits.heights)?;
    Ok((width as usize, height as usize))
}

fn step_um(description: &Description, axis: &str) -> Result<Option<f64>, ReadError> {
    let path = format!("Record1/Axes/{axis}/Increment");
    match description.number(&path)? {
        Some(step_m) if step_m > 0.0 => Ok(Some(step_m * UM_PER_M)),
        // A profile has no second step and some writers fill in 0.
        Some(0.0) | None => Ok(None),
        Some(step_m) => Err(damaged(format!("{path} is {step_m} m"))),
    }
}

fn data_type(description: &Description) -> Result<DataType, ReadError> {
    match description.text("Record1/Axes/CZ/DataType") {
        Some("I") => Ok(DataType::I16),
        Some("L") => Ok(DataType::I32),
        Some("F") => Ok(DataType::F32),
        Some("D") => Ok(DataType::F64),
        other => Err(damaged(format!(
            "Record1/Axes/CZ/DataType is '{}'; needed: I, L, F or D",
            other.unwrap_or("")
        ))),
    }
}

fn stored_heights(
    container: &mut Container<'_>,
    description: &Description,
    link: &str,
    data_type: DataType,
    count: usize,
    notes: &mut Vec<String>,
) -> Result<Vec<f64>, ReadError> {
    let bytes_each = match data_type {
        DataType::I16 => 2,
        DataType::I32 | DataType::F32 => 4,
        DataType::F64 => 8,
    };
    let needed = count * bytes_each;
    let bytes = entry(container, link, needed as u64)?;
    if bytes.len() != needed {
        return Err(damaged(format!("{link} holds {} bytes, {count} heights need {needed}", bytes.len())));
    }
    check_digest(&bytes, description.text("Record3/DataLink/MD5ChecksumPointData"), link, notes);
    let mut heights: Vec<f64> = match data_type {
        DataType::I16 => bytes.as_chunks().0.iter().map(|&b| f64::from(i16::from_le_bytes(b))).collect(),
        DataType::I32 => bytes.as_chunks().0.iter().map(|&b| f64::from(i32::from_le_bytes(b))).collect(),
        DataType::F32 => bytes.as_chunks().0.iter().map(|&b| f64::from(f32::from_le_bytes(b))).collect(),
        DataType::F64 => bytes.as_chunks().0.iter().map(|&b| f64::from_le_bytes(b)).collect(),
    };
    if let Some(mask_link) = description.text("Record3/DataLink/ValidPointsLink") {
        let mask_bytes = count.div_ceil(8);
        let mask = entry(container, mask_link, mask_bytes as u64)?;
        if mask.len() != mask_bytes {
            return Err(damaged(format!(
                "{mask_link} holds {} bytes, {count} points need {mask_bytes}",
                mask.len()
            )));
        }
        check_digest(&mask, description.text("Record3/DataLink/MD5ChecksumValidPoints"), mask_link, notes);
        for (index, height) in heights.iter_mut().enumerate() {
            if mask[index / 8] >> (index % 8) & 1 == 0 {
                *height = f64::NAN;
            }
        }
    }
    Ok(heights)
}

fn listed_heights(description: Description, count: usize) -> Result<Vec<f64>, ReadError> {
    let listed = description.heights.len();
    if listed == count {
        Ok(description.heights)
    } else {
        Err(damaged(format!("the description lists {listed} heights, the grid has {count}")))
    }
}

/// One file of the container, refused as soon as it unpacks to more than `limit` bytes.
fn entry(container: &mut Container<'_>, name: &str, limit: u64) -> Result<Vec<u8>, ReadError> {
    let file = container.by_name(name).map_err(|fault| damaged(format!("{name}: {fault}")))?;
    let mut bytes = Vec::new();
    file.take(limit.saturating_add(1))
        .read_to_end(&mut bytes)
        .map_err(|fault| damaged(format!("{name}: {fault}")))?;
    if bytes.len() as u64 > limit {
        return Err(damaged(format!("{name} unpacks to more than the {limit} bytes it should have")));
    }
    Ok(bytes)
}

fn check_description_digest(
    container: &mut Container<'_>,
    xml: &[u8],
    notes: &mut Vec<String>,
) -> Result<(), ReadError> {
    const NAME: &str = "md5checksum.hex";
    /// A digest and a file name take far less.
    const MAX_BYTES: u64 = 4096;
    if !container.file_names().any(|name| name.is_ok_and(|name| name == NAME)) {
        notes.push(format!("{NAME} is missing: the description is not protected by a checksum"));
        return Ok(());
    }
    let text = entry(container, NAME, MAX_BYTES)?;
    let text = String::from_utf8_lossy(&text).into_owned();
    check_digest(xml, Some(text.split_whitespace().next().unwrap_or_default()), "main.xml", notes);
    Ok(())
}

fn check_digest(bytes: &[u8], expected: Option<&str>, name: &str, notes: &mut Vec<String>) {
    let Some(expected) = expected else {
        notes.push(format!("no checksum is given for {name}"));
        return;
    };
    let found: String = Md5::digest(bytes).iter().map(|byte| format!("{byte:02x}")).collect();
    if !found.eq_ignore_ascii_case(expected.trim()) {
        notes.push(format!(
            "the checksum of {name} is wrong: the file may have been altered after it was written"
        ));
    }
}

fn unsupported(fault: String) -> ReadError {
    ReadError::Unsupported { format: FORMAT, fault }
}

fn damaged(fault: String) -> ReadError {
    ReadError::Damaged { format: FORMAT, fault }
}

#[cfg(test)]
#[path = "x3p_tests.rs"]
mod tests;
