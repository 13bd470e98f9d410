//! Standard uncertainties of the areal parameters: what another field would show, and the noise of the heights.

use rayon::prelude::*;

use super::TextureOptions;
use super::autocorrelation::Decay;
use super::filter::gaussian_kernel;
use super::heights::HeightParameters;
use super::pieces::{Pieces, ROWS_TOGETHER, jackknife, total};
use super::slopes::{Hybrid, STENCIL, SlopeSums, hybrid_of};
use crate::HeightMap;

/// Standard uncertainties; `None` where none can be given.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct TextureUncertainty {
    /// Of Sa, µm.
    pub sa_um: Option<f64>,
    /// Of Sq, µm.
    pub sq_um: Option<f64>,
    /// Of Ssk.
    pub ssk: Option<f64>,
    /// Of Sku.
    pub sku: Option<f64>,
    /// Of Sp and of Sv as extremes of this field, µm: the noise of one height.
    pub peak_um: Option<f64>,
    /// Of Sz as an extent of this field, µm.
    pub sz_um: Option<f64>,
    /// Of Sdq.
    pub sdq: Option<f64>,
    /// Of Sdr, percent.
    pub sdr_percent: Option<f64>,
    /// Of Sal, µm.
    pub sal_um: Option<f64>,
    /// Of Str.
    pub str_ratio: Option<f64>,
    /// Independent pieces of the field; 0 if there are too few.
    pub pieces: usize,
    /// Standard uncertainty of one height after the filters, µm; 0 if unknown.
    pub noise_um: f64,
}

impl TextureUncertainty {
    /// What the uncertainties hold, and why some are missing.
    pub(super) fn notes(&self) -> Vec<String> {
        let noise = if self.noise_um > 0.0 {
            format!("a noise of {:.2e} µm in every height after the filters", self.noise_um)
        } else {
            "no noise of the heights, for none was stated".to_owned()
        };
        let averages = if self.pieces > 0 {
            format!(
                "The uncertainties say how much another field of this size on the same surface would differ ({} pieces of it left out in turn) and hold {noise}; the calibration of the instrument is not in them.",
                self.pieces
            )
        } else {
            "The field is too small beside its autocorrelation length to be cut into independent pieces: how much another field would differ cannot be told, and no uncertainty of the averages is given."
                .to_owned()
        };
        let mut extremes = "Sp, Sv and Sz are extremes of this field and grow with its size".to_owned();
        extremes.push_str(if self.noise_um > 0.0 {
            ": their uncertainty is that of single heights, not of the surface."
        } else {
            ": no uncertainty is given for them."
        });
        vec![averages, extremes]
    }
}

/// A surface with what has been measured on it.
pub(super) struct Measured<'a> {
    pub(super) map: &'a HeightMap,
    pub(super) heights: &'a HeightParameters,
    pub(super) hybrid: &'a Hybrid,
    pub(super) slopes: &'a [SlopeSums],
    pub(super) pieces: Option<&'a Pieces>,
    pub(super) shortest: Option<Decay>,
    pub(super) longest: Option<Decay>,
    pub(super) options: &'a TextureOptions,
}

/// A texture without direction has Str 1, but the shortest and the longest of many equal lengths, each known to its
/// uncertainty only, are never the same. Within this many uncertainties of 1 what is missing from it counts as uncertain,
/// and half of it for Sal (our choice, checked on random surfaces, docs/benchmarks.md).
const CHANCE: f64 = 3.0;

/// Sums over one piece: heights, then for each of two shifts the pairs and their products.
type Sums = [f64; 11];
const PAIRS: [usize; 2] = [7, 9];

impl Measured<'_> {
    pub(super) fn uncertainty(&self) -> TextureUncertainty {
        let noise = Noise::after_filters(self.map, self.options);
        let mut found = TextureUncertainty { noise_um: noise.height_um, ..TextureUncertainty::default() };
        if noise.height_um > 0.0 {
            found.peak_um = Some(noise.height_um);
            found.sz_um = Some(2_f64.sqrt() * noise.height_um);
        }
        let Some(pieces) = self.pieces else { return found };
        found.pieces = pieces.count();
        let shifts = [self.shortest, self.longest].map(|decay| decay.map_or([0, 0], |d| self.shift(d)));
        let sums = height_sums(self.map, pieces, shifts);
        let h = self.heights;
        // Noise adds to every height; its share of Sq² is not taken off but counts as uncertain in full.
        let share = (noise.height_um / h.sq_um).powi(2);
        let with = |field: f64, noise: f64| Some(field.hypot(noise));
        found.sa_um = with(jackknife(&sums, mean_height), h.sa_um * share / 2.0);
        found.sq_um = with(jackknife(&sums, |s| moment(s, 2).sqrt()), h.sq_um * share / 2.0);
        found.ssk = with(jackknife(&sums, |s| standardised(s, 3)), 1.5 * h.ssk * share);
        found.sku = with(jackknife(&sums, |s| standardised(s, 4)), 2.0 * (h.sku - 3.0) * share);
        let slope = |of: fn(&Hybrid) -> f64| {
            jackknife(self.slopes, |sums| hybrid_of(sums).as_ref().map_or(f64::NAN, of))
        };
        found.sdq = with(slope(|h| h.sdq), noise.slope_squared / (2.0 * self.hybrid.sdq));
        found.sdr_percent = with(slope(|h| h.sdr_percent), 50.0 * noise.slope_squared);
        if let Some(shortest) = self.shortest {
            let sal = |s: &Sums| self.length(s, 0, shortest);
            let mut sal_u = jackknife(&sums, sal);
            if let Some(longest) = self.longest {
                let ratio_u = jackknife(&sums, |s| sal(s) / self.length(s, 1, longest));
                let below_one = 1.0 - shortest.length_um / longest.length_um;
                let chosen = if below_one < CHANCE * ratio_u { below_one } else { 0.0 };
                found.str_ratio = Some(ratio_u.hypot(chosen));
                sal_u = sal_u.hypot(shortest.length_um * chosen / 2.0);
            }
            found.sal_um = Some(sal_u);
        }
        found
    }

    /// The shift in steps nearest to where the autocorrelation falls to its level.
    fn shift(&self, decay: Decay) -> [i64; 2] {
        let (sin, cos) = decay.direction_rad.sin_cos();
        let steps = [cos / self.map.dx_um(), sin / self.map.dy_um()];
        steps.map(|step| (decay.length_um * step).round() as i64)
    }

    /// Decay length of some pieces, from their autocorrelation at the whole field's shift: at first order it is longer
    /// by what they lie above the whole field's over the slope there.
    fn length(&self, sums: &Sums, which: usize, decay: Decay) -> f64 {
        let at = PAIRS[which];
        let mean = sums[1] / sums[0];
        let correlation = (sums[at + 1] / sums[at] - mean * mean) / moment(sums, 2);
        decay.length_um + (correlation - self.options.acf_level) / decay.slope_per_um
    }
}

/// Mean absolute height about the pieces' own mean; at first order in how far it lies from the field's.
fn mean_height(s: &Sums) -> f64 {
    (s[2] - s[1] / s[0] * s[3]) / s[0]
}

/// Central moment of the second, third or fourth order.
fn moment(s: &Sums, order: u32) -> f64 {
    let [m, second, third, fourth] = [s[1], s[4], s[5], s[6]].map(|sum| sum / s[0]);
    match order {
        2 => second - m * m,
        3 => third - 3.0 * m * second + 2.0 * m.powi(3),
        _ => fourth - 4.0 * m * third + 6.0 * m * m * second - 3.0 * m.powi(4),
    }
}

fn standardised(s: &Sums, order: u32) -> f64 {
    moment(s, order) / moment(s, 2).powf(f64::from(order) / 2.0)
}

fn height_sums(map: &HeightMap, pieces: &Pieces, shifts: [[i64; 2]; 2]) -> Vec<Sums> {
    let starts: Vec<usize> = (0..map.height()).step_by(ROWS_TOGETHER).collect();
    let mean = {
        let sums: Vec<[f64; 2]> = (0..map.height())
            .into_par_iter()
            .map(|y| map.row(y).iter().filter(|z| !z.is_nan()).fold([0.0; 2], |[n, s], z| [n + 1.0, s + z]))
            .collect();
        let [count, sum] = sums.into_iter().fold([0.0; 2], |a, b| [a[0] + b[0], a[1] + b[1]]);
        sum / count
    };
    let lists: Vec<Vec<Sums>> = starts
        .into_par_iter()
        .map(|start| {
            let mut sums = vec![[0.0; 11]; pieces.count()];
            for y in start..(start + ROWS_TOGETHER).min(map.height()) {
                let shifted = shifts.map(|[_, dy]| {
                    let other = y as i64 + dy;
                    usize::try_from(other).map_or(&[][..], |other| map.row(other))
                });
                let row = map.row(y);
                for (x, (piece, z)) in pieces.of_row(y, map.width()).zip(row).enumerate() {
                    let d = z - mean;
                    if d.is_nan() {
                        continue;
                    }
                    let (sums, d2) = (&mut sums[piece], d * d);
                    for (sum, value) in
                        sums.iter_mut().zip([1.0, d, d.abs(), d.signum(), d2, d2 * d, d2 * d2])
                    {
                        *sum += value;
                    }
                    for ((at, [dx, _]), other) in PAIRS.into_iter().zip(shifts).zip(shifted) {
                        let partner = usize::try_from(x as i64 + dx).ok().and_then(|k| other.get(k));
                        if let Some(partner) = partner.filter(|z| !z.is_nan()) {
                            sums[at] += 1.0;
                            sums[at + 1] += d * (partner - mean);
                        }
                    }
                }
            }
            sums
        })
        .collect();
    total(lists, pieces.count())
}

/// Noise of independent heights after the S-filter; the L-filter takes next to nothing of it.
struct Noise {
    height_um: f64,
    /// Mean square of the slopes it makes.
    slope_squared: f64,
}

impl Noise {
    fn after_filters(map: &HeightMap, options: &TextureOptions) -> Self {
        let kernels = [map.dx_um(), map.dy_um()].map(|step| match options.s_filter_um {
            Some(cutoff) => both_sides(&gaussian_kernel(cutoff / step)),
            None => vec![1.0],
        });
        let squares = |weights: &[f64]| weights.iter().map(|w| w * w).sum::<f64>();
        let [along, down] = [0, 1].map(|k| squares(&kernels[k]));
        let slope = |k: usize, step: f64| squares(&slopes_of(&kernels[k])) / (step * step);
        let variance = options.u_height_um * options.u_height_um;
        Self {
            height_um: (variance * along * down).sqrt(),
            slope_squared: variance * (slope(0, map.dx_um()) * down + slope(1, map.dy_um()) * along),
        }
    }
}

fn both_sides(half: &[f64]) -> Vec<f64> {
    half.iter().skip(1).rev().chain(half).copied().collect()
}

/// The 7-point derivative of a kernel, per step.
fn slopes_of(kernel: &[f64]) -> Vec<f64> {
    let centre = STENCIL[3];
    let mut slopes = vec![0.0; kernel.len() + centre.len() - 1];
    for (i, weight) in kernel.iter().enumerate() {
        for (j, derivative) in centre.iter().enumerate() {
            slopes[i + j] += weight * derivative / 60.0;
        }
    }
    slopes
}
