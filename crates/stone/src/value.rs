//! Ranges of values and where they come from.

/// Whether a source was seen.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Status {
    /// The source was read.
    Seen,
    /// Known in the trade; nobody's publication in particular.
    CommonPractice,
    /// Remembered; the source was not seen. Shown as such wherever the value is.
    FromMemory,
}

/// Where a value comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Source {
    /// The publication or kind of page.
    pub cite: &'static str,
    /// Whether it was seen.
    pub status: Status,
}

impl Source {
    pub(crate) const fn seen(cite: &'static str) -> Self {
        Self { cite, status: Status::Seen }
    }

    pub(crate) const fn memory(cite: &'static str) -> Self {
        Self { cite, status: Status::FromMemory }
    }

    /// Common practice, no source.
    pub const PRACTICE: Self = Self { cite: "common practice, no source", status: Status::CommonPractice };

    /// The source as shown beside its value.
    #[must_use]
    pub fn shown(self) -> String {
        match self.status {
            Status::Seen | Status::CommonPractice => self.cite.to_owned(),
            Status::FromMemory => format!("{} (from memory, source not seen)", self.cite),
        }
    }
}

/// A range of values with its source.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Range {
    /// Lowest.
    pub low: f64,
    /// Highest.
    pub high: f64,
    /// Where it comes from.
    pub source: Source,
}

impl Range {
    pub(crate) const fn new(low: f64, high: f64, source: Source) -> Self {
        Self { low, high, source }
    }

    /// Middle of the range.
    #[must_use]
    pub fn middle(&self) -> f64 {
        (self.low + self.high) / 2.0
    }
}
