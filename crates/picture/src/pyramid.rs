//! One picture at many sizes, for tiles.

use rayon::prelude::*;

use crate::decode::upright;
use crate::iiif::{Quality, TileFormat, TilePlan};
use crate::{EncodeError, Rgb};

/// A picture with its halvings down to a single tile, built once: together a third more memory than the picture.
#[derive(Debug, Clone)]
pub struct Pyramid {
    picture: Rgb,
    /// Each half as large as the one before, the first half as large as the picture.
    levels: Vec<Rgb>,
}

/// Halving stops when both sides are at most this: smaller answers are quick from here (ours).
const SMALLEST_LEVEL_PX: usize = 256;
/// Quality of JPEG tiles: no visible blocks on scratches at twice the size (ours, by eye).
const JPEG_QUALITY: u8 = 92;

impl Pyramid {
    /// Builds all levels.
    #[must_use]
    pub fn new(picture: Rgb) -> Self {
        let is_large = |level: &&Rgb| level.width().max(level.height()) > SMALLEST_LEVEL_PX;
        let mut levels = Vec::new();
        while let Some(smaller) = Some(levels.last().unwrap_or(&picture)).filter(is_large).map(halved) {
            levels.push(smaller);
        }
        Self { picture, levels }
    }

    /// Width and height of the picture in pixels.
    #[must_use]
    pub fn size(&self) -> (usize, usize) {
        (self.picture.width(), self.picture.height())
    }

    /// Draws a planned tile: cut, resized, turned, in grey if asked.
    #[must_use]
    pub fn draw(&self, plan: &TilePlan) -> Rgb {
        let [x, y, w, h] = plan.region.map(f64::from);
        let [out_w, out_h] = plan.size;
        // The smallest level that still has at least the wanted resolution.
        let shrinking = (w / f64::from(out_w)).min(h / f64::from(out_h)).max(1.0);
        let halvings = (shrinking.log2().floor() as usize).min(self.levels.len());
        let level = halvings.checked_sub(1).and_then(|index| self.levels.get(index)).unwrap_or(&self.picture);
        let factor = (1u64 << halvings) as f64;
        let (level_w, level_h) = (level.width() as f64, level.height() as f64);
        let (left, top) = ((x / factor).min(level_w - 1.0), (y / factor).min(level_h - 1.0));
        let part = [left, top, (w / factor).min(level_w - left), (h / factor).min(level_h - top)];
        let drawn = level.resize_part(part, out_w as usize, out_h as usize);
        let drawn = if plan.quality == Quality::Grey { in_grey(&drawn) } else { drawn };
        turned(drawn, plan.quarter_turns)
    }

    /// Draws a planned tile and encodes it.
    ///
    /// # Errors
    /// [`EncodeError`] if the encoder stops.
    pub fn tile(&self, plan: &TilePlan) -> Result<Vec<u8>, EncodeError> {
        let drawn = self.draw(plan);
        match plan.format {
            TileFormat::Jpg => drawn.to_jpeg(JPEG_QUALITY),
            TileFormat::Png => drawn.to_png(),
        }
    }
}

/// Half as large by means of 2 × 2 pixels; an odd last row or column stands for itself.
fn halved(picture: &Rgb) -> Rgb {
    let (width, height) = (picture.width(), picture.height());
    let (half_width, half_height) = (width.div_ceil(2), height.div_ceil(2));
    let source = picture.values();
    let mut values = vec![0u8; 3 * half_width * half_height];
    values.par_chunks_mut(3 * half_width).enumerate().for_each(|(y, row)| {
        let rows = [2 * y, (2 * y + 1).min(height - 1)]
            .map(|y| source.get(3 * width * y..3 * width * (y + 1)).unwrap_or(&[]));
        for (x, pixel) in row.chunks_exact_mut(3).enumerate() {
            let columns = [2 * x, (2 * x + 1).min(width - 1)];
            for (channel, value) in pixel.iter_mut().enumerate() {
                let sum: u32 = rows
                    .iter()
                    .flat_map(|row| {
                        columns.map(|x| u32::from(row.get(3 * x + channel).copied().unwrap_or(0)))
                    })
                    .sum();
                *value = (sum.div_ceil(4)).min(255) as u8;
            }
        }
    });
    Rgb::new(half_width, half_height, values).unwrap_or_else(|| picture.clone())
}

fn in_grey(picture: &Rgb) -> Rgb {
    let luma = |pixel: &[u8]| {
        let [r, g, b] = [0, 1, 2].map(|i| u32::from(pixel.get(i).copied().unwrap_or(0)));
        ((299 * r + 587 * g + 114 * b + 500) / 1000) as u8
    };
    let values = picture.values().chunks_exact(3).flat_map(|pixel| [luma(pixel); 3]).collect();
    Rgb::new(picture.width(), picture.height(), values).unwrap_or_else(|| picture.clone())
}

fn turned(picture: Rgb, quarter_turns: u8) -> Rgb {
    // Orientation tags that turn a stored picture by this many clockwise quarters.
    let tag = match quarter_turns {
        1 => 6,
        2 => 3,
        3 => 8,
        _ => return picture,
    };
    let (values, width, height) =
        upright::<u8, 3>(picture.values().to_vec(), picture.width(), picture.height(), tag);
    Rgb::new(width, height, values).unwrap_or(picture)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::iiif::TileRequest;

    fn gradient(width: usize, height: usize) -> Rgb {
        let pixel = |x: usize, y: usize| [(x * 255 / width) as u8, (y * 255 / height) as u8, 128];
        Rgb::new(width, height, (0..height).flat_map(|y| (0..width).flat_map(move |x| pixel(x, y))).collect())
            .unwrap()
    }

    fn draw(pyramid: &Pyramid, region: &str, size: &str, rotation: &str) -> Rgb {
        let (width, height) = pyramid.size();
        pyramid.draw(
            &TileRequest::parse(region, size, rotation, "default.png")
                .unwrap()
                .plan(width as u32, height as u32)
                .unwrap(),
        )
    }

    #[test]
    fn a_tile_at_full_size_is_the_picture() {
        let picture = gradient(1000, 700);
        let pyramid = Pyramid::new(picture.clone());
        assert_eq!(draw(&pyramid, "100,50,300,200", "max", "0"), picture.crop(100, 50, 300, 200).unwrap());
    }

    #[test]
    fn every_size_shows_the_same_place() {
        let pyramid = Pyramid::new(gradient(2048, 1024));
        for size in ["512,", "300,", "64,", "10,", "1,"] {
            let drawn = draw(&pyramid, "1024,512,512,512", size, "0");
            let middle = 3 * (drawn.height() / 2 * drawn.width() + drawn.width() / 2);
            let found = &drawn.values()[middle..middle + 2];
            assert!(
                (i32::from(found[0]) - 159).abs() <= 8 && (i32::from(found[1]) - 191).abs() <= 16,
                "{size}: {found:?}"
            );
        }
    }

    #[test]
    fn turning_is_clockwise() {
        let pyramid = Pyramid::new(gradient(400, 200));
        let drawn = draw(&pyramid, "full", "max", "90");
        assert_eq!((drawn.width(), drawn.height()), (200, 400));
        // The bottom-left corner comes to the top left.
        assert!(drawn.values()[0] < 3 && drawn.values()[1] > 250);
    }

    #[test]
    fn slivers_and_single_pixels() {
        for (width, height) in [(1, 1), (5000, 1), (1, 5000), (257, 3)] {
            let pyramid = Pyramid::new(gradient(width, height));
            for size in ["max", "pct:50", "1,1", "^7,9"] {
                let drawn = draw(&pyramid, "full", size, "0");
                assert!(drawn.width() >= 1 && drawn.height() >= 1);
            }
        }
    }
}
