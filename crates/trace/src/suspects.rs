//! What else could have drawn a trace that was accepted: marked, not thrown away, for the examiner to decide.

use picture::{BlockGrid, Quality};

use crate::features::{GRAIN_CHANGE, REPEATS, STEP};
use crate::level::Placed;
use crate::types::Suspect;

/// Steps of the background across the trace, in units of its own amplitude, from which it looks like a grain's edge. On
/// rendered stone 1.8 % of true and 4 % of false accepted traces exceed it.
const EDGE_STEP: f64 = 2.5;
/// Strength of copies beside a trace, in units of its own, from which it is one of a series.
const SERIES: f64 = 0.7;
/// ln of the background's change from block to block, in noise units, below which a trace stays inside one grain.
const ONE_GRAIN: f64 = -1.0;
/// Longest lamella that fits a grain, px.
const LAMELLA_PX: f64 = 200.0;
/// Lines within this angle of rows or columns may be drawn by the file or the sensor, degrees.
const SQUARE_DEG: f64 = 1.0;
/// A line within this distance of a block boundary lies on it, px: half a pixel of place and half of refinement.
const ON_GRID_PX: f64 = 1.0;

/// Offsets of rows or columns scatter; a line stronger than this many of their standard deviations is not drawn by one of
/// them in all the rows of a large picture (1 in 20 000 of a normal distribution).
const OFFSETS: f64 = 4.0;

/// The likeliest other cause of a trace, if there is one. `noise_sigma` is the picture's spread on the 0–1 scale.
pub(crate) fn suspect(
    placed: &Placed,
    features: &[f64],
    quality: &Quality,
    noise_sigma: f64,
) -> Option<Suspect> {
    let feature = |k: usize| features.get(k).copied().unwrap_or(0.0);
    let square = square(placed);
    if let (Some(grid), Some(axis)) = (&quality.blocks, square)
        && on_grid(placed, grid, axis)
    {
        return Some(Suspect::Compression);
    }
    if let (Some(lines), Some(axis)) = (&quality.sensor_rows, square) {
        let drawn = match axis {
            Square::Row => lines.rows,
            Square::Column => lines.columns,
        };
        if drawn > 0.0 && placed.contrast * noise_sigma < OFFSETS * drawn {
            return Some(Suspect::Sensor);
        }
    }
    if feature(STEP) > EDGE_STEP {
        return Some(Suspect::GrainEdge);
    }
    let in_one_grain = feature(GRAIN_CHANGE) < ONE_GRAIN && placed.length_px < LAMELLA_PX;
    (in_one_grain && feature(REPEATS) > SERIES).then_some(Suspect::Lamella)
}

/// Along which side of the picture a trace runs.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Square {
    Row,
    Column,
}

fn square(placed: &Placed) -> Option<Square> {
    let direction = placed.direction.degrees();
    if !(SQUARE_DEG..=180.0 - SQUARE_DEG).contains(&direction) {
        Some(Square::Row)
    } else if (direction - 90.0).abs() < SQUARE_DEG {
        Some(Square::Column)
    } else {
        None
    }
}

/// Whether a trace along rows or columns lies on a boundary of the compression's blocks.
fn on_grid(placed: &Placed, grid: &BlockGrid, axis: Square) -> bool {
    let coordinate = match axis {
        Square::Row => 1,
        Square::Column => 0,
    };
    let n = placed.points_px.len().max(1) as f64;
    let place = placed.points_px.iter().map(|p| p[coordinate]).sum::<f64>() / n;
    let phase = grid.phase_px[coordinate];
    let off = (place - phase + grid.period_px / 2.0).rem_euclid(grid.period_px) - grid.period_px / 2.0;
    grid.period_px > 0.0 && off.abs() < ON_GRID_PX
}
