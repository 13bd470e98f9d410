//! Line sums in every direction: short blocks along the line are matched with groove cross-sections, cut, and added up
//! to segments at fine slopes.
//!
//! Half of all directions at a time: `along` runs over columns (or rows, for the steep half), `across` is contiguous in
//! memory, so every inner loop runs over `across`.

use rayon::prelude::*;
use wide::f32x8;

use crate::plane::{Plane, quantile};
use crate::template::{Parity, Taps, taps};

/// Pixels along the line in one block.
pub(crate) const BLOCK_PX: usize = 8;
/// Slopes of blocks, in eighths, run from minus to plus this: a little past 45°, so that the two halves overlap.
const BLOCK_SLOPES: i32 = 9;
const N_BLOCK_SLOPES: usize = 2 * BLOCK_SLOPES as usize + 1;

/// How blocks are added up to segments. Long segments gather the evidence of faint, nearly straight grooves; on a tight
/// arc they leave the groove, and short ones follow it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Ruler {
    /// Blocks in one segment; segments stand half their length apart.
    pub blocks: usize,
}

impl Ruler {
    /// Segments of 32 px: bends down to a radius of about 250 px.
    pub const LONG: Self = Self { blocks: 4 };
    /// Segments of 16 px: bends down to a radius of about 40 px.
    pub const SHORT: Self = Self { blocks: 2 };

    /// Length of a segment, px; slopes of segments are counted in its reciprocal.
    pub fn segment_px(self) -> usize {
        self.blocks * BLOCK_PX
    }

    /// Step between segments, px.
    pub fn step_px(self) -> usize {
        self.segment_px() / 2
    }

    /// Blocks in that step.
    pub fn step_blocks(self) -> usize {
        self.blocks / 2
    }

    /// Slopes of segments run from minus to plus this.
    pub fn slopes(self) -> i32 {
        BLOCK_SLOPES * self.blocks as i32
    }

    /// Number of these slopes.
    pub fn n_slopes(self) -> usize {
        2 * self.slopes() as usize + 1
    }

    /// Where the centre of a segment lies along the unpadded plane.
    pub fn along_px(self, column: usize) -> f64 {
        (column * self.step_px() + self.segment_px() / 2) as f64 - 0.5 - RIM as f64
    }
}
/// Widths of the cross-sections, px: grooves of about 1 to 5 px between half depths; broader ones are narrow at half resolution.
const WIDTHS_PX: [f64; 2] = [1.0, 1.9];
const N_TEMPLATES: usize = 2 * WIDTHS_PX.len();
/// A block counts at most this many spreads: a line must be long, not loud.
const BLOCK_CUT: f32 = 3.0;
/// Least null spread of a response: a tenth of what white noise of unit spread gives to a block of 8 px.
pub(crate) const LEAST_NULL: f32 = 0.035;
/// Empty rim so that lines may leave the picture, px.
pub(crate) const RIM: usize = 32;

/// The sign and parity of a groove's cross-section; a path keeps one class.
pub(crate) const CLASSES: usize = 4;

/// Line sums over one half of the directions.
pub(crate) struct Lattice {
    ruler: Ruler,
    /// `along` by padded `across`.
    padded: Plane,
    /// Cross-sections per block slope and template.
    bank: Vec<Taps>,
    /// 1 / robust spread of each template's block response.
    block_gain: [f32; N_TEMPLATES],
    /// 1 / robust spread of each template's segment sum.
    segment_gain: [f32; N_TEMPLATES],
    /// Number of segment positions along.
    pub columns: usize,
    /// Padded length across.
    pub across: usize,
}

/// Block responses of all templates and slopes at one position along: `[template][slope][across]`.
pub(crate) type Blocks = Vec<Vec<f32>>;

impl Lattice {
    /// Prepares the half of directions along the rows of `plane`'s index `along` (its rows).
    pub fn new(plane: &Plane, ruler: Ruler) -> Self {
        let across = plane.width + 2 * RIM;
        let along = plane.height + 2 * RIM;
        let padded = Plane::from_rows(across, along, |a, row| {
            if a >= RIM
                && let Some(inner) = row.get_mut(RIM..RIM + plane.width)
            {
                let source = plane.row(a - RIM);
                if source.len() == inner.len() {
                    inner.copy_from_slice(source);
                }
            }
        });
        let mut lattice = Self {
            ruler,
            padded,
            bank: bank(),
            block_gain: [1.0; N_TEMPLATES],
            segment_gain: [1.0; N_TEMPLATES],
            columns: (along - ruler.segment_px()) / ruler.step_px() + 1,
            across,
        };
        lattice.calibrate();
        lattice
    }

    /// Estimates the spread of block responses, then of segment sums, over all directions together, from a sample.
    fn calibrate(&mut self) {
        let sampled: Vec<usize> =
            (1..self.columns.saturating_sub(1)).step_by(self.columns / 24 + 1).collect();
        let inner = RIM + 8..self.across.saturating_sub(RIM + 8);
        let spread_of = |samples: Vec<Vec<f32>>| {
            let mut all: Vec<f32> = samples.into_iter().flatten().collect();
            (quantile(&mut all, 0.5) / 0.674_49).max(LEAST_NULL)
        };
        let uncut: Vec<Blocks> = sampled
            .par_iter()
            .map(|&column| self.blocks(column * self.ruler.step_blocks(), f32::INFINITY))
            .collect();
        for template in 0..N_TEMPLATES {
            let samples = uncut
                .iter()
                .flat_map(|blocks| {
                    blocks.iter().skip(template * N_BLOCK_SLOPES).take(N_BLOCK_SLOPES).step_by(3)
                })
                .map(|line| {
                    line.get(inner.clone()).unwrap_or(&[]).iter().step_by(5).map(|v| v.abs()).collect()
                })
                .collect();
            self.block_gain[template] = 1.0 / spread_of(samples);
        }
        let cut: Vec<Vec<Blocks>> = sampled
            .par_iter()
            .map(|&column| {
                (0..self.ruler.blocks)
                    .map(|j| self.blocks(column * self.ruler.step_blocks() + j, BLOCK_CUT))
                    .collect()
            })
            .collect();
        for template in 0..N_TEMPLATES {
            let mut samples = Vec::new();
            for blocks in &cut {
                let refs: Vec<&Blocks> = blocks.iter().collect();
                for slope in (-self.ruler.slopes()..=self.ruler.slopes()).step_by(5) {
                    let mut sum = vec![0.0; self.across];
                    add_segment(self.ruler, &refs, template, slope, 1.0, &mut sum);
                    samples.push(
                        sum.get(inner.clone()).unwrap_or(&[]).iter().step_by(5).map(|v| v.abs()).collect(),
                    );
                }
            }
            self.segment_gain[template] = 1.0 / spread_of(samples);
        }
    }

    /// Block responses as segments add them up.
    pub fn cut_blocks(&self, block: usize) -> Blocks {
        self.blocks(block, BLOCK_CUT)
    }

    /// Matched block responses at block position `block`, in spreads, cut at ± `cut`.
    fn blocks(&self, block: usize, cut: f32) -> Blocks {
        let mut responses = vec![Vec::new(); N_TEMPLATES * N_BLOCK_SLOPES];
        for slope in 0..N_BLOCK_SLOPES {
            let sum = self.block_sum(block, slope as i32 - BLOCK_SLOPES);
            for width in 0..WIDTHS_PX.len() {
                let [even, odd] = [width, WIDTHS_PX.len() + width].map(|t| t * N_BLOCK_SLOPES + slope);
                let gains = [width, WIDTHS_PX.len() + width].map(|t| self.block_gain[t]);
                if let (Some(even_taps), Some(odd_taps)) = (self.bank.get(even), self.bank.get(odd)) {
                    [responses[even], responses[odd]] = matched(&sum, [even_taps, odd_taps], gains, cut);
                }
            }
        }
        responses
    }

    /// Mean along one block at a slope of `slope / 8`, linear between pixels across, with [`EDGE`] zeros at either end.
    fn block_sum(&self, block: usize, slope: i32) -> Vec<f32> {
        let mut padded = vec![0.0; self.across + 2 * EDGE];
        let sum = padded.get_mut(EDGE..EDGE + self.across).unwrap_or(&mut []);
        for i in 0..BLOCK_PX {
            let offset = (i as f32 - 3.5) * slope as f32 / BLOCK_PX as f32;
            let whole = offset.floor();
            let part = offset - whole;
            let source = self.padded.row(block * BLOCK_PX + i);
            add_shifted(sum, source, whole as i32, (1.0 - part) / BLOCK_PX as f32);
            if part > 0.0 {
                add_shifted(sum, source, whole as i32 + 1, part / BLOCK_PX as f32);
            }
        }
        padded
    }

    /// Strength of segments at slope `slope / segment_px` over the ruler's blocks, per class: the best width of each parity and sign.
    /// Order of classes: even bright, even dark, odd one way, odd the other.
    pub fn segments(&self, blocks: &[&Blocks], slope: i32, out: &mut [Vec<f32>; CLASSES]) {
        let mut sums: [Vec<f32>; WIDTHS_PX.len()] = std::array::from_fn(|_| vec![0.0; self.across]);
        let [bright, dark, one_way, other_way] = out;
        for (parity, plus, minus) in [(0, bright, dark), (1, one_way, other_way)] {
            for (width, sum) in sums.iter_mut().enumerate() {
                let template = parity * WIDTHS_PX.len() + width;
                let gain = self.segment_gain.get(template).copied().unwrap_or(1.0);
                sum.fill(0.0);
                add_segment(self.ruler, blocks, template, slope, gain, sum);
            }
            let [narrow, broad] = &sums;
            for ((plus, minus), (a, b)) in plus.iter_mut().zip(minus.iter_mut()).zip(narrow.iter().zip(broad))
            {
                *plus = a.max(*b);
                *minus = -a.min(*b);
            }
        }
    }
}

/// Zeros at either end of a block's sum: half the taps of the broadest cross-section.
const EDGE: usize = 10;
/// Neighbouring places whose responses are reckoned side by side.
const LANES: usize = 8;

/// Responses of an even and an odd cross-section of one width to a block's sum with [`EDGE`] zeros at either end, in spreads,
/// cut at ± `cut`. Taps at the same distance on either side have weights equal but for the sign, so both parities need only
/// the sums and differences of such pairs.
fn matched(padded: &[f32], taps: [&Taps; 2], gains: [f32; 2], cut: f32) -> [Vec<f32>; 2] {
    let across = padded.len() - 2 * EDGE;
    let [even, odd] = taps.map(|t| t.weights.get(t.centre..).unwrap_or(&[]));
    let mut responses = [vec![0.0; across], vec![0.0; across]];
    let place = |from: usize| Some(f32x8::new(*padded.get(from..)?.first_chunk::<LANES>()?));
    for start in (0..across).step_by(LANES) {
        // The last places are reckoned together with some before them.
        let first = start.min(across.saturating_sub(LANES));
        let middle = place(EDGE + first).unwrap_or(f32x8::ZERO);
        let mut sums = [middle * even.first().copied().unwrap_or(0.0), f32x8::ZERO];
        for (k, (even, odd)) in even.iter().zip(odd).enumerate().skip(1) {
            let (Some(right), Some(left)) = (place(EDGE + first + k), place(EDGE + first - k)) else {
                continue;
            };
            sums[0] += (right + left) * *even;
            sums[1] += (right - left) * *odd;
        }
        for ((response, sum), gain) in responses.iter_mut().zip(sums).zip(gains) {
            let cut_off = (sum * gain).fast_min(f32x8::splat(cut)).fast_max(f32x8::splat(-cut));
            if let Some(to) = response.get_mut(first..).and_then(|r| r.first_chunk_mut::<LANES>()) {
                *to = cut_off.to_array();
            }
        }
    }
    responses
}

/// Adds the blocks of one segment, each shifted to the segment's line.
fn add_segment(ruler: Ruler, blocks: &[&Blocks], template: usize, slope: i32, gain: f32, sum: &mut [f32]) {
    let block_slope =
        ((slope as f32 / ruler.blocks as f32).round() as i32).clamp(-BLOCK_SLOPES, BLOCK_SLOPES);
    let line = template * N_BLOCK_SLOPES + (block_slope + BLOCK_SLOPES) as usize;
    for (j, block) in blocks.iter().enumerate() {
        let centre = (j as f32 - (ruler.blocks as f32 - 1.0) / 2.0) * BLOCK_PX as f32;
        let offset = (centre * slope as f32 / ruler.segment_px() as f32).round() as i32;
        if let Some(source) = block.get(line) {
            add_shifted(sum, source, offset, gain);
        }
    }
}

/// `to[i] += weight × from[i + offset]` wherever both exist.
pub(crate) fn add_shifted(to: &mut [f32], from: &[f32], offset: i32, weight: f32) {
    let (to, from) = overlap(to, from, offset);
    for (to, from) in to.iter_mut().zip(from) {
        *to += weight * *from;
    }
}

/// The parts of two lines that meet when `from` is read `offset` further on.
fn overlap<'a>(to: &'a mut [f32], from: &'a [f32], offset: i32) -> (&'a mut [f32], &'a [f32]) {
    let shift = offset.unsigned_abs() as usize;
    if offset >= 0 {
        (to, from.get(shift..).unwrap_or(&[]))
    } else {
        (to.get_mut(shift..).unwrap_or(&mut []), from)
    }
}

/// All cross-sections, seen along a line of each block slope (steps across shrink with the cosine).
fn bank() -> Vec<Taps> {
    let mut bank = Vec::with_capacity(N_TEMPLATES * N_BLOCK_SLOPES);
    for parity in [Parity::Even, Parity::Odd] {
        for width in WIDTHS_PX {
            for slope in -BLOCK_SLOPES..=BLOCK_SLOPES {
                let cosine = 1.0 / (1.0 + (f64::from(slope) / BLOCK_PX as f64).powi(2)).sqrt();
                bank.push(taps(parity, width, cosine, 0.0));
            }
        }
    }
    bank
}
