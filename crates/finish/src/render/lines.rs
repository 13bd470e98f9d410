//! The stone's own lines as polylines: lamellae, cleavage, boundaries, cracks and fibres.

use std::collections::BTreeMap;

use super::blemish::Blemishes;
use super::ground::{Bands, Ground};
use super::stone::{GrainLines, LineKind};
use super::truth::StoneLine;

/// Lines shorter than this are not listed, px: no measurement would call them a line.
const SHORTEST_PX: f32 = 12.0;
/// Step along a band's edge, px.
const STEP_PX: f32 = 2.0;

/// All lines of the stone, as drawn.
pub(super) fn trace(ground: &Ground, blemishes: &Blemishes) -> Vec<StoneLine> {
    let mut found = Vec::new();
    for (&label, extent) in &extents(ground) {
        let grain = &ground.grains.all[label as usize];
        for (family, dice) in ground.minerals[usize::from(grain.mineral)].lines.iter().zip(grain.dice) {
            if f64::from(dice) < family.share_of_grains {
                bands(ground, label, family, extent, &mut found);
            }
        }
    }
    boundaries(ground, &mut found);
    let drawn = |kind, points: &Vec<[f64; 2]>| StoneLine { kind, points_px: points.clone() };
    found.extend(blemishes.cracks.iter().map(|c| drawn(LineKind::Crack, c)));
    found.extend(blemishes.fibres.iter().map(|f| drawn(LineKind::Fibre, &f.points)));
    found
}

/// Smallest and largest x and y of every grain that is seen, before the lens.
type Extent = [f32; 4];

fn extents(ground: &Ground) -> BTreeMap<u32, Extent> {
    let mut all = BTreeMap::new();
    for y in (0..ground.height).step_by(3) {
        for x in (0..ground.width).step_by(3) {
            let p = ground.lens.undraw([x as f64, y as f64]).map(|v| v as f32);
            let e = all.entry(ground.label[y * ground.width + x]).or_insert([p[0], p[0], p[1], p[1]]);
            *e = [e[0].min(p[0]), e[1].max(p[0]), e[2].min(p[1]), e[3].max(p[1])];
        }
    }
    all
}

/// Edges of one grain's bands, cut at the grain's outline and where the band fades.
fn bands(ground: &Ground, label: u32, family: &GrainLines, extent: &Extent, found: &mut Vec<StoneLine>) {
    let grain = &ground.grains.all[label as usize];
    let bands = Bands::of(family, grain, ground.um_per_px);
    let corners = [(0, 2), (0, 3), (1, 2), (1, 3)].map(|(i, j)| bands.frame(extent[i], extent[j]));
    let limit = |pick: fn(&(f32, f32)) -> f32| {
        let values = corners.iter().map(pick);
        (values.clone().fold(f32::MAX, f32::min), values.fold(f32::MIN, f32::max))
    };
    let (across, along) = (limit(|c| c.0), limit(|c| c.1));
    for k in bands.index(across.0)..=bands.index(across.1) {
        let (low, high) = bands.edges(k);
        // A cleavage line is too thin to have two edges.
        let edges: &[f32] =
            if family.kind == LineKind::Cleavage { &[0.5 * (low + high)] } else { &[low, high] };
        for &edge in edges {
            let mut run = Vec::new();
            let steps = ((along.1 - along.0) / STEP_PX).ceil() as i32;
            for step in 0..=steps {
                let s = along.0 + step as f32 * STEP_PX;
                let p = bands.point(edge, s);
                let drawn = ground.lens.draw([f64::from(p[0]), f64::from(p[1])]);
                let here = ground.index(drawn).is_some_and(|at| ground.label[at] == label)
                    && bands.strength(k, s) > 0.3;
                if here {
                    run.push(drawn);
                } else {
                    close(&mut run, family.kind, found);
                }
            }
            close(&mut run, family.kind, found);
        }
    }
}

fn close(run: &mut Vec<[f64; 2]>, kind: LineKind, found: &mut Vec<StoneLine>) {
    let points_px = std::mem::take(run);
    if points_px.len() as f32 * STEP_PX >= SHORTEST_PX {
        found.push(StoneLine { kind, points_px });
    }
}

/// Boundaries between pairs of grains, each as points in order along the pair's common edge.
fn boundaries(ground: &Ground, found: &mut Vec<StoneLine>) {
    let mut pairs: BTreeMap<(u32, u32), Vec<[f64; 2]>> = BTreeMap::new();
    for y in 0..ground.height {
        for x in 0..ground.width {
            let at = y * ground.width + x;
            let own = ground.label[at];
            let mut note = |other: u32, dx: f64, dy: f64| {
                if other != own {
                    let point = [x as f64 + dx, y as f64 + dy];
                    pairs.entry((own.min(other), own.max(other))).or_default().push(point);
                }
            };
            if x + 1 < ground.width {
                note(ground.label[at + 1], 0.5, 0.0);
            }
            if y + 1 < ground.height {
                note(ground.label[at + ground.width], 0.0, 0.5);
            }
        }
    }
    for points in pairs.into_values() {
        for run in chains(points) {
            if run.len() as f32 >= SHORTEST_PX {
                found.push(StoneLine { kind: LineKind::Boundary, points_px: run });
            }
        }
    }
}

/// Splits unordered edge points into runs of neighbours, by walking from point to nearest free point.
fn chains(points: Vec<[f64; 2]>) -> Vec<Vec<[f64; 2]>> {
    let mut free: BTreeMap<(i64, i64), [f64; 2]> =
        points.into_iter().map(|p| (((2.0 * p[0]) as i64, (2.0 * p[1]) as i64), p)).collect();
    let mut all = Vec::new();
    while let Some((&start, _)) = free.iter().next() {
        let mut halves = [Vec::new(), Vec::new()];
        let first = free.remove(&start);
        for half in &mut halves {
            let mut at = start;
            while let Some(next) = neighbour(at, &free) {
                half.extend(free.remove(&next));
                at = next;
            }
        }
        let [forward, backward] = halves;
        all.push(backward.into_iter().rev().chain(first).chain(forward).collect());
    }
    all
}

/// Nearest free point within 1.5 px (three half-pixels) of `at`.
fn neighbour(at: (i64, i64), free: &BTreeMap<(i64, i64), [f64; 2]>) -> Option<(i64, i64)> {
    (-3..=3i64)
        .flat_map(|dx| (-3..=3i64).map(move |dy| (dx, dy)))
        .map(|(dx, dy)| (dx * dx + dy * dy, (at.0 + dx, at.1 + dy)))
        .filter(|(_, key)| free.contains_key(key))
        .min()
        .map(|(_, key)| key)
}
