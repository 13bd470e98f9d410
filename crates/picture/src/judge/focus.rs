//! Sharpness from the width of edges.

use quantity::Measured;
use rayon::prelude::*;

use crate::Grey;
use crate::blur::gaussian;

/// Scales at which edges are looked at: pairs of Gaussian standard deviations in pixels. The finer pair is used where its edges rise above the noise.
const SCALES_PX: [(f64, f64); 3] = [(1.0, 2.0), (2.0, 4.0), (4.0, 8.0)];
/// An edge counts if its slope is this many standard deviations of the slope that noise alone makes (ours).
const LEAST_SLOPE: f64 = 8.0;
/// Fewest edges that give a value (ours).
const LEAST_EDGES: usize = 100;
/// Quantile of the edges that speaks for the optics. The median: lines pass for sharper and soft boundaries for softer than a step (ours, set on
/// rendered stone blurred by 0.7 to 5 px).
const QUANTILE: f64 = 0.5;
/// Uncertainty of the model that edges are steps: a share of the value, and what lines feign in sharp pictures, in pixels (ours, same pictures).
const MODEL_SHARE: f64 = 0.2;
const MODEL_PX: f64 = 0.4;
/// Side of the middle part and of further parts that are looked at, pixels (ours: keeps large pictures quick).
const PART_PX: usize = 512;
const PARTS_A_SIDE: usize = 4;

/// Standard deviation of the blur of typical edges, in pixels.
///
/// A step edge blurred by σ and again by s has the slope ∝ 1/√(σ² + s²); from two values of s follows σ. The median of
/// all edges counts.
///
/// # Source
/// S. Zhuo and T. Sim, 'Defocus map estimation from a single image', Pattern Recognition 44 (2011), idea of the re-blurred gradient ratio (from
/// memory, source not seen); selection and uncertainty ours.
pub(super) fn sigma(parts: &[Grey], noise_sigma: f64) -> Option<Measured> {
    SCALES_PX.iter().find_map(|&(fine, coarse)| {
        let mut squares: Vec<f64> = edges(parts, fine, coarse, noise_sigma);
        squares.sort_unstable_by(f64::total_cmp);
        // Beyond the coarse scale the ratio says little: the next pair is better there.
        from_squares(&squares).filter(|found| found.value <= coarse)
    })
}

fn from_squares(squares: &[f64]) -> Option<Measured> {
    if squares.len() < LEAST_EDGES {
        return None;
    }
    let at = |share: f64| squares.get((share * (squares.len() - 1) as f64) as usize).copied().unwrap_or(0.0);
    let sigma = |square: f64| square.max(0.0).sqrt();
    let value = sigma(at(QUANTILE));
    // Edges come in runs along one contour: about one independent edge in ten (ours).
    let independent = (squares.len() as f64 / 10.0).max(4.0);
    let reach = (QUANTILE * (1.0 - QUANTILE) / independent).sqrt();
    let u = (sigma(at((QUANTILE + reach).min(1.0))) - sigma(at((QUANTILE - reach).max(0.0)))) / 2.0;
    Some(Measured { value, u: u.hypot(MODEL_SHARE * value).hypot(MODEL_PX) })
}

/// Evenly spread parts of the picture, or the whole if it is small.
pub(super) fn parts(grey: &Grey) -> Vec<Grey> {
    let (width, height) = (grey.width(), grey.height());
    let starts = |full: usize| -> Vec<usize> {
        let count = (full / PART_PX).clamp(1, PARTS_A_SIDE);
        let free = full.saturating_sub(PART_PX);
        (0..count).map(|i| if count == 1 { free / 2 } else { i * free / (count - 1) }).collect()
    };
    let mut parts = Vec::new();
    for &top in &starts(height) {
        for &left in &starts(width) {
            let (w, h) = (PART_PX.min(width), PART_PX.min(height));
            let values = (top..top + h)
                .flat_map(|y| grey.row(y).get(left..left + w).unwrap_or(&[]).iter().copied())
                .collect();
            parts.extend(Grey::new(w, h, values));
        }
    }
    parts
}

/// Square of the blur at every edge of all parts, at one pair of scales; negative for lines, which are narrower than steps.
fn edges(parts: &[Grey], fine: f64, coarse: f64, noise_sigma: f64) -> Vec<f64> {
    parts.par_iter().flat_map(|part| part_edges(part, fine, coarse, noise_sigma)).collect()
}

fn part_edges(part: &Grey, fine: f64, coarse: f64, noise_sigma: f64) -> Vec<f64> {
    let (width, height) = (part.width(), part.height());
    let [fine_plane, coarse_plane] =
        [fine, coarse].map(|sigma| gaussian(part.values(), width, height, sigma));
    let border = (3.0 * coarse) as usize + 1;
    if width <= 2 * border || height <= 2 * border {
        return Vec::new();
    }
    // White noise of σ has slopes of σ/(√(8π) s²) after smoothing by s.
    let least = LEAST_SLOPE * noise_sigma.max(1e-3) / ((8.0 * std::f64::consts::PI).sqrt() * fine * fine);
    let slope = |plane: &[f32], x: usize, y: usize| {
        let at = |x: usize, y: usize| f64::from(plane.get(y * width + x).copied().unwrap_or(0.0));
        [(at(x + 1, y) - at(x - 1, y)) / 2.0, (at(x, y + 1) - at(x, y - 1)) / 2.0]
    };
    let mut found = Vec::new();
    for y in border..height - border {
        for x in border..width - border {
            let [gx, gy] = slope(&fine_plane, x, y);
            let size = gx.hypot(gy);
            if size < least || !is_crest(&slope, &fine_plane, x, y, [gx / size, gy / size], size) {
                continue;
            }
            let [cx, cy] = slope(&coarse_plane, x, y);
            let ratio = size / ((cx * gx + cy * gy) / size).max(1e-9);
            let squared = ratio * ratio;
            let square = if squared <= 1.02 {
                f64::INFINITY
            } else {
                (coarse * coarse - squared * fine * fine) / (squared - 1.0)
            };
            found.push(square);
        }
    }
    found
}

/// Whether the slope is largest here along its own direction.
fn is_crest(
    slope: &impl Fn(&[f32], usize, usize) -> [f64; 2],
    plane: &[f32],
    x: usize,
    y: usize,
    [nx, ny]: [f64; 2],
    size: f64,
) -> bool {
    let step = |sign: f64| {
        let to = |at: usize, by: f64| (at as f64 + sign * by).round() as usize;
        let [gx, gy] = slope(plane, to(x, nx), to(y, ny));
        gx * nx + gy * ny
    };
    size > step(1.0) && size >= step(-1.0)
}
