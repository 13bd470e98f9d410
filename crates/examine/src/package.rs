//! The examination as one package for keeping.

use std::path::Path;

use archive::{BagText, Bagged, Capture, Examination};
use wire::measure::Measure;
use wire::ro_crate::{CrateFile, CrateText};

use crate::describe::by_station;
use crate::measure::{Measured, measured_form};
use crate::{ExamineError, SOFTWARE, Watch};

/// Where the measurements lie in a package.
const MEASUREMENTS: &str = "measurements.json";
/// Printed as the licence where the examiner gave none.
const NO_LICENCE: &str = "No licence was given; ask the examiner before using this.";

/// Writes a package (BagIt 1.0 around an RO-Crate 1.2) to `dest`: originals, database, report, and the measurements as
/// `rubstone.measure/1`. `license` is printed as it is.
///
/// # Errors
/// `dest` exists, an original is missing or altered, the disk is full, or the watcher gave up.
pub fn package(
    examination: &Examination,
    dest: &Path,
    license: Option<&str>,
    watch: &dyn Watch,
) -> Result<Bagged, ExamineError> {
    let object = examination.object()?;
    let name = if object.name.is_empty() { "Examination of worked stone".to_owned() } else { object.name };
    let captures = examination.captures()?;
    let measurements = measurements_text(examination)?;
    let mut files: Vec<CrateFile> =
        examination.package_files()?.into_iter().map(|(path, _)| crate_file(path, &captures)).collect();
    files.push(CrateFile {
        path: archive::DATABASE.to_owned(),
        name: "The examination's database".to_owned(),
        description: "SQLite 3; opened by rubstone".to_owned(),
        media_type: "application/vnd.sqlite3".to_owned(),
        ..CrateFile::default()
    });
    files.push(CrateFile {
        path: MEASUREMENTS.to_owned(),
        name: "Measurements".to_owned(),
        description: format!("Traces, lay and reach of every micrograph, {}", wire::measure::SCHEMA),
        media_type: "application/json".to_owned(),
        bytes: Some(measurements.len() as u64),
        ..CrateFile::default()
    });
    let text = CrateText {
        description: format!(
            "Examination of the marks on {name}: {} pictures as taken, measurements and report",
            captures.len()
        ),
        date_published: jiff::Timestamp::now().strftime("%Y-%m-%d").to_string(),
        license: license.unwrap_or(NO_LICENCE).to_owned(),
        identifier: format!("urn:uuid:{}", examination.uuid()?),
        software: SOFTWARE.to_owned(),
        name: name.clone(),
        files,
    };
    let bag = BagText {
        ro_crate: wire::ro_crate::metadata(&text)?,
        files: vec![(MEASUREMENTS.to_owned(), measurements.into_bytes())],
        info: vec![
            ("Bag-Software-Agent".to_owned(), SOFTWARE.to_owned()),
            ("External-Identifier".to_owned(), text.identifier.clone()),
            ("External-Description".to_owned(), name),
        ],
    };
    let bagged = examination.bag(dest, &bag, &|done| watch.at(done, "packing"))?;
    bagged.ok_or(ExamineError::Stopped)
}

fn crate_file(path: String, captures: &[Capture]) -> CrateFile {
    let original = path.strip_prefix("originals/").and_then(|sha| captures.iter().find(|c| c.sha256 == sha));
    let Some(capture) = original else {
        let media_type = match path.rsplit('.').next() {
            Some("html") => "text/html",
            Some("pdf") => "application/pdf",
            Some("csv") => "text/csv",
            _ => "",
        };
        let name = path.rsplit('/').next().unwrap_or(&path).to_owned();
        return CrateFile { name, media_type: media_type.to_owned(), path, ..CrateFile::default() };
    };
    let media_type = match capture.format.split(',').next() {
        Some("JPEG") => "image/jpeg",
        Some("PNG") => "image/png",
        Some("TIFF") => "image/tiff",
        Some("WebP") => "image/webp",
        Some("BMP") => "image/bmp",
        Some("GIF") => "image/gif",
        _ => "",
    };
    CrateFile {
        path,
        name: capture.file_name.clone(),
        description: "Picture as it was taken, untouched".to_owned(),
        media_type: media_type.to_owned(),
        bytes: Some(capture.bytes),
        sha256: Some(capture.sha256.clone()),
        created: None,
        original: true,
    }
}

/// The measurements as `rubstone measure --json` prints them.
///
/// # Errors
/// The examination cannot be read.
pub fn measurements_text(examination: &Examination) -> Result<String, ExamineError> {
    Ok(wire::to_text(&measurements(examination)?)?)
}

/// Every measured micrograph of the examination in the contract's form, with the traces as found.
///
/// # Errors
/// The examination cannot be read.
pub fn measurements(examination: &Examination) -> Result<Measure, ExamineError> {
    let mut forms = Vec::new();
    for read in by_station(examination)?.into_iter().flat_map(|(_, reads)| reads) {
        let Some(kept) = &read.standing.kept else { continue };
        let measured = Measured {
            file: read.capture.file_name.clone(),
            sha256: read.capture.sha256.clone(),
            size_px: (read.capture.width_px, read.capture.height_px),
            scale: read.scale,
            light: examination.setting(&read.capture)?.light,
            lens: read.lens,
        };
        forms.push(measured_form(&measured, kept));
    }
    Ok(Measure::new(forms))
}
