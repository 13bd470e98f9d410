//! The report as a tagged PDF, set by a typesetting library inside this process.

mod source;
mod world;

use typst::foundations::Smart;
use typst_layout::PagedDocument;
use typst_pdf::{PdfOptions, PdfStandard, PdfStandards};

use crate::ReportError;
use crate::document::Document;

/// The exported file and its number of pages.
pub(crate) struct Pdf {
    pub(crate) bytes: Vec<u8>,
    pub(crate) pages: usize,
}

/// Prints a document as PDF/UA-1.
pub(crate) fn print(document: &Document) -> Result<Pdf, ReportError> {
    let printed = set_and_export(document);
    // The library remembers earlier runs for the whole process; a server that prints often must not grow.
    comemo::evict(0);
    printed
}

fn set_and_export(document: &Document) -> Result<Pdf, ReportError> {
    let source = source::write(document);
    let world = world::OneReport::new(source.text, source.figures);
    let pages: PagedDocument = typst::compile(&world).output.map_err(|errors| failure(&errors))?;
    let standards = PdfStandards::new(&[PdfStandard::Ua_1])
        .map_err(|error| ReportError::Pdf { reason: error.message().to_string() })?;
    // No time stamp and an identifier from the content: the same report gives the same bytes.
    let options = PdfOptions {
        ident: Smart::Custom(document.title.clone()),
        creator: Smart::Custom(Some("Rubstone".into())),
        standards,
        ..PdfOptions::default()
    };
    let bytes = typst_pdf::pdf(&pages, &options).map_err(|errors| failure(&errors))?;
    Ok(Pdf { bytes, pages: pages.pages().len() })
}

fn failure(errors: &[typst::diag::SourceDiagnostic]) -> ReportError {
    let reasons: Vec<&str> = errors.iter().map(|error| error.message.as_str()).collect();
    ReportError::Pdf { reason: reasons.join("; ") }
}
