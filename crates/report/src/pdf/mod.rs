//! The report as a tagged PDF, set by a typesetting library inside this process.

mod sheet;
mod source;
mod world;

pub(crate) use sheet::print as print_sheet;
pub use sheet::{FieldSheet, SheetField, SheetPlan};
use typst::foundations::Smart;
use typst_layout::PagedDocument;
use typst_pdf::{PdfOptions, PdfStandard, PdfStandards};

use crate::ReportError;
use crate::document::Document;

/// The exported file and its number of pages.
pub(crate) struct Pdf {
    pub(crate) bytes: Vec<u8>,
    /// Number of its pages.
    #[cfg_attr(not(test), expect(dead_code, reason = "only the tests ask for it"))]
    pub(crate) pages: usize,
}

/// Prints a document as PDF/UA-1.
pub(crate) fn print(document: &Document) -> Result<Pdf, ReportError> {
    let source = source::write(document);
    set(source.text, source.figures, &document.title)
}

/// Sets a source text with the figures it names and exports it. `title` also identifies the file.
fn set(text: String, figures: Vec<String>, title: &str) -> Result<Pdf, ReportError> {
    let printed = set_and_export(text, figures, title);
    // The library remembers earlier runs for the whole process; a server that prints often must not grow.
    comemo::evict(0);
    printed
}

fn set_and_export(text: String, figures: Vec<String>, title: &str) -> Result<Pdf, ReportError> {
    let world = world::OneReport::new(text, figures);
    let pages: PagedDocument = typst::compile(&world).output.map_err(|errors| failure(&errors))?;
    let standards = PdfStandards::new(&[PdfStandard::Ua_1])
        .map_err(|error| ReportError::Pdf { reason: error.message().to_string() })?;
    // No time stamp and an identifier from the content: the same report gives the same bytes.
    let options = PdfOptions {
        ident: Smart::Custom(title.to_owned()),
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::dossier::{Dossier, Lay, Station};
    use crate::{chapters, testing};

    #[test]
    fn an_empty_dossier_has_pages() {
        let pdf = print(&chapters::document(&Dossier::default())).unwrap();
        assert!(pdf.pages >= 1 && pdf.bytes.starts_with(b"%PDF-"));
    }

    #[test]
    fn a_field_sheet_is_one_page() {
        let field = |number: usize| SheetField {
            station: format!("station {number}"),
            fields: 4,
            width_mm: Some(6.0),
            light: "from 30° and from 120°".into(),
        };
        let sheet = FieldSheet {
            object: "a trough stone".into(),
            questions: vec!["Rotating pad or oscillating pad?".into()],
            plans: vec![
                SheetPlan {
                    what: "4 fields of 6 mm at 3 stations".into(),
                    minutes: Some(35.0),
                    power: "0.91".into()
                };
                3
            ],
            fields: (1..=6).map(field).collect(),
            cautions: vec!["Do not touch the object without its keeper's permission".into()],
        };
        let pdf = print_sheet(&sheet).unwrap();
        assert_eq!(pdf.pages, 1);
        assert_eq!(print_sheet(&FieldSheet::default()).unwrap().pages, 1);
    }

    #[test]
    fn every_station_starts_a_page() {
        let station = |label: &str| Station {
            label: label.into(),
            captures: vec![testing::capture_of(
                800,
                600,
                None,
                vec![testing::straight_trace(1, [10.0, 20.0], [700.0, 90.0])],
            )],
            lay: Some(Lay::default()),
            ..Station::default()
        };
        let pages = |labels: &[&str]| {
            let dossier = Dossier {
                stations: labels.iter().map(|label| station(label)).collect(),
                ..Dossier::default()
            };
            print(&chapters::document(&dossier)).unwrap().pages
        };
        assert!(pages(&["A", "B", "C"]) >= pages(&["A"]) + 2);
    }
}
