//! Noise as a function of place: every value depends on the key and the coordinates alone, so that rows can be drawn in
//! any order and by any number of threads.

/// Well-mixed 64 bits of a key and a lattice point.
fn mix(key: u32, x: i32, y: i32) -> u64 {
    // Finaliser of a 64-bit integer hash (xor-shift-multiply, constants of the published SplitMix64 generator).
    let mut z = (u64::from(key) << 32) ^ (u64::from(x as u32) << 16).rotate_left(17) ^ u64::from(y as u32);
    z = z.wrapping_add(0x9e37_79b9_7f4a_7c15);
    z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    z ^ (z >> 31)
}

/// Uniform in `[0, 1)` at a lattice point.
pub(super) fn uniform(key: u32, x: i32, y: i32) -> f32 {
    (mix(key, x, y) >> 40) as f32 / (1u32 << 24) as f32
}

/// Standard normal at a lattice point (Box–Muller on the two halves of the hash).
pub(super) fn normal(key: u32, x: i32, y: i32) -> f32 {
    let bits = mix(key, x, y);
    let u = ((bits >> 40) as f32 + 0.5) / (1u32 << 24) as f32;
    let v = (bits & 0x00ff_ffff) as f32 / (1u32 << 24) as f32;
    (-2.0 * u.ln()).sqrt() * (std::f32::consts::TAU * v).cos()
}

/// Smooth noise in about `[-1, 1]`, correlation length one unit.
pub(super) fn smooth(key: u32, x: f32, y: f32) -> f32 {
    let (fx, fy) = (x.floor(), y.floor());
    let (ix, iy) = (fx as i32, fy as i32);
    let ease = |t: f32| t * t * (3.0 - 2.0 * t);
    let (u, v) = (ease(x - fx), ease(y - fy));
    let top = uniform(key, ix, iy) * (1.0 - u) + uniform(key, ix + 1, iy) * u;
    let bottom = uniform(key, ix, iy + 1) * (1.0 - u) + uniform(key, ix + 1, iy + 1) * u;
    2.0 * (top * (1.0 - v) + bottom * v) - 1.0
}

/// Sum of `octaves` smooth noises, each half as large and twice as fine as the last; about `[-1, 1]`.
///
/// Every octave lies askew to the last and to the picture: the lattice must not draw lines at 0° and 90°.
pub(super) fn fractal(key: u32, x: f32, y: f32, octaves: u32) -> f32 {
    let (mut sum, mut weight, mut total) = (0.0, 1.0, 0.0);
    let (mut x, mut y) = (0.829 * x - 0.559 * y, 0.559 * x + 0.829 * y);
    for octave in 0..octaves {
        sum += weight * smooth(key.wrapping_add(octave.wrapping_mul(0x9e37)), x, y);
        total += weight;
        weight *= 0.6;
        (x, y) = (1.66 * x - 1.24 * y, 1.24 * x + 1.66 * y);
    }
    sum / total
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn normal_has_mean_zero_and_unit_spread() {
        let n = 200;
        let values: Vec<f64> = (0..n * n).map(|i| f64::from(normal(7, i % n, i / n))).collect();
        let mean = values.iter().sum::<f64>() / values.len() as f64;
        let variance = values.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / values.len() as f64;
        // Standard errors of 40 000 draws: 0.005 and 0.007.
        assert!(mean.abs() < 0.02 && (variance - 1.0).abs() < 0.03, "{mean} {variance}");
        let lag: f64 = values.windows(2).map(|w| w[0] * w[1]).sum::<f64>() / values.len() as f64;
        assert!(lag.abs() < 0.02, "neighbours are correlated: {lag}");
    }
}
