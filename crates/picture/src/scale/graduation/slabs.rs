//! Thin slabs along a direction, searched for the finest comb.

use std::f64::consts::PI;

use rayon::prelude::*;

use super::LEAST_TICKS;
use super::frame::Frame;
use crate::Grey;
use crate::blur::gaussian_row;
use crate::fft::{Complex64, forward};

/// Slabs the picture is cut into, at most and at least this thick (ours: several within a row of ticks, each averaging some noise out).
const SLABS: f64 = 90.0;
const THINNEST_PX: f64 = 4.0;
/// Share of a slab's varying part that the comb must explain beyond chance (ours, set on rendered and real graduations and textures).
const LEAST_GAIN: f64 = 0.5;
/// The finest comb that explains this share of what the best one explains counts (ours).
const NEARLY_BEST: f64 = 0.9;
/// Finest frequency searched, cycles per pixel: a pitch of 2.5 px.
const FINEST: f64 = 0.4;

/// A comb found in neighbouring slabs.
#[derive(Debug, Clone, Copy)]
pub(super) struct Comb {
    pub(super) angle_rad: f64,
    pub(super) pitch_px: f64,
    /// Extent across, in the frame's `s`.
    pub(super) from_s: f64,
    pub(super) to_s: f64,
    /// Extent along, in the frame's `t`.
    pub(super) from_t: f64,
    pub(super) to_t: f64,
}

/// What one slab shows.
#[derive(Debug, Clone, Copy)]
struct Found {
    frequency: f64,
    /// Uncertainty of the frequency: one step of the slab's spectrum.
    step: f64,
    gain: f64,
    from_t: f64,
    to_t: f64,
}

/// The finest comb that runs through at least two neighbouring slabs.
pub(super) fn finest_comb(grey: &Grey, angle_rad: f64) -> Option<Comb> {
    let frame = Frame::new(grey, angle_rad);
    let [reach_t, reach_s] = frame.reach();
    let thickness = (2.0 * reach_s / SLABS).max(THINNEST_PX);
    let profiles = profiles(grey, &frame, thickness);
    let found: Vec<Option<Found>> = profiles.par_iter().map(|profile| comb_of(profile, reach_t)).collect();
    let (first, last) = finest_run(&found)?;
    let inside: Vec<Found> = found.get(first..=last)?.iter().flatten().copied().collect();
    let weight: f64 = inside.iter().map(|one| one.gain).sum();
    let frequency = inside.iter().map(|one| one.gain * one.frequency).sum::<f64>() / weight;
    let extent = |pick: fn(&Found) -> f64| {
        let mut all: Vec<f64> = inside.iter().map(pick).collect();
        all.sort_unstable_by(f64::total_cmp);
        all.get(all.len() / 2).copied()
    };
    Some(Comb {
        angle_rad,
        pitch_px: 1.0 / frequency,
        from_s: first as f64 * thickness - reach_s,
        to_s: (last + 1) as f64 * thickness - reach_s,
        from_t: extent(|one| one.from_t)?,
        to_t: extent(|one| one.to_t)?,
    })
}

/// Mean values along `t` for each slab; `NaN` where a slab holds no pixel.
fn profiles(grey: &Grey, frame: &Frame, thickness: f64) -> Vec<Vec<f64>> {
    let [reach_t, reach_s] = frame.reach();
    let length = (2.0 * reach_t).ceil() as usize + 2;
    let count = (2.0 * reach_s / thickness).ceil() as usize + 1;
    let mut sums = vec![0.0f64; length * count];
    let mut weights = vec![0.0f64; length * count];
    for y in 0..grey.height() {
        for (x, &value) in grey.row(y).iter().enumerate() {
            let [t, s] = frame.coordinates(x as f64, y as f64);
            let slab = ((s + reach_s) / thickness).max(0.0) as usize;
            let position = (t + reach_t).max(0.0);
            let (index, part) = (position as usize, position.fract());
            for (offset, share) in [(0, 1.0 - part), (1, part)] {
                let at = slab * length + index + offset;
                if let (Some(sum), Some(weight)) = (sums.get_mut(at), weights.get_mut(at)) {
                    *sum += share * f64::from(value);
                    *weight += share;
                }
            }
        }
    }
    let mean = |(sum, weight): (&f64, &f64)| if *weight > 0.3 * thickness { sum / weight } else { f64::NAN };
    sums.chunks_exact(length)
        .zip(weights.chunks_exact(length))
        .map(|(sum, weight)| sum.iter().zip(weight).map(mean).collect())
        .collect()
}

/// The comb of one profile.
fn comb_of(profile: &[f64], reach_t: f64) -> Option<Found> {
    let start = profile.iter().position(|v| v.is_finite())?;
    let values: Vec<f64> = profile.iter().skip(start).take_while(|v| v.is_finite()).copied().collect();
    let n = values.len();
    if n < 32 {
        return None;
    }
    let slow = gaussian_row(&values, n as f64 / 10.0);
    let fade = |i: usize| 0.5 - 0.5 * (2.0 * PI * (i as f64 + 0.5) / n as f64).cos();
    let padded = 2 * n;
    let mut spectrum: Vec<Complex64> = (0..padded)
        .map(|i| Complex64::new(values.get(i).zip(slow.get(i)).map_or(0.0, |(v, s)| (v - s) * fade(i)), 0.0))
        .collect();
    forward(padded).process(&mut spectrum);
    let power: Vec<f64> = spectrum.iter().take(n).map(|v| v.norm_sqr()).collect();
    let (bin, gain) = best_bin(&power)?;
    let place = start as f64 - reach_t;
    Some(Found {
        frequency: bin / padded as f64,
        step: 1.0 / n as f64,
        gain,
        from_t: place,
        to_t: place + n as f64 - 1.0,
    })
}

/// Position (fractional bin of the doubled transform) and gain of the finest comb that explains nearly as much as the best.
fn best_bin(power: &[f64]) -> Option<(f64, f64)> {
    let n = power.len();
    let lowest = 2 * LEAST_TICKS - 2;
    let highest = (2.0 * FINEST * n as f64) as usize;
    let total: f64 = power.iter().skip(lowest).sum();
    if n <= lowest + 4 || total <= 1e-9 {
        return None;
    }
    let here = |k: usize| power.get(k).copied().unwrap_or(0.0);
    let tallest = power.iter().skip(lowest).copied().fold(0.0, f64::max);
    let is_peak = |&k: &usize| here(k) >= 0.03 * tallest && here(k) >= here(k - 1) && here(k) > here(k + 1);
    let combs: Vec<(f64, f64)> = (lowest.max(1)..highest.min(n - 1))
        .filter(is_peak)
        .map(|k| refined(power, k))
        .map(|bin| (bin, gain(power, bin, lowest, total)))
        .collect();
    let best = combs.iter().map(|comb| comb.1).fold(0.0, f64::max);
    if best < LEAST_GAIN {
        return None;
    }
    combs.into_iter().filter(|comb| comb.1 >= NEARLY_BEST * best).max_by(|a, b| a.0.total_cmp(&b.0))
}

/// Peak position by a parabola through the logarithms.
fn refined(power: &[f64], k: usize) -> f64 {
    let log = |k: usize| power.get(k).copied().unwrap_or(0.0).max(1e-300).ln();
    let (a, b, c) = (log(k - 1), log(k), log(k + 1));
    let bend = a - 2.0 * b + c;
    let shift = if bend < 0.0 { 0.5 * (a - c) / bend } else { 0.0 };
    k as f64 + shift.clamp(-0.5, 0.5)
}

/// Share of the power at multiples of `bin`, less the share of the axis those multiples cover.
fn gain(power: &[f64], bin: f64, lowest: usize, total: f64) -> f64 {
    // The fading window spreads a line over ± 2 steps, that is ± 4 bins of the doubled transform; ± 3 hold 99 % of it.
    const HALF: usize = 3;
    let (mut held, mut covered) = (0.0, 0usize);
    let mut multiple = bin;
    while multiple < power.len() as f64 - 1.0 {
        let middle = multiple.round() as usize;
        let low = middle.saturating_sub(HALF).max(lowest);
        let part = power.get(low..(middle + HALF + 1).min(power.len())).unwrap_or(&[]);
        held += part.iter().sum::<f64>();
        covered += part.len();
        multiple += bin;
    }
    let share = covered as f64 / (power.len() - lowest) as f64;
    if share >= 0.95 { 0.0 } else { (held / total - share) / (1.0 - share) }
}

/// First and last slab of the run of neighbours (single gaps allowed) that share the finest frequency.
fn finest_run(found: &[Option<Found>]) -> Option<(usize, usize)> {
    let mut order: Vec<usize> =
        (0..found.len()).filter(|&i| found.get(i).is_some_and(Option::is_some)).collect();
    let frequency = |i: usize| found.get(i).and_then(|one| one.as_ref()).map_or(0.0, |one| one.frequency);
    order.sort_by(|&a, &b| frequency(b).total_cmp(&frequency(a)));
    order.into_iter().find_map(|seed| {
        let same = |i: usize| {
            found.get(i).and_then(|one| one.as_ref()).is_some_and(|one| {
                (one.frequency - frequency(seed)).abs() < 0.7 * one.step + 0.004 * one.frequency
            })
        };
        let mut first = seed;
        while first > 0 && (same(first - 1) || (first > 1 && same(first - 2))) {
            first -= 1;
        }
        let mut last = seed;
        while same(last + 1) || same(last + 2) {
            last += 1;
        }
        let agreeing = (first..=last).filter(|&i| same(i)).count();
        (agreeing >= 2).then_some((first, last))
    })
}
