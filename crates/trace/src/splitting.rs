//! Parts of a path that the picture supports and that are one groove, told from parts that are not.

use crate::course::smoothed;
use crate::light::Lit;
use crate::plane::quantile;
use crate::recentre::Centred;

/// Evidence per block that chance gives a re-centred path, null spreads.
const CHANCE: f32 = 0.8;
/// Evidence halfway between that and a faint groove.
const LEAST_HALFWAY: f32 = 1.15;
/// What a change between supported and unsupported costs, null spreads: three blocks of good evidence.
const SWITCH: f32 = 4.0;
/// Fewest blocks of a part worth keeping.
pub(crate) const LEAST_BLOCKS: usize = 4;

/// The most that a block is asked for where the light does not come from one side, a little above [`LEAST_HALFWAY`]: what shows
/// of a groove under a ring varies with its depth more than under light across it, so that strong stretches must not
/// outvote the others. On rendered stone the halfway of the path's own good blocks costs strong grooves there a fifth of
/// their length.
const MOST_HALFWAY: f32 = 1.5;

/// The supported parts of a path, in order along it.
pub(crate) fn supported(path: &Centred, lit: Lit) -> Vec<Centred> {
    let mut evidence = path.evidence.clone();
    let halfway = halfway(&evidence);
    let halfway = if matches!(lit, Lit::OneSided(_)) { halfway } else { halfway.min(MOST_HALFWAY) };
    for hop in hops(&path.points_px) {
        let end = (hop + HOP_BLOCKS).min(evidence.len());
        evidence.get_mut(hop.saturating_sub(HOP_BLOCKS)..end).unwrap_or_default().fill(f32::NEG_INFINITY);
    }
    runs(&evidence, halfway)
        .into_iter()
        .filter(|(from, to)| to - from >= LEAST_BLOCKS)
        .map(|(from, to)| path.part(from..to))
        .collect()
}

/// Blocks over which the bend is measured on either side of a hop, and bends of both signs from which it is one: a parallel
/// shift by 9 px within 80 px, which the jitter of a faint axis never feigns; hand and machine bend far less in so short a time.
const BEND_BLOCKS: usize = 5;
const HOP_BEND: f64 = 1.0 / 400.0;
/// Blocks on either side of a hop that belong to neither groove.
const HOP_BLOCKS: usize = 3;

/// Where a path changes over from one groove to another beside it: a bend one way and at once a bend back.
fn hops(points: &[[f64; 2]]) -> Vec<usize> {
    let smooth = smoothed(points, 2);
    let bend = |i: usize| -> Option<f64> {
        let (a, b, c) =
            (smooth.get(i.checked_sub(BEND_BLOCKS)?)?, smooth.get(i)?, smooth.get(i + BEND_BLOCKS)?);
        let (dx, dy) = (c[0] - a[0], c[1] - a[1]);
        let half = 0.5 * dx.hypot(dy);
        // Sagitta of the middle point over the chord.
        let sagitta = (dx * (b[1] - a[1]) - dy * (b[0] - a[0])) / (2.0 * half);
        Some(2.0 * sagitta / (half * half))
    };
    let mut found: Vec<(f64, usize)> = (0..points.len())
        .filter_map(|i| {
            let (before, after) = (bend(i.checked_sub(BEND_BLOCKS - 1)?)?, bend(i + BEND_BLOCKS - 1)?);
            let least = before.abs().min(after.abs());
            (before * after < 0.0 && least > HOP_BEND).then_some((least, i))
        })
        .collect();
    found.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
    let mut kept: Vec<usize> = Vec::new();
    for (_, i) in found {
        if kept.iter().all(|k| k.abs_diff(i) > BEND_BLOCKS) {
            kept.push(i);
        }
    }
    kept
}

/// What a block must reach to speak for the path: halfway between chance and the path's own good blocks.
fn halfway(evidence: &[f32]) -> f32 {
    let good = quantile(&mut evidence.to_vec(), 0.75);
    LEAST_HALFWAY.max(0.5 * (CHANCE + good))
}

/// Runs of blocks in the supported state, by a two-state Viterbi path.
fn runs(evidence: &[f32], halfway: f32) -> Vec<(usize, usize)> {
    let (mut off, mut on) = (0.0_f32, -SWITCH / 2.0);
    let mut came = Vec::with_capacity(evidence.len());
    for e in evidence {
        let (stay_on, turn_on) = (on, off - SWITCH);
        let (stay_off, turn_off) = (off, on - SWITCH);
        came.push((turn_on > stay_on, turn_off > stay_off));
        on = stay_on.max(turn_on) + (e - halfway);
        off = stay_off.max(turn_off);
    }
    let mut state_on = on > off;
    let mut flags = vec![false; evidence.len()];
    for (flag, (turned_on, turned_off)) in flags.iter_mut().zip(&came).rev() {
        *flag = state_on;
        state_on = if state_on { !turned_on } else { *turned_off };
    }
    let mut found = Vec::new();
    let mut from = None;
    for (i, flag) in flags.iter().chain(std::iter::once(&false)).enumerate() {
        match (from, flag) {
            (None, true) => from = Some(i),
            (Some(start), false) => {
                found.push((start, i));
                from = None;
            }
            _ => {}
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_change_to_the_groove_beside_is_seen_and_an_arc_is_not() {
        let along = |i: i32| 8.0 * f64::from(i);
        let hop: Vec<[f64; 2]> =
            (0..60).map(|i| [along(i), 11.0 / (1.0 + (-(along(i) - 240.0) / 12.0).exp())]).collect();
        assert!(matches!(hops(&hop).as_slice(), &[at] if at.abs_diff(30) <= 2), "{:?}", hops(&hop));
        let circle: Vec<[f64; 2]> =
            (0..40).map(|i| 0.1 * f64::from(i)).map(|a| [80.0 * a.cos(), 80.0 * a.sin()]).collect();
        assert!(hops(&circle).is_empty());
    }

    #[test]
    fn a_short_gap_is_bridged_and_a_long_one_splits() {
        let mut evidence = vec![0.2; 70];
        evidence[5..20].fill(2.5);
        evidence[22..30].fill(2.5);
        evidence[45..58].fill(2.5);
        assert_eq!(runs(&evidence, 1.15), vec![(5, 30), (45, 58)]);
        assert!(runs(&[0.5; 40], 1.15).is_empty());
    }
}
