//! The lay of a group of captures as the report prints it.

use lay::spacing::Pattern;
use lay::{Answer, Description, Estimate, Field, Unit, Weighting};
use report::dossier::{
    self, BowSample, Direction, Ends, LengthUnit, Set, Spacing, SpacingVerdict, Step, Straightness,
    StrokeLength, Widths,
};

use crate::describe::Read;
use crate::reach::reach;

pub(super) fn lay<'a>(
    description: &Description,
    fields: &[Field],
    reads: impl Iterator<Item = &'a Read>,
) -> dossier::Lay {
    let items = || fields.iter().flat_map(|field| field.items.iter().map(move |item| (field, item)));
    let by_length = description.weighting == Weighting::Length;
    dossier::Lay {
        captures: description.captures,
        directions: items()
            .map(|(_, item)| Direction {
                axis: item.direction,
                weight: if by_length { item.length_px } else { 1.0 },
            })
            .collect(),
        weighting: if by_length { "length of trace" } else { "number of traces" }.to_owned(),
        density_per_mm2: description.density_per_mm2,
        intensity_per_mm: description.intensity_per_mm,
        resultant: description.resultant.unwrap_or(0.0),
        uniform_p: description.uniform_p.unwrap_or(1.0),
        uniform_test: "Watson's test on doubled angles".to_owned(),
        sets: description.sets.sets.iter().map(set).collect(),
        background_share: description.sets.background_share,
        crossing_deg: description.sets.crossing.as_ref().ok().map(estimate),
        straightness: Some(straightness(description, fields, reads)),
        stroke_length: Some(stroke_length(description)),
        spacings: spacings(description),
        widths: Some(widths(description, fields)),
        cautions: description.notes.clone(),
    }
}

fn estimate(estimate: &Estimate) -> dossier::Estimate {
    dossier::Estimate { value: estimate.value, low: estimate.low, high: estimate.high }
}

fn set(set: &lay::sets::Set) -> Set {
    let (low, high) = set.interval_deg;
    let half = 0.5 * (high - low);
    Set {
        direction: set.direction,
        half_width_95_deg: half.is_finite().then_some(half),
        concentration: set.concentration,
        share: set.share,
    }
}

/// Unit that long things are printed in.
fn long(unit: Unit) -> LengthUnit {
    match unit {
        Unit::Pixel => LengthUnit::Pixels,
        Unit::Millimetre => LengthUnit::Millimetres,
    }
}

/// Unit that short things are printed in, and what turns the description's numbers into it.
fn short(unit: Unit) -> (LengthUnit, f64) {
    match unit {
        Unit::Pixel => (LengthUnit::Pixels, 1.0),
        Unit::Millimetre => (LengthUnit::Micrometres, 1000.0),
    }
}

fn straightness<'a>(
    description: &Description,
    fields: &[Field],
    reads: impl Iterator<Item = &'a Read>,
) -> Straightness {
    let unit = description.unit;
    let mut samples = Vec::new();
    for field in fields {
        let Some(per_px) = field.unit_per_px(unit) else { continue };
        samples.extend(field.items.iter().map(|item| BowSample {
            length: item.length_px * per_px,
            curvature: item.curvature_per_px.scaled(1.0 / per_px),
        }));
    }
    let reach = group_reach(unit, reads);
    let bow = description.straightness.as_ref().ok();
    Straightness {
        samples,
        unit: long(unit),
        reach: reach.as_ref().map(|(radius, _)| *radius),
        limited_by: reach.map(|(_, word)| word),
        middle: bow.map(|bow| estimate(&bow.middle)),
        typical: bow.map(|bow| estimate(&bow.typical)),
    }
}

/// Reach of the group: that of its middle capture, in the unit of the description.
fn group_reach<'a>(unit: Unit, reads: impl Iterator<Item = &'a Read>) -> Option<(f64, String)> {
    let mut all: Vec<(f64, String)> = reads
        .filter_map(|read| {
            let kept = read.standing.kept.as_ref().filter(|kept| kept.found.refused.is_none())?;
            let accepted: Vec<&trace::Trace> = read.standing.accepted().collect();
            let size_px = (read.capture.width_px, read.capture.height_px);
            let (reach, _) = reach(size_px, read.scale, &kept.found, &accepted, read.lens)?;
            let radius = match unit {
                Unit::Pixel => reach.radius_px,
                Unit::Millimetre => reach.radius_mm?,
            };
            radius.is_finite().then(|| (radius, reach.limited_by.word().to_owned()))
        })
        .collect();
    all.sort_by(|a, b| a.0.total_cmp(&b.0));
    (!all.is_empty()).then(|| all.swap_remove(all.len() / 2))
}

fn stroke_length(description: &Description) -> StrokeLength {
    let empty = StrokeLength {
        unit: long(description.unit),
        mean: None,
        estimator: "window ratio estimator 2L/m".to_owned(),
        ends: Ends::default(),
        curve: Vec::new(),
        note: None,
    };
    let stroke = match &description.stroke_length {
        Ok(stroke) => stroke,
        Err(reason) => return StrokeLength { note: Some(reason.to_string()), ..empty },
    };
    let start = Step { length: 0.0, share: dossier::Estimate { value: 1.0, low: 1.0, high: 1.0 } };
    let steps = stroke.curve.steps.iter().map(|step| Step {
        length: step.length,
        share: dossier::Estimate { value: step.survival, low: step.low, high: step.high },
    });
    let counts = &stroke.counts;
    let at_least = stroke.at_least.map(|least| {
        format!("with 95 % confidence the mean is at least {least:.2} {}", description.unit.symbol())
    });
    let note = match (&stroke.mean, at_least) {
        (Err(reason), Some(least)) => Some(format!("{reason}; {least}")),
        (Err(reason), None) => Some(reason.to_string()),
        (Ok(_), _) => None,
    };
    StrokeLength {
        mean: stroke.mean.as_ref().ok().map(estimate),
        ends: Ends { none_inside: counts.through, one_inside: counts.one_end, both_inside: counts.inside },
        curve: std::iter::once(start).chain(steps).collect(),
        note,
        ..empty
    }
}

fn spacings(description: &Description) -> Vec<Spacing> {
    let (unit, factor) = short(description.unit);
    let pairs = description.sets.sets.iter().zip(&description.spacing);
    pairs
        .map(|(set, spacing)| {
            let regularity = spacing.regularity.as_ref().ok();
            Spacing {
                direction: set.direction,
                unit,
                distances: regularity
                    .map(|r| r.beyond_limit.iter().map(|gap| gap * factor).collect())
                    .unwrap_or_default(),
                mean: ok(&spacing.mean).map(|mean| estimate(&mean.scaled(factor))),
                variation: regularity.map(|r| r.gaps.variation),
                variation_if_random: regularity.map(|r| r.variation_if_random_95),
                p: regularity.map(|r| r.p),
                test: "variation of the gaps against simulated lines at random".to_owned(),
                verdict: match regularity.map(|r| r.pattern) {
                    Some(Pattern::Regular) => SpacingVerdict::Regular,
                    Some(Pattern::Random) => SpacingVerdict::Random,
                    Some(Pattern::Clustered) => SpacingVerdict::Clustered,
                    None => SpacingVerdict::CannotTell,
                },
            }
        })
        .collect()
}

fn ok<T>(answer: &Answer<T>) -> Option<&T> {
    answer.as_ref().ok()
}

fn widths(description: &Description, fields: &[Field]) -> Widths {
    let (unit, factor) = short(description.unit);
    let mut values = Vec::new();
    for field in fields {
        let Some(per_px) = field.unit_per_px(description.unit) else { continue };
        values.extend(field.items.iter().map(|item| item.width_px.value * per_px * factor));
    }
    values.retain(|width| width.is_finite());
    let described = ok(&description.widths);
    Widths {
        unit,
        values,
        median: described.map(|widths| estimate(&widths.median.scaled(factor))),
        range_90: described.map(|widths| (widths.range_90.0 * factor, widths.range_90.1 * factor)),
        resolution: None,
        grain_um: None,
        grain_relation: None,
    }
}
