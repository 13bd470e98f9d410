//! Of several paths on one groove, the strongest stays; side lobes beside a strong groove go.

use std::cmp::Ordering;

use crate::course::tangents;
use crate::features::Candidate;
use crate::recentre::Centred;

/// Directions further apart than this belong to different scratches.
const SAME_DIRECTION_COS: f64 = 0.978; // 12°
/// A path goes when more than this share of it lies on stronger ones.
const SHARED: f64 = 0.5;

/// Weight of what a path explains beside its evidence when one of two paths on a groove must go: on faint grooves nothing;
/// on strong ones the path on the axis explains several times what one along a side does.
const EXPLAINED: f32 = 0.1;
/// Most that one block explains, squared spreads.
const MOST_EXPLAINED: f32 = 100.0;

fn rank(path: &Centred) -> f32 {
    strength(path) + EXPLAINED * path.explained.min(MOST_EXPLAINED) * path.evidence.len() as f32
}

/// Evidence beyond chance, summed.
pub(crate) fn strength(path: &Centred) -> f32 {
    path.evidence.iter().map(|e| e - 0.8).sum()
}

/// Keeps the strongest paths, strongest first; those of the second kind only where those of the first left room.
pub(crate) fn without_duplicates(kinds: [Vec<Centred>; 2], width: usize, height: usize) -> Vec<Centred> {
    let mut grid = Grid::new(width, height);
    let mut kept = Vec::new();
    for mut paths in kinds {
        paths.sort_by(by_rank);
        for path in paths {
            if grid.take(&path.points_px, path.section.sigma_px) {
                kept.push(path);
            }
        }
    }
    kept.sort_by(by_rank);
    kept
}

/// Keeps of measured candidates, strongest first, those that joining and growing have not laid on a stronger one.
pub(crate) fn still_single(mut candidates: Vec<Candidate>, width: usize, height: usize) -> Vec<Candidate> {
    let mut grid = Grid::new(width, height);
    candidates.retain(|c| grid.take(&c.points_px, c.centred.section.sigma_px));
    candidates
}

/// Strongest first, then by place, so that the order never depends on threads.
fn by_rank(a: &Centred, b: &Centred) -> Ordering {
    let place = |p: &Centred| p.points_px.first().copied().unwrap_or_default();
    rank(b)
        .total_cmp(&rank(a))
        .then_with(|| place(a)[0].total_cmp(&place(b)[0]))
        .then_with(|| place(a)[1].total_cmp(&place(b)[1]))
}

/// A point of a kept path, its tangent, and how far aside it speaks for its path, px.
type Mark = ([f64; 2], [f64; 2], f64);

/// Marks in cells of 16 px.
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
        Self { columns, rows, cells: vec![Vec::new(); columns * rows] }
    }

    fn cell(&self, p: [f64; 2]) -> (usize, usize) {
        (
            ((p[0] / 16.0).max(0.0) as usize).min(self.columns - 1),
            ((p[1] / 16.0).max(0.0) as usize).min(self.rows - 1),
        )
    }

    fn holds(&self, p: [f64; 2], t: [f64; 2]) -> bool {
        let (u, v) = self.cell(p);
        (v.saturating_sub(1)..=(v + 1).min(self.rows - 1)).any(|v| {
            (u.saturating_sub(1)..=(u + 1).min(self.columns - 1)).any(|u| {
                self.cells.get(v * self.columns + u).is_some_and(|cell| {
                    cell.iter().any(|(q, s, margin)| {
                        let (dx, dy) = (p[0] - q[0], p[1] - q[1]);
                        (t[0] * s[0] + t[1] * s[1]).abs() > SAME_DIRECTION_COS
                            && (dy * s[0] - dx * s[1]).abs() <= *margin
                            && (dx * s[0] + dy * s[1]).abs() <= ALONG_PX
                    })
                })
            })
        })
    }

    /// Whether no more than the allowed share of a path lies on those taken before; if so it is taken too.
    fn take(&mut self, points: &[[f64; 2]], sigma_px: f64) -> bool {
        let tangents = tangents(points);
        let covered = points.iter().zip(&tangents).filter(|(p, t)| self.holds(**p, **t)).count();
        if covered as f64 > SHARED * points.len() as f64 {
            return false;
        }
        // Side lobes of a strong groove lie within its own width.
        let margin = 1.5 + 1.6 * sigma_px;
        for (p, t) in points.iter().zip(&tangents) {
            self.add(*p, *t, margin);
        }
        true
    }

    fn add(&mut self, p: [f64; 2], t: [f64; 2], margin: f64) {
        let (u, v) = self.cell(p);
        if let Some(cell) = self.cells.get_mut(v * self.columns + u) {
            cell.push((p, t, margin));
        }
    }
}
