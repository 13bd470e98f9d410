//! Pages of results: chapters of the report, as they stand now.

use archive::{CaptureId, Examination, StationId};
use report::{Dossier, Page, PageBlock};
use wire::desk::{BlockForm, FigureForm, PageForm};

use crate::ExamineError;
use crate::describe::{StationReads, by_station, outline, read};
use crate::dossier::{bare_station, capture, compared, label, lay_of};
use crate::panels::width_rule;

/// The lay of the object (`object`), of a station (`station-N`) or of a capture (`capture-N`).
///
/// # Errors
/// No such scope; the examination cannot be read.
pub fn lay(examination: &Examination, scope: &str) -> Result<PageForm, ExamineError> {
    let unknown = || {
        ExamineError::request(format!("'{scope}' is not known here; ask for object, station-N or capture-N"))
    };
    let nothing = || ExamineError::request("there is nothing measured here yet; measure its pictures first");
    let groups = outline(examination)?;
    let found = match scope.split_once('-') {
        None if scope == "object" => {
            let groups = by_station(examination)?;
            match groups.as_slice() {
                // With one station, its lay is the object's.
                [only] => Some(report::lay_of_station(&bare_station(examination, 0, only, true)?)),
                _ => lay_of(groups.iter().flat_map(|(_, reads)| reads), &width_rule(examination)?)
                    .map(|whole| report::lay_of_whole(&whole)),
            }
        }
        Some(("station", id)) => {
            let id = StationId(id.parse().map_err(|_| unknown())?);
            let of = |station: &Option<archive::Station>| station.as_ref().is_some_and(|s| s.id == id);
            let index = groups.iter().position(|(station, _)| of(station)).ok_or_else(nothing)?;
            let group = groups.into_iter().nth(index).ok_or_else(nothing)?;
            let reads = group.1.into_iter().map(|capture| read(examination, capture));
            let group = (group.0, reads.collect::<Result<_, _>>()?);
            Some(report::lay_of_station(&bare_station(examination, index, &group, true)?))
        }
        Some(("capture", id)) => {
            let id = CaptureId(id.parse().map_err(|_| unknown())?);
            let (label, wanted) = labelled(groups, id).ok_or_else(nothing)?;
            let read = read(examination, wanted)?;
            let bare = capture::bare(examination, &read, &label)?;
            let lay = lay_of(std::iter::once(&read), &width_rule(examination)?);
            report::lay_of_capture(&report::dossier::Capture { lay, ..bare })
        }
        _ => return Err(unknown()),
    };
    found.map(page).ok_or_else(nothing)
}

/// One capture of an outline with the label it has in the report.
fn labelled(
    groups: Vec<crate::describe::StationCaptures>,
    id: CaptureId,
) -> Option<(String, archive::Capture)> {
    groups.into_iter().enumerate().find_map(|(index, (_, captures))| {
        let number = captures.iter().position(|capture| capture.id == id)?;
        Some((format!("{}{}", label(index), number + 1), captures.into_iter().nth(number)?))
    })
}

/// The test whether stations differ, with the stations side by side.
///
/// # Errors
/// Fewer than two stations have traces that count; the examination cannot be read.
pub fn comparison(examination: &Examination) -> Result<PageForm, ExamineError> {
    let groups = by_station(examination)?;
    let dossier = Dossier {
        stations: bare_stations(examination, &groups, true)?,
        comparison: compared(&groups),
        ..Dossier::default()
    };
    report::comparison(&dossier).map(page).ok_or_else(|| {
        ExamineError::request(
            "at least two stations with measured micrographs are needed; measure pictures of another station",
        )
    })
}

/// All stations, bare.
pub(super) fn bare_stations(
    examination: &Examination,
    groups: &[StationReads],
    with_lay: bool,
) -> Result<Vec<report::dossier::Station>, ExamineError> {
    let stations = groups.iter().enumerate();
    stations.map(|(index, group)| bare_station(examination, index, group, with_lay)).collect()
}

/// Width up to which two figures stand side by side, drawing units: that of the report's panels.
const NARROW: f64 = 400.0;

/// A page of the report as a form.
pub(super) fn page(shown: Page) -> PageForm {
    PageForm {
        title: shown.title,
        blocks: shown.blocks.into_iter().map(block).collect(),
        sections: shown.pages.into_iter().map(page).collect(),
    }
}

fn block(block: PageBlock) -> BlockForm {
    match block {
        PageBlock::Paragraph(text) => BlockForm::Paragraph { text },
        PageBlock::List(items) => BlockForm::List { items },
        PageBlock::Facts(facts) => {
            BlockForm::Facts { facts: facts.into_iter().map(|(name, value)| [name, value]).collect() }
        }
        PageBlock::Table { caption, headings, rows } => BlockForm::Table { caption, headings, rows },
        PageBlock::Figures(figures) => BlockForm::Figures {
            figures: figures
                .into_iter()
                .map(|(id, figure, caption)| FigureForm {
                    alternative_text: figure.alternative_text(),
                    svg: figure.svg(&id),
                    wide: figure.width > NARROW,
                    caption,
                })
                .collect(),
        },
        PageBlock::Caution(text) => BlockForm::Caution { text },
    }
}
