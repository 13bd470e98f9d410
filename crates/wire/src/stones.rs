//! `rubstone.stones/1`: what was asked about the object's stone and what was answered, as the examination keeps it.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::stone::StoneForm;
use crate::{FormError, from_text, to_line};

/// Name of the form.
pub const SCHEMA: &str = "rubstone.stones/1";

/// A question about stone with its answer.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct KeptStone {
    /// [`SCHEMA`].
    pub schema: String,
    /// What was asked.
    pub question: StoneQuestionForm,
    /// The answer.
    pub answer: StoneForm,
}

/// What is asked about stone; what is left out is not answered.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields, default)]
pub struct StoneQuestionForm {
    /// Rock by name.
    pub rock: Option<String>,
    /// Minerals that were determined, each with its share, 0 to 1, in place of a rock.
    pub minerals: Vec<MineralShareForm>,
    /// Tool by name; every tool without one.
    pub tool: Option<String>,
    /// Loose abrasive by name; the tool alone without one.
    pub abrasive: Option<String>,
    /// Smallest and largest width of scratches, µm.
    pub widths_um: Option<[f64; 2]>,
    /// Smallest and largest ratio of scratch width to grain size; a stated assumption without them.
    pub width_ratio: Option<[f64; 2]>,
    /// A grit with its scale, such as P400.
    pub grit: Option<String>,
    /// A volume taken away and its standard uncertainty, cm³.
    pub volume_cm3: Option<[f64; 2]>,
    /// Slowest and fastest rate of removal, cm³ per hour, as measured or known by the user.
    pub rate_cm3_per_h: Option<[f64; 2]>,
    /// The area of a polished face and its standard uncertainty, cm².
    pub area_cm2: Option<[f64; 2]>,
    /// Slowest and fastest polishing, cm² per hour, as measured or known by the user.
    pub rate_cm2_per_h: Option<[f64; 2]>,
    /// Least and greatest load on a tool, N, for the laws of wear.
    pub load_n: Option<[f64; 2]>,
    /// Least and greatest speed of that tool over the stone, m/s.
    pub speed_m_per_s: Option<[f64; 2]>,
}

/// A mineral and its share.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct MineralShareForm {
    /// Its name.
    pub mineral: String,
    /// Its share, 0 to 1.
    pub share: f64,
}

/// A kept answer as text.
///
/// # Errors
/// [`FormError::Unwritable`], which no answer should meet.
pub fn write(kept: &KeptStone) -> Result<String, FormError> {
    to_line(kept)
}

/// Reads a kept answer.
///
/// # Errors
/// [`FormError`]; a kept text is only ever wrong if the examination was changed by hand.
pub fn read(text: &str) -> Result<KeptStone, FormError> {
    from_text(text, SCHEMA)
}
