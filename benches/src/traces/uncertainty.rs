//! Whether stated uncertainties are true: (estimate − truth) / u of traces that lie on one scratch.

use finish::render::{Truth, axis_and_curvature};
use trace::Trace;

use super::score::Key;

/// Share of a trace that must lie on one scratch for its estimates to be compared with that scratch.
const OWNED: f64 = 0.8;
/// Beyond this many standard uncertainties the trace is counted as mistaken for another line, not as scatter.
const MISTAKEN: f64 = 6.0;

/// One trace compared with its scratch.
#[derive(Debug, Clone, Copy)]
pub struct Compared {
    /// (direction − truth) / u.
    pub direction: f64,
    /// (curvature − truth) / u, positive towards more bent.
    pub curvature: f64,
    /// Error of the direction, degrees.
    pub direction_error_deg: f64,
}

/// Compares every trace that lies on one scratch with that scratch over the same stretch; `lens_known` says whether the
/// traces were fitted with the lens taken off.
#[must_use]
pub fn compare(traces: &[Trace], key: &Key<'_>, truth: &Truth, lens_known: bool) -> Vec<Compared> {
    traces
        .iter()
        .filter_map(|t| {
            let (scratch, from, to) = key.owner(&t.points_px, OWNED)?;
            let scratch = &truth.scratches[scratch];
            let points = if lens_known { &scratch.ideal_points_px } else { &scratch.points_px };
            let (axis, curvature) = axis_and_curvature(points.get(from..=to)?)?;
            let error = axis.turn_to(t.direction);
            Some(Compared {
                direction: error / t.direction_u_deg,
                curvature: curvature.signum() * (t.curvature_per_px.value - curvature) / t.curvature_per_px.u,
                direction_error_deg: error,
            })
        })
        .collect()
}

/// Summary of standardised errors.
#[derive(Debug, Clone, Copy)]
pub struct Scatter {
    /// How many, mistaken ones included.
    pub count: usize,
    /// Share of mistaken ones.
    pub mistaken: f64,
    /// Mean of the rest.
    pub mean: f64,
    /// Standard deviation of the rest.
    pub sd: f64,
    /// Share of all within ±1.96.
    pub coverage_95: f64,
}

/// Mean, standard deviation and coverage.
#[must_use]
pub fn scatter(z: &[f64]) -> Scatter {
    let kept: Vec<f64> = z.iter().copied().filter(|v| v.abs() <= MISTAKEN).collect();
    let n = kept.len() as f64;
    let mean = kept.iter().sum::<f64>() / n;
    let sd = (kept.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / (n - 1.0)).sqrt();
    let all = z.len() as f64;
    Scatter {
        count: z.len(),
        mistaken: 1.0 - n / all,
        mean,
        sd,
        coverage_95: z.iter().filter(|v| v.abs() <= 1.959_964).count() as f64 / all,
    }
}
