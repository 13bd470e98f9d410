//! Motion blur, told from a lay of real scratches.
//!
//! Motion along one direction multiplies the whole spectrum, texture and specks alike, by sinc²(f·L) along that direction. Parallel scratches
//! only add power across theirs and leave the rest as it was. So the *median* power along each direction is compared with the median power across
//! it, frequency by frequency: scratches, being a narrow fan of the spectrum, do not move medians. Scratches in a wide fan do; but between the
//! two, at 25–50° from a motion, the sinc² is stretched and still has power where it has fallen along the motion, while beside a fan of
//! scratches there is the same stone as along them. And a motion drew out every place alike: where scratches alone made the spectrum lopsided,
//! the calm stone between them changes along them as fast as across.

use std::f64::consts::PI;

use quantity::AxialDeg;

use super::Motion;
use super::spectrum::{TILE_PX, frequency};
use crate::Grey;
use crate::blur::gaussian;

/// Directions tried, 6° apart.
const DIRECTIONS: usize = 30;
/// Half-width of the sector along a direction, degrees, and least angle of the sector across (ours).
const ALONG_DEG: f64 = 12.0;
const ACROSS_DEG: f64 = 60.0;
/// Sector between the two, degrees from the direction.
const BETWEEN_DEG: std::ops::Range<f64> = 25.0..50.0;
/// Where the two are compared, in frequencies of half power: sinc² is 0.26 to 0 along the motion there, 0.6 to 0.1 at 45°.
const COMPARED_AT: [f64; 2] = [1.4, 2.3];
/// The same is asked of shorter and longer motions, since the length found is rough: its half-power frequency times these.
const FREQUENCIES_TRIED: [f64; 5] = [0.8, 1.0, 1.2, 1.45, 1.8];
/// Largest power along over power between there: rendered motions of 9–14 px leave 0.16–0.31, free-hand fans of scratches that
/// look like motion otherwise leave 0.59 and more (ours, between the two).
const LARGEST_OF_BETWEEN: f64 = 0.45;
/// Rings of the spectrum looked at, in steps of one bin.
const FIRST_RING: usize = 2;
const LAST_RING: usize = 80;
/// sinc²(x) is ½ at this x.
const HALF_AT: f64 = 0.443;
/// Shortest motion that is called so: shorter ones are within what grain and light do (ours, set on rendered stone and on photographs of rock).
const SHORTEST_PX: f64 = 4.5;
/// Largest mean share that may be left along the motion beyond its half-power frequency (sinc² leaves 0.1).
const LARGEST_LEFT: f64 = 0.34;

/// Smoothing before slopes are taken, px: less and noise decides, more and a motion of 5 px is hidden.
const SLOPE_PX: f64 = 1.5;
/// Least slope across, in units of what noise alone gives, from which it is the stone's (ours).
const ABOVE_NOISE: f64 = 1.0;
/// Rows smoothed at a time, and most slopes looked at: memory of large pictures stays bounded.
const BAND_ROWS: usize = 512;
const MOST_SLOPES: usize = 2_000_000;
/// The quantile of slopes that speaks for calm places: in the middle of them scratches, and edges drawn out into ramps, take part.
const CALM: f64 = 0.2;
/// The same quantile of |z| for a standard normal variable.
const CALM_OF_NORMAL: f64 = 0.253_347;
/// Largest slope of calm places along a motion over that across it: on rendered stone 20 of 21 motions that the spectrum shows
/// leave up to 0.80, five of six lays that it takes for one 0.90 and more (ours, between the two).
const LARGEST_SLOPE: f64 = 0.85;

/// Median power along and across one direction, ring by ring, noise taken off.
struct Sectors {
    direction_deg: f64,
    /// Share of the power across that is left along, for rings whose power across stands above the noise.
    left: Vec<f64>,
    /// Power along and power between, for the same rings.
    along_and_between: Vec<[f64; 2]>,
}

/// Motion blur, if the spectrum shows its mark.
pub(super) fn find(power: &[f64]) -> Option<Motion> {
    let noise = noise_level(power);
    let sectors = sectors(power, noise);
    let mean_left = |one: &Sectors| one.left.iter().sum::<f64>() / one.left.len().max(1) as f64;
    let best = sectors
        .iter()
        .filter(|one| one.left.len() >= 6)
        .min_by(|a, b| mean_left(a).total_cmp(&mean_left(b)))?;
    let length_px = length(&best.left)?;
    if !falls_below_between(best, length_px) {
        return None;
    }
    let direction = AxialDeg::new(best.direction_deg)?;
    Some(Motion { direction, length_px })
}

/// Whether the power along falls before the power between does, as a motion makes it. The length is known to a factor of two
/// at worst, so the comparison is made at several and the deepest fall counts.
fn falls_below_between(sectors: &Sectors, length_px: f64) -> bool {
    let half = HALF_AT / length_px * TILE_PX as f64;
    let ratio = |higher: &f64| {
        let ring = |at: f64| ((at * higher * half).round() as usize).saturating_sub(FIRST_RING);
        let [from, to] = COMPARED_AT.map(ring);
        let compared = sectors.along_and_between.iter().take(to + 1).skip(from);
        let (along, between) = compared.fold((0.0, 0.0), |(a, b), [along, between]| (a + along, b + between));
        if between > 0.0 { along / between } else { 1.0 }
    };
    FREQUENCIES_TRIED.iter().map(ratio).fold(1.0, f64::min) < LARGEST_OF_BETWEEN
}

/// Whether the picture is drawn out where nothing strong runs, too: the slopes of calm places along the motion against those across, over
/// the whole picture, since scratches may well fill its middle. Where noise makes those slopes it cannot tell and agrees.
pub(super) fn is_everywhere(grey: &Grey, motion: Motion, noise_sigma: f64) -> bool {
    let (dx, dy) = motion.direction.pixel_step();
    let (dx, dy) = (dx as f32, dy as f32);
    let width = grey.width();
    let every = (grey.values().len() / MOST_SLOPES).max(1);
    let (mut along, mut across) = (Vec::new(), Vec::new());
    for band in grey.values().chunks(width * BAND_ROWS) {
        let smooth = gaussian(band, width, band.len() / width, SLOPE_PX);
        let rows: Vec<&[f32]> = smooth.chunks_exact(width).collect();
        let slopes = rows.windows(3).flat_map(|three| {
            let &[above, here, below] = three else { return Vec::new() };
            let across_row = above.iter().zip(below).skip(1).zip(here.windows(3));
            across_row.map(|((up, down), sides)| [difference(sides), down - up]).collect()
        });
        for [gx, gy] in slopes.step_by(every) {
            along.push((gx * dx + gy * dy).abs());
            across.push((gy * dx - gx * dy).abs());
        }
    }
    let (along, across) = (calm(&mut along), calm(&mut across));
    // White noise of σ has slopes of σ/(√(8π) s²) a pixel after smoothing by s; they are taken over two pixels.
    let noise = 2.0 * CALM_OF_NORMAL * noise_sigma / ((8.0 * PI).sqrt() * SLOPE_PX * SLOPE_PX);
    // Squares add: what the noise gives to both is taken off.
    let [along, across] = [along, across].map(|slope| f64::from(slope).powi(2) - noise * noise);
    across < (ABOVE_NOISE * noise).powi(2) || along < LARGEST_SLOPE * LARGEST_SLOPE * across
}

/// Last less first.
fn difference(values: &[f32]) -> f32 {
    values.last().copied().unwrap_or(0.0) - values.first().copied().unwrap_or(0.0)
}

/// The slope that calm places stay below; 0 for none.
fn calm(slopes: &mut [f32]) -> f32 {
    let at = (CALM * slopes.len() as f64) as usize;
    if slopes.is_empty() { 0.0 } else { *slopes.select_nth_unstable_by(at, f32::total_cmp).1 }
}

/// Power of white noise: the least median of any sector at high frequencies.
fn noise_level(power: &[f64]) -> f64 {
    let mut by_sector: Vec<Vec<f64>> = vec![Vec::new(); 12];
    for (i, &p) in power.iter().enumerate() {
        let (fx, fy, f) = frequency(i);
        if (0.36..0.48).contains(&f) {
            let sector = ((-fy).atan2(fx).to_degrees().rem_euclid(180.0) / 15.0) as usize;
            if let Some(all) = by_sector.get_mut(sector.min(11)) {
                all.push(p);
            }
        }
    }
    by_sector.iter_mut().map(|all| median(all)).fold(f64::INFINITY, f64::min)
}

fn median(values: &mut [f64]) -> f64 {
    values.sort_unstable_by(f64::total_cmp);
    values.get(values.len() / 2).copied().unwrap_or(0.0)
}

fn sectors(power: &[f64], noise: f64) -> Vec<Sectors> {
    // Every bin of the upper half-plane with its ring and direction, once.
    let mut rings: Vec<Vec<(f64, f64)>> = vec![Vec::new(); LAST_RING + 2];
    for (i, &p) in power.iter().enumerate() {
        let (fx, fy, f) = frequency(i);
        let ring = (f * TILE_PX as f64).round() as usize;
        if (fy > 0.0 || (fy == 0.0 && fx > 0.0))
            && let Some(bins) = rings.get_mut(ring)
        {
            bins.push(((-fy).atan2(fx).to_degrees().rem_euclid(180.0), p));
        }
    }
    (0..DIRECTIONS)
        .map(|d| {
            let direction_deg = d as f64 * 180.0 / DIRECTIONS as f64;
            let apart = |deg: f64| {
                let turn = (deg - direction_deg).abs();
                turn.min(180.0 - turn)
            };
            let (mut left, mut along_and_between) = (Vec::new(), Vec::new());
            for ring in FIRST_RING..=LAST_RING {
                let near: Vec<(f64, f64)> =
                    (ring - 1..=ring + 1).flat_map(|r| rings.get(r).cloned().unwrap_or_default()).collect();
                let power_where = |inside: &dyn Fn(f64) -> bool| {
                    let mut powers: Vec<f64> =
                        near.iter().filter(|(deg, _)| inside(apart(*deg))).map(|one| one.1).collect();
                    median(&mut powers) - noise
                };
                let across = power_where(&|apart| apart > ACROSS_DEG);
                // Rings whose power across does not stand above the noise tell nothing, nor do those behind them.
                if across < noise {
                    break;
                }
                let along = power_where(&|apart| apart < ALONG_DEG);
                left.push(along / across);
                along_and_between.push([along, power_where(&|apart| BETWEEN_DEG.contains(&apart))]);
            }
            Sectors { direction_deg, left, along_and_between }
        })
        .collect()
}

/// Length of the motion from the frequency at which half the power is left; `None` if the shape is not that of a motion.
fn length(left: &[f64]) -> Option<f64> {
    let smooth = |i: usize| {
        let part = left.get(i.saturating_sub(1)..(i + 2).min(left.len())).unwrap_or(&[]);
        part.iter().sum::<f64>() / part.len().max(1) as f64
    };
    // The lowest rings hold few bins and large grains: the fall is looked for behind the first ring that has its power.
    // Stone drawn out into a fabric lacks power along its grain from the lowest frequency on: then there is no such ring.
    let first = (0..left.len()).find(|&i| smooth(i) >= 0.5)?;
    let half = (first + 1..left.len()).find(|&i| smooth(i) < 0.5)?;
    let before = smooth(half - 1);
    let part = ((before - 0.5) / (before - smooth(half)).max(1e-9)).clamp(0.0, 1.0);
    let frequency = ((FIRST_RING + half) as f64 - 1.0 + part) / TILE_PX as f64;
    let length_px = HALF_AT / frequency;
    // From there to the third zero of the sinc: farther out compression and noise decide.
    let from = half + (FIRST_RING + half) / 3;
    let beyond = left.get(from..(FIRST_RING + half).saturating_mul(6).min(left.len()))?;
    let mean = |part: &[f64]| part.iter().sum::<f64>() / part.len().max(1) as f64;
    let shaped = !beyond.is_empty() && mean(beyond) < LARGEST_LEFT;
    (shaped && length_px >= SHORTEST_PX).then_some(length_px)
}
