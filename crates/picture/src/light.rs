//! Where the light came from.

use quantity::AxialDeg;

/// Light on a capture. One-sided light hides scratches that run along its azimuth.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Light {
    /// One-sided light from this azimuth (as an axis on the picture: scratches along it are hidden either way).
    Azimuth(AxialDeg),
    /// A ring of light: no direction favoured.
    Ring,
    /// Through the lens.
    Coaxial,
    /// Not recorded.
    Unknown,
}
