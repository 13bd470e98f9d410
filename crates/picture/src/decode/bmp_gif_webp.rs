//! The smaller formats: BMP, GIF and WebP.

use std::io::Cursor;

use image::codecs::bmp::BmpDecoder;
use image::codecs::gif::GifDecoder;
use image::codecs::webp::WebPDecoder;
use image::{AnimationDecoder, ColorType, ImageDecoder, ImageError};

use super::canvas::{Block, Canvas, Samples};
use super::exif_fields::{ExifFacts, read_exif};
use super::tone::{self, Tone};
use super::{Decoded, Job, check_plan, check_size, damaged, unsupported};
use crate::PictureError;
use crate::facts::{ColourNote, Format};

pub(super) fn bmp(job: &Job<'_>) -> Result<Decoded, PictureError> {
    let decoder =
        BmpDecoder::new(Cursor::new(job.bytes)).map_err(|error| failed(job, Format::Bmp, &error))?;
    whole(job, Format::Bmp, decoder, 1)
}

pub(super) fn webp(job: &Job<'_>) -> Result<Decoded, PictureError> {
    // The container states its length; the decoder does not mind when metadata behind the picture are cut off.
    let stated = job.bytes.get(4..8).and_then(|size| size.try_into().ok()).map_or(0, u32::from_le_bytes);
    if (job.bytes.len() as u64) < u64::from(stated) + 8 {
        return Err(damaged(job, Format::WebP, "the file is shorter than it states"));
    }
    let decoder =
        WebPDecoder::new(Cursor::new(job.bytes)).map_err(|error| failed(job, Format::WebP, &error))?;
    // The library counts frames only while reading them: an animation is at least two.
    let frames = if decoder.has_animation() { 2 } else { 1 };
    let mut decoded = whole(job, Format::WebP, decoder, 1)?;
    if frames > 1 {
        decoded.notes.push("the file is an animation: only the first frame is read".to_owned());
    }
    Ok(decoded)
}

pub(super) fn gif(job: &Job<'_>) -> Result<Decoded, PictureError> {
    let decoder =
        GifDecoder::new(Cursor::new(job.bytes)).map_err(|error| failed(job, Format::Gif, &error))?;
    let (width, height) = decoder.dimensions();
    let size = check_size(job, u64::from(width), u64::from(height))?;
    check_plan(job, size.0 * size.1, 8 * size.0 as u64 * size.1 as u64, false)?;
    // Frames are asked for (not the plain picture) because the second one tells that the file moves.
    let mut frames = decoder.into_frames();
    let first = frames
        .next()
        .ok_or_else(|| damaged(job, Format::Gif, "no frame"))?
        .map_err(|error| failed(job, Format::Gif, &error))?;
    let moves = matches!(frames.next(), Some(Ok(_)));
    let pixels = first.buffer();
    let frame_width = pixels.width() as usize;
    let mut canvas = Canvas::new(size.0, size.1, job.want, Tone::Plain);
    canvas.put(&Block {
        x: 0,
        y: 0,
        width: frame_width,
        samples: Samples::U8(pixels.as_raw()),
        stride: 4,
        coloured: true,
    });
    let mut notes = vec!["GIF holds at most 256 colours: fine grey steps are lost".to_owned()];
    if moves {
        notes.push("the file is an animation: only the first frame is read".to_owned());
    }
    let exif = ExifFacts { orientation: 1, ..ExifFacts::default() };
    Ok(Decoded { canvas, bits: 8, channels: 3, colour: ColourNote::Assumed, exif, pages: 1, notes })
}

fn whole(
    job: &Job<'_>,
    format: Format,
    mut decoder: impl ImageDecoder,
    pages: u32,
) -> Result<Decoded, PictureError> {
    let (width, height) = decoder.dimensions();
    let (width, height) = check_size(job, u64::from(width), u64::from(height))?;
    let kind = decoder.color_type();
    let (stride, coloured) = match kind {
        ColorType::L8 => (1, false),
        ColorType::La8 => (2, false),
        ColorType::Rgb8 => (3, true),
        ColorType::Rgba8 => (4, true),
        _ => {
            return Err(unsupported(
                job,
                format!("this kind of {format} picture is not read"),
                "save it as PNG or TIFF",
            ));
        }
    };
    let exif = match decoder.exif_metadata() {
        Ok(Some(block)) => read_exif(&block),
        _ => ExifFacts { orientation: 1, ..ExifFacts::default() },
    };
    let (tone, colour, note) = match decoder.icc_profile() {
        Ok(Some(icc)) => tone::from_icc(&icc, coloured),
        _ => (Tone::Plain, ColourNote::Assumed, None),
    };
    let pixels = width * height;
    // Lossless WebP unpacks to four bytes a pixel beside the result.
    check_plan(job, pixels, pixels as u64 * (stride as u64 + 4), exif.orientation >= 5)?;
    let mut samples = vec![0; pixels * stride];
    decoder.read_image(&mut samples).map_err(|error| failed(job, format, &error))?;
    let mut canvas = Canvas::new(width, height, job.want, tone);
    canvas.put(&Block { x: 0, y: 0, width, samples: Samples::U8(&samples), stride, coloured });
    let mut notes: Vec<String> = note.into_iter().collect();
    if matches!(stride, 2 | 4) {
        notes.push("transparency is left out".to_owned());
    }
    Ok(Decoded { canvas, bits: 8, channels: stride as u32, colour, exif, pages, notes })
}

fn failed(job: &Job<'_>, format: Format, error: &ImageError) -> PictureError {
    match error {
        ImageError::Unsupported(detail) => unsupported(
            job,
            format!("this kind of {format} picture is not read ({detail})"),
            "save it as PNG or TIFF",
        ),
        other => damaged(job, format, other),
    }
}
