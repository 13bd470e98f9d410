//! Results as rows that any screen or report can print without knowing each kind.

use quantity::Measured;

/// One line of a result: what, how much, in which unit.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// What was measured, in words.
    pub label: String,
    /// Its value; `u` is 0 where no uncertainty is given.
    pub value: Measured,
    /// Unit sign; empty for a pure number.
    pub unit: &'static str,
}

impl Row {
    /// A row with an uncertainty.
    #[must_use]
    pub fn new(label: impl Into<String>, value: Measured, unit: &'static str) -> Self {
        Self { label: label.into(), value, unit }
    }

    /// A row of a value that carries no uncertainty.
    #[must_use]
    pub fn plain(label: impl Into<String>, value: f64, unit: &'static str) -> Self {
        Self { label: label.into(), value: Measured::exact(value), unit }
    }
}

/// What every result of this crate can say of itself.
pub trait Rows {
    /// The result, line by line, most important first.
    fn rows(&self) -> Vec<Row>;

    /// Sentences that belong beside the figures: conventions, cautions, what could not be told.
    fn notes(&self) -> Vec<String> {
        Vec::new()
    }
}
