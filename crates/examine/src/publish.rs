//! The report: gathered, printed, and written into the examination.

use std::path::PathBuf;

use archive::{Examination, WorkKind};
use report::Dossier;

use crate::watch::Part;
use crate::{ExamineError, Watch};

/// Files of a report that was written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Published {
    /// The one-file HTML page.
    pub html: PathBuf,
    /// The PDF.
    pub pdf: PathBuf,
    /// The tables.
    pub tables: Vec<PathBuf>,
}

/// What to print.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct PublishOptions {
    /// When the report is made, in words; left out of the report when not given.
    pub made_at: Option<String>,
    /// Chapters left out: `comparison`, `weighing`, `form`, `stone`, `next visit`.
    pub without: Vec<String>,
    /// Leaves the pictures of the captures out: they take most of the time.
    pub bare: bool,
}

/// Share of the time that gathering takes; printing the PDF takes most of the rest (a rough measure).
const GATHERING_SHARE: f64 = 0.6;

/// Gathers what the report prints.
///
/// # Errors
/// The examination cannot be read, a chapter is not known, or the watcher gave up.
pub fn dossier(
    examination: &Examination,
    options: &PublishOptions,
    watch: &dyn Watch,
) -> Result<Dossier, ExamineError> {
    let mut dossier = crate::dossier::gather(examination, options, watch)?;
    for chapter in &options.without {
        match chapter.as_str() {
            "comparison" => dossier.comparison = None,
            "weighing" => dossier.weighing = None,
            "form" => dossier.form = None,
            "stone" => dossier.stone = None,
            "next visit" => dossier.next_visit = None,
            other => {
                return Err(ExamineError::request(format!(
                    "there is no chapter '{other}'; leave out comparison, weighing, form, stone or next visit"
                )));
            }
        }
    }
    Ok(dossier)
}

/// Writes the report (`report/report.html`, `report/report.pdf`, `report/tables/*.csv`) into the examination. Each file is
/// replaced as a whole.
///
/// # Errors
/// As [`dossier`]; the report cannot be printed; the disk is full.
pub fn publish(
    examination: &Examination,
    options: &PublishOptions,
    watch: &dyn Watch,
) -> Result<Published, ExamineError> {
    let name = examination.root().file_name().unwrap_or_default().to_string_lossy().into_owned();
    let intent = examination.intend(WorkKind::Report, &name)?;
    let written = write(examination, options, watch);
    examination.close(intent)?;
    written
}

fn write(
    examination: &Examination,
    options: &PublishOptions,
    watch: &dyn Watch,
) -> Result<Published, ExamineError> {
    let dossier = dossier(examination, options, &Part { whole: watch, from: 0.0, to: GATHERING_SHARE })?;
    let printing = Part { whole: watch, from: GATHERING_SHARE, to: 1.0 };
    let step =
        |done: f64, what: &str| if printing.at(done, what) { Ok(()) } else { Err(ExamineError::Stopped) };
    step(0.0, "report.html")?;
    let html = examination.write_file("report/report.html", report::html(&dossier)?.as_bytes())?;
    step(0.1, "report.pdf")?;
    let pdf = examination.write_file("report/report.pdf", &report::pdf(&dossier)?)?;
    step(0.9, "tables")?;
    let mut tables = Vec::new();
    for table in report::tables(&dossier)? {
        tables.push(examination.write_file(&format!("report/tables/{}", table.name), &table.csv)?);
    }
    step(1.0, "")?;
    Ok(Published { html, pdf, tables })
}
