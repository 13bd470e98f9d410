//! The weighing chapter: which ways of finishing the marks support over which, and which cannot be told apart.

use super::Image;

/// Result of a weighing as printed.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Weighing {
    /// Why nothing could be weighed; every other field is then empty.
    pub cannot: Option<String>,
    /// The finishes weighed, in the order to print.
    pub finishes: Vec<FinishRow>,
    /// Groups that cannot be told apart with these pictures.
    pub cannot_tell_apart: Vec<Group>,
    /// Every pair of finishes once.
    pub pairs: Vec<Pair>,
    /// Whether none of the finishes fits.
    pub none_fits: Option<NoneFits>,
    /// What the ratios do when an assumption changes.
    pub sensitivity: Vec<SensitivityRow>,
    /// Probabilities for priors the user typed; empty by default.
    pub typed_priors: Vec<TypedPrior>,
    /// Largest |log10 LR| the number of simulations can support.
    pub cap_log10: Option<f64>,
    /// Source of the words used for ratios: `ENFSI guideline for evaluative reporting (2015)`.
    pub words_source: String,
    /// Seed of the simulations.
    pub seed: u64,
    /// Number of simulated objects.
    pub simulations: u64,
    /// Whether one finish explains all stations, in words.
    pub stations: Option<String>,
    /// Further cautions in words.
    pub cautions: Vec<String>,
}

/// One finish.
#[derive(Debug, Clone, PartialEq)]
pub struct FinishRow {
    /// Name as the contracts write it: `rotating-pad`.
    pub name: String,
    /// Name for people: `rotating pad`.
    pub title: String,
    /// What the model does and where its ranges come from, in one or two sentences.
    pub model: String,
    /// log10 likelihood relative to the best finish, ≤ 0.
    pub log10_likelihood_relative: Option<f64>,
    /// What it would have looked like in one of these fields.
    pub simulated: Option<Simulated>,
}

/// A rendered picture of what a finish would have looked like.
#[derive(Debug, Clone, PartialEq)]
pub struct Simulated {
    /// The picture.
    pub picture: Image,
    /// Label of the capture whose field, optics and light it copies.
    pub like_capture: String,
    /// Width of the field, mm, where a scale is known.
    pub field_width_mm: Option<f64>,
    /// Centre lines of the strokes that were drawn, in pixels of the picture.
    pub strokes_px: Vec<Vec<[f64; 2]>>,
}

/// Finishes that cannot be told apart with these pictures.
#[derive(Debug, Clone, PartialEq)]
pub struct Group {
    /// [`FinishRow::name`] of each.
    pub names: Vec<String>,
    /// Why: by the design of the visit or by the data.
    pub why: String,
}

/// One pair of finishes.
#[derive(Debug, Clone, PartialEq)]
pub struct Pair {
    /// First finish, by [`FinishRow::name`].
    pub a: String,
    /// Second finish.
    pub b: String,
    /// log10 of the likelihood ratio of `a` over `b`.
    pub log10_lr: f64,
    /// Lower end of its 95 % interval.
    pub low: f64,
    /// Upper end of its 95 % interval.
    pub high: f64,
    /// Words of the verbal scale: `moderate support for a over b`.
    pub words: String,
}

/// Test whether any of the finishes fits at all.
#[derive(Debug, Clone, PartialEq)]
pub struct NoneFits {
    /// p value of the test under the best-fitting finish.
    pub p: f64,
    /// The observable that stands out, in words.
    pub because: String,
    /// Whether the result is to be read as 'none of these fits'.
    pub flagged: bool,
}

/// What one changed assumption does.
#[derive(Debug, Clone, PartialEq)]
pub struct SensitivityRow {
    /// What was changed: `widths left out`, `station B left out`, `ranges widened`.
    pub change: String,
    /// First finish of the pair that moves most.
    pub a: String,
    /// Second finish.
    pub b: String,
    /// log10 LR of `a` over `b` before.
    pub before: f64,
    /// And after.
    pub after: f64,
}

/// A prior the user typed and what follows from it.
#[derive(Debug, Clone, PartialEq)]
pub struct TypedPrior {
    /// Finish.
    pub name: String,
    /// Prior probability typed.
    pub prior: f64,
    /// Posterior probability that follows.
    pub posterior: f64,
}
