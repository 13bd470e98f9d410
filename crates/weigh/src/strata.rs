//! Which objects the engine is trained on: the stated wide prior, and a guard that reaches further.

use finish::models::{Draw, Finish, Matched, Region, span};
use rand::RngExt;
use rand_pcg::Pcg64;

/// Stratum of the stated wide prior.
pub const WIDE: usize = 0;
/// Stratum in which radius, stroke length and number of sets agree between finishes.
pub const MATCHED: usize = 1;
/// Stratum of random agreements of the same kind.
pub const FAMILY: usize = 2;
/// Stratum beyond the stated prior: every range stretched.
pub const HALO: usize = 3;
/// Stratum of objects whose parameters lie at the ends of their ranges and beyond, all of them together: a halo that
/// stretches each range by itself hardly ever meets them.
pub const ENDS: usize = 4;
/// Number of strata.
pub const N_STRATA: usize = 5;

/// The matched stratum of the feasibility study (§0, finding 5): radii 30-90 mm, strokes 2-8 mm, one set.
pub const STUDY_MATCHED: Matched =
    Matched { radius_mm: span(30.0, 90.0), stroke_mm: span(2.0, 8.0), spread_deg: span(2.0, 10.0) };

/// By how much the ranges of the guard are stretched about their middle, in the scale of each range (ours: a range of
/// one decade gains a factor 5 at either end).
pub const HALO_STRETCH: f64 = 2.4;

/// Of ten objects, how many come from each stratum.
const SHARES: [usize; N_STRATA] = [6, 1, 1, 1, 1];

/// The draw of object `index`.
pub fn training_draw(_finish: Finish, index: usize, rng: &mut Pcg64) -> (usize, Draw) {
    let mut place = index % 10;
    let mut stratum = 0;
    while place >= SHARES[stratum] {
        place -= SHARES[stratum];
        stratum += 1;
    }
    (stratum, draw_of(stratum, rng))
}

/// A draw from a stratum.
pub fn draw_of(stratum: usize, rng: &mut Pcg64) -> Draw {
    match stratum {
        MATCHED => Draw { matched: Some(STUDY_MATCHED), ..Draw::WIDE },
        FAMILY => {
            let radius = 15.0 * (10.0_f64).powf(rng.random::<f64>());
            let stroke = (10.0_f64).powf(1.2 * rng.random::<f64>());
            let matched = Matched {
                radius_mm: span(radius, 1.6 * radius),
                stroke_mm: span(stroke, 2.0 * stroke),
                spread_deg: span(1.0, 12.0),
            };
            Draw { matched: Some(matched), ..Draw::WIDE }
        }
        HALO => Draw { region: Region::Wide, stretch: HALO_STRETCH, matched: None },
        ENDS => Draw::from_region(Region::Ends),
        _ => Draw::WIDE,
    }
}
