//! Every tick located, and the straight line through position over number.

use std::f64::consts::PI;

use quantity::{AxialDeg, Measured};

use super::frame::{Frame, value_at};
use super::slabs::Comb;
use super::{Graduation, GraduationError, LEAST_TICKS, Tick};
use crate::Grey;
use crate::blur::gaussian_row;
use crate::fft::Complex64;

/// Layers of the band that are averaged, at most.
const MOST_LAYERS: usize = 400;
/// Samples per pixel along the row.
const FINE: f64 = 2.0;
/// Standard deviation of the smoothing before ticks are located, as a share of the pitch (ours: close to the matched width of usual ticks).
const SMOOTHING: f64 = 0.16;
/// A tick is searched within this share of the pitch from where it is expected.
const SEARCH: f64 = 0.35;
/// Ticks nearer to the end of the row than this share of the pitch are left out.
const EDGE: f64 = 0.6;
/// Largest scatter of the ticks as a share of the pitch: graduations stay below 0.02, courses of bricks and lines of writing lie above 0.05 (ours,
/// from the pictures in the tests).
const LARGEST_SCATTER: f64 = 0.04;
/// Largest variation along a tick as a share of its contrast (ours, from the same pictures).
const LARGEST_BREAKS: f64 = 0.45;
/// Shortest ticks as a share of the pitch: a strip through courses of bricks is shorter than they are apart (ours).
const SHORTEST_TICKS: f64 = 0.5;
/// A tick is located no better than this, however small the scatter, in pixels: interpolation between pixels (ours, on rendered graduations).
const LEAST_U_PX: f64 = 0.03;
/// Rows whose directions differ less than this are of one graduation.
const SAME_DIRECTION_DEG: f64 = 6.0;
/// Least share of expected ticks that must be there.
const LEAST_FOUND: f64 = 0.7;

/// A measured row of ticks.
pub(super) struct Row {
    frame: Frame,
    direction: AxialDeg,
    middle_s: f64,
    extent_s: f64,
    positions: Vec<(i32, f64)>,
    line: Line,
}

/// Robust straight line through position over number.
#[derive(Debug, Clone, Copy)]
struct Line {
    pitch: Measured,
    scatter: f64,
    /// Relative change of the pitch from end to end, with its uncertainty.
    change: Measured,
}

/// Locates the ticks of a comb and fits the pitch.
pub(super) fn measure(grey: &Grey, comb: &Comb) -> Result<Row, GraduationError> {
    let mut comb = *comb;
    for _ in 0..4 {
        comb.angle_rad += lean(grey, &comb);
    }
    let frame = Frame::new(grey, comb.angle_rad);
    let profile = Profile::new(grey, &frame, &comb, MOST_LAYERS);
    let not_a = |reason: String| GraduationError::NotAGraduation { pitch_px: comb.pitch_px, reason };
    let positions = profile.ticks(comb.pitch_px);
    if positions.len() < LEAST_TICKS {
        return Err(not_a(format!(
            "only {} lines follow each other evenly and {LEAST_TICKS} are needed",
            positions.len()
        )));
    }
    let span = positions.last().map_or(0, |last| last.0) - positions.first().map_or(0, |first| first.0) + 1;
    if (positions.len() as f64) < LEAST_FOUND * f64::from(span) {
        return Err(not_a(format!("{} of {span} lines are missing", span - positions.len() as i32)));
    }
    let line = fit(&positions);
    let scatter = unevenness(&positions, line.scatter) / line.pitch.value;
    if scatter.is_nan() || scatter >= LARGEST_SCATTER {
        return Err(not_a(format!("its lines are uneven by {:.0} % of their distance", 100.0 * scatter)));
    }
    if comb.to_s - comb.from_s < SHORTEST_TICKS * comb.pitch_px {
        return Err(not_a("its lines are shorter than half their distance".to_owned()));
    }
    let breaks = profile.breaks(grey, &frame, &comb, &positions);
    if breaks.is_nan() || breaks >= LARGEST_BREAKS {
        return Err(not_a("its lines are not drawn through".to_owned()));
    }
    let [dx, dy] = frame.along;
    let direction =
        AxialDeg::from_pixel_step(dx, dy).ok_or(GraduationError::NothingRegular { needed: LEAST_TICKS })?;
    Ok(Row {
        frame,
        direction,
        middle_s: (comb.from_s + comb.to_s) / 2.0,
        extent_s: comb.to_s - comb.from_s,
        positions,
        line,
    })
}

impl Row {
    /// Whether this row is to be taken rather than another: of rows in about one direction the finer one (the other are its longer ticks), else
    /// the larger one.
    pub(super) fn beats(&self, other: &Self) -> bool {
        let area = |row: &Self| row.positions.len() as f64 * row.line.pitch.value * row.extent_s;
        let ratio = other.line.pitch.value / self.line.pitch.value;
        if self.direction.angle_to(other.direction) < SAME_DIRECTION_DEG && !(0.7..1.4).contains(&ratio) {
            ratio > 1.0
        } else {
            area(self) > area(other)
        }
    }

    pub(super) fn graduation(self) -> Graduation {
        let first = self.positions.first().map_or(0, |first| first.0);
        let marks = self
            .positions
            .iter()
            .map(|&(number, t)| Tick {
                number: number - first,
                centre_px: self.frame.point(t, self.middle_s),
            })
            .collect();
        let change = self.line.change;
        let mut notes = Vec::new();
        if change.value.abs() > (3.0 * change.u).max(0.002) {
            notes.push(format!(
                "the pitch changes by {:.1} % from end to end: the graduation was tilted or the lens distorts; the mean is given",
                100.0 * change.value.abs()
            ));
        }
        Graduation {
            pitch_px: self.line.pitch,
            direction: self.direction,
            ticks: self.positions.len(),
            marks,
            scatter_px: self.line.scatter,
            notes,
        }
    }
}

/// Angle by which the ticks lean against the frame, from the phase of the comb in thin layers of its band.
fn lean(grey: &Grey, comb: &Comb) -> f64 {
    const LAYERS: usize = 9;
    let frame = Frame::new(grey, comb.angle_rad);
    let mut layers: Vec<(f64, Complex64)> = Vec::new();
    for layer in 0..LAYERS {
        let s = comb.from_s + (comb.to_s - comb.from_s) * (layer as f64 + 0.5) / LAYERS as f64;
        let mut sum = Complex64::default();
        let (mut mean, mut count) = (0.0, 0.0);
        let (from, to) = (comb.from_t.ceil() as i64, comb.to_t.floor() as i64);
        let wave = |t: f64| Complex64::from_polar(1.0, -2.0 * PI * t / comb.pitch_px);
        let values: Vec<(f64, f64)> = (from..=to)
            .filter_map(|t| value_at(grey, frame.point(t as f64, s)).map(|v| (t as f64, v)))
            .collect();
        for (_, value) in &values {
            mean += value;
            count += 1.0;
        }
        mean /= f64::max(count, 1.0);
        for (t, value) in &values {
            let fade = 0.5 - 0.5 * (2.0 * PI * (t - comb.from_t) / (comb.to_t - comb.from_t).max(1.0)).cos();
            sum += wave(*t) * ((value - mean) * fade);
        }
        layers.push((s, sum));
    }
    // Phase steps between neighbours never wrap as long as the lean is below half a pitch per layer.
    let (mut turned, mut weight) = (0.0, 0.0);
    for pair in layers.windows(2) {
        let [(s0, z0), (s1, z1)] = pair else { continue };
        let product = z1 * z0.conj();
        let strength = product.norm().sqrt();
        turned += strength * product.arg() / (s1 - s0).max(f64::MIN_POSITIVE);
        weight += strength;
    }
    let slope = turned / weight.max(f64::MIN_POSITIVE) * comb.pitch_px / (2.0 * PI);
    // The comb's phase falls by 2π per pitch along t: a tick that moves by +slope per s asks for a frame turned back by that angle.
    slope.atan().clamp(-0.1, 0.1)
}

/// Values along the row, averaged over the band, and smoothed for locating.
struct Profile {
    from_t: f64,
    /// Samples for which the whole band lies inside the picture.
    whole: (usize, usize),
    smooth: Vec<f64>,
    /// −1 for dark ticks, 1 for bright ones.
    sign: f64,
}

impl Profile {
    fn new(grey: &Grey, frame: &Frame, comb: &Comb, most_layers: usize) -> Self {
        // The outermost tenth on each side may hold tick ends.
        let trim = 0.1 * (comb.to_s - comb.from_s);
        let layers = ((comb.to_s - comb.from_s - 2.0 * trim).ceil() as usize).clamp(2, most_layers);
        let step_s = (comb.to_s - comb.from_s - 2.0 * trim) / layers as f64;
        let count = ((comb.to_t - comb.from_t).max(0.0) * FINE) as usize;
        let mut values = Vec::with_capacity(count);
        let mut last = 0.0;
        let mut whole: Option<(usize, usize)> = None;
        for i in 0..count {
            let t = comb.from_t + i as f64 / FINE;
            let (mut sum, mut seen) = (0.0, 0.0);
            for layer in 0..layers {
                let s = comb.from_s + trim + step_s * (layer as f64 + 0.5);
                if let Some(value) = value_at(grey, frame.point(t, s)) {
                    sum += value;
                    seen += 1.0;
                }
            }
            if seen > 0.0 {
                last = sum / seen;
            }
            if seen == layers as f64 {
                whole = Some((whole.map_or(i, |range| range.0), i));
            }
            values.push(last);
        }
        let pitch = comb.pitch_px * FINE;
        let slow = gaussian_row(&values, pitch);
        let level: Vec<f64> = values.iter().zip(&slow).map(|(v, s)| v - s).collect();
        let smooth = gaussian_row(&level, (SMOOTHING * pitch).max(0.7 * FINE));
        let cubes: f64 = smooth.iter().map(|v| v.powi(3)).sum();
        Self {
            from_t: comb.from_t,
            whole: whole.unwrap_or((0, 0)),
            smooth,
            sign: if cubes < 0.0 { -1.0 } else { 1.0 },
        }
    }

    fn at(&self, i: usize) -> f64 {
        self.sign * self.smooth.get(i).copied().unwrap_or(f64::NEG_INFINITY)
    }

    /// Ticks as number and position, found outwards from the strongest part.
    fn ticks(&self, pitch_px: f64) -> Vec<(i32, f64)> {
        let pitch = pitch_px * FINE;
        let Some(seed) = self.seed(pitch) else { return Vec::new() };
        let typical = self.typical_height(pitch);
        let mut found = vec![(0, seed)];
        for direction in [1, -1] {
            let mut missed = 0;
            let mut number = direction;
            while missed < 3 {
                let expected = expected(&found, number, pitch);
                // Nearer to the end the smoothing has only one side to see.
                if !(expected - EDGE * pitch >= self.whole.0 as f64
                    && expected + EDGE * pitch <= self.whole.1 as f64)
                {
                    break;
                }
                match self.peak_near(expected, SEARCH * pitch).filter(|&(_, height)| height > 0.25 * typical)
                {
                    Some((place, _)) => {
                        found.push((number, place));
                        missed = 0;
                    }
                    None => missed += 1,
                }
                number += direction;
            }
            found.sort_by_key(|one| one.0);
        }
        found.into_iter().map(|(number, place)| (number, self.from_t + place / FINE)).collect()
    }

    /// The highest point of the middle half.
    fn seed(&self, pitch: f64) -> Option<f64> {
        let (start, end) = self.whole;
        let quarter = (end - start) / 4;
        let (low, high) = (start + quarter, (end - quarter).max(start + quarter + 1));
        let top = (low..high).max_by(|&a, &b| self.at(a).total_cmp(&self.at(b)))?;
        self.peak_near(top as f64, SEARCH * pitch).map(|(place, _)| place)
    }

    /// Median height of the tops of all stretches one pitch long.
    fn typical_height(&self, pitch: f64) -> f64 {
        let mut tops: Vec<f64> = self
            .smooth
            .chunks(pitch.ceil().max(1.0) as usize)
            .map(|part| part.iter().map(|v| self.sign * v).fold(0.0, f64::max))
            .collect();
        tops.sort_unstable_by(f64::total_cmp);
        tops.get(tops.len() / 2).copied().unwrap_or(0.0)
    }

    /// The highest point within `reach` samples, refined by a parabola; `None` if it lies at the edge of the search.
    fn peak_near(&self, expected: f64, reach: f64) -> Option<(f64, f64)> {
        let low = (expected - reach).round().max(1.0) as usize;
        let high = ((expected + reach).round() as usize).min(self.smooth.len().saturating_sub(2));
        let top = (low..=high).max_by(|&a, &b| self.at(a).total_cmp(&self.at(b)))?;
        let (a, b, c) = (self.at(top.checked_sub(1)?), self.at(top), self.at(top + 1));
        if !(b >= a && b >= c) {
            return None;
        }
        let bend = a - 2.0 * b + c;
        let shift = if bend < 0.0 { (0.5 * (a - c) / bend).clamp(-0.5, 0.5) } else { 0.0 };
        Some((top as f64 + shift, b))
    }

    /// Variation along the ticks as a share of their contrast: small for drawn lines, large for writing and mortar.
    fn breaks(&self, grey: &Grey, frame: &Frame, comb: &Comb, positions: &[(i32, f64)]) -> f64 {
        // Three-pixel pieces: finer ones would show noise, coarser ones would hide the gaps between letters.
        const PIECE_PX: f64 = 3.0;
        let trim = 0.1 * (comb.to_s - comb.from_s);
        let pieces = (((comb.to_s - comb.from_s - 2.0 * trim) / PIECE_PX) as usize).clamp(2, 60);
        let step = (comb.to_s - comb.from_s - 2.0 * trim) / pieces as f64;
        let piece = |t: f64, k: usize| {
            let start = comb.from_s + trim + step * k as f64;
            let values: Vec<f64> = (0..3)
                .filter_map(|i| value_at(grey, frame.point(t, start + step * (f64::from(i) + 0.5) / 3.0)))
                .collect();
            (!values.is_empty()).then(|| values.iter().sum::<f64>() / values.len() as f64)
        };
        let mut ratios: Vec<f64> = positions
            .windows(2)
            .filter_map(|pair| {
                let [(_, a), (_, b)] = pair else { return None };
                let contrasts: Vec<f64> = (0..pieces)
                    .filter_map(|k| Some(self.sign * (piece(*a, k)? - piece((a + b) / 2.0, k)?)))
                    .collect();
                let n = contrasts.len() as f64;
                let mean = contrasts.iter().sum::<f64>() / n;
                let spread = (contrasts.iter().map(|c| (c - mean).powi(2)).sum::<f64>() / n).sqrt();
                (n > 1.0).then_some(if mean > 0.0 { spread / mean } else { f64::INFINITY })
            })
            .collect();
        ratios.sort_unstable_by(f64::total_cmp);
        ratios.get(ratios.len() / 2).copied().unwrap_or(f64::INFINITY)
    }
}

/// Where the tick of this number is expected, from the nearest found ones.
fn expected(found: &[(i32, f64)], number: i32, pitch: f64) -> f64 {
    let mut near: Vec<(i32, f64)> = found.to_vec();
    near.sort_by_key(|one| (one.0 - number).abs());
    near.truncate(12);
    let Some(&(nearest, place)) = near.first() else { return f64::NAN };
    let local = if near.len() >= 4 {
        least_squares(&near, &vec![1.0; near.len()]).map_or(pitch, |(slope, _)| slope)
    } else {
        pitch
    };
    place + f64::from(number - nearest) * local
}

/// Slope and value at zero.
pub(super) fn least_squares(points: &[(i32, f64)], weights: &[f64]) -> Option<(f64, f64)> {
    let total: f64 = weights.iter().sum();
    let mean = |pick: fn(&(i32, f64)) -> f64| {
        points.iter().zip(weights).map(|(p, w)| w * pick(p)).sum::<f64>() / total
    };
    let (mean_n, mean_t) = (mean(|p| f64::from(p.0)), mean(|p| p.1));
    let (mut products, mut squares) = (0.0, 0.0);
    for ((number, t), weight) in points.iter().zip(weights) {
        products += weight * (f64::from(*number) - mean_n) * (t - mean_t);
        squares += weight * (f64::from(*number) - mean_n).powi(2);
    }
    (squares > 0.0).then(|| (products / squares, mean_t - products / squares * mean_n))
}

/// Straight line with outlying ticks weighed down (Tukey's biweight), and the uncertainty of its slope widened for correlated deviations.
fn fit(points: &[(i32, f64)]) -> Line {
    let mut weights = vec![1.0; points.len()];
    let mut line = (0.0, 0.0);
    let mut residuals = Vec::new();
    for _ in 0..8 {
        line = least_squares(points, &weights).unwrap_or(line);
        residuals = points.iter().map(|(n, t)| t - line.1 - line.0 * f64::from(*n)).collect::<Vec<f64>>();
        let mut sizes: Vec<f64> = residuals.iter().map(|r| r.abs()).collect();
        sizes.sort_unstable_by(f64::total_cmp);
        // 4.685 times the spread keeps 95 % efficiency for normal deviations (Tukey's biweight, common practice).
        let cut = 4.685 * 1.4826 * sizes.get(sizes.len() / 2).copied().unwrap_or(0.0).max(1e-6);
        weights = residuals
            .iter()
            .map(|r| if r.abs() < cut { (1.0 - (r / cut).powi(2)).powi(2) } else { 0.0 })
            .collect();
    }
    let kept: f64 = weights.iter().sum();
    let scatter =
        (residuals.iter().zip(&weights).map(|(r, w)| w * r * r).sum::<f64>() / (kept - 2.0).max(1.0)).sqrt();
    let mean_n = points.iter().zip(&weights).map(|(p, w)| w * f64::from(p.0)).sum::<f64>() / kept;
    let squares: f64 = points.iter().zip(&weights).map(|(p, w)| w * (f64::from(p.0) - mean_n).powi(2)).sum();
    let span = points.last().zip(points.first()).map_or(1, |(last, first)| (last.0 - first.0).max(1));
    let least = LEAST_U_PX * std::f64::consts::SQRT_2 / f64::from(span);
    let u = (scatter / squares.sqrt() * correlation_widening(&residuals, &weights)).hypot(least);
    Line {
        pitch: Measured { value: line.0, u },
        scatter,
        change: pitch_change(points, &residuals, &weights, line.0, scatter),
    }
}

/// Ticks from which on a bend of the row can be told from uneven ticks: four unknowns, and four times as many ticks (ours).
const BEND_TOLD_FROM: usize = 16;

/// Scatter of the ticks about a smoothly bent row: what a tilt (second order) and a lens (third order) do is no unevenness.
/// `about_line` is the scatter about a straight line, which is all that short rows can tell.
fn unevenness(points: &[(i32, f64)], about_line: f64) -> f64 {
    let even = vec![1.0; points.len()];
    let (Some((slope, at_zero)), Some(first), Some(last)) =
        (least_squares(points, &even), points.first(), points.last())
    else {
        return about_line;
    };
    if points.len() < BEND_TOLD_FROM {
        return about_line;
    }
    let place = |n: i32| (2.0 * f64::from(n) - f64::from(first.0 + last.0)) / f64::from(last.0 - first.0);
    let mut left: Vec<f64> = points.iter().map(|(n, t)| t - at_zero - slope * f64::from(*n)).collect();
    // Legendre's polynomials: nearly orthogonal to each other and to the line on a row with few gaps.
    for bend in [|x: f64| 1.5 * x * x - 0.5, |x: f64| 2.5 * x.powi(3) - 1.5 * x] {
        let basis: Vec<f64> = points.iter().map(|(n, _)| bend(place(*n))).collect();
        let products: f64 = basis.iter().zip(&left).map(|(b, l)| b * l).sum();
        let squares: f64 = basis.iter().map(|b| b * b).sum();
        left.iter_mut().zip(&basis).for_each(|(l, b)| *l -= products / squares * b);
    }
    (left.iter().map(|l| l * l).sum::<f64>() / (points.len() as f64 - 4.0)).sqrt()
}

/// Factor by which neighbouring deviations that resemble each other widen the uncertainty of a slope (first-order autoregression).
fn correlation_widening(residuals: &[f64], weights: &[f64]) -> f64 {
    let (mut products, mut squares) = (0.0, 0.0);
    for (r, w) in residuals.windows(2).zip(weights.windows(2)) {
        if let ([a, b], [wa, wb]) = (r, w) {
            products += wa * wb * a * b;
            squares += wa * wb * (a * a + b * b) / 2.0;
        }
    }
    let n = residuals.len() as f64;
    // The estimate is low by about (1 + 3ρ)/n, as deviations from a fitted line (Kendall's bias, from memory, source not seen).
    let raw = if squares > 0.0 { products / squares } else { 0.0 };
    let correlation = (raw + (1.0 + 3.0 * raw.max(0.0)) / n).clamp(0.0, 0.95);
    ((1.0 + correlation) / (1.0 - correlation)).sqrt()
}

/// Relative change of the pitch over the row, from a second-order term in the deviations.
fn pitch_change(
    points: &[(i32, f64)],
    residuals: &[f64],
    weights: &[f64],
    pitch: f64,
    scatter: f64,
) -> Measured {
    let (Some(first), Some(last)) = (points.first(), points.last()) else { return Measured::exact(0.0) };
    let span = f64::from(last.0 - first.0).max(1.0);
    let middle = f64::from(first.0 + last.0) / 2.0;
    // Legendre's second polynomial: orthogonal to the straight line on an even row.
    let second = |n: i32| 1.5 * (2.0 * (f64::from(n) - middle) / span).powi(2) - 0.5;
    let (mut products, mut squares) = (0.0, 0.0);
    for ((point, r), w) in points.iter().zip(residuals).zip(weights) {
        products += w * second(point.0) * r;
        squares += w * second(point.0).powi(2);
    }
    // dt/dn of c·P2 runs from −6c/span to +6c/span.
    let factor = 12.0 / span / pitch;
    let squares = squares.max(f64::MIN_POSITIVE);
    Measured { value: factor * products / squares, u: factor * scatter / squares.sqrt() }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Case `scale.regression` of the reference sheet: six lines, nominal 0 to 500 µm, least squares (no outlier, so weights stay near one).
    #[test]
    fn least_squares_of_the_reference_sheet() {
        let points = [(0, 12.3), (1, 135.6), (2, 259.2), (3, 382.4), (4, 505.9), (5, 629.3)];
        let (slope, at_zero) = least_squares(&points, &[1.0; 6]).unwrap();
        let per_um = slope / 100.0;
        assert!((per_um / 1.234_028_571_428_571_5 - 1.0).abs() < 1e-9, "{per_um}");
        assert!((1.0 / per_um / 0.810_354_008_937_047 - 1.0).abs() < 1e-9);
        let squares: f64 = points.iter().map(|(n, t)| (t - at_zero - slope * f64::from(*n)).powi(2)).sum();
        let u_slope = (squares / 4.0 / 17.5).sqrt() / 100.0;
        // The sheet's value carries the rounding of the library it was computed with; exact rational arithmetic gives this.
        assert!((u_slope / 0.000_200_679_119_101_956_94 - 1.0).abs() < 1e-9, "{u_slope}");
        assert!((u_slope - 2.0068e-4).abs() < 0.5e-8, "the printed digits: {u_slope}");
    }
}
