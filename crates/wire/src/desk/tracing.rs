//! Traces of one capture in one person's reading.

use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

/// Whose reading is meant.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct PersonQuery {
    /// Their name; empty shows the traces as found.
    pub person: String,
}

/// The traces of one capture in one person's reading.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct ReadingForm {
    /// Capture.
    pub capture: i64,
    /// Whose reading.
    pub person: String,
    /// Everyone who has read this capture.
    pub people: Vec<String>,
    /// Number of steps that can be undone.
    pub undo: usize,
    /// Number of steps that can be redone.
    pub redo: usize,
    /// Why no traces are reported for this picture, if none are.
    pub refused: Option<String>,
    /// Directions this light could not show, in words.
    pub hidden: Option<String>,
    /// All traces, found and drawn.
    pub traces: Vec<TraceForm>,
}

/// One trace as the page shows it.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct TraceForm {
    /// Number, unique within the reading.
    pub id: u32,
    /// Axis of the groove, px.
    pub points: Vec<[f64; 2]>,
    /// `accepted`, `suspect` or `rejected`; only accepted traces count.
    pub state: String,
    /// Drawn, cut or joined by hand.
    pub by_hand: bool,
    /// Why it might not be a scratch: `lamella`, `grain_edge`, `compression`, `sensor`, `blur`, or a person's word.
    pub suspect: Option<String>,
    /// Length with unit, as printed.
    pub length: String,
    /// Width with uncertainty and unit, as printed.
    pub width: String,
    /// Direction with uncertainty, as printed.
    pub direction: String,
    /// Bow with uncertainty and unit, as printed.
    pub bow: String,
    /// Length, px, for sorting.
    pub length_px: f64,
    /// Direction, degrees, for sorting.
    pub direction_deg: f64,
    /// Contrast-to-noise ratio.
    pub contrast: f64,
    /// Ends that lie in the picture, 0 to 2.
    pub ends_inside: u8,
}

/// One step of a reading.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(tag = "step", rename_all = "snake_case")]
pub enum ReadingRequest {
    /// These are scratches.
    Accept {
        /// Traces.
        traces: Vec<u32>,
    },
    /// These are not.
    Reject {
        /// Traces.
        traces: Vec<u32>,
    },
    /// This may be something else.
    Suspect {
        /// Traces.
        traces: Vec<u32>,
        /// Why; empty takes the suspicion back.
        reason: String,
    },
    /// Here is one the finder missed.
    Draw {
        /// Its points, px, at least two.
        points: Vec<[f64; 2]>,
    },
    /// These are one scratch.
    Join {
        /// Traces, at least two.
        traces: Vec<u32>,
    },
    /// This is two scratches.
    Cut {
        /// Trace.
        trace: u32,
        /// Where, px.
        at: [f64; 2],
    },
    /// Takes the last step back.
    Undo,
    /// Does it again.
    Redo,
}

/// How far two people's readings of one capture agree.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct AgreementForm {
    /// First person.
    pub first: String,
    /// Second person.
    pub second: String,
    /// Traces both accept.
    pub both: usize,
    /// Traces the first alone accepts.
    pub first_only: usize,
    /// Traces the second alone accepts.
    pub second_only: usize,
    /// In words, with the share and its interval.
    pub sentence: String,
}
