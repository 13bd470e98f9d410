//! From the width of scratches to a range of grain sizes, by a named assumption.

use statrs::distribution::{ContinuousCDF, StudentsT};

use crate::grit::{Grade, Scale};
use crate::{Source, Status, sphere_groove_width};

/// Fewest panels of known grit that tell a rule: the 95 % point of Student's distribution is 12.7 for two and 4.3 for three.
pub const FEWEST_PANELS: usize = 3;

/// Scratch width over grain size, as a range: no accepted law exists, so this is an assumption that is always shown.
#[derive(Debug, Clone, PartialEq)]
pub struct WidthRule {
    /// The assumption in words.
    pub name: String,
    /// Smallest width over grain size.
    pub low: f64,
    /// Largest width over grain size.
    pub high: f64,
    /// Where it comes from.
    pub source: Source,
}

/// Grain sizes that widths could come from.
#[derive(Debug, Clone, PartialEq)]
pub struct GrainRange {
    /// Smallest grain, µm.
    pub low_um: f64,
    /// Largest grain, µm.
    pub high_um: f64,
    /// The assumption it rests on, to be shown with it.
    pub assumption: String,
}

/// Why a rule cannot be made.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum WidthRuleError {
    /// Too few panels.
    #[error(
        "fewer than {FEWEST_PANELS} panels of known grit do not tell how far the ratio of scratch width to grain scatters, found {0}; give more"
    )]
    TooFew(usize),
    /// A number is not usable.
    #[error("{name} is {found}, needed: finite and positive")]
    BadValue {
        /// Which.
        name: &'static str,
        /// Its value.
        found: f64,
    },
    /// The range is upside down.
    #[error("the smallest ratio {low} is above the largest {high}")]
    Reversed {
        /// Smallest.
        low: f64,
        /// Largest.
        high: f64,
    },
}

impl Default for WidthRule {
    /// Round grain tips pressed in by 0.5 % to 10 % of the grain's diameter d: width = 2√(p(d − p)) is 0.14 to 0.60 of d.
    fn default() -> Self {
        let width = |share: f64| sphere_groove_width(0.5, share);
        Self {
            name: "round grain tips pressed in by 0.5 % to 10 % of the grain's diameter".to_owned(),
            low: width(0.005),
            high: width(0.1),
            source: Source {
                cite: "geometry of a ball; the depths are an assumption of ours",
                status: Status::CommonPractice,
            },
        }
    }
}

impl WidthRule {
    /// A rule of the user's own.
    ///
    /// # Errors
    /// [`WidthRuleError`] unless both ratios are finite, positive and in order.
    pub fn new(name: impl Into<String>, low: f64, high: f64) -> Result<Self, WidthRuleError> {
        for (label, found) in [("smallest ratio", low), ("largest ratio", high)] {
            positive(label, found)?;
        }
        if low > high {
            return Err(WidthRuleError::Reversed { low, high });
        }
        Ok(Self {
            name: name.into(),
            low,
            high,
            source: Source { cite: "set by the user", status: Status::Seen },
        })
    }

    /// A rule from the user's own panels, pairs of `(grain size, median scratch width)` in µm: between which ratios another
    /// panel of the same kind would lie with a chance of 95 %, ratios taken as log-normal (prediction interval of a normal
    /// sample: mean ± t · s · √(1 + 1/n)). Of two panels that interval would hold any grit.
    ///
    /// # Errors
    /// [`WidthRuleError::TooFew`] below [`FEWEST_PANELS`], [`WidthRuleError::BadValue`] for values that are not positive.
    pub fn from_panels(pairs_um: &[(f64, f64)]) -> Result<Self, WidthRuleError> {
        if pairs_um.len() < FEWEST_PANELS {
            return Err(WidthRuleError::TooFew(pairs_um.len()));
        }
        for &(grain, width) in pairs_um {
            positive("grain size, µm", grain)?;
            positive("scratch width, µm", width)?;
        }
        let logs: Vec<f64> = pairs_um.iter().map(|(grain, width)| (width / grain).ln()).collect();
        let count = logs.len() as f64;
        let mean = logs.iter().sum::<f64>() / count;
        let sd = (logs.iter().map(|l| (l - mean).powi(2)).sum::<f64>() / (count - 1.0)).sqrt();
        let half = student_975(count - 1.0) * sd * (1.0 + 1.0 / count).sqrt();
        Ok(Self {
            name: format!(
                "ratio of median scratch width to grain size, measured on {} panels",
                pairs_um.len()
            ),
            low: (mean - half).exp(),
            high: (mean + half).exp(),
            source: Source { cite: "the user's own panels", status: Status::Seen },
        })
    }

    /// Grain sizes that scratches between two widths, µm, could come from.
    ///
    /// # Errors
    /// [`WidthRuleError`] unless both widths are finite, positive and in order.
    pub fn grains(&self, narrow_um: f64, wide_um: f64) -> Result<GrainRange, WidthRuleError> {
        positive("smallest width, µm", narrow_um)?;
        positive("largest width, µm", wide_um)?;
        if narrow_um > wide_um {
            return Err(WidthRuleError::Reversed { low: narrow_um, high: wide_um });
        }
        Ok(GrainRange {
            low_um: narrow_um / self.high,
            high_um: wide_um / self.low,
            assumption: self.assumption(),
        })
    }

    /// The assumption in words, to be shown beside whatever rests on it.
    #[must_use]
    pub fn assumption(&self) -> String {
        format!(
            "Assumption: {} (scratch width {:.2} to {:.2} of the grain size; {}). Stray large grains make stray wide scratches, so one scratch does not name a grit.",
            self.name,
            self.low,
            self.high,
            self.source.shown()
        )
    }

    /// Scratch widths, µm, that a grade could leave.
    #[must_use]
    pub fn widths_um(&self, grade: &Grade) -> [f64; 2] {
        [self.low * grade.low_um, self.high * grade.high_um]
    }
}

impl GrainRange {
    /// The grades of one scale whose mean sizes lie in the range, coarse to fine.
    #[must_use]
    pub fn grades(&self, scale: Scale) -> Vec<Grade> {
        let inside = |grade: &Grade| grade.high_um >= self.low_um && grade.low_um <= self.high_um;
        scale.grades().into_iter().filter(inside).collect()
    }
}

/// 97.5 % point of Student's distribution.
fn student_975(freedom: f64) -> f64 {
    StudentsT::new(0.0, 1.0, freedom).map_or(f64::INFINITY, |t| t.inverse_cdf(0.975))
}

fn positive(name: &'static str, found: f64) -> Result<(), WidthRuleError> {
    if found.is_finite() && found > 0.0 { Ok(()) } else { Err(WidthRuleError::BadValue { name, found }) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_default_rule_is_the_geometry_it_names() {
        let rule = WidthRule::default();
        // A ball of 100 µm pressed in by 10 µm: half width √(50² − 40²) = 30.
        assert!((rule.high - 0.6).abs() < 1e-12);
        let grains = rule.grains(6.0, 12.0).unwrap();
        assert!((grains.low_um - 10.0).abs() < 1e-9 && grains.high_um > 80.0);
        assert!(grains.assumption.contains("Assumption"));
        assert!(grains.grades(Scale::FepaP).iter().any(|grade| grade.number == 400));
    }

    /// By hand: logarithms of .20, .21, .19 have mean −1.6102 and sd .0500; t(2) = 4.303 (printed tables of Student's
    /// distribution); half width 4.303 · .0500 · √(4/3) = .2486.
    #[test]
    fn panels_narrow_the_range() {
        let rule = WidthRule::from_panels(&[(50.0, 10.0), (30.0, 6.3), (80.0, 15.2)]).unwrap();
        assert!((rule.low - (-1.6102_f64 - 0.2486).exp()).abs() < 2e-4, "{rule:?}");
        assert!((rule.high - (-1.6102_f64 + 0.2486).exp()).abs() < 2e-4, "{rule:?}");
        assert_eq!(WidthRule::from_panels(&[(50.0, 10.0), (30.0, 6.3)]), Err(WidthRuleError::TooFew(2)));
        assert!(WidthRule::from_panels(&[(50.0, 10.0)]).is_err());
        assert!(WidthRule::from_panels(&[(50.0, 10.0), (30.0, 6.3), (0.0, 1.0)]).is_err());
        assert!(WidthRule::new("mine", 0.5, 0.2).is_err());
        assert!(rule.grains(-1.0, 2.0).is_err());
    }
}
