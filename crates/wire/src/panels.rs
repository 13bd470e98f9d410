//! `rubstone.panel-set/1`: the reference panels that an examination keeps.

use serde::{Deserialize, Serialize};

use crate::measure::Measure;
use crate::plan::PanelsAnswer;
use crate::{FormError, from_text, to_line};

/// Name of the form that is kept.
pub const KEPT_SCHEMA: &str = "rubstone.panel-set/1";

/// Reference panels and what was found when each was left out.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct KeptPanels {
    /// [`KEPT_SCHEMA`].
    pub schema: String,
    /// Number of the next panel: one that was taken out leaves its number unused.
    pub next: u32,
    /// The panels in the order they were added.
    pub panels: Vec<KeptPanel>,
    /// The last check, if there was one.
    pub check: Option<KeptCheck>,
}

/// One panel.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct KeptPanel {
    /// Its number.
    pub id: u32,
    /// Its name.
    pub name: String,
    /// How it was finished, by name.
    pub finish: String,
    /// The grit it was finished with, if that is known: it then says how wide scratches of a grain are.
    #[serde(default)]
    pub grit: Option<PanelGrit>,
    /// What was measured on it.
    pub source: PanelSource,
}

/// The grit a panel was finished with, and the scratches it left.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PanelGrit {
    /// The grade with its scale, such as `FEPA P400`.
    pub grade: String,
    /// Mean size of its grains, µm.
    pub grain_um: f64,
    /// Median width of the scratches when the panel was added, µm.
    pub width_um: f64,
}

/// Where the measurements of a panel are.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum PanelSource {
    /// In an examination of its own, in this folder.
    Examination(String),
    /// Here: somebody gave the measurements alone.
    Measure(Measure),
}

/// What the engine said of panels it was not given.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct KeptCheck {
    /// Panels took the place of the models of their finishes instead of updating them.
    pub replace: bool,
    /// Seed of the simulations.
    pub seed: u64,
    /// Numbers of the panels that were checked.
    pub panels: Vec<u32>,
    /// The answer.
    pub answer: PanelsAnswer,
}

impl Default for KeptPanels {
    fn default() -> Self {
        Self { schema: KEPT_SCHEMA.to_owned(), next: 1, panels: Vec::new(), check: None }
    }
}

/// Kept panels as text.
///
/// # Errors
/// [`FormError::Unwritable`], which no panels should meet.
pub fn write(kept: &KeptPanels) -> Result<String, FormError> {
    to_line(kept)
}

/// Reads kept panels.
///
/// # Errors
/// [`FormError`]; a kept text is only ever wrong if the examination was changed by hand.
pub fn read(text: &str) -> Result<KeptPanels, FormError> {
    from_text(text, KEPT_SCHEMA)
}
