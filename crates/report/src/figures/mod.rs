//! Figures as SVG: pure functions, one source of truth for the report and the workbench.
//!
//! Every figure reads in grey print and without colour vision (line style, width and words tell things apart), carries its
//! units and an alternative text written from the numbers, and says so where it draws less than there is or nothing at all.
//! Angles are drawn as on the pictures: 0° to the right, counter-clockwise as seen.

mod curves;
mod figure;
mod intervals;
mod map;
mod micrograph;
mod overview;
mod pairs;
mod plot;
mod rose;
mod simulated;
mod spacing;
mod stations;
mod straightness;
mod stroke_length;
mod svg;
mod widths;

pub use curves::{Line, bars, curves};
pub use figure::{Figure, THEME_CSS};
pub use intervals::{IntervalRow, SetRow, intervals, set_directions};
pub use map::{Map, map};
pub use micrograph::{DRAWN_AT_MOST, Overlay, micrograph};
pub use overview::overview;
pub use pairs::pairs_matrix;
pub(crate) use pairs::{TOLD_APART_FROM, nearer_end, signed as signed_ratio, turned};
pub use plot::empty;
pub use rose::{Rose, rose};
pub use spacing::spacing;
pub use stations::stations;
pub use straightness::straightness;
pub use stroke_length::stroke_length;
pub use widths::widths;

pub(crate) use simulated::simulated;
