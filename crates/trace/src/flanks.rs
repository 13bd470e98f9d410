//! A broad groove under light from one side shows two sides, a bright and a dark one. Where each was followed as a line of its
//! own, the two become the one groove between them. Under a ring both sides are alike, as two grooves are, and stay apart.

use crate::course::{Points, distance, ends_within, length, tangents};
use crate::light::Lit;
use crate::plane::{Plane, quantile};
use crate::recentre::{Bank, Centred, mean};

/// Distance between the two sides of a groove, px: closer ones are one line, and the outer edges of grooves up to 12 px broad are
/// no further apart.
const APART_PX: (f64, f64) = (2.5, 14.0);
/// How evenly the two sides run beside one another, px.
const EVEN_PX: f64 = 1.2;
/// Share of both lines over which they must run beside one another.
const TOGETHER: f64 = 0.75;
/// Least mean evidence per block of a side, null spreads: sides of faint grooves are not told apart.
const LEAST_EVIDENCE: f32 = 2.0;
/// Largest ratio of what the two sides explain.
const UNLIKE: f32 = 4.0;
/// By how much the groove between must explain more than either side where the ends do not speak for it.
const GAIN: f32 = 1.2;
/// How far the axis may lie from the middle between the sides, half pixels.
const MIDDLE_SHIFTS: i32 = 2;

/// Puts one groove in the place of two sides; all other paths stay, in their order.
pub(crate) fn merged(paths: Vec<Centred>, residual: &Plane, bank: &Bank) -> Vec<Centred> {
    if !matches!(bank.lit(), Lit::OneSided(_)) {
        return paths;
    }
    let strong: Vec<usize> = (0..paths.len())
        .filter(|&k| paths.get(k).is_some_and(|p| mean(&p.evidence) > LEAST_EVIDENCE))
        .collect();
    let boxes: Vec<[f64; 4]> = paths.iter().map(|p| bounds(&p.points_px)).collect();
    let mut replaced: Vec<Option<Centred>> = vec![None; paths.len()];
    let mut gone = vec![false; paths.len()];
    for (n, &a) in strong.iter().enumerate() {
        for &b in strong.iter().skip(n + 1) {
            let (Some(first), Some(second)) = (paths.get(a), paths.get(b)) else { continue };
            if gone[a] || gone[b] || !near(&boxes[a], &boxes[b]) {
                continue;
            }
            if let Some(groove) = between(first, second, residual, bank) {
                (gone[a], gone[b]) = (true, true);
                replaced[a] = Some(groove);
            }
        }
    }
    paths
        .into_iter()
        .zip(replaced)
        .zip(gone)
        .filter_map(|((path, groove), gone)| if gone { groove } else { Some(path) })
        .collect()
}

fn bounds(points: &[[f64; 2]]) -> [f64; 4] {
    points.iter().fold([f64::INFINITY, f64::INFINITY, f64::NEG_INFINITY, f64::NEG_INFINITY], |b, p| {
        [b[0].min(p[0]), b[1].min(p[1]), b[2].max(p[0]), b[3].max(p[1])]
    })
}

fn near(a: &[f64; 4], b: &[f64; 4]) -> bool {
    let reach = APART_PX.1;
    a[0] < b[2] + reach && b[0] < a[2] + reach && a[1] < b[3] + reach && b[1] < a[3] + reach
}

/// The groove between two paths if they are its sides.
fn between(a: &Centred, b: &Centred, residual: &Plane, bank: &Bank) -> Option<Centred> {
    let ratio = a.mean_explained() / b.mean_explained().max(1e-6);
    if !(1.0 / UNLIKE..=UNLIKE).contains(&ratio) {
        return None;
    }
    let middle = middle_line(&a.points_px, &b.points_px)?;
    let longer = length(&a.points_px).max(length(&b.points_px));
    if length(&middle) < TOGETHER * longer {
        return None;
    }
    let (groove, _) = bank.centre(residual, &middle, MIDDLE_SHIFTS)?;
    let (width_px, height_px) = (residual.width as f64, residual.height as f64);
    let inside = |p: Option<&[f64; 2]>| p.is_some_and(|p| ends_within(*p, width_px, height_px));
    // Two grooves do not begin and end together by chance; where both leave the picture this says nothing.
    let ends_speak = inside(middle.first()) || inside(middle.last());
    let explains = groove.mean_explained() > GAIN * a.mean_explained().max(b.mean_explained());
    (mean(&groove.evidence) > 0.5 * LEAST_EVIDENCE && (ends_speak || explains)).then_some(groove)
}

/// The line halfway between two paths, where they run evenly beside one another.
fn middle_line(a: &[[f64; 2]], b: &[[f64; 2]]) -> Option<Points> {
    let tangents = tangents(a);
    let beside: Vec<(f64, [f64; 2])> = a
        .iter()
        .zip(&tangents)
        .filter_map(|(p, t)| {
            let q = b.iter().min_by(|q, r| distance(**q, *p).total_cmp(&distance(**r, *p)))?;
            let (dx, dy) = (q[0] - p[0], q[1] - p[1]);
            let (along, aside) = (dx * t[0] + dy * t[1], dy * t[0] - dx * t[1]);
            // Points stand a block apart: the nearest one of a path that goes on is at most half a block ahead.
            (along.abs() < 6.0 && aside.abs() < APART_PX.1 + EVEN_PX)
                .then(|| (aside, [p[0] - 0.5 * aside * t[1], p[1] + 0.5 * aside * t[0]]))
        })
        .collect();
    let mut asides: Vec<f32> = beside.iter().map(|(aside, _)| *aside as f32).collect();
    let apart = f64::from(quantile(&mut asides, 0.5));
    if !(APART_PX.0..=APART_PX.1).contains(&apart.abs()) {
        return None;
    }
    let line: Points =
        beside.into_iter().filter(|(aside, _)| (aside - apart).abs() < EVEN_PX).map(|(_, p)| p).collect();
    (line.len() >= 4).then_some(line)
}

#[cfg(test)]
mod tests {
    use picture::Light;

    use super::*;

    fn line(y: f64, from: i32, to: i32) -> Points {
        (from..to).map(|i| [8.0 * f64::from(i), y]).collect()
    }

    #[test]
    fn the_line_between_two_sides_is_halfway() {
        let middle = middle_line(&line(20.0, 2, 30), &line(27.0, 3, 31)).unwrap();
        assert!(middle.len() >= 26 && middle.iter().all(|p| (p[1] - 23.5).abs() < 1e-9), "{middle:?}");
        assert!(middle_line(&line(20.0, 2, 30), &line(35.0, 2, 30)).is_none());
        assert!(middle_line(&line(20.0, 2, 30), &line(21.0, 2, 30)).is_none());
    }

    /// A groove 10 px broad lit from one side: its dark and its bright side, each a good line of its own.
    #[test]
    fn two_sides_of_a_broad_groove_become_the_groove() {
        let plane = Plane::from_rows(300, 90, |y, row| {
            let u = (y as f64 - 45.0) / 4.0;
            let groove = 6.0 * u * (-0.5 * u * u).exp();
            row.iter_mut().enumerate().for_each(|(x, v)| {
                let texture = ((x * 7919 + y * 104_729) % 101) as f64 / 50.0 - 1.0;
                *v = (groove + 0.5 * texture) as f32;
            });
        });
        let mut bank = Bank::new(&plane);
        let along = |bank: &Bank, y: f64| bank.centre(&plane, &line(y, 4, 32), 2).unwrap().0;
        let sides = || vec![along(&bank, 41.0), along(&bank, 49.0)];
        // Where the light is not known to come from one side they may as well be two grooves.
        assert_eq!(merged(sides(), &plane, &bank).len(), 2);
        let sides = sides();
        bank.light(Lit::of(&vec![along(&bank, 45.0); 6], Light::Unknown));
        let grooves = merged(sides, &plane, &bank);
        assert_eq!(grooves.len(), 1);
        assert!(
            grooves[0].points_px.iter().all(|p| (p[1] - 45.0).abs() <= 1.0),
            "{:?}",
            grooves[0].points_px
        );
    }
}
