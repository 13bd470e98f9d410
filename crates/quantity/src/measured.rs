//! Values with their standard uncertainty.

use std::fmt;

/// A value with its standard uncertainty (GUM 2.3.1), both in the unit the field's name states.
///
/// Shown as `value ± u` with two significant digits of the uncertainty, as the reports print it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Measured {
    /// The estimate.
    pub value: f64,
    /// Its standard uncertainty, not negative.
    pub u: f64,
}

impl Measured {
    /// A value known exactly.
    #[must_use]
    pub fn exact(value: f64) -> Self {
        Self { value, u: 0.0 }
    }

    /// Half-width of the 95 % interval for a normal distribution (coverage factor 1.96).
    #[must_use]
    pub fn half_width_95(self) -> f64 {
        1.959_963_985 * self.u
    }

    /// The same quantity in a unit `factor` times smaller.
    #[must_use]
    pub fn scaled(self, factor: f64) -> Self {
        Self { value: self.value * factor, u: self.u * factor.abs() }
    }
}

impl fmt::Display for Measured {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let decimals = decimals_for(self.u);
        match decimals {
            Some(decimals) => write!(
                f,
                "{:.*} ± {:.*}",
                decimals,
                round_to(self.value, self.u),
                decimals,
                round_to(self.u, self.u)
            ),
            None => write!(f, "{}", self.value),
        }
    }
}

/// Decimals that show two significant digits of `u`; `None` where `u` has none to show.
fn decimals_for(u: f64) -> Option<usize> {
    if !(u.is_finite() && u > 0.0) {
        return None;
    }
    // Rounding may carry (0.0996 is 0.10): let the formatter decide the exponent.
    let exponent: i32 = format!("{u:.1e}").split('e').nth(1)?.parse().ok()?;
    Some(usize::try_from(1 - exponent).unwrap_or(0).min(12))
}

/// Rounds to the decade of the second digit of `u` where that lies left of the decimal point.
fn round_to(value: f64, u: f64) -> f64 {
    let exponent = format!("{u:.1e}").split('e').nth(1).and_then(|e| e.parse::<i32>().ok()).unwrap_or(0);
    if exponent <= 1 {
        return value;
    }
    let unit = 10f64.powi(exponent - 1);
    (value / unit).round() * unit
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn two_digits_of_uncertainty() {
        for (value, u, shown) in [
            (1.29298, 0.00153, "1.2930 ± 0.0015"),
            (12.345, 0.0996, "12.35 ± 0.10"),
            (1234.0, 120.4, "1230 ± 120"),
            (1234.0, 12.4, "1234 ± 12"),
            (3.0, 0.0, "3"),
        ] {
            assert_eq!(Measured { value, u }.to_string(), shown);
        }
    }
}
