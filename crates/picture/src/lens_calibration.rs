//! Radial distortion from a photographed graduation.

use quantity::Measured;

use crate::lens::{Distortion, undistort};
use crate::scale::Graduation;

/// Why a graduation gives no distortion.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum DistortionError {
    /// Too few ticks.
    #[error(
        "the graduation shows {found} ticks, {needed} are needed to tell distortion from scatter; photograph a finer or longer one"
    )]
    TooFewTicks {
        /// Ticks found.
        found: usize,
        /// Ticks needed.
        needed: usize,
    },
    /// The row is too short.
    #[error(
        "the graduation spans {found:.0} % of the picture's diagonal, {needed:.0} % are needed; lay it across the whole field"
    )]
    TooShort {
        /// Share of the diagonal, percent.
        found: f64,
        /// Least share, percent.
        needed: f64,
    },
    /// The ticks say less than what any ordinary lens does.
    #[error(
        "the ticks fix the distortion to ± {found:.3} only, ± {needed:.3} is needed; photograph a finer graduation, sharp and across the whole field"
    )]
    TooVague {
        /// Standard uncertainty found.
        found: f64,
        /// Largest allowed.
        needed: f64,
    },
    /// Numbers that cannot be solved.
    #[error(
        "the ticks do not fix the distortion; photograph the graduation anew, across the middle of the field"
    )]
    Unsolvable,
}

/// Fewest ticks: four unknowns, and enough deviations to estimate their scatter (ours).
const LEAST_TICKS: usize = 16;
/// Least span as a share of the diagonal: distortion grows with the cube of the distance (ours).
const LEAST_SPAN: f64 = 0.5;
/// Largest standard uncertainty of the coefficient: a third of what lenses nobody has calibrated spread by (ours).
const LARGEST_U: f64 = 0.004;
/// Rounds of straightening and fitting again: by the twelfth even strong distortion (k1 = −0.08) has settled to a millionth.
const ROUNDS: usize = 12;

/// Distortion of the lens from the ticks of a graduation that lies across a picture of `width_px × height_px`.
///
/// Even ticks are drawn at x + k1·x·(x² + y²)/h² from the centre; a constant, the pitch, a linear change of pitch (a tilted
/// graduation) and `k1` are fitted together by least squares.
///
/// # Errors
/// [`DistortionError`] for too few ticks or too short a row.
///
/// # Source
/// Least squares with the uncertainty of JCGM 100:2008 (GUM) H.3, widened for correlated deviations; model of [`Distortion`].
pub fn distortion_from_graduation(
    graduation: &Graduation,
    width_px: f64,
    height_px: f64,
) -> Result<Distortion, DistortionError> {
    let marks = &graduation.marks;
    if marks.len() < LEAST_TICKS {
        return Err(DistortionError::TooFewTicks { found: marks.len(), needed: LEAST_TICKS });
    }
    let diagonal = width_px.hypot(height_px);
    let (Some(first), Some(last)) = (marks.first(), marks.last()) else {
        return Err(DistortionError::Unsolvable);
    };
    let span = (last.centre_px[0] - first.centre_px[0]).hypot(last.centre_px[1] - first.centre_px[1]);
    if span < LEAST_SPAN * diagonal {
        return Err(DistortionError::TooShort { found: 100.0 * span / diagonal, needed: 100.0 * LEAST_SPAN });
    }
    let along =
        [(last.centre_px[0] - first.centre_px[0]) / span, (last.centre_px[1] - first.centre_px[1]) / span];
    let mut k1 = Measured::exact(0.0);
    for _ in 0..ROUNDS {
        let lens = Distortion { k1, centre_px: None };
        let rows: Vec<([f64; 4], f64)> = marks
            .iter()
            .map(|mark| {
                let straight = undistort(mark.centre_px, &lens, width_px, height_px);
                // All lengths in half diagonals from the centre; numbers from −1 to 1.
                let place = |point: [f64; 2]| {
                    let (dx, dy) = (point[0] - (width_px - 1.0) / 2.0, point[1] - (height_px - 1.0) / 2.0);
                    [
                        (dx * along[0] + dy * along[1]) * 2.0 / diagonal,
                        (dy * along[0] - dx * along[1]) * 2.0 / diagonal,
                    ]
                };
                let [x, y] = place(straight);
                let middle = f64::from(first.number + last.number) / 2.0;
                let n = (f64::from(mark.number) - middle) * 2.0 / f64::from(last.number - first.number);
                // The straightened place carries what is left of the distortion.
                ([1.0, n, n * n, x * (x * x + y * y)], x)
            })
            .collect();
        let change = fit_last(&rows).ok_or(DistortionError::Unsolvable)?;
        k1 = Measured { value: k1.value + change.value, u: change.u };
    }
    if k1.u.is_nan() || k1.u > LARGEST_U {
        return Err(DistortionError::TooVague { found: k1.u, needed: LARGEST_U });
    }
    Ok(Distortion { k1, centre_px: None })
}

/// Last of four coefficients with its standard uncertainty.
fn fit_last(rows: &[([f64; 4], f64)]) -> Option<Measured> {
    let mut normal = [[0.0f64; 5]; 4];
    for (basis, value) in rows {
        for (line, a) in normal.iter_mut().zip(basis) {
            line.iter_mut().zip(basis.iter().chain([value])).for_each(|(sum, b)| *sum += a * b);
        }
    }
    // Elimination downwards leaves the last coefficient alone in the last line, and there the inverse of its variance factor.
    for pivot in 0..3 {
        let top = *normal.get(pivot)?;
        let head = *top.get(pivot)?;
        if head.abs() < 1e-12 {
            return None;
        }
        for line in normal.iter_mut().skip(pivot + 1) {
            let factor = line.get(pivot)? / head;
            line.iter_mut().zip(&top).for_each(|(value, above)| *value -= factor * above);
        }
    }
    let [_, _, _, last] = normal;
    let (weight, product) = (last[3], last[4]);
    if weight < 1e-12 {
        return None;
    }
    let value = product / weight;
    // Back upwards for the deviations.
    let mut coefficients = [0.0f64; 4];
    for i in (0..4).rev() {
        let line = normal.get(i)?;
        let known: f64 = line.iter().zip(&coefficients).skip(i + 1).map(|(a, c)| a * c).sum();
        *coefficients.get_mut(i)? = (line[4] - known) / line.get(i)?;
    }
    let deviations: Vec<f64> = rows
        .iter()
        .map(|(basis, v)| v - basis.iter().zip(&coefficients).map(|(b, c)| b * c).sum::<f64>())
        .collect();
    let squares: f64 = deviations.iter().map(|d| d * d).sum();
    let neighbours: f64 = deviations.windows(2).map(|pair| if let [a, b] = pair { a * b } else { 0.0 }).sum();
    let n = rows.len() as f64;
    let correlation = (neighbours / squares.max(f64::MIN_POSITIVE) + 4.0 / n).clamp(0.0, 0.95);
    let scatter = (squares / (n - 4.0)).sqrt();
    let u = scatter / weight.sqrt() * ((1.0 + correlation) / (1.0 - correlation)).sqrt();
    Some(Measured { value, u })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::lens::distort;
    use crate::scale::Tick;
    use quantity::AxialDeg;
    use rand::SeedableRng;
    use rand_distr::{Distribution, Normal};

    fn graduation(k1: f64, angle_deg: f64, noise: &mut impl FnMut() -> f64) -> Graduation {
        let lens = Distortion { k1: Measured::exact(k1), centre_px: None };
        let (sin, cos) = angle_deg.to_radians().sin_cos();
        let marks: Vec<Tick> = (-60..=60)
            .map(|n| {
                let (t, s) = (f64::from(n) * 12.0 + noise(), 80.0);
                let drawn =
                    distort([799.5 + t * cos - s * sin, 599.5 + t * sin + s * cos], &lens, 1600.0, 1200.0);
                Tick { number: n + 60, centre_px: drawn }
            })
            .collect();
        Graduation {
            pitch_px: Measured { value: 12.0, u: 0.001 },
            direction: AxialDeg::new(-angle_deg).unwrap(),
            ticks: marks.len(),
            marks,
            scatter_px: 0.1,
            notes: Vec::new(),
        }
    }

    #[test]
    fn distortion_comes_back() {
        for k1 in [-0.08, -0.01, 0.0, 0.03] {
            let found =
                distortion_from_graduation(&graduation(k1, 12.0, &mut || 0.0), 1600.0, 1200.0).unwrap();
            assert!((found.k1.value - k1).abs() < 1e-5, "{k1}: {:?}", found.k1);
        }
    }

    /// Over 300 simulated rows the error in units of u has the standard deviation the uncertainty promises.
    #[test]
    fn its_uncertainty_is_true() {
        let mut rng = rand_pcg::Pcg64::seed_from_u64(11);
        let normal = Normal::new(0.0, 0.1).unwrap();
        let mut squares = 0.0;
        for _ in 0..300 {
            let found = distortion_from_graduation(
                &graduation(0.01, 3.0, &mut || normal.sample(&mut rng)),
                1600.0,
                1200.0,
            )
            .unwrap();
            squares += ((found.k1.value - 0.01) / found.k1.u).powi(2);
        }
        let spread = (squares / 300.0f64).sqrt();
        assert!((0.8..1.25).contains(&spread), "{spread}");
    }

    /// Ticks that scatter by two pixels say nothing of a lens.
    #[test]
    fn vague_rows_are_refused() {
        let mut rng = rand_pcg::Pcg64::seed_from_u64(12);
        let normal = Normal::new(0.0, 2.5).unwrap();
        let vague = graduation(0.01, 3.0, &mut || normal.sample(&mut rng));
        let found = distortion_from_graduation(&vague, 1600.0, 1200.0);
        assert!(matches!(found, Err(DistortionError::TooVague { .. })), "{found:?}");
    }

    #[test]
    fn short_rows_are_refused() {
        let mut short = graduation(0.0, 0.0, &mut || 0.0);
        short.marks.truncate(40);
        assert!(matches!(
            distortion_from_graduation(&short, 1600.0, 1200.0),
            Err(DistortionError::TooShort { .. })
        ));
        short.marks.truncate(10);
        assert!(matches!(
            distortion_from_graduation(&short, 1600.0, 1200.0),
            Err(DistortionError::TooFewTicks { .. })
        ));
    }
}
