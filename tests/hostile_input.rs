//! Awkward files: each gets one clear line, the rest is done, the exit code is 1, nothing is lost and nothing panics.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test that cannot go on fails")]

use std::ffi::OsString;
use std::fs;
use std::path::{Path, PathBuf};

use image::codecs::gif::GifEncoder;
use image::{Delay, Frame, RgbaImage};
use rubstone_tests::{Ran, arg, command, plain, ran, run, scratched, write_png};
use serde_json::Value;
use tiff::encoder::{TiffEncoder, colortype};

const BINARY: &str = env!("CARGO_BIN_EXE_rubstone-under-test");

/// What a run over a hostile file and a good one has to look like if the hostile one cannot be measured.
fn check_refused(hostile: &Path, ran: &Ran) {
    let name = hostile.to_string_lossy();
    assert_eq!(ran.code, Some(1), "{name}: {:?}", ran.stderr);
    assert_eq!(ran.stderr.len(), 1, "{name}: one line, not {:?}", ran.stderr);
    let line = &ran.stderr[0];
    assert!(line.contains(&*name), "names the file: {line}");
    assert!(line.contains("; "), "says what to do: {line}");
    assert!(!line.contains("internal error") && !line.contains("panicked"), "{line}");
}

fn measure(files: &[&Path]) -> Ran {
    let words = [arg("measure".as_ref()), arg("--json".as_ref())];
    run(BINARY, words.into_iter().chain(files.iter().map(|file| arg(file))))
}

fn measured(ran: &Ran) -> Vec<String> {
    let measure: Value = serde_json::from_str(&ran.stdout).expect("one JSON object");
    measure["captures"].as_array().unwrap().iter().map(|c| c["file"].as_str().unwrap().to_owned()).collect()
}

/// The CRC-32 of PNG chunks (ISO/IEC 15948 annex D).
fn crc32(bytes: &[u8]) -> u32 {
    !bytes.iter().fold(u32::MAX, |crc, byte| {
        (0..8).fold(crc ^ u32::from(*byte), |c, _| if c & 1 == 1 { 0xedb8_8320 ^ (c >> 1) } else { c >> 1 })
    })
}

/// A small PNG whose header announces another size.
fn lying_png(width: u32, height: u32) -> Vec<u8> {
    let mut bytes = plain(64, 64).to_png8().unwrap();
    bytes[16..20].copy_from_slice(&width.to_be_bytes());
    bytes[20..24].copy_from_slice(&height.to_be_bytes());
    let crc = crc32(&bytes[12..29]);
    bytes[29..33].copy_from_slice(&crc.to_be_bytes());
    bytes
}

fn float_tiff(value: f32) -> Vec<u8> {
    let mut bytes = std::io::Cursor::new(Vec::new());
    let values = vec![value; 200 * 150];
    TiffEncoder::new(&mut bytes).unwrap().write_image::<colortype::Gray32Float>(200, 150, &values).unwrap();
    bytes.into_inner()
}

fn cmyk_jpeg() -> Vec<u8> {
    let mut bytes = Vec::new();
    let inks: Vec<u8> = (0..400 * 300).flat_map(|n: u32| [(n % 97) as u8, 90, (n % 53) as u8, 40]).collect();
    let encoder = jpeg_encoder::Encoder::new(&mut bytes, 90);
    encoder.encode(&inks, 400, 300, jpeg_encoder::ColorType::Cmyk).unwrap();
    bytes
}

fn animated_gif() -> Vec<u8> {
    let mut bytes = Vec::new();
    let mut encoder = GifEncoder::new(&mut bytes);
    for shade in [90u8, 160] {
        let frame = RgbaImage::from_fn(240, 180, |x, y| {
            let grain = ((x * 31 + y * 17) % 23) as u8;
            image::Rgba([shade + grain, shade + grain, shade + grain, 255])
        });
        encoder.encode_frame(Frame::from_parts(frame, 0, 0, Delay::from_numer_denom_ms(100, 1))).unwrap();
    }
    drop(encoder);
    bytes
}

#[test]
fn what_is_no_measurable_picture_is_refused_in_one_line() {
    let folder = tempfile::tempdir().unwrap();
    let good = write_png(folder.path(), "good.png", &scratched(300, 200));
    let whole = fs::read(&good).unwrap();
    let cases: Vec<(&str, Vec<u8>)> = vec![
        ("empty.jpg", Vec::new()),
        ("truncated.png", whole[..whole.len() / 2].to_vec()),
        ("header only.png", whole[..33].to_vec()),
        ("renamed.jpg", b"Dear keeper, thank you for the morning at the slab.\n".repeat(50)),
        ("one pixel.png", plain(1, 1).to_png8().unwrap()),
        ("thin.png", plain(20_000, 10).to_png8().unwrap()),
        ("wide.png", plain(65_535, 8).to_png8().unwrap()),
        ("black.png", picture::Grey::new(300, 200, vec![0.0; 60_000]).unwrap().to_png8().unwrap()),
        ("no numbers.tif", float_tiff(f32::NAN)),
        ("bomb.png", lying_png(60_000, 60_000)),
        ("lying.png", lying_png(5_000, 4_000)),
        ("noise.tif", [b"II*\0".to_vec(), vec![0xff; 4000]].concat()),
    ];
    for (name, bytes) in cases {
        let hostile = folder.path().join(name);
        fs::write(&hostile, bytes).unwrap();
        let ran = measure(&[&hostile, &good]);
        check_refused(&hostile, &ran);
        assert!(measured(&ran).contains(&good.to_string_lossy().into_owned()), "{name}: the rest is done");
    }
}

#[test]
fn unusual_pictures_are_measured_or_refused_in_one_line() {
    let folder = tempfile::tempdir().unwrap();
    let good = write_png(folder.path(), "good.png", &scratched(300, 200));
    for (name, bytes) in
        [("inks.jpg", cmyk_jpeg()), ("moving.gif", animated_gif()), ("floats.tif", float_tiff(0.5))]
    {
        let file = folder.path().join(name);
        fs::write(&file, bytes).unwrap();
        let ran = measure(&[&file, &good]);
        assert!(measured(&ran).contains(&good.to_string_lossy().into_owned()), "{name}");
        if ran.code == Some(0) {
            assert!(ran.stderr.is_empty(), "{name}: {:?}", ran.stderr);
            assert_eq!(measured(&ran).len(), 2, "{name}");
        } else {
            check_refused(&file, &ran);
        }
    }
}

#[test]
fn folders_vanished_and_unreadable_files_are_named() {
    let folder = tempfile::tempdir().unwrap();
    let good = write_png(folder.path(), "good.png", &scratched(300, 200));
    let inner = folder.path().join("a folder");
    fs::create_dir(&inner).unwrap();
    check_refused(&inner, &measure(&[&inner, &good]));
    let vanished = folder.path().join("vanished.png");
    check_refused(&vanished, &measure(&[&vanished, &good]));
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        let locked = folder.path().join("locked.png");
        fs::copy(&good, &locked).unwrap();
        fs::set_permissions(&locked, fs::Permissions::from_mode(0o000)).unwrap();
        // The superuser may read everything; then there is nothing to refuse.
        if fs::File::open(&locked).is_err() {
            check_refused(&locked, &measure(&[&locked, &good]));
        }
    }
}

fn odd_names() -> Vec<OsString> {
    let mut names: Vec<OsString> =
        ["with space.png", "it's \"quoted\".png", "🪨 stone.png", "-dash.png", "dot.", "línea\u{301}.png"]
            .into_iter()
            .map(OsString::from)
            .collect();
    #[cfg(unix)]
    {
        use std::os::unix::ffi::OsStringExt;
        names.push(OsString::from_vec(b"not \xff text.png".to_vec()));
        names.push(OsString::from("line\nbreak.png"));
    }
    names
}

#[test]
fn odd_names_are_measured_and_added_like_any_other() {
    let folder = tempfile::tempdir().unwrap();
    let bytes = scratched(200, 150).to_png8().unwrap();
    let mut files: Vec<PathBuf> = Vec::new();
    for (number, name) in odd_names().into_iter().enumerate() {
        let file = folder.path().join(name);
        // Different bytes each time, behind the end of the picture, so that none is taken for another.
        if fs::write(&file, [bytes.clone(), vec![number as u8]].concat()).is_ok() {
            files.push(file);
        }
    }
    let all: Vec<&Path> = files.iter().map(PathBuf::as_path).collect();
    let ran = measure(&all);
    assert_eq!(ran.code, Some(0), "{:?}", ran.stderr);
    assert_eq!(measured(&ran).len(), files.len());
    let slab = folder.path().join("slab");
    assert_eq!(run(BINARY, [arg("begin".as_ref()), arg(&slab)]).code, Some(0));
    let words = [arg("add".as_ref()), arg(&slab)];
    let added = run(BINARY, words.into_iter().chain(all.iter().map(|file| arg(file))));
    assert_eq!(added.code, Some(0), "{:?}", added.stderr);
    let captures = archive::Examination::open(&slab).unwrap().captures().unwrap();
    assert_eq!(captures.len(), files.len());
    for (capture, file) in captures.iter().zip(&files) {
        let name = file.file_name().unwrap();
        let kept = capture.file_name_bytes.clone().unwrap_or_else(|| capture.file_name.clone().into_bytes());
        assert_eq!(kept, name.as_encoded_bytes());
    }
}

#[test]
fn a_folder_is_walked_and_the_same_picture_added_once() {
    let folder = tempfile::tempdir().unwrap();
    let (slab, card) = (folder.path().join("slab"), folder.path().join("card"));
    fs::create_dir_all(card.join("b/c")).unwrap();
    write_png(&card, "1.png", &scratched(200, 150));
    write_png(&card.join("b"), "2.png", &plain(200, 150));
    write_png(&card.join("b/c"), "copy of 1.png", &scratched(200, 150));
    fs::write(card.join("notes.txt"), "not a picture").unwrap();
    fs::write(card.join("b/broken.png"), "not a picture either").unwrap();
    assert_eq!(run(BINARY, [arg("begin".as_ref()), arg(&slab)]).code, Some(0));
    let ran = run(BINARY, [arg("add".as_ref()), arg(&slab), arg(&card), arg("--json".as_ref())]);
    check_refused(&card.join("b/broken.png"), &ran);
    let answer: Value = serde_json::from_str(&ran.stdout).unwrap();
    let already: Vec<bool> =
        answer["added"].as_array().unwrap().iter().map(|added| added["already"].as_bool().unwrap()).collect();
    assert_eq!(already.iter().filter(|already| **already).count(), 1, "{answer}");
    assert_eq!((already.len(), answer["passed_over"].as_u64()), (3, Some(1)));
    assert_eq!(archive::Examination::open(&slab).unwrap().captures().unwrap().len(), 2);
    let empty = folder.path().join("empty");
    fs::create_dir(&empty).unwrap();
    check_refused(&empty, &run(BINARY, [arg("add".as_ref()), arg(&slab), arg(&empty)]));
}

/// A disk of 3 MB that fills up while pictures are added; needs the right to mount one.
#[cfg(target_os = "linux")]
#[test]
fn a_full_disk_is_told_and_leaves_nothing_half_written() {
    use std::process::Command;
    let folder = tempfile::tempdir().unwrap();
    let disk = folder.path().join("disk");
    fs::create_dir(&disk).unwrap();
    let mounted = Command::new("mount")
        .args(["-t", "tmpfs", "-o", "size=3m", "tmpfs"])
        .arg(&disk)
        .output()
        .is_ok_and(|output| output.status.success());
    if !mounted {
        eprintln!("skipped: a small disk cannot be mounted here");
        return;
    }
    let outcome = std::panic::catch_unwind(|| {
        let pictures: Vec<PathBuf> =
            (0..6).map(|n| write_png(folder.path(), format!("{n}.png"), &scratched(900 + n, 800))).collect();
        let slab = disk.join("slab");
        assert_eq!(run(BINARY, [arg("begin".as_ref()), arg(&slab)]).code, Some(0));
        let words = [arg("add".as_ref()), arg(&slab)];
        let ran = run(BINARY, words.into_iter().chain(pictures.iter().map(|p| arg(p))));
        assert_eq!(ran.code, Some(1), "{:?}", ran.stderr);
        assert!(ran.stderr.iter().all(|line| line.contains("full; free some space")), "{:?}", ran.stderr);
        let examination = archive::Examination::open(&slab).unwrap();
        let captures = examination.captures().unwrap();
        assert_eq!(captures.len() + ran.stderr.len(), pictures.len());
        for capture in &captures {
            examination.check_original(capture).unwrap();
        }
        let kept = fs::read_dir(slab.join("originals")).unwrap().count();
        assert_eq!(kept, captures.len(), "nothing half-written stays");
    });
    let unmounted = Command::new("umount").arg("-l").arg(&disk).status();
    assert!(unmounted.is_ok_and(|status| status.success()));
    outcome.unwrap();
}

#[test]
fn output_to_nobody_is_no_failure() {
    let folder = tempfile::tempdir().unwrap();
    let good = write_png(folder.path(), "good.png", &scratched(300, 200));
    let mut child = command(BINARY, [arg("measure".as_ref()), arg(&good)])
        .stdout(std::process::Stdio::piped())
        .stderr(std::process::Stdio::piped())
        .spawn()
        .unwrap();
    drop(child.stdout.take());
    let ended = ran(child.wait_with_output().unwrap());
    assert_eq!(ended.code, Some(0), "{:?}", ended.stderr);
}
