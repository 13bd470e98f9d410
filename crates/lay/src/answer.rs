//! What a statistic may answer: an estimate with its interval, or the reason why there is none.

use quantity::Measured;

/// An estimate, or why these traces cannot give one. 'Cannot tell' is an answer, not an error.
pub type Answer<T> = Result<T, CannotTell>;

/// Why a quantity has no value. The sentence fits into a report.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum CannotTell {
    /// Not enough of something.
    #[error("cannot tell from {found} {what}; at least {needed} are needed")]
    TooFew {
        /// What there is too little of, plural.
        what: &'static str,
        /// How many there are.
        found: usize,
        /// How many it takes.
        needed: usize,
    },
    /// No capture has a scale, or not all of those compared have.
    #[error("cannot tell in millimetres: no scale is known")]
    NoScale,
    /// The directions form no set at all.
    #[error("the {count} traces have no preferred direction")]
    NoPreferredDirection {
        /// Traces looked at.
        count: usize,
    },
    /// A single set has no crossing angle.
    #[error("the traces form {sets} set of parallel traces; a crossing angle needs two")]
    OneSet {
        /// Sets found.
        sets: usize,
    },
    /// Every trace leaves the field at both ends.
    #[error("no trace ends inside the field: strokes are longer than the field shows")]
    NoEnds,
    /// The survival curve does not come down to one half.
    #[error("more than half of the strokes are longer than the longest this field can follow ({longest:.3})")]
    BeyondField {
        /// The longest length at which the curve is known, in the unit of the lengths.
        longest: f64,
    },
    /// The values cannot be used together.
    #[error("the interval cannot be closed: {why}")]
    Open {
        /// What stands in the way.
        why: &'static str,
    },
}

/// An estimate with its standard uncertainty and its 95 % interval, which need not be symmetric.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Estimate {
    /// The estimate.
    pub value: f64,
    /// Its standard uncertainty.
    pub u: f64,
    /// Lower end of the 95 % interval. For a direction it may lie below 0°: the interval runs through the fold.
    pub low: f64,
    /// Upper end of the 95 % interval. For a direction it may lie above 180°.
    pub high: f64,
}

impl Estimate {
    /// An estimate whose interval is `value ± factor·u`.
    #[must_use]
    pub fn symmetric(value: f64, u: f64, factor: f64) -> Self {
        Self { value, u, low: value - factor * u, high: value + factor * u }
    }

    /// Value and standard uncertainty alone.
    #[must_use]
    pub fn measured(self) -> Measured {
        Measured { value: self.value, u: self.u }
    }

    /// Whether the 95 % interval holds `truth`.
    #[must_use]
    pub fn covers(self, truth: f64) -> bool {
        self.low <= truth && truth <= self.high
    }

    /// Widened by a standard uncertainty `u` common to everything the estimate was taken from.
    ///
    /// # Source
    /// JCGM 100:2008 (GUM) 5.1.2; the two halves of the interval are combined as roots of sums of squares.
    #[must_use]
    pub fn with_common(self, u: f64) -> Self {
        let half = crate::student::Z_95 * u;
        Self {
            value: self.value,
            u: self.u.hypot(u),
            low: self.value - (self.value - self.low).hypot(half),
            high: self.value + (self.high - self.value).hypot(half),
        }
    }

    /// Widened by the relative standard uncertainty of a scale common to everything the estimate was taken from.
    #[must_use]
    pub fn with_scale(self, relative_u: f64) -> Self {
        self.with_common(self.value.abs() * relative_u)
    }

    /// The same quantity in a unit `factor` times smaller (`factor` positive).
    #[must_use]
    pub fn scaled(self, factor: f64) -> Self {
        Self {
            value: self.value * factor,
            u: self.u * factor,
            low: self.low * factor,
            high: self.high * factor,
        }
    }
}
