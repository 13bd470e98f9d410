//! What calibration error chance alone leaves in a limited number of cases.

use rand::RngExt;
use weigh::evaluation::ece;
use weigh::simulate::generator;

/// Mean calibration error of as many cases whose truths are drawn from the stated probabilities.
pub fn chance_ece(posteriors: &[Vec<f64>]) -> f64 {
    let drawn = (0..DRAWS).map(|draw| {
        let mut rng = generator(1, STREAM, draw);
        let truths: Vec<usize> = posteriors.iter().map(|p| pick(p, rng.random())).collect();
        ece(posteriors, &truths)
    });
    drawn.sum::<f64>() / DRAWS as f64
}

/// Sets of truths drawn.
const DRAWS: u64 = 200;
/// Stream of random numbers of the drawn truths.
const STREAM: u64 = 6500;

fn pick(posterior: &[f64], mut mark: f64) -> usize {
    for (class, p) in posterior.iter().enumerate() {
        mark -= p;
        if mark < 0.0 {
            return class;
        }
    }
    posterior.len() - 1
}
