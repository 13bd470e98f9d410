//! Pictures with a groove of known place on noise of known spread.

use picture::{Grey, Quality, Verdict};
use rand::{RngExt, SeedableRng};
use rand_pcg::Pcg64;

/// A ridge with a Gaussian profile along a line or an arc. Directions counter-clockwise as seen, y down in the picture.
#[derive(Debug, Clone, Copy)]
pub struct Ridge {
    pub middle: [f64; 2],
    pub direction_deg: f64,
    /// Positive turns counter-clockwise as seen when walked along `direction_deg`.
    pub curvature_per_px: f64,
    pub length_px: f64,
    pub sigma_px: f64,
    pub amplitude: f64,
}

impl Ridge {
    /// Arc length from the middle and distance across.
    fn place(&self, x: f64, y: f64) -> (f64, f64) {
        let (sin, cos) = self.direction_deg.to_radians().sin_cos();
        let (dx, dy) = (x - self.middle[0], self.middle[1] - y);
        let (along, across) = (dx * cos + dy * sin, dy * cos - dx * sin);
        if self.curvature_per_px == 0.0 {
            return (along, across);
        }
        let radius = 1.0 / self.curvature_per_px;
        let (u, v) = (along, radius - across);
        ((u * radius.signum()).atan2(v * radius.signum()) * radius, radius - radius.signum() * u.hypot(v))
    }
}

/// Grey 0.5 plus ridges and white noise of `noise`, all in grey units.
pub fn picture(width: usize, height: usize, ridges: &[Ridge], noise: f64, seed: u64) -> Grey {
    let mut rng = Pcg64::seed_from_u64(seed);
    let mut values = Vec::with_capacity(width * height);
    for y in 0..height {
        for x in 0..width {
            let mut v = 0.5 + noise * normal(&mut rng);
            for ridge in ridges {
                let (along, across) = ridge.place(x as f64, y as f64);
                if along.abs() <= ridge.length_px / 2.0 {
                    v += ridge.amplitude * (-0.5 * (across / ridge.sigma_px).powi(2)).exp();
                }
            }
            values.push(v as f32);
        }
    }
    Grey::new(width, height, values).unwrap_or_else(|| panic!("{width} × {height} values were made"))
}

/// Standard normal by Box and Muller.
fn normal(rng: &mut Pcg64) -> f64 {
    let (a, b): (f64, f64) = (rng.random(), rng.random());
    (-2.0 * (1.0 - a).ln()).sqrt() * (std::f64::consts::TAU * b).cos()
}

/// A judgement without complaints.
#[allow(dead_code, reason = "each test file uses its share of this module")]
pub fn clean() -> Quality {
    Quality {
        verdict: Verdict::Usable,
        reasons: Vec::new(),
        focus_sigma_px: None,
        motion: None,
        blocks: None,
        sensor_rows: None,
        clipped_share: 0.0,
        unevenness: 0.0,
        noise_sigma: 0.01,
    }
}
