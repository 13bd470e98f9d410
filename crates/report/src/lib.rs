//! Findings, figures, one-file HTML, PDF and tables: from the numbers of an examination to pages a sceptic can check.
//!
//! Invariant: no clock, no disk, no network, no serde; the same [`Dossier`] gives the same bytes.
//! Invariant: nothing is measured here. Every number printed comes from the dossier; only its wording is ours.

mod chapters;
mod document;
pub mod dossier;
pub mod figures;
mod findings;
mod html;
mod limits;
mod pages;
mod pdf;
mod tables;
mod words;

#[cfg(test)]
mod testing;

pub use dossier::Dossier;
pub use findings::{Finding, Kind, findings};
pub use limits::{Limit, limits};
pub use pages::{
    Page, PageBlock, chapter_page, comparison, lay_of_capture, lay_of_station, lay_of_whole, simulated_page,
    weighing_page,
};
pub use pdf::{FieldSheet, SheetField, SheetPlan};
pub use tables::TableFile;
pub use words::{measured, percent, significant};

/// Why a report could not be printed. None of these is the fault of the measurements; the dossier itself is always printable.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum ReportError {
    /// The page template failed.
    #[error("the HTML report could not be written: {reason}")]
    Html {
        /// What the template engine said.
        reason: String,
    },
    /// The PDF could not be set or exported.
    #[error("the PDF report could not be written: {reason}; the HTML report holds the same content")]
    Pdf {
        /// What the typesetter said.
        reason: String,
    },
    /// A table could not be written.
    #[error("the table {name} could not be written: {reason}")]
    Table {
        /// File name of the table.
        name: &'static str,
        /// What the writer said.
        reason: String,
    },
}

/// The report as one self-contained HTML page: pictures and figures inside, no script, nothing loaded from anywhere.
///
/// # Errors
/// [`ReportError::Html`] if the page template fails.
pub fn html(dossier: &Dossier) -> Result<String, ReportError> {
    html::print(&chapters::document(dossier))
}

/// The report as a tagged PDF (PDF/UA-1, A4), the same content as [`html`].
///
/// # Errors
/// [`ReportError::Pdf`] if the pages cannot be set or exported.
pub fn pdf(dossier: &Dossier) -> Result<Vec<u8>, ReportError> {
    pdf::print(&chapters::document(dossier)).map(|pdf| pdf.bytes)
}

/// The plan of a visit as one page to take along: check boxes, conditions, permission. Tagged PDF (PDF/UA-1), A4.
///
/// # Errors
/// [`ReportError::Pdf`] if the page cannot be set or exported.
pub fn field_sheet(sheet: &FieldSheet) -> Result<Vec<u8>, ReportError> {
    pdf::print_sheet(sheet).map(|pdf| pdf.bytes)
}

/// The numbers behind the report as CSV files.
///
/// # Errors
/// [`ReportError::Table`] if a table cannot be written.
pub fn tables(dossier: &Dossier) -> Result<Vec<TableFile>, ReportError> {
    tables::print(dossier)
}
