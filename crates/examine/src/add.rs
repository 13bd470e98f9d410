//! Taking pictures in.

use std::fs;
use std::path::{Path, PathBuf};

use archive::{Added, CaptureKind, Examination, InstrumentId, NewCapture, StationId};
use picture::{Facts, Fingerprint, Limits, Picture};

use crate::error::shown;
use crate::{ExamineError, Failure, Watch};

/// How pictures are to be taken in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct AddOptions {
    /// What they show.
    pub kind: CaptureKind,
    /// Where on the object.
    pub station: Option<StationId>,
    /// With what.
    pub instrument: Option<InstrumentId>,
}

/// What became of the files.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Taken {
    /// Every picture that is in the examination now, in order: its file, new or there before, and notes on reading it.
    pub files: Vec<(PathBuf, Added, Vec<String>)>,
    /// Every file that is not.
    pub failures: Vec<Failure>,
    /// Files in folders that are no pictures by their names and were passed over.
    pub passed_over: usize,
}

/// Endings of the names of files that are taken from a folder. A file named by the user is tried whatever its name.
const ENDINGS: [&str; 9] = ["jpg", "jpeg", "jpe", "png", "tif", "tiff", "webp", "bmp", "gif"];
/// A folder within a folder within a folder …: deeper than anybody files pictures, and an end to loops of links.
const DEEPEST: usize = 16;

/// Adds pictures. A folder is walked: every picture in it and below, by name. Each file that fails is named; the rest goes on.
///
/// # Errors
/// [`ExamineError::Stopped`] if the watcher gave up; what was added stays.
pub fn add(
    examination: &Examination,
    paths: &[PathBuf],
    options: &AddOptions,
    watch: &dyn Watch,
) -> Result<Taken, ExamineError> {
    let mut taken = Taken::default();
    let mut files = Vec::new();
    for path in paths {
        if path.is_dir() {
            let before = files.len();
            walk(path, 0, &mut files, &mut taken);
            if files.len() == before {
                let none = ExamineError::request(
                    "holds no picture (JPEG, PNG, TIFF, WebP, BMP); choose another folder",
                );
                taken.failures.push(Failure::of_file(path, &none));
            }
        } else {
            files.push(path.clone());
        }
    }
    for (n_done, path) in files.iter().enumerate() {
        #[expect(clippy::cast_precision_loss, reason = "a share for a progress bar")]
        let done = n_done as f64 / files.len() as f64;
        if !watch.at(done, &shown(path)) {
            return Err(ExamineError::Stopped);
        }
        match add_file(examination, path, options) {
            Ok((added, notes)) => taken.files.push((path.clone(), added, notes)),
            Err(error) => taken.failures.push(Failure::of_file(path, &error)),
        }
    }
    watch.at(1.0, "");
    Ok(taken)
}

fn walk(folder: &Path, depth: usize, files: &mut Vec<PathBuf>, taken: &mut Taken) {
    let entries = match fs::read_dir(folder) {
        Ok(entries) => entries,
        Err(e) => {
            let error =
                ExamineError::request(format!("cannot be read ({e}); check the folder's permissions"));
            taken.failures.push(Failure::of_file(folder, &error));
            return;
        }
    };
    let mut paths: Vec<PathBuf> = entries.flatten().map(|entry| entry.path()).collect();
    // Folders come in any order; captures are numbered in that of their names.
    paths.sort();
    for path in paths {
        let hidden = path.file_name().is_some_and(|name| name.as_encoded_bytes().starts_with(b"."));
        if path.is_dir() {
            if !hidden && depth < DEEPEST {
                walk(&path, depth + 1, files, taken);
            }
        } else if !hidden && named_like_a_picture(&path) {
            files.push(path);
        } else {
            taken.passed_over += 1;
        }
    }
}

fn named_like_a_picture(path: &Path) -> bool {
    let ending = path.extension().map(|ending| ending.to_string_lossy().to_ascii_lowercase());
    ending.is_some_and(|ending| ENDINGS.contains(&ending.as_str()))
}

fn add_file(
    examination: &Examination,
    path: &Path,
    options: &AddOptions,
) -> Result<(Added, Vec<String>), ExamineError> {
    // Known pictures are told by their bytes alone: adding a card's folder again costs no decoding.
    if let Ok(fingerprint) = Fingerprint::of_file(path)
        && let Some(there) = examination.capture_of(&fingerprint.hex())?
    {
        return Ok((Added::Already(there.id), Vec::new()));
    }
    let (picture, fingerprint) = picture::open(path, &Limits::default())?;
    let notes = picture.facts.notes.clone();
    let added = examination.add(path, &new_capture(&picture, &fingerprint.hex(), options))?;
    Ok((added, notes))
}

/// Adds one picture from memory, under the name it came with.
///
/// # Errors
/// The bytes are no picture; the disk is full.
pub fn add_bytes(
    examination: &Examination,
    bytes: &[u8],
    file_name: &str,
    options: &AddOptions,
) -> Result<(Added, Vec<String>), ExamineError> {
    let sha256 = Fingerprint::of_bytes(bytes).hex();
    if let Some(there) = examination.capture_of(&sha256)? {
        return Ok((Added::Already(there.id), Vec::new()));
    }
    let picture = picture::read(bytes, file_name, &Limits::default())?;
    let added = examination.add_bytes(bytes, file_name, &new_capture(&picture, &sha256, options))?;
    Ok((added, picture.facts.notes))
}

fn new_capture(picture: &Picture, sha256: &str, options: &AddOptions) -> NewCapture {
    let facts = &picture.facts;
    NewCapture {
        kind: options.kind,
        station: options.station,
        instrument: options.instrument,
        sha256: sha256.to_owned(),
        format: format_words(facts),
        // Nothing wider is decoded: the limit on pixels is far below.
        width_px: u32::try_from(facts.width_px).unwrap_or(u32::MAX),
        height_px: u32::try_from(facts.height_px).unwrap_or(u32::MAX),
        taken_at: facts.taken_at.clone(),
        exif: facts.exif.iter().map(|(name, value)| format!("{name}: {value}\n")).collect(),
    }
}

/// Format, depth and colour in words: "TIFF, 16 bit, grey".
fn format_words(facts: &Facts) -> String {
    let colour = match facts.channels {
        1 | 2 => "grey",
        _ => "colour",
    };
    format!("{}, {} bit, {colour}", facts.format, facts.bits)
}
