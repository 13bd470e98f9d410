//! Line and arc through the measured axis of one groove, with uncertainties that hold for white and for correlated
//! residuals.

use quantity::{AxialDeg, Measured};

use crate::course::{Points, length, resampled, smoothed, tangents};
use crate::lattice::BLOCK_PX;
use crate::plane::quantile;

/// Direction and curvature of an axis, and how far they can be trusted.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Fit {
    /// Axis at mid-length.
    pub direction: AxialDeg,
    pub direction_u_deg: f64,
    pub curvature_per_px: Measured,
    /// Standard deviation of the measured points about the arc, px.
    pub residual_px: f64,
    /// By how much correlation along the line raises the variance of a mean.
    pub inflation: f64,
    /// The arc itself, and how far it was measured on either side of its middle, px.
    arc: Arc,
    half_length_px: f64,
}

/// Largest inflation by the texture aside: beyond it neighbouring grooves, not texture, are what the copies show.
const MOST_INFLATION: f64 = 9.0;

impl Fit {
    /// The fit with its uncertainties raised where correlation along the line is `inflation` rather than what the residuals
    /// themselves show.
    pub fn inflated(mut self, inflation: f64) -> Self {
        let rise = (inflation.min(MOST_INFLATION) / self.inflation).max(1.0);
        self.inflation *= rise;
        self.direction_u_deg *= rise.sqrt();
        self.curvature_per_px.u *= rise.sqrt();
        self
    }

    /// Points about 1 px apart along the arc, a whole number of blocks whose outermost middles are the outermost measured
    /// points.
    pub fn line_px(&self) -> Points {
        let blocks = (2.0 * self.half_length_px / BLOCK_PX as f64).round().max(1.0) + 1.0;
        let total = 2.0 * self.half_length_px * blocks / (blocks - 1.0);
        let count = blocks as usize * BLOCK_PX;
        (0..count).map(|i| self.arc.point(((i as f64 + 0.5) / count as f64 - 0.5) * total)).collect()
    }
}

/// How many residuals the spread expected from the noise beside the groove is worth, and its limits, px.
const PRIOR: f64 = 3.0;
const EXPECTED_PX: (f64, f64) = (0.03, 1.0);
/// Correlation of neighbouring residuals expected beforehand and what it is worth.
const PRIOR_CORRELATION: (f64, f64) = (0.25, 8.0);

/// Least-squares arc through points at even steps along an axis, in the order of the axis; `None` for fewer than four.
///
/// Offsets across an arc are regressed on 1, s and s²/2 of the arc length s from the middle; the arc turns and bends by
/// the result until it no longer changes. Variances are those of least squares times the inflation of a mean of
/// correlated values, with the spread shrunk towards `place_noise_px`, which the noise beside the groove lets expect of one
/// point, and the correlation towards what rendered stone shows, since a short trace says little about either.
///
/// # Source
/// Variance of slope and curvature: Gluckstern 1963; weights and variance: Huber 1964;
/// inflation: Bartlett 1946, first-order autoregression.
pub(crate) fn arc(points: &[[f64; 2]], place_noise_px: f64) -> Option<Fit> {
    let n = points.len();
    if n < 4 {
        return None;
    }
    let mut base = Arc::first(points)?;
    let mut samples: Vec<Sample> = Vec::new();
    for _ in 0..8 {
        samples = weighed(points.iter().map(|p| base.offset(*p)).collect());
        let beta = regress(&samples)?;
        base.improve(beta);
    }
    let (first, last) = (samples.first()?.along, samples.last()?.along);
    base.slide(first.midpoint(last));
    let residuals: Vec<f64> = samples.iter().map(|s| s.across * s.weight).collect();
    let squares: f64 = residuals.iter().map(|r| r * r).sum();
    let freedom = n as f64 - 3.0;
    // Residuals cut by their weights, over the squared share of uncut ones: Huber's variance.
    let uncut = samples.iter().filter(|s| s.weight >= 1.0).count() as f64 / n as f64;
    let robust = squares / uncut.max(0.3).powi(2);
    let expected = place_noise_px.clamp(EXPECTED_PX.0, EXPECTED_PX.1);
    let variance = (robust + PRIOR * expected * expected) / (freedom.max(0.0) + PRIOR);
    let inflation = inflation(&residuals);
    samples.iter_mut().for_each(|s| s.weight = 1.0);
    let (slope_gain, bend_gain) = gains(&samples);
    let direction_u = UNSEEN_TURN * (variance * inflation * slope_gain).sqrt();
    let curvature_u = UNSEEN * (variance * inflation * bend_gain).sqrt();
    // The direction of a bent trace is that of a middle which is only as well known as its ends.
    let direction_u = direction_u.hypot(MIDDLE_PX * base.curvature);
    let (sin, cos) = base.angle.sin_cos();
    // Walked along increasing x, or upwards where the trace is vertical.
    let forward = if cos.abs() > 1e-9 { cos > 0.0 } else { sin < 0.0 };
    // Pixel coordinates have y down: a turn that is positive there is clockwise as seen.
    let curvature = if forward { -base.curvature } else { base.curvature };
    Some(Fit {
        direction: AxialDeg::new(-base.angle.to_degrees())?,
        direction_u_deg: direction_u.to_degrees(),
        curvature_per_px: Measured { value: curvature, u: curvature_u },
        residual_px: (squares / freedom.max(1.0)).sqrt(),
        inflation,
        arc: base,
        half_length_px: 0.5 * (last - first).abs(),
    })
}

/// A circular arc by its middle point, tangent angle there (pixel coordinates) and signed curvature.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Arc {
    middle: [f64; 2],
    angle: f64,
    curvature: f64,
}

impl Arc {
    /// A first arc: through the middle of the smoothed points, turning as their ends do.
    fn first(points: &[[f64; 2]]) -> Option<Self> {
        let smooth = smoothed(points, points.len() / 4);
        let even = resampled(&smooth, length(&smooth) / 24.0);
        let tangents = tangents(&even);
        let mut angles = Vec::with_capacity(tangents.len());
        for t in &tangents {
            let angle = t[1].atan2(t[0]);
            let unwound = angles.last().map_or(angle, |last: &f64| last + wrapped(angle - last));
            angles.push(unwound);
        }
        let n = angles.len() as f64;
        let total = length(&even);
        let (mut mean, mut moment, mut square) = (0.0, 0.0, 0.0);
        for (i, angle) in angles.iter().enumerate() {
            let s = (i as f64 / (n - 1.0) - 0.5) * total;
            mean += angle / n;
            moment += s * angle;
            square += s * s;
        }
        let middle = *even.get(even.len() / 2)?;
        (square > 0.0).then_some(Self { middle, angle: mean, curvature: moment / square })
    }

    /// Arc length from the middle and distance across (towards `[-sin, cos]`) of a point.
    fn offset(&self, p: [f64; 2]) -> (f64, f64) {
        let (sin, cos) = self.angle.sin_cos();
        let (dx, dy) = (p[0] - self.middle[0], p[1] - self.middle[1]);
        let (along, across) = (dx * cos + dy * sin, dy * cos - dx * sin);
        if self.curvature.abs() * (along.abs() + across.abs()) < 1e-4 {
            return (along, across - 0.5 * self.curvature * along * along);
        }
        let radius = 1.0 / self.curvature;
        // Seen from the centre at (0, radius).
        let (u, v) = (along, radius - across);
        let turn = (u * radius.signum()).atan2(v * radius.signum());
        (turn * radius, radius - radius.signum() * (u * u + v * v).sqrt())
    }

    fn improve(&mut self, [shift, turn, bend]: [f64; 3]) {
        let (sin, cos) = self.angle.sin_cos();
        self.middle = [self.middle[0] - sin * shift, self.middle[1] + cos * shift];
        self.angle += turn;
        self.curvature += bend;
    }

    /// Moves the reference point along the arc, so that the angle is that of mid-length.
    fn slide(&mut self, along_px: f64) {
        self.middle = self.point(along_px);
        self.angle += self.curvature * along_px;
    }

    /// The point at an arc length from the middle.
    fn point(&self, along_px: f64) -> [f64; 2] {
        let (sin, cos) = self.angle.sin_cos();
        let turn = self.curvature * along_px;
        let (along, across) = if turn.abs() < 1e-6 {
            (along_px, 0.5 * turn * along_px)
        } else {
            (turn.sin() / self.curvature, (1.0 - turn.cos()) / self.curvature)
        };
        [self.middle[0] + along * cos - across * sin, self.middle[1] + along * sin + across * cos]
    }
}

fn wrapped(angle: f64) -> f64 {
    use std::f64::consts::PI;
    (angle + PI).rem_euclid(2.0 * PI) - PI
}

/// Factor on uncertainties for what residuals do not show (a centre that sits on one flank for a while, a neighbour crossed,
/// an end overrun): scatter of (estimate − truth)/u over traces on rendered stone without it.
const UNSEEN: f64 = 1.8;
/// The same for directions, which an end overrun turns more than it bends.
const UNSEEN_TURN: f64 = 2.15;
/// Standard uncertainty of the middle along the trace, px: what scatter of the directions of arcs on rendered stone asks for, two
/// ends each found to within 7 px.
const MIDDLE_PX: f64 = 5.0;

/// One measured point in the frame of an arc, px.
#[derive(Debug, Clone, Copy)]
struct Sample {
    along: f64,
    across: f64,
    weight: f64,
}

/// Residuals beyond this many robust spreads are weighted down (Huber 1964; the usual constant).
const HUBER: f64 = 1.345;

/// Weights by the size of the residual.
fn weighed(offsets: Vec<(f64, f64)>) -> Vec<Sample> {
    let mut sizes: Vec<f32> = offsets.iter().map(|(_, d)| d.abs() as f32).collect();
    let spread = (f64::from(quantile(&mut sizes, 0.5)) / 0.674_49).max(0.05);
    offsets
        .into_iter()
        .map(|(along, across)| Sample {
            along,
            across,
            weight: (HUBER * spread / across.abs().max(1e-9)).min(1.0),
        })
        .collect()
}

/// Coefficients of offset ~ 1 + s + s²/2.
fn regress(samples: &[Sample]) -> Option<[f64; 3]> {
    let inverse = normal_inverse(samples)?;
    let mut moment = [0.0; 3];
    for sample in samples {
        moment.iter_mut().zip(sample.basis()).for_each(|(m, x)| *m += sample.weight * x * sample.across);
    }
    Some(inverse.map(|row| row.iter().zip(&moment).map(|(a, b)| a * b).sum()))
}

/// Variances of slope and curvature for unit white residuals.
fn gains(samples: &[Sample]) -> (f64, f64) {
    normal_inverse(samples).map_or((f64::INFINITY, f64::INFINITY), |inverse| (inverse[1][1], inverse[2][2]))
}

impl Sample {
    fn basis(&self) -> [f64; 3] {
        [1.0, self.along, 0.5 * self.along * self.along]
    }
}

/// Inverse of the weighted normal matrix of 1, s, s²/2.
fn normal_inverse(samples: &[Sample]) -> Option<[[f64; 3]; 3]> {
    let mut m = [[0.0; 3]; 3];
    for sample in samples {
        let row = sample.basis();
        for (line, a) in m.iter_mut().zip(row) {
            line.iter_mut().zip(row).for_each(|(entry, b)| *entry += sample.weight * a * b);
        }
    }
    let [[a, b, c], [_, d, e], [_, _, f]] = m;
    let determinant = a * (d * f - e * e) - b * (b * f - c * e) + c * (b * e - c * d);
    if determinant.is_nan() || determinant <= 0.0 {
        return None;
    }
    let inverse = [
        [d * f - e * e, c * e - b * f, b * e - c * d],
        [c * e - b * f, a * f - c * c, b * c - a * e],
        [b * e - c * d, b * c - a * e, a * d - b * b],
    ];
    Some(inverse.map(|row| row.map(|v| v / determinant)))
}

/// Inflation of the variance of slowly varying sums by first-order correlation of the residuals.
fn inflation(residuals: &[f64]) -> f64 {
    let n = residuals.len() as f64;
    let square: f64 = residuals.iter().map(|r| r * r).sum();
    let product: f64 = residuals.windows(2).map(|p| if let &[a, b] = p { a * b } else { 0.0 }).sum();
    if square <= 0.0 {
        return 1.0;
    }
    // Fitting three coefficients lowers the correlation of residuals by about 3/n.
    let raw = product / square + 3.0 / n;
    let correlation =
        ((raw * n + PRIOR_CORRELATION.0 * PRIOR_CORRELATION.1) / (n + PRIOR_CORRELATION.1)).clamp(-0.3, 0.9);
    (1.0 + correlation) / (1.0 - correlation)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn circle(radius: f64, from_deg: f64, sweep_deg: f64) -> Points {
        (0..60)
            .map(|i| (from_deg + sweep_deg * f64::from(i) / 59.0).to_radians())
            .map(|a| [500.0 + radius * a.cos(), 400.0 - radius * a.sin()])
            .collect()
    }

    #[test]
    fn circles_come_back_with_sign() {
        // From −30° to 30° the walk goes up; along increasing x it would go clockwise for the upper half of a circle.
        for (from, sweep, direction, sign) in
            [(60.0, 60.0, 0.0, -1.0), (240.0, 60.0, 0.0, 1.0), (20.0, 200.0, 30.0, -1.0)]
        {
            let fit = arc(&circle(300.0, from, sweep), 0.1).unwrap();
            assert!((fit.curvature_per_px.value - sign / 300.0).abs() < 1e-7, "{fit:?}");
            assert!(fit.direction.angle_to(AxialDeg::new(direction).unwrap()) < 1e-4, "{fit:?}");
        }
    }

    #[test]
    fn a_line_is_straight() {
        let points: Points =
            (0..20).map(|i| [10.0 + 8.0 * f64::from(i), 90.0 - 4.0 * f64::from(i)]).collect();
        let fit = arc(&points, 0.1).unwrap();
        assert!(fit.curvature_per_px.value.abs() < 1e-9);
        assert!(fit.direction.angle_to(AxialDeg::from_pixel_step(8.0, -4.0).unwrap()) < 1e-6);
    }

    /// Cases `curvature.gluckstern` of the reference sheet: var κ = 720(N−1)³/((N−2)N(N+1)(N+2))·σ²/L⁴ (Gluckstern 1963).
    #[test]
    fn variance_of_curvature_is_that_of_least_squares() {
        for (n, expected) in [(5_u32, 73.142_857), (10, 49.704_545), (50, 13.308_710), (200, 3.528_979)] {
            let samples: Vec<Sample> = (0..n)
                .map(|i| Sample { along: f64::from(i) / f64::from(n - 1) - 0.5, across: 0.0, weight: 1.0 })
                .collect();
            let (_, bend) = gains(&samples);
            assert!((bend / expected - 1.0).abs() < 1e-6, "N = {n}: {bend}");
        }
    }
}
