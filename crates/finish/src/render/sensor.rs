//! From the light on the sensor to the file: noise, colour mosaic, transfer curve, lossy blocks, eight bits.

use rayon::prelude::*;

use super::noise;
use super::optics::{Optics, illumination};

/// Sensor and file.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sensor {
    /// Electrons at full white: shot noise is their square root.
    pub full_well: f64,
    /// Read noise, electrons.
    pub read_electrons: f64,
    /// Colour mosaic, interpolated bilinearly: softens the picture a little and makes the noise cohere.
    pub mosaic: bool,
    /// Standard deviation of the offset of whole rows, share of full white.
    pub row_noise: f64,
    /// Transfer curve.
    pub tone: Tone,
    /// Quality of the lossy coding, 1–100; `None` keeps every value.
    pub jpeg_quality: Option<u8>,
}

/// Transfer curve from light to value.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Tone {
    /// IEC 61966-2-1.
    Srgb,
    /// `value = light^(1/exponent)`.
    Power(f64),
}

impl Tone {
    /// Encoded value of a linear one; both 0–1.
    #[must_use]
    pub fn encode(self, light: f32) -> f32 {
        let light = light.clamp(0.0, 1.0);
        match self {
            Self::Srgb if light <= 0.003_130_8 => 12.92 * light,
            Self::Srgb => 1.055 * light.powf(1.0 / 2.4) - 0.055,
            Self::Power(exponent) => light.powf(1.0 / exponent as f32),
        }
    }

    /// Linear value of an encoded one.
    #[must_use]
    pub fn decode(self, value: f32) -> f32 {
        match self {
            Self::Srgb if value <= 0.040_45 => value / 12.92,
            Self::Srgb => ((value + 0.055) / 1.055).powf(2.4),
            Self::Power(exponent) => value.powf(exponent as f32),
        }
    }
}

/// Everything between the blurred light and the encoded value, without noise.
pub(super) struct Exposure<'a> {
    pub(super) optics: &'a Optics,
    pub(super) tone: Tone,
    /// Share of full white per unit of radiance.
    pub(super) gain: f32,
    pub(super) width: usize,
    pub(super) height: usize,
}

impl Exposure<'_> {
    /// Light per unit of radiance at a pixel.
    pub(super) fn light(&self, x: f64, y: f64) -> f32 {
        self.gain * illumination(self.optics, x, y, self.width, self.height)
    }
}

/// Turns blurred radiance into the values of the file.
pub(super) fn expose(radiance: &[f32], exposure: &Exposure<'_>, sensor: &Sensor, key: u32) -> Vec<f32> {
    let (width, height) = (exposure.width, exposure.height);
    let mut light: Vec<f32> = vec![0.0; radiance.len()];
    light.par_chunks_mut(width).enumerate().for_each(|(y, row)| {
        let offset = sensor.row_noise as f32 * noise::normal(key ^ 0x0f0f, y as i32, -1);
        for (x, out) in row.iter_mut().enumerate() {
            let clean = radiance[y * width + x] * exposure.light(x as f64, y as f64);
            *out = clean + offset + grain(clean, x, y, sensor, key);
        }
    });
    if sensor.mosaic {
        light = demosaic(&light, width, height);
    }
    light.par_iter_mut().for_each(|v| *v = exposure.tone.encode(*v));
    if let Some(quality) = sensor.jpeg_quality {
        blocks(&mut light, width, quality);
    }
    light.par_iter_mut().for_each(|v| *v = (v.clamp(0.0, 1.0) * 255.0).round() / 255.0);
    light
}

/// Shot and read noise of one pixel, share of full white.
fn grain(clean: f32, x: usize, y: usize, sensor: &Sensor, key: u32) -> f32 {
    // Red and blue pixels of a mosaic receive about half of green's light and are amplified to match
    // (common practice, no source).
    let well = sensor.full_well as f32 * if sensor.mosaic && (x + y).is_multiple_of(2) { 0.5 } else { 1.0 };
    let electrons = clean.max(0.0) * well;
    let spread = (electrons + (sensor.read_electrons as f32).powi(2)).sqrt() / well;
    spread * noise::normal(key, x as i32, y as i32)
}

/// Bilinear interpolation of an RGGB mosaic and its weighted grey (ITU-R BT.601 luma weights, as JPEG uses).
fn demosaic(mosaic: &[f32], width: usize, height: usize) -> Vec<f32> {
    let at = |x: i64, y: i64| {
        // Reflected at the edge so that the colours of the mosaic keep their places.
        let fold = |v: i64, n: i64| {
            if v < 0 {
                -v
            } else if v >= n {
                2 * n - 2 - v
            } else {
                v
            }
        };
        let (x, y) = (fold(x, width as i64).max(0), fold(y, height as i64).max(0));
        mosaic[y as usize * width + x as usize]
    };
    let mut out = vec![0.0; mosaic.len()];
    out.par_chunks_mut(width).enumerate().for_each(|(y, row)| {
        let y = y as i64;
        for (x, out) in row.iter_mut().enumerate() {
            let x = x as i64;
            let own = at(x, y);
            let sides = 0.5 * (at(x - 1, y) + at(x + 1, y));
            let poles = 0.5 * (at(x, y - 1) + at(x, y + 1));
            *out = match (x % 2, y % 2) {
                (1, 0) => 0.299 * sides + 0.587 * own + 0.114 * poles,
                (0, 1) => 0.299 * poles + 0.587 * own + 0.114 * sides,
                (same, _) => {
                    let cross = 0.5 * (sides + poles);
                    let corners =
                        0.25 * (at(x - 1, y - 1) + at(x + 1, y - 1) + at(x - 1, y + 1) + at(x + 1, y + 1));
                    let (red, blue) = if same == 0 { (own, corners) } else { (corners, own) };
                    0.299 * red + 0.587 * cross + 0.114 * blue
                }
            };
        }
    });
    out
}

/// Luminance quantisation table of ITU-T T.81, table K.1.
const QUANTISATION: [u16; 64] = [
    16, 11, 10, 16, 24, 40, 51, 61, 12, 12, 14, 19, 26, 58, 60, 55, 14, 13, 16, 24, 40, 57, 69, 56, 14, 17,
    22, 29, 51, 87, 80, 62, 18, 22, 37, 56, 68, 109, 103, 77, 24, 35, 55, 64, 81, 104, 113, 92, 49, 64, 78,
    87, 103, 121, 120, 101, 72, 92, 95, 98, 112, 100, 103, 99,
];

/// Quantises the cosine transform of every 8 × 8 block, as lossy coding does; incomplete blocks at the edge stay.
fn blocks(values: &mut [f32], width: usize, quality: u8) {
    // Customary scaling of table K.1 by quality (common practice, no source).
    let quality = f32::from(quality.clamp(1, 100));
    let scale = if quality < 50.0 { 50.0 / quality } else { 2.0 - quality / 50.0 };
    let step = QUANTISATION.map(|q| (f32::from(q) * scale).round().max(1.0));
    let mut cosine = [[0.0f32; 8]; 8];
    for (k, row) in cosine.iter_mut().enumerate() {
        let norm = if k == 0 { (1.0f32 / 8.0).sqrt() } else { 0.5 };
        for (n, c) in row.iter_mut().enumerate() {
            *c = norm * (std::f32::consts::PI * (n as f32 + 0.5) * k as f32 / 8.0).cos();
        }
    }
    values.par_chunks_exact_mut(8 * width).for_each(|strip| {
        for left in (0..width.saturating_sub(7)).step_by(8) {
            let mut block = [[0.0f32; 8]; 8];
            for (y, row) in block.iter_mut().enumerate() {
                for (x, v) in row.iter_mut().enumerate() {
                    *v = strip[y * width + left + x] * 255.0 - 128.0;
                }
            }
            let mut coefficients = product(&product(&cosine, &block, false), &cosine, true);
            for (index, c) in coefficients.iter_mut().flatten().enumerate() {
                *c = (*c / step[index]).round() * step[index];
            }
            let block = product(&product(&transposed(&cosine), &coefficients, false), &cosine, false);
            for (y, row) in block.iter().enumerate() {
                for (x, v) in row.iter().enumerate() {
                    strip[y * width + left + x] = (v + 128.0) / 255.0;
                }
            }
        }
    });
}

fn transposed(m: &[[f32; 8]; 8]) -> [[f32; 8]; 8] {
    std::array::from_fn(|i| std::array::from_fn(|j| m[j][i]))
}

/// `a·b`, or `a·bᵀ`.
fn product(a: &[[f32; 8]; 8], b: &[[f32; 8]; 8], transpose: bool) -> [[f32; 8]; 8] {
    let b = if transpose { &transposed(b) } else { b };
    let mut out = [[0.0f32; 8]; 8];
    for (row, line) in out.iter_mut().zip(a) {
        for (&factor, other) in line.iter().zip(b) {
            for (v, &o) in row.iter_mut().zip(other) {
                *v += factor * o;
            }
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    /// IEC 61966-2-1: the curve and its inverse agree, and 18 % grey encodes to about 0.4613 (worked by hand).
    #[test]
    fn srgb_curve() {
        assert!((Tone::Srgb.encode(0.18) - 0.461_356).abs() < 1e-4);
        for k in 0..=100 {
            let light = k as f32 / 100.0;
            for tone in [Tone::Srgb, Tone::Power(1.8)] {
                assert!((tone.decode(tone.encode(light)) - light).abs() < 1e-5, "{tone:?} {light}");
            }
        }
    }

    #[test]
    fn finest_quality_changes_less_than_two_levels_and_flat_blocks_stay_flat() {
        let width = 32;
        let mut values: Vec<f32> =
            (0..width * 16).map(|i| 0.5 + 0.3 * noise::normal(3, i as i32, 0).sin()).collect();
        let before = values.clone();
        blocks(&mut values, width, 100);
        let worst = values.iter().zip(&before).map(|(a, b)| (a - b).abs()).fold(0.0, f32::max);
        assert!(worst < 3.0 / 255.0, "{worst}");
        let mut flat = vec![0.25; width * 16];
        blocks(&mut flat, width, 30);
        assert!(flat.iter().all(|v| (v - flat[0]).abs() < 1e-5 && (v - 0.25).abs() < 0.02));
    }

    #[test]
    fn the_mosaic_keeps_a_flat_field_and_makes_noise_cohere() {
        let (width, height) = (64, 64);
        let flat = demosaic(&vec![0.4; width * height], width, height);
        assert!(flat.iter().all(|v| (v - 0.4).abs() < 1e-6));
        let noisy: Vec<f32> =
            (0..width * height).map(|i| noise::normal(1, (i % width) as i32, (i / width) as i32)).collect();
        let smooth = demosaic(&noisy, width, height);
        let lag: f32 = smooth.windows(2).map(|w| w[0] * w[1]).sum::<f32>();
        let power: f32 = smooth.iter().map(|v| v * v).sum();
        assert!(lag / power > 0.2, "{}", lag / power);
    }
}
