//! Paths of most evidence through the lattice of segments, by dynamic programming with local restarts: a path gains
//! where segments are stronger than chance, loses where they are weaker, and ends where going on no longer pays.

use std::cmp::Ordering;
use std::collections::VecDeque;

use rayon::prelude::*;
use wide::f32x8;

use crate::lattice::{Blocks, CLASSES, Lattice, RIM, Ruler};
use crate::plane::Plane;

/// What a segment must exceed to add to its path, spreads of the segment sum. About the mean of the best of all
/// neighbours a path may choose from on pure noise, so that paths through noise die out.
const TOLL: f32 = 2.2;
/// A path whose score fell this far below its best is given up there.
const DROP: f32 = 7.0;
/// Least score of a path worth a closer look, by long segments and by short ones, which have twice as many turns to choose
/// from on the same way.
const LEAST_SCORE: f32 = 4.0;
const LEAST_SCORE_SHORT: f32 = 9.0;
/// Largest change of slope from one segment to the next, in slopes of the ruler: of long segments down to a radius of
/// 256 px on the axes of the picture, of short ones down to 43 px.
const BEND: i32 = 3;
const BEND_LONG: i32 = 2;
/// Price of a change of slope.
const BEND_PRICE: [f32; 4] = [0.0, 0.2, 0.9, 2.0];
/// Share of a path that may lie on stronger ones of its direction.
const SHARED: f64 = 0.5;

/// A path found, from one end to the other, px of the picture.
#[derive(Debug, Clone)]
pub(crate) struct Path {
    pub points_px: Vec<[f64; 2]>,
}

/// Where a path reaches its best score.
#[derive(Debug, Clone, Copy, PartialEq)]
struct End {
    score: f32,
    column: u32,
    across: u32,
    slope: u16,
    class: u8,
    steep: bool,
}

impl End {
    /// Strongest first, then by place, so that the order never depends on threads.
    fn order(&self, other: &Self) -> Ordering {
        let place = |e: &Self| (e.steep, e.column, e.class, e.slope, e.across);
        other.score.total_cmp(&self.score).then_with(|| place(self).cmp(&place(other)))
    }
}

/// Scores of all paths that end at one slope in the newest column, per class and position across.
#[derive(Clone)]
struct Front {
    score: [Vec<f32>; CLASSES],
    /// Best score along the way.
    best: [Vec<f32>; CLASSES],
}

/// How every node of one half was reached: two classes to a byte, per column, parity, slope and position.
struct Choices {
    ruler: Ruler,
    cells: Vec<u8>,
    across: usize,
}

impl Choices {
    /// No choices yet, in one piece: column by column they would be strewn among what is freed between them.
    fn new(ruler: Ruler, columns: usize, across: usize) -> Self {
        Self { ruler, cells: vec![0; columns * 2 * ruler.n_slopes() * across], across }
    }

    /// The even and the odd half of a column, each slope by slope.
    fn column_mut(&mut self, column: usize) -> [&mut [u8]; 2] {
        let half = self.ruler.n_slopes() * self.across;
        let cells = self.cells.get_mut(2 * column * half..2 * (column + 1) * half).unwrap_or(&mut []);
        let (even, odd) = cells.split_at_mut(half.min(cells.len()));
        [even, odd]
    }

    /// 0: the path begins here; else change of slope + [`BEND`] + 1.
    fn at(&self, column: usize, class: usize, slope: usize, across: usize) -> u8 {
        let index = ((2 * column + class / 2) * self.ruler.n_slopes() + slope) * self.across + across;
        let byte = self.cells.get(index).copied().unwrap_or(0);
        if class.is_multiple_of(2) { byte & 15 } else { byte >> 4 }
    }
}

/// The best paths through a residual plane, those of long segments before those of short ones, strongest first, none more
/// than half on earlier ones of its direction; `None` when `watch` (0 to 1) asked to stop.
pub(crate) fn paths(residual: &Plane, watch: &(dyn Fn(f64) -> bool + Sync)) -> Option<Vec<Path>> {
    let mut taken = Taken::new(residual.width, residual.height);
    let mut found = Vec::new();
    for (ruler, from, share) in [(Ruler::LONG, 0.0, 0.6), (Ruler::SHORT, 0.6, 0.4)] {
        let (half_of_it, half_way) = (0.5 * share, from + 0.5 * share);
        let mut paths = half(residual, ruler, false, &|done| watch(from + half_of_it * done))?;
        paths.extend(half(residual, ruler, true, &|done| watch(half_way + half_of_it * done))?);
        paths.sort_unstable_by(|(a, _), (b, _)| a.order(b));
        found.extend(paths.into_iter().map(|(_, path)| path).filter(|path| taken.take(path)));
    }
    Some(found)
}

/// The paths of one half of the directions, strongest first and none more than half on earlier ones. What the search needs
/// to follow them back is let go of with it: on a large picture there is no room for that of both halves.
fn half(
    residual: &Plane,
    ruler: Ruler,
    steep: bool,
    watch: &(dyn Fn(f64) -> bool + Sync),
) -> Option<Vec<(End, Path)>> {
    let (choices, mut ends) = if steep {
        forward(residual, ruler, true, watch)
    } else {
        forward(&residual.transposed(), ruler, false, watch)
    }?;
    ends.sort_unstable_by(End::order);
    let mut taken = Taken::new(residual.width, residual.height);
    let followed = ends.into_iter().map(|end| (end, Path { points_px: back(&choices, &end) }));
    Some(followed.filter(|(_, path)| taken.take(path)).collect())
}

/// Dynamic programming along one half of the directions.
fn forward(
    plane: &Plane,
    ruler: Ruler,
    steep: bool,
    watch: &(dyn Fn(f64) -> bool + Sync),
) -> Option<(Choices, Vec<End>)> {
    let lattice = Lattice::new(plane, ruler);
    let n_slopes = ruler.n_slopes();
    let across = lattice.across;
    let empty = Front {
        score: std::array::from_fn(|_| vec![0.0; across]),
        best: std::array::from_fn(|_| vec![0.0; across]),
    };
    let mut fronts = vec![empty; n_slopes];
    let mut choices = Choices::new(ruler, lattice.columns, across);
    let mut ends = Vec::new();
    let mut window: VecDeque<Blocks> = VecDeque::with_capacity(ruler.blocks);
    let per_step = ruler.step_blocks();
    for column in 0..lattice.columns {
        if !watch(column as f64 / lattice.columns as f64) {
            return None;
        }
        let first = column * per_step + window.len();
        let fresh: Vec<Blocks> = (first..column * per_step + ruler.blocks)
            .collect::<Vec<_>>()
            .into_par_iter()
            .map(|block| lattice.cut_blocks(block))
            .collect();
        window.extend(fresh);
        let blocks: Vec<&Blocks> = window.iter().collect();
        let [even, odd] = choices.column_mut(column);
        let next: Vec<Front> = even
            .par_chunks_mut(across)
            .zip(odd.par_chunks_mut(across))
            .enumerate()
            .map(|(slope, (even, odd))| step(&lattice, ruler, &blocks, &fronts, column, slope, [even, odd]))
            .collect();
        fronts = next;
        let found: Vec<Vec<End>> = (0..n_slopes as u16)
            .into_par_iter()
            .map(|slope| ends_of(&fronts, ruler, slope, column as u32, steep))
            .collect();
        ends.extend(found.into_iter().flatten());
        window.drain(..per_step);
    }
    Some((choices, ends))
}

/// One step of the dynamic programming for one slope: the best predecessor of every node, its gain, its choice.
fn step(
    lattice: &Lattice,
    ruler: Ruler,
    blocks: &[&Blocks],
    fronts: &[Front],
    column: usize,
    slope: usize,
    chosen: [&mut [u8]; 2],
) -> Front {
    let across = lattice.across;
    let mut score: [Vec<f32>; CLASSES] = std::array::from_fn(|_| vec![0.0; across]);
    lattice.segments(blocks, slope as i32 - ruler.slopes(), &mut score);
    let mut best: [Vec<f32>; CLASSES] = std::array::from_fn(|_| vec![0.0; across]);
    let most = if ruler == Ruler::LONG { BEND_LONG } else { BEND };
    let mut choice = [vec![0.0_f32; across], vec![0.0_f32; across]];
    for class in 0..CLASSES {
        let before: Vec<Before> = (-most..=most)
            .filter_map(|bend| {
                let from = fronts.get(usize::try_from(slope as i32 - bend).ok()?)?;
                Some(Before {
                    score: &from.score[class],
                    best: &from.best[class],
                    shift: drift(ruler, column, slope, bend) as isize,
                    price: BEND_PRICE[bend.unsigned_abs() as usize],
                    mark: (bend + BEND + 1) as f32,
                })
            })
            .collect();
        relax(&mut score[class], &mut best[class], &mut choice[class % 2], &before);
        if class % 2 == 1 {
            for (byte, (plus, minus)) in chosen[class / 2].iter_mut().zip(choice[0].iter().zip(&choice[1])) {
                *byte = (*plus as u8) | ((*minus as u8) << 4);
            }
        }
    }
    Front { score, best }
}

/// All paths of one class that end at one slope of the previous column, as those of a slope in this column may continue them.
struct Before<'a> {
    score: &'a [f32],
    best: &'a [f32],
    /// How far a path moves across from there to here.
    shift: isize,
    price: f32,
    /// What the choice of it is noted down as.
    mark: f32,
}

/// Neighbouring nodes that are reckoned side by side.
const LANES: usize = 8;

/// Lets every node continue the best path before it, or begin one: `score` holds the gains and takes the scores, `best` the
/// best scores along the way, `code` the choices.
fn relax(score: &mut [f32], best: &mut [f32], code: &mut [f32], before: &[Before]) {
    for start in (0..score.len()).step_by(LANES) {
        let (mut here, mut top, mut mark) = (f32x8::ZERO, f32x8::ZERO, f32x8::ZERO);
        for from in before {
            let first = start as isize - from.shift;
            let offer = lanes(from.score, first) - f32x8::splat(from.price);
            let better = offer.simd_gt(here);
            here = better.select(offer, here);
            top = better.select(lanes(from.best, first), top);
            mark = better.select(f32x8::splat(from.mark), mark);
        }
        let total = (here + lanes(score, start as isize) - f32x8::splat(TOLL)).fast_max(f32x8::ZERO);
        top = top.fast_max(total);
        let given_up = (top - f32x8::splat(DROP)).simd_gt(total);
        put(score, start, given_up.select(f32x8::ZERO, total));
        put(best, start, given_up.select(f32x8::ZERO, top));
        put(code, start, mark);
    }
}

/// Values from an index on, zeros where there are none.
fn lanes(values: &[f32], first: isize) -> f32x8 {
    match usize::try_from(first).ok().and_then(|f| values.get(f..)?.first_chunk::<LANES>()) {
        Some(whole) => f32x8::new(*whole),
        None => lanes_at_edge(values, first),
    }
}

#[cold]
fn lanes_at_edge(values: &[f32], first: isize) -> f32x8 {
    f32x8::new(std::array::from_fn(|lane| {
        usize::try_from(first + lane as isize).ok().and_then(|k| values.get(k)).copied().unwrap_or(0.0)
    }))
}

/// Writes values from an index on, as many as there is room for.
fn put(to: &mut [f32], first: usize, values: f32x8) {
    let values = values.to_array();
    let Some(rest) = to.get_mut(first..) else { return };
    match rest.first_chunk_mut::<LANES>() {
        Some(whole) => *whole = values,
        None => rest.iter_mut().zip(values).for_each(|(to, value)| *to = value),
    }
}

/// How far a path moves across from the previous column to this one; rounding is dithered over four columns, so that
/// a straight line of any slope is followed without drift.
fn drift(ruler: Ruler, column: usize, slope: usize, bend: i32) -> i32 {
    const DITHER: [f32; 4] = [0.125, 0.625, 0.375, 0.875];
    let slope = slope as i32 - ruler.slopes();
    let mean_slope = (2 * slope - bend) as f32 / (2 * ruler.segment_px()) as f32;
    (mean_slope * ruler.step_px() as f32 + DITHER[column % 4]).floor() as i32
}

/// Nodes of one slope where a path is at its best and no neighbour does better.
fn ends_of(fronts: &[Front], ruler: Ruler, slope: u16, column: u32, steep: bool) -> Vec<End> {
    let mut ends = Vec::new();
    let at = usize::from(slope);
    let Some(front) = fronts.get(at) else { return ends };
    let least = if ruler == Ruler::LONG { LEAST_SCORE } else { LEAST_SCORE_SHORT };
    for (class, (score, best)) in (0_u8..).zip(front.score.iter().zip(&front.best)) {
        // Most nodes end nothing: whole groups of them are passed over at once.
        let groups = score.chunks(LANES).zip(best.chunks(LANES)).enumerate();
        let strong = groups.filter(|(_, (score, _))| score.iter().fold(0.0_f32, |a, b| a.max(*b)) >= least);
        let nodes = strong.flat_map(|(group, (score, best))| {
            (group * LANES..).zip(score.iter().zip(best)).map(|(at, (score, best))| (at, *score, *best))
        });
        for (position, here, top) in nodes {
            if here < least || here < top {
                continue;
            }
            let highest = (at.saturating_sub(2)..=at + 2)
                .filter_map(|s| fronts.get(s)?.score.get(usize::from(class)))
                .flat_map(|score| score.get(position.saturating_sub(2)..position + 3).unwrap_or(&[]))
                .fold(0.0_f32, |a, b| a.max(*b));
            if here >= highest {
                ends.push(End { score: here, column, across: position as u32, slope, class, steep });
            }
        }
    }
    ends
}

/// Follows a path back from its end; points run from its beginning, half a segment beyond the outermost centres.
fn back(choices: &Choices, end: &End) -> Vec<[f64; 2]> {
    let (ruler, class) = (choices.ruler, usize::from(end.class));
    let (mut column, mut slope, mut across) =
        (end.column as usize, usize::from(end.slope), end.across as i32);
    let mut nodes = Vec::new();
    loop {
        nodes.push((
            ruler.along_px(column),
            f64::from(across) - RIM as f64,
            (slope as f64 - f64::from(ruler.slopes())) / ruler.segment_px() as f64,
        ));
        let code = usize::try_from(across).map_or(0, |a| choices.at(column, class, slope, a));
        if code == 0 || column == 0 {
            break;
        }
        let bend = i32::from(code) - BEND - 1;
        across -= drift(ruler, column, slope, bend);
        slope = (slope as i32 - bend).clamp(0, ruler.n_slopes() as i32 - 1) as usize;
        column -= 1;
    }
    let half = ruler.segment_px() as f64 / 2.0;
    let mut points: Vec<[f64; 2]> = Vec::with_capacity(nodes.len() + 2);
    if let Some((along, across, slope)) = nodes.first() {
        points.push([along + half, across + half * slope]);
    }
    points.extend(nodes.iter().map(|(along, across, _)| [*along, *across]));
    if let Some((along, across, slope)) = nodes.last() {
        points.push([along - half, across - half * slope]);
    }
    points.reverse();
    if end.steep {
        points.iter_mut().for_each(|p| p.swap(0, 1));
    }
    points
}

/// Points about every 2 px along a path, those inside the picture.
fn densified(points: &[[f64; 2]], width: usize, height: usize) -> Vec<([f64; 2], f64)> {
    let mut dense = Vec::new();
    for pair in points.windows(2) {
        let &[a, b] = pair else { continue };
        let (dx, dy) = (b[0] - a[0], b[1] - a[1]);
        let angle = dy.atan2(dx).to_degrees().rem_euclid(180.0);
        let count = (dx.hypot(dy) / 2.0).ceil().max(1.0);
        for i in 0..count as usize {
            let t = i as f64 / count;
            let p = [a[0] + t * dx, a[1] + t * dy];
            if p[0] >= 0.0 && p[1] >= 0.0 && p[0] < width as f64 && p[1] < height as f64 {
                dense.push((p, angle));
            }
        }
    }
    dense
}

/// Which parts of the picture stronger paths have taken, and in which direction, in cells of 2 px.
struct Taken {
    /// Size of the picture, px.
    width: usize,
    height: usize,
    columns: usize,
    rows: usize,
    /// 0 free, else direction in steps of 2° from 1.
    cells: Vec<u8>,
}

impl Taken {
    fn new(width: usize, height: usize) -> Self {
        let (columns, rows) = (width / 2 + 1, height / 2 + 1);
        Self { width, height, columns, rows, cells: vec![0; columns * rows] }
    }

    /// Whether no more than the allowed share of a path lies on those taken before; if so it is taken too.
    fn take(&mut self, path: &Path) -> bool {
        let dense = densified(&path.points_px, self.width, self.height);
        let free = dense.len() >= 2 && self.share(&dense) <= SHARED;
        if free {
            self.mark(&dense);
        }
        free
    }

    fn share(&self, points: &[([f64; 2], f64)]) -> f64 {
        let on_taken = points.iter().filter(|(p, angle)| {
            let (u, v) = ((p[0] / 2.0) as usize, (p[1] / 2.0) as usize);
            (v.saturating_sub(1)..=v + 1)
                .any(|v| (u.saturating_sub(1)..=u + 1).any(|u| self.holds(u, v, *angle)))
        });
        on_taken.count() as f64 / points.len().max(1) as f64
    }

    fn holds(&self, u: usize, v: usize, angle: f64) -> bool {
        if u >= self.columns || v >= self.rows {
            return false;
        }
        let cell = self.cells.get(v * self.columns + u).copied().unwrap_or(0);
        if cell == 0 {
            return false;
        }
        let apart = (f64::from(cell - 1) * 2.0 - angle).abs();
        apart.min(180.0 - apart) <= 12.0
    }

    /// Only the cells of the path itself: grooves of a crowded set run 4 px apart, and what still is the same groove after
    /// re-centring goes then.
    fn mark(&mut self, points: &[([f64; 2], f64)]) {
        for (p, angle) in points {
            let (u, v) = ((p[0] / 2.0) as usize, (p[1] / 2.0) as usize);
            if u < self.columns
                && let Some(cell) = self.cells.get_mut(v * self.columns + u)
            {
                *cell = (angle / 2.0) as u8 % 90 + 1;
            }
        }
    }
}
