//! TIFF files, chunk by chunk.

use std::io::Cursor;

use tiff::ColorType;
use tiff::decoder::{ChunkType, Decoder, DecodingResult, Limits as TiffLimits};
use tiff::tags::{IfdPointer, Tag};

use super::canvas::{Block, Canvas, Samples, Want};
use super::exif_fields::{ExifFacts, camera, read_exif};
use super::tiff_head::{Patched, palette_byte};
use super::tone::{self, Tone};
use super::{Decoded, Job, check_plan, check_size, damaged, unsupported};
use crate::PictureError;
use crate::facts::{ColourNote, Format};

type Source<'a> = Decoder<Patched<'a>>;

const SAVE_AGAIN: &str = "save it as 8- or 16-bit grey or RGB TIFF, uncompressed or with LZW or deflate";
/// Metadata values longer than this are not read (a palette has 400 kB, a profile rarely more than 4 MB).
const LONGEST_VALUE: usize = 16 << 20;
/// Files up to this size are handed to the EXIF reader whole, which copies them.
const WHOLE_EXIF_BYTES: usize = 300 << 20;
/// Most pages counted: walking a chain of directories that never ends must stop.
const MOST_PAGES: u32 = 10_000;

/// How the samples of a pixel make its colour.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Model {
    Grey,
    Rgb,
    YCbCr,
    Inks,
    Palette,
}

/// What is needed to read chunks.
struct Plan {
    width: usize,
    height: usize,
    model: Model,
    bits: u8,
    /// Samples per pixel as chunks hold them together.
    stride: usize,
    /// Planes in which the file holds the samples apart (1 if together).
    planes: usize,
    palette: Vec<[f32; 3]>,
}

pub(super) fn decode(job: &Job<'_>) -> Result<Decoded, PictureError> {
    let one_at = palette_byte(job.bytes);
    let limits = tiff_limits(job);
    let mut source = Decoder::new(Patched { bytes: Cursor::new(job.bytes), one_at })
        .map_err(|error| failed(job, &error))?
        .with_limits(limits);
    let (width, height) = source.dimensions().map_err(|error| failed(job, &error))?;
    let (width, height) = check_size(job, u64::from(width), u64::from(height))?;
    refuse_camera_raw(job, &mut source)?;
    let plan = plan(job, &mut source, width, height, one_at.is_some())?;
    let exif = exif_of(job, &mut source);
    let is_float = matches!(source.find_tag_unsigned::<u16>(Tag::SampleFormat), Ok(Some(3)))
        || sample_format(&mut source) == Some(3);
    let (tone, colour, note) = tone_of(&mut source, &plan, is_float);
    let mut notes: Vec<String> = note.into_iter().collect();
    if plan.model == Model::Inks {
        notes.push("the picture is stored as four inks for printing and converted by the plain formula: colours and contrast are approximate".to_owned());
    }
    if is_float && plan.model != Model::Grey {
        notes.push("floating-point colours are shown in grey".to_owned());
    }

    let chunk_pixels = {
        let (w, h) = chunk_size(job, &mut source)?;
        w * h
    };
    let sample_bytes = u64::from(plan.bits.max(8)) / 8;
    let working = chunk_pixels as u64 * plan.stride as u64 * plan.planes as u64 * sample_bytes;
    check_plan(job, width * height, working, exif.orientation >= 5)?;
    // The values of floating-point files may need stretching, for which the grey plane is the place.
    let want = if is_float { Want::Grey } else { job.want };
    let mut canvas = Canvas::new(width, height, want, tone);
    paint(job, &mut source, &plan, &mut canvas)?;
    let channels = (plan.stride * plan.planes) as u32;
    let pages = count_pages(&mut source);
    Ok(Decoded { canvas, bits: u32::from(plan.bits), channels, colour, exif, pages, notes })
}

fn tiff_limits(job: &Job<'_>) -> TiffLimits {
    let mut limits = TiffLimits::default();
    limits.decoding_buffer_size = usize::try_from(job.limits.max_memory).unwrap_or(usize::MAX);
    limits.intermediate_buffer_size = limits.decoding_buffer_size;
    limits.ifd_value_size = LONGEST_VALUE;
    limits
}

fn failed(job: &Job<'_>, error: &tiff::TiffError) -> PictureError {
    match error {
        tiff::TiffError::UnsupportedError(detail) => {
            unsupported(job, format!("this kind of TIFF is not read ({detail})"), SAVE_AGAIN)
        }
        other => damaged(job, Format::Tiff, other),
    }
}

/// Camera raw files are TIFF files whose first page is often a preview: measuring that would be wrong by a factor.
fn refuse_camera_raw(job: &Job<'_>, source: &mut Source<'_>) -> Result<(), PictureError> {
    const DNG_VERSION: u16 = 50_706;
    const NEW_SUBFILE_TYPE: u16 = 254;
    const CFA: u16 = 32_803;
    let has_dng = matches!(source.find_tag(Tag::Unknown(DNG_VERSION)), Ok(Some(_)));
    let reduced = matches!(source.find_tag_unsigned::<u32>(Tag::Unknown(NEW_SUBFILE_TYPE)), Ok(Some(kind)) if kind & 1 == 1);
    let has_children = matches!(source.find_tag(Tag::SubIfd), Ok(Some(_)));
    let mosaic = matches!(source.find_tag_unsigned::<u16>(Tag::PhotometricInterpretation), Ok(Some(CFA)));
    let old_raw = job.bytes.get(8..10) == Some(b"CR");
    if has_dng || mosaic || old_raw || (reduced && has_children) {
        let what = "the file is camera raw, of which only a small preview could be read".to_owned();
        return Err(unsupported(
            job,
            what,
            "develop it to 16-bit TIFF or to JPEG with the camera's software",
        ));
    }
    Ok(())
}

fn plan(
    job: &Job<'_>,
    source: &mut Source<'_>,
    width: usize,
    height: usize,
    has_palette: bool,
) -> Result<Plan, PictureError> {
    let kind = source.colortype().map_err(|error| failed(job, &error))?;
    let bits = kind.bit_depth();
    let (model, samples) = match kind {
        ColorType::Gray(_) if has_palette => (Model::Palette, 1),
        ColorType::Gray(_) => (Model::Grey, 1),
        ColorType::GrayA(_) => (Model::Grey, 2),
        ColorType::RGB(_) => (Model::Rgb, 3),
        ColorType::RGBA(_) => (Model::Rgb, 4),
        ColorType::YCbCr(8) => (Model::YCbCr, 3),
        ColorType::CMYK(_) => (Model::Inks, 4),
        ColorType::CMYKA(_) => (Model::Inks, 5),
        // Grey with further channels (a mask, say): the first is the picture.
        ColorType::Multiband { num_samples: samples, .. } => (Model::Grey, usize::from(samples)),
        other => {
            return Err(unsupported(
                job,
                format!("TIFF colours of the kind {other:?} are not read"),
                SAVE_AGAIN,
            ));
        }
    };
    let apart =
        matches!(source.find_tag_unsigned::<u16>(Tag::PlanarConfiguration), Ok(Some(2))) && samples > 1;
    let (stride, planes) = if apart { (1, samples) } else { (samples, 1) };
    let palette = if has_palette { palette(job, source)? } else { Vec::new() };
    Ok(Plan { width, height, model, bits, stride, planes, palette })
}

/// The colour table: all reds, then all greens, then all blues, 16 bits each (TIFF 6.0, ColorMap).
fn palette(job: &Job<'_>, source: &mut Source<'_>) -> Result<Vec<[f32; 3]>, PictureError> {
    let table = source.get_tag_u16_vec(Tag::ColorMap).map_err(|error| failed(job, &error))?;
    let n = table.len() / 3;
    let value = |i: usize| table.get(i).map_or(0.0, |&v| f32::from(v) / 65_535.0);
    Ok((0..n).map(|i| [value(i), value(n + i), value(2 * n + i)]).collect())
}

fn sample_format(source: &mut Source<'_>) -> Option<u16> {
    source.find_tag_unsigned_vec::<u16>(Tag::SampleFormat).ok().flatten().and_then(|all| all.first().copied())
}

fn tone_of(source: &mut Source<'_>, plan: &Plan, is_float: bool) -> (Tone, ColourNote, Option<String>) {
    if is_float {
        return (Tone::Plain, ColourNote::Float, None);
    }
    if plan.model == Model::Inks {
        return (Tone::Plain, ColourNote::Inks, None);
    }
    match source.get_tag_u8_vec(Tag::IccProfile) {
        Ok(icc) => tone::from_icc(&icc, plan.model != Model::Grey),
        Err(_) => (Tone::Plain, ColourNote::Assumed, None),
    }
}

/// Width and height of a full chunk, with the nonsense that makes the decoder panic refused.
fn chunk_size(job: &Job<'_>, source: &mut Source<'_>) -> Result<(usize, usize), PictureError> {
    let nonsense = || damaged(job, Format::Tiff, "the strips or tiles have no size");
    let size = match source.get_chunk_type() {
        ChunkType::Strip => {
            let (width, height) = source.dimensions().map_err(|error| failed(job, &error))?;
            let rows = source.find_tag_unsigned::<u32>(Tag::RowsPerStrip).ok().flatten().unwrap_or(height);
            (width as usize, rows.min(height) as usize)
        }
        ChunkType::Tile => {
            let side = |source: &mut Source<'_>, tag| {
                source.find_tag_unsigned::<u32>(tag).ok().flatten().unwrap_or(0) as usize
            };
            (side(source, Tag::TileWidth), side(source, Tag::TileLength))
        }
    };
    if size.0 == 0 || size.1 == 0 {
        return Err(nonsense());
    }
    let pixels = size.0.checked_mul(size.1).ok_or_else(nonsense)?;
    if pixels as u64 > job.limits.max_pixels {
        return Err(damaged(job, Format::Tiff, "a single tile is larger than any picture that is read"));
    }
    Ok(size)
}

fn paint(
    job: &Job<'_>,
    source: &mut Source<'_>,
    plan: &Plan,
    canvas: &mut Canvas,
) -> Result<(), PictureError> {
    let (chunk_width, chunk_height) = chunk_size(job, source)?;
    let across = plan.width.div_ceil(chunk_width);
    let per_plane = across * plan.height.div_ceil(chunk_height);
    let held = match source.get_chunk_type() {
        ChunkType::Strip => source.strip_count(),
        ChunkType::Tile => source.tile_count(),
    };
    let held = held.map_err(|error| failed(job, &error))? as usize;
    if held < per_plane * plan.planes {
        return Err(damaged(
            job,
            Format::Tiff,
            format!("{held} strips or tiles where {} are needed", per_plane * plan.planes),
        ));
    }
    for index in 0..per_plane {
        let (column, row) = (index % across, index / across);
        let (x, y) = (column * chunk_width, row * chunk_height);
        let (width, height) = (chunk_width.min(plan.width - x), chunk_height.min(plan.height - y));
        let mut parts = Vec::with_capacity(plan.planes);
        for plane in 0..plan.planes {
            let number = u32::try_from(plane * per_plane + index)
                .map_err(|_| damaged(job, Format::Tiff, "too many tiles"))?;
            parts.push(source.read_chunk(number).map_err(|error| failed(job, &error))?);
        }
        put_chunk(canvas, plan, [x, y, width, height], &parts)
            .ok_or_else(|| damaged(job, Format::Tiff, "a strip or tile is too short"))?;
    }
    Ok(())
}

/// Paints one chunk; `None` if it holds too few samples.
fn put_chunk(
    canvas: &mut Canvas,
    plan: &Plan,
    [x, y, width, height]: [usize; 4],
    parts: &[DecodingResult],
) -> Option<()> {
    let first = parts.first()?;
    let wanted = width * height * plan.stride;
    let simple = plan.planes == 1 && matches!(plan.model, Model::Grey | Model::Rgb);
    let block = |samples, stride, coloured| Block { x, y, width, samples, stride, coloured };
    match first {
        DecodingResult::U8(all) if simple && plan.bits == 8 => {
            canvas.put(&block(Samples::U8(all.get(..wanted)?), plan.stride, plan.model == Model::Rgb));
        }
        DecodingResult::U16(all) if simple => {
            canvas.put(&block(Samples::U16(all.get(..wanted)?), plan.stride, plan.model == Model::Rgb))
        }
        DecodingResult::F32(all) if simple => {
            canvas.put(&block(Samples::F32(all.get(..wanted)?), plan.stride, plan.model == Model::Rgb))
        }
        _ => {
            let planes: Vec<Vec<f32>> =
                parts.iter().map(|part| unit_values(part, plan, width * plan.stride, height)).collect();
            let pixels = coloured(plan, &planes, width * height)?;
            let grey = plan.model == Model::Grey;
            canvas.put(&block(Samples::F32(&pixels), if grey { 1 } else { 3 }, !grey));
        }
    }
    Some(())
}

/// One or three values per pixel from samples on the 0–1 scale.
fn coloured(plan: &Plan, planes: &[Vec<f32>], pixels: usize) -> Option<Vec<f32>> {
    let sample = |pixel: usize, channel: usize| {
        if plan.planes > 1 {
            planes.get(channel)?.get(pixel).copied()
        } else {
            planes.first()?.get(pixel * plan.stride + channel).copied()
        }
    };
    let mut out = Vec::with_capacity(3 * pixels);
    for pixel in 0..pixels {
        let at = |channel| sample(pixel, channel);
        match plan.model {
            Model::Grey => out.push(at(0)?),
            Model::Rgb => out.extend([at(0)?, at(1)?, at(2)?]),
            Model::YCbCr => out.extend(from_ycbcr(at(0)?, at(1)?, at(2)?)),
            Model::Inks => {
                let paper = 1.0 - at(3)?;
                out.extend([(1.0 - at(0)?) * paper, (1.0 - at(1)?) * paper, (1.0 - at(2)?) * paper]);
            }
            Model::Palette => {
                let largest = f32::from((1u16 << plan.bits.min(15)) - 1);
                let index = (at(0)? * largest).round() as usize;
                out.extend(plan.palette.get(index).copied().unwrap_or([0.0; 3]));
            }
        }
    }
    Some(out)
}

/// ITU-R BT.601, full range, as TIFF 6.0 (YCbCrCoefficients) has it by default.
fn from_ycbcr(y: f32, cb: f32, cr: f32) -> [f32; 3] {
    let (cb, cr) = (cb - 128.0 / 255.0, cr - 128.0 / 255.0);
    [y + 1.402 * cr, y - 0.344_136 * cb - 0.714_136 * cr, y + 1.772 * cb].map(|v| v.clamp(0.0, 1.0))
}

/// Samples on the 0–1 scale (floating-point numbers as they are); `row_samples` counts those of one row, which begins on a full byte.
fn unit_values(part: &DecodingResult, plan: &Plan, row_samples: usize, rows: usize) -> Vec<f32> {
    let signed = |value: f64, bits: i32| ((value + 2f64.powi(bits - 1)) / (2f64.powi(bits) - 1.0)) as f32;
    match part {
        DecodingResult::U8(all) if plan.bits < 8 => unpacked(all, plan.bits, row_samples, rows),
        DecodingResult::U8(all) => all.iter().map(|&v| f32::from(v) / 255.0).collect(),
        DecodingResult::U16(all) => all.iter().map(|&v| f32::from(v) / 65_535.0).collect(),
        DecodingResult::U32(all) => {
            all.iter().map(|&v| (f64::from(v) / f64::from(u32::MAX)) as f32).collect()
        }
        DecodingResult::U64(all) => all.iter().map(|&v| (v as f64 / u64::MAX as f64) as f32).collect(),
        DecodingResult::I8(all) => all.iter().map(|&v| signed(f64::from(v), 8)).collect(),
        DecodingResult::I16(all) => all.iter().map(|&v| signed(f64::from(v), 16)).collect(),
        DecodingResult::I32(all) => all.iter().map(|&v| signed(f64::from(v), 32)).collect(),
        DecodingResult::I64(all) => all.iter().map(|&v| signed(v as f64, 64)).collect(),
        DecodingResult::F16(all) => all.iter().map(|v| v.to_f32()).collect(),
        DecodingResult::F32(all) => all.clone(),
        DecodingResult::F64(all) => all.iter().map(|&v| v as f32).collect(),
    }
}

fn unpacked(bytes: &[u8], bits: u8, row_samples: usize, rows: usize) -> Vec<f32> {
    let bits = usize::from(bits.max(1));
    let row_bytes = (row_samples * bits).div_ceil(8).max(1);
    let largest = ((1u16 << bits) - 1) as f32;
    let sample = |row: &[u8], i: usize| {
        let byte = row.get(i * bits / 8).copied().unwrap_or(0);
        let shift = 8 - bits - i * bits % 8;
        f32::from(u16::from(byte >> shift) & ((1 << bits) - 1)) / largest
    };
    bytes
        .chunks_exact(row_bytes)
        .take(rows)
        .flat_map(|row| (0..row_samples).map(move |i| sample(row, i)))
        .collect()
}

fn count_pages(source: &mut Source<'_>) -> u32 {
    let mut pages = 1;
    while pages < MOST_PAGES && source.more_images() && source.next_image().is_ok() {
        pages += 1;
    }
    pages
}

fn exif_of(job: &Job<'_>, source: &mut Source<'_>) -> ExifFacts {
    let classic = job.bytes.get(2..4).is_some_and(|magic| magic == b"*\0" || magic == b"\0*");
    let mut facts =
        if classic && job.bytes.len() <= WHOLE_EXIF_BYTES { read_exif(job.bytes) } else { from_tags(source) };
    if let Ok(Some(tag)) = source.find_tag_unsigned::<u8>(Tag::Orientation) {
        facts.orientation = if (1..=8).contains(&tag) { tag } else { 1 };
    }
    // Structure, not facts about the capture.
    let structure =
        ["StripOffsets", "StripByteCounts", "TileOffsets", "TileByteCounts", "ColorMap", "Tag(Tiff, "];
    facts.fields.retain(|(name, _)| !structure.iter().any(|start| name.starts_with(start)));
    facts
}

/// The fields examiners ask for, read by the decoder itself: for files the EXIF reader does not know (64-bit) or that are too large for it.
fn from_tags(source: &mut Source<'_>) -> ExifFacts {
    let basic = [
        (Tag::Make, "Make"),
        (Tag::Model, "Model"),
        (Tag::Software, "Software"),
        (Tag::DateTime, "DateTime"),
        (Tag::ImageDescription, "ImageDescription"),
    ];
    let mut fields: Vec<(String, String)> = Vec::new();
    for (tag, name) in basic {
        if let Ok(text) = source.get_tag_ascii_string(tag) {
            fields.push((name.to_owned(), text.trim().chars().take(400).collect()));
        }
    }
    if let Ok(Some(at)) = source.find_tag_unsigned::<u64>(Tag::ExifDirectory) {
        exif_directory(source, IfdPointer(at), &mut fields);
    }
    let value = |name: &str| fields.iter().find(|(field, _)| field == name).map(|(_, value)| value.clone());
    let taken_at = value("DateTimeOriginal").or_else(|| value("DateTime"));
    ExifFacts { orientation: 1, taken_at, camera: camera(value("Make"), value("Model")), fields, note: None }
}

fn exif_directory(source: &mut Source<'_>, at: IfdPointer, fields: &mut Vec<(String, String)>) {
    // Numbers and names of EXIF 2.32, table 4.
    let named = [
        (36_867, "DateTimeOriginal"),
        (33_434, "ExposureTime"),
        (33_437, "FNumber"),
        (34_855, "PhotographicSensitivity"),
        (37_386, "FocalLength"),
        (42_036, "LensModel"),
    ];
    let Ok(directory) = source.read_directory(at) else { return };
    for (number, name) in named {
        let mut tags = source.read_directory_tags(&directory);
        if let Ok(text) = tags.get_tag_ascii_string(Tag::Unknown(number)) {
            fields.push((name.to_owned(), text.trim().to_owned()));
        } else if let Ok(number) = tags.get_tag_f64(Tag::Unknown(number)) {
            fields.push((name.to_owned(), number.to_string()));
        }
    }
}
