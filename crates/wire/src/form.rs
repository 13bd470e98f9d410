//! `rubstone.form/1`: what height maps and meshes say about form; `rubstone.formed/1`: the same as it is kept.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::{FormError, from_text, to_line};

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

/// Name of the form that is kept.
pub const KEPT_SCHEMA: &str = "rubstone.formed/1";

/// Everything measured on height maps and meshes, as the examination keeps it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct KeptForms {
    /// [`KEPT_SCHEMA`].
    pub schema: String,
    /// One entry per file, in the order they were first measured.
    pub files: Vec<KeptForm>,
}

/// What was measured on one file, with what a report draws of it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct KeptForm {
    /// SHA-256 of the file, which stays where its owner keeps it.
    pub sha256: String,
    /// What the user said of the file and asked of it: name and value.
    pub asked: Vec<(String, String)>,
    /// What was measured.
    pub form: FormFile,
    /// Values over the surface.
    pub maps: Vec<MapForm>,
    /// Values along a path or over a section.
    pub curves: Vec<CurveForm>,
}

/// Values on a regular grid over the surface, coarse enough to keep and fine enough to print.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct MapForm {
    /// What it shows.
    pub title: String,
    /// Caption.
    pub caption: String,
    /// Columns of the grid.
    pub columns: usize,
    /// Values row by row from the top; null where there is nothing.
    pub values: Vec<Option<f64>>,
    /// Their unit.
    pub unit: String,
    /// Width of the grid on the surface, mm.
    pub width_mm: f64,
}

/// One or two lines over one pair of axes.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CurveForm {
    /// What it shows.
    pub title: String,
    /// Caption.
    pub caption: String,
    /// Horizontal axis with its unit.
    pub x_label: String,
    /// Vertical axis with its unit.
    pub y_label: String,
    /// The lines.
    pub lines: Vec<LineForm>,
}

/// One line.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct LineForm {
    /// Its name; empty where there is only one.
    pub name: String,
    /// Points in the order to join them.
    pub points: Vec<[f64; 2]>,
    /// Half-widths of a band round it, one for each point; empty for none.
    pub half_widths: Vec<f64>,
}

/// Kept forms as text.
///
/// # Errors
/// [`FormError::Unwritable`], which no such form should meet.
pub fn write(kept: &KeptForms) -> Result<String, FormError> {
    to_line(kept)
}

/// Reads kept forms.
///
/// # Errors
/// [`FormError`]; a kept text is only ever wrong if the examination was changed by hand.
pub fn read(text: &str) -> Result<KeptForms, FormError> {
    from_text(text, KEPT_SCHEMA)
}
