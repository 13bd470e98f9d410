//! One capture's traces in one person's reading, and the steps that change it.

use archive::{CaptureId, Examination, Reading, ReadingStep};
use picture::{Distortion, Grey};
use quantity::{Measured, UmPerPx};
use trace::Trace;
use wire::desk::{AgreementForm, ReadingForm, ReadingRequest, TraceForm};
use wire::reading::Step;

use crate::ExamineError;
use crate::reading::{ReadTrace, Standing, State, as_found, standing_of};

/// A cut nearer to an end than this leaves a piece too short to fit, px.
const CUT_MARGIN_PX: f64 = 4.0;

/// A capture's traces as this person reads them; an empty name, or someone who has not read it, sees them as found.
///
/// # Errors
/// No such capture; the examination cannot be read.
pub fn reading(examination: &Examination, id: CaptureId, person: &str) -> Result<ReadingForm, ExamineError> {
    let capture = examination.capture(id)?;
    let readings = readings_of(examination, id)?;
    let own = readings.iter().rev().find(|reading| reading.person == person.trim());
    let (standing, undo, redo) = match own {
        Some(own) => {
            let [undo, redo] = examination.step_counts(own.id)?;
            (standing_of(examination, own)?, undo, redo)
        }
        None => (as_found(examination, id)?, 0, 0),
    };
    let scale = examination.setting(&capture)?.scale.map(|scale| scale.um_per_px);
    let mut people: Vec<String> = Vec::new();
    for reading in readings {
        if !people.contains(&reading.person) {
            people.push(reading.person);
        }
    }
    Ok(form(&standing, id, person, people, [undo, redo], scale))
}

fn form(
    standing: &Standing,
    id: CaptureId,
    person: &str,
    people: Vec<String>,
    steps: [usize; 2],
    scale: Option<UmPerPx>,
) -> ReadingForm {
    let found = standing.kept.as_ref().map(|kept| &kept.found);
    ReadingForm {
        capture: id.0,
        person: person.trim().to_owned(),
        people,
        undo: steps[0],
        redo: steps[1],
        refused: found.and_then(|found| found.refused.clone()),
        hidden: found.and_then(|found| found.hidden).map(|hidden| {
            format!(
                "This light could not show scratches within {:.0}° of {:.0}°.",
                hidden.half_width_deg,
                hidden.axis.degrees()
            )
        }),
        traces: standing.traces.iter().map(|read| trace_form(read, scale)).collect(),
    }
}

fn trace_form(read: &ReadTrace, scale: Option<UmPerPx>) -> TraceForm {
    let trace = &read.trace;
    let direction = Measured { value: trace.direction.degrees(), u: trace.direction_u_deg };
    TraceForm {
        id: trace.id,
        points: trace.points_px.clone(),
        state: match read.state {
            State::Accepted => "accepted",
            State::Suspect => "suspect",
            State::Rejected => "rejected",
        }
        .to_owned(),
        by_hand: read.by_hand,
        suspect: read.suspicion.clone(),
        length: length_words(trace, scale),
        width: match scale {
            Some(scale) => format!("{} µm", scale.micrometres(trace.width_px)),
            None => format!("{} px", trace.width_px),
        },
        direction: format!("{direction}°"),
        bow: bow_words(trace.curvature_per_px, scale),
        length_px: trace.length_px,
        direction_deg: trace.direction.degrees(),
        contrast: trace.contrast,
        ends_inside: trace.ends.count(),
    }
}

/// A length that runs out of the field is a lower bound.
fn length_words(trace: &Trace, scale: Option<UmPerPx>) -> String {
    let bound = if trace.ends.count() == 2 { "" } else { "> " };
    match scale {
        Some(scale) => format!("{bound}{:.0} µm", trace.length_px * scale.value()),
        None => format!("{bound}{:.0} px", trace.length_px),
    }
}

fn bow_words(curvature_per_px: Measured, scale: Option<UmPerPx>) -> String {
    match scale {
        Some(scale) => format!("{} /mm", curvature_per_px.scaled(1000.0 / scale.value())),
        None => format!("{} /1000 px", curvature_per_px.scaled(1000.0)),
    }
}

fn readings_of(examination: &Examination, id: CaptureId) -> Result<Vec<Reading>, ExamineError> {
    Ok(examination.readings()?.into_iter().filter(|reading| reading.capture == id).collect())
}

/// Takes one step of a person's reading and shows what came of it.
///
/// # Errors
/// The person has no name; nothing was measured yet; the step names traces that are not there or cannot be fitted.
pub fn step(
    examination: &Examination,
    id: CaptureId,
    person: &str,
    request: &ReadingRequest,
) -> Result<ReadingForm, ExamineError> {
    let own = own_reading(examination, id, person)?;
    match request {
        ReadingRequest::Undo => {
            examination.undo(own.id)?;
        }
        ReadingRequest::Redo => {
            examination.redo(own.id)?;
        }
        _ => {
            let standing = standing_of(examination, &own)?;
            let (kind, step) = fitted(examination, id, &standing, request)?;
            examination.add_step(own.id, kind, &wire::reading::write(&step)?)?;
        }
    }
    reading(examination, id, person)
}

fn own_reading(examination: &Examination, id: CaptureId, person: &str) -> Result<Reading, ExamineError> {
    if person.trim().is_empty() {
        return Err(ExamineError::request(
            "a reading belongs to a person: write your name beside 'Reading of' first",
        ));
    }
    if let Some(own) =
        readings_of(examination, id)?.into_iter().rev().find(|reading| reading.person == person.trim())
    {
        return Ok(own);
    }
    let measurement = examination.measurement(id)?;
    let measurement = measurement.ok_or_else(|| {
        ExamineError::request("measure this picture first; traces are read on what was found")
    })?;
    Ok(examination.reading(person.trim(), measurement.id)?)
}

fn fitted(
    examination: &Examination,
    id: CaptureId,
    standing: &Standing,
    request: &ReadingRequest,
) -> Result<(ReadingStep, Step), ExamineError> {
    let there =
        |ids: &[u32]| match ids.iter().find(|id| standing.traces.iter().all(|read| read.trace.id != **id)) {
            Some(missing) => {
                Err(ExamineError::request(format!("there is no trace {missing} here; reload the page")))
            }
            None if ids.is_empty() => Err(ExamineError::request("choose a trace first")),
            None => Ok(ids.to_vec()),
        };
    // Numbers are never used twice, so that an old step cannot meet a new trace.
    let next = standing.traces.iter().map(|read| read.trace.id).max().unwrap_or(0) + 1;
    Ok(match request {
        ReadingRequest::Accept { traces } => (ReadingStep::Accept, Step::Accept(there(traces)?)),
        ReadingRequest::Reject { traces } => (ReadingStep::Reject, Step::Reject(there(traces)?)),
        ReadingRequest::Suspect { traces, reason } => {
            (ReadingStep::Suspect, Step::Suspect(there(traces)?, reason.trim().to_owned()))
        }
        ReadingRequest::Draw { points } => {
            (ReadingStep::Draw, Step::Draw(fitting(examination, id)?.fit(points, next)?))
        }
        ReadingRequest::Join { traces } => {
            let ids = there(traces)?;
            let points = joined(&chosen(standing, &ids));
            (ReadingStep::Join, Step::Join(ids, fitting(examination, id)?.fit(&points, next)?))
        }
        ReadingRequest::Cut { trace, at } => {
            let ids = there(&[*trace])?;
            let parts = cut(&chosen(standing, &ids), *at)?;
            let picture = fitting(examination, id)?;
            let parts = [picture.fit(&parts[0], next)?, picture.fit(&parts[1], next + 1)?];
            (ReadingStep::Cut, Step::Cut(*trace, parts))
        }
        ReadingRequest::Undo | ReadingRequest::Redo => return Err(ExamineError::request("nothing to fit")),
    })
}

/// What lines made by hand are fitted on.
struct Fitting {
    grey: Grey,
    lens: Option<Distortion>,
}

impl Fitting {
    fn fit(&self, points: &[[f64; 2]], id: u32) -> Result<Trace, ExamineError> {
        Ok(Trace { id, ..trace::refit(&self.grey, points, self.lens.as_ref())? })
    }
}

fn fitting(examination: &Examination, id: CaptureId) -> Result<Fitting, ExamineError> {
    let capture = examination.capture(id)?;
    let lens = examination.setting(&capture)?.lens;
    Ok(Fitting { grey: crate::scale::grey(examination, &capture)?, lens })
}

fn chosen<'a>(standing: &'a Standing, ids: &[u32]) -> Vec<&'a Trace> {
    standing.traces.iter().map(|read| &read.trace).filter(|trace| ids.contains(&trace.id)).collect()
}

/// The points of several traces in order along their common direction.
fn joined(traces: &[&Trace]) -> Vec<[f64; 2]> {
    let longest = traces.iter().max_by(|a, b| a.length_px.total_cmp(&b.length_px));
    let (dx, dy) = longest.map_or((1.0, 0.0), |trace| trace.direction.pixel_step());
    let mut points: Vec<[f64; 2]> = traces.iter().flat_map(|trace| trace.points_px.iter().copied()).collect();
    points.sort_by(|a, b| (a[0] * dx + a[1] * dy).total_cmp(&(b[0] * dx + b[1] * dy)));
    points
}

/// The points before and after the place of a trace that is nearest to `at`.
fn cut(traces: &[&Trace], at: [f64; 2]) -> Result<[Vec<[f64; 2]>; 2], ExamineError> {
    let too_near = || {
        ExamineError::request(
            "click farther from the ends of the trace: a piece that short cannot be measured",
        )
    };
    let points = &traces.first().ok_or_else(too_near)?.points_px;
    let (segment, foot) = points
        .windows(2)
        .enumerate()
        .filter_map(|(index, pair)| Some((index, foot(*pair.first()?, *pair.get(1)?, at))))
        .min_by(|(_, a), (_, b)| distance(*a, at).total_cmp(&distance(*b, at)))
        .ok_or_else(too_near)?;
    let mut before = points.get(..=segment).unwrap_or_default().to_vec();
    before.push(foot);
    let mut after = vec![foot];
    after.extend_from_slice(points.get(segment + 1..).unwrap_or_default());
    let long = |part: &[[f64; 2]]| {
        part.windows(2).map(|pair| distance(pair[0], pair[1])).sum::<f64>() > CUT_MARGIN_PX
    };
    if long(&before) && long(&after) { Ok([before, after]) } else { Err(too_near()) }
}

/// The point of the stretch from `a` to `b` that is nearest to `p`.
fn foot(a: [f64; 2], b: [f64; 2], p: [f64; 2]) -> [f64; 2] {
    let (dx, dy) = (b[0] - a[0], b[1] - a[1]);
    let squared = dx * dx + dy * dy;
    let along = if squared > 0.0 { ((p[0] - a[0]) * dx + (p[1] - a[1]) * dy) / squared } else { 0.0 };
    let t = along.clamp(0.0, 1.0);
    [a[0] + t * dx, a[1] + t * dy]
}

fn distance(a: [f64; 2], b: [f64; 2]) -> f64 {
    (a[0] - b[0]).hypot(a[1] - b[1])
}

/// How far the readings of a capture agree, pair by pair.
///
/// # Errors
/// No such capture; the examination cannot be read.
pub fn agreement(examination: &Examination, id: CaptureId) -> Result<Vec<AgreementForm>, ExamineError> {
    examination.capture(id)?;
    let mut standings = Vec::new();
    for reading in readings_of(examination, id)? {
        if !examination.standing_steps(reading.id)?.is_empty() {
            standings.push((reading.person.clone(), standing_of(examination, &reading)?));
        }
    }
    let mut pairs = Vec::new();
    for (index, (first, a)) in standings.iter().enumerate() {
        for (second, b) in standings.iter().skip(index + 1) {
            pairs.push(crate::agreement::between(first, a, second, b));
        }
    }
    Ok(pairs)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_cut_is_where_it_was_pointed_at() {
        let line = crate::testing::line(1, &[[0.0, 0.0], [50.0, 0.0], [100.0, 0.0]]);
        let [before, after] = cut(&[&line], [30.0, 6.0]).unwrap();
        assert_eq!(before, [[0.0, 0.0], [30.0, 0.0]]);
        assert_eq!(after, [[30.0, 0.0], [50.0, 0.0], [100.0, 0.0]]);
        assert!(cut(&[&line], [1.0, 0.0]).is_err());
    }

    #[test]
    fn joined_points_run_from_one_end_to_the_other() {
        let left = crate::testing::line(1, &[[40.0, 1.0], [10.0, 0.0]]);
        let right = crate::testing::line(2, &[[60.0, 2.0], [90.0, 3.0]]);
        let mut xs: Vec<f64> = joined(&[&right, &left]).iter().map(|point| point[0]).collect();
        // An axis has no head: either end may come first.
        if xs.first() > xs.last() {
            xs.reverse();
        }
        assert_eq!(xs, [10.0, 40.0, 60.0, 90.0]);
    }
}
