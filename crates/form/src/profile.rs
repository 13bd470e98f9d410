//! The shape of one groove or scratch in cross-section, and the parameters of a roughness profile.

use quantity::Measured;

use crate::MeasureError;

/// One wall of a groove in cross-section.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ProfileWall {
    /// Where the wall, carried on straight, meets the surface beside the groove.
    pub edge: Measured,
    /// Angle of the wall to that surface, degrees: 90 is upright, more is undercut; `None` with too few points on it.
    pub angle_deg: Option<f64>,
}

/// A groove in cross-section, lengths in the unit of its points.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ProfileShape {
    /// Deepest point below the surface beside the groove.
    pub depth: Measured,
    /// Distance between the edges.
    pub width: Measured,
    /// Area below the surface.
    pub area: f64,
    /// Area of what stands above the surface along the edges (pile-up).
    pub pile_up: f64,
    /// The wall at smaller `t`.
    pub left: ProfileWall,
    /// The wall at larger `t`.
    pub right: ProfileWall,
    /// Where the deepest point lies.
    pub bottom: f64,
    /// Standard deviation of the surface beside the groove about its straight line.
    pub shoulder_sd: f64,
}

/// A wall is measured between these shares of the depth: edges are worn and corners rounded (our choice).
const WALL: [f64; 2] = [0.2, 0.8];

/// Shape of a groove from points `[t, z]` of its cross-section, in order, `t` across and `z` out of the stone.
///
/// The surface beside the groove is a straight line through the outer `shoulder_share` of the section at either end.
///
/// # Errors
/// [`MeasureError::BadSetting`] unless `0 < shoulder_share < 0.45`, [`MeasureError::TooFewPoints`] with fewer than three
/// points on a shoulder, [`MeasureError::Degenerate`] if nothing lies below the surface.
///
/// # Source
/// Straight lines by least squares; definitions ours: depth at the deepest point, edges where the walls carried on
/// straight meet the surface.
pub fn profile_shape(points: &[[f64; 2]], shoulder_share: f64) -> Result<ProfileShape, MeasureError> {
    if !(shoulder_share > 0.0 && shoulder_share < 0.45) {
        return Err(MeasureError::BadSetting {
            name: "share of the section that is surface beside the groove",
            found: shoulder_share,
            needed: "between 0 and 0.45",
        });
    }
    let (low, high) =
        points.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), p| (l.min(p[0]), h.max(p[0])));
    let shoulder = shoulder_share * (high - low);
    let left_shoulder = |p: &&[f64; 2]| p[0] <= low + shoulder;
    let right_shoulder = |p: &&[f64; 2]| p[0] >= high - shoulder;
    for found in [points.iter().filter(left_shoulder).count(), points.iter().filter(right_shoulder).count()] {
        if found < 3 {
            return Err(MeasureError::TooFewPoints { what: "the surface beside a groove", found, needed: 3 });
        }
    }
    let beside: Vec<[f64; 2]> =
        points.iter().filter(|p| left_shoulder(p) || right_shoulder(p)).copied().collect();
    let line = robust_line(&beside);
    let below = |p: &[f64; 2]| p[1] - line.at(p[0]);
    let level: Vec<[f64; 2]> = points.iter().map(|p| [p[0], below(p)]).collect();
    let inside = |p: &[f64; 2]| p[0] > low + shoulder && p[0] < high - shoulder;
    let bottom =
        (0..level.len()).filter(|&k| inside(&level[k])).min_by(|&a, &b| level[a][1].total_cmp(&level[b][1]));
    let bottom = bottom.filter(|&k| level[k][1] < 0.0).ok_or(MeasureError::Degenerate {
        what: "groove",
        fault: "nothing lies below the surface beside it; check the path and the width looked at",
    })?;
    let depth = -level[bottom][1];
    let reference_u = line.u_at(level[bottom][0]);
    let left = wall(level[..=bottom].iter().rev(), depth, line.sd);
    let right = wall(level[bottom..].iter(), depth, line.sd).map(|(edge, cot)| (edge, -cot));
    let fault =
        MeasureError::Degenerate { what: "groove", fault: "a wall does not rise to the surface beside it" };
    let (left, right) = (left.ok_or_else(|| fault.clone())?, right.ok_or(fault)?);
    let (area, pile_up) = areas(&level, left.0.value, right.0.value);
    let cut = |(edge, cot): (Measured, f64)| ProfileWall {
        edge,
        angle_deg: cot.is_finite().then(|| 1_f64.atan2(-cot).to_degrees()),
    };
    Ok(ProfileShape {
        depth: Measured { value: depth, u: line.sd.hypot(reference_u) },
        width: Measured { value: right.0.value - left.0.value, u: left.0.u.hypot(right.0.u) },
        area,
        pile_up,
        left: cut(left),
        right: cut(right),
        bottom: level[bottom][0],
        shoulder_sd: line.sd,
    })
}

/// The edge of a wall walked upwards from the bottom, and the wall's run per rise (NaN if it has too few points).
fn wall<'a>(upwards: impl Iterator<Item = &'a [f64; 2]>, depth: f64, noise: f64) -> Option<(Measured, f64)> {
    let mut on_wall: Vec<[f64; 2]> = Vec::new();
    let mut last: Option<[f64; 2]> = None;
    let mut half: Option<f64> = None;
    let mut reached = false;
    for &[t, z] in upwards {
        if let Some([lt, lz]) = last
            && half.is_none()
            && z >= -depth / 2.0
        {
            half = Some(lt + (t - lt) * (-depth / 2.0 - lz) / (z - lz));
        }
        last = Some([t, z]);
        if z > -WALL[0] * depth {
            reached = true;
            break;
        }
        if z <= -WALL[1] * depth {
            // Down again: what was passed was a bump of the floor.
            on_wall.clear();
            half = None;
        } else {
            on_wall.push([t, z]);
        }
    }
    if !reached {
        return None;
    }
    let half = half?;
    let spread = |k: usize| {
        let values = on_wall.iter().map(|p| p[k]);
        values.clone().fold(f64::NEG_INFINITY, f64::max) - values.fold(f64::INFINITY, f64::min)
    };
    if on_wall.len() < 3 {
        return Some((Measured { value: half, u: noise }, f64::NAN));
    }
    // Heights carry the noise, so they are fitted over the places; only for a steep wall the other way round.
    if spread(0) >= spread(1) {
        let line = least_squares(&on_wall);
        let edge = -line.at(0.0) / line.slope;
        let value = if edge.is_finite() { edge } else { half };
        Some((Measured { value, u: line.u_at(value) / line.slope.abs() }, 1.0 / line.slope))
    } else {
        let turned: Vec<[f64; 2]> = on_wall.iter().map(|p| [p[1], p[0]]).collect();
        let line = least_squares(&turned);
        Some((Measured { value: line.at(0.0), u: line.u_at(0.0) }, line.slope))
    }
}

/// Area below the surface between the edges, and above it anywhere outside them.
fn areas(level: &[[f64; 2]], left: f64, right: f64) -> (f64, f64) {
    let (mut below, mut above) = (0.0, 0.0);
    for pair in level.windows(2) {
        let ([ta, za], [tb, zb]) = (pair[0], pair[1]);
        let (middle, strip) = ((ta + tb) / 2.0, (tb - ta) * (za + zb) / 2.0);
        if (left..=right).contains(&middle) {
            below -= strip;
        } else if za + zb > 0.0 {
            above += strip;
        }
    }
    (below, above)
}

/// A straight line with what is needed for its uncertainty.
struct Line {
    middle: f64,
    height: f64,
    slope: f64,
    sd: f64,
    count: f64,
    squares: f64,
}

impl Line {
    fn at(&self, t: f64) -> f64 {
        self.height + self.slope * (t - self.middle)
    }

    fn u_at(&self, t: f64) -> f64 {
        let lever = if self.squares > 0.0 { (t - self.middle).powi(2) / self.squares } else { 0.0 };
        self.sd * (1.0 / self.count + lever).sqrt()
    }
}

fn least_squares(points: &[[f64; 2]]) -> Line {
    let count = points.len() as f64;
    let middle = points.iter().map(|p| p[0]).sum::<f64>() / count;
    let height = points.iter().map(|p| p[1]).sum::<f64>() / count;
    let squares: f64 = points.iter().map(|p| (p[0] - middle).powi(2)).sum();
    let products: f64 = points.iter().map(|p| (p[0] - middle) * (p[1] - height)).sum();
    let slope = if squares > 0.0 { products / squares } else { 0.0 };
    let left: f64 = points.iter().map(|p| (p[1] - height - slope * (p[0] - middle)).powi(2)).sum();
    Line { middle, height, slope, sd: (left / (count - 2.0).max(1.0)).sqrt(), count, squares }
}

/// Least squares, twice more without what lies beyond three standard deviations (chips and dust on the shoulders).
fn robust_line(points: &[[f64; 2]]) -> Line {
    let mut line = least_squares(points);
    for _ in 0..2 {
        let kept: Vec<[f64; 2]> =
            points.iter().filter(|p| (p[1] - line.at(p[0])).abs() <= 3.0 * line.sd).copied().collect();
        if kept.len() >= points.len() / 2 && kept.len() >= 3 {
            line = least_squares(&kept);
        }
    }
    line
}

/// Names and values of the roughness parameters of one profile about its mean line: Ra, Rq, Rsk, Rku, Rp, Rv, Rt.
///
/// Evaluated over the whole profile as given (the evaluation length), as ISO 21920-2:2021 does; ISO 4287:1997
/// averages over sampling lengths instead.
///
/// # Errors
/// [`MeasureError::TooFewPoints`] below two heights.
///
/// # Source
/// ISO 21920-2:2021, formulas from memory, source not seen; checked in `tests/published/texture.json`.
pub fn profile_parameters(z: &[f64]) -> Result<[(&'static str, f64); 7], MeasureError> {
    if z.len() < 2 {
        return Err(MeasureError::TooFewPoints { what: "a profile", found: z.len(), needed: 2 });
    }
    let count = z.len() as f64;
    let mean = z.iter().sum::<f64>() / count;
    let moment = |power: i32| z.iter().map(|z| (z - mean).powi(power)).sum::<f64>() / count;
    let ra = z.iter().map(|z| (z - mean).abs()).sum::<f64>() / count;
    let rq = moment(2).sqrt();
    let rp = z.iter().fold(f64::NEG_INFINITY, |a, z| a.max(z - mean));
    let rv = z.iter().fold(f64::NEG_INFINITY, |a, z| a.max(mean - z));
    let (rsk, rku) = (moment(3) / rq.powi(3), moment(4) / rq.powi(4));
    Ok([("Ra", ra), ("Rq", rq), ("Rsk", rsk), ("Rku", rku), ("Rp", rp), ("Rv", rv), ("Rt", rp + rv)])
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A trapezoid on a sloping surface: walls of 60° and 45°, floor 4 wide, 3 deep.
    #[test]
    fn a_trapezoid_measures_as_drawn() {
        let run = 3.0 / 60_f64.to_radians().tan();
        let height = |t: f64| {
            let z = if t < -2.0 - run || t > 5.0 {
                0.0
            } else if t < -2.0 {
                -(t + 2.0 + run) * 60_f64.to_radians().tan()
            } else if t < 2.0 {
                -3.0
            } else {
                t - 5.0
            };
            z + 0.001 * t
        };
        let points: Vec<[f64; 2]> =
            (0..=2000).map(|k| f64::from(k) * 0.01 - 10.0).map(|t| [t, height(t)]).collect();
        let shape = profile_shape(&points, 0.2).unwrap();
        assert!((shape.depth.value - 3.0).abs() < 0.01, "{shape:?}");
        assert!((shape.width.value - (7.0 + run)).abs() < 0.01, "{shape:?}");
        assert!((shape.left.angle_deg.unwrap() - 60.0).abs() < 0.2, "{shape:?}");
        assert!((shape.right.angle_deg.unwrap() - 45.0).abs() < 0.2, "{shape:?}");
        assert!((shape.area - (12.0 + 1.5 * run + 4.5)).abs() < 0.05, "{shape:?}");
    }

    #[test]
    fn an_undercut_wall_leans_beyond_upright() {
        // Left wall undercut by 0.5 over a depth of 2: the line comes back under the edge.
        let corners = [[-5.0, 0.0], [-1.0, 0.0], [-1.5, -2.0], [1.0, -2.0], [1.0, 0.0], [5.0, 0.0]];
        let mut points = Vec::new();
        for pair in corners.windows(2) {
            for k in 0..50 {
                let share = f64::from(k) / 50.0;
                points.push([0, 1].map(|axis: usize| pair[0][axis] * (1.0 - share) + pair[1][axis] * share));
            }
        }
        let shape = profile_shape(&points, 0.2).unwrap();
        assert!(
            (shape.left.angle_deg.unwrap() - (180.0 - 2_f64.atan2(0.5).to_degrees())).abs() < 0.5,
            "{shape:?}"
        );
        assert!((shape.width.value - 2.0).abs() < 0.02, "{shape:?}");
    }

    #[test]
    fn a_flat_section_has_no_groove() {
        let points: Vec<[f64; 2]> = (0..50).map(|k| [f64::from(k), 0.0]).collect();
        assert!(matches!(profile_shape(&points, 0.2), Err(MeasureError::Degenerate { .. })));
        assert!(profile_shape(&points, 0.5).is_err());
        assert!(profile_shape(&points[..4], 0.2).is_err());
    }
}
