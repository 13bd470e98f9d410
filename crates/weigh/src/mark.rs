//! A mark: one trace reduced to the numbers the weighing uses, by the same fit for simulated and real traces.

use std::f64::consts::PI;

/// Points to which every path is resampled before the fit: enough for a cubic and its residual, few enough to be fast.
pub const FIT_POINTS: usize = 13;

/// One trace in millimetres; origin at the centre of the field, x right, y upwards as seen.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mark {
    /// Middle of the trace, mm.
    pub at_mm: [f64; 2],
    /// Axis, radians in `[0, π)`.
    pub direction_rad: f64,
    /// Curvature, 1/mm, positive where it bends counter-clockwise walking along `direction_rad`.
    pub curvature_per_mm: f64,
    /// Standard deviation of the curvature that this optics leads one to expect, 1/mm.
    pub curvature_sd_per_mm: f64,
    /// Amplitude of the cubic part (curvature changing along the trace), µm.
    pub cubic_um: f64,
    /// Scatter about an arc with its cubic, µm.
    pub residual_um: f64,
    /// Visible length, mm.
    pub length_mm: f64,
    /// Width, µm.
    pub width_um: f64,
    /// True ends in the field, 0 to 2.
    pub ends_inside: u8,
    /// Change of direction from end to end, radians.
    pub turn_rad: f64,
}

/// What a fit to evenly spaced points gives.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fit {
    /// Middle of the path.
    pub at: [f64; 2],
    /// Axis of the chord, radians in `[0, π)`.
    pub direction_rad: f64,
    /// Signed curvature along that axis, inverse units.
    pub curvature: f64,
    /// Amplitude of the cubic part.
    pub cubic: f64,
    /// Root mean square about an arc with its cubic.
    pub residual: f64,
    /// Length of the path.
    pub length: f64,
}

/// Resamples a polyline to [`FIT_POINTS`] evenly spaced points; `None` if it has no length.
pub fn resample(points: &[[f64; 2]]) -> Option<([[f64; 2]; FIT_POINTS], f64)> {
    resample_part(points, [0.0, f64::INFINITY])
}

/// The same for the part between two distances along it; returns the points and the length of the part.
pub fn resample_part(points: &[[f64; 2]], part: [f64; 2]) -> Option<([[f64; 2]; FIT_POINTS], f64)> {
    let whole: f64 = points.windows(2).map(|p| step_length(p[0], p[1])).sum();
    let (from, to) = (part[0].max(0.0), part[1].min(whole));
    let length = to - from;
    if !(length.is_finite() && length > 0.0) {
        return None;
    }
    let spacing = length / (FIT_POINTS - 1) as f64;
    let mut even = [points[0]; FIT_POINTS];
    let (mut segment, mut before) = (0, 0.0);
    let mut here = step_length(points[0], points[1]);
    for (index, place) in even.iter_mut().enumerate() {
        let wanted = from + spacing * index as f64;
        while before + here < wanted && segment + 2 < points.len() {
            before += here;
            segment += 1;
            here = step_length(points[segment], points[segment + 1]);
        }
        let share = if here > 0.0 { ((wanted - before) / here).clamp(0.0, 1.0) } else { 0.0 };
        *place = between(points, segment, share);
    }
    Some((even, length))
}

/// A point between `points[segment]` and the next, on the cubic through both with the slopes of the parabolas through
/// their neighbours: a curve drawn with few points at uneven steps must not look ragged for its corners.
///
/// # Source
/// Cubic Hermite interpolation with three-point slopes (Bessel's); ours is the choice of the same parabola beyond an end.
fn between(points: &[[f64; 2]], segment: usize, share: f64) -> [f64; 2] {
    let (a, b) = (points[segment], points[segment + 1]);
    let step = step_length(a, b);
    let neighbour = |index: Option<usize>, from: [f64; 2]| {
        let p = points.get(index?)?;
        let length = step_length(*p, from);
        (length > 1e-3 * step).then_some((*p, length))
    };
    let before = neighbour(segment.checked_sub(1), a);
    let after = neighbour(segment.checked_add(2), b);
    [0, 1].map(|axis| {
        let rise = b[axis] - a[axis];
        // Slopes times the step.
        let at_a = before
            .map(|(p, other)| (rise * other + (a[axis] - p[axis]) * step * step / other) / (step + other));
        let at_b = after
            .map(|(p, other)| (rise * other + (p[axis] - b[axis]) * step * step / other) / (step + other));
        let (at_a, at_b) = match (at_a, at_b) {
            (Some(at_a), Some(at_b)) => (at_a, at_b),
            (None, Some(at_b)) => (2.0 * rise - at_b, at_b),
            (Some(at_a), None) => (at_a, 2.0 * rise - at_a),
            (None, None) => (rise, rise),
        };
        let square = 3.0 * rise - 2.0 * at_a - at_b;
        let cube = at_a + at_b - 2.0 * rise;
        a[axis] + share * (at_a + share * (square + share * cube))
    })
}

fn step_length(a: [f64; 2], b: [f64; 2]) -> f64 {
    ((b[0] - a[0]).powi(2) + (b[1] - a[1]).powi(2)).sqrt()
}

/// Values of the orthogonal polynomials of degree 1 to 3 on the evenly spaced points, with unit sum of squares.
struct Basis {
    linear: [f64; FIT_POINTS],
    quadratic: [f64; FIT_POINTS],
    cubic: [f64; FIT_POINTS],
    /// Change of the unit quadratic from its middle to its ends: turns a coefficient into a sagitta.
    quadratic_rise: f64,
}

#[allow(clippy::needless_range_loop, reason = "indices of a matrix read better than zipped iterators")]
fn basis() -> Basis {
    let n = FIT_POINTS as f64;
    let half = 0.5 * (n - 1.0);
    let at = |i: usize| i as f64 - half;
    let mut linear = [0.0; FIT_POINTS];
    let mut quadratic = [0.0; FIT_POINTS];
    let mut cubic = [0.0; FIT_POINTS];
    for i in 0..FIT_POINTS {
        let t = at(i);
        linear[i] = t;
        quadratic[i] = t * t - (n * n - 1.0) / 12.0;
        cubic[i] = t * t * t - t * (3.0 * n * n - 7.0) / 20.0;
    }
    let scale = |values: &mut [f64; FIT_POINTS]| {
        let norm = values.iter().map(|v| v * v).sum::<f64>().sqrt();
        values.iter_mut().for_each(|v| *v /= norm);
    };
    scale(&mut linear);
    scale(&mut quadratic);
    scale(&mut cubic);
    let quadratic_rise = quadratic[0] - quadratic[FIT_POINTS / 2];
    Basis { linear, quadratic, cubic, quadratic_rise }
}

/// A fitter holding its polynomials.
pub struct Fitter(Basis);

impl Default for Fitter {
    fn default() -> Self {
        Self(basis())
    }
}

impl Fitter {
    /// Moves evenly spaced points across their chord by these amounts of the unit polynomials of degree one to three.
    pub(crate) fn displace(&self, even: &mut [[f64; 2]; FIT_POINTS], shape: [f64; 3]) {
        let (dx, dy) = (even[FIT_POINTS - 1][0] - even[0][0], even[FIT_POINTS - 1][1] - even[0][1]);
        let chord = dx.hypot(dy).max(1e-12);
        for (index, p) in even.iter_mut().enumerate() {
            let across = shape[0] * self.0.linear[index]
                + shape[1] * self.0.quadratic[index]
                + shape[2] * self.0.cubic[index];
            p[0] -= across * dy / chord;
            p[1] += across * dx / chord;
        }
    }

    /// Offsets `across` a line at even steps as amounts of the unit polynomials of degree one to three, and the root mean
    /// square of what is left.
    #[must_use]
    pub fn shape(&self, across: &[f64; FIT_POINTS]) -> ([f64; 3], f64) {
        let n = FIT_POINTS as f64;
        let mean = across.iter().sum::<f64>() / n;
        let polynomials = [&self.0.linear, &self.0.quadratic, &self.0.cubic];
        let shape = polynomials.map(|p| p.iter().zip(across).map(|(a, b)| a * b).sum::<f64>());
        let left: f64 = (0..FIT_POINTS)
            .map(|i| across[i] - mean - (0..3).map(|k| shape[k] * polynomials[k][i]).sum::<f64>())
            .map(|rest| rest * rest)
            .sum();
        (shape, (left / (n - 4.0)).sqrt())
    }

    /// Fits evenly spaced points: parabola and cubic about the chord, curvature from the exact sagitta.
    ///
    /// # Source
    /// Orthogonal polynomials on evenly spaced points (Chebyshev/Gram); R = c²/(8s) + s/2 for a circular arc.
    #[must_use]
    pub fn fit(&self, even: &[[f64; 2]; FIT_POINTS], length: f64) -> Option<Fit> {
        let (first, last) = (even[0], even[FIT_POINTS - 1]);
        let (dx, dy) = (last[0] - first[0], last[1] - first[1]);
        let chord = dx.hypot(dy);
        if chord <= 1e-9 * length {
            return None;
        }
        // Walk the chord so that its heading lies in [0, π).
        let heading = dy.atan2(dx);
        let flip = if (0.0..PI).contains(&heading) { 1.0 } else { -1.0 };
        let (ux, uy) = (flip * dx / chord, flip * dy / chord);
        let middle = even[FIT_POINTS / 2];
        let mut offsets = [0.0; FIT_POINTS];
        for (offset, p) in offsets.iter_mut().zip(even) {
            *offset = (p[1] - middle[1]) * ux - (p[0] - middle[0]) * uy;
        }
        if flip < 0.0 {
            offsets.reverse();
        }
        let n = FIT_POINTS as f64;
        let mean = offsets.iter().sum::<f64>() / n;
        let half = 0.5 * (n - 1.0);
        let slope_sum: f64 = offsets.iter().enumerate().map(|(i, o)| (i as f64 - half) * o).sum();
        let slope = slope_sum / (n * (n * n - 1.0) / 12.0);
        let dot = |values: &[f64; FIT_POINTS]| values.iter().zip(&offsets).map(|(a, b)| a * b).sum::<f64>();
        let (q, c) = (dot(&self.0.quadratic), dot(&self.0.cubic));
        let sagitta = q * self.0.quadratic_rise;
        let curvature = 8.0 * sagitta / (chord * chord + 4.0 * sagitta * sagitta);
        // What an arc of this curvature rises beyond a parabola is no raggedness (next term of the cosine).
        let quartic = curvature.powi(3) * (length / (n - 1.0)).powi(4) / 24.0;
        let mut beyond = [0.0; FIT_POINTS];
        beyond.iter_mut().enumerate().for_each(|(i, b)| *b = quartic * (i as f64 - half).powi(4));
        let beyond_mean = beyond.iter().sum::<f64>() / n;
        let beyond_q: f64 = self.0.quadratic.iter().zip(&beyond).map(|(a, b)| a * b).sum();
        let residual = offsets
            .iter()
            .enumerate()
            .map(|(i, o)| {
                let model = mean + slope * (i as f64 - half) + q * self.0.quadratic[i] + c * self.0.cubic[i];
                let arc = beyond[i] - beyond_mean - beyond_q * self.0.quadratic[i];
                (o - model + arc) * (o - model + arc)
            })
            .sum::<f64>();
        let mut direction_rad = uy.atan2(ux).rem_euclid(PI);
        if direction_rad >= PI {
            direction_rad = 0.0;
        }
        // Amplitude of the cubic at its largest within the path, about 1.5 times its root mean square.
        let cubic = 1.5 * c / n.sqrt();
        Some(Fit {
            at: middle,
            direction_rad,
            curvature,
            cubic,
            residual: (residual / (n - 4.0)).sqrt(),
            length,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn arc(radius: f64, turn: f64, start: f64) -> Vec<[f64; 2]> {
        (0..200)
            .map(|i| start + turn * f64::from(i) / 199.0)
            .map(|a| [radius * a.cos(), radius * a.sin()])
            .collect()
    }

    /// Points on a circle give its radius back; REFERENCES §3, sagitta of a circular arc.
    #[test]
    fn an_arc_gives_its_radius() {
        for (radius, turn, tolerance) in [(30.0, 0.1, 0.001), (30.0, 0.5, 0.01), (5.0, 1.2, 0.05)] {
            let (even, length) = resample(&arc(radius, turn, 0.3)).unwrap();
            let fit = Fitter::default().fit(&even, length).unwrap();
            assert!((fit.curvature * radius - 1.0).abs() < tolerance, "{radius} {turn}: {}", fit.curvature);
            assert!((fit.length - radius * turn).abs() < 1e-3 * fit.length);
            assert!(fit.residual < 2e-4 * radius * turn.powi(4), "{radius} {turn}: {}", fit.residual);
        }
    }

    /// A circle drawn with a point every 0.2 rad is as smooth as one drawn with two hundred.
    #[test]
    fn few_points_do_not_make_an_arc_ragged() {
        let sparse: Vec<[f64; 2]> = arc(5.0, 1.2, 0.3).into_iter().step_by(33).collect();
        let (even, length) = resample(&sparse).unwrap();
        let fit = Fitter::default().fit(&even, length).unwrap();
        assert!(fit.residual < 1e-3, "{}", fit.residual);
        assert!((fit.curvature * 5.0 - 1.0).abs() < 0.05, "{}", fit.curvature);
    }

    #[test]
    fn the_sign_does_not_depend_on_the_order_of_points() {
        let forward = arc(10.0, 0.4, 2.0);
        let mut backward = forward.clone();
        backward.reverse();
        let fit = |points: &[[f64; 2]]| {
            let (even, length) = resample(points).unwrap();
            Fitter::default().fit(&even, length).unwrap().curvature
        };
        assert!((fit(&forward) - fit(&backward)).abs() < 1e-9);
    }
}
