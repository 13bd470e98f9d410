//! Mean power spectrum of a picture's parts.

use std::f64::consts::PI;

use rayon::prelude::*;

use crate::Grey;
use crate::fft::{Complex64, forward};

/// Side of a tile in pixels: resolves motions of 2 to 40 pixels (ours).
pub(super) const TILE_PX: usize = 256;

/// Power at `[ky × TILE_PX + kx]`, each tile counted alike whatever its contrast; `None` if the picture is smaller than a tile.
pub(super) fn mean_power(parts: &[Grey]) -> Option<Vec<f64>> {
    let tiles: Vec<Vec<f32>> = parts.par_iter().flat_map(tiles).collect();
    if tiles.is_empty() {
        return None;
    }
    let plan = forward(TILE_PX);
    let spectra: Vec<Vec<f64>> = tiles.into_par_iter().map(|tile| power(&tile, plan.as_ref())).collect();
    let mut mean = vec![0.0; TILE_PX * TILE_PX];
    for spectrum in &spectra {
        // Fine structure decides, not the few large contrasts.
        let fine: f64 = spectrum
            .iter()
            .enumerate()
            .filter(|(i, _)| (0.05..0.4).contains(&frequency(*i).2))
            .map(|(_, p)| p)
            .sum();
        mean.iter_mut().zip(spectrum).for_each(|(sum, p)| *sum += p / fine.max(1e-12));
    }
    Some(mean)
}

/// Frequencies of a bin in cycles per pixel along x, along y, and from the origin.
pub(super) fn frequency(index: usize) -> (f64, f64, f64) {
    let signed =
        |k: usize| if 2 * k < TILE_PX { k as f64 } else { k as f64 - TILE_PX as f64 } / TILE_PX as f64;
    let (fx, fy) = (signed(index % TILE_PX), signed(index / TILE_PX));
    (fx, fy, fx.hypot(fy))
}

/// Overlapping tiles, mean taken off and faded out at the edges.
fn tiles(part: &Grey) -> Vec<Vec<f32>> {
    let starts =
        |full: usize| (0..).map(|i| i * TILE_PX / 2).take_while(move |start| start + TILE_PX <= full);
    let fade: Vec<f32> = (0..TILE_PX)
        .map(|i| (0.5 - 0.5 * (2.0 * PI * (i as f64 + 0.5) / TILE_PX as f64).cos()) as f32)
        .collect();
    let mut tiles = Vec::new();
    for top in starts(part.height()) {
        for left in starts(part.width()) {
            let mut tile: Vec<f32> = (top..top + TILE_PX)
                .flat_map(|y| part.row(y).get(left..left + TILE_PX).unwrap_or(&[]).iter().copied())
                .collect();
            let mean = tile.iter().sum::<f32>() / tile.len().max(1) as f32;
            for (row, fade_row) in tile.chunks_exact_mut(TILE_PX).zip(&fade) {
                row.iter_mut()
                    .zip(&fade)
                    .for_each(|(v, fade_column)| *v = (*v - mean) * fade_row * fade_column);
            }
            tiles.push(tile);
        }
    }
    tiles
}

fn power(tile: &[f32], plan: &dyn rustfft::Fft<f64>) -> Vec<f64> {
    let mut rows: Vec<Complex64> = tile.iter().map(|&v| Complex64::new(f64::from(v), 0.0)).collect();
    plan.process(&mut rows);
    let mut columns: Vec<Complex64> =
        (0..TILE_PX).flat_map(|x| rows.iter().skip(x).step_by(TILE_PX).copied()).collect();
    plan.process(&mut columns);
    // Columns lie one after the other: bin (kx, ky) stands at kx × TILE_PX + ky.
    let at = |i: usize| columns.get(i % TILE_PX * TILE_PX + i / TILE_PX).map_or(0.0, |v| v.norm_sqr());
    (0..columns.len()).map(at).collect()
}
