//! Motion blur, told from a lay of real scratches.
//!
//! Motion along one direction multiplies the whole spectrum, texture and specks alike, by sinc²(f·L) along that direction. Parallel scratches
//! only add power across theirs and leave the rest as it was. So the *median* power along each direction is compared with the median power across
//! it, frequency by frequency: scratches, being a narrow fan of the spectrum, do not move medians. Scratches in a wide fan do; but between the
//! two, at 25–50° from a motion, the sinc² is stretched and still has power where it has fallen along the motion, while beside a fan of
//! scratches there is the same stone as along them.

use quantity::AxialDeg;

use super::Motion;
use super::spectrum::{TILE_PX, frequency};

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
