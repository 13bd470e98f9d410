//! From an examination to what the report prints.

pub(crate) mod capture;
mod comparison;
pub(crate) mod form;
mod lay;
pub(crate) mod stone;
pub(crate) mod visit;
pub(crate) mod weighing;

use ::stone::WidthRule;
use archive::{CaptureKind, Examination, Rock};
use picture::Limits;
use report::dossier::{Dossier, Image, ImageKind, Object, Overview, Pin, Provenance, Station};

use crate::compare::compare;
use crate::describe::{Read, StationReads, by_station, describe_fields, fields};
use crate::panels::width_rule;
use crate::watch::Part;
use crate::weighing::kept_weighing;
use crate::{ExamineError, Failure, PublishOptions, SEED, SOFTWARE, Watch};

/// Longer side of a picture as printed, px: sharp at the width of a page, small enough for a mail.
const SHOWN_SIDE_PX: usize = 900;
/// Quality of a picture as printed (0–100): below this, blocks begin to show in flat stone (looked at by eye).
const SHOWN_QUALITY: u8 = 85;
/// Share of the time that pictures take, the rest is statistics (a rough measure for the progress bar).
const PICTURES_SHARE: f64 = 0.7;

/// Gathers everything the report prints. Originals that cannot be shown are named in the provenance.
///
/// # Errors
/// The examination cannot be read; [`ExamineError::Stopped`] if the watcher gave up.
pub fn gather(
    examination: &Examination,
    options: &PublishOptions,
    watch: &dyn Watch,
) -> Result<Dossier, ExamineError> {
    let groups = by_station(examination)?;
    let rule = width_rule(examination)?;
    let n_captures = groups.iter().map(|(_, reads)| reads.len()).sum::<usize>();
    let pictures = Part { whole: watch, from: 0.0, to: PICTURES_SHARE };
    let mut failures = Vec::new();
    let mut stations = Vec::new();
    let mut n_done = 0;
    for (index, (station, reads)) in groups.iter().enumerate() {
        let label = label(index);
        let mut captures = Vec::new();
        for (number, read) in reads.iter().enumerate() {
            #[expect(clippy::cast_precision_loss, reason = "a share for a progress bar")]
            if !pictures.at(n_done as f64 / n_captures as f64, &read.capture.file_name) {
                return Err(ExamineError::Stopped);
            }
            let shown = if options.bare { None } else { shown(examination, read, &mut failures) };
            captures.push(capture::capture(
                examination,
                read,
                &format!("{label}{}", number + 1),
                shown,
                &rule,
            )?);
            n_done += 1;
        }
        stations.push(of_station(label, station.as_ref(), captures, lay_of(reads.iter(), &rule)));
    }
    let overviews = if options.bare { Vec::new() } else { overviews(examination, &groups, &mut failures)? };
    if !watch.at(PICTURES_SHARE, "lay") {
        return Err(ExamineError::Stopped);
    }
    let whole = lay_of(groups.iter().flat_map(|(_, reads)| reads), &rule);
    let comparison = compared(&groups);
    let weighing = weighed(examination, &groups, options)?;
    let resamples = ::lay::DescribeOptions::default().resamples;
    Ok(Dossier {
        stone: stone::with_answer(
            stone::chapter(&examination.object()?.rock, whole.as_ref(), &rule),
            crate::stone::kept(examination)?.map(|kept| kept.answer).as_ref(),
        ),
        object: object(examination)?,
        overviews,
        stations,
        whole,
        comparison,
        weighing,
        form: form::chapter(&crate::form::kept(examination)?),
        next_visit: crate::plan::kept(examination)?.as_ref().map(visit::chapter),
        provenance: Provenance {
            software: SOFTWARE.to_owned(),
            seed: SEED,
            resamples: u32::try_from(resamples).unwrap_or(u32::MAX),
            made_at: options.made_at.clone(),
            settings: vec![("examination".to_owned(), examination.uuid()?)],
            failures,
        },
        ..Dossier::default()
    })
}

/// One station as printed.
fn of_station(
    label: String,
    station: Option<&archive::Station>,
    captures: Vec<report::dossier::Capture>,
    lay: Option<report::dossier::Lay>,
) -> Station {
    Station {
        label,
        name: station.map_or("no station".to_owned(), |station| station.name.clone()),
        note: station.map(|station| station.note.clone()).filter(|note| !note.is_empty()),
        captures,
        lay,
    }
}

/// One station with its lay and its micrographs bare of pictures and traces; `index` gives its letter.
///
/// # Errors
/// The examination cannot be read.
pub(crate) fn bare_station(
    examination: &Examination,
    index: usize,
    (station, reads): &StationReads,
    with_lay: bool,
) -> Result<Station, ExamineError> {
    let label = label(index);
    let captures = reads.iter().enumerate();
    let captures = captures
        .map(|(number, read)| capture::bare(examination, read, &format!("{label}{}", number + 1)))
        .collect::<Result<Vec<_>, _>>()?;
    let lay = if with_lay { lay_of(reads.iter(), &width_rule(examination)?) } else { None };
    Ok(of_station(label, station.as_ref(), captures, lay))
}

/// The test whether the stations differ; `None` with fewer than two.
pub(crate) fn compared(groups: &[StationReads]) -> Option<report::dossier::Comparison> {
    let named = || groups.iter().filter(|(station, _)| station.is_some());
    if named().count() < 2 {
        return None;
    }
    let fields: Vec<::lay::Field> = named().flat_map(|(_, reads)| fields(reads)).collect();
    let letter = |id: usize| {
        let known = |station: &archive::Station| usize::try_from(station.id.0) == Ok(id);
        groups.iter().position(|(s, _)| s.as_ref().is_some_and(known)).map_or_else(|| id.to_string(), label)
    };
    Some(comparison::comparison(&compare(&fields, SEED), letter))
}

/// The weighing kept, with what each finish would have looked like in the widest field that has a scale.
pub(crate) fn weighed(
    examination: &Examination,
    groups: &[StationReads],
    options: &PublishOptions,
) -> Result<Option<report::dossier::Weighing>, ExamineError> {
    let Some(kept) = kept_weighing(examination, groups)? else { return Ok(None) };
    let mut weighing = weighing::weighing(&kept);
    let labelled = groups.iter().enumerate().flat_map(|(index, (_, reads))| {
        reads.iter().enumerate().map(move |(number, read)| (format!("{}{}", label(index), number + 1), read))
    });
    let width_um =
        |read: &Read| read.scale.map_or(0.0, |scale| scale.value() * f64::from(read.capture.width_px));
    let widest = labelled.max_by(|(_, a), (_, b)| width_um(a).total_cmp(&width_um(b)));
    if let Some((label, read)) =
        widest.filter(|_| !options.bare && !options.without.iter().any(|w| w == "weighing"))
    {
        let light = examination.setting(&read.capture)?.light;
        weighing::simulate(&mut weighing, read, &label, light);
    }
    Ok(Some(weighing))
}

/// The letters of a station: A to Z, then AA and on.
pub(crate) fn label(index: usize) -> String {
    let letter = char::from(b'A' + u8::try_from(index % 26).unwrap_or(0));
    match index / 26 {
        0 => letter.to_string(),
        round => format!("{}{letter}", label(round - 1)),
    }
}

/// The lay of some micrographs together; `rule` leads from widths to grains.
pub(crate) fn lay_of<'a>(
    reads: impl Iterator<Item = &'a Read> + Clone,
    rule: &WidthRule,
) -> Option<report::dossier::Lay> {
    let fields = fields(reads.clone());
    (!fields.is_empty()).then(|| {
        let mut lay = lay::lay(&describe_fields(&fields, SEED), &fields, reads);
        lay.widths.iter_mut().for_each(|widths| stone::fill_grains(widths, rule));
        lay
    })
}

fn object(examination: &Examination) -> Result<Object, ExamineError> {
    let object = examination.object()?;
    let given = |text: String| (!text.trim().is_empty()).then_some(text);
    let rock = match object.rock {
        Rock::Unknown => None,
        Rock::Named(name) => Some(name),
        Rock::Minerals(minerals) => {
            let shares = minerals.iter().map(|m| format!("{} {:.0} %", m.mineral, 100.0 * m.share));
            Some(shares.collect::<Vec<_>>().join(", "))
        }
    };
    let mut people: Vec<String> = examination.visits()?.into_iter().filter_map(|v| given(v.people)).collect();
    people.dedup();
    Ok(Object {
        name: object.name,
        place: given(object.place),
        rock,
        conditions: given(object.conditions),
        permission: None,
        description: given(object.note),
        examiner: given(people.join("; ")),
    })
}

fn overviews(
    examination: &Examination,
    groups: &[StationReads],
    failures: &mut Vec<(String, String)>,
) -> Result<Vec<Overview>, ExamineError> {
    let mut overviews = Vec::new();
    for capture in examination.captures()? {
        if capture.kind != CaptureKind::Overview || capture.set_aside {
            continue;
        }
        let pins = groups.iter().enumerate().filter_map(|(index, (station, _))| {
            let pin = station.as_ref()?.pin.filter(|pin| pin.capture == capture.id)?;
            Some(Pin { station: label(index), x_share: pin.at[0], y_share: pin.at[1] })
        });
        match image(examination, &capture) {
            Ok(picture) => overviews.push(Overview {
                file_name: capture.file_name.clone(),
                sha256: capture.sha256.clone(),
                note: Some(capture.note.clone()).filter(|note| !note.is_empty()),
                picture,
                pins: pins.collect(),
            }),
            Err(error) => failures.push(failure(&capture, &error)),
        }
    }
    Ok(overviews)
}

fn shown(examination: &Examination, read: &Read, failures: &mut Vec<(String, String)>) -> Option<Image> {
    image(examination, &read.capture).map_err(|error| failures.push(failure(&read.capture, &error))).ok()
}

fn failure(capture: &archive::Capture, error: &ExamineError) -> (String, String) {
    (capture.file_name.clone(), Failure::new(&capture.file_name, error).line)
}

/// The picture as printed.
fn image(examination: &Examination, capture: &archive::Capture) -> Result<Image, ExamineError> {
    let path = examination.original_path(&capture.sha256);
    let bytes = std::fs::read(&path).map_err(|_| archive::ArchiveError::OriginalLost {
        sha256: capture.sha256.clone(),
        what: "missing",
    })?;
    let rgb = picture::display(&bytes, &capture.file_name, &Limits::default())?;
    let small = rgb.shrink(SHOWN_SIDE_PX);
    let bytes = small.to_jpeg(SHOWN_QUALITY).map_err(|e| ExamineError::request(e.to_string()))?;
    Ok(Image { kind: ImageKind::Jpeg, bytes, width_px: small.width(), height_px: small.height() })
}

#[cfg(test)]
mod tests {
    use super::label;

    #[test]
    fn stations_are_lettered() {
        let labels: Vec<String> = [0, 25, 26, 51, 52, 701, 702].into_iter().map(label).collect();
        assert_eq!(labels, ["A", "Z", "AA", "AZ", "BA", "ZZ", "AAA"]);
    }
}
