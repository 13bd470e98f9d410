//! Fragments of one scratch, joined across crossings and gaps where geometry allows it and the gap speaks for it.

use std::collections::BTreeMap;

use crate::course::{Points, distance, outward, resampled};
use crate::duplicates::strength;
use crate::lattice::BLOCK_PX;
use crate::plane::Plane;
use crate::recentre::{Bank, Centred};

/// Longest gap bridged, px.
const LONGEST_GAP_PX: f64 = 110.0;
/// Blocks at an end from which its direction is read.
const END_BLOCKS: usize = 5;
/// Evidence per block that chance gives a re-centred path, null spreads.
const CHANCE: f32 = 0.7;

/// One end of one path.
#[derive(Debug, Clone, Copy)]
struct Tip {
    path: usize,
    at_end: bool,
    point: [f64; 2],
    outward: [f64; 2],
}

/// A way to join two tips.
struct Bridge {
    worth: f32,
    tips: [Tip; 2],
    points: Points,
    evidence: Vec<f32>,
}

/// Joins paths end to end, most convincing bridges first.
pub(crate) fn joined(paths: Vec<Centred>, residual: &Plane, bank: &Bank) -> Vec<Centred> {
    let bridges = bridges(&paths, residual, bank);
    let mut used: BTreeMap<(usize, bool), usize> = BTreeMap::new();
    let mut leader: Vec<usize> = (0..paths.len()).collect();
    for (k, bridge) in bridges.iter().enumerate() {
        let keys = bridge.tips.map(|t| (t.path, t.at_end));
        let groups = bridge.tips.map(|t| find(&leader, t.path));
        if keys.iter().any(|key| used.contains_key(key)) || groups[0] == groups[1] {
            continue;
        }
        keys.iter().for_each(|key| {
            used.insert(*key, k);
        });
        if let Some(l) = leader.get_mut(groups[0].max(groups[1])) {
            *l = groups[0].min(groups[1]);
        }
    }
    let mut done = vec![false; paths.len()];
    let mut out = Vec::with_capacity(paths.len());
    for start in 0..paths.len() {
        // Walk each chain from one of its free ends.
        let free = [false, true].into_iter().find(|end| !used.contains_key(&(start, *end)));
        let (Some(free), false) = (free, done.get(start).copied().unwrap_or(true)) else { continue };
        out.push(chain(start, free, &paths, &bridges, &used, &mut done));
    }
    out
}

fn find(leader: &[usize], mut path: usize) -> usize {
    while let Some(&up) = leader.get(path) {
        if up == path {
            break;
        }
        path = up;
    }
    path
}

/// Concatenates the paths of one chain, entered at the free tip of `start`.
fn chain(
    start: usize,
    free_end: bool,
    paths: &[Centred],
    bridges: &[Bridge],
    used: &BTreeMap<(usize, bool), usize>,
    done: &mut [bool],
) -> Centred {
    let mut points: Points = Vec::new();
    let mut evidence = Vec::new();
    let mut strongest: Option<(f32, usize)> = None;
    let (mut path, mut entered_at_end) = (start, free_end);
    while let (Some(part), Some(flag)) = (paths.get(path), done.get_mut(path)) {
        if *flag {
            break;
        }
        *flag = true;
        if entered_at_end {
            points.extend(part.points_px.iter().rev());
            evidence.extend(part.evidence.iter().rev());
        } else {
            points.extend(&part.points_px);
            evidence.extend(&part.evidence);
        }
        if strongest.is_none_or(|(s, _)| strength(part) > s) {
            strongest = Some((strength(part), path));
        }
        let Some(bridge) = used.get(&(path, !entered_at_end)).and_then(|&k| bridges.get(k)) else { break };
        let from_first = bridge.tips[0].path == path && bridge.tips[0].at_end != entered_at_end;
        if from_first {
            points.extend(&bridge.points);
            evidence.extend(&bridge.evidence);
        } else {
            points.extend(bridge.points.iter().rev());
            evidence.extend(bridge.evidence.iter().rev());
        }
        let next = bridge.tips[usize::from(from_first)];
        (path, entered_at_end) = (next.path, next.at_end);
    }
    let section = strongest.and_then(|(_, p)| paths.get(p)).or(paths.get(start)).map(|p| p.section);
    match section {
        Some(section) => Centred { points_px: points, section, evidence },
        None => paths.get(start).cloned().unwrap_or_else(|| unreachable!("a chain starts at a path")),
    }
}

/// All possible bridges, the most convincing first.
fn bridges(paths: &[Centred], residual: &Plane, bank: &Bank) -> Vec<Bridge> {
    let tips: Vec<Tip> = paths
        .iter()
        .enumerate()
        .flat_map(|(path, p)| {
            [false, true].map(|at_end| Tip {
                path,
                at_end,
                point: if at_end { p.points_px.last() } else { p.points_px.first() }
                    .copied()
                    .unwrap_or_default(),
                outward: outward(&p.points_px, at_end, END_BLOCKS),
            })
        })
        .collect();
    let cell = |p: [f64; 2]| ((p[0] / LONGEST_GAP_PX).floor() as i64, (p[1] / LONGEST_GAP_PX).floor() as i64);
    let mut cells: BTreeMap<(i64, i64), Vec<usize>> = BTreeMap::new();
    for (k, tip) in tips.iter().enumerate() {
        cells.entry(cell(tip.point)).or_default().push(k);
    }
    let mut found = Vec::new();
    for (k, tip) in tips.iter().enumerate() {
        let (u, v) = cell(tip.point);
        for neighbours in
            (v - 1..=v + 1).flat_map(|v| (u - 1..=u + 1).map(move |u| (u, v))).filter_map(|c| cells.get(&c))
        {
            for &other in neighbours.iter().filter(|&&other| other > k) {
                if let Some(other) = tips.get(other).filter(|o| o.path != tip.path) {
                    found.extend(bridge(*tip, *other, paths, residual, bank));
                }
            }
        }
    }
    found.sort_by(|a, b| {
        let key = |x: &Bridge| x.tips.map(|t| (t.path, t.at_end));
        b.worth.total_cmp(&a.worth).then_with(|| key(a).cmp(&key(b)))
    });
    found
}

/// The bridge between two tips, if geometry and picture allow it.
fn bridge(a: Tip, b: Tip, paths: &[Centred], residual: &Plane, bank: &Bank) -> Option<Bridge> {
    let (pa, pb) = (paths.get(a.path)?, paths.get(b.path)?);
    let gap = distance(a.point, b.point);
    let lengths = [pa, pb].map(|p| (p.points_px.len() * BLOCK_PX) as f64);
    let shorter = lengths[0].min(lengths[1]);
    if gap > LONGEST_GAP_PX.min(20.0 + 0.6 * shorter) {
        return None;
    }
    let turn = angle_between(a.outward, [-b.outward[0], -b.outward[1]]);
    // Directions of ends of about 40 px are good to some 2°; curvature down to a radius of 200 px turns 0.3° a pixel.
    if turn > (6.0 + 0.15 * gap).min(22.0) {
        return None;
    }
    let misses = [(a, b), (b, a)].map(|(from, to)| {
        let (dx, dy) = (to.point[0] - from.point[0], to.point[1] - from.point[1]);
        let along = dx * from.outward[0] + dy * from.outward[1];
        let aside = (dy * from.outward[0] - dx * from.outward[1]).abs();
        (along, aside)
    });
    let reach = 1.0 + 0.5 * (pa.section.sigma_px + pb.section.sigma_px);
    for (along, aside) in misses {
        if along < -16.0 || aside > reach + 0.10 * gap.max(0.0) {
            return None;
        }
    }
    let aside = (misses[0].1 + misses[1].1) / 2.0;
    let same_kind = pa.section.parity == pb.section.parity && pa.section.sign == pb.section.sign;
    let stronger = if strength(pa) >= strength(pb) { pa } else { pb };
    let (points, evidence) = if gap > 1.5 * BLOCK_PX as f64 && misses[0].0 > 0.0 {
        let line = hermite(a, b, gap);
        bank.evidence_along(residual, &line, stronger.section, 4)?
    } else {
        (Vec::new(), Vec::new())
    };
    let beyond_chance: f32 = evidence.iter().map(|e| e - CHANCE).sum();
    let geometry =
        (turn / 6.0).powi(2) as f32 + (aside / (1.5 + 0.03 * gap)).powi(2) as f32 + 0.04 * gap as f32;
    let patience = 2.0 + 0.012 * shorter.min(300.0) as f32;
    let worth = beyond_chance - geometry + patience - if same_kind { 0.0 } else { 1.5 };
    (worth > 0.0).then_some(Bridge { worth, tips: [a, b], points, evidence })
}

fn angle_between(a: [f64; 2], b: [f64; 2]) -> f64 {
    (a[0] * b[0] + a[1] * b[1]).clamp(-1.0, 1.0).acos().to_degrees()
}

/// A smooth curve from tip to tip that leaves along the one and arrives along the other, points about 1 px apart.
fn hermite(a: Tip, b: Tip, gap: f64) -> Points {
    let curve: Points = (0..=16)
        .map(|i| f64::from(i) / 16.0)
        .map(|t| {
            let (t2, t3) = (t * t, t * t * t);
            let (h0, h1, h2, h3) =
                (2.0 * t3 - 3.0 * t2 + 1.0, t3 - 2.0 * t2 + t, 3.0 * t2 - 2.0 * t3, t3 - t2);
            let at = |c: usize| {
                h0 * a.point[c] + h1 * gap * a.outward[c] + h2 * b.point[c] - h3 * gap * b.outward[c]
            };
            [at(0), at(1)]
        })
        .collect();
    resampled(&curve, 1.0)
}
