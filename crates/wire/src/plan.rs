//! `rubstone.plan/1`: how a visit could be spent; `rubstone.planned/1`: the same as it is kept; `rubstone.panels/1` and
//! `rubstone.blind/1`: what panels say of the engine.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::{FormError, from_text, to_line};

/// Name of the form of a plan.
pub const SCHEMA: &str = "rubstone.plan/1";

/// Plans for a visit.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct PlanAnswer {
    /// [`SCHEMA`].
    pub schema: String,
    /// Plans that reach the wanted chance within the time, cheapest first.
    pub enough: Vec<PlanForm>,
    /// The best of the plans that do not.
    pub best_otherwise: Option<PlanForm>,
    /// Plans that were tried.
    pub tried: usize,
    /// In words.
    pub words: String,
    /// The field sheet that was written.
    pub sheet: Option<String>,
}

/// One way to spend the visit.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct PlanForm {
    /// Number of stations.
    pub stations: usize,
    /// Fields in all.
    pub fields: usize,
    /// Width of a field, mm.
    pub width_mm: f64,
    /// Scale, µm/px.
    pub um_per_px: f64,
    /// Light, in words.
    pub light: String,
    /// Time it takes, minutes.
    pub minutes: f64,
    /// Chance of a ratio of ten or more the right way.
    pub right: f64,
    /// Chance of a ratio of ten or more the wrong way, in the worst stratum.
    pub wrong: f64,
    /// Chance of a ratio of ten or more the right way in the least favourable stratum.
    pub least_favourable: f64,
    /// The pair that decides.
    pub hardest_pair: [String; 2],
}

/// Name of the form that is kept.
pub const KEPT_SCHEMA: &str = "rubstone.planned/1";

/// A plan with the question it answers, as the examination keeps it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct KeptPlan {
    /// [`KEPT_SCHEMA`].
    pub schema: String,
    /// What was asked.
    pub question: PlanQuestionForm,
    /// The answer; its `sheet` is relative to the examination's folder.
    pub answer: PlanAnswer,
}

/// What is to be planned.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PlanQuestionForm {
    /// Pairs of finishes to be told apart, by name.
    pub pairs: Vec<[String; 2]>,
    /// Width and height of the instrument's pictures, px.
    pub size_px: [u32; 2],
    /// Scales the instrument can be set to, µm/px.
    pub um_per_px: Vec<f64>,
    /// Its blur, px (standard deviation).
    pub blur_px: f64,
    /// Lights at hand: `one-side`, `two-sides`, `ring`.
    pub lights: Vec<String>,
    /// Time before the object, minutes.
    pub minutes: f64,
    /// Time to set up at one station, minutes.
    pub minutes_per_station: f64,
    /// Time for one picture, minutes.
    pub minutes_per_picture: f64,
    /// Most stations that may be used.
    pub most_stations: usize,
    /// Chance wanted of a ratio of ten or more the right way.
    pub probability: f64,
    /// Seed of the simulations.
    pub seed: u64,
    /// Simulated objects of each finish for each plan.
    pub objects_per_finish: usize,
}

/// A kept plan as text.
///
/// # Errors
/// [`FormError::Unwritable`], which no plan should meet.
pub fn write(kept: &KeptPlan) -> Result<String, FormError> {
    to_line(kept)
}

/// Reads a kept plan.
///
/// # Errors
/// [`FormError`]; a kept text is only ever wrong if the examination was changed by hand.
pub fn read(text: &str) -> Result<KeptPlan, FormError> {
    from_text(text, KEPT_SCHEMA)
}

/// What the engine says of panels it was not given.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct PanelsAnswer {
    /// `rubstone.panels/1`.
    pub schema: String,
    /// One entry per panel.
    pub panels: Vec<PanelForm>,
    /// The caution for whoever makes panels.
    pub caution: String,
}

/// One panel, left out and weighed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct PanelForm {
    /// Its name.
    pub name: String,
    /// How it was finished.
    pub finish: String,
    /// The finish it is taken for most.
    pub rival: String,
    /// log10 ratio of the truth over that rival; negative is misleading.
    pub log10_lr: f64,
    /// None of the finishes was found to fit.
    pub none_fits: bool,
}

/// Outcome of a blind test, or the seal it begins with.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct BlindAnswer {
    /// `rubstone.blind/1`.
    pub schema: String,
    /// Hash of the answers.
    pub seal: String,
    /// Whether the answers are the ones that were sealed; null before the test.
    pub seal_holds: Option<bool>,
    /// Comparisons of the truth with a rival.
    pub comparisons: usize,
    /// Ratios of ten or more for the truth.
    pub right_ten: usize,
    /// Ratios of ten or more against it.
    pub wrong_ten: usize,
    /// Comparisons in which nothing was said.
    pub silent: usize,
    /// Cost of the log-likelihood ratios, 1 is worth nothing; null before the test.
    pub cllr: Option<f64>,
}
