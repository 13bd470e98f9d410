//! Of several paths on one groove, the strongest stays; side lobes beside a strong groove go.

use crate::course::tangents;
use crate::recentre::Centred;

/// Directions further apart than this belong to different scratches.
const SAME_DIRECTION_COS: f64 = 0.978; // 12°
/// A path goes when more than this share of it lies on stronger ones.
const SHARED: f64 = 0.5;

/// Strength by which paths are ranked: evidence beyond chance, summed.
pub(crate) fn strength(path: &Centred) -> f32 {
    path.evidence.iter().map(|e| e - 0.8).sum()
}

/// Keeps the strongest paths, strongest first.
pub(crate) fn without_duplicates(mut paths: Vec<Centred>, width: usize, height: usize) -> Vec<Centred> {
    paths.sort_by(|a, b| {
        let place = |p: &Centred| p.points_px.first().copied().unwrap_or_default();
        strength(b)
            .total_cmp(&strength(a))
            .then_with(|| place(a)[0].total_cmp(&place(b)[0]))
            .then_with(|| place(a)[1].total_cmp(&place(b)[1]))
    });
    let mut grid = Grid::new(width, height);
    let mut kept = Vec::new();
    for path in paths {
        let tangents = tangents(&path.points_px);
        let covered = path.points_px.iter().zip(&tangents).filter(|(p, t)| grid.holds(**p, **t)).count();
        if covered as f64 > SHARED * path.points_px.len() as f64 {
            continue;
        }
        // Side lobes of a strong groove lie within its own width.
        let margin = 1.5 + 1.6 * path.section.sigma_px;
        for (p, t) in path.points_px.iter().zip(&tangents) {
            grid.add(*p, *t, margin);
        }
        kept.push(path);
    }
    kept
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

    fn add(&mut self, p: [f64; 2], t: [f64; 2], margin: f64) {
        let (u, v) = self.cell(p);
        if let Some(cell) = self.cells.get_mut(v * self.columns + u) {
            cell.push((p, t, margin));
        }
    }
}
