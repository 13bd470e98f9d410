//! Whether the stations differ.

use lay::{CompareOptions, Comparison, Field};

/// Compares stations, each given with its fields.
///
/// Directions are not compared: nobody has said that the camera was held the same way at all of them.
#[must_use]
pub fn compare(fields: &[Field], seed: u64) -> Comparison {
    let options = CompareOptions { seed, common_orientation: false, ..CompareOptions::default() };
    lay::compare_stations(fields, &options)
}
