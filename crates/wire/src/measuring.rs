//! `rubstone.measuring/1`: how an examination wants its pictures measured.

use serde::{Deserialize, Serialize};

use crate::{FormError, from_text, to_line};

/// Name of the form that is kept.
pub const SCHEMA: &str = "rubstone.measuring/1";

/// How pictures are measured.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Measuring {
    /// [`SCHEMA`].
    pub schema: String,
    /// False traces to expect per megapixel of scratch-free stone.
    pub expected_false: f64,
}

impl Measuring {
    /// The form around its number.
    #[must_use]
    pub fn new(expected_false: f64) -> Self {
        Self { schema: SCHEMA.to_owned(), expected_false }
    }
}

/// The form as text.
///
/// # Errors
/// [`FormError::Unwritable`], which no such form should meet.
pub fn write(measuring: &Measuring) -> Result<String, FormError> {
    to_line(measuring)
}

/// Reads the form.
///
/// # Errors
/// [`FormError`]; a kept text is only ever wrong if the examination was changed by hand.
pub fn read(text: &str) -> Result<Measuring, FormError> {
    from_text(text, SCHEMA)
}
