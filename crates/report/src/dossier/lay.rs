//! Directions, lengths, spacings and widths of one group of traces, as printed.

use quantity::{AxialDeg, Measured};

/// A value with its 95 % interval, all in the unit the field states.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Estimate {
    /// Best value.
    pub value: f64,
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

/// Unit that lengths are printed in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LengthUnit {
    /// Micrometres.
    Micrometres,
    /// Millimetres.
    Millimetres,
    /// Pixels, where no scale is known.
    Pixels,
}

impl LengthUnit {
    /// Symbol printed.
    #[must_use]
    pub fn symbol(self) -> &'static str {
        match self {
            Self::Micrometres => "µm",
            Self::Millimetres => "mm",
            Self::Pixels => "px",
        }
    }
}

/// The lay of one capture, one station or the object.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Lay {
    /// Captures it rests on.
    pub captures: usize,
    /// Every counted trace's direction with its weight, for the roses.
    pub directions: Vec<Direction>,
    /// What the weights are: `number of traces`, `length of trace`.
    pub weighting: String,
    /// Traces per mm², where a scale is known.
    pub density_per_mm2: Option<f64>,
    /// Length of trace per area, 1/mm, where a scale is known.
    pub intensity_per_mm: Option<f64>,
    /// Resultant length of the doubled angles, 0 to 1.
    pub resultant: f64,
    /// p value of the test that every direction is equally common.
    pub uniform_p: f64,
    /// Name of that test: `Kuiper's test on doubled angles`.
    pub uniform_test: String,
    /// Groups of parallel traces, most common first.
    pub sets: Vec<Set>,
    /// Share of traces that belong to no set, 0 to 1.
    pub background_share: f64,
    /// Acute angle between the first two sets, degrees.
    pub crossing_deg: Option<Estimate>,
    /// Bow of the traces against the reach.
    pub straightness: Option<Straightness>,
    /// Stroke length from censored lengths.
    pub stroke_length: Option<StrokeLength>,
    /// Spacing of neighbours, one entry for each set.
    pub spacings: Vec<Spacing>,
    /// Widths of the traces.
    pub widths: Option<Widths>,
    /// Reasons to doubt these numbers, in words.
    pub cautions: Vec<String>,
}

/// One trace in a rose.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Direction {
    /// Its axis.
    pub axis: AxialDeg,
    /// Its weight, not negative; only ratios matter.
    pub weight: f64,
}

/// One group of parallel traces.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Set {
    /// Mean direction.
    pub direction: AxialDeg,
    /// Half-width of its 95 % interval, degrees; `None` if it could not be found.
    pub half_width_95_deg: Option<f64>,
    /// Concentration of the doubled angles (von Mises κ).
    pub concentration: f64,
    /// Share of the weight, 0 to 1.
    pub share: f64,
}

/// Bow of the traces of one group.
#[derive(Debug, Clone, PartialEq)]
pub struct Straightness {
    /// One sample for each counted trace, for the figure.
    pub samples: Vec<BowSample>,
    /// Unit of the lengths; curvatures are in its reciprocal.
    pub unit: LengthUnit,
    /// Reach of the group: largest radius that could be told from straight, in `unit`.
    pub reach: Option<f64>,
    /// What limits the reach.
    pub limited_by: Option<String>,
    /// Middle of the signed curvatures, 1/unit.
    pub middle: Option<Estimate>,
    /// Typical bow: half of the traces are bowed less, whichever way, measuring scatter removed; 1/unit.
    pub typical: Option<Estimate>,
}

impl Straightness {
    /// Radius of a typical trace with its 95 % interval, in the unit; `None` unless the typical bow stands out of its
    /// uncertainty.
    #[must_use]
    pub fn radius(&self) -> Option<Estimate> {
        let bow = self.typical.filter(|bow| bow.low > 0.0)?;
        Some(Estimate { value: 1.0 / bow.value, low: 1.0 / bow.high, high: 1.0 / bow.low })
    }

    /// What the bows say. A bow whose radius may lie beyond the reach could as well be drawn by lens, tilt or waviness,
    /// however small its statistical uncertainty is.
    #[must_use]
    pub fn verdict(&self) -> StraightnessVerdict {
        match (self.reach, self.typical) {
            (Some(reach), Some(_)) if self.radius().is_some_and(|radius| radius.high <= reach) => {
                StraightnessVerdict::Bowed
            }
            (Some(_), Some(_)) => StraightnessVerdict::NotToldFromStraight,
            _ => StraightnessVerdict::CannotTell,
        }
    }
}

/// Bow of one trace.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BowSample {
    /// Visible length, in the unit of the group.
    pub length: f64,
    /// Signed curvature, in the reciprocal unit of the group.
    pub curvature: Measured,
}

/// What the bows of a group say.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StraightnessVerdict {
    /// Bows beyond what noise, waviness and lens explain.
    Bowed,
    /// No bow found: straight, or bowed with a radius above the reach.
    NotToldFromStraight,
    /// Too few traces or no reach.
    CannotTell,
}

/// Stroke length estimated from lengths the field cuts off.
#[derive(Debug, Clone, PartialEq)]
pub struct StrokeLength {
    /// Unit of every length here.
    pub unit: LengthUnit,
    /// Mean stroke length; `None` with the reason in `note`.
    pub mean: Option<Estimate>,
    /// Name of the estimator: `window ratio estimator 2L/m`.
    pub estimator: String,
    /// Traces with no, one and two ends inside the field.
    pub ends: Ends,
    /// Kaplan–Meier curve: share of visible lengths above a length, with its 95 % band. Starts at length 0, share 1.
    pub curve: Vec<Step>,
    /// Why there is no mean, or what to mind.
    pub note: Option<String>,
}

/// How many traces have no, one or two ends inside the field.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Ends {
    /// Both ends outside: crosses the whole field.
    pub none_inside: usize,
    /// One end inside.
    pub one_inside: usize,
    /// Both ends inside.
    pub both_inside: usize,
}

impl Ends {
    /// All traces counted.
    #[must_use]
    pub fn total(self) -> usize {
        self.none_inside + self.one_inside + self.both_inside
    }
}

/// One step of a survival curve.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Step {
    /// Length at which the curve steps.
    pub length: f64,
    /// Share above that length, 0 to 1, from here on.
    pub share: Estimate,
}

/// Distances between neighbours of one set.
#[derive(Debug, Clone, PartialEq)]
pub struct Spacing {
    /// Direction of the set.
    pub direction: AxialDeg,
    /// Unit of the distances.
    pub unit: LengthUnit,
    /// Distances between neighbours along the set's normal, those too small to be seen apart left out and the others counted
    /// from that limit: what the test is of.
    pub distances: Vec<f64>,
    /// Mean distance; `None` with too few.
    pub mean: Option<Estimate>,
    /// Standard deviation over mean.
    pub variation: Option<f64>,
    /// Range of `variation` that random places give in 95 % of cases with as many distances.
    pub variation_if_random: Option<(f64, f64)>,
    /// p value of the test against random places.
    pub p: Option<f64>,
    /// Name of that test.
    pub test: String,
    /// What follows.
    pub verdict: SpacingVerdict,
}

/// What the spacings of a set say.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SpacingVerdict {
    /// More even than random places.
    Regular,
    /// Not told from random places.
    Random,
    /// More clustered than random places.
    Clustered,
    /// Too few distances.
    CannotTell,
}

/// Widths of the traces of one group.
#[derive(Debug, Clone, PartialEq)]
pub struct Widths {
    /// Unit of the widths.
    pub unit: LengthUnit,
    /// One width for each counted trace.
    pub values: Vec<f64>,
    /// Median width.
    pub median: Option<Estimate>,
    /// Middle nine tenths of the widths, as the median weights them; `None` with too few.
    pub range_90: Option<(f64, f64)>,
    /// Width below which the optics would show any narrower trace as wide as this; `None` if not known.
    pub resolution: Option<f64>,
    /// Range of grain sizes that could have cut such widths, µm, with the relation and its source in `grain_relation`.
    pub grain_um: Option<(f64, f64)>,
    /// The relation behind `grain_um` and its source, in words.
    pub grain_relation: Option<String>,
}
