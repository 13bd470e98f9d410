//! Calibration of scores on objects the model was not fitted to: one scale and one shift per class, by maximum likelihood.

/// `z = scale·score + shift[class]`; differences of `z` are natural-log likelihood ratios.
#[derive(Debug, Clone, PartialEq)]
pub struct Calibration {
    /// Common factor.
    pub scale: f64,
    /// Shift of each class.
    pub shift: Vec<f64>,
}

/// Newton steps; the cost is convex in these few parameters and settles long before.
const STEPS: usize = 40;

impl Calibration {
    /// Fits to scores with known classes, every class having the same weight.
    #[must_use]
    pub fn fit(scores: &[Vec<f64>], classes: &[usize], n_classes: usize) -> Calibration {
        let mut fitted = Calibration { scale: 1.0, shift: vec![0.0; n_classes] };
        let mut counts = vec![0.0_f64; n_classes];
        classes.iter().for_each(|class| counts[*class] += 1.0);
        for _ in 0..STEPS {
            // Diagonal Newton on (scale, shifts), damped.
            let (mut g_scale, mut h_scale) = (0.0, 1e-9);
            let (mut g, mut h) = (vec![0.0; n_classes], vec![1e-9; n_classes]);
            for (score, class) in scores.iter().zip(classes) {
                let weight = 1.0 / counts[*class];
                let p = softmax(&fitted.apply(score));
                let mean: f64 = p.iter().zip(score).map(|(p, s)| p * s).sum();
                let square: f64 = p.iter().zip(score).map(|(p, s)| p * s * s).sum();
                g_scale += weight * (score[*class] - mean);
                h_scale += weight * (square - mean * mean);
                for (index, p) in p.iter().enumerate() {
                    g[index] += weight * (f64::from(u8::from(index == *class)) - p);
                    h[index] += weight * p * (1.0 - p);
                }
            }
            fitted.scale = (fitted.scale + 0.7 * g_scale / h_scale).clamp(0.02, 3.0);
            for ((shift, g), h) in fitted.shift.iter_mut().zip(&g).zip(&h) {
                *shift += (0.7 * g / h).clamp(-1.0, 1.0);
            }
        }
        fitted
    }

    /// Calibrated scores.
    #[must_use]
    pub fn apply(&self, scores: &[f64]) -> Vec<f64> {
        scores.iter().zip(&self.shift).map(|(score, shift)| self.scale * score + shift).collect()
    }
}

/// Probabilities for even priors.
#[must_use]
pub fn softmax(z: &[f64]) -> Vec<f64> {
    let most = z.iter().copied().fold(f64::MIN, f64::max);
    let powers: Vec<f64> = z.iter().map(|z| (z - most).exp()).collect();
    let total: f64 = powers.iter().sum();
    powers.into_iter().map(|power| power / total).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use finish::models::normal;
    use rand::{RngExt, SeedableRng};
    use rand_pcg::Pcg64;

    /// Scores three times too bold are brought back: ln LR ~ N(±s²/2, s²) is calibrated as it stands (REFERENCES §5).
    #[test]
    fn bold_scores_are_tempered() {
        let mut rng = Pcg64::seed_from_u64(5);
        let (mut scores, mut classes) = (Vec::new(), Vec::new());
        for _ in 0..8000 {
            let class = usize::from(rng.random::<f64>() < 0.5);
            let ln_ratio = if class == 0 { 2.0 } else { -2.0 } + 2.0 * normal(&mut rng);
            scores.push(vec![3.0 * ln_ratio + 1.5, 0.0]);
            classes.push(class);
        }
        let fitted = Calibration::fit(&scores, &classes, 2);
        assert!((fitted.scale - 1.0 / 3.0).abs() < 0.02, "{}", fitted.scale);
        assert!((fitted.shift[0] - fitted.shift[1] + 0.5).abs() < 0.1, "{:?}", fitted.shift);
    }
}
