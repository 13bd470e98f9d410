//! Heights in a TIFF picture: 32- or 64-bit floating point, or 16-bit whole numbers.

use std::io::Cursor;

use tiff::decoder::{Decoder, DecodingResult};

use super::{HeightRead, Limits, Pitch, read_fault, within};
use crate::{HeightMap, ReadError};

const FORMAT: &str = "TIFF";
/// Largest bytes per height among the sample types accepted.
const BYTES_PER_HEIGHT: u64 = 8;

/// Reads the first page. NaN and infinite heights are not measured; a whole-number file has no way to say so.
pub(super) fn read(bytes: &[u8], pitch: Pitch, limits: &Limits) -> Result<HeightRead, ReadError> {
    let damaged = |fault: tiff::TiffError| ReadError::Damaged { format: FORMAT, fault: read_fault(&fault) };
    let mut memory = tiff::decoder::Limits::default();
    memory.decoding_buffer_size =
        usize::try_from(limits.heights.saturating_mul(BYTES_PER_HEIGHT)).unwrap_or(usize::MAX);
    let mut decoder = Decoder::new(Cursor::new(bytes)).map_err(damaged)?.with_limits(memory);
    let (width, height) = decoder.dimensions().map_err(damaged)?;
    let count = within("the grid of heights", u64::from(width) * u64::from(height), limits.heights)?;
    let colour = decoder.colortype().map_err(damaged)?;
    if !matches!(colour, tiff::ColorType::Gray(_)) {
        return Err(unsupported(format!("holds {colour:?}; needed: one height per pixel")));
    }
    let scale_um = pitch.height_unit.in_um() * pitch.height_per_count;
    let z_um = heights(decoder.read_image().map_err(damaged)?, scale_um)?;
    let z_um: Vec<f64> = z_um.into_iter().take(count).collect();
    let map = HeightMap::new(width as usize, height as usize, pitch.dx_um, pitch.dy_um, z_um)
        .map_err(|fault| ReadError::Damaged { format: FORMAT, fault: fault.to_string() })?;
    let mut notes = Vec::new();
    if decoder.more_images() {
        notes.push("only the first page of the TIFF was read".to_owned());
    }
    Ok(HeightRead { map, facts: Vec::new(), notes })
}

fn heights(samples: DecodingResult, scale_um: f64) -> Result<Vec<f64>, ReadError> {
    match samples {
        DecodingResult::F32(z) => Ok(z.into_iter().map(|z| f64::from(z) * scale_um).collect()),
        DecodingResult::F64(z) => Ok(z.into_iter().map(|z| z * scale_um).collect()),
        DecodingResult::U16(z) => Ok(z.into_iter().map(|z| f64::from(z) * scale_um).collect()),
        DecodingResult::I16(z) => Ok(z.into_iter().map(|z| f64::from(z) * scale_um).collect()),
        _ => Err(unsupported(
            "holds neither 16-bit whole nor 32- or 64-bit floating-point samples; an 8-bit picture is not a height map"
                .to_owned(),
        )),
    }
}

fn unsupported(fault: String) -> ReadError {
    ReadError::Unsupported { format: FORMAT, fault }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::LengthUnit;
    use tiff::encoder::{TiffEncoder, colortype};

    fn pitch(height_per_count: f64) -> Pitch {
        Pitch { dx_um: 1.0, dy_um: 1.0, height_unit: LengthUnit::Micrometre, height_per_count }
    }

    fn float_file() -> Vec<u8> {
        let mut bytes = Cursor::new(Vec::new());
        let z = [0.5_f32, f32::NAN, -2.0, 3.0, 4.0, 5.0];
        TiffEncoder::new(&mut bytes).unwrap().write_image::<colortype::Gray32Float>(3, 2, &z).unwrap();
        bytes.into_inner()
    }

    #[test]
    fn floating_point_heights() {
        let read = read(&float_file(), pitch(1.0), &Limits::default()).unwrap();
        assert_eq!((read.map.width(), read.map.height(), read.map.measured()), (3, 2, 5));
        assert_eq!(read.map.row(1), [3.0, 4.0, 5.0]);
    }

    #[test]
    fn whole_number_heights_take_the_step_per_count() {
        let mut bytes = Cursor::new(Vec::new());
        TiffEncoder::new(&mut bytes)
            .unwrap()
            .write_image::<colortype::Gray16>(2, 1, &[0_u16, 40_000])
            .unwrap();
        let read = read(&bytes.into_inner(), pitch(0.25), &Limits::default()).unwrap();
        assert_eq!(read.map.row(0), [0.0, 10_000.0]);
    }

    #[test]
    fn photographs_and_damaged_files_are_refused() {
        let mut bytes = Cursor::new(Vec::new());
        TiffEncoder::new(&mut bytes).unwrap().write_image::<colortype::Gray8>(2, 1, &[1, 2]).unwrap();
        let refused = read(&bytes.into_inner(), pitch(1.0), &Limits::default()).unwrap_err();
        assert!(refused.to_string().contains("8-bit picture"), "{refused}");

        let whole = float_file();
        for cut in 0..whole.len() {
            let _ = read(&whole[..cut], pitch(1.0), &Limits::default());
        }
        for place in 0..whole.len() {
            let mut lying = whole.clone();
            lying[place] = 0xff;
            let _ = read(&lying, pitch(1.0), &Limits { heights: 1000, ..Limits::default() });
        }
    }
}
