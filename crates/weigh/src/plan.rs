//! Planning a visit: how many fields, how wide, under which light, to tell two finishes apart.

use crate::engine::{Engine, Options};
use crate::geometry::{FieldGeometry, Geometry, Lit};
use crate::rules::PairRule;
use crate::visit::CannotWeigh;
use finish::models::Finish;
use quantity::counted;
use std::fmt;

/// The instrument a planner owns.
#[derive(Debug, Clone, PartialEq)]
pub struct Instrument {
    /// Width of its pictures, px.
    pub width_px: u32,
    /// Height of its pictures, px.
    pub height_px: u32,
    /// Scales it can be set to, µm/px.
    pub um_per_px: Vec<f64>,
    /// Its blur as a Gaussian sigma, px.
    pub blur_px: f64,
    /// Sagitta share of a straight line after calibration; `None` if the lens is not checked.
    pub lens_residual: Option<f64>,
}

/// Light of one planned field.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PlannedLight {
    /// From one side.
    OneSide,
    /// From two sides at right angles, two pictures of each field.
    TwoSides,
    /// A ring of light.
    Ring,
}

/// What is asked and what there is.
#[derive(Debug, Clone, PartialEq)]
pub struct Question {
    /// Pairs of finishes to be told apart, all of them.
    pub pairs: Vec<(Finish, Finish)>,
    /// The instrument.
    pub instrument: Instrument,
    /// Lights at hand.
    pub lights: Vec<PlannedLight>,
    /// Time before the object, minutes.
    pub minutes: f64,
    /// Time to set up at one station, minutes.
    pub minutes_per_station: f64,
    /// Time for one picture, minutes.
    pub minutes_per_picture: f64,
    /// Most stations that may be used.
    pub most_stations: usize,
    /// Chance wanted of a ratio of ten or more the right way.
    pub probability: f64,
}

/// One way to spend the visit.
#[derive(Debug, Clone, PartialEq)]
pub struct Plan {
    /// Number of stations.
    pub stations: usize,
    /// Fields in all.
    pub fields: usize,
    /// Width of a field, mm.
    pub width_mm: f64,
    /// Scale, µm/px.
    pub um_per_px: f64,
    /// Light.
    pub light: PlannedLight,
    /// Time it takes, minutes.
    pub minutes: f64,
    /// Chance of a ratio of ten or more the right way: worst pair, worse truth, under the wide prior.
    pub right: f64,
    /// Chance of a ratio of ten or more the wrong way: worst pair, worst stratum.
    pub wrong: f64,
    /// Chance of a ratio of ten or more the right way in the least favourable stratum.
    pub least_favourable: f64,
    /// The pair that decides.
    pub hardest_pair: (Finish, Finish),
}

/// Plans, cheapest first.
#[derive(Debug, Clone, PartialEq)]
pub struct Plans {
    /// Plans that reach the wanted chance within the time, cheapest first.
    pub enough: Vec<Plan>,
    /// The best of the plans that do not.
    pub best_otherwise: Option<Plan>,
    /// Plans that were tried.
    pub tried: usize,
    /// In words.
    pub words: String,
}

/// Numbers of fields that are tried.
const FIELDS: [usize; 5] = [1, 2, 4, 8, 12];
/// Plans that are enough to stop at.
const WANTED: usize = 3;
/// Fields at one station.
const FIELDS_PER_STATION: usize = 2;

impl fmt::Display for PlannedLight {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            PlannedLight::OneSide => "light from one side",
            PlannedLight::TwoSides => "light from two sides at right angles",
            PlannedLight::Ring => "ring light",
        })
    }
}

impl PlannedLight {
    fn pictures(self) -> f64 {
        if self == PlannedLight::TwoSides { 2.0 } else { 1.0 }
    }

    fn lit(self) -> Lit {
        // Two sides joined hide about as little as a ring.
        if self == PlannedLight::OneSide { Lit::Unknown } else { Lit::Around }
    }
}

/// Tries plans in order of their time and keeps those that are enough.
///
/// Every chance is counted on simulated objects no model had seen; with `options.objects_per_finish` objects of each
/// finish its standard error is below `0.5/√(0.6·n)`.
///
/// # Errors
/// [`CannotWeigh::Interrupted`] if `watch` says so.
pub fn plan(
    question: &Question,
    options: &Options,
    watch: &(dyn Fn(f64) -> bool + Sync),
) -> Result<Plans, CannotWeigh> {
    let candidates = candidates(question);
    let total = candidates.len().max(1) as f64;
    let mut plans = Plans { enough: Vec::new(), best_otherwise: None, tried: 0, words: String::new() };
    for (index, (geometry, mut plan)) in candidates.into_iter().enumerate() {
        if plans.enough.len() >= WANTED || question.pairs.is_empty() {
            break;
        }
        let part = |share: f64| watch((index as f64 + share) / total);
        let quick = Options { sensitivity: false, ..options.clone() };
        let engine = Engine::for_geometry(&geometry, &quick, &part)?;
        plan.judge(&question.pairs, engine.rules());
        plans.tried += 1;
        if plan.right >= question.probability {
            plans.enough.push(plan);
        } else if plans.best_otherwise.as_ref().is_none_or(|best| plan.right > best.right) {
            plans.best_otherwise = Some(plan);
        }
    }
    plans.words = words(&plans, question);
    Ok(plans)
}

fn candidates(question: &Question) -> Vec<(Geometry, Plan)> {
    let instrument = &question.instrument;
    let mut found = Vec::new();
    for um_per_px in instrument.um_per_px.iter().copied().filter(|scale| scale.is_finite() && *scale > 0.0) {
        for fields in FIELDS {
            for light in question.lights.iter().copied() {
                let stations = fields.div_ceil(FIELDS_PER_STATION);
                let pictures = fields as f64 * light.pictures();
                let minutes =
                    stations as f64 * question.minutes_per_station + pictures * question.minutes_per_picture;
                if minutes > question.minutes || stations > question.most_stations {
                    continue;
                }
                let geometry = geometry(instrument, um_per_px, fields, light);
                let width_mm = f64::from(instrument.width_px) * um_per_px / 1000.0;
                let nobody = Finish::all().next().map(|finish| (finish, finish));
                let Some(hardest_pair) = nobody else { continue };
                found.push((
                    geometry,
                    Plan {
                        stations,
                        fields,
                        width_mm,
                        um_per_px,
                        light,
                        minutes,
                        right: 0.0,
                        wrong: 0.0,
                        least_favourable: 0.0,
                        hardest_pair,
                    },
                ));
            }
        }
    }
    found.sort_by(|a, b| a.1.minutes.total_cmp(&b.1.minutes).then(b.1.width_mm.total_cmp(&a.1.width_mm)));
    found
}

fn geometry(instrument: &Instrument, um_per_px: f64, fields: usize, light: PlannedLight) -> Geometry {
    let mm_per_px = um_per_px / 1000.0;
    let mut geometry = Geometry::equal(
        fields,
        FIELDS_PER_STATION,
        f64::from(instrument.width_px) * mm_per_px,
        f64::from(instrument.width_px),
    );
    for field in &mut geometry.fields {
        *field = FieldGeometry {
            height_mm: f64::from(instrument.height_px) * mm_per_px,
            blur_px: instrument.blur_px,
            lens_residual: instrument.lens_residual,
            light: light.lit(),
            ..*field
        };
    }
    geometry
}

impl Plan {
    fn judge(&mut self, pairs: &[(Finish, Finish)], rules: &[PairRule]) {
        (self.right, self.least_favourable, self.wrong) = (1.0, 1.0, 0.0);
        for (first, second) in pairs {
            let (a, b) = (first.index().min(second.index()), first.index().max(second.index()));
            let Some(rule) = rules.iter().find(|rule| rule.a == a && rule.b == b) else { continue };
            // A pair that is silent by design says nothing right and nothing wrong.
            let right = rule.spoken_power();
            if right < self.right {
                self.right = right;
                self.hardest_pair = (*first, *second);
            }
            self.least_favourable =
                self.least_favourable.min(if right > 0.0 { rule.least_power } else { 0.0 });
            self.wrong = self.wrong.max(if right > 0.0 { rule.wrong } else { 0.0 });
        }
    }

    /// The plan as one sentence that promises no more than the simulations show.
    #[must_use]
    pub fn sentence(&self) -> String {
        format!(
            "{} of {:.1} mm at {}, {}, about {:.0} minutes: under the wide prior a ratio of ten or more in the \
             right direction in at least {:.0} % of simulated objects of either finish, in the wrong direction in {:.1} % at \
             most; in the least favourable stratum {:.0} % right.",
            counted(self.fields, "field"),
            self.width_mm,
            counted(self.stations, "station"),
            self.light,
            self.minutes,
            100.0 * self.right,
            100.0 * self.wrong,
            100.0 * self.least_favourable,
        )
    }
}

fn words(plans: &Plans, question: &Question) -> String {
    if let Some(cheapest) = plans.enough.first() {
        return cheapest.sentence();
    }
    match &plans.best_otherwise {
        Some(best) => format!(
            "No plan within {:.0} minutes reaches {:.0} %. The best tried: {} {} against {} decides.",
            question.minutes,
            100.0 * question.probability,
            best.sentence(),
            best.hardest_pair.0.name(),
            best.hardest_pair.1.name(),
        ),
        None => {
            "No plan fits the time, the stations and the instrument given; allow more time or name a scale."
                .to_string()
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn question(minutes: f64) -> Question {
        let named = |name| Finish::named(name).unwrap();
        Question {
            pairs: vec![(named("orbital-pad"), named("guided-rub"))],
            instrument: Instrument {
                width_px: 2592,
                height_px: 1944,
                um_per_px: vec![2.4, 4.8],
                blur_px: 1.2,
                lens_residual: Some(0.0005),
            },
            lights: vec![PlannedLight::Ring, PlannedLight::TwoSides],
            minutes,
            minutes_per_station: 4.0,
            minutes_per_picture: 1.0,
            most_stations: 6,
            probability: 0.6,
        }
    }

    #[test]
    fn candidates_come_cheapest_first_and_fit_the_time() {
        let found = candidates(&question(20.0));
        assert!(!found.is_empty());
        assert!(found.windows(2).all(|pair| pair[0].1.minutes <= pair[1].1.minutes));
        assert!(found.iter().all(|(_, plan)| plan.minutes <= 20.0 && plan.stations <= 6));
    }

    #[test]
    fn no_time_is_said_in_words() {
        let plans = plan(&question(1.0), &Options::default(), &|_| true).unwrap();
        assert_eq!((plans.tried, plans.enough.len()), (0, 0));
        assert!(plans.words.contains("No plan fits"));
    }

    #[test]
    fn loops_against_lines_is_an_easy_question() {
        let options = Options { objects_per_finish: 150, sensitivity: false, ..Options::default() };
        let mut easy = question(6.0);
        easy.lights = vec![PlannedLight::Ring];
        easy.instrument.um_per_px = vec![2.4];
        let plans = plan(&easy, &options, &|_| true).unwrap();
        let found = plans.enough.first().or(plans.best_otherwise.as_ref()).unwrap();
        assert!(found.right > 0.5, "{}", plans.words);
    }
}
