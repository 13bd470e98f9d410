//! The workbench's pages: what it shows of an examination, and what it may change.
//!
//! Everything here only reads and calls; what is computed is computed in the other modules.

mod edit;
mod overview;
mod pages;
mod readings;
mod words;

pub use edit::{
    add, add_instrument, add_station, change_capture, change_instrument, change_station, pin, set_object,
    set_scale,
};
pub use overview::examination;
pub use pages::{comparison, lay};
pub use readings::{agreement, reading, step};
