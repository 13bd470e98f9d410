//! What one trace is.

use quantity::{AxialDeg, Measured};

/// One scratch as measured, from end to end. Pixel coordinates: origin at the top-left pixel's centre, x right, y down.
#[derive(Debug, Clone, PartialEq)]
pub struct Trace {
    /// Number within its capture, from 1, strongest first.
    pub id: u32,
    /// Refined axis of the groove, at least two points from one end to the other, px.
    pub points_px: Vec<[f64; 2]>,
    /// Length along the axis inside the picture, px.
    pub length_px: f64,
    /// Full width at half depth of the darkened or brightened strip, px.
    pub width_px: Measured,
    /// Axis at mid-length.
    pub direction: AxialDeg,
    /// Standard uncertainty of the direction, degrees.
    pub direction_u_deg: f64,
    /// Signed curvature, 1/px: positive bends counter-clockwise as seen when walked along increasing x
    /// (upwards for a vertical trace).
    pub curvature_per_px: Measured,
    /// Which ends lie in the picture.
    pub ends: Ends,
    /// Mean contrast-to-noise ratio of the strip: its amplitude over the local grey noise, no unit.
    pub contrast: f64,
    /// log10 of the expected number of false traces at least as strong in a picture like this (a contrario).
    pub log10_nfa: f64,
    /// Why it might not be a scratch at all.
    pub suspect: Option<Suspect>,
}

/// How many and which ends of a trace lie inside the picture; a trace that runs out of the field has a censored length.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Ends {
    /// The first point of `points_px` is a true end.
    pub first_inside: bool,
    /// The last point of `points_px` is a true end.
    pub last_inside: bool,
}

impl Ends {
    /// Number of true ends, 0 to 2.
    #[must_use]
    pub fn count(self) -> u8 {
        u8::from(self.first_inside) + u8::from(self.last_inside)
    }
}

/// What else could have drawn a line.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Suspect {
    /// Twin lamella, cleavage or another line that lives inside one grain.
    Lamella,
    /// Boundary between two grains.
    GrainEdge,
    /// Block grid of lossy compression.
    Compression,
    /// Row or column of the sensor.
    Sensor,
    /// Drawn out by motion blur.
    Blur,
}
