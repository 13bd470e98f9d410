//! A photographed graduation: dark ticks of known pitch on a bright plate, a little tilted, through the instrument's lens.

use picture::Grey;

use crate::render::{Lens, Sensor, Tone, blurred, exposed};

/// A graduation as it lies under the lens.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Plate {
    /// Width and height of the picture, px.
    pub size_px: [usize; 2],
    /// Distance between ticks, px at the centre of the picture.
    pub pitch_px: f64,
    /// Turn of the graduation's line from +x, degrees counter-clockwise as seen.
    pub tilt_deg: f64,
    /// First-order distortion of the lens.
    pub k1: f64,
    /// Standard deviation of the point spread, px.
    pub blur_px: f64,
}

/// Length of plain, fifth and tenth ticks, share of the picture's height.
const TICK_LENGTHS: [f64; 3] = [0.12, 0.17, 0.24];
/// Width of a tick, share of the pitch.
const TICK_WIDTH: f64 = 0.22;
/// Light of the plate and of a tick, share of full white.
const PLATE_LIGHT: f32 = 0.62;
const TICK_LIGHT: f32 = 0.05;

impl Plate {
    /// The photograph.
    #[must_use]
    pub fn photograph(&self, seed: u32) -> Option<Grey> {
        let [width, height] = self.size_px;
        let lens = Lens::of(self.k1, width, height);
        let light: Vec<f32> = (0..width * height)
            .map(|at| {
                let p = lens.undraw([(at % width) as f64, (at / width) as f64]);
                PLATE_LIGHT + (TICK_LIGHT - PLATE_LIGHT) * self.cover(p) as f32
            })
            .collect();
        let sensor = Sensor {
            full_well: 6_000.0,
            read_electrons: 8.0,
            mosaic: true,
            row_noise: 0.0,
            tone: Tone::Srgb,
            jpeg_quality: None,
        };
        let values = exposed(&blurred(light, width, self.blur_px), [width, height], &sensor, seed);
        Grey::new(width, height, values)
    }

    /// Share of ink at a point before the lens.
    fn cover(&self, p: [f64; 2]) -> f64 {
        let [width, height] = self.size_px.map(|n| n as f64);
        let (sin, cos) = self.tilt_deg.to_radians().sin_cos();
        let (dx, dy) = (p[0] - 0.5 * width, p[1] - 0.5 * height);
        let (along, across) = (dx * cos - dy * sin, dx * sin + dy * cos);
        let number = (along / self.pitch_px).round();
        let kind = usize::from(number.rem_euclid(5.0) == 0.0) + usize::from(number.rem_euclid(10.0) == 0.0);
        // Soft over one pixel, as a pixel sees an edge.
        let soft = |inside: f64| (inside + 0.5).clamp(0.0, 1.0);
        let beside = soft(0.5 * TICK_WIDTH * self.pitch_px - (along - number * self.pitch_px).abs());
        // Ticks stand on a common base line below the middle.
        let base = 0.12 * height;
        let tall = soft(base - across) * soft(across - (base - TICK_LENGTHS[kind] * height));
        beside * tall
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use picture::{distortion_from_graduation, find_graduation};
    use quantity::Measured;

    fn plate(pitch_px: f64, tilt_deg: f64, k1: f64) -> Plate {
        Plate { size_px: [1280, 960], pitch_px, tilt_deg, k1, blur_px: 1.2 }
    }

    /// The pitch at the centre comes back through a bending lens, from fine ticks to a dozen wide ones.
    #[test]
    fn the_lens_does_not_change_the_scale() {
        let mut squares = Vec::new();
        for (seed, (pitch_px, tilt_deg, k1)) in [
            (21.222, 2.3, -0.011),
            (12.107, -1.4, 0.004),
            (15.0, 4.0, 0.02),
            (30.0, -3.0, -0.015),
            (60.0, 1.0, -0.011),
            (75.0, -2.0, 0.01),
            (110.0, 3.0, -0.011),
        ]
        .into_iter()
        .enumerate()
        {
            let grey = plate(pitch_px, tilt_deg, k1).photograph(seed as u32 + 5).unwrap();
            let found = find_graduation(&grey).unwrap_or_else(|e| panic!("{pitch_px}: {e}"));
            let lens = distortion_from_graduation(&found, 1280.0, 960.0).ok();
            let scale = found
                .scale(Measured::exact(100.0), lens.as_ref(), 1280.0, 960.0)
                .unwrap_or_else(|| panic!("{pitch_px}"));
            let (error, u) = (scale.value() * pitch_px / 100.0 - 1.0, scale.u() / scale.value());
            eprintln!(
                "{pitch_px}: {} ticks, error {error:.5}, u {u:.5}, {:?}",
                found.ticks,
                lens.map(|l| l.k1)
            );
            // A known lens leaves a fifth of a percent, an unknown one its own uncertainty.
            assert!(error.abs() < if lens.is_some() { 0.002 } else { 0.006 }, "{pitch_px}: {error}");
            squares.push((error / u).powi(2));
        }
        let spread = (squares.iter().sum::<f64>() / squares.len() as f64).sqrt();
        assert!(spread < 1.7, "errors are {spread} of their uncertainty");
    }
}
