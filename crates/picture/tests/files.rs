//! Files as they come: every kind that is read, and every kind of bad file.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a failing helper fails its test")]

use std::io::Cursor;

use picture::{ColourNote, Format, Grey, Limits, PictureError, Rgb, display, open, read};
use proptest::prelude::*;
use tiff::encoder::{TiffEncoder, colortype};

fn ramp(width: usize, height: usize) -> Grey {
    let values = (0..width * height)
        .map(|i| (i % width + i / width) as f32 / (width + height - 2).max(1) as f32)
        .collect();
    Grey::new(width, height, values).unwrap()
}

fn largest_difference(a: &Grey, b: &Grey) -> f32 {
    assert_eq!((a.width(), a.height()), (b.width(), b.height()));
    a.values().iter().zip(b.values()).map(|(a, b)| (a - b).abs()).fold(0.0, f32::max)
}

fn tiff16(grey: &Grey) -> Vec<u8> {
    let words: Vec<u16> = grey.values().iter().map(|v| (v * 65_535.0).round() as u16).collect();
    let mut out = Cursor::new(Vec::new());
    TiffEncoder::new(&mut out)
        .unwrap()
        .write_image::<colortype::Gray16>(grey.width() as u32, grey.height() as u32, &words)
        .unwrap();
    out.into_inner()
}

fn tiff_float(width: u32, height: u32, values: &[f32]) -> Vec<u8> {
    let mut out = Cursor::new(Vec::new());
    TiffEncoder::new(&mut out).unwrap().write_image::<colortype::Gray32Float>(width, height, values).unwrap();
    out.into_inner()
}

#[test]
fn sixteen_bits_stay_sixteen_bits() {
    let grey = ramp(91, 67);
    for (name, bytes) in [("a.png", grey.to_png16().unwrap()), ("a.tif", tiff16(&grey))] {
        let picture = read(&bytes, name, &Limits::default()).unwrap();
        assert_eq!(picture.facts.bits, 16);
        assert!(largest_difference(&picture.grey, &grey) <= 0.51 / 65_535.0, "{name}");
    }
}

#[test]
fn one_picture_gives_one_grey_in_every_format() {
    let pixels = (0..64 * 48).flat_map(|i| [(i % 64 * 4) as u8, (i / 64 * 5) as u8, 90]).collect();
    let rgb = Rgb::new(64, 48, pixels).unwrap();
    let png = read(&rgb.to_png().unwrap(), "a.png", &Limits::default()).unwrap();
    let jpeg = read(&rgb.to_jpeg(100).unwrap(), "a.jpg", &Limits::default()).unwrap();
    assert_eq!((png.facts.format, jpeg.facts.format), (Format::Png, Format::Jpeg));
    assert!(largest_difference(&png.grey, &jpeg.grey) < 4.0 / 255.0);
    assert_eq!(display(&rgb.to_png().unwrap(), "a.png", &Limits::default()).unwrap(), rgb);
}

#[test]
fn floats_with_gaps_are_mended_and_noted() {
    let mut values = vec![0.25f32; 400];
    values[7] = f32::NAN;
    values[8] = f32::INFINITY;
    let picture = read(&tiff_float(20, 20, &values), "heights.tif", &Limits::default()).unwrap();
    assert_eq!(picture.facts.colour, ColourNote::Float);
    assert!(picture.grey.values().iter().all(|&v| v == 0.25));
    assert!(picture.facts.notes.iter().any(|note| note.starts_with("2 pixels")), "{:?}", picture.facts.notes);
    let error = read(&tiff_float(20, 20, &[f32::NAN; 400]), "gaps.tif", &Limits::default()).unwrap_err();
    assert!(error.to_string().starts_with("gaps.tif: no value"), "{error}");
}

#[test]
fn bad_files_say_what_is_wrong() {
    let png = ramp(64, 64).to_png8().unwrap();
    let jpeg = Rgb::from_grey(&ramp(64, 64)).unwrap().to_jpeg(90).unwrap();
    let tif = tiff16(&ramp(64, 64));
    for (name, bytes, expected) in [
        ("empty.jpg", &[][..], "empty.jpg: the file is empty"),
        ("letter.jpg", b"Dear keeper, here are the pictures.", "letter.jpg: the content is text"),
        ("cut.png", &png[..png.len() / 2], "cut.png: the PNG data are damaged or cut off"),
        ("cut.jpg", &jpeg[..jpeg.len() / 2], "cut.jpg: the JPEG data are damaged or cut off"),
        ("cut.tif", &tif[..tif.len() / 2], "cut.tif: the TIFF data are damaged or cut off"),
    ] {
        let message = read(bytes, name, &Limits::default()).unwrap_err().to_string();
        assert!(message.starts_with(expected), "{message}");
        assert!(!message.contains('\n'));
    }
}

/// A header that announces 3.6 thousand million pixels in a file of some hundred bytes.
#[test]
fn bombs_are_refused_on_their_header() {
    let mut png = ramp(2, 2).to_png8().unwrap();
    png[16..24].copy_from_slice(&[0, 0, 0xea, 0x60, 0, 0, 0xea, 0x60]);
    let crc = png_crc(&png[12..29]);
    png[29..33].copy_from_slice(&crc.to_be_bytes());
    let error = read(&png, "bomb.png", &Limits::default()).unwrap_err();
    assert!(matches!(error, PictureError::TooLarge { width: 60_000, height: 60_000, .. }), "{error}");
}

/// CRC-32 of ISO/IEC 15948 Annex D, bit by bit.
fn png_crc(bytes: &[u8]) -> u32 {
    !bytes.iter().fold(!0u32, |crc, &byte| {
        (0..8).fold(crc ^ u32::from(byte), |crc, _| (crc >> 1) ^ (0xedb8_8320 & (crc & 1).wrapping_neg()))
    })
}

#[test]
fn odd_shapes_are_read() {
    for (width, height) in [(1, 1), (20_000, 10), (65_535, 2), (3, 5000)] {
        let grey = ramp(width, height);
        let picture = read(&grey.to_png8().unwrap(), "odd.png", &Limits::default()).unwrap();
        assert_eq!((picture.grey.width(), picture.grey.height()), (width, height));
    }
    let wide = Rgb::from_grey(&ramp(65_535, 8)).unwrap();
    assert_eq!(
        read(&wide.to_jpeg(80).unwrap(), "wide.jpg", &Limits::default()).unwrap().grey.width(),
        65_535
    );
    assert!(Rgb::from_grey(&ramp(65_536, 1)).unwrap().to_jpeg(80).is_err());
}

#[test]
fn folders_and_vanished_files_are_named() {
    let dir = tempfile::tempdir().unwrap();
    let folder = dir.path().join("a folder.jpg");
    std::fs::create_dir(&folder).unwrap();
    assert!(
        open(&folder, &Limits::default())
            .unwrap_err()
            .to_string()
            .contains("a folder.jpg: cannot be read (it is a folder)")
    );
    let gone = open(&dir.path().join("gone ‘é’ 🪨.png"), &Limits::default()).unwrap_err().to_string();
    assert!(gone.contains("gone ‘é’ 🪨.png: cannot be read"), "{gone}");
}

/// Small enough that a hostile header cannot take much memory in the tests.
fn tight() -> Limits {
    Limits { max_pixels: 1 << 20, max_memory: 64 << 20 }
}

fn valid_files() -> Vec<Vec<u8>> {
    let grey = ramp(40, 30);
    let rgb = Rgb::from_grey(&grey).unwrap();
    let encoded = |format| {
        let mut out = Cursor::new(Vec::new());
        image::RgbImage::from_raw(40, 30, rgb.values().to_vec()).unwrap().write_to(&mut out, format).unwrap();
        out.into_inner()
    };
    vec![
        grey.to_png8().unwrap(),
        grey.to_png16().unwrap(),
        rgb.to_jpeg(90).unwrap(),
        tiff16(&grey),
        tiff_float(40, 30, grey.values()),
        encoded(image::ImageFormat::Bmp),
        encoded(image::ImageFormat::Gif),
        encoded(image::ImageFormat::WebP),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    #[test]
    fn random_bytes_never_panic(bytes in proptest::collection::vec(any::<u8>(), 0..600), start in 0usize..9) {
        let magic: [&[u8]; 9] = [b"", b"\xff\xd8\xff", b"\x89PNG\r\n\x1a\n", b"II*\0", b"MM\0*", b"II+\0\x08\0\0\0", b"GIF89a", b"RIFF\x40\0\0\0WEBP", b"BM"];
        let file = [magic[start], &bytes].concat();
        let _ = read(&file, "random", &tight());
    }

    #[test]
    fn damaged_files_never_panic(which in 0usize..8, cut in 0.0..1.0f64, places in proptest::collection::vec((0.0..1.0f64, any::<u8>()), 0..6)) {
        let mut file = valid_files().swap_remove(which);
        for (place, value) in places {
            let at = (place * file.len() as f64) as usize;
            file[at] = value;
        }
        file.truncate((cut.sqrt() * file.len() as f64) as usize + 1);
        if let Ok(picture) = read(&file, "damaged", &tight()) {
            prop_assert_eq!(picture.grey.values().len(), picture.facts.width_px * picture.facts.height_px);
            prop_assert!(picture.grey.values().iter().all(|v| (0.0..=1.0).contains(v)));
        }
        let _ = display(&file, "damaged", &tight());
    }

    #[test]
    fn tile_requests_never_panic(region in ".{0,24}", size in "[\\^!a-z0-9:,.]{0,16}", rotation in ".{0,6}", file in ".{0,12}", w in 1u32..100_000, h in 1u32..100_000) {
        if let Ok(request) = picture::iiif::TileRequest::parse(&region, &size, "0", "default.jpg")
            && let Ok(plan) = request.plan(w, h) {
            prop_assert!(plan.region[0] + plan.region[2] <= w && plan.region[1] + plan.region[3] <= h);
            prop_assert!(plan.size[0] >= 1 && plan.size[1] >= 1);
        }
        let _ = picture::iiif::TileRequest::parse("full", "max", &rotation, &file);
    }
}
