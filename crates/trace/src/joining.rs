//! Fragments of one scratch, joined across crossings and gaps where geometry allows it and the gap speaks for it.

use std::collections::BTreeMap;

use crate::course::{Points, distance, outward};
use crate::duplicates::strength;
use crate::fit::{self, Fit};
use crate::lattice::BLOCK_PX;
use crate::plane::Plane;
use crate::recentre::{Bank, Centred, Section};

/// Longest gap bridged, px.
const LONGEST_GAP_PX: f64 = 110.0;
/// Blocks at an end from which its direction is read.
const END_BLOCKS: usize = 5;
/// Blocks at an end that must lie on one arc with those of the other.
const ARC_BLOCKS: usize = 12;
/// Standard deviation of one block's place that a wandering groove is granted, px, and how much more per px of gap.
const PLACE_PX: (f64, f64) = (0.5, 0.01);
/// Neighbouring blocks share their shift in the search for the axis: so many of them count as one.
const BLOCKS_PER_PLACE: f64 = 2.0;
/// Tightest arc that fragments are joined along, 1/px.
const MOST_BENT: f64 = 1.0 / 30.0;
/// Evidence per block that chance gives a re-centred path, null spreads.
const CHANCE: f32 = 0.7;

/// One end of one path.
#[derive(Debug, Clone, Copy)]
struct Tip {
    path: usize,
    at_end: bool,
    point: [f64; 2],
    outward: [f64; 2],
    /// Sum of squares about an arc of its own through the last blocks, px².
    squares: f64,
}

impl Tip {
    fn of(path: usize, at_end: bool, points: &[[f64; 2]]) -> Self {
        let own = last_blocks(points, at_end);
        Self {
            path,
            at_end,
            point: own.last().copied().unwrap_or_default(),
            outward: outward(points, at_end, END_BLOCKS),
            squares: fit::arc(&own, PLACE_PX.0).map_or(0.0, |arc| squares(&arc, own.len())),
        }
    }
}

/// The blocks at one end of a path, the tip last.
fn last_blocks(points: &[[f64; 2]], at_end: bool) -> Points {
    let n = points.len().min(ARC_BLOCKS);
    if at_end {
        points.get(points.len() - n..).unwrap_or(&[]).to_vec()
    } else {
        points.iter().take(n).rev().copied().collect()
    }
}

fn squares(arc: &Fit, points: usize) -> f64 {
    arc.residual_px.powi(2) * (points as f64 - 3.0).max(1.0)
}

/// A way to join two tips.
struct Bridge {
    worth: f32,
    tips: [Tip; 2],
    /// What lies in the gap, from the first tip to the second.
    gap: Option<Centred>,
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
    let mut whole: Option<Centred> = None;
    let mut strongest: Option<(f32, Section)> = None;
    let (mut path, mut entered_at_end) = (start, free_end);
    while let (Some(part), Some(flag)) = (paths.get(path), done.get_mut(path)) {
        if *flag {
            break;
        }
        *flag = true;
        whole = Some(appended(whole, part, entered_at_end));
        if strongest.is_none_or(|(s, _)| strength(part) > s) {
            strongest = Some((strength(part), part.section));
        }
        let Some(bridge) = used.get(&(path, !entered_at_end)).and_then(|&k| bridges.get(k)) else { break };
        let from_first = bridge.tips[0].path == path && bridge.tips[0].at_end != entered_at_end;
        if let Some(gap) = &bridge.gap {
            whole = Some(appended(whole, gap, !from_first));
        }
        let next = bridge.tips[usize::from(from_first)];
        (path, entered_at_end) = (next.path, next.at_end);
    }
    match (whole, strongest) {
        (Some(whole), Some((_, section))) => Centred { section, ..whole },
        _ => unreachable!("a chain starts at a path"),
    }
}

/// A path and a further piece of it, the piece the other way round if `reversed`.
fn appended(path: Option<Centred>, piece: &Centred, reversed: bool) -> Centred {
    let mut piece = piece.clone();
    if reversed {
        piece.points_px.reverse();
        piece.evidence.reverse();
        piece.explained.reverse();
    }
    let Some(mut path) = path else { return piece };
    path.points_px.append(&mut piece.points_px);
    path.evidence.append(&mut piece.evidence);
    path.explained.append(&mut piece.explained);
    path
}

/// All possible bridges, the most convincing first.
fn bridges(paths: &[Centred], residual: &Plane, bank: &Bank) -> Vec<Bridge> {
    let tips: Vec<Tip> = paths
        .iter()
        .enumerate()
        .flat_map(|(path, p)| [false, true].map(|at_end| Tip::of(path, at_end, &p.points_px)))
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
    let gap_px = distance(a.point, b.point);
    let lengths = [pa, pb].map(|p| (p.points_px.len() * BLOCK_PX) as f64);
    let shorter = lengths[0].min(lengths[1]);
    if gap_px > LONGEST_GAP_PX.min(20.0 + 0.6 * shorter) {
        return None;
    }
    // Behind each other, and not side by side: on a tight arc both tips still look towards one another.
    for (from, to) in [(a, b), (b, a)] {
        let (dx, dy) = (to.point[0] - from.point[0], to.point[1] - from.point[1]);
        let along = dx * from.outward[0] + dy * from.outward[1];
        let aside = (dy * from.outward[0] - dx * from.outward[1]).abs();
        if along < -16.0 || aside > 4.0 + along.max(0.0) {
            return None;
        }
    }
    if a.outward[0] * b.outward[0] + a.outward[1] * b.outward[1] > 0.0 {
        return None;
    }
    let both = last_blocks(&pa.points_px, a.at_end).into_iter();
    let both: Points = both.chain(last_blocks(&pb.points_px, b.at_end).into_iter().rev()).collect();
    let arc = fit::arc(&both, PLACE_PX.0)?;
    if arc.curvature_per_px.value.abs() > MOST_BENT {
        return None;
    }
    let place = PLACE_PX.0 + PLACE_PX.1 * gap_px;
    // −2 ln of the likelihood ratio of one arc against two.
    let strain =
        ((squares(&arc, both.len()) - a.squares - b.squares) / (place * place * BLOCKS_PER_PLACE)).max(0.0);
    let same_kind = pa.section.parity == pb.section.parity && pa.section.sign == pb.section.sign;
    let stronger = if strength(pa) >= strength(pb) { pa } else { pb };
    let gap = match between(&arc.line_px(), a.point, b.point) {
        Some(line) => Some(bank.along(residual, line, stronger.section, 4)?),
        None => None,
    };
    let beyond_chance: f32 = gap.iter().flat_map(|gap| &gap.evidence).map(|e| e - CHANCE).sum();
    let geometry = 0.5 * strain as f32 + 0.04 * gap_px as f32;
    let patience = 2.0 + 0.012 * shorter.min(300.0) as f32;
    let worth = beyond_chance - geometry + patience - if same_kind { 0.0 } else { 1.5 };
    (worth > 0.0).then_some(Bridge { worth, tips: [a, b], gap })
}

/// The part of an arc, points 1 px apart, from one tip to the other; `None` where less than a block and a half lies between.
fn between(arc: &[[f64; 2]], from: [f64; 2], to: [f64; 2]) -> Option<&[[f64; 2]]> {
    let nearest = |p: [f64; 2]| {
        (0..arc.len()).min_by(|&i, &j| {
            let away = |k: usize| arc.get(k).map_or(f64::INFINITY, |q| distance(*q, p));
            away(i).total_cmp(&away(j))
        })
    };
    let (from, to) = (nearest(from)?, nearest(to)?);
    // The tips are themselves middles of blocks.
    let line = arc.get(from + BLOCK_PX / 2..(to + 1).checked_sub(BLOCK_PX / 2)?)?;
    (line.len() >= BLOCK_PX).then_some(line)
}
