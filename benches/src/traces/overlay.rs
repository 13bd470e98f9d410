//! What was found and missed, drawn over the picture. Colours after Okabe and Ito, told apart by colour-blind readers too.

use finish::render::Truth;
use picture::{Grey, Rgb};

use super::samples::{Index, Sample, samples};
use super::score::{COUNTABLE_CNR, Key};

const FOUND_TRUE: [u8; 3] = [0, 158, 115];
const FOUND_FALSE: [u8; 3] = [213, 94, 0];
const MISSED: [u8; 3] = [86, 180, 233];
const MISSED_FAINT: [u8; 3] = [0, 80, 130];

/// The picture with found true length in green, false length in orange, missed length in blue (dark where too faint to
/// count).
#[must_use]
pub fn draw(grey: &Grey, truth: &Truth, lines: &[Vec<[f64; 2]>]) -> Option<Rgb> {
    let (width, height) = (grey.width(), grey.height());
    let mut canvas: Vec<u8> =
        grey.values().iter().flat_map(|v| [(v.clamp(0.0, 1.0) * 255.0).round() as u8; 3]).collect();
    let mut dot = |s: &Sample, colour: [u8; 3]| {
        let (x, y) = (s.at[0].round(), s.at[1].round());
        if x >= 0.0 && y >= 0.0 && (x as usize) < width && (y as usize) < height {
            let at = 3 * (y as usize * width + x as usize);
            canvas[at..at + 3].copy_from_slice(&colour);
        }
    };
    let key = Key::new(truth, width, height);
    let hits: Vec<Vec<(Sample, bool)>> = lines.iter().map(|l| key.hits(l)).collect();
    let found: Vec<Sample> = hits.iter().flatten().map(|(s, _)| *s).collect();
    let index = Index::new(&found, width, height);
    for scratch in &truth.scratches {
        let colour = if scratch.cnr >= COUNTABLE_CNR { MISSED } else { MISSED_FAINT };
        for s in samples(&scratch.points_px, 0, width, height) {
            if index.near(&s).next().is_none() {
                dot(&s, colour);
            }
        }
    }
    for (s, hit) in hits.iter().flatten() {
        dot(s, if *hit { FOUND_TRUE } else { FOUND_FALSE });
    }
    Rgb::new(width, height, canvas)
}
