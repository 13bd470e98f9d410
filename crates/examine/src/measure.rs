//! From pictures to traces, for files alone and for the captures of an examination.

use std::path::{Path, PathBuf};

use archive::{Capture, CaptureKind, Examination, NewMeasurement, Setting, WorkKind};
use picture::{Distortion, Light, Limits, Picture, Verdict};
use quantity::UmPerPx;
use rayon::prelude::*;
use trace::{Settings, TraceError};
use weigh::Limit;
use wire::kept::Kept;
use wire::measure::CaptureForm;

use crate::describe::describe_one;
use crate::error::shown;
use crate::reach::reach;
use crate::watch::Pieces;
use crate::{ExamineError, Failure, SEED, SOFTWARE, Watch};

/// What is known of pictures that belong to no examination.
#[derive(Debug, Clone, PartialEq)]
pub struct MeasureOptions {
    /// Scale, if one is known.
    pub um_per_px: Option<UmPerPx>,
    /// Light.
    pub light: Light,
    /// Lens, if it has been calibrated.
    pub lens: Option<Distortion>,
    /// False traces to expect per megapixel of scratch-free stone: 5 by default, 0.05 is strict.
    pub expected_false: f64,
}

impl Default for MeasureOptions {
    fn default() -> Self {
        let settings = Settings::default();
        Self { um_per_px: None, light: settings.light, lens: None, expected_false: settings.expected_false }
    }
}

/// What became of some files.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct FileMeasures {
    /// One entry per picture measured, in the order given.
    pub captures: Vec<CaptureForm>,
    /// Every file that failed, or that holds a picture not usable for measuring.
    pub failures: Vec<Failure>,
}

/// Pictures measured at the same time: enough to keep the processors busy where parts of the work cannot be shared, few
/// enough that their memory stays bounded.
const AT_ONCE: usize = 2;
/// Files larger than this are measured alone, bytes: some 8 MP of compressed photograph, or 12 MP of grey TIFF.
const LARGE_BYTES: u64 = 12_000_000;

/// Measures picture files that belong to no examination. Each file that fails is named; the rest goes on.
///
/// # Errors
/// [`ExamineError::Stopped`] if the watcher gave up.
pub fn measure_files(
    files: &[PathBuf],
    options: &MeasureOptions,
    watch: &dyn Watch,
) -> Result<FileMeasures, ExamineError> {
    let pieces = Pieces::new(watch, files.len());
    let bytes: Vec<u64> =
        files.iter().map(|file| std::fs::metadata(file).map_or(0, |data| data.len())).collect();
    let mut done = FileMeasures::default();
    for batch in batches(&bytes) {
        let outcomes: Vec<(usize, Result<CaptureForm, ExamineError>)> = batch
            .par_iter()
            .filter_map(|&index| files.get(index).map(|file| (index, file)))
            .map(|(index, file)| {
                (index, measure_file(file, options, &|share| pieces.at(index, share, &shown(file))))
            })
            .collect();
        for (index, outcome) in outcomes {
            let Some(file) = files.get(index) else { continue };
            match outcome {
                Err(ExamineError::Stopped) => return Err(ExamineError::Stopped),
                Err(error) => done.failures.push(Failure::of_file(file, &error)),
                Ok(form) => {
                    done.failures.extend(not_usable(
                        &shown(file),
                        &form.quality.verdict,
                        &form.quality.reasons,
                    ));
                    done.captures.push(form);
                }
            }
        }
    }
    Ok(done)
}

/// Measures one picture file.
///
/// # Errors
/// The file is no picture, too small to hold a trace, or `watch` answered `false`.
pub fn measure_file(
    file: &Path,
    options: &MeasureOptions,
    watch: &(dyn Fn(f64) -> bool + Sync),
) -> Result<CaptureForm, ExamineError> {
    let (picture, fingerprint) = picture::open(file, &Limits::default())?;
    let setting =
        Settings { expected_false: options.expected_false, light: options.light, lens: options.lens };
    let size_px = size(&picture);
    let kept = kept(picture, &setting, watch)?;
    Ok(measured_form(
        &Measured {
            file: shown(file),
            sha256: fingerprint.hex(),
            size_px,
            scale: options.um_per_px,
            light: options.light,
            lens: options.lens,
        },
        &kept,
    ))
}

/// What a measured picture is, besides its measurement.
#[derive(Debug, Clone, PartialEq)]
pub struct Measured {
    /// File as it was named.
    pub file: String,
    /// SHA-256 of the file.
    pub sha256: String,
    /// Width and height, px.
    pub size_px: (u32, u32),
    /// Scale, if one is known.
    pub scale: Option<UmPerPx>,
    /// Light.
    pub light: Light,
    /// Lens, if it has been calibrated.
    pub lens: Option<Distortion>,
}

/// The contract's form of a measurement, with the lay and the reach of its traces that are not suspect.
#[must_use]
pub fn measured_form(measured: &Measured, kept: &Kept) -> CaptureForm {
    let accepted: Vec<&trace::Trace> =
        kept.found.traces.iter().filter(|trace| trace.suspect.is_none()).collect();
    let reach = reach(measured.size_px, measured.scale, &kept.found, &accepted, measured.lens)
        .map(|(reach, _)| reach);
    let description = describe_one(measured.size_px, measured.scale, &accepted, SEED);
    let mut quality = wire::measure::quality(&kept.quality, &kept.found, measured.light, measured.scale);
    quality.expected_false = Some(kept.expected_false);
    quality.notes.clone_from(&kept.notes);
    CaptureForm {
        file: measured.file.clone(),
        sha256: measured.sha256.clone(),
        width_px: measured.size_px.0,
        height_px: measured.size_px.1,
        um_per_px: measured.scale.map(UmPerPx::value),
        quality,
        traces: kept.found.traces.iter().map(wire::measure::trace).collect(),
        lay: wire::measure::lay(&description),
        reach: wire::measure::ReachForm {
            radius_mm: reach.and_then(|reach| reach.radius_mm).filter(|radius| radius.is_finite()),
            radius_px: reach.map_or(0.0, |reach| reach.radius_px),
            limited_by: reach.map_or(Limit::Field, |reach| reach.limited_by).word().to_owned(),
        },
    }
}

fn size(picture: &Picture) -> (u32, u32) {
    let side = |n: usize| u32::try_from(n).unwrap_or(u32::MAX);
    (side(picture.grey.width()), side(picture.grey.height()))
}

/// Judges and traces one decoded picture.
fn kept(
    picture: Picture,
    settings: &Settings,
    watch: &(dyn Fn(f64) -> bool + Sync),
) -> Result<Kept, ExamineError> {
    let quality = picture::judge(&picture.grey, &picture.facts);
    let expected_false = settings.expected_on(picture.grey.width(), picture.grey.height());
    let found = trace::find(&picture.grey, &quality, settings, watch).map_err(|error| match error {
        TraceError::Stopped => ExamineError::Stopped,
        other => ExamineError::Trace(other),
    })?;
    Ok(Kept { camera: picture.facts.camera, notes: picture.facts.notes, quality, expected_false, found })
}

/// A picture that cannot be used is named like a failure, though what little was measured is kept.
fn not_usable(subject: &str, verdict: &str, reasons: &[String]) -> Option<Failure> {
    (verdict == Verdict::NotUsable.words()).then(|| {
        let why = reasons.join("; ");
        let error = ExamineError::request(format!("not usable for measuring: {why}; take the picture again"));
        Failure::new(subject, &error)
    })
}

/// Indices in their order, a few at a time, large ones alone.
fn batches(bytes: &[u64]) -> Vec<Vec<usize>> {
    let mut batches: Vec<Vec<usize>> = Vec::new();
    let mut open = false;
    for (index, &size) in bytes.iter().enumerate() {
        let large = size > LARGE_BYTES;
        match batches.last_mut() {
            Some(last) if open && !large && last.len() < AT_ONCE => last.push(index),
            _ => batches.push(vec![index]),
        }
        open = !large;
    }
    batches
}

/// Version of the measuring. Raise it with every change after which the same picture and setting may give another quality or
/// other traces: what examinations keep from before is then measured anew.
const MEASURING_VERSION: u32 = 2;

/// Everything a measurement depends on, as one line: a capture with the same line needs no new measuring.
#[must_use]
pub(crate) fn settings_line(setting: &Setting, expected_false: f64) -> String {
    let light = match setting.light {
        Light::Azimuth(axis) => format!("azimuth {}", axis.degrees()),
        Light::Ring => "ring".to_owned(),
        Light::Coaxial => "coaxial".to_owned(),
        Light::Unknown => "unknown".to_owned(),
    };
    let lens =
        setting.lens.map_or("none".to_owned(), |lens| format!("{} {:?}", lens.k1.value, lens.centre_px));
    format!(
        "{SOFTWARE}; measuring {MEASURING_VERSION}; expected false {expected_false}; light {light}; lens {lens}"
    )
}

/// Kind under which an examination keeps how strict its measuring is.
const MEASURING: &str = "measuring";

/// False traces that an examination expects per megapixel of scratch-free stone.
///
/// # Errors
/// The examination cannot be read.
pub fn expected_false(examination: &Examination) -> Result<f64, ExamineError> {
    match examination.result(MEASURING)? {
        Some(stored) => Ok(wire::measuring::read(&stored.payload)?.expected_false),
        None => Ok(Settings::default().expected_false),
    }
}

/// Sets how many false traces an examination expects per megapixel of scratch-free stone; captures measured with another
/// number are then out of date.
///
/// # Errors
/// A number that cannot be expected; the examination cannot be written.
pub fn set_expected_false(examination: &Examination, expected: f64) -> Result<(), ExamineError> {
    let expected_false = usable_expected_false(expected)?;
    let payload = wire::measuring::write(&wire::measuring::Measuring::new(expected_false))?;
    crate::results::keep(examination, MEASURING, SOFTWARE.to_owned(), payload, SEED)
}

/// A number of false traces that can be expected.
///
/// # Errors
/// It is none.
pub fn usable_expected_false(expected: f64) -> Result<f64, ExamineError> {
    if expected.is_finite() && expected > 0.0 {
        return Ok(expected);
    }
    let words = format!("{expected} false traces cannot be expected; give a number above 0, such as 1");
    Err(ExamineError::request(words))
}

/// Whether a capture has to be measured (again): never measured, or with another version, light or lens.
///
/// # Errors
/// Trouble with the database.
pub(crate) fn is_due(examination: &Examination, capture: &Capture) -> Result<bool, ExamineError> {
    if capture.kind != CaptureKind::Micrograph || capture.set_aside {
        return Ok(false);
    }
    let line = settings_line(&examination.setting(capture)?, expected_false(examination)?);
    Ok(examination.measured_with(capture.id)?.as_deref() != Some(line.as_str()))
}

/// Measures every micrograph of an examination that is not measured yet with this version, light and lens. Each one is kept
/// as soon as it is done, so that an interruption loses no more than the ones under way. Captures that fail are named; the
/// rest goes on. The number of captures measured is returned with the failures.
///
/// # Errors
/// [`ExamineError::Stopped`] if the watcher gave up; trouble with the examination's disk.
pub fn measure_examination(
    examination: &Examination,
    watch: &dyn Watch,
) -> Result<(usize, Vec<Failure>), ExamineError> {
    let mut due = Vec::new();
    for capture in examination.captures()? {
        if is_due(examination, &capture)? {
            let setting = examination.setting(&capture)?;
            due.push((capture, setting));
        }
    }
    let expected_false = expected_false(examination)?;
    let pieces = Pieces::new(watch, due.len());
    let bytes: Vec<u64> = due.iter().map(|(capture, _)| capture.bytes).collect();
    let (mut n_measured, mut failures) = (0, Vec::new());
    for batch in batches(&bytes) {
        let batch: Vec<(usize, &(Capture, Setting))> =
            batch.iter().filter_map(|&index| due.get(index).map(|one| (index, one))).collect();
        let intents = batch
            .iter()
            .map(|(_, (capture, _))| examination.intend(WorkKind::Measure, &capture.file_name))
            .collect::<Result<Vec<_>, _>>()?;
        let root = examination.root();
        let outcomes: Vec<Result<Kept, ExamineError>> = batch
            .par_iter()
            .map(|&(index, (capture, setting))| {
                let original = root.join(archive::ORIGINALS).join(&capture.sha256);
                measure_capture(&original, capture, setting, expected_false, &|share| {
                    pieces.at(index, share, &capture.file_name)
                })
            })
            .collect();
        let mut stopped = false;
        for (((_, (capture, setting)), outcome), intent) in batch.into_iter().zip(outcomes).zip(intents) {
            let outcome = outcome.and_then(|kept| {
                let settings = settings_line(setting, expected_false);
                keep(examination, capture, settings, &kept).map(|()| kept)
            });
            match outcome {
                Ok(kept) => {
                    n_measured += 1;
                    let verdict = kept.quality.verdict.words();
                    failures.extend(not_usable(&capture.file_name, verdict, &kept.quality.reasons));
                }
                Err(ExamineError::Stopped) => stopped = true,
                Err(error) => failures.push(Failure::new(&capture.file_name, &error)),
            }
            examination.close(intent)?;
        }
        if stopped {
            return Err(ExamineError::Stopped);
        }
    }
    watch.at(1.0, "");
    Ok((n_measured, failures))
}

fn measure_capture(
    original: &Path,
    capture: &Capture,
    setting: &Setting,
    expected_false: f64,
    watch: &(dyn Fn(f64) -> bool + Sync),
) -> Result<Kept, ExamineError> {
    let lost =
        |what: &'static str| archive::ArchiveError::OriginalLost { sha256: capture.sha256.clone(), what };
    if !original.exists() {
        return Err(lost("missing").into());
    }
    let (picture, fingerprint) = picture::open(original, &Limits::default())?;
    if fingerprint.hex() != capture.sha256 {
        return Err(lost("altered").into());
    }
    let settings = Settings { light: setting.light, lens: setting.lens, expected_false };
    kept(picture, &settings, watch)
}

fn keep(
    examination: &Examination,
    capture: &Capture,
    settings: String,
    kept: &Kept,
) -> Result<(), ExamineError> {
    examination.keep_measurement(&NewMeasurement {
        capture: capture.id,
        settings,
        payload: wire::kept::write(kept)?,
        software: SOFTWARE.to_owned(),
        seed: SEED,
    })?;
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn large_pictures_are_measured_alone() {
        let (small, large) = (1_000, LARGE_BYTES + 1);
        assert_eq!(batches(&[small; 5]), [vec![0, 1], vec![2, 3], vec![4]]);
        assert_eq!(batches(&[small, large, small, small]), [vec![0], vec![1], vec![2, 3]]);
        assert_eq!(batches(&[large, large]), [vec![0], vec![1]]);
        assert!(batches(&[]).is_empty());
    }
}
