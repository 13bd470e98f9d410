//! Of several paths on one groove, the one on its axis stays; side lobes beside a strong groove go.

use std::ops::Range;

use crate::course::tangents;
use crate::light::Lit;
use crate::recentre::{Centred, mean};
use crate::splitting::LEAST_BLOCKS;
use crate::template::Parity;

/// Directions further apart than this belong to different scratches.
const SAME_DIRECTION_COS: f64 = 0.978; // 12°
/// A stretch of a path goes when more than this share of it lies on better ones.
const SHARED: f64 = 0.5;
/// Blocks of a stretch: long enough to tell the axis of a groove from a path along its flank, short enough that a path that is
/// on the axis here gives way where it has left it.
const STRETCH_BLOCKS: usize = 20;
/// How far aside a line speaks for itself beyond 1.5 px, in widths of its cross-section: while paths are chosen, since grooves of
/// a crowded set run close; and at last, when all have been measured and side lobes must go.
const ASIDE: f64 = 1.0;
const ASIDE_AT_LAST: f64 = 1.6;

/// Evidence beyond chance, summed.
pub(crate) fn strength(path: &Centred) -> f32 {
    path.evidence.iter().map(|e| e - 0.8).sum()
}

/// What speaks for a stretch being on the axis of its groove rather than another one beside it: log odds per unit of the ln of
/// what it explains, of mean evidence, of having a bright and a dark side, of the ln of its width, and of the ln of the blocks
/// of its whole path. From pairs of stretches beside one another on rendered stone of which one lay on an axis and the
/// other did not: 66 to 94 % of these are told right, by evidence alone, which is cut so that no block outvotes the others,
/// half of them on grooves of more than 6 px.
struct Standing {
    explained: f32,
    evidence: f32,
    sided: f32,
    width: f32,
    blocks: f32,
}

const ONE_SIDED: Standing =
    Standing { explained: 1.39, evidence: 1.33, sided: -0.27, width: -1.67, blocks: 0.54 };
const ALL_ROUND: Standing = Standing { explained: 2.2, evidence: 0.2, sided: 0.0, width: -4.4, blocks: 0.15 };
const UNKNOWN: Standing =
    Standing { explained: 1.02, evidence: 0.91, sided: -1.46, width: -0.77, blocks: 0.3 };
/// What no stretch explains less than, squared spreads.
const LEAST_EXPLAINED: f32 = 0.2;

impl Standing {
    fn in_light(lit: Lit) -> &'static Self {
        match lit {
            Lit::OneSided(_) => &ONE_SIDED,
            Lit::AllRound => &ALL_ROUND,
            Lit::Unknown => &UNKNOWN,
        }
    }

    fn of(&self, path: &Centred, blocks: Range<usize>) -> f32 {
        let mean_of = |values: &[f32]| mean(values.get(blocks.clone()).unwrap_or(&[]));
        let sided = if path.section.parity == Parity::Odd { self.sided } else { 0.0 };
        self.explained * (mean_of(&path.explained) + LEAST_EXPLAINED).ln()
            + self.evidence * mean_of(&path.evidence)
            + sided
            + self.width * (path.section.sigma_px as f32).ln()
            + self.blocks * (path.evidence.len() as f32).ln()
    }
}

/// A stretch of one of several paths.
struct Stretch {
    standing: f32,
    path: usize,
    blocks: Range<usize>,
}

/// The stretches of all paths, those that stand out most first, then by place.
fn stretches(paths: &[Centred], lit: Lit) -> Vec<Stretch> {
    let standing = Standing::in_light(lit);
    let mut all: Vec<Stretch> = Vec::new();
    for (k, path) in paths.iter().enumerate() {
        let n = path.evidence.len();
        let count = (n as f64 / STRETCH_BLOCKS as f64).round().max(1.0) as usize;
        all.extend((0..count).map(|c| {
            let blocks = c * n / count..(c + 1) * n / count;
            Stretch { standing: standing.of(path, blocks.clone()), path: k, blocks }
        }));
    }
    all.sort_by(|a, b| {
        let place = |s: &Stretch| (s.path, s.blocks.start);
        b.standing.total_cmp(&a.standing).then_with(|| place(a).cmp(&place(b)))
    });
    all
}

/// Keeps of paths on one groove the one on its axis: whole where most of its stretches are the best of their place, else those
/// stretches alone where that leaves room; and paths of the second kind only where those of the first left room.
pub(crate) fn without_duplicates(
    kinds: [Vec<Centred>; 2],
    lit: Lit,
    width: usize,
    height: usize,
) -> Vec<Centred> {
    let mut grid = Grid::new(width, height);
    let mut kept: Vec<Centred> = Vec::new();
    for paths in kinds {
        let (whole, parts) = best_of_their_place(&paths, &grid, lit);
        for path in whole.into_iter().chain(parts) {
            if grid.take(&path.points_px, margin_px(path.section.sigma_px, ASIDE), kept.len()) {
                kept.push(path);
            }
        }
    }
    kept
}

/// Paths of which most stretches stand out most at their place, where `grid` leaves room, best first; and of the other paths
/// the parts that do.
fn best_of_their_place(paths: &[Centred], grid: &Grid, lit: Lit) -> (Vec<Centred>, Vec<Centred>) {
    let mut grid = grid.clone();
    // Numbers that no path in the grid has.
    let first = usize::MAX - paths.len();
    let mut taken: Vec<Vec<Range<usize>>> = vec![Vec::new(); paths.len()];
    let mut order = Vec::new();
    for stretch in stretches(paths, lit) {
        let (Some(path), Some(taken)) = (paths.get(stretch.path), taken.get_mut(stretch.path)) else {
            continue;
        };
        let line = path.points_px.get(stretch.blocks.clone()).unwrap_or(&[]);
        if grid.take(line, margin_px(path.section.sigma_px, ASIDE), first + stretch.path) {
            if taken.is_empty() {
                order.push(stretch.path);
            }
            taken.push(stretch.blocks);
        }
    }
    let (mut whole, mut parts) = (Vec::new(), Vec::new());
    for k in order {
        let (Some(path), Some(taken)) = (paths.get(k), taken.get_mut(k)) else { continue };
        let blocks: usize = taken.iter().map(Range::len).sum();
        if blocks as f64 > SHARED * path.evidence.len() as f64 {
            whole.push(path.clone());
        } else {
            let runs = runs(std::mem::take(taken)).into_iter().filter(|run| run.len() >= LEAST_BLOCKS);
            parts.extend(runs.map(|run| path.part(run)));
        }
    }
    (whole, parts)
}

fn margin_px(sigma_px: f64, aside: f64) -> f64 {
    1.5 + aside * sigma_px
}

/// Ranges put together where one ends as another begins.
fn runs(mut ranges: Vec<Range<usize>>) -> Vec<Range<usize>> {
    ranges.sort_by_key(|range| range.start);
    let mut runs: Vec<Range<usize>> = Vec::new();
    for range in ranges {
        match runs.last_mut() {
            Some(last) if last.end == range.start => last.end = range.end,
            _ => runs.push(range),
        }
    }
    runs
}

/// Of lines, best first, each with the width of its cross-section, px: which do not lie on better ones.
pub(crate) fn single<'a>(
    lines: impl Iterator<Item = (&'a [[f64; 2]], f64)>,
    width: usize,
    height: usize,
) -> Vec<bool> {
    let mut grid = Grid::new(width, height);
    lines
        .enumerate()
        .map(|(number, (line, sigma_px))| grid.take(line, margin_px(sigma_px, ASIDE_AT_LAST), number))
        .collect()
}

/// What a kept path says at one of its points.
#[derive(Clone)]
struct Mark {
    at: [f64; 2],
    tangent: [f64; 2],
    /// How far aside it speaks for its path, px.
    margin_px: f64,
    /// Number of the path.
    path: usize,
}

/// Marks in cells of 16 px.
#[derive(Clone)]
struct Grid {
    columns: usize,
    rows: usize,
    cells: Vec<Vec<Mark>>,
}

/// Half a block and a little: how far along a kept point speaks for its path, px.
const ALONG_PX: f64 = 6.0;

impl Grid {
    fn new(width: usize, height: usize) -> Self {
        let (columns, rows) = (width / 16 + 1, height / 16 + 1);
        Self { columns, rows, cells: std::iter::repeat_with(Vec::new).take(columns * rows).collect() }
    }

    fn cell(&self, p: [f64; 2]) -> (usize, usize) {
        (
            ((p[0] / 16.0).max(0.0) as usize).min(self.columns - 1),
            ((p[1] / 16.0).max(0.0) as usize).min(self.rows - 1),
        )
    }

    /// Whether a path other than `path` has been kept here.
    fn holds_other(&self, at: [f64; 2], tangent: [f64; 2], path: usize) -> bool {
        let (u, v) = self.cell(at);
        let rows = v.saturating_sub(1)..=(v + 1).min(self.rows - 1);
        let columns = u.saturating_sub(1)..=(u + 1).min(self.columns - 1);
        rows.flat_map(|v| columns.clone().map(move |u| (u, v)))
            .filter_map(|(u, v)| self.cells.get(v * self.columns + u))
            .flatten()
            .any(|mark| mark.path != path && mark.covers(at, tangent))
    }

    /// Whether no more than the allowed share of a line lies on other paths taken before; if so it is taken too.
    fn take(&mut self, line: &[[f64; 2]], margin_px: f64, path: usize) -> bool {
        let tangents = tangents(line);
        let covered = line.iter().zip(&tangents).filter(|(p, t)| self.holds_other(**p, **t, path)).count();
        if covered as f64 > SHARED * line.len() as f64 {
            return false;
        }
        for (&at, &tangent) in line.iter().zip(&tangents) {
            let (u, v) = self.cell(at);
            if let Some(cell) = self.cells.get_mut(v * self.columns + u) {
                cell.push(Mark { at, tangent, margin_px, path });
            }
        }
        true
    }
}

impl Mark {
    fn covers(&self, at: [f64; 2], tangent: [f64; 2]) -> bool {
        let (dx, dy) = (at[0] - self.at[0], at[1] - self.at[1]);
        let [tx, ty] = self.tangent;
        (tangent[0] * tx + tangent[1] * ty).abs() > SAME_DIRECTION_COS
            && (dy * tx - dx * ty).abs() <= self.margin_px
            && (dx * tx + dy * ty).abs() <= ALONG_PX
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plane::Plane;
    use crate::recentre::{Bank, Section};

    fn line(y: f64, from: i32, to: i32) -> Vec<[f64; 2]> {
        (from..to).map(|i| [8.0 * f64::from(i), y]).collect()
    }

    /// A groove 10 px broad with a bright and a dark side, along y = 45.
    fn plane() -> Plane {
        Plane::from_rows(300, 90, |y, row| {
            let u = (y as f64 - 45.0) / 4.0;
            let groove = 6.0 * u * (-0.5 * u * u).exp();
            row.iter_mut().enumerate().for_each(|(x, v)| {
                let texture = ((x * 7919 + y * 104_729) % 101) as f64 / 50.0 - 1.0;
                *v = (groove + 0.5 * texture) as f32;
            });
        })
    }

    #[test]
    fn the_axis_stays_and_a_longer_path_along_a_flank_goes() {
        let plane = plane();
        let bank = Bank::new(&plane);
        let axis =
            bank.along(&plane, &dense(&line(45.0, 6, 28)), Section::new(Parity::Odd, 5, 1.0), 2).unwrap();
        let flank =
            bank.along(&plane, &dense(&line(49.0, 2, 34)), Section::new(Parity::Even, 2, 1.0), 2).unwrap();
        assert!(strength(&flank) > strength(&axis), "the flank has more evidence in all");
        let kept = without_duplicates([vec![flank, axis], Vec::new()], Lit::Unknown, 300, 90);
        let in_the_middle: Vec<f64> = kept
            .iter()
            .flat_map(|p| &p.points_px)
            .filter(|p| (90.0..180.0).contains(&p[0]))
            .map(|p| p[1])
            .collect();
        assert!(
            !in_the_middle.is_empty() && in_the_middle.iter().all(|y| (y - 45.0).abs() < 1.6),
            "{in_the_middle:?}"
        );
    }

    fn dense(points: &[[f64; 2]]) -> Vec<[f64; 2]> {
        crate::course::resampled(points, 1.0)
    }

    #[test]
    fn paths_that_cross_and_neighbours_both_stay() {
        let plane = plane();
        let bank = Bank::new(&plane);
        let section = Section::new(Parity::Even, 0, 1.0);
        let along = |points: &[[f64; 2]]| bank.along(&plane, &dense(points), section, 0).unwrap();
        let steep: Vec<[f64; 2]> = (1..11).map(|i| [150.0, 8.0 * f64::from(i)]).collect();
        let paths = vec![along(&line(20.0, 2, 34)), along(&line(26.0, 2, 34)), along(&steep)];
        assert_eq!(without_duplicates([paths.clone(), Vec::new()], Lit::Unknown, 300, 90).len(), 3);
        // The same again is not kept.
        assert_eq!(without_duplicates([paths.clone(), paths], Lit::Unknown, 300, 90).len(), 3);
    }
}
