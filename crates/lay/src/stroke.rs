//! Stroke length: how long the traces are beyond what the fields show.

use crate::student::gamma_quantile_unit_mean;
use crate::survival::{self, Curve};
use crate::window::{self, Counts};
use crate::{Answer, CannotTell, Estimate, cluster};

/// One trace seen through a field.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Seen {
    /// Visible length.
    pub length: f64,
    /// Ends inside the field, 0 to 2.
    pub ends_inside: u8,
    /// Breadth of its field seen along the trace.
    pub breadth: f64,
    /// Its cluster (capture or station).
    pub cluster: usize,
}

/// Lengths of strokes, never the mean of the visible ones. All in the unit of the lengths given.
#[derive(Debug, Clone, PartialEq)]
pub struct StrokeLength {
    /// Traces through, with one end and wholly inside.
    pub counts: Counts,
    /// Longest visible length.
    pub longest_visible: f64,
    /// Mean stroke length, `2L/m`.
    pub mean: Answer<Estimate>,
    /// With 95 % confidence the mean is at least this; the only answer where no trace ends inside.
    pub at_least: Option<f64>,
    /// The same mean from counts alone (rectangle), as a cross-check.
    pub mean_from_counts: Option<f64>,
    /// The same mean if lengths follow an exponential law, as a cross-check.
    pub mean_if_exponential: Option<f64>,
    /// Curve of true lengths with the length bias of the window removed.
    pub curve: Curve,
    /// Median of that curve.
    pub median: Answer<Estimate>,
}

/// Stroke lengths from `seen` traces in fields of total area `area` (unit of the lengths squared). `scale_relative_u` is the
/// relative standard uncertainty of the scale, common to all.
///
/// # Errors
/// No trace at all; what single figures cannot be told is said in place.
///
/// # Source
/// [`window::mean_length_ratio`] for the mean; its interval from the counting scatter of a stationary process, gamma form,
/// clusters summed first (ours; coverage checked by simulation).
pub fn stroke_length(seen: &[Seen], area: f64, scale_relative_u: f64) -> Answer<StrokeLength> {
    let usable: Vec<Seen> = seen.iter().copied().filter(|s| s.length.is_finite() && s.length > 0.0).collect();
    if usable.is_empty() {
        return Err(CannotTell::TooFew { what: "traces", found: 0, needed: 1 });
    }
    let mut counts = Counts::default();
    usable.iter().for_each(|s| counts.add(s.ends_inside));
    let total: f64 = usable.iter().map(|s| s.length).sum();
    // The breadth a stroke is met by, averaged over strokes and not over meetings: meetings favour large breadths.
    let breadth = usable.len() as f64 / usable.iter().map(|s| 1.0 / s.breadth).sum::<f64>();
    let curve = survival::from_ends(&usable.iter().map(|s| (s.length, s.ends_inside)).collect::<Vec<_>>());
    Ok(StrokeLength {
        counts,
        longest_visible: usable.iter().map(|s| s.length).fold(0.0, f64::max),
        mean: mean(&usable, counts, total).map(|mean| mean.with_scale(scale_relative_u)),
        at_least: Some(at_least(&usable, counts, total)),
        mean_from_counts: window::mean_length_rectangle(counts, area, breadth),
        mean_if_exponential: window::exponential_ml(counts, total, area, breadth).map(|fit| fit.mean),
        median: median(&curve).map(|median| median.with_scale(scale_relative_u)),
        curve,
    })
}

/// Most ends that one might have expected where `ends` were seen, 95 % one-sided (Poisson).
fn upper_ends(ends: usize) -> f64 {
    let shape = ends as f64 + 1.0;
    shape * gamma_quantile_unit_mean(shape, 0.95)
}

/// Fewest effective counts an interval is named from: below, its upper end is more than twelve times its lower.
pub(crate) const LEAST_EVIDENCE: f64 = 3.0;

/// Lower end of a one-sided 95 % interval of the mean: the smaller of those from the count of ends alone and from how the
/// captures differ.
fn at_least(seen: &[Seen], counts: Counts, total: f64) -> f64 {
    let strewn = 2.0 * total / upper_ends(counts.ends());
    let Some(mean) = window::mean_length_ratio(counts, total) else { return strewn };
    match ends_scatter(seen, counts, total) {
        Some((shape, _)) => strewn.min(mean / gamma_quantile_unit_mean(shape, 0.95)),
        None => strewn,
    }
}

/// Shape of the gamma law that the rate of ends per length follows, and the relative standard uncertainty behind it. The
/// ends are a count, so the law is more nearly gamma than normal; Student's factor enters by widening the relative scatter.
fn ends_scatter(seen: &[Seen], counts: Counts, total: f64) -> Option<(f64, f64)> {
    let ends = counts.ends() as f64;
    let influences: Vec<f64> =
        seen.iter().map(|s| s.length / total - f64::from(s.ends_inside) / ends).collect();
    let lengths: Vec<f64> = seen.iter().map(|s| s.length).collect();
    let clusters: Vec<usize> = seen.iter().map(|s| s.cluster).collect();
    let spread = cluster::spread(&influences, &lengths, &clusters);
    let relative = spread.u * spread.factor() / crate::student::Z_95;
    (seen.len() > 1 && relative > 0.0).then(|| (1.0 / (relative * relative), spread.u))
}

fn mean(seen: &[Seen], counts: Counts, total: f64) -> Answer<Estimate> {
    let value = window::mean_length_ratio(counts, total).ok_or(CannotTell::NoEnds)?;
    let too_few = CannotTell::TooFew { what: "traces with ends inside", found: seen.len(), needed: 2 };
    let (shape, relative_u) = ends_scatter(seen, counts, total).ok_or(too_few)?;
    if shape < LEAST_EVIDENCE {
        return Err(CannotTell::Open { why: "there are too few ends, or the captures differ too much" });
    }
    Ok(Estimate {
        value,
        u: value * relative_u,
        low: value / gamma_quantile_unit_mean(shape, 0.975),
        high: value / gamma_quantile_unit_mean(shape, 0.025),
    })
}

/// Strokes that must still be followed where a median is named. With fewer, the curves that happen to come down early are the
/// ones that name one (by simulation, strokes longer than the field).
const FOLLOWED_AT_MEDIAN: f64 = 5.0;

fn median(curve: &Curve) -> Answer<Estimate> {
    let curve = curve.while_followed(FOLLOWED_AT_MEDIAN);
    let value = curve.median().ok_or(CannotTell::BeyondField { longest: curve.longest })?;
    let (low, high) = curve.median_interval();
    let (low, high) =
        low.zip(high).ok_or(CannotTell::Open { why: "the survival curve's band does not reach one half" })?;
    Ok(Estimate { value, u: (high - low) / (2.0 * crate::student::Z_95), low, high })
}
