//! Rows and columns that the sensor offsets as a whole.

use super::SensorLines;
use crate::Grey;

/// Strips the picture is cut into: an offset of the sensor is the same in all of them, a scratch is not.
const STRIPS: usize = 8;
/// Least correlation between distant strips (ours): lines along 0° or 90° that run through the whole picture are rare among scratches.
const LEAST_CORRELATION: f64 = 0.12;
/// … which must also be this many of its standard errors.
const LEAST_SIGNIFICANCE: f64 = 6.0;

/// Offsets of whole rows or columns, if there are any.
pub(super) fn find(grey: &Grey) -> Option<SensorLines> {
    let rows = offsets(&strip_profiles(grey, false));
    let columns = offsets(&strip_profiles(grey, true));
    (rows > 0.0 || columns > 0.0).then_some(SensorLines { rows, columns })
}

/// For each strip the mean of every row within it (columns if `transposed`), less the mean of its neighbours.
fn strip_profiles(grey: &Grey, transposed: bool) -> Vec<Vec<f64>> {
    let (lines, length) =
        if transposed { (grey.width(), grey.height()) } else { (grey.height(), grey.width()) };
    if lines < 64 || length < 8 * STRIPS {
        return Vec::new();
    }
    let mut sums = vec![vec![0.0f64; lines]; STRIPS];
    for y in 0..grey.height() {
        for (x, &value) in grey.row(y).iter().enumerate() {
            let (line, along) = if transposed { (x, y) } else { (y, x) };
            if let Some(sum) = sums.get_mut(along * STRIPS / length).and_then(|strip| strip.get_mut(line)) {
                *sum += f64::from(value);
            }
        }
    }
    sums.into_iter().map(|strip| fine(&strip, length as f64 / STRIPS as f64)).collect()
}

/// Each mean less the mean of the two on either side, capped at three typical sizes.
fn fine(sums: &[f64], count: f64) -> Vec<f64> {
    let high: Vec<f64> = sums
        .windows(5)
        .map(|w| if let [a, b, c, d, e] = w { (c - (a + b + d + e) / 4.0) / count } else { 0.0 })
        .collect();
    let mut sizes: Vec<f64> = high.iter().map(|v| v.abs()).collect();
    sizes.sort_unstable_by(f64::total_cmp);
    let cap = 4.5 * sizes.get(sizes.len() / 2).copied().unwrap_or(0.0);
    high.into_iter().map(|v| v.clamp(-cap, cap)).collect()
}

/// Standard deviation of the offsets that distant strips share; 0 if they share none.
fn offsets(strips: &[Vec<f64>]) -> f64 {
    let (mut shared, mut own, mut pairs, mut n) = (0.0, 0.0, 0.0, 0.0);
    for (i, a) in strips.iter().enumerate() {
        for b in strips.iter().skip(i + 3) {
            shared += a.iter().zip(b).map(|(a, b)| a * b).sum::<f64>();
            own += (a.iter().map(|v| v * v).sum::<f64>() * b.iter().map(|v| v * v).sum::<f64>()).sqrt();
            n += a.len() as f64;
            pairs += 1.0;
        }
    }
    if own <= 0.0 || !own.is_finite() {
        return 0.0;
    }
    let correlation = shared / own;
    // The pairs share strips: about half of them are independent (ours).
    let error = 1.0 / (n / 2.0f64).sqrt();
    if correlation < LEAST_CORRELATION.max(LEAST_SIGNIFICANCE * error) || pairs == 0.0 {
        return 0.0;
    }
    // Taking the neighbours off keeps 5/4 of the variance of independent offsets.
    (shared / n / 1.25).sqrt()
}
