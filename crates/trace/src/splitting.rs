//! Parts of a path that the picture supports, told from parts that it does not.

use crate::plane::quantile;
use crate::recentre::Centred;

/// Evidence per block that chance gives a re-centred path, null spreads.
const CHANCE: f32 = 0.8;
/// Evidence halfway between that and a faint groove.
const LEAST_HALFWAY: f32 = 1.15;
/// What a change between supported and unsupported costs, null spreads: three blocks of good evidence.
const SWITCH: f32 = 4.0;
/// Fewest blocks of a part worth keeping.
const LEAST_BLOCKS: usize = 4;

/// The supported parts of a path, in order along it.
pub(crate) fn supported(path: &Centred) -> Vec<Centred> {
    runs(&path.evidence, halfway(&path.evidence))
        .into_iter()
        .filter(|(from, to)| to - from >= LEAST_BLOCKS)
        .map(|(from, to)| Centred {
            points_px: path.points_px.get(from..to).unwrap_or(&[]).to_vec(),
            section: path.section,
            evidence: path.evidence.get(from..to).unwrap_or(&[]).to_vec(),
        })
        .collect()
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
    fn a_short_gap_is_bridged_and_a_long_one_splits() {
        let mut evidence = vec![0.2; 70];
        evidence[5..20].fill(2.5);
        evidence[22..30].fill(2.5);
        evidence[45..58].fill(2.5);
        assert_eq!(runs(&evidence, 1.15), vec![(5, 30), (45, 58)]);
        assert!(runs(&[0.5; 40], 1.15).is_empty());
    }
}
