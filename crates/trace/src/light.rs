//! Under light from one side all grooves of a picture have their bright side towards one side of the picture. Strong grooves
//! tell which; a line with its bright side the other way is then no groove but what lies between two. Under light from all
//! sides both flanks of a groove look alike; a line with a bright and a dark side is then the edge of one.

use picture::Light;

use crate::course::tangents;
use crate::lattice::BLOCK_PX;
use crate::recentre::Centred;
use crate::template::Parity;

/// Most that one block of a groove counts in reading off the light, squared spreads.
const MOST_VOTE: f32 = 30.0;
/// By how much the votes for one side must outweigh those against it, as a share of all: on rendered stone they do by 0.9 and
/// more under light from one side, by 0.35 and 0.61 under a ring.
const AGREE: f64 = 0.7;
/// Share of all votes that those not along the light are taken for at least: of parallel grooves at odds with one another some
/// always lie to one side of a light along them.
const COUNTED: f64 = 0.8;
/// Least share of grooves with a bright and a dark side among all strong ones, by what they explain: on rendered stone .25 to .92
/// under light from one side that shows a lay, at most .11 under a ring, where a few chance pairs would else decide.
const LEAST_SIDED: f64 = 0.15;
/// Fewest votes, blocks: with fewer, one strong line would speak for all.
const LEAST_VOTES: usize = 150;
/// Sine of the least angle between a groove and the light from which its sides tell the light.
const LEAST_ACROSS: f64 = 0.26;
/// Directions of the light tried, 5° apart.
const DIRECTIONS: u32 = 72;

/// How the grooves of a picture are lit, as far as that is known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Lit {
    OneSided(BrightSide),
    AllRound,
    Unknown,
}

/// Which cross-sections with a bright and a dark side no groove can have along some line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Excluded {
    None,
    Sign(f32),
    Both,
}

impl Excluded {
    pub fn holds(self, sign: f32) -> bool {
        match self {
            Self::None => false,
            Self::Sign(excluded) => sign * excluded > 0.0,
            Self::Both => true,
        }
    }
}

impl Lit {
    /// Reads it off strong grooves; where they do not tell, what was noted of a light from all sides holds.
    pub fn of(grooves: &[Centred], noted: Light) -> Self {
        match (BrightSide::of(grooves), noted) {
            (Some(side), _) => Self::OneSided(side),
            (None, Light::Ring | Light::Coaxial) => Self::AllRound,
            (None, Light::Azimuth(_) | Light::Unknown) => Self::Unknown,
        }
    }

    /// What cannot be a groove along a line.
    pub fn excluded(self, line: &[[f64; 2]]) -> Excluded {
        match self {
            Self::OneSided(side) => side.excluded_sign(line).map_or(Excluded::None, Excluded::Sign),
            Self::AllRound => Excluded::Both,
            Self::Unknown => Excluded::None,
        }
    }
}

/// Where the bright sides of grooves look, a unit vector in the picture.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct BrightSide([f64; 2]);

/// One block of a groove with a bright and a dark side: where its bright side looks, and how much that counts.
type Vote = ([f64; 2], f64);

impl BrightSide {
    /// Reads it off grooves; `None` where they do not agree.
    fn of(grooves: &[Centred]) -> Option<Self> {
        let (sided, even): (Vec<&Centred>, Vec<&Centred>) =
            grooves.iter().partition(|g| g.section.parity == Parity::Odd);
        let worth = |votes: &[Vote]| votes.iter().map(|(_, worth)| worth).sum::<f64>();
        let votes_of =
            |grooves: Vec<&Centred>| -> Vec<Vote> { grooves.into_iter().flat_map(votes).collect() };
        let votes = votes_of(sided);
        let total = worth(&votes);
        if total < LEAST_SIDED * (total + worth(&votes_of(even))) {
            return None;
        }
        let (lead, counted, side) = (0..DIRECTIONS)
            .map(|k| (360.0 * f64::from(k) / f64::from(DIRECTIONS)).to_radians())
            .map(|angle| [angle.cos(), angle.sin()])
            .map(|side| {
                let (lead, counted) = lead(&votes, side);
                (lead, counted, side)
            })
            .fold((0.0, 0.0, [0.0; 2]), |top, this| if this.0 > top.0 { this } else { top });
        let agree = lead > AGREE * counted.max(COUNTED * total);
        (agree && votes.len() > LEAST_VOTES).then_some(Self(side))
    }

    /// The sign that odd cross-sections along a line cannot have, where that is the same for all of it.
    fn excluded_sign(self, line: &[[f64; 2]]) -> Option<f32> {
        let across: Vec<f64> = tangents(line).iter().map(|t| t[0] * self.0[1] - t[1] * self.0[0]).collect();
        if across.iter().all(|a| *a > LEAST_ACROSS) {
            Some(-1.0)
        } else if across.iter().all(|a| *a < -LEAST_ACROSS) {
            Some(1.0)
        } else {
            None
        }
    }
}

fn votes(groove: &Centred) -> Vec<Vote> {
    let worth = f64::from(groove.mean_explained().min(MOST_VOTE)) * BLOCK_PX as f64;
    let sign = f64::from(groove.section.sign);
    tangents(&groove.points_px).into_iter().map(|t| ([-t[1] * sign, t[0] * sign], worth)).collect()
}

/// By how much votes for a side outweigh those against it, and all of them; grooves along the light do not vote.
fn lead(votes: &[Vote], side: [f64; 2]) -> (f64, f64) {
    votes.iter().fold((0.0, 0.0), |(lead, counted), (bright, worth)| {
        let along = bright[0] * side[0] + bright[1] * side[1];
        if along.abs() > LEAST_ACROSS {
            (lead + worth * along.signum(), counted + worth)
        } else {
            (lead, counted)
        }
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::recentre::Section;

    /// A straight groove of 60 blocks whose bright side is to the left of its direction as stored, or to the right.
    fn groove(angle_deg: f64, sign: f32) -> Centred {
        let (sin, cos) = angle_deg.to_radians().sin_cos();
        let points_px = (0..60).map(|i| 8.0 * f64::from(i)).map(|s| [s * cos, s * sin]).collect();
        let section = Section::new(Parity::Odd, 2, sign);
        Centred { points_px, section, evidence: vec![3.0; 60], explained: vec![8.0; 60] }
    }

    #[test]
    fn grooves_of_several_directions_tell_the_light() {
        // Bright sides towards +y: to the left of lines that run towards +x as stored (y down).
        let lit = [groove(10.0, 1.0), groove(-40.0, 1.0), groove(60.0, 1.0), groove(170.0, -1.0)];
        let side = BrightSide::of(&lit).unwrap();
        assert!(side.0[1] > 0.7, "{side:?}");
        assert_eq!(side.excluded_sign(&groove(5.0, 1.0).points_px), Some(-1.0));
        assert_eq!(side.excluded_sign(&groove(185.0, 1.0).points_px), Some(1.0));
        // A whole loop has its bright side on either hand.
        let loop_px: Vec<[f64; 2]> =
            (0..40).map(|i| 0.15 * f64::from(i)).map(|a| [80.0 * a.cos(), 80.0 * a.sin()]).collect();
        assert_eq!(side.excluded_sign(&loop_px), None);
    }

    #[test]
    fn what_was_noted_holds_where_grooves_do_not_tell() {
        let lit = [groove(10.0, 1.0), groove(-40.0, 1.0), groove(60.0, 1.0), groove(170.0, -1.0)];
        assert!(matches!(Lit::of(&lit, Light::Ring), Lit::OneSided(_)));
        assert_eq!(Lit::of(&[], Light::Unknown), Lit::Unknown);
        let ring = Lit::of(&[], Light::Ring);
        let excluded = ring.excluded(&groove(10.0, 1.0).points_px);
        assert!(excluded.holds(1.0) && excluded.holds(-1.0));
    }

    #[test]
    fn grooves_at_odds_or_too_few_tell_nothing() {
        let odds = [groove(10.0, 1.0), groove(12.0, -1.0), groove(9.0, 1.0), groove(11.0, -1.0)];
        assert_eq!(BrightSide::of(&odds), None);
        assert_eq!(BrightSide::of(&[groove(10.0, 1.0)]), None);
    }
}
