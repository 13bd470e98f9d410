//! Spatial parameters of ISO 25178-2: how far the surface resembles itself.

use rayon::prelude::*;
use realfft::RealFftPlanner;
use realfft::num_complex::Complex;
use rustfft::FftPlanner;

use super::filter::fast_length;
use crate::HeightMap;

/// Normalised autocorrelation of a surface, out to a quarter of the field.
#[derive(Debug, Clone, PartialEq)]
pub struct Autocorrelation {
    /// Largest shift along the rows and between them, in steps.
    reach: [usize; 2],
    step_um: [f64; 2],
    /// Rows of shifts `ty = 0 … reach`, each with `tx = −reach … reach`; the other half is its mirror image.
    values: Vec<f64>,
}

/// Autocorrelation of the heights about their mean, 1 at no shift. Each shift is averaged over the pairs it has.
#[must_use]
pub fn autocorrelation(map: &HeightMap) -> Autocorrelation {
    let (width, height) = (map.width(), map.height());
    let reach = [(width / 4).max(1), (height / 4).max(1)];
    let count = map.measured().max(1) as f64;
    let mean = map.z_um().iter().filter(|z| !z.is_nan()).sum::<f64>() / count;
    let centred: Vec<f64> = map.z_um().iter().map(|z| if z.is_nan() { 0.0 } else { z - mean }).collect();
    let sums = shifted_products(&centred, width, height, reach);
    let pairs: Vec<f64> = if map.is_complete() {
        let (rows, columns) = (reach[1] as i64, reach[0] as i64);
        let overlap = |count: usize, shift: i64| count as f64 - shift.unsigned_abs() as f64;
        (0..=rows)
            .flat_map(|ty| (-columns..=columns).map(move |tx| overlap(height, ty) * overlap(width, tx)))
            .collect()
    } else {
        let mask: Vec<f64> = map.z_um().iter().map(|z| f64::from(u8::from(!z.is_nan()))).collect();
        shifted_products(&mask, width, height, reach)
    };
    let variance = sums[reach[0]] / pairs[reach[0]];
    // A shift met by less than half a pair says nothing.
    let value = |(sum, pairs): (f64, f64)| if pairs > 0.5 { sum / pairs / variance } else { f64::NAN };
    let values = sums.into_iter().zip(pairs).map(value).collect();
    Autocorrelation { reach, step_um: [map.dx_um(), map.dy_um()], values }
}

impl Autocorrelation {
    /// The largest distance looked at in every direction, µm.
    #[must_use]
    pub fn reach_um(&self) -> f64 {
        // One step is kept for the interpolation.
        let along = |k: usize| (self.reach[k] as f64 - 2.0).max(0.0) * self.step_um[k];
        along(0).min(along(1))
    }

    /// Value at a shift, µm, by cubic interpolation (Catmull–Rom); NaN beyond the reach.
    #[must_use]
    pub fn at_um(&self, tx_um: f64, ty_um: f64) -> f64 {
        let (x, y) = (tx_um / self.step_um[0], ty_um / self.step_um[1]);
        let (x0, y0) = (x.floor(), y.floor());
        let (wx, wy) = (cubic(x - x0), cubic(y - y0));
        let mut sum = 0.0;
        for (j, &weight_y) in wy.iter().enumerate() {
            for (i, &weight_x) in wx.iter().enumerate() {
                sum += weight_x * weight_y * self.value(x0 as i64 + i as i64 - 1, y0 as i64 + j as i64 - 1);
            }
        }
        sum
    }

    fn value(&self, tx: i64, ty: i64) -> f64 {
        let (tx, ty) = if ty < 0 { (-tx, -ty) } else { (tx, ty) };
        let columns = 2 * self.reach[0] as i64 + 1;
        let column = tx + self.reach[0] as i64;
        if !(0..columns).contains(&column) || ty > self.reach[1] as i64 {
            return f64::NAN;
        }
        self.values.get((ty * columns + column) as usize).copied().unwrap_or(f64::NAN)
    }
}

/// Weights of four neighbours for a place `f` of the way from the second to the third.
fn cubic(f: f64) -> [f64; 4] {
    let (f2, f3) = (f * f, f * f * f);
    [-0.5 * f3 + f2 - 0.5 * f, 1.5 * f3 - 2.5 * f2 + 1.0, -1.5 * f3 + 2.0 * f2 + 0.5 * f, 0.5 * f3 - 0.5 * f2]
}

/// Where an autocorrelation falls to its level along one direction.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Decay {
    /// Distance from the middle, µm.
    pub(super) length_um: f64,
    /// Direction in the frame of the map, x right and y down.
    pub(super) direction_rad: f64,
    /// How fast it falls there, per µm.
    pub(super) slope_per_um: f64,
}

/// Sal and Str of an autocorrelation given as a function of the shift: the shortest distance from the middle at which
/// it first falls to `level`, and the ratio of the shortest to the longest; looked for along rays 1° apart out to
/// `reach`, in steps of half of `step`.
///
/// # Source
/// ISO 25178-2:2012, 4.2; from memory, source not seen. Checked in `tests/published/texture.json`.
pub fn sal_and_str(
    acf: impl Fn(f64, f64) -> f64 + Sync,
    reach: f64,
    level: f64,
    step: f64,
) -> (Option<f64>, Option<f64>) {
    let (shortest, longest) = decays(acf, reach, level, step);
    let sal = shortest.map(|decay| decay.length_um);
    (sal, sal.zip(longest).map(|(short, long)| short / long.length_um))
}

/// The shortest and the longest decay; the longest only if it falls in every direction.
pub(super) fn decays(
    acf: impl Fn(f64, f64) -> f64 + Sync,
    reach: f64,
    level: f64,
    step: f64,
) -> (Option<Decay>, Option<Decay>) {
    let along_ray = |degrees: u32| {
        let direction_rad = f64::from(degrees).to_radians();
        let (sin, cos) = direction_rad.sin_cos();
        let value = |r: f64| acf(r * cos, r * sin);
        let mut inner = 0.0;
        loop {
            let outer = inner + step / 2.0;
            if outer > reach {
                return None;
            }
            if value(outer) <= level {
                let length_um = crossing(value, inner, outer, level);
                let slope_per_um = (value(inner) - value(outer)) / (outer - inner);
                return Some(Decay { length_um, direction_rad, slope_per_um });
            }
            inner = outer;
        }
    };
    let found: Vec<Option<Decay>> = (0..180_u32).into_par_iter().map(along_ray).collect();
    let shortest =
        found.iter().flatten().copied().reduce(|a, b| if b.length_um < a.length_um { b } else { a });
    let longer = |a: Option<Decay>, b: Option<Decay>| {
        a.zip(b).map(|(a, b)| if b.length_um > a.length_um { b } else { a })
    };
    (shortest, found.into_iter().reduce(longer).flatten())
}

fn crossing(value: impl Fn(f64) -> f64, mut inner: f64, mut outer: f64, level: f64) -> f64 {
    for _ in 0..60 {
        let middle = (inner + outer) / 2.0;
        if value(middle) <= level { outer = middle } else { inner = middle }
    }
    (inner + outer) / 2.0
}

/// Σ z(x, y)·z(x + tx, y + ty) for the shifts of [`Autocorrelation`], by Fourier transform with room for the shifts.
fn shifted_products(z: &[f64], width: usize, height: usize, reach: [usize; 2]) -> Vec<f64> {
    let (wide, high) = (fast_length(width + reach[0] + 1), fast_length(height + reach[1] + 1));
    let mut real_planner = RealFftPlanner::<f64>::new();
    let (forward, inverse) = (real_planner.plan_fft_forward(wide), real_planner.plan_fft_inverse(wide));
    let bins = wide / 2 + 1;
    let mut spectrum = vec![Complex::default(); bins * height];
    spectrum.par_chunks_mut(bins).zip(z.par_chunks(width)).for_each_init(
        || (forward.make_input_vec(), forward.make_scratch_vec()),
        |(line, scratch), (out, row)| {
            line[..width].copy_from_slice(row);
            line[width..].fill(0.0);
            // Buffers have the plan's own lengths, so the transform cannot fail.
            let _ = forward.process_with_scratch(line, out, scratch);
        },
    );
    let power = column_products(&spectrum, bins, height, high, reach[1]);
    drop(spectrum);
    let scale = 1.0 / (wide as f64 * high as f64);
    let rows: Vec<Vec<f64>> = (0..=reach[1])
        .into_par_iter()
        .map_init(
            || (inverse.make_input_vec(), inverse.make_output_vec(), inverse.make_scratch_vec()),
            |(line, out, scratch), ty| {
                for (block, values) in power.iter().enumerate() {
                    let columns = values.len() / (reach[1] + 1);
                    for column in 0..columns {
                        line[block * BLOCK + column] = values[column * (reach[1] + 1) + ty];
                    }
                }
                // The ends of a real line's spectrum are real; rounding may have left a trace.
                line[0].im = 0.0;
                line[bins - 1].im = 0.0;
                let _ = inverse.process_with_scratch(line, out, scratch);
                let span = reach[0] as i64;
                (-span..=span).map(|tx| out[tx.rem_euclid(wide as i64) as usize] * scale).collect()
            },
        )
        .collect();
    rows.concat()
}

/// Columns handled together: their values lie side by side in memory.
const BLOCK: usize = 8;

/// For every column of the spectrum, the transform over the rows, its power, and back for the shifts asked for.
fn column_products(
    spectrum: &[Complex<f64>],
    bins: usize,
    height: usize,
    high: usize,
    reach: usize,
) -> Vec<Vec<Complex<f64>>> {
    let mut planner = FftPlanner::<f64>::new();
    let (forward, inverse) = (planner.plan_fft_forward(high), planner.plan_fft_inverse(high));
    let scratch_length = forward.get_inplace_scratch_len().max(inverse.get_inplace_scratch_len());
    (0..bins.div_ceil(BLOCK))
        .into_par_iter()
        .map_init(
            || (vec![Complex::default(); high * BLOCK], vec![Complex::default(); scratch_length]),
            |(columns, scratch), block| {
                let first = block * BLOCK;
                let count = BLOCK.min(bins - first);
                columns.fill(Complex::default());
                for y in 0..height {
                    for column in 0..count {
                        columns[column * high + y] = spectrum[y * bins + first + column];
                    }
                }
                let mut kept = Vec::with_capacity(count * (reach + 1));
                for column in columns.chunks_mut(high).take(count) {
                    forward.process_with_scratch(column, scratch);
                    column.iter_mut().for_each(|value| *value = Complex::new(value.norm_sqr(), 0.0));
                    inverse.process_with_scratch(column, scratch);
                    kept.extend_from_slice(&column[..=reach]);
                }
                kept
            },
        )
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shifts_agree_with_the_straight_sum() {
        let (width, height) = (24, 17);
        let mut z: Vec<f64> = (0..width * height).map(|i| ((i * 7919) % 101) as f64).collect();
        z[40] = f64::NAN;
        let map = HeightMap::new(width, height, 1.0, 2.0, z.clone()).unwrap();
        let found = autocorrelation(&map);
        let mean = z.iter().filter(|z| !z.is_nan()).sum::<f64>() / map.measured() as f64;
        let straight = |tx: i64, ty: i64| {
            let (mut sum, mut pairs) = (0.0, 0.0);
            for y in 0..height as i64 {
                for x in 0..width as i64 {
                    let (a, b) = (x + tx, y + ty);
                    if (0..width as i64).contains(&a) && (0..height as i64).contains(&b) {
                        let (p, q) = (z[(y * width as i64 + x) as usize], z[(b * width as i64 + a) as usize]);
                        if !p.is_nan() && !q.is_nan() {
                            sum += (p - mean) * (q - mean);
                            pairs += 1.0;
                        }
                    }
                }
            }
            sum / pairs
        };
        for (tx, ty) in [(0, 0), (1, 0), (-3, 2), (6, 4), (2, -3)] {
            let expected = straight(tx, ty) / straight(0, 0);
            assert!((found.value(tx, ty) - expected).abs() < 1e-9, "shift {tx},{ty}");
        }
        assert!(found.value(7, 0).is_nan());
    }
}
