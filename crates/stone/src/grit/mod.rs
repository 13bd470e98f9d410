//! Grit scales: what a grit number means, and what it does not.

mod tables;

use tables::{CAMI, DIAMOND, FEPA_F, FEPA_P, JIS};

use crate::Source;

/// A grit scale. One number means different sizes on different scales, so a number never goes without its scale.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Scale {
    /// FEPA P, coated abrasives (ISO 6344).
    FepaP,
    /// FEPA F, bonded abrasives and loose grains (ISO 8486).
    FepaF,
    /// CAMI, coated abrasives in North America.
    Cami,
    /// JIS R 6001, fine powders by electrical resistance.
    Jis,
    /// Diamond grains by sieves, FEPA D (ISO 6106).
    Diamond,
}

impl Scale {
    /// All scales.
    pub const ALL: [Self; 5] = [Self::FepaP, Self::FepaF, Self::Cami, Self::Jis, Self::Diamond];

    /// Name as shown.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::FepaP => "FEPA P",
            Self::FepaF => "FEPA F",
            Self::Cami => "CAMI",
            Self::Jis => "JIS R 6001",
            Self::Diamond => "FEPA D",
        }
    }

    /// Where its table comes from.
    #[must_use]
    pub fn source(self) -> Source {
        match self {
            Self::FepaP => Source::seen(
                "FEPA 43-1 / ISO 6344 mean sizes, two pages that agree; P3000 and P5000 are not on them and from memory",
            ),
            Self::FepaF => Source::memory("FEPA 42-1 / ISO 8486 mean sizes"),
            Self::Cami => {
                Source::seen("CAMI mean sizes, two pages that differ slightly; the range holds both")
            }
            Self::Jis => Source::seen("JIS R 6001:1987 fine powders, median by electrical resistance"),
            Self::Diamond => Source::seen("ISO 6106 / FEPA 61 sieve apertures"),
        }
    }

    /// The grades of the scale, coarse to fine.
    #[must_use]
    pub fn grades(self) -> Vec<Grade> {
        let of = |number, low_um, high_um| Grade { scale: self, number, low_um, high_um };
        let listed: Vec<Grade> = match self {
            Self::FepaP => FEPA_P.iter().map(|&(n, um)| of(n, um, um)).collect(),
            Self::FepaF => FEPA_F.iter().map(|&(n, um)| of(n, um, um)).collect(),
            Self::Cami => CAMI.iter().map(|&(n, a, b)| of(n, a, b)).collect(),
            Self::Jis => JIS
                .iter()
                .map(|row| of(row.number, row.d50_um - row.tolerance_um, row.d50_um + row.tolerance_um))
                .collect(),
            Self::Diamond => DIAMOND.iter().map(|row| of(row.code, row.passes_um, row.stops_um)).collect(),
        };
        listed.into_iter().map(Grade::ordered).collect()
    }
}

/// A grade of one scale.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Grade {
    /// Its scale.
    pub scale: Scale,
    /// Its number (for diamond the number after D).
    pub number: u32,
    /// Smallest mean size, µm; equal to the largest where the scale gives one value.
    pub low_um: f64,
    /// Largest mean size, µm.
    pub high_um: f64,
}

/// Why a grit cannot be looked up.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum GritError {
    /// A number without a scale.
    #[error(
        "'{text}' names no scale: {number} is a different size on each ({meanings}); write P{number}, F{number}, CAMI {number}, JIS {number} or D{number}"
    )]
    NoScale {
        /// What was written.
        text: String,
        /// The number in it.
        number: u32,
        /// What it would mean.
        meanings: String,
    },
    /// A number the scale does not have.
    #[error("{scale} has no grade {number}; the nearest are {nearest}")]
    NoGrade {
        /// Name of the scale.
        scale: &'static str,
        /// The number asked for.
        number: u32,
        /// Grades beside it.
        nearest: String,
    },
    /// Two sieves that no grade lies between.
    #[error("no grade lies between the sieves {} and {} mesh; the pairs are {known}", sieves[0], sieves[1])]
    NoSieves {
        /// US mesh numbers.
        sieves: [u32; 2],
        /// The pairs there are.
        known: String,
    },
    /// Not a grit at all.
    #[error("'{0}' is not a grit; write for example P400, F220, CAMI 400, JIS 1000, D64 or 200/230 mesh")]
    NotAGrit(String),
}

impl Grade {
    /// A grade by scale and number.
    ///
    /// # Errors
    /// [`GritError::NoGrade`] with the grades beside it.
    pub fn new(scale: Scale, number: u32) -> Result<Self, GritError> {
        let grades = scale.grades();
        let found = grades.iter().find(|grade| grade.number == number);
        found.copied().ok_or_else(|| {
            let mut by_distance = grades;
            by_distance.sort_by_key(|grade| grade.number.abs_diff(number));
            let nearest: Vec<String> =
                by_distance.iter().take(2).map(|grade| grade.number.to_string()).collect();
            GritError::NoGrade { scale: scale.name(), number, nearest: nearest.join(" and ") }
        })
    }

    /// A grade as written: `P400`, `F220`, `CAMI 400`, `JIS 1000`, `D64`, or the two sieves of a diamond grade, `200/230 mesh`.
    ///
    /// # Errors
    /// [`GritError::NoScale`] for a bare number, [`GritError::NoGrade`], [`GritError::NotAGrit`].
    pub fn parse(text: &str) -> Result<Self, GritError> {
        let written = text.trim();
        let not_a_grit = || GritError::NotAGrit(written.chars().take(40).collect());
        if let Some(sieves) = two_sieves(written) {
            return Self::between_sieves(sieves);
        }
        let digits = written.find(|c: char| c.is_ascii_digit()).ok_or_else(not_a_grit)?;
        let (prefix, number) = written.split_at(digits);
        let number: u32 = number.parse().map_err(|_| not_a_grit())?;
        let scale = match prefix.trim().trim_end_matches('#').trim().to_ascii_uppercase().as_str() {
            "P" | "FEPA P" => Scale::FepaP,
            "F" | "FEPA F" => Scale::FepaF,
            "CAMI" => Scale::Cami,
            "JIS" => Scale::Jis,
            "D" | "FEPA D" => Scale::Diamond,
            "" => {
                return Err(GritError::NoScale {
                    text: written.to_owned(),
                    number,
                    meanings: meanings(number),
                });
            }
            _ => return Err(not_a_grit()),
        };
        Self::new(scale, number)
    }

    /// The diamond grade that falls through the first sieve and stays on the second, US mesh numbers.
    fn between_sieves(sieves: [u32; 2]) -> Result<Self, GritError> {
        match DIAMOND.iter().find(|row| row.mesh == sieves) {
            Some(row) => Self::new(Scale::Diamond, row.code),
            None => {
                let known: Vec<String> =
                    DIAMOND.iter().map(|row| format!("{}/{}", row.mesh[0], row.mesh[1])).collect();
                Err(GritError::NoSieves { sieves, known: known.join(", ") })
            }
        }
    }

    /// The grade as written.
    #[must_use]
    pub fn name(&self) -> String {
        match self.scale {
            Scale::FepaP => format!("P{}", self.number),
            Scale::FepaF => format!("F{}", self.number),
            Scale::Diamond => format!("D{}", self.number),
            Scale::Cami | Scale::Jis => format!("{} {}", self.scale.name(), self.number),
        }
    }

    /// Middle of its mean sizes, µm.
    #[must_use]
    pub fn size_um(&self) -> f64 {
        (self.low_um + self.high_um) / 2.0
    }

    /// The grades of another scale nearest to it in size, with the caution that goes with every such comparison.
    #[must_use]
    pub fn compared(&self, scale: Scale) -> Comparison {
        let size = self.size_um();
        let apart = |grade: &Grade| (grade.size_um() / size).ln().abs();
        let mut grades = scale.grades();
        grades.sort_by(|a, b| apart(a).total_cmp(&apart(b)));
        let nearest = grades.first().copied().unwrap_or(*self);
        let ratio = nearest.size_um() / size;
        // Neighbouring grades lie about a quarter apart: more than half of that is no counterpart any more.
        let counterpart = (0.85..=1.18).contains(&ratio);
        let caution = if counterpart {
            format!(
                "{} and {} are about the same mean size; the scales sort grains in different ways.",
                self.name(),
                nearest.name()
            )
        } else {
            format!(
                "{} has no counterpart of {}; the nearest, {}, is {ratio:.2} times as large.",
                scale.name(),
                self.name(),
                nearest.name()
            )
        };
        Comparison { nearest, ratio, counterpart, caution }
    }

    fn ordered(self) -> Self {
        Self { low_um: self.low_um.min(self.high_um), high_um: self.low_um.max(self.high_um), ..self }
    }
}

/// One scale's grade beside another's.
#[derive(Debug, Clone, PartialEq)]
pub struct Comparison {
    /// The nearest grade of the other scale.
    pub nearest: Grade,
    /// Its size over the size asked for.
    pub ratio: f64,
    /// Whether it is near enough to be called a counterpart.
    pub counterpart: bool,
    /// In words.
    pub caution: String,
}

/// The numbers of `200/230 mesh`, the word before, behind or left out.
fn two_sieves(written: &str) -> Option<[u32; 2]> {
    let lower = written.to_ascii_lowercase();
    let (coarse, fine) = lower.trim_start_matches("mesh").trim_end_matches("mesh").split_once('/')?;
    Some([coarse.trim().parse().ok()?, fine.trim().parse().ok()?])
}

/// Sizes that one number means on the scales that have it.
fn meanings(number: u32) -> String {
    let on = |scale: &Scale| {
        let grade = Grade::new(*scale, number).ok()?;
        Some(format!("{} {:.0} µm", scale.name(), grade.size_um()))
    };
    let known: Vec<String> = Scale::ALL.iter().filter_map(on).collect();
    if known.is_empty() { "none of the scales here has it".to_owned() } else { known.join(", ") }
}

/// Distribution of a JIS fine powder.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct JisPowder {
    /// Grade number.
    pub number: u32,
    /// Median size and its tolerance, µm.
    pub d50_um: f64,
    /// See `d50_um`.
    pub tolerance_um: f64,
    /// Largest grain allowed, µm: 2 to 5 times the median, so that one stray scratch does not name the grit.
    pub largest_um: f64,
    /// At most 3 % of the volume is larger than this, µm.
    pub d3_um: f64,
    /// At least 94 % (75 % for 8000) is larger than this, µm.
    pub d94_um: f64,
}

/// A diamond grade by its sieves.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DiamondGrade {
    /// Number after D.
    pub code: u32,
    /// US mesh numbers of the two sieves.
    pub mesh: [u32; 2],
    /// Aperture that lets it through, µm.
    pub passes_um: f64,
    /// Aperture that stops it, µm.
    pub stops_um: f64,
}

/// The JIS fine powders.
#[must_use]
pub fn jis_powders() -> &'static [JisPowder] {
    JIS
}

/// The diamond grades.
#[must_use]
pub fn diamond_grades() -> &'static [DiamondGrade] {
    DIAMOND
}

/// One step of a sequence of polishing pads.
#[derive(Debug, Clone, PartialEq)]
pub struct PadStep {
    /// Number printed on the pad.
    pub number: u32,
    /// Sizes that number would mean, by scale; makers of pads do not say which they follow.
    pub sizes_um: Vec<(Scale, f64)>,
    /// What the step is for.
    pub purpose: &'static str,
}

/// A usual modern sequence of diamond pads on hard stone, from 200 to over 3000, as a worked example: common practice, no source. The numbers
/// on pads follow no standard, so each is shown on every scale that has it.
#[must_use]
pub fn pad_sequence() -> Vec<PadStep> {
    [
        (200, "takes out saw and grinding marks"),
        (400, "takes out the scratches of 200"),
        (800, "last grinding step, the surface turns from rough to matt"),
        (1500, "first shine"),
        (3000, "shine"),
        (6000, "last shine; polishing powder may follow"),
    ]
    .into_iter()
    .map(|(number, purpose)| {
        let size = |scale: &Scale| nearest_size(*scale, number).map(|um| (*scale, um));
        PadStep { number, sizes_um: Scale::ALL[..4].iter().filter_map(size).collect(), purpose }
    })
    .collect()
}

/// Size of a number on a scale, between its neighbours if the scale lacks it; `None` beyond its ends.
fn nearest_size(scale: Scale, number: u32) -> Option<f64> {
    let grades = scale.grades();
    let above = grades.iter().position(|grade| grade.number >= number)?;
    let high = grades.get(above)?;
    if high.number == number {
        return Some(high.size_um());
    }
    let low = grades.get(above.checked_sub(1)?)?;
    let share = f64::from(number - low.number) / f64::from(high.number - low.number);
    // Sizes shrink by ratios from grade to grade.
    Some((low.size_um().ln() * (1.0 - share) + high.size_um().ln() * share).exp())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_bare_number_is_refused_with_what_it_could_mean() {
        let refused = Grade::parse("400").unwrap_err().to_string();
        for part in ["FEPA P 35 µm", "FEPA F 17 µm", "CAMI 23 µm", "JIS R 6001 30 µm"] {
            assert!(refused.contains(part), "{refused}");
        }
        assert_eq!(Grade::parse(" p400 ").unwrap().name(), "P400");
        assert_eq!(Grade::parse("JIS #1000").unwrap().size_um(), 11.5);
        assert_eq!(Grade::parse("D64").unwrap().low_um, 53.0);
        for mesh in ["200/230 mesh", "mesh 200/230", "200 / 230"] {
            assert_eq!(Grade::parse(mesh).unwrap().name(), "D76");
        }
        assert!(Grade::parse("200/400 mesh").unwrap_err().to_string().contains("170/200, 200/230"));
        assert!(Grade::parse("P401").unwrap_err().to_string().contains("nearest are 400"));
        assert!(Grade::parse("fine").is_err() && Grade::parse("P").is_err() && Grade::parse("X400").is_err());
    }

    /// CAMI 400 is about P800: both pages seen say so.
    #[test]
    fn scales_are_compared_by_size_and_never_mixed() {
        let cami = Grade::new(Scale::Cami, 400).unwrap();
        let found = cami.compared(Scale::FepaP);
        assert_eq!(found.nearest.number, 800);
        assert!(found.counterpart && found.caution.contains("different ways"));
        let coarse = Grade::new(Scale::FepaP, 12).unwrap().compared(Scale::Jis);
        assert!(!coarse.counterpart && coarse.caution.contains("no counterpart"));
    }

    #[test]
    fn every_scale_runs_from_coarse_to_fine() {
        for scale in Scale::ALL {
            let grades = scale.grades();
            assert!(grades.windows(2).all(|pair| pair[0].size_um() > pair[1].size_um()), "{}", scale.name());
        }
    }

    #[test]
    fn pads_are_shown_on_every_scale_that_has_them() {
        let steps = pad_sequence();
        assert_eq!(
            steps.iter().map(|step| step.number).collect::<Vec<_>>(),
            [200, 400, 800, 1500, 3000, 6000]
        );
        assert!(steps.windows(2).all(|pair| pair[0].sizes_um[0].1 > pair[1].sizes_um[0].1));
        assert!(
            steps[1].sizes_um.len() == 4 && steps[4].sizes_um.iter().any(|(scale, _)| *scale == Scale::Jis)
        );
    }
}
