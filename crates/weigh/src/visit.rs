//! What was measured on one visit, and whether it can be weighed at all.

use picture::Light;
use quantity::{AxialDeg, Measured, UmPerPx, counted};
use thiserror::Error;

/// Everything measured on one object in one visit.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Visit {
    /// The captures, in any order.
    pub captures: Vec<SeenCapture>,
}

/// One micrograph with its traces.
#[derive(Debug, Clone, PartialEq)]
pub struct SeenCapture {
    /// Name for messages.
    pub name: String,
    /// Name of its station; captures of one station depend on each other.
    pub station: String,
    /// Width of the picture, px.
    pub width_px: u32,
    /// Height of the picture, px.
    pub height_px: u32,
    /// Scale, if it is known.
    pub scale: Option<UmPerPx>,
    /// Blur of the picture as a Gaussian sigma, px, if judged.
    pub sharpness_px: Option<f64>,
    /// Light.
    pub light: Light,
    /// Sagitta a straight line still shows after lens correction, as a share of the picture's width; `None` if the
    /// lens was never checked.
    pub lens_residual: Option<f64>,
    /// Traces, suspects included.
    pub traces: Vec<SeenTrace>,
}

/// One trace as it enters the weighing.
#[derive(Debug, Clone, PartialEq)]
pub struct SeenTrace {
    /// Points along the axis, px, x right, y down.
    pub points_px: Vec<[f64; 2]>,
    /// Length inside the picture, px.
    pub length_px: f64,
    /// Width, px.
    pub width_px: f64,
    /// Axis at mid-length.
    pub direction: AxialDeg,
    /// Curvature as measured, 1/px.
    pub curvature_per_px: Measured,
    /// True ends inside the picture, 0 to 2.
    pub ends_inside: u8,
    /// Possibly not a scratch: left out of the weighing.
    pub suspect: bool,
}

impl From<&trace::Trace> for SeenTrace {
    fn from(trace: &trace::Trace) -> Self {
        Self {
            points_px: trace.points_px.clone(),
            length_px: trace.length_px,
            width_px: trace.width_px.value,
            direction: trace.direction,
            curvature_per_px: trace.curvature_per_px,
            ends_inside: trace.ends.count(),
            suspect: trace.suspect.is_some(),
        }
    }
}

/// Fewest traces over all captures that carry a weighing (ours: below ten traces the study's log loss doubled).
pub const FEWEST_TRACES: usize = 10;
/// Scales of one station's captures that differ by more than this factor contradict each other if the pictures have
/// the same size and are said to come from one instrument (ours).
const LARGEST_SCALE_FACTOR: f64 = 50.0;

/// Why a visit cannot be weighed. Every message names the fact, what was found and what is needed.
#[derive(Debug, Clone, PartialEq, Error)]
#[non_exhaustive]
pub enum CannotWeigh {
    /// Nothing to weigh.
    #[error("cannot be weighed because there is no capture; add micrographs and measure them")]
    NoCapture,
    /// No capture has a scale.
    #[error(
        "cannot be weighed because {} scale; finishes differ by radii and lengths in millimetres: photograph a graduation \
         or type the scale",
        if *captures == 1 { "the capture has no".into() } else { format!("none of the {captures} captures has a") }
    )]
    NoScale {
        /// Captures given.
        captures: usize,
    },
    /// No trace at all.
    #[error(
        "cannot be weighed because no trace was found on {}; nothing here speaks for or against a finish",
        counted(*captures, "capture")
    )]
    NoTrace {
        /// Captures with a scale.
        captures: usize,
    },
    /// Too few traces.
    #[error(
        "cannot be weighed because only {} left where {needed} are needed; take more or larger fields",
        if *found == 1 { "1 trace is".into() } else { format!("{found} traces are") }
    )]
    TooFewTraces {
        /// Traces found.
        found: usize,
        /// Traces needed.
        needed: usize,
    },
    /// Every trace is suspect.
    #[error(
        "cannot be weighed because {} suspect (lamellae, grain edges, compression or blur); look at them, accept the \
         scratches among them by hand, or photograph again",
        if *found == 1 { "the only trace is".into() } else { format!("all {found} traces are") }
    )]
    AllSuspect {
        /// Traces found.
        found: usize,
    },
    /// Scales contradict each other.
    #[error(
        "cannot be weighed because the scales contradict each other: {first} has {first_um_per_px} µm/px and {second} \
         {second_um_per_px} µm/px; check both instruments"
    )]
    ScalesContradict {
        /// One capture.
        first: String,
        /// Its scale, µm/px.
        first_um_per_px: f64,
        /// The other capture.
        second: String,
        /// Its scale, µm/px.
        second_um_per_px: f64,
    },
    /// A value that no measurement gives.
    #[error("cannot be weighed because {capture} holds {what}, which no measurement gives; measure it again")]
    Impossible {
        /// Capture.
        capture: String,
        /// What is wrong.
        what: String,
    },
    /// A trained engine that belongs to another visit or version.
    #[error("the stored simulations do not belong to this visit or version; train again")]
    OtherEngine,
    /// Interrupted.
    #[error("the weighing was interrupted before its simulations were complete; start it again")]
    Interrupted,
}

impl Visit {
    /// Checks the visit and keeps what can be weighed: captures with a scale and their unsuspected traces.
    ///
    /// # Errors
    /// [`CannotWeigh`] in words if nothing sound remains or if the input contradicts itself.
    pub fn weighable(&self) -> Result<Visit, CannotWeigh> {
        if self.captures.is_empty() {
            return Err(CannotWeigh::NoCapture);
        }
        self.captures.iter().try_for_each(SeenCapture::check)?;
        let scaled: Vec<&SeenCapture> =
            self.captures.iter().filter(|capture| capture.scale.is_some()).collect();
        if scaled.is_empty() {
            return Err(CannotWeigh::NoScale { captures: self.captures.len() });
        }
        check_scales(&scaled)?;
        let found: usize = scaled.iter().map(|capture| capture.traces.len()).sum();
        let captures: Vec<SeenCapture> = scaled
            .iter()
            .map(|capture| SeenCapture {
                traces: capture.traces.iter().filter(|trace| !trace.suspect).cloned().collect(),
                ..(*capture).clone()
            })
            .collect();
        let left: usize = captures.iter().map(|capture| capture.traces.len()).sum();
        match (found, left) {
            (0, _) => Err(CannotWeigh::NoTrace { captures: captures.len() }),
            (_, 0) => Err(CannotWeigh::AllSuspect { found }),
            (_, left) if left < FEWEST_TRACES => {
                Err(CannotWeigh::TooFewTraces { found: left, needed: FEWEST_TRACES })
            }
            _ => Ok(Visit { captures }),
        }
    }
}

impl SeenCapture {
    fn check(&self) -> Result<(), CannotWeigh> {
        let fail = |what: String| Err(CannotWeigh::Impossible { capture: self.name.clone(), what });
        if self.width_px < 16 || self.height_px < 16 {
            return fail(format!("a picture of {} × {} px", self.width_px, self.height_px));
        }
        let longest_px = 8.0 * f64::from(self.width_px + self.height_px);
        for (index, trace) in self.traces.iter().enumerate() {
            let number = index + 1;
            let numbers =
                [trace.length_px, trace.width_px, trace.curvature_per_px.value, trace.curvature_per_px.u];
            if numbers.iter().chain(trace.points_px.iter().flatten()).any(|value| !value.is_finite()) {
                return fail(format!("a value that is not a number in trace {number}"));
            }
            if trace.points_px.len() < 2 {
                return fail(format!("fewer than two points in trace {number}"));
            }
            if trace.length_px <= 0.0
                || trace.length_px > longest_px
                || trace.width_px < 0.0
                || trace.ends_inside > 2
            {
                return fail(format!(
                    "trace {number} with a length of {} px, a width of {} px and {} ends",
                    trace.length_px, trace.width_px, trace.ends_inside
                ));
            }
            let margin = f64::from(self.width_px.max(self.height_px));
            let outside =
                |p: &[f64; 2]| p[0] < -margin || p[1] < -margin || p[0] > 2.0 * margin || p[1] > 2.0 * margin;
            if trace.points_px.iter().any(outside) {
                return fail(format!("points of trace {number} far outside the picture"));
            }
        }
        Ok(())
    }

    /// Micrometres per pixel, if known.
    #[must_use]
    pub fn um_per_px(&self) -> Option<f64> {
        self.scale.map(UmPerPx::value)
    }
}

fn check_scales(scaled: &[&SeenCapture]) -> Result<(), CannotWeigh> {
    for (index, first) in scaled.iter().enumerate() {
        for second in scaled.iter().skip(index + 1) {
            let (Some(a), Some(b)) = (first.um_per_px(), second.um_per_px()) else { continue };
            let same_size = first.width_px == second.width_px && first.height_px == second.height_px;
            if same_size && first.station == second.station && (a / b).max(b / a) > LARGEST_SCALE_FACTOR {
                return Err(CannotWeigh::ScalesContradict {
                    first: first.name.clone(),
                    first_um_per_px: a,
                    second: second.name.clone(),
                    second_um_per_px: b,
                });
            }
        }
    }
    Ok(())
}
