//! Packages against RFC 8493 (BagIt 1.0), read here line by line.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test that cannot go on fails")]

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

use archive::{ArchiveError, BagText, CaptureKind, Examination, NewCapture};
use sha2::{Digest, Sha256};

fn sha(bytes: &[u8]) -> String {
    Sha256::digest(bytes).iter().map(|b| format!("{b:02x}")).collect()
}

fn with_picture(folder: &Path) -> Examination {
    let examination = Examination::begin(&folder.join("slab"), "rubstone test").unwrap();
    let new = NewCapture {
        kind: CaptureKind::Micrograph,
        station: None,
        instrument: None,
        sha256: sha(b"picture"),
        format: "PNG".into(),
        width_px: 1,
        height_px: 1,
        taken_at: None,
        exif: String::new(),
    };
    examination.add_bytes(b"picture", "a.png", &new).unwrap();
    examination.write_file("report/report.html", b"<html></html>").unwrap();
    examination
}

fn text() -> BagText {
    BagText {
        ro_crate: "{}".into(),
        files: vec![("measurements/1.json".into(), b"[1]".to_vec())],
        info: vec![("External-Description".into(), "two\nlines".into())],
    }
}

fn lines(path: &Path) -> BTreeMap<String, String> {
    let manifest = fs::read_to_string(path).unwrap();
    manifest
        .lines()
        .map(|line| line.split_once("  ").unwrap())
        .map(|(h, p)| (p.to_owned(), h.to_owned()))
        .collect()
}

fn files_below(folder: &Path) -> Vec<std::path::PathBuf> {
    let mut found = Vec::new();
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() { found.extend(files_below(&path)) } else { found.push(path) }
    }
    found
}

/// RFC 8493: 2.1.1 the declaration's two lines; 2.1.3 every payload file in the manifest and nothing else, each with its
/// checksum; 2.2.1 the tag manifest lists every other tag file; 2.2.2 Payload-Oxum is octets.streams.
#[test]
fn a_package_is_complete_and_valid() {
    let folder = tempfile::tempdir().unwrap();
    let examination = with_picture(folder.path());
    let dest = folder.path().join("out").join("package");
    let bagged = examination.bag(&dest, &text(), &|_| true).unwrap().unwrap();
    assert_eq!(
        fs::read_to_string(dest.join("bagit.txt")).unwrap(),
        "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"
    );
    let listed = lines(&dest.join("manifest-sha256.txt"));
    let mut bytes = 0;
    let payload = files_below(&dest.join("data"));
    for path in &payload {
        let relative = path.strip_prefix(&dest).unwrap().to_str().unwrap().replace('\\', "/");
        let content = fs::read(path).unwrap();
        bytes += content.len();
        assert_eq!(listed.get(&relative), Some(&sha(&content)), "{relative}");
    }
    assert_eq!(listed.len(), payload.len());
    assert_eq!((bagged.files, bagged.bytes), (payload.len() as u64, bytes as u64));
    for expected in [
        "data/examination.sqlite",
        "data/ro-crate-metadata.json",
        "data/measurements/1.json",
        "data/report/report.html",
        &format!("data/originals/{}", sha(b"picture")),
    ] {
        assert!(listed.contains_key(expected), "{expected}");
    }
    let tags = lines(&dest.join("tagmanifest-sha256.txt"));
    assert_eq!(tags.keys().collect::<Vec<_>>(), ["bag-info.txt", "bagit.txt", "manifest-sha256.txt"]);
    for (name, hash) in tags {
        assert_eq!(hash, sha(&fs::read(dest.join(&name)).unwrap()), "{name}");
    }
    let info = fs::read_to_string(dest.join("bag-info.txt")).unwrap();
    assert!(info.contains(&format!("Payload-Oxum: {bytes}.{}\n", payload.len())), "{info}");
    assert!(info.contains("External-Description: two lines\n"), "{info}");
    let copy = Examination::open(&dest.join("data"));
    assert!(copy.is_ok(), "the payload is an examination again: {:?}", copy.err());
    let again = examination.bag(&dest, &text(), &|_| true).unwrap_err();
    assert!(matches!(again, ArchiveError::NotEmpty(_)), "{again}");
}

#[test]
fn an_altered_or_missing_original_stops_the_package() {
    let folder = tempfile::tempdir().unwrap();
    let examination = with_picture(folder.path());
    let original = examination.original_path(&sha(b"picture"));
    fs::remove_file(&original).unwrap();
    let dest = folder.path().join("package");
    let missing = examination.bag(&dest, &text(), &|_| true).unwrap_err();
    assert!(matches!(missing, ArchiveError::OriginalLost { what: "missing", .. }), "{missing}");
    fs::write(&original, b"other").unwrap();
    let altered = examination.bag(&dest, &text(), &|_| true).unwrap_err();
    assert!(matches!(altered, ArchiveError::OriginalLost { what: "altered", .. }), "{altered}");
    assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1, "nothing half-written stays");
    assert!(examination.bag(&dest, &text(), &|_| false).unwrap().is_none(), "given up when told to");
    assert!(!dest.exists());
}
