//! The grid of block-wise compression, also after resizing.

use std::f64::consts::PI;

use super::BlockGrid;
use crate::Grey;

/// Periods searched, in pixels: 8 when saved, down to half and up to four times that after resizing (ours).
const SHORTEST_PX: f64 = 4.2;
const LONGEST_PX: f64 = 33.0;
/// Rows (or columns) the steps are averaged over, at most.
const MOST_LINES: usize = 1200;
/// A grid counts if its comb stands this many standard deviations above other periods in both directions (ours).
const LEAST_HEIGHT: f64 = 6.0;
/// … and if its steps exceed those elsewhere by this share: weaker ones fake no line (ours).
const LEAST_STRENGTH: f64 = 0.03;

/// The compression grid, if both directions show one of the same period.
pub(super) fn find(grey: &Grey) -> Option<BlockGrid> {
    let across = Steps::of(grey, false)?;
    let down = Steps::of(grey, true)?;
    // Finest period first: multiples of it score as well.
    let mut best: Option<(f64, f64)> = None;
    let longest = LONGEST_PX.min(across.excess.len().min(down.excess.len()) as f64 / 6.0);
    let n = across.excess.len().max(down.excess.len()) as f64;
    let mut frequency = 1.0 / SHORTEST_PX;
    while frequency > 1.0 / longest {
        let height = across.height(frequency).min(down.height(frequency));
        if height > LEAST_HEIGHT && best.is_none_or(|(_, top)| height > 1.15 * top) {
            best = Some((1.0 / frequency, height));
        }
        frequency -= 0.25 / n;
    }
    let (period_px, _) = best?;
    let strength = (across.strength(period_px) + down.strength(period_px)) / 2.0;
    let phase_px = [across.phase(period_px), down.phase(period_px)];
    (strength > LEAST_STRENGTH).then_some(BlockGrid { period_px, phase_px, strength })
}

/// Excess of the step between neighbouring columns (or rows) over the steps beside it.
struct Steps {
    excess: Vec<f64>,
    /// Mean step.
    typical: f64,
    spread: f64,
}

impl Steps {
    fn of(grey: &Grey, transposed: bool) -> Option<Self> {
        let (length, lines) =
            if transposed { (grey.height(), grey.width()) } else { (grey.width(), grey.height()) };
        if length < 64 || lines < 16 {
            return None;
        }
        let step = lines.div_ceil(MOST_LINES).max(1);
        let mut sums = vec![0.0f64; length - 1];
        let mut count = 0.0;
        if transposed {
            for y in 0..length - 1 {
                let pairs = grey.row(y).iter().zip(grey.row(y + 1)).step_by(step);
                if let Some(sum) = sums.get_mut(y) {
                    *sum = pairs.map(|(a, b)| capped(a - b)).sum();
                }
            }
            count = lines.div_ceil(step) as f64;
        } else {
            for y in (0..lines).step_by(step) {
                sums.iter_mut().zip(grey.row(y).windows(2)).for_each(|(sum, pair)| {
                    if let [a, b] = pair {
                        *sum += capped(a - b);
                    }
                });
                count += 1.0;
            }
        }
        let means: Vec<f64> = sums.iter().map(|sum| sum / count).collect();
        let typical = means.iter().sum::<f64>() / means.len() as f64;
        // Against the mean of two neighbours on each side: slow changes of texture drop out.
        let excess: Vec<f64> = (0..means.len())
            .map(|i| {
                let at = |k: usize| means.get(k).copied().unwrap_or(typical);
                if i < 2 || i + 2 >= means.len() {
                    0.0
                } else {
                    at(i) - (at(i - 2) + at(i - 1) + at(i + 1) + at(i + 2)) / 4.0
                }
            })
            .collect();
        let spread = (excess.iter().map(|e| e * e).sum::<f64>() / excess.len() as f64).sqrt();
        // Single strong lines would ring through the comb.
        let excess = excess.into_iter().map(|e| e.clamp(-3.0 * spread, 3.0 * spread)).collect();
        (typical > 0.0 && spread > 0.0).then_some(Self { excess, typical, spread })
    }

    fn wave(&self, frequency: f64) -> (f64, f64) {
        let (mut cos_sum, mut sin_sum) = (0.0, 0.0);
        for (i, e) in self.excess.iter().enumerate() {
            let (sin, cos) = (2.0 * PI * frequency * i as f64).sin_cos();
            cos_sum += e * cos;
            sin_sum += e * sin;
        }
        (cos_sum, sin_sum)
    }

    /// Height of the comb of this fundamental: amplitudes of the first three overtones in phase, in standard deviations of chance.
    fn height(&self, frequency: f64) -> f64 {
        let (c, s) = self.wave(frequency);
        let phase = s.atan2(c);
        let overtones = [1.0, 2.0, 3.0].into_iter().filter(|k| k * frequency <= 0.5);
        let mut sum = 0.0;
        let mut n = 0.0f64;
        for k in overtones {
            let (c, s) = if k > 1.5 { self.wave(k * frequency) } else { (c, s) };
            sum += c * (k * phase).cos() + s * (k * phase).sin();
            n += 1.0;
        }
        let chance = self.spread * (self.excess.len() as f64 / 2.0 * n).sqrt();
        sum / chance.max(f64::MIN_POSITIVE)
    }

    /// Position of the first grid line: steps at index i lie between pixels i and i + 1.
    fn phase(&self, period_px: f64) -> f64 {
        let (c, s) = self.wave(1.0 / period_px);
        (s.atan2(c) / (2.0 * PI) * period_px + 0.5).rem_euclid(period_px)
    }

    /// Mean excess at the grid lines as a share of the typical step.
    fn strength(&self, period_px: f64) -> f64 {
        let mut position = self.phase(period_px) - 0.5;
        let (mut sum, mut n) = (0.0, 0.0);
        while position < self.excess.len() as f64 - 1.0 {
            let at = |k: f64| self.excess.get(k.max(0.0) as usize).copied().unwrap_or(0.0);
            sum += at(position.floor()).max(at(position.ceil()));
            n += 1.0;
            position += period_px;
        }
        sum / f64::max(n, 1.0) / self.typical
    }
}

/// Size of a step, capped so that edges of grains do not drown the grid.
fn capped(step: f32) -> f64 {
    f64::from(step.abs().min(0.06))
}
