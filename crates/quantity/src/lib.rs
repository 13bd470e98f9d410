//! Lengths, angles, axes and values with their uncertainty: the words every other crate counts in.
//!
//! Invariant: knows nothing of pictures, files or finishes, and depends on nothing.
//!
//! One convention for angles holds everywhere (see `docs/conventions.md`): pixel coordinates have their origin at
//! the centre of the top-left pixel, x to the right and y down; an *axis* is an angle modulo 180°, 0° along +x,
//! counter-clockwise as seen on the picture.

mod axis;
mod count;
mod length;
mod measured;

pub use axis::AxialDeg;
pub use count::counted;
pub use length::{Micrometres, Millimetres, UmPerPx};
pub use measured::Measured;
