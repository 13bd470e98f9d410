//! Direction of the lay from the angular spectrum.

use std::f64::consts::PI;

use quantity::{AxialDeg, Measured};
use rayon::prelude::*;
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
    let fft = FftPlanner::<f64>::new().plan_fft_forward(side);
    let bins = bin_of_each(side, map.dx_um(), map.dy_um());
    let tiles: Vec<Vec<f64>> = corners
        .into_par_iter()
        .filter_map(|corner| tile_spectrum(map, corner, side, fft.as_ref(), &bins))
        .collect();
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

/// For each frequency of a tile, the degree of lay it speaks for; `None` for the lowest and those beyond the circle.
fn bin_of_each(side: usize, dx: f64, dy: f64) -> Vec<Option<u8>> {
    let signed = |k: usize| if k <= side / 2 { k as f64 } else { k as f64 - side as f64 };
    let mut bins = Vec::with_capacity(side * side);
    for ky in 0..side {
        for kx in 0..side {
            let (fx, fy) = (signed(kx), signed(ky));
            let radius = fx.hypot(fy);
            let used = (LOWEST_BIN..=side as f64 / 2.0).contains(&radius);
            // The lay runs across the wave vector.
            let lay = AxialDeg::from_pixel_step(-fy / dy, fx / dx).filter(|_| used);
            bins.push(lay.map(|lay| (lay.degrees().round() as u32 % 180) as u8));
        }
    }
    bins
}

fn tile_spectrum(
    map: &HeightMap,
    (x0, y0): (usize, usize),
    side: usize,
    fft: &dyn Fft<f64>,
    bins: &[Option<u8>],
) -> Option<Vec<f64>> {
    let rows: Vec<&[f64]> = (y0..y0 + side).map(|y| &map.row(y)[x0..x0 + side]).collect();
    let measured: Vec<f64> =
        rows.iter().flat_map(|row| row.iter()).filter(|z| !z.is_nan()).copied().collect();
    let missing = 1.0 - measured.len() as f64 / (side * side) as f64;
    if missing > MOST_MISSING {
        return None;
    }
    let mean = measured.iter().sum::<f64>() / measured.len() as f64;
    let hann = |k: usize| (PI * (k as f64 + 0.5) / side as f64).sin().powi(2);
    let mut plane: Vec<Complex<f64>> = Vec::with_capacity(side * side);
    for (y, row) in rows.iter().enumerate() {
        let value = |(x, z): (usize, &f64)| if z.is_nan() { 0.0 } else { (z - mean) * hann(x) * hann(y) };
        plane.extend(row.iter().enumerate().map(value).map(|z| Complex::new(z, 0.0)));
    }
    fft.process(&mut plane);
    let mut turned: Vec<Complex<f64>> =
        (0..side * side).map(|k| plane[(k % side) * side + k / side]).collect();
    fft.process(&mut turned);
    let mut spectrum = vec![0.0; 180];
    for (k, value) in turned.iter().enumerate() {
        // `turned` has the frequencies along x as its rows.
        if let Some(bin) = bins[(k % side) * side + k / side] {
            spectrum[usize::from(bin)] += value.norm_sqr();
        }
    }
    Some(spectrum)
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
