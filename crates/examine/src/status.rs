//! How far an examination is, and what to do next.

use archive::{CaptureKind, Examination};

use crate::measure::is_due;
use crate::{ExamineError, Failure, Watch};

/// How far an examination is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Status {
    /// Name of the object.
    pub object: String,
    /// Stations.
    pub stations: usize,
    /// Captures by kind: overviews, micrographs, graduations.
    pub captures: [usize; 3],
    /// Micrographs that have no scale.
    pub without_scale: usize,
    /// Micrographs that have no station.
    pub without_station: usize,
    /// Micrographs still to be measured.
    pub to_measure: usize,
    /// Originals that are missing or altered, in words.
    pub lost: Vec<String>,
    /// What an interrupted program left, in words.
    pub unfinished: Vec<String>,
    /// What to do next, in words.
    pub next: String,
}

/// Looks at an examination. With `thorough`, every original is read and checked against its SHA-256.
///
/// # Errors
/// The examination cannot be read.
pub fn status(examination: &Examination, thorough: bool) -> Result<Status, ExamineError> {
    let mut status = Status {
        object: examination.object()?.name,
        stations: examination.stations()?.len(),
        captures: [0; 3],
        without_scale: 0,
        without_station: 0,
        to_measure: 0,
        lost: Vec::new(),
        unfinished: examination.unfinished().iter().map(ToString::to_string).collect(),
        next: String::new(),
    };
    for capture in examination.captures()? {
        let kind = match capture.kind {
            CaptureKind::Overview => 0,
            CaptureKind::Micrograph => 1,
            CaptureKind::Graduation => 2,
        };
        if let Some(count) = status.captures.get_mut(kind) {
            *count += 1;
        }
        if capture.kind == CaptureKind::Micrograph && !capture.set_aside {
            status.without_scale += usize::from(examination.setting(&capture)?.scale.is_none());
            status.without_station += usize::from(capture.station.is_none());
            status.to_measure += usize::from(is_due(examination, &capture)?);
        }
        let present = examination.original_path(&capture.sha256).is_file();
        if (thorough || !present)
            && let Err(error) = examination.check_original(&capture)
        {
            status.lost.push(format!("{}: {error}", capture.file_name));
        }
    }
    status.next = next(&status).to_owned();
    Ok(status)
}

/// Reads every original and checks it against its SHA-256; the number read, and each that is missing or altered.
///
/// # Errors
/// The examination cannot be read; the watcher gave up.
pub fn check_originals(
    examination: &Examination,
    watch: &dyn Watch,
) -> Result<(usize, Vec<Failure>), ExamineError> {
    let captures = examination.captures()?;
    let mut failures = Vec::new();
    for (index, capture) in captures.iter().enumerate() {
        #[expect(clippy::cast_precision_loss, reason = "a share for a progress bar")]
        let done = index as f64 / captures.len() as f64;
        if !watch.at(done, &capture.file_name) {
            return Err(ExamineError::Stopped);
        }
        if let Err(error) = examination.check_original(capture) {
            failures.push(Failure::new(&capture.file_name, &error.into()));
        }
    }
    Ok((captures.len(), failures))
}

fn next(status: &Status) -> &'static str {
    if !status.lost.is_empty() {
        "bring back the originals named above"
    } else if status.captures.get(1) == Some(&0) {
        "add micrographs: rubstone add EXAMINATION PICTURE… --station NAME"
    } else if status.without_scale > 0 {
        "set a scale: rubstone scale EXAMINATION --graduation PICTURE --um-per-tick 10 (or measure in pixels)"
    } else if status.to_measure > 0 {
        "measure: rubstone measure EXAMINATION"
    } else {
        "weigh the finishes (rubstone weigh EXAMINATION) and write the report (rubstone report EXAMINATION)"
    }
}
