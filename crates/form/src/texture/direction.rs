//! Direction of the lay from the angular spectrum.

use std::f64::consts::PI;
use std::sync::Arc;

use quantity::{AxialDeg, Measured};
use rayon::prelude::*;
use realfft::{RealFftPlanner, RealToComplex};
use rustfft::num_complex::Complex;
use rustfft::{Fft, FftPlanner};

use crate::HeightMap;

/// Direction of the texture.
#[derive(Debug, Clone, PartialEq)]
pub struct TextureDirection {
    /// Direction the marks run in: at right angles to the strongest wave vectors.
    pub lay: AxialDeg,
    /// Its standard uncertainty, degrees.
    pub u_deg: f64,
    /// How far the spectrum points one way: resultant of its doubled angles, 0 to 1.
    pub resultant: f64,
    /// Power for every degree of lay direction from 0° to 179°, summing to 1.
    pub spectrum: Vec<f64>,
}

/// Lay from the spectrum beside lay from the traces.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LayComparison {
    /// Turn from the spectrum's lay to the traces', degrees, counter-clockwise.
    pub turn_deg: Measured,
    /// Whether they agree within twice the uncertainty of their difference.
    pub agree: bool,
}

/// Largest side of a tile: finer angular resolution is not needed for one-degree bins.
const TILE: usize = 512;
/// Waves longer than this part of a tile belong to its window, not to the surface.
const LOWEST_BIN: f64 = 3.0;
/// A tile with more holes than this is left out.
const MOST_MISSING: f64 = 0.05;
/// Degrees on either side over which the spectrum is smoothed, and taken for the refined direction.
const SMOOTH_DEG: usize = 3;
const PEAK_DEG: i64 = 10;

/// Angular spectrum of a surface and the direction of its lay; `None` if the map is too small or too full of holes.
///
/// The surface is cut into half-overlapping tiles under a Hann window; their spectra are added, and leaving out each in
/// turn (jackknife) gives the uncertainty.
///
/// # Source
/// Std of ISO 25178-2:2012, 4.5 is the direction of the largest angular spectrum (from memory, source not seen); it is
/// given here as the direction of the lay.
#[must_use]
pub fn texture_direction(map: &HeightMap) -> Option<TextureDirection> {
    let largest = map.width().min(map.height());
    let side = TILE.min(if largest >= 64 { largest / 2 } else { largest });
    if side < 16 {
        return None;
    }
    let corners: Vec<(usize, usize)> =
        starts(map.height(), side).flat_map(|y| starts(map.width(), side).map(move |x| (x, y))).collect();
    let plan = TilePlan::new(side, map.dx_um(), map.dy_um());
    let tiles: Vec<Vec<f64>> =
        corners.into_par_iter().filter_map(|corner| plan.spectrum(map, corner)).collect();
    let mut total = vec![0.0; 180];
    for tile in &tiles {
        add(&mut total, tile, 1.0);
    }
    let power: f64 = total.iter().sum();
    if power <= 0.0 {
        return None;
    }
    let direction = strongest(&total);
    let left_out: Vec<f64> = tiles
        .iter()
        .filter(|_| tiles.len() > 1)
        .map(|tile| {
            let mut rest = total.clone();
            add(&mut rest, tile, -1.0);
            AxialDeg::new(strongest(&rest)).zip(AxialDeg::new(direction)).map_or(0.0, |(a, b)| b.turn_to(a))
        })
        .collect();
    let count = left_out.len() as f64;
    let mean = left_out.iter().sum::<f64>() / count.max(1.0);
    let squares: f64 = left_out.iter().map(|turn| (turn - mean).powi(2)).sum();
    // Half-overlapping tiles share data: about half of them are independent, so the variance doubles. A bin's own
    // width is the least that can be known.
    let variance = if count > 1.0 { 2.0 * squares * (count - 1.0) / count } else { f64::INFINITY };
    let u_deg = variance.sqrt().hypot(1.0 / 12_f64.sqrt());
    Some(TextureDirection {
        lay: AxialDeg::new(direction)?,
        u_deg,
        resultant: resultant(&total),
        spectrum: total.iter().map(|value| value / power).collect(),
    })
}

impl TextureDirection {
    /// Direction and uncertainty together, degrees.
    #[must_use]
    pub fn lay_measured(&self) -> Measured {
        Measured { value: self.lay.degrees(), u: self.u_deg }
    }
}

/// Compares the lay of the angular spectrum with the mean direction of traces found on the same surface.
#[must_use]
pub fn compare_lay(spectrum: &TextureDirection, traces: AxialDeg, traces_u_deg: f64) -> LayComparison {
    let value = spectrum.lay.turn_to(traces);
    let u = spectrum.u_deg.hypot(traces_u_deg);
    LayComparison { turn_deg: Measured { value, u }, agree: value.abs() <= 2.0 * u }
}

/// Starts of half-overlapping tiles, the last one flush with the end.
fn starts(count: usize, side: usize) -> impl Iterator<Item = usize> + Clone {
    let last = count - side;
    let half = (side / 2).max(1);
    let steps = last.div_ceil(half).max(1);
    (0..=if last == 0 { 0 } else { steps }).map(move |k| (k * last).checked_div(steps).unwrap_or(0))
}

/// What all tiles share.
struct TilePlan {
    side: usize,
    /// Frequencies along x of a real line: those from 0 to the half.
    half: usize,
    window: Vec<f64>,
    along: Arc<dyn RealToComplex<f64>>,
    down: Arc<dyn Fft<f64>>,
    /// For each frequency along x and then along y, the degree of lay it speaks for; `None` for the lowest and those
    /// beyond the circle.
    bins: Vec<Option<u8>>,
}

impl TilePlan {
    fn new(side: usize, dx: f64, dy: f64) -> Self {
        let half = side / 2 + 1;
        let signed = |k: usize| if k <= side / 2 { k as f64 } else { k as f64 - side as f64 };
        let mut bins = Vec::with_capacity(side * half);
        for kx in 0..half {
            for ky in 0..side {
                let (fx, fy) = (kx as f64, signed(ky));
                let used = (LOWEST_BIN..=side as f64 / 2.0).contains(&fx.hypot(fy));
                // The lay runs across the wave vector.
                let lay = AxialDeg::from_pixel_step(-fy / dy, fx / dx).filter(|_| used);
                bins.push(lay.map(|lay| (lay.degrees().round() as u32 % 180) as u8));
            }
        }
        Self {
            side,
            half,
            window: (0..side).map(|k| (PI * (k as f64 + 0.5) / side as f64).sin().powi(2)).collect(),
            along: RealFftPlanner::<f64>::new().plan_fft_forward(side),
            down: FftPlanner::<f64>::new().plan_fft_forward(side),
            bins,
        }
    }

    /// Power by degree of lay of one tile; `None` if it has too many holes.
    fn spectrum(&self, map: &HeightMap, (x0, y0): (usize, usize)) -> Option<Vec<f64>> {
        let side = self.side;
        let rows: Vec<&[f64]> = (y0..y0 + side).map(|y| &map.row(y)[x0..x0 + side]).collect();
        let measured = || rows.iter().flat_map(|row| row.iter()).filter(|z| !z.is_nan());
        let count = measured().count() as f64;
        if 1.0 - count / (side * side) as f64 > MOST_MISSING {
            return None;
        }
        let mean = measured().sum::<f64>() / count;
        let (mut line, mut scratch) = (self.along.make_input_vec(), self.along.make_scratch_vec());
        let mut waves = vec![Complex::default(); self.half * side];
        for ((row, out), height) in rows.iter().zip(waves.chunks_mut(self.half)).zip(&self.window) {
            for ((value, z), width) in line.iter_mut().zip(*row).zip(&self.window) {
                *value = if z.is_nan() { 0.0 } else { (z - mean) * width * height };
            }
            // Buffers have the plan's own lengths, so the transform cannot fail.
            let _ = self.along.process_with_scratch(&mut line, out, &mut scratch);
        }
        let mut columns = columns_of(&waves, self.half);
        self.down.process(&mut columns);
        let mut spectrum = vec![0.0; 180];
        for (kx, (column, bins)) in columns.chunks(side).zip(self.bins.chunks(side)).enumerate() {
            // A real surface has every wave twice; the first and the last column hold both of theirs.
            let weight = if kx == 0 || 2 * kx == side { 1.0 } else { 2.0 };
            for (value, bin) in column.iter().zip(bins) {
                if let Some(bin) = bin {
                    spectrum[usize::from(*bin)] += weight * value.norm_sqr();
                }
            }
        }
        Some(spectrum)
    }
}

/// Rows of `width` values become columns, in blocks that fit the processor's cache.
fn columns_of(rows: &[Complex<f64>], width: usize) -> Vec<Complex<f64>> {
    const BLOCK: usize = 16;
    let height = rows.len() / width;
    let mut columns = vec![Complex::default(); rows.len()];
    for x0 in (0..width).step_by(BLOCK) {
        for y0 in (0..height).step_by(BLOCK) {
            for x in x0..(x0 + BLOCK).min(width) {
                for y in y0..(y0 + BLOCK).min(height) {
                    columns[x * height + y] = rows[y * width + x];
                }
            }
        }
    }
    columns
}

fn add(total: &mut [f64], tile: &[f64], factor: f64) {
    total.iter_mut().zip(tile).for_each(|(sum, value)| *sum += factor * value);
}

/// The strongest direction, degrees: peak of the smoothed spectrum, refined by the mean axis around it.
fn strongest(spectrum: &[f64]) -> f64 {
    let at = |degree: i64| spectrum[degree.rem_euclid(180) as usize];
    let smoothed = |degree: usize| {
        (0..=2 * SMOOTH_DEG).map(|k| at(degree as i64 + k as i64 - SMOOTH_DEG as i64)).sum::<f64>()
    };
    let peak = (0..180).max_by(|&a, &b| smoothed(a).total_cmp(&smoothed(b))).unwrap_or(0) as i64;
    // What lies evenly under the peak would pull it towards the middle of the window.
    let floor = (-PEAK_DEG..=PEAK_DEG).map(|k| at(peak + k)).fold(f64::INFINITY, f64::min);
    let (mut sum, mut weights) = (0.0, 0.0);
    for k in -PEAK_DEG..=PEAK_DEG {
        sum += k as f64 * (at(peak + k) - floor);
        weights += at(peak + k) - floor;
    }
    peak as f64 + if weights > 0.0 { sum / weights } else { 0.0 }
}

fn resultant(spectrum: &[f64]) -> f64 {
    let (mut sin, mut cos, mut sum) = (0.0, 0.0, 0.0);
    for (degree, value) in spectrum.iter().enumerate() {
        let twice = 2.0 * (degree as f64).to_radians();
        sin += value * twice.sin();
        cos += value * twice.cos();
        sum += value;
    }
    sin.hypot(cos) / sum
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::{RngExt, SeedableRng};
    use rand_pcg::Pcg64;

    /// Random grooves along 30° (counter-clockwise as seen) under noise.
    fn grooved(lay_deg: f64, dy: f64) -> HeightMap {
        let mut random = Pcg64::seed_from_u64(2);
        let (sin, cos) = lay_deg.to_radians().sin_cos();
        let profile: Vec<f64> = (0..4000).map(|_| random.random::<f64>() - 0.5).collect();
        let z = (0..256 * 256)
            .map(|i| {
                let (x, y) = (f64::from(i % 256), f64::from(i / 256) * dy);
                // Waves of four steps and more: next to nothing folds over even on rows two steps apart.
                let across = (x * sin + y * cos) / 2.0 + 1000.0;
                let (k, f) = (across.floor(), across.fract());
                profile[k as usize] * (1.0 - f)
                    + profile[k as usize + 1] * f
                    + 0.2 * (random.random::<f64>() - 0.5)
            })
            .collect();
        HeightMap::new(256, 256, 1.0, dy, z).unwrap()
    }

    #[test]
    fn the_lay_is_where_the_grooves_run() {
        for (lay, dy) in [(30.0, 1.0), (0.0, 1.0), (90.0, 1.0), (150.0, 1.0), (30.0, 2.0)] {
            let found = texture_direction(&grooved(lay, dy)).unwrap();
            let off = found.lay.angle_to(AxialDeg::new(lay).unwrap());
            assert!(off < 1.5, "{lay}°: {found:?}", found = found.lay);
            assert!(found.resultant > 0.6 && found.u_deg < 2.0, "{} {}", found.resultant, found.u_deg);
            assert!(compare_lay(&found, AxialDeg::new(lay).unwrap(), 0.5).agree);
            assert!(!compare_lay(&found, AxialDeg::new(lay + 20.0).unwrap(), 0.5).agree);
        }
    }

    #[test]
    fn noise_has_no_direction() {
        let mut random = Pcg64::seed_from_u64(7);
        let z = (0..128 * 128).map(|_| random.random::<f64>()).collect();
        let found = texture_direction(&HeightMap::new(128, 128, 1.0, 1.0, z).unwrap()).unwrap();
        assert!(found.resultant < 0.05, "{}", found.resultant);
    }

    #[test]
    fn tiles_cover_the_map() {
        assert_eq!(starts(100, 100).collect::<Vec<_>>(), [0]);
        assert_eq!(starts(100, 50).collect::<Vec<_>>(), [0, 25, 50]);
        assert_eq!(*starts(101, 50).collect::<Vec<_>>().last().unwrap(), 51);
    }
}
