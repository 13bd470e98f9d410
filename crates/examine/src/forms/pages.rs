//! Pages of results: chapters of the report, as they stand now.

use archive::{CaptureId, Examination, StationId};
use report::{Page, PageBlock};
use wire::desk::{BlockForm, FigureForm, PageForm};

use crate::describe::{Read, by_station};
use crate::dossier::label;
use crate::{ExamineError, PublishOptions, Unwatched};

/// The lay of the object (`object`), of a station (`station-N`) or of a capture (`capture-N`).
///
/// # Errors
/// No such scope; the examination cannot be read.
pub fn lay(examination: &Examination, scope: &str) -> Result<PageForm, ExamineError> {
    let unknown = || {
        ExamineError::request(format!("'{scope}' is not known here; ask for object, station-N or capture-N"))
    };
    let nothing = || ExamineError::request("there is nothing measured here yet; measure its pictures first");
    let groups = by_station(examination)?;
    let found = match scope.split_once('-') {
        // With one station, its lay is the object's.
        None if scope == "object" => match chapter(examination, "lay-whole")? {
            Some(whole) => Some(whole),
            None => chapter(examination, "lay-A")?,
        },
        Some(("station", id)) => {
            let id = StationId(id.parse().map_err(|_| unknown())?);
            let index = groups
                .iter()
                .position(|(station, _)| station.as_ref().is_some_and(|station| station.id == id));
            chapter(examination, &format!("lay-{}", label(index.ok_or_else(nothing)?)))?
        }
        Some(("capture", id)) => {
            let id = CaptureId(id.parse().map_err(|_| unknown())?);
            let of_group = |(index, (_, reads)): (usize, &(_, Vec<Read>))| {
                let number = reads.iter().position(|read| read.capture.id == id)?;
                Some(format!("{}{}", label(index), number + 1))
            };
            let label = groups.iter().enumerate().find_map(of_group).ok_or_else(nothing)?;
            let dossier = gathered(examination)?;
            let mut captures = dossier.stations.iter().flat_map(|station| &station.captures);
            captures.find(|capture| capture.label == label).and_then(report::lay_of_capture).map(page)
        }
        _ => return Err(unknown()),
    };
    found.ok_or_else(nothing)
}

/// The test whether stations differ, with the stations side by side.
///
/// # Errors
/// Fewer than two stations have traces that count; the examination cannot be read.
pub fn comparison(examination: &Examination) -> Result<PageForm, ExamineError> {
    let mut page = chapter(examination, "whole")?.ok_or_else(|| {
        ExamineError::request(
            "at least two stations with measured micrographs are needed; measure pictures of another station",
        )
    })?;
    page.sections.clear();
    Ok(page)
}

fn chapter(examination: &Examination, anchor: &str) -> Result<Option<PageForm>, ExamineError> {
    Ok(report::pages(&gathered(examination)?).into_iter().find_map(|page| page.find(anchor)).map(page))
}

/// What the report would print, without its pictures: they take most of the time and are on screen anyway.
fn gathered(examination: &Examination) -> Result<report::Dossier, ExamineError> {
    let options = PublishOptions { bare: true, ..PublishOptions::default() };
    crate::dossier(examination, &options, &Unwatched)
}

fn page(shown: Page) -> PageForm {
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
                    caption,
                })
                .collect(),
        },
        PageBlock::Caution(text) => BlockForm::Caution { text },
    }
}
