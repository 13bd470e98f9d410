//! `rubstone.form/1`: what height maps and meshes say about form.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// Name of the form.
pub const SCHEMA: &str = "rubstone.form/1";

/// Everything measured on some files.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct FormAnswer {
    /// [`SCHEMA`].
    pub schema: String,
    /// One entry per file that could be measured.
    pub files: Vec<FormFile>,
}

/// One file.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct FormFile {
    /// The file as it was named.
    pub file: String,
    /// `heights` or `mesh`.
    pub kind: String,
    /// What the file says of itself, or was found on reading it: name and value.
    pub facts: Vec<(String, String)>,
    /// What was odd, ignored or left out.
    pub notes: Vec<String>,
    /// What was measured.
    pub quantities: Vec<QuantityForm>,
    /// What could not be told, and why.
    pub cannot_tell: Vec<String>,
}

/// One quantity.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct QuantityForm {
    /// What it is, with its symbol where it has one.
    pub name: String,
    /// Its value.
    pub value: f64,
    /// Its standard uncertainty, where one is known.
    pub u: Option<f64>,
    /// Its unit; empty for a pure number.
    pub unit: String,
}
