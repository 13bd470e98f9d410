//! A photographed graduation: found, and its pitch measured.
//!
//! Steps: the picture's spectrum names directions in which lines follow each other; along each direction thin slabs are searched for the finest
//! comb; in the slabs that hold it every tick is located; a robust straight line through position over number gives the pitch.

mod directions;
mod frame;
mod slabs;
mod straightened;
mod ticks;

use quantity::{AxialDeg, Measured, UmPerPx};

use super::points::quotient;
use crate::{Distortion, Grey};

/// Why no graduation was found.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum GraduationError {
    /// Too few pixels.
    #[error("{width} × {height} pixels are too few for a graduation; at least {needed} a side are needed")]
    TooSmall {
        /// Width in pixels.
        width: usize,
        /// Height in pixels.
        height: usize,
        /// Least side.
        needed: usize,
    },
    /// Nothing regular in the picture.
    #[error(
        "no row of evenly spaced lines was found; photograph a graduation sharp, evenly lit, with at least {needed} ticks in view"
    )]
    NothingRegular {
        /// Ticks needed.
        needed: usize,
    },
    /// Something regular that is not a graduation.
    #[error(
        "something repeats every {pitch_px:.1} px, but {reason}: it is not taken for a graduation; photograph a graduation, or give two points and their distance"
    )]
    NotAGraduation {
        /// Its period in pixels.
        pitch_px: f64,
        /// What speaks against it.
        reason: String,
    },
}

/// One tick of a graduation.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tick {
    /// Its number, counted along the direction from the first tick used; missing ticks are counted.
    pub number: i32,
    /// Middle of its measured part, in pixels.
    pub centre_px: [f64; 2],
}

/// A graduation as found in a picture.
#[derive(Debug, Clone, PartialEq)]
pub struct Graduation {
    /// Distance of neighbouring ticks in pixels, perpendicular to them.
    pub pitch_px: Measured,
    /// Direction in which the ticks follow each other.
    pub direction: AxialDeg,
    /// Number of ticks the pitch rests on.
    pub ticks: usize,
    /// The ticks themselves, in order.
    pub marks: Vec<Tick>,
    /// Standard deviation of the ticks about the straight fit, in pixels.
    pub scatter_px: f64,
    /// What the reader should know, such as a pitch that changes across the field.
    pub notes: Vec<String>,
}

impl Graduation {
    /// The scale at the centre of the picture, from the distance of neighbouring ticks on the surface and the lens, as for
    /// [`Self::pitch_at_centre`]; `None` if the distance is not finite and positive.
    ///
    /// # Source
    /// JCGM 100:2008 (GUM) 5.1.2 for a quotient of uncorrelated quantities.
    #[must_use]
    pub fn scale(
        &self,
        um_per_tick: Measured,
        lens: Option<&Distortion>,
        width_px: f64,
        height_px: f64,
    ) -> Option<UmPerPx> {
        (um_per_tick.value.is_finite() && um_per_tick.value > 0.0)
            .then(|| quotient(um_per_tick, self.pitch_at_centre(lens, width_px, height_px)))
            .flatten()
    }
}

/// Smallest side that is searched (ours).
const LEAST_SIDE_PX: usize = 48;
/// Fewest ticks that make a graduation: a straight line through fewer tells little about its regularity (ours).
pub(super) const LEAST_TICKS: usize = 6;

/// Finds a graduation of evenly spaced parallel ticks, dark or bright, at any angle, and measures the pitch.
///
/// Longer ticks at every fifth or tenth division, writing, and parts out of focus do not disturb; the finest regular division counts. The pitch is
/// the mean over the ticks in view and holds for the plane of the graduation at the same focus and zoom.
///
/// # Errors
/// [`GraduationError`] with the reason if there is no graduation.
///
/// # Source
/// Straight line through position over number, JCGM 100:2008 (GUM) H.3 for its uncertainty, widened for correlated deviations; search ours.
pub fn find_graduation(grey: &Grey) -> Result<Graduation, GraduationError> {
    if grey.width().min(grey.height()) < LEAST_SIDE_PX {
        return Err(GraduationError::TooSmall {
            width: grey.width(),
            height: grey.height(),
            needed: LEAST_SIDE_PX,
        });
    }
    let mut refused: Option<GraduationError> = None;
    let mut best: Option<ticks::Row> = None;
    for angle_rad in directions::candidates(grey) {
        let Some(comb) = slabs::finest_comb(grey, angle_rad) else { continue };
        match ticks::measure(grey, &comb) {
            Ok(row) if best.as_ref().is_none_or(|best| row.beats(best)) => best = Some(row),
            Ok(_) => {}
            Err(error) => refused = refused.or(Some(error)),
        }
    }
    match best {
        Some(row) => Ok(row.graduation()),
        None => Err(refused.unwrap_or(GraduationError::NothingRegular { needed: LEAST_TICKS })),
    }
}
