//! Reach, likelihood ratios, calibration, stations compared and visit planning.
//!
//! Invariant: numbers in, numbers out; reads no file and shows nothing.
