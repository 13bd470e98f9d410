//! Reach, likelihood ratios, calibration, stations compared and visit planning.
//!
//! Invariant: numbers in, numbers out; reads no file and shows nothing.

pub mod beside;
mod bytes;
pub mod calibrate;
mod engine;
pub mod evaluation;
mod fits;
pub mod foils;
pub mod geometry;
mod key;
pub mod mark;
mod member;
pub mod novelty;
pub mod nuisance;
pub mod observables;
mod only;
pub mod panels;
pub mod plan;
mod progress;
mod reach;
pub mod rules;
pub mod see;
pub mod simulate;
pub mod sources;
mod stations;
mod store;
pub mod strata;
mod strays;
mod teach;
pub mod tracer;
pub mod trees;
mod visit;
mod weighing;

pub use engine::{Engine, Options};
pub use reach::{
    INDEPENDENT_EVERY_PX, Limit, Reach, ReachInput, UNCALIBRATED_LENS, reach, station_reach,
    tilt_curvature_per_px,
};
pub use rules::TOLD_APART;
pub use stations::{Difference, StationAlone, StationsAnswer};
pub use visit::{CannotWeigh, FEWEST_TRACES, SeenCapture, SeenTrace, Visit};
pub use weighing::{
    NONE_FITS, NoneFits, PairRatio, SCALE_CITATION, Sensitivity, Weighed, Weighing, pair_order, weigh, words,
};

#[cfg(test)]
mod tests_whole;
