//! Quantiles and tails of the laws the intervals rest on.

use statrs::distribution::{ChiSquared, ContinuousCDF, Gamma, Normal, StudentsT};

/// 97.5 % point of the normal law.
pub(crate) const Z_95: f64 = 1.959_963_984_540_054;

/// Factor for a 95 % interval from `degrees` degrees of freedom (at least one half is assumed).
///
/// # Source
/// JCGM 100:2008 (GUM) G.3, Student's t; checked against the t-factors of the reference sheet.
#[must_use]
pub fn coverage_factor_95(degrees: f64) -> f64 {
    if !degrees.is_finite() || degrees > 1.0e6 {
        return Z_95;
    }
    StudentsT::new(0.0, 1.0, degrees.max(0.5)).map_or(Z_95, |t| t.inverse_cdf(0.975))
}

/// Effective degrees of freedom of a sum of independent parts with standard uncertainties `u` and their `degrees`
/// (infinite for a part known from elsewhere).
///
/// # Source
/// JCGM 100:2008 (GUM) G.4, Welch–Satterthwaite; checked on H.1.
#[must_use]
pub fn effective_degrees(u: &[f64], degrees: &[f64]) -> f64 {
    let combined: f64 = u.iter().map(|u| u * u).sum();
    let parts: f64 = u.iter().zip(degrees).map(|(u, degrees)| u.powi(4) / degrees).sum();
    if parts > 0.0 { combined * combined / parts } else { f64::INFINITY }
}

/// Beyond this shape a gamma law is normal to four digits, and the library's search for its quantiles may not end.
const NEARLY_NORMAL: f64 = 1.0e5;

/// Quantile of a gamma law with this shape and mean 1, held at zero.
pub(crate) fn gamma_quantile_unit_mean(shape: f64, probability: f64) -> f64 {
    if shape > NEARLY_NORMAL {
        let z = Normal::new(0.0, 1.0).map_or(0.0, |law| law.inverse_cdf(probability));
        return 1.0 + z / shape.sqrt();
    }
    Gamma::new(shape, shape).map_or(f64::NAN, |law| law.inverse_cdf(probability))
}

/// Two-sided tail of the chi-square law: twice the smaller of the two tails.
pub(crate) fn chi_squared_two_sided(value: f64, degrees: f64) -> f64 {
    ChiSquared::new(degrees).map_or(f64::NAN, |law| (2.0 * law.cdf(value).min(law.sf(value))).min(1.0))
}

/// Two-sided tail of the standard normal law.
pub(crate) fn normal_two_sided(z: f64) -> f64 {
    Normal::new(0.0, 1.0).map_or(f64::NAN, |law| 2.0 * law.sf(z.abs()))
}
