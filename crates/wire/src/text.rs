//! Forms as text and back.

use serde::Serialize;
use serde::de::DeserializeOwned;

/// Why a text is not the form it should be. Each message says what is wrong, then what to do.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum FormError {
    /// Not JSON at all.
    #[error(
        "is not JSON (line {line}, column {column}: {reason}); give the unaltered output of `rubstone measure --json`"
    )]
    NotJson {
        /// Line, from 1.
        line: usize,
        /// Column, from 1.
        column: usize,
        /// What the reader met.
        reason: String,
    },
    /// JSON of another form, or of a version not known here.
    #[error("has the form \"{found}\"; this program reads \"{known}\", so write it anew with this version")]
    UnknownSchema {
        /// The `schema` entry, or what stands in its place.
        found: String,
        /// What is read here.
        known: &'static str,
    },
    /// A field is missing, misspelt or of the wrong kind.
    #[error(
        "does not follow the form {schema} ({reason}); give the unaltered output of `rubstone measure --json`"
    )]
    Field {
        /// The form.
        schema: &'static str,
        /// What is wrong.
        reason: String,
    },
    /// Numbers that cannot all be true.
    #[error("contradicts itself: {what}; measure the picture again")]
    Contradiction {
        /// Which numbers, where.
        what: String,
    },
    /// The form could not be written.
    #[error("cannot be written as JSON ({0}); please report this")]
    Unwritable(String),
}

/// A form as indented JSON text.
///
/// # Errors
/// [`FormError::Unwritable`], which no form of ours should meet.
pub fn to_text<T: Serialize>(form: &T) -> Result<String, FormError> {
    serde_json::to_string_pretty(form).map_err(|e| FormError::Unwritable(e.to_string()))
}

/// A form as one line of JSON.
///
/// # Errors
/// [`FormError::Unwritable`], which no form of ours should meet.
pub fn to_line<T: Serialize>(form: &T) -> Result<String, FormError> {
    serde_json::to_string(form).map_err(|e| FormError::Unwritable(e.to_string()))
}

/// Reads a form whose `schema` entry must be `schema`.
///
/// # Errors
/// [`FormError::NotJson`], [`FormError::UnknownSchema`], [`FormError::Field`].
pub fn from_text<T: DeserializeOwned>(text: &str, schema: &'static str) -> Result<T, FormError> {
    // The schema comes first: a later version's fields are no mistake, they are another version.
    let value: serde_json::Value = serde_json::from_str(text).map_err(|e| FormError::NotJson {
        line: e.line(),
        column: e.column(),
        reason: e.to_string(),
    })?;
    let found = match value.get("schema") {
        Some(serde_json::Value::String(name)) => name.clone(),
        Some(other) => other.to_string(),
        None => "none given".to_owned(),
    };
    if found != schema {
        return Err(FormError::UnknownSchema { found, known: schema });
    }
    serde_json::from_value(value).map_err(|e| FormError::Field { schema, reason: e.to_string() })
}

/// A number that JSON can hold: `None` where it is not finite.
pub(crate) fn finite(value: f64) -> Option<f64> {
    value.is_finite().then_some(value)
}

/// The word for a light and its azimuth, degrees.
pub(crate) fn light(light: picture::Light) -> (&'static str, Option<f64>) {
    match light {
        picture::Light::Azimuth(axis) => ("azimuth", Some(axis.degrees())),
        picture::Light::Ring => ("ring", None),
        picture::Light::Coaxial => ("coaxial", None),
        picture::Light::Unknown => ("unknown", None),
    }
}
