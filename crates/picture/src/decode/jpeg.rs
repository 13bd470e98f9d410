//! JPEG files.

use zune_core::bytestream::ZCursor;
use zune_core::colorspace::ColorSpace;
use zune_core::options::DecoderOptions;
use zune_jpeg::JpegDecoder;

use super::canvas::{Block, Canvas, Samples, Want};
use super::exif_fields::{ExifFacts, read_exif};
use super::tone::{self, Tone};
use super::{Decoded, Job, check_plan, check_size, damaged, unsupported};
use crate::PictureError;
use crate::facts::{ColourNote, Format};

/// Largest side a JPEG header can state.
const MAX_SIDE: usize = 65_535;

pub(super) fn decode(job: &Job<'_>) -> Result<Decoded, PictureError> {
    let frame = Frame::find(job.bytes)
        .ok_or_else(|| damaged(job, Format::Jpeg, "no picture header before the end of the file"))?;
    frame.check(job)?;
    let (width, height) = check_size(job, frame.width, frame.height)?;

    let mut decoder = JpegDecoder::new_with_options(ZCursor::new(job.bytes), options(ColorSpace::RGB));
    decoder.decode_headers().map_err(|error| damaged(job, Format::Jpeg, error))?;
    let exif = decoder.exif().map_or_else(upright, |block| read_exif(block));
    let inks = frame.components == 4;
    let grey_file = frame.components == 1;
    let (tone, colour, note) = match decoder.icc_profile() {
        Some(_) if inks => (Tone::Plain, ColourNote::Inks, None),
        Some(icc) => tone::from_icc(&icc, !grey_file),
        None if inks => (Tone::Plain, ColourNote::Inks, None),
        None => (Tone::Plain, ColourNote::Assumed, None),
    };
    // The file stores luma itself: without a colour transform nothing else needs decoding.
    let stores_luma = matches!(decoder.input_colorspace(), Some(ColorSpace::YCbCr | ColorSpace::Luma));
    let luma_only = grey_file || (job.want == Want::Grey && stores_luma && tone.is_plain());
    let (space, stride) = if luma_only { (ColorSpace::Luma, 1) } else { (ColorSpace::RGB, 3) };
    decoder.set_options(options(space));

    let pixels = width * height;
    let coefficients = if frame.progressive { 2 * frame.components as u64 * pixels as u64 } else { 0 };
    check_plan(job, pixels, pixels as u64 * stride as u64 + coefficients, exif.orientation >= 5)?;
    let samples = decoder.decode().map_err(|error| damaged(job, Format::Jpeg, error))?;
    drop(decoder);
    if samples.len() != pixels * stride {
        return Err(damaged(job, Format::Jpeg, "the decoded size differs from the header's"));
    }
    let mut canvas = Canvas::new(width, height, job.want, tone);
    canvas.put(&Block { x: 0, y: 0, width, samples: Samples::U8(&samples), stride, coloured: !luma_only });
    let mut notes: Vec<String> = note.into_iter().collect();
    if inks {
        notes.push("the picture is stored as four inks for printing and converted by the plain formula: colours and contrast are approximate".to_owned());
    }
    Ok(Decoded { canvas, bits: 8, channels: frame.components, colour, exif, pages: 1, notes })
}

fn upright() -> ExifFacts {
    ExifFacts { orientation: 1, ..ExifFacts::default() }
}

fn options(space: ColorSpace) -> DecoderOptions {
    DecoderOptions::default().set_max_width(MAX_SIDE).set_max_height(MAX_SIDE).jpeg_set_out_colorspace(space)
}

/// What the frame header says, found by walking the markers ourselves: the decoder fills missing data with grey, which would be
/// measured as stone.
struct Frame {
    width: u64,
    height: u64,
    components: u32,
    precision: u8,
    kind: u8,
    progressive: bool,
    ended: bool,
}

impl Frame {
    /// Walks the markers of ISO/IEC 10918-1 Annex B from the start to the end-of-image marker or the end of the bytes.
    fn find(bytes: &[u8]) -> Option<Self> {
        let mut frame: Option<Self> = None;
        let mut at = 2;
        while let Some((marker, after)) = next_marker(bytes, at) {
            at = after;
            match marker {
                // End of image.
                0xd9 => {
                    if let Some(frame) = &mut frame {
                        frame.ended = true;
                    }
                    break;
                }
                // Markers without a segment.
                0x01 | 0xd0..=0xd8 => continue,
                _ => {}
            }
            let length = usize::from(u16::from_be_bytes([*bytes.get(at)?, *bytes.get(at + 1)?]));
            let is_frame = matches!(marker, 0xc0..=0xcf) && !matches!(marker, 0xc4 | 0xc8 | 0xcc);
            if is_frame && frame.is_none() {
                frame = Some(Self::parse(marker, bytes.get(at + 2..)?)?);
            }
            at += length.max(2);
            if at >= bytes.len() {
                break;
            }
        }
        frame
    }

    fn parse(marker: u8, body: &[u8]) -> Option<Self> {
        let [precision, h1, h0, w1, w0, components, ..] = *body else { return None };
        let word = |high, low| u64::from(u16::from_be_bytes([high, low]));
        let progressive = matches!(marker, 0xc2 | 0xc6 | 0xca | 0xce);
        Some(Self {
            width: word(w1, w0),
            height: word(h1, h0),
            components: u32::from(components),
            precision,
            kind: marker,
            progressive,
            ended: false,
        })
    }

    fn check(&self, job: &Job<'_>) -> Result<(), PictureError> {
        const ADVICE: &str = "save it again as ordinary 8-bit JPEG, PNG or TIFF";
        if !matches!(self.kind, 0xc0..=0xc2) {
            return Err(unsupported(
                job,
                "the JPEG is lossless, hierarchical or arithmetic-coded, which is not read".to_owned(),
                ADVICE,
            ));
        }
        if self.precision != 8 {
            return Err(unsupported(
                job,
                format!("the JPEG has {} bits per sample, only 8 are read", self.precision),
                ADVICE,
            ));
        }
        if !matches!(self.components, 1 | 3 | 4) {
            return Err(unsupported(
                job,
                format!("the JPEG has {} channels, only 1, 3 and 4 are read", self.components),
                ADVICE,
            ));
        }
        if !self.ended {
            return Err(damaged(job, Format::Jpeg, "the end-of-image mark is missing"));
        }
        Ok(())
    }
}

/// The next marker at or behind `at` (skipping entropy-coded data), with the position after it.
fn next_marker(bytes: &[u8], mut at: usize) -> Option<(u8, usize)> {
    loop {
        at += bytes.get(at..)?.iter().position(|&byte| byte == 0xff)?;
        match *bytes.get(at + 1)? {
            // A stuffed zero is data, a second 0xff is filling.
            0x00 => at += 2,
            0xff => at += 1,
            marker => return Some((marker, at + 2)),
        }
    }
}
