//! PNG files, row by row.

use std::io::Cursor;

use png::{BitDepth, ColorType, Decoder, Limits as PngLimits, Transformations};

use super::canvas::{Block, Canvas, Samples};
use super::exif_fields::{ExifFacts, read_exif};
use super::tone::{self, Tone};
use super::{Decoded, Job, check_plan, check_size, damaged};
use crate::PictureError;
use crate::facts::{ColourNote, Format};

/// Bytes the decoder may take for metadata and row buffers: 65,535 pixels of 8 bytes need half a megabyte (ours).
const DECODER_BYTES: usize = 64 << 20;

pub(super) fn decode(job: &Job<'_>) -> Result<Decoded, PictureError> {
    let fail = |error: png::DecodingError| damaged(job, Format::Png, error);
    let mut decoder = Decoder::new_with_limits(Cursor::new(job.bytes), PngLimits { bytes: DECODER_BYTES });
    decoder.set_ignore_text_chunk(true);
    // Palettes and small depths become 8 bits; 16 bits stay.
    decoder.set_transformations(Transformations::EXPAND);
    let header = decoder.read_header_info().map_err(fail)?;
    let (width, height) = check_size(job, u64::from(header.width), u64::from(header.height))?;
    let mut reader = decoder.read_info().map_err(fail)?;

    let info = reader.info();
    let (file_bits, file_channels, interlaced) =
        (info.bit_depth as u32, info.color_type.samples() as u32, info.interlaced);
    let frames = info.animation_control.map_or(1, |animation| animation.num_frames.max(1));
    let (colour_type, depth) = reader.output_color_type();
    let coloured = matches!(colour_type, ColorType::Rgb | ColorType::Rgba);
    let exif = reader
        .info()
        .exif_metadata
        .as_ref()
        .map_or(ExifFacts { orientation: 1, ..ExifFacts::default() }, |block| read_exif(block));
    let (tone, colour, note) = tone_of(reader.info(), coloured);
    let mut notes: Vec<String> = note.into_iter().collect();
    if matches!(colour_type, ColorType::Rgba | ColorType::GrayscaleAlpha) {
        notes.push("transparency is left out".to_owned());
    }
    let stride = colour_type.samples();
    let sample_bytes = if depth == BitDepth::Sixteen { 2 } else { 1 };
    let whole = if interlaced {
        reader.output_buffer_size().ok_or_else(|| damaged(job, Format::Png, "impossible size"))? as u64
    } else {
        0
    };
    check_plan(job, width * height, whole * if sample_bytes == 2 { 2 } else { 1 }, exif.orientation >= 5)?;

    let mut canvas = Canvas::new(width, height, job.want, tone);
    if interlaced {
        let mut buffer = vec![0; whole as usize];
        reader.next_frame(&mut buffer).map_err(fail)?;
        let words = if sample_bytes == 2 { words(&buffer) } else { Vec::new() };
        let samples = if sample_bytes == 2 { Samples::U16(&words) } else { Samples::U8(&buffer) };
        canvas.put(&Block { x: 0, y: 0, width, samples, stride, coloured });
    } else {
        for y in 0..height {
            let row = reader
                .next_row()
                .map_err(fail)?
                .ok_or_else(|| damaged(job, Format::Png, "rows are missing"))?;
            if sample_bytes == 2 {
                canvas.put_row(y, Samples::U16(&words(row.data())), stride, coloured);
            } else {
                canvas.put_row(y, Samples::U8(row.data()), stride, coloured);
            }
        }
    }
    Ok(Decoded { canvas, bits: file_bits, channels: file_channels, colour, exif, pages: frames, notes })
}

fn words(bytes: &[u8]) -> Vec<u16> {
    bytes.chunks_exact(2).filter_map(|pair| Some(u16::from_be_bytes(pair.try_into().ok()?))).collect()
}

/// Precedence as ISO/IEC 15948 gives it: profile, then the sRGB mark, then gamma.
fn tone_of(info: &png::Info<'_>, coloured: bool) -> (Tone, ColourNote, Option<String>) {
    if info.coding_independent_code_points.is_some() {
        return (
            Tone::Plain,
            ColourNote::Assumed,
            Some("the cICP colour code is not applied: sRGB assumed".to_owned()),
        );
    }
    if let Some(icc) = &info.icc_profile {
        return tone::from_icc(icc, coloured);
    }
    if info.srgb.is_some() {
        return (Tone::Plain, ColourNote::Srgb, None);
    }
    match info.gama_chunk {
        Some(gamma) => {
            let (tone, note) = tone::from_gamma(f64::from(gamma.into_value()));
            (tone, note, None)
        }
        None => (Tone::Plain, ColourNote::Assumed, None),
    }
}
