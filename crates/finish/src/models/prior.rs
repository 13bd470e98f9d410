//! Parameters, where their ranges come from, and how one object's values are drawn.

use rand::RngExt;
use rand_pcg::Pcg64;

/// The most parameters one finish may have.
pub const MOST_PARAMETERS: usize = 8;

/// Values of a finish's parameters for one object, in the order of its parameter list.
pub type Values = [f64; MOST_PARAMETERS];

/// A closed range.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Span {
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

/// A range from `low` to `high`.
pub const fn span(low: f64, high: f64) -> Span {
    Span { low, high }
}

/// How a value is spread over its range.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Scale {
    /// Evenly in the logarithm.
    Log,
    /// Evenly.
    Linear,
    /// Whole numbers, evenly.
    Count,
    /// The range gives the chance that the value is 1 instead of 0.
    Chance,
}

/// One named parameter of a finish and its ranges.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Parameter {
    /// Name with its unit at the end, as in `pad_diameter_mm`.
    pub name: &'static str,
    /// Unit as printed; empty for a pure number.
    pub unit: &'static str,
    /// How it is spread.
    pub scale: Scale,
    /// The narrow range: what is usual.
    pub narrow: Span,
    /// Ranges of the shifted prior: what is met less often. The wide prior is the union of narrow and shifted.
    pub shifted: &'static [Span],
    /// A range that begins in the upper part of the wide prior and ends beyond it; never used to train, only to test.
    pub beyond: Span,
    /// Where the range comes from.
    pub source: &'static str,
}

/// Which part of a prior to draw from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Region {
    /// Narrow ranges only.
    Narrow,
    /// Shifted ranges only.
    Shifted,
    /// Hierarchical union: an object leans to one side or the other, each parameter follows that lean.
    Wide,
    /// Either end of the wide prior and beyond it, in all parameters of the finish at once: an object leans to low or to high
    /// values, each parameter follows that lean.
    Ends,
    /// Upper part of the wide prior and beyond (test only).
    Beyond,
    /// Lower part of the wide prior and beyond (test only).
    Under,
}

/// Which way the parameters of one object lean.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Lean {
    /// To the shifted ranges, with this chance for each parameter.
    Shifted(f64),
    /// To high values at the ends of the wide prior, with this chance for each parameter; else to low ones.
    High(f64),
    /// To the test range above.
    Beyond,
    /// To the test range below.
    Under,
}

/// What several finishes are made to share in a matched stratum, so that only the kind of motion differs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Matched {
    /// Radius of curvature, mm.
    pub radius_mm: Span,
    /// Length of a stroke, mm.
    pub stroke_mm: Span,
    /// Spread of directions within a set, degrees.
    pub spread_deg: Span,
}

/// Share of the objects of the wide prior that are usual in everything, and again of those shifted in everything (ours).
const WHOLE_SHARE: f64 = 0.25;

/// How one object's values are drawn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Draw {
    /// The part of the prior.
    pub region: Region,
    /// Factor by which every range is stretched about its middle (1 leaves it; 0.5 halves it).
    pub stretch: f64,
    /// The stratum forced onto the values afterwards, if any.
    pub matched: Option<Matched>,
}

impl Draw {
    /// The wide hierarchical prior as published.
    pub const WIDE: Draw = Draw { region: Region::Wide, stretch: 1.0, matched: None };

    /// The same with another region.
    #[must_use]
    pub const fn from_region(region: Region) -> Draw {
        Draw { region, stretch: 1.0, matched: None }
    }

    /// The same with the wide prior settled for one object: wholly usual, wholly shifted, or a mixture that leans to one
    /// side part by part. A prior that only mixed would hardly ever meet an object that is shifted in everything.
    #[must_use]
    pub fn settled(self, rng: &mut Pcg64) -> Draw {
        if self.region != Region::Wide {
            return self;
        }
        let place = rng.random::<f64>();
        let region = if place < WHOLE_SHARE {
            Region::Narrow
        } else if place < 2.0 * WHOLE_SHARE {
            Region::Shifted
        } else {
            Region::Wide
        };
        Draw { region, ..self }
    }

    /// Which way this object leans.
    pub fn lean(&self, rng: &mut Pcg64) -> Lean {
        match self.region {
            Region::Narrow => Lean::Shifted(0.0),
            Region::Shifted => Lean::Shifted(1.0),
            Region::Wide => Lean::Shifted(rng.random::<f64>()),
            Region::Ends => Lean::High(rng.random::<f64>()),
            Region::Beyond => Lean::Beyond,
            Region::Under => Lean::Under,
        }
    }

    /// The lean of what is not the finish itself: beyond the wide prior of a finish, everything else stays wide.
    pub fn nuisance_lean(&self, rng: &mut Pcg64) -> Lean {
        match self.region {
            Region::Ends | Region::Beyond | Region::Under => Lean::Shifted(rng.random::<f64>()),
            _ => self.lean(rng),
        }
    }

    /// One value of `parameter` for an object of this lean.
    pub fn value(&self, parameter: &Parameter, lean: Lean, rng: &mut Pcg64) -> f64 {
        let scale = parameter.scale;
        match lean {
            Lean::Beyond => scale.draw(parameter.beyond, self.stretch, rng),
            Lean::Under => scale.at(parameter.whole(), LOWEST.draw(rng), rng),
            Lean::High(chance) => {
                let end = OUTER.draw(rng);
                let place = if rng.random::<f64>() < chance { end } else { 1.0 - end };
                scale.at(parameter.whole(), place, rng)
            }
            Lean::Shifted(chance) => {
                let range = if rng.random::<f64>() < chance {
                    let which = rng.random_range(0..parameter.shifted.len().max(1));
                    parameter.shifted.get(which).copied().unwrap_or(parameter.narrow)
                } else {
                    parameter.narrow
                };
                scale.draw(range, self.stretch, rng)
            }
        }
    }
}

/// Where values at the high end lie, as a place on the wide range: its outer quarter, and as much again beyond it (ours).
const OUTER: Span = span(0.75, 1.25);
/// Where values of the test range below lie: about as far as [`Parameter::beyond`] reaches at the other end.
const LOWEST: Span = span(-0.2, 0.1);

impl Parameter {
    /// The range of the wide prior, from the lowest end to the highest.
    fn whole(&self) -> Span {
        let join = |all: Span, one: &Span| span(all.low.min(one.low), all.high.max(one.high));
        self.shifted.iter().fold(self.narrow, join)
    }
}

impl Scale {
    fn draw(self, range: Span, stretch: f64, rng: &mut Pcg64) -> f64 {
        self.at(range, 0.5 + (rng.random::<f64>() - 0.5) * stretch, rng)
    }

    /// The value at a place of a range: 0 is its low end, 1 its high end. A chance is drawn from.
    fn at(self, range: Span, u: f64, rng: &mut Pcg64) -> f64 {
        match self {
            Scale::Log => (range.low.ln() + u * (range.high / range.low).ln()).exp(),
            Scale::Linear => (range.low + u * (range.high - range.low)).max(range.low.min(0.0)),
            Scale::Count => (range.low + u.clamp(0.0, 0.999_999) * (range.high - range.low + 1.0)).floor(),
            Scale::Chance => {
                f64::from(u8::from(rng.random::<f64>() < range.low + u * (range.high - range.low)))
            }
        }
    }
}

impl Span {
    /// A value from the range, evenly in the logarithm.
    pub fn log_draw(self, rng: &mut Pcg64) -> f64 {
        Scale::Log.draw(self, 1.0, rng)
    }

    /// A value from the range, evenly.
    pub fn draw(self, rng: &mut Pcg64) -> f64 {
        self.low + rng.random::<f64>() * (self.high - self.low)
    }
}

/// Source line of a range that rests on the trade alone.
pub const COMMON_PRACTICE: &str = "common practice, no source";

/// Parameters every finish has: width of a scratch and how densely scratches lie.
#[must_use]
pub fn common_parameters() -> &'static [Parameter] {
    &COMMON
}

static COMMON: [Parameter; 3] = [
    Parameter {
        name: "scratch_width_um",
        unit: "µm",
        scale: Scale::Log,
        narrow: span(2.0, 40.0),
        shifted: &[span(1.0, 20.0)],
        beyond: span(25.0, 65.0),
        source: "common practice, no source; about the grain sizes of FEPA P / ISO 6344 from P240 to finer than P2500",
    },
    Parameter {
        name: "spacing_in_widths",
        unit: "",
        scale: Scale::Log,
        narrow: span(3.0, 40.0),
        shifted: &[span(2.0, 15.0)],
        beyond: span(30.0, 70.0),
        source: COMMON_PRACTICE,
    },
    Parameter {
        name: "width_log_sd",
        unit: "",
        scale: Scale::Linear,
        narrow: span(0.2, 0.5),
        shifted: &[span(0.3, 0.7)],
        beyond: span(0.6, 0.9),
        source: "common practice, no source; the largest grain of a graded powder is 2-5 times its median (JIS R 6001)",
    },
];

/// A standard normal number.
pub fn normal(rng: &mut Pcg64) -> f64 {
    // Box-Muller, one of the pair: cheap enough, and no state is carried from one draw to the next.
    let u = 1.0 - rng.random::<f64>();
    (-2.0 * u.ln()).sqrt() * (std::f64::consts::TAU * rng.random::<f64>()).cos()
}

/// +1 or −1.
pub fn either_sign(rng: &mut Pcg64) -> f64 {
    if rng.random::<f64>() < 0.5 { -1.0 } else { 1.0 }
}

/// An angle anywhere on the circle, radians.
pub fn any_angle(rng: &mut Pcg64) -> f64 {
    rng.random::<f64>() * std::f64::consts::TAU
}
