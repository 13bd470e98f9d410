//! `rubstone.weigh/1`: what a weighing says; and `rubstone.weighed/1`, the same with everything the report prints.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use weigh::Weighing;

use crate::text::finite;
use crate::{FormError, from_text, to_line};

/// Name of the form that commands print.
pub const SCHEMA: &str = "rubstone.weigh/1";
/// Name of the form that is kept.
pub const KEPT_SCHEMA: &str = "rubstone.weighed/1";

/// A weighing as commands print it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct WeighForm {
    /// [`SCHEMA`].
    pub schema: String,
    /// Reach of every capture.
    pub reach: Vec<CaptureReachForm>,
    /// Groups of finishes that cannot be told apart with these pictures.
    pub cannot_tell_apart: Vec<Vec<String>>,
    /// Every pair of finishes once.
    pub pairs: Vec<PairForm>,
    /// Whether none of the modelled finishes fits.
    pub none_fits: NoneFitsForm,
    /// Finishes, best supported first.
    pub finishes: Vec<FinishForm>,
    /// What the ratios become under one change.
    pub sensitivity: Vec<SensitivityForm>,
    /// Seed of the simulations.
    pub seed: u64,
    /// Number of simulated objects.
    pub simulations: usize,
}

/// Reach of one capture.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct CaptureReachForm {
    /// Name of the capture.
    pub capture: String,
    /// In mm; null without a scale.
    pub radius_mm: Option<f64>,
    /// In px.
    pub radius_px: f64,
    /// What limits it.
    pub limited_by: String,
}

/// One pair.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct PairForm {
    /// First finish.
    pub a: String,
    /// Second finish.
    pub b: String,
    /// log10 of the likelihood ratio of `a` over `b`.
    pub log10_lr: f64,
    /// Lower end of its 95 % interval: the lowest ratio over the models (stated prior and guards), less
    /// 1.96 standard errors of the limited number of simulations.
    pub low: f64,
    /// Upper end, likewise.
    pub high: f64,
}

/// Whether none of the modelled finishes fits.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct NoneFitsForm {
    /// Chance that an object of a modelled finish looks at least this strange.
    pub p: f64,
    /// What stands out.
    pub because: String,
}

/// One finish.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct FinishForm {
    /// Name.
    pub name: String,
    /// log10 of its likelihood relative to the best supported finish, 0 or less.
    pub log10_likelihood_relative: f64,
}

/// What the ratios become under one change.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct SensitivityForm {
    /// The change in words.
    pub left_out: String,
    /// Ratios of every pair, in the order of `pairs`.
    pub log10_lr: Vec<f64>,
}

/// A weighing as the examination keeps it: the printed form and the words around it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct KeptWeighing {
    /// [`KEPT_SCHEMA`].
    pub schema: String,
    /// The printed form.
    pub weighing: WeighForm,
    /// Whether the answer is to be read as 'none of these fits'.
    pub none_fits_flagged: bool,
    /// Verbal scale of each pair, in the order of `pairs`.
    pub pair_words: Vec<String>,
    /// Why a pair says nothing, where it says nothing, in the order of `pairs`.
    pub pair_because: Vec<Option<String>>,
    /// Whether one finish explains all stations, in words.
    pub stations: String,
    /// Posterior probabilities for priors that were typed: name, prior, posterior.
    pub posterior: Vec<(String, f64, f64)>,
    /// Remarks that belong to the answer.
    pub notes: Vec<String>,
    /// Where the verbal scale comes from.
    pub scale_citation: String,
}

/// The printed form of a weighing.
#[must_use]
pub fn form(weighing: &Weighing, reach: Vec<CaptureReachForm>) -> WeighForm {
    let number = |value: f64| finite(value).unwrap_or(0.0);
    WeighForm {
        schema: SCHEMA.to_owned(),
        reach,
        cannot_tell_apart: weighing
            .cannot_tell_apart
            .iter()
            .map(|group| group.iter().map(|finish| finish.name().to_owned()).collect())
            .collect(),
        pairs: weighing
            .pairs
            .iter()
            .map(|pair| PairForm {
                a: pair.a.name().to_owned(),
                b: pair.b.name().to_owned(),
                log10_lr: number(pair.log10_lr),
                low: number(pair.low),
                high: number(pair.high),
            })
            .collect(),
        none_fits: NoneFitsForm {
            p: number(weighing.none_fits.p),
            because: weighing.none_fits.because.clone(),
        },
        finishes: weighing
            .finishes
            .iter()
            .map(|weighed| FinishForm {
                name: weighed.finish.name().to_owned(),
                log10_likelihood_relative: number(weighed.log10_relative),
            })
            .collect(),
        sensitivity: weighing
            .sensitivity
            .iter()
            .map(|row| SensitivityForm {
                left_out: row.left_out.clone(),
                log10_lr: row.log10_lr.iter().copied().map(number).collect(),
            })
            .collect(),
        seed: weighing.seed,
        simulations: weighing.simulations,
    }
}

/// A weighing with the words around it; `priors` are those that were typed.
#[must_use]
pub fn kept(weighing: &Weighing, reach: Vec<CaptureReachForm>, priors: &[(String, f64)]) -> KeptWeighing {
    let prior = |name: &str| priors.iter().find(|(typed, _)| typed == name).map_or(0.0, |(_, prior)| *prior);
    KeptWeighing {
        schema: KEPT_SCHEMA.to_owned(),
        weighing: form(weighing, reach),
        none_fits_flagged: weighing.none_fits.flagged,
        pair_words: weighing.pairs.iter().map(|pair| pair.words.to_owned()).collect(),
        pair_because: weighing.pairs.iter().map(|pair| pair.because.clone()).collect(),
        stations: weighing.stations.words.clone(),
        posterior: weighing
            .posterior
            .iter()
            .map(|(finish, posterior)| (finish.name().to_owned(), prior(finish.name()), *posterior))
            .collect(),
        notes: weighing.notes.clone(),
        scale_citation: weighing.scale_citation.to_owned(),
    }
}

/// A kept weighing as text.
///
/// # Errors
/// [`FormError::Unwritable`], which no weighing should meet.
pub fn write(kept: &KeptWeighing) -> Result<String, FormError> {
    to_line(kept)
}

/// Reads a kept weighing.
///
/// # Errors
/// [`FormError`]; a kept text is only ever wrong if the examination was changed by hand.
pub fn read(text: &str) -> Result<KeptWeighing, FormError> {
    from_text(text, KEPT_SCHEMA)
}
