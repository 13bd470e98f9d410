//! From a file's bytes to a plane of pixels.

mod bmp_gif_webp;
mod canvas;
mod exif_fields;
mod finish;
mod jpeg;
mod orient;
mod png_file;
mod tiff_file;
mod tiff_head;
pub(crate) mod tone;

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;

use canvas::{Canvas, Plane, Want};
use exif_fields::ExifFacts;
pub(crate) use orient::upright;

use crate::facts::{ColourNote, Format, Limits, Picture};
use crate::sniff::{Sniffed, sniff};
use crate::{Fingerprint, Grey, PictureError, Rgb};

/// What a decoder hands back.
struct Decoded {
    canvas: Canvas,
    bits: u32,
    channels: u32,
    colour: ColourNote,
    exif: ExifFacts,
    pages: u32,
    notes: Vec<String>,
}

/// What every decoder needs to know.
struct Job<'a> {
    bytes: &'a [u8],
    file: &'a str,
    limits: &'a Limits,
    want: Want,
}

/// Decodes a picture to the grey plane that is measured on, with what the file says about itself.
///
/// The format is told by content. The orientation tag is applied once; ICC profiles and PNG gamma are applied; without
/// them sRGB is assumed. Colours become the luma of ITU-R BT.601. 16-bit and floating-point files keep their precision.
/// Of files with several pages or frames the first is read, with a note.
///
/// # Errors
/// [`PictureError`], naming `file_name`: empty, no picture, unsupported kind, damaged or cut off, too large for `limits`.
pub fn read(bytes: &[u8], file_name: &str, limits: &Limits) -> Result<Picture, PictureError> {
    let (format, decoded) = decode(&Job { bytes, file: file_name, limits, want: Want::Grey })?;
    let (canvas, facts) = finish::facts(format, decoded);
    let no_content = |what: &str| PictureError::NoContent {
        file: file_name.to_owned(),
        what: what.to_owned(),
        advice: "export the picture anew",
    };
    let Plane::Grey(values) = canvas.plane else { return Err(no_content("no grey plane was decoded")) };
    let mut facts = facts;
    let values = finish::mend(values, &mut facts)
        .ok_or_else(|| no_content("no value of the picture is a finite number"))?;
    let grey = Grey::new(facts.width_px, facts.height_px, values)
        .ok_or_else(|| no_content("the decoded plane does not fit the stated size"))?;
    Ok(Picture { grey, facts })
}

/// Reads and decodes a file, and fingerprints the very bytes that were decoded.
///
/// # Errors
/// As [`read`], and [`PictureError::Unreadable`]; every message names the file.
pub fn open(path: &Path, limits: &Limits) -> Result<(Picture, Fingerprint), PictureError> {
    let file = path.display().to_string();
    let unreadable =
        |error: std::io::Error| PictureError::Unreadable { file: file.clone(), detail: error.to_string() };
    let about = std::fs::metadata(path).map_err(unreadable)?;
    if about.is_dir() {
        return Err(PictureError::Unreadable { file, detail: "it is a folder".to_owned() });
    }
    if !about.is_file() {
        return Err(PictureError::Unreadable { file, detail: "it is not an ordinary file".to_owned() });
    }
    check_memory(&file, about.len(), limits, "save it as compressed TIFF, PNG or JPEG")?;
    let bytes = std::fs::read(path).map_err(unreadable)?;
    let picture = read(&bytes, &file, limits)?;
    Ok((picture, Fingerprint::of_bytes(&bytes)))
}

/// Decodes a picture for showing: upright 8-bit sRGB. Floating-point files are shown in grey.
///
/// # Errors
/// As [`read`].
pub fn display(bytes: &[u8], file_name: &str, limits: &Limits) -> Result<Rgb, PictureError> {
    let (format, decoded) = decode(&Job { bytes, file: file_name, limits, want: Want::Rgb })?;
    let (canvas, facts) = finish::facts(format, decoded);
    let no_content = || PictureError::NoContent {
        file: file_name.to_owned(),
        what: "there is nothing to show".to_owned(),
        advice: "export the picture anew",
    };
    match canvas.plane {
        Plane::Rgb(values) => Rgb::new(facts.width_px, facts.height_px, values).ok_or_else(no_content),
        Plane::Grey(values) => {
            let mut facts = facts;
            let values = finish::mend(values, &mut facts).ok_or_else(no_content)?;
            Grey::new(facts.width_px, facts.height_px, values)
                .and_then(|grey| Rgb::from_grey(&grey))
                .ok_or_else(no_content)
        }
    }
}

fn decode(job: &Job<'_>) -> Result<(Format, Decoded), PictureError> {
    let file = || job.file.to_owned();
    if job.bytes.is_empty() {
        return Err(PictureError::Empty { file: file() });
    }
    let format = match sniff(job.bytes) {
        Sniffed::Picture(format) => format,
        Sniffed::Other(found, advice) => {
            return Err(PictureError::NotAPicture { file: file(), found, advice });
        }
    };
    let decoder = match format {
        Format::Jpeg => jpeg::decode,
        Format::Png => png_file::decode,
        Format::Tiff => tiff_file::decode,
        Format::WebP => bmp_gif_webp::webp,
        Format::Bmp => bmp_gif_webp::bmp,
        Format::Gif => bmp_gif_webp::gif,
    };
    // Other people's decoders may still panic on a hostile file; one bad file must not end the whole job.
    let outcome = catch_unwind(AssertUnwindSafe(|| decoder(job)));
    let decoded =
        outcome.unwrap_or_else(|_| Err(damaged(job, format, "the decoder gave up on contradictory data")))?;
    Ok((format, decoded))
}

fn damaged(job: &Job<'_>, format: Format, detail: impl std::fmt::Display) -> PictureError {
    PictureError::Damaged { file: job.file.to_owned(), format: format.name(), detail: detail.to_string() }
}

fn unsupported(job: &Job<'_>, what: String, advice: &'static str) -> PictureError {
    PictureError::Unsupported { file: job.file.to_owned(), what, advice }
}

/// Refuses pictures without a pixel or with more than allowed; nothing has been allocated yet.
fn check_size(job: &Job<'_>, width: u64, height: u64) -> Result<(usize, usize), PictureError> {
    let pixels = width.saturating_mul(height);
    if pixels == 0 {
        return Err(PictureError::NoContent {
            file: job.file.to_owned(),
            what: format!("the header announces {width} × {height} pixels"),
            advice: "copy the file again from the camera",
        });
    }
    if pixels > job.limits.max_pixels {
        let megapixels = |n: u64| n as f64 / 1e6;
        return Err(PictureError::TooLarge {
            file: job.file.to_owned(),
            width,
            height,
            found_mp: megapixels(pixels),
            limit_mp: megapixels(job.limits.max_pixels),
        });
    }
    // Below the pixel limit both sides fit: each is at most `max_pixels`.
    Ok((width as usize, height as usize))
}

/// Refuses decodings that would take more memory than allowed: the file, the finished plane (twice if it must be turned) and `working` bytes.
fn check_plan(job: &Job<'_>, pixels: usize, working: u64, turned: bool) -> Result<(), PictureError> {
    let plane = pixels as u64 * job.want.bytes();
    let after = if turned { 2 * plane } else { plane };
    let needed = job.bytes.len() as u64 + after.max(plane.saturating_add(working));
    check_memory(
        job.file,
        needed,
        job.limits,
        "save it with 8 or 16 bits per sample, compressed or in smaller strips",
    )
}

fn check_memory(file: &str, needed: u64, limits: &Limits, advice: &'static str) -> Result<(), PictureError> {
    if needed <= limits.max_memory {
        return Ok(());
    }
    let megabytes = |bytes: u64| bytes.div_ceil(1_000_000);
    Err(PictureError::TooHeavy {
        file: file.to_owned(),
        needed_mb: megabytes(needed),
        limit_mb: megabytes(limits.max_memory),
        advice,
    })
}
