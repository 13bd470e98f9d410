//! Ways of finishing as kinematic models: each draws the strokes it would leave in a field.
//!
//! A finish is one file here and one line in `MODELS`. Everything is counted in millimetres in the frame of a
//! station: x to the right, y upwards as seen; [`Stroke::points_um`] turns a stroke into the renderer's frame.
//! No range here was measured on real stone by us: each [`Parameter`] names where its range comes from.

mod free_hand;
mod guided_rub;
mod layers;
mod loose_abrasive;
mod orbital_pad;
mod oscillating_pad;
mod path;
mod prior;
mod rotating_pad;
mod site;
mod turning;

pub use layers::Wear;
pub use path::{Curve, Path, Visible, Window};
pub use prior::{
    COMMON_PRACTICE, Draw, Lean, Matched, Parameter, Region, Scale, Span, Values, any_angle,
    common_parameters, normal, span,
};
pub use site::{Detail, Layer, Object, Place, Station, Stroke, Surface, strokes, strokes_in_field};

use rand_pcg::Pcg64;

/// Every modelled finish. A new finish is one file and one line here; the order is the order of all results.
static MODELS: [&dyn Model; 7] = [
    &rotating_pad::RotatingPad,
    &orbital_pad::OrbitalPad,
    &oscillating_pad::OscillatingPad,
    &guided_rub::GuidedRub,
    &free_hand::FreeHand,
    &turning::Turning,
    &loose_abrasive::LooseAbrasive,
];

/// One way of finishing, by its place in the list of models.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Finish(u8);

impl Finish {
    /// All modelled finishes in their fixed order.
    pub fn all() -> impl ExactSizeIterator<Item = Finish> {
        (0..MODELS.len()).map(|index| Finish(index as u8))
    }

    /// How many finishes are modelled.
    #[must_use]
    pub fn count() -> usize {
        MODELS.len()
    }

    /// The finish of this name, as [`Finish::name`] gives it.
    #[must_use]
    pub fn named(name: &str) -> Option<Finish> {
        Finish::all().find(|finish| finish.name() == name)
    }

    /// Place in the list of finishes, from 0.
    #[must_use]
    pub fn index(self) -> usize {
        usize::from(self.0)
    }

    /// Its short name, as in results and on the command line.
    #[must_use]
    pub fn name(self) -> &'static str {
        self.model().name()
    }

    /// Its kinematic model.
    #[must_use]
    pub fn model(self) -> &'static dyn Model {
        MODELS[self.index()]
    }
}

/// One coherent motion at a station: a pass of a pad, a set of strokes, one group of rubs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Motion {
    /// Direction of feed or of the strokes, radians, counter-clockwise as seen.
    pub heading_rad: f64,
    /// Where the motion's own centre lies, mm, in the frame of the station.
    pub centre_mm: [f64; 2],
    /// Sense of turning: +1 counter-clockwise as seen, −1 clockwise.
    pub sense: f64,
    /// Radius that belongs to this motion, mm.
    pub radius_mm: f64,
    /// Share of the strokes that come from it, relative to the other motions of the station.
    pub share: f64,
}

/// How many strokes there are.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Density {
    /// Mean distance between neighbouring strokes is `ratio` stroke widths.
    SpacingRatio(f64),
    /// Length of stroke on each square millimetre, mm.
    LengthPerMm2(f64),
}

/// A kinematic model of one way of finishing.
pub trait Model: Sync {
    /// Short name in lower case.
    fn name(&self) -> &'static str;
    /// One sentence: what moves how.
    fn sentence(&self) -> &'static str;
    /// Named parameters with units, ranges and their sources; at most `prior::MOST_PARAMETERS`.
    fn parameters(&self) -> &'static [Parameter];
    /// The motions that crossed one station.
    fn motions(&self, values: &Values, rng: &mut Pcg64) -> Vec<Motion>;
    /// A stroke of `motion` through the point `at_mm`, met at a random place along itself.
    fn stroke(&self, values: &Values, motion: &Motion, at_mm: [f64; 2], rng: &mut Pcg64) -> Path;
    /// How densely the strokes lie; `common_ratio` is the spacing drawn for the object.
    fn density(&self, _values: &Values, common_ratio: f64) -> Density {
        Density::SpacingRatio(common_ratio)
    }
    /// Forces what this finish shares with others onto the values of a matched stratum.
    fn match_to(&self, values: &mut Values, matched: &Matched, rng: &mut Pcg64);
}
