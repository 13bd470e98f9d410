//! Fine noise.

use crate::Grey;

/// Side of the blocks in which noise is measured, pixels (ours: small enough to lie within one grain, large enough for a stable median).
const BLOCK_PX: usize = 16;
/// Share of the quietest blocks that speak for the noise: texture only adds.
const QUIET_SHARE: f64 = 0.1;
/// Median of |z| for a standard normal variable.
const NORMAL_MEDIAN: f64 = 0.674_489_75;

/// Standard deviation of pixel noise: median absolute response of a mask that passes neither steps nor ramps, over the quietest blocks.
///
/// # Source
/// Mask of J. Immerkær, 'Fast noise variance estimation', Computer Vision and Image Understanding 64 (1996) (from memory, source not seen); quiet blocks: ours.
pub(super) fn sigma(grey: &Grey) -> f64 {
    let (across, down) = (grey.width() / BLOCK_PX, grey.height() / BLOCK_PX);
    if across == 0 || down == 0 {
        return 0.0;
    }
    // At most this many blocks are looked at, spread evenly.
    let step = (across * down).div_ceil(20_000).max(1);
    let mut sigmas: Vec<f64> = (0..across * down)
        .step_by(step)
        .filter_map(|i| block_sigma(grey, i % across * BLOCK_PX, i / across * BLOCK_PX))
        .collect();
    if sigmas.is_empty() {
        return 0.0;
    }
    sigmas.sort_unstable_by(f64::total_cmp);
    // The low quantile of a scattered estimate lies below its mean; 5 % of bias per standard error of the median, about 1.28 × 7 % here.
    let quiet = sigmas.get((sigmas.len() as f64 * QUIET_SHARE) as usize).copied().unwrap_or(0.0);
    quiet * 1.1
}

/// `None` where too many pixels are clipped, which hides noise.
fn block_sigma(grey: &Grey, left: usize, top: usize) -> Option<f64> {
    let mut responses = Vec::with_capacity(BLOCK_PX * BLOCK_PX);
    let mut clipped = 0;
    for y in top + 1..(top + BLOCK_PX - 1).min(grey.height() - 1) {
        let (above, here, below) = (grey.row(y - 1), grey.row(y), grey.row(y + 1));
        let windows = above.windows(3).zip(here.windows(3)).zip(below.windows(3));
        for ((a, h), b) in windows.skip(left).take(BLOCK_PX - 2) {
            let ([a0, a1, a2], [h0, h1, h2], [b0, b1, b2]) = (three(a), three(h), three(b));
            clipped += usize::from(h1 <= 0.002 || h1 >= 0.998);
            responses.push(f64::from(
                (a0 - 2.0 * a1 + a2 - 2.0 * h0 + 4.0 * h1 - 2.0 * h2 + b0 - 2.0 * b1 + b2).abs(),
            ));
        }
    }
    if responses.is_empty() || 4 * clipped > responses.len() {
        return None;
    }
    responses.sort_unstable_by(f64::total_cmp);
    // The mask's weights have the root sum of squares 6.
    responses.get(responses.len() / 2).map(|median| median / NORMAL_MEDIAN / 6.0)
}

fn three(values: &[f32]) -> [f32; 3] {
    values.try_into().unwrap_or([0.0; 3])
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::SeedableRng;
    use rand_distr::{Distribution, Normal};

    #[test]
    fn white_noise_is_measured_on_steps_and_ramps() {
        let mut rng = rand_pcg::Pcg64::seed_from_u64(3);
        for sigma_true in [0.005, 0.02, 0.05] {
            let noise = Normal::new(0.0, sigma_true).unwrap();
            let values = (0..300 * 400)
                .map(|i| 0.3 + 0.001 * (i % 400) as f32 + if i / 400 > 150 { 0.2 } else { 0.0 })
                .map(|v| v + noise.sample(&mut rng) as f32)
                .collect();
            let found = sigma(&Grey::new(400, 300, values).unwrap());
            assert!((found / sigma_true - 1.0).abs() < 0.1, "{found} for {sigma_true}");
        }
    }
}
