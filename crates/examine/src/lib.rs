//! The job as functions with progress and cancel: add, measure, compare, weigh, report, package.
//!
//! Invariant: walks the way from pictures to report by calling the other crates; computes nothing itself, decodes
//! nothing, and writes to an examination only through `archive`.

mod add;
mod agreement;
mod compare;
pub mod describe;
mod dossier;
mod error;
mod find;
pub mod form;
pub mod forms;
mod measure;
mod package;
mod panels;
pub mod plan;
mod publish;
mod reach;
pub mod reading;
mod render;
mod results;
mod sample;
mod scale;
mod status;
pub mod stone;
#[cfg(test)]
mod testing;
mod watch;
mod weighing;

pub use ::form::LengthUnit;
pub use ::stone::Motion;
pub use add::{AddOptions, Taken, add, add_bytes};
pub use compare::compare;
pub use error::{ExamineError, Failure, shown};
pub use find::find_capture;
pub use form::{BlockAsked, FormOptions, FormPart, form, form_examination};
pub use measure::{
    FileMeasures, MeasureOptions, Measured, expected_false, measure_examination, measure_file, measure_files,
    measured_form, set_expected_false, usable_expected_false,
};
pub use package::{measurements, measurements_text, package};
pub use panels::{
    NamedPanel, PanelInput, add_panel, check_kept_panels, check_panels, graded_panel, kept_panels,
    named_panels, remove_panel, score_answers, score_sentences, seal_answers,
};
pub use plan::{plan, plan_examination};
pub use publish::{PublishOptions, Published, dossier, publish};
pub use reach::reach;
pub use render::{INSTRUMENTS, RenderOptions, Rendering, STONES, render};
pub use sample::{Sample, sample};
pub use scale::{FromGraduation, HoldsFor, from_graduation, keep_scale, scale_from_points, scale_typed};
pub use status::{Status, check_originals, status};
pub use stone::{
    FaceQuestion, LAWS_CAUTION, StoneKind, StoneQuestion, WorkQuestion, known as known_stone, stone,
    stone_examination,
};
pub use watch::{Unwatched, Watch};
pub use weighing::{WeighOptions, cache_folder, measure_in, weigh_examination, weigh_measure};

/// Program and version, as written beside every result.
pub const SOFTWARE: &str = concat!("rubstone ", env!("CARGO_PKG_VERSION"));

/// Seed of every random number unless the user gives another.
pub const SEED: u64 = 1;
