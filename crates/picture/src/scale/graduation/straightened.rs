//! The pitch of a graduation with the lens taken out.

use quantity::Measured;

use super::{Graduation, ticks};
use crate::lens::{Distortion, undistort};

/// Distortion that a lens nobody has calibrated may have either way, even distribution: hand-held microscopes stay within it
/// (common practice, no source).
const UNKNOWN_K1: f64 = 0.02;

impl Graduation {
    /// The pitch at the centre of a picture of `width_px × height_px`, where a lens draws true to scale. `lens` is the one
    /// these ticks were drawn by; its uncertainty is added. Without one the pitch stays as drawn, and its uncertainty says
    /// what an ordinary lens may have done to it.
    ///
    /// # Source
    /// Model of [`Distortion`]; ticks are straightened and fitted again, and the change of the slope carries over.
    /// JCGM 100:2008 (GUM) 5.1.2 and, for the unknown lens, 4.3.7.
    #[must_use]
    pub fn pitch_at_centre(&self, lens: Option<&Distortion>, width_px: f64, height_px: f64) -> Measured {
        let centre_px = lens.and_then(|lens| lens.centre_px);
        let slope = |k1: f64| {
            let lens = Distortion { k1: Measured::exact(k1), centre_px };
            self.slope(|point| undistort(point, &lens, width_px, height_px))
        };
        let drawn = slope(0.0);
        let ratio = |k1: f64| match (slope(k1), drawn) {
            (Some(slope), Some(drawn)) if drawn > 0.0 => slope / drawn,
            _ => 1.0,
        };
        let (k1, u_k1) = lens.map_or((0.0, UNKNOWN_K1 / 3f64.sqrt()), |lens| (lens.k1.value, lens.k1.u));
        let (value, own_u) = (self.pitch_px.value * ratio(k1), self.pitch_px.u * ratio(k1));
        let lens_u = self.pitch_px.value * 0.5 * (ratio(k1 + u_k1) - ratio(k1 - u_k1)).abs();
        Measured { value, u: own_u.hypot(lens_u) }
    }

    /// Slope of the ticks' places along their row over their numbers, each place moved by `moved` first.
    fn slope(&self, moved: impl Fn([f64; 2]) -> [f64; 2]) -> Option<f64> {
        let (first, last) = (moved(self.marks.first()?.centre_px), moved(self.marks.last()?.centre_px));
        let span = (last[0] - first[0]).hypot(last[1] - first[1]);
        let along = [(last[0] - first[0]) / span, (last[1] - first[1]) / span];
        let places: Vec<(i32, f64)> = self
            .marks
            .iter()
            .map(|mark| {
                let point = moved(mark.centre_px);
                (mark.number, (point[0] - first[0]) * along[0] + (point[1] - first[1]) * along[1])
            })
            .collect();
        ticks::least_squares(&places, &vec![1.0; places.len()]).map(|(slope, _)| slope)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::lens::distort;
    use crate::scale::Tick;
    use quantity::AxialDeg;

    /// Even ticks 20 px apart, drawn by a lens, with the slope they then have.
    fn drawn_by(k1: f64, count: i32) -> Graduation {
        let lens = Distortion { k1: Measured::exact(k1), centre_px: None };
        let marks: Vec<Tick> = (0..count)
            .map(|number| {
                let x = 639.5 + 20.0 * (f64::from(number) - 0.5 * f64::from(count - 1));
                Tick { number, centre_px: distort([x, 540.0], &lens, 1280.0, 960.0) }
            })
            .collect();
        let mut graduation = Graduation {
            pitch_px: Measured { value: 20.0, u: 0.002 },
            direction: AxialDeg::new(0.0).unwrap(),
            ticks: marks.len(),
            marks,
            scatter_px: 0.05,
            notes: Vec::new(),
        };
        graduation.pitch_px.value = graduation.slope(|point| point).unwrap();
        graduation
    }

    #[test]
    fn a_known_lens_is_taken_out_and_an_unknown_one_carried() {
        for k1 in [-0.02, -0.011, 0.004, 0.02] {
            let graduation = drawn_by(k1, 61);
            let lens = Distortion { k1: Measured { value: k1, u: 0.0005 }, centre_px: None };
            let known = graduation.pitch_at_centre(Some(&lens), 1280.0, 960.0);
            assert!((known.value - 20.0).abs() < 1e-4, "{k1}: {known}");
            // Derived by hand: the slope of x³ over ±a is 3a²/5, so u(k1) brings 0.6·(600/800)²·u(k1) of the pitch.
            let expected = 20.0 * 0.6 * 0.75f64.powi(2) * 0.0005;
            assert!((known.u.powi(2) - 0.002f64.powi(2)).sqrt() / expected - 1.0 < 0.1, "{k1}: {known}");
            let unknown = graduation.pitch_at_centre(None, 1280.0, 960.0);
            assert_eq!(unknown.value, graduation.pitch_px.value);
            assert!((unknown.value - 20.0).abs() < 2.0 * unknown.u, "{k1}: {unknown}");
        }
    }

    /// A short row at the centre hardly feels the lens.
    #[test]
    fn a_short_row_loses_little() {
        let (short, long) = (drawn_by(0.0, 11), drawn_by(0.0, 61));
        let u = |graduation: &Graduation| graduation.pitch_at_centre(None, 1280.0, 960.0).u;
        assert!(u(&short) < 0.3 * u(&long), "{} {}", u(&short), u(&long));
    }
}
