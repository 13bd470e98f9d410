//! Puts a path on the axis of its groove. A line filter sits on the bright or the dark side of a groove lit from one
//! side; matched cross-sections and dynamic programming along the straightened path find the axis between them.

use std::ops::Range;

use wide::f32x8;

use crate::course::{Points, distance, extended, moved_sideways, resampled, smoothed, tangents};
use crate::lattice::{BLOCK_PX, LEAST_NULL};
use crate::light::Lit;
use crate::plane::{Plane, quantile};
use crate::template::{Parity, Taps, taps};

/// Half-width of the straightened strip, px.
pub(crate) const REACH: usize = 20;
/// Widths of the cross-sections tried, px.
pub(crate) const WIDTHS_PX: [f64; 7] = [0.8, 1.1, 1.5, 2.0, 2.7, 3.6, 4.8];
const N_TEMPLATES: usize = 2 * WIDTHS_PX.len();
/// Shifts run from minus to plus this many half pixels: as far as the side of a broad groove lies from its axis.
pub(crate) const SHIFTS: i32 = 12;
/// How far a path may be shifted that must not leave for a stronger neighbour, half pixels.
pub(crate) const TIGHT_SHIFTS: i32 = 4;
/// Shifts from one to the next, half pixels: whole pixels to choose the cross-section by, then half ones.
const COARSE: usize = 2;
const FINE: usize = 1;
const N_SHIFTS: usize = 2 * SHIFTS as usize + 1;
/// Largest change of shift from block to block, half pixels, and its price per half pixel squared.
const SHIFT_STEP: usize = 2;
const SHIFT_PRICE: f32 = 0.12;
/// One pixel of the residual counts at most this much.
const PIXEL_CUT: f32 = 4.0;
/// One block counts at most this many null spreads.
pub(crate) const BLOCK_CUT: f32 = 4.0;

/// A path straightened: mean cross-sections of blocks of [`BLOCK_PX`] along it, from −`REACH` to +`REACH` px.
pub(crate) struct Strip<const WIDE: usize = { 2 * REACH + 1 }> {
    profiles: Vec<[f32; WIDE]>,
    /// Middle of each block on the path.
    pub middles: Points,
    /// Share of each block inside the picture.
    pub inside: Vec<f32>,
}

impl<const WIDE: usize> Strip<WIDE> {
    /// Straightens a path with points 1 px apart.
    pub fn along(residual: &Plane, points: &[[f64; 2]]) -> Self {
        let tangents = tangents(points);
        let blocks = points.len() / BLOCK_PX;
        let mut strip = Self {
            profiles: Vec::with_capacity(blocks),
            middles: Vec::with_capacity(blocks),
            inside: Vec::with_capacity(blocks),
        };
        for (points, tangents) in points.chunks_exact(BLOCK_PX).zip(tangents.chunks_exact(BLOCK_PX)) {
            let mut sum = [0.0_f32; WIDE];
            let mut count = [0.0_f32; WIDE];
            for (p, t) in points.iter().zip(tangents) {
                let (x0, y0) = (p[0] as f32, p[1] as f32);
                let (nx, ny) = (-t[1] as f32, t[0] as f32);
                for (k, (sum, count)) in sum.iter_mut().zip(count.iter_mut()).enumerate() {
                    let across = k as f32 - (WIDE / 2) as f32;
                    if let Some(value) = residual.at(x0 + across * nx, y0 + across * ny) {
                        *sum += value.clamp(-PIXEL_CUT, PIXEL_CUT);
                        *count += 1.0;
                    }
                }
            }
            let inside = count.get(WIDE / 2).copied().unwrap_or(0.0) / BLOCK_PX as f32;
            sum.iter_mut().zip(count).for_each(|(s, c)| *s /= c.max(1.0));
            strip.profiles.push(sum);
            strip.inside.push(inside);
            if let (Some(a), Some(b)) = (points.get(BLOCK_PX / 2 - 1), points.get(BLOCK_PX / 2)) {
                strip.middles.push([(a[0] + b[0]) / 2.0, (a[1] + b[1]) / 2.0]);
            }
        }
        strip
    }

    /// Mean cross-section of each block.
    pub fn profiles(&self) -> &[[f32; WIDE]] {
        &self.profiles
    }
}

/// Cross-sections at whole and half shifts, with the spread their responses have on this picture.
pub(crate) struct Bank {
    whole: Vec<Taps>,
    half: Vec<Taps>,
    /// 1 / null spread of block responses, per template.
    gain: Vec<f32>,
    /// How this picture's grooves are lit.
    lit: Lit,
}

/// Which cross-section a groove has.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Section {
    pub parity: Parity,
    pub sigma_px: f64,
    /// +1 or −1.
    pub sign: f32,
    template: usize,
}

#[cfg(test)]
impl Section {
    /// One of the cross-sections, by the index of its width.
    pub fn new(parity: Parity, width: usize, sign: f32) -> Self {
        section(if parity == Parity::Odd { WIDTHS_PX.len() + width } else { width }, sign)
    }
}

/// A path on its groove's axis, in blocks of [`BLOCK_PX`].
#[derive(Debug, Clone)]
pub(crate) struct Centred {
    /// One point per block.
    pub points_px: Points,
    pub section: Section,
    /// Matched response per block in null spreads, cut at [`BLOCK_CUT`].
    pub evidence: Vec<f32>,
    /// What the cross-section explains of each block, squared spreads, less for broad ones.
    pub explained: Vec<f32>,
}

impl Centred {
    /// What the cross-section explains of an average block.
    pub fn mean_explained(&self) -> f32 {
        mean(&self.explained)
    }

    /// The blocks of a range.
    pub fn part(&self, blocks: Range<usize>) -> Self {
        Self {
            points_px: self.points_px.get(blocks.clone()).unwrap_or(&[]).to_vec(),
            section: self.section,
            evidence: self.evidence.get(blocks.clone()).unwrap_or(&[]).to_vec(),
            explained: self.explained.get(blocks).unwrap_or(&[]).to_vec(),
        }
    }
}

/// Mean of values; 0 for none.
pub(crate) fn mean(values: &[f32]) -> f32 {
    values.iter().sum::<f32>() / values.len().max(1) as f32
}

impl Bank {
    /// Cross-sections and their null spreads, from straight strips laid over the picture in many directions.
    pub fn new(residual: &Plane) -> Self {
        let make = |shift: f64| -> Vec<Taps> {
            [Parity::Even, Parity::Odd]
                .iter()
                .flat_map(|&p| WIDTHS_PX.iter().map(move |&w| taps(p, w, 1.0, shift)))
                .collect()
        };
        let mut bank =
            Self { whole: make(0.0), half: make(0.5), gain: vec![1.0; N_TEMPLATES], lit: Lit::Unknown };
        let strips: Vec<Strip> =
            scattered_lines(residual).iter().map(|line| Strip::along(residual, line)).collect();
        for template in 0..N_TEMPLATES {
            let mut sample: Vec<f32> = strips
                .iter()
                .flat_map(|strip| strip.profiles.iter().zip(&strip.inside))
                .filter(|(_, inside)| **inside > 0.99)
                .flat_map(|(profile, _)| {
                    [-8, 0, 8].map(|shift| bank.response(profile, template, shift).abs())
                })
                .collect();
            if let Some(gain) = bank.gain.get_mut(template) {
                *gain = 1.0 / (quantile(&mut sample, 0.5) / 0.674_49).max(LEAST_NULL);
            }
        }
        bank
    }

    /// Response of a template shifted by `shift` half pixels from the middle of a profile, in null spreads.
    fn response(&self, profile: &[f32], template: usize, shift: i32) -> f32 {
        let whole_px = shift.div_euclid(2);
        let bank = if shift.rem_euclid(2) == 0 { &self.whole } else { &self.half };
        let Some(taps) = bank.get(template) else { return 0.0 };
        let first = (profile.len() / 2) as i32 + whole_px - taps.centre as i32;
        let (skip_taps, start) = if first < 0 { ((-first) as usize, 0) } else { (0, first as usize) };
        let sum = dot(taps.weights.get(skip_taps..).unwrap_or(&[]), profile.get(start..).unwrap_or(&[]));
        sum * self.gain.get(template).copied().unwrap_or(1.0)
    }

    /// Takes note of how the grooves are lit: cross-sections that cannot be are then no longer taken for grooves.
    pub fn light(&mut self, lit: Lit) {
        self.lit = lit;
    }

    /// How this picture's grooves are lit.
    pub fn lit(&self) -> Lit {
        self.lit
    }

    /// Finds the groove's cross-section and axis near a path (any spacing), no further than `reach` half pixels from it, in
    /// two rounds; and how far on average it then lies from the path, px.
    pub fn centre(&self, residual: &Plane, path: &[[f64; 2]], reach: i32) -> Option<(Centred, f64)> {
        let start = smoothed(&resampled(path, 1.0), 24);
        let strip = Strip::along(residual, &start);
        let (section, first) = self.best(&strip, reach)?;
        let n = first.len().max(1) as f64;
        let moved_px = first.iter().zip(&strip.middles).map(|(a, b)| distance(*a, *b)).sum::<f64>() / n;
        let once = smoothed(&resampled(&extended(&first, BLOCK_PX as f64 / 2.0), 1.0), 20);
        let strip = Strip::along(residual, &once);
        let reach = reach.min(6);
        // Let the cross-section be chosen anew: the first round may have been off the axis.
        let section = self.best(&strip, reach).map_or(section, |(other, _)| other);
        Some((self.follow(&strip, section, reach)?, moved_px))
    }

    /// The cross-section that fits best along a strip, and its axis to a pixel: the one with the most evidence; or where
    /// several have as much as counts, as on a strong groove even a narrow strip along one of its sides has, the one that
    /// explains most of what is there.
    fn best(&self, strip: &Strip, reach: i32) -> Option<(Section, Points)> {
        let blocks = strip.middles.len();
        let full = BLOCK_CUT * blocks as f32;
        let excluded = self.lit.excluded(&strip.middles);
        let mut best: Option<(f32, Section, Vec<i32>)> = None;
        for template in 0..N_TEMPLATES {
            let responses = self.responses(strip, template, reach, COARSE);
            for sign in [1.0, -1.0] {
                if template >= WIDTHS_PX.len() && excluded.holds(sign) {
                    continue;
                }
                let (score, shifts) = walk(&responses, sign, reach, COARSE);
                let section = section(template, sign);
                let worth = if score < full {
                    score
                } else {
                    full + self.explained(&responses, section, reach, COARSE, &shifts).sum::<f32>()
                };
                if best.as_ref().is_none_or(|(top, ..)| worth > *top) {
                    best = Some((worth, section, shifts));
                }
            }
        }
        let (_, section, shifts) = best?;
        (blocks >= 2).then(|| (section, shifted(strip, &shifts)))
    }

    /// What a cross-section explains of each block, squared spreads, at these shifts.
    fn explained(
        &self,
        responses: &[Responses],
        section: Section,
        reach: i32,
        grain: usize,
        shifts: &[i32],
    ) -> impl Iterator<Item = f32> {
        responses
            .iter()
            .zip(shifts)
            .filter_map(move |(row, shift)| row.get((shift + reach) as usize / grain))
            .map(move |response| self.energy(hard(*response), section))
    }

    /// What a response in null spreads explains of its block, squared spreads, less for broad cross-sections.
    fn energy(&self, response: f32, section: Section) -> f32 {
        let gain = self.gain.get(section.template).copied().unwrap_or(1.0);
        (response / gain).powi(2) / (section.sigma_px as f32).powf(NARROWER)
    }

    /// Axis of a known cross-section along a strip.
    fn follow(&self, strip: &Strip, section: Section, reach: i32) -> Option<Centred> {
        if strip.middles.len() < 2 {
            return None;
        }
        let responses = self.responses(strip, section.template, reach, FINE);
        let (_, shifts) = walk(&responses, section.sign, reach, FINE);
        let at = |(row, shift): (&Responses, &i32)| {
            usize::try_from(shift + reach).ok().and_then(|k| row.get(k)).copied().unwrap_or(0.0)
        };
        let evidence = responses
            .iter()
            .zip(&shifts)
            .map(|pair| (section.sign * at(pair)).clamp(-BLOCK_CUT, BLOCK_CUT))
            .collect();
        let explained = self.explained(&responses, section, reach, FINE, &shifts).collect();
        Some(Centred { points_px: shifted(strip, &shifts), section, evidence, explained })
    }

    /// Responses of one template to every block at every `grain`-th shift from −`reach` to +`reach` half pixels.
    fn responses(&self, strip: &Strip, template: usize, reach: i32, grain: usize) -> Vec<Responses> {
        strip
            .profiles
            .iter()
            .map(|profile| {
                let mut row = [0.0; N_SHIFTS];
                for (value, shift) in row.iter_mut().zip((-reach..=reach).step_by(grain)) {
                    *value = soft(self.response(profile, template, shift));
                }
                row
            })
            .collect()
    }
}

/// Of two cross-sections that explain as much the narrower is taken: a broad one also spans two grooves side by side.
const NARROWER: f32 = 0.3;
/// Slope of responses beyond the cut: the axis of a strong groove must still be told from its sides.
const BEYOND: f32 = 1.0 / 3.0;
/// Most that counts beyond the cut, null spreads.
const MOST_BEYOND: f32 = 400.0;

/// A response that counts less beyond the cut.
fn soft(response: f32) -> f32 {
    let beyond = (response.abs() - BLOCK_CUT).clamp(0.0, MOST_BEYOND);
    response.clamp(-BLOCK_CUT, BLOCK_CUT) + (BEYOND * beyond).copysign(response)
}

/// The response that [`soft`] was given.
fn hard(soft: f32) -> f32 {
    let beyond = (soft.abs() - BLOCK_CUT).max(0.0);
    soft.clamp(-BLOCK_CUT, BLOCK_CUT) + (beyond / BEYOND).copysign(soft)
}

/// Sum of products, as far as both reach, eight at a time.
fn dot(weights: &[f32], values: &[f32]) -> f32 {
    let shared = weights.len().min(values.len());
    let (weights, rest) = weights.get(..shared).unwrap_or(&[]).as_chunks::<8>();
    let (values, other) = values.get(..shared).unwrap_or(&[]).as_chunks::<8>();
    let eights =
        weights.iter().zip(values).fold(f32x8::ZERO, |sum, (w, v)| sum + f32x8::new(*w) * f32x8::new(*v));
    eights.reduce_add() + rest.iter().zip(other).map(|(w, v)| w * v).sum::<f32>()
}

/// Responses of one block at all shifts.
type Responses = [f32; N_SHIFTS];

/// The strip's middles moved by shifts in half pixels.
fn shifted(strip: &Strip, shifts: &[i32]) -> Points {
    let by: Vec<f64> = shifts.iter().map(|&s| f64::from(s) / 2.0).collect();
    moved_sideways(&strip.middles, &by)
}

fn section(template: usize, sign: f32) -> Section {
    Section {
        parity: if template < WIDTHS_PX.len() { Parity::Even } else { Parity::Odd },
        sigma_px: WIDTHS_PX.get(template % WIDTHS_PX.len()).copied().unwrap_or(1.0),
        sign,
        template,
    }
}

/// Dynamic programming: shifts (half pixels, every `grain`-th of them) of most evidence, and that evidence.
fn walk(responses: &[Responses], sign: f32, reach: i32, grain: usize) -> (f32, Vec<i32>) {
    let n_shifts = 2 * reach as usize / grain + 1;
    let step = SHIFT_STEP / grain;
    let mut score = [0.0_f32; N_SHIFTS];
    let mut from: Vec<[u8; N_SHIFTS]> = Vec::with_capacity(responses.len());
    for (i, row) in responses.iter().enumerate() {
        let mut next = [0.0_f32; N_SHIFTS];
        let mut chosen = [0_u8; N_SHIFTS];
        for (k, (next, chosen)) in next.iter_mut().zip(chosen.iter_mut()).enumerate().take(n_shifts) {
            let mut top = f32::NEG_INFINITY;
            for j in k.saturating_sub(step)..=(k + step).min(n_shifts - 1) {
                let apart = (grain * j.abs_diff(k)) as f32;
                let offer = if i == 0 {
                    0.0
                } else {
                    score.get(j).copied().unwrap_or(0.0) - SHIFT_PRICE * apart * apart
                };
                if offer > top || (offer == top && j == k) {
                    top = offer;
                    *chosen = j as u8;
                }
            }
            *next = top + sign * row.get(k).copied().unwrap_or(0.0);
        }
        from.push(chosen);
        score = next;
    }
    let (mut at, mut top) = (0, f32::NEG_INFINITY);
    for (k, &s) in score.iter().enumerate().take(n_shifts) {
        if s > top {
            (at, top) = (k, s);
        }
    }
    let mut shifts = vec![0; from.len()];
    for (shift, chosen) in shifts.iter_mut().zip(&from).rev() {
        *shift = (grain * at) as i32 - reach;
        at = usize::from(chosen.get(at).copied().unwrap_or(0));
    }
    (top, shifts)
}

/// Straight lines of 64 px in changing directions, evenly strewn over the picture: what a path finds by chance.
fn scattered_lines(residual: &Plane) -> Vec<Points> {
    // The golden ratio and the plastic number strew points and directions evenly without a pattern (Roberts 2018).
    const PLASTIC: f64 = 1.324_717_957_244_746;
    let (width, height) = (residual.width as f64, residual.height as f64);
    (0..400)
        .map(|i| {
            let turn = |a: f64| (0.5 + a * f64::from(i)).fract();
            let angle = std::f64::consts::PI * turn(0.618_033_988_749_895);
            let (sin, cos) = angle.sin_cos();
            let (x, y) = (width * turn(1.0 / PLASTIC), height * turn(1.0 / (PLASTIC * PLASTIC)));
            (0..64).map(|k| f64::from(k) - 32.0).map(|t| [x + t * cos, y + t * sin]).collect()
        })
        .collect()
}

impl Bank {
    /// A known cross-section followed close to a line with points 1 px apart.
    pub fn along(
        &self,
        residual: &Plane,
        line: &[[f64; 2]],
        section: Section,
        reach: i32,
    ) -> Option<Centred> {
        let strip = Strip::along(residual, line);
        if strip.middles.len() == 1 {
            let profile = strip.profiles.first()?;
            let best = (-reach..=reach)
                .map(|shift| self.section_response(profile, section, shift))
                .fold(-BLOCK_CUT, f32::max);
            let explained = vec![self.energy(best, section)];
            return Some(Centred {
                points_px: strip.middles,
                section,
                evidence: vec![best.min(BLOCK_CUT)],
                explained,
            });
        }
        self.follow(&strip, section, reach)
    }

    /// Response of a section to one profile at a shift in half pixels, null spreads, positive where it fits.
    pub fn section_response(&self, profile: &[f32], section: Section, shift: i32) -> f32 {
        section.sign * self.response(profile, section.template, shift)
    }
}
