//! The lay of one capture, one station or the whole object, from the traces that count.

use archive::{Capture, CaptureKind, Examination, Station, StationId};
use lay::{DescribeOptions, Description, Field, Item};
use picture::Distortion;
use quantity::UmPerPx;
use trace::Trace;

use crate::ExamineError;
use crate::reading::{Standing, standing};

/// A micrograph with the reading of it that counts.
#[derive(Debug, Clone, PartialEq)]
pub struct Read {
    /// The capture.
    pub capture: Capture,
    /// Scale in force.
    pub scale: Option<UmPerPx>,
    /// Lens, if it has been calibrated.
    pub lens: Option<Distortion>,
    /// Its traces.
    pub standing: Standing,
}

/// A station (`None`: no station was given) with its micrographs.
pub type StationReads = (Option<Station>, Vec<Read>);

/// A station (`None`: no station was given) with its micrographs, not yet read.
pub type StationCaptures = (Option<Station>, Vec<Capture>);

/// Micrographs by station, in the order of the stations; those without a station come last, under `None`. Captures set
/// aside are left out.
///
/// # Errors
/// The examination cannot be read.
pub fn outline(examination: &Examination) -> Result<Vec<StationCaptures>, ExamineError> {
    let mut groups: Vec<StationCaptures> =
        examination.stations()?.into_iter().map(|station| (Some(station), Vec::new())).collect();
    let mut without = Vec::new();
    for capture in examination.captures()? {
        if capture.kind != CaptureKind::Micrograph || capture.set_aside {
            continue;
        }
        let home = capture.station;
        let group =
            groups.iter_mut().find(|(station, _)| home == station.as_ref().map(|s| s.id) && home.is_some());
        match group {
            Some((_, captures)) => captures.push(capture),
            None => without.push(capture),
        }
    }
    if !without.is_empty() {
        groups.push((None, without));
    }
    Ok(groups)
}

/// One micrograph with the reading of it that counts.
///
/// # Errors
/// The examination cannot be read.
pub fn read(examination: &Examination, capture: Capture) -> Result<Read, ExamineError> {
    let setting = examination.setting(&capture)?;
    let standing = standing(examination, capture.id)?;
    let scale = setting.scale.map(|scale| scale.um_per_px);
    Ok(Read { capture, scale, lens: setting.lens, standing })
}

/// The micrographs of [`outline`], read.
///
/// # Errors
/// The examination cannot be read.
pub fn by_station(examination: &Examination) -> Result<Vec<StationReads>, ExamineError> {
    let groups = outline(examination)?.into_iter().map(|(station, captures)| {
        let reads = captures.into_iter().map(|capture| read(examination, capture));
        Ok((station, reads.collect::<Result<_, ExamineError>>()?))
    });
    groups.collect()
}

/// The fields that statistics rest on: those measured and usable. Fields of one station get one number.
#[must_use]
pub fn fields<'a>(reads: impl IntoIterator<Item = &'a Read>) -> Vec<Field> {
    reads.into_iter().filter(|read| counts(read)).map(field).collect()
}

/// Whether statistics may rest on a capture: measured, usable, and not refused by the finder.
pub(crate) fn counts(read: &Read) -> bool {
    read.standing.kept.as_ref().is_some_and(|kept| {
        kept.quality.verdict != picture::Verdict::NotUsable && kept.found.refused.is_none()
    })
}

fn field(read: &Read) -> Field {
    let station = read.capture.station.map_or(0, |StationId(id)| usize::try_from(id).unwrap_or(0));
    let size_px = (read.capture.width_px, read.capture.height_px);
    field_of(station, size_px, read.scale, read.standing.accepted())
}

fn field_of<'a>(
    station: usize,
    size_px: (u32, u32),
    um_per_px: Option<UmPerPx>,
    traces: impl Iterator<Item = &'a Trace>,
) -> Field {
    Field {
        station,
        width_px: f64::from(size_px.0),
        height_px: f64::from(size_px.1),
        um_per_px,
        items: traces.map(item).collect(),
    }
}

/// A trace as statistics take it.
#[must_use]
pub fn item(trace: &Trace) -> Item {
    let first = trace.points_px.first().copied().unwrap_or_default();
    let last = trace.points_px.last().copied().unwrap_or_default();
    Item {
        direction: trace.direction,
        direction_u_deg: trace.direction_u_deg,
        length_px: trace.length_px,
        curvature_per_px: trace.curvature_per_px,
        width_px: trace.width_px,
        ends_inside: trace.ends.count(),
        start_px: first,
        end_px: last,
    }
}

/// The lay of one picture.
#[must_use]
pub fn describe_one(
    size_px: (u32, u32),
    scale: Option<UmPerPx>,
    accepted: &[&Trace],
    seed: u64,
) -> Description {
    describe_fields(&[field_of(0, size_px, scale, accepted.iter().copied())], seed)
}

/// The lay of some fields together.
#[must_use]
pub fn describe_fields(fields: &[Field], seed: u64) -> Description {
    lay::describe(fields, &DescribeOptions { seed, ..DescribeOptions::default() })
}
