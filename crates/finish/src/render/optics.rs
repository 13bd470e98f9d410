//! From the light of the surface to the light on the sensor: sharpness, motion, uneven light.

use picture::Distortion;
use quantity::AxialDeg;
use rayon::prelude::*;

/// Lens, focus and illumination.
#[derive(Debug, Clone, PartialEq)]
pub struct Optics {
    /// Standard deviation of the (Gaussian) point spread, px.
    pub blur_px: f64,
    /// Motion during the exposure.
    pub motion: Option<Motion>,
    /// Light lost in the corners, share.
    pub vignetting: f64,
    /// Light gained and lost from one edge to the other towards the light, share of the mean.
    pub gradient: [f64; 2],
    /// Radial distortion.
    pub distortion: Option<Distortion>,
    /// Mean of the scratch-free picture on the encoded scale, 0–1.
    pub mean_grey: f64,
}

/// Straight motion during the exposure.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Motion {
    /// Its axis on the picture.
    pub direction: AxialDeg,
    /// Its length, px.
    pub length_px: f64,
}

/// Blurs in place: motion first, then the point spread.
pub(super) fn blur(values: &mut Vec<f32>, width: usize, optics: &Optics) {
    if let Some(motion) = optics.motion {
        smear(values, width, motion);
    }
    gaussian(values, width, optics.blur_px);
}

/// Normalised Gaussian taps, out to four standard deviations.
pub(super) fn taps(sigma: f64) -> Vec<f32> {
    let reach = (4.0 * sigma).ceil().max(1.0) as i32;
    let raw: Vec<f64> = (-reach..=reach).map(|k| (-0.5 * (f64::from(k) / sigma).powi(2)).exp()).collect();
    let total: f64 = raw.iter().sum();
    raw.iter().map(|v| (v / total) as f32).collect()
}

/// Separable Gaussian, edges continued.
pub(super) fn gaussian(values: &mut Vec<f32>, width: usize, sigma: f64) {
    if sigma < 0.05 || width == 0 {
        return;
    }
    let taps = taps(sigma);
    let reach = taps.len() / 2;
    let height = values.len() / width;
    values.par_chunks_mut(width).for_each(|row| {
        let mut padded = Vec::with_capacity(width + 2 * reach);
        padded.extend(std::iter::repeat_n(row[0], reach));
        padded.extend_from_slice(row);
        padded.extend(std::iter::repeat_n(row[width - 1], reach));
        row.fill(0.0);
        for (k, &tap) in taps.iter().enumerate() {
            for (out, value) in row.iter_mut().zip(&padded[k..]) {
                *out += tap * value;
            }
        }
    });
    let mut out = vec![0.0f32; values.len()];
    let source: &[f32] = values;
    out.par_chunks_mut(width).enumerate().for_each(|(y, row)| {
        for (k, &tap) in taps.iter().enumerate() {
            let from = (y + k).saturating_sub(reach).min(height - 1);
            for (out, value) in row.iter_mut().zip(&source[from * width..(from + 1) * width]) {
                *out += tap * value;
            }
        }
    });
    *values = out;
}

fn smear(values: &mut Vec<f32>, width: usize, motion: Motion) {
    let height = values.len() / width;
    let (dx, dy) = motion.direction.pixel_step();
    let steps = (2.0 * motion.length_px).ceil().max(1.0) as usize;
    let source: &[f32] = values;
    let at = |x: f64, y: f64| {
        let (x, y) = (x.clamp(0.0, (width - 1) as f64), y.clamp(0.0, (height - 1) as f64));
        let (i, j) = (x as usize, y as usize);
        let (fx, fy) = ((x - i as f64) as f32, (y - j as f64) as f32);
        let (i2, j2) = ((i + 1).min(width - 1), (j + 1).min(height - 1));
        let top = source[j * width + i] * (1.0 - fx) + source[j * width + i2] * fx;
        let bottom = source[j2 * width + i] * (1.0 - fx) + source[j2 * width + i2] * fx;
        top * (1.0 - fy) + bottom * fy
    };
    let out: Vec<f32> = (0..values.len())
        .into_par_iter()
        .map(|index| {
            let (x, y) = ((index % width) as f64, (index / width) as f64);
            let sum: f32 = (0..=steps)
                .map(|k| {
                    let s = (k as f64 / steps as f64 - 0.5) * motion.length_px;
                    at(x + s * dx, y + s * dy)
                })
                .sum();
            sum / (steps + 1) as f32
        })
        .collect();
    *values = out;
}

/// Illumination of the field at a pixel, 1 at the centre.
pub(super) fn illumination(optics: &Optics, x: f64, y: f64, width: usize, height: usize) -> f32 {
    let (u, v) = (2.0 * x / width as f64 - 1.0, 2.0 * y / height as f64 - 1.0);
    let corner = 1.0 - optics.vignetting * 0.5 * (u * u + v * v);
    (corner * (1.0 + 0.5 * (optics.gradient[0] * u + optics.gradient[1] * v))).max(0.05) as f32
}
