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
    #[error("{}; this program reads \"{known}\", so write it anew with this version", form_found(found.as_deref()))]
    UnknownSchema {
        /// The `schema` entry, if there is one.
        found: Option<String>,
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
        reason: without_place(&e),
    })?;
    let found = match value.get("schema") {
        Some(serde_json::Value::String(name)) => Some(name.clone()),
        Some(other) => Some(other.to_string()),
        None => None,
    };
    if found.as_deref() != Some(schema) {
        return Err(FormError::UnknownSchema { found, known: schema });
    }
    serde_json::from_value(value).map_err(|e| FormError::Field { schema, reason: e.to_string() })
}

fn form_found(found: Option<&str>) -> String {
    found.map_or("does not say which form it has".to_owned(), |found| format!("has the form \"{found}\""))
}

/// What the reader met, without the place, which is said apart.
fn without_place(error: &serde_json::Error) -> String {
    let text = error.to_string();
    let place = format!(" at line {} column {}", error.line(), error.column());
    text.strip_suffix(&place).unwrap_or(&text).to_owned()
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
