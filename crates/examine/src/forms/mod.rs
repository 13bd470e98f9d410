//! The workbench's pages: what it shows of an examination, and what it may change.
//!
//! Everything here only reads and calls; what is computed is computed in the other modules.

mod edit;
mod form;
mod overview;
mod pages;
mod panels;
mod readings;
mod stone;
mod visit;
mod weighing;
mod words;

pub use edit::{
    add, add_instrument, add_station, change_capture, change_instrument, change_station, object_of, pin,
    set_object, set_scale,
};
pub use form::{form_options, measure_form, measure_landmarks, measured_forms};
pub use overview::{Memory, capture_form, examination, object_form};
pub use pages::{comparison, lay};
pub(crate) use panels::panels_to_use;
pub use panels::{add_panel_at, add_panel_file, panels, remove_panel, score, seal};
pub use readings::{agreement, reading, step};
pub use stone::{ask_stone, stone_room};
pub use visit::{field_sheet, visit};
pub use weighing::{file_weighing, simulated, weigh_options, weighing, weighing_as_text, weighing_text};
