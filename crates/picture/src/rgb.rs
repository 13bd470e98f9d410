//! Pictures for showing: 8-bit RGB.

use fast_image_resize::images::{TypedImage, TypedImageRef};
use fast_image_resize::pixels::U8x3;
use fast_image_resize::{FilterType, ResizeAlg, ResizeOptions, Resizer};

use crate::Grey;

/// An 8-bit sRGB picture for showing, row by row, three bytes a pixel. Nothing is measured on it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Rgb {
    width: usize,
    height: usize,
    values: Vec<u8>,
}

impl Rgb {
    /// A picture from its bytes; `None` if their number is not `3 × width × height` or a side is 0.
    #[must_use]
    pub fn new(width: usize, height: usize, values: Vec<u8>) -> Option<Self> {
        let wanted = width.checked_mul(height)?.checked_mul(3)?;
        (wanted > 0 && wanted == values.len()).then_some(Self { width, height, values })
    }

    /// A grey plane as a picture; `None` if it has no pixel.
    #[must_use]
    pub fn from_grey(grey: &Grey) -> Option<Self> {
        let values = grey.values().iter().flat_map(|&value| [to_byte(value); 3]).collect();
        Self::new(grey.width(), grey.height(), values)
    }

    /// Width in pixels.
    #[must_use]
    pub fn width(&self) -> usize {
        self.width
    }

    /// Height in pixels.
    #[must_use]
    pub fn height(&self) -> usize {
        self.height
    }

    /// All bytes, row by row, red green blue.
    #[must_use]
    pub fn values(&self) -> &[u8] {
        &self.values
    }

    /// The picture made smaller so that its longer side is at most `max_side` pixels (at least 1); unchanged if it is so already.
    #[must_use]
    pub fn shrink(&self, max_side: usize) -> Self {
        let longer = self.width.max(self.height);
        let max_side = max_side.max(1);
        if longer <= max_side {
            return self.clone();
        }
        let side = |full: usize| {
            ((full as f64 * max_side as f64 / longer as f64).round() as usize).clamp(1, max_side)
        };
        self.resize(side(self.width), side(self.height))
    }

    /// The part with its top-left pixel at `(x, y)`, cropped at the picture's edges; `None` if nothing of it lies inside.
    #[must_use]
    pub fn crop(&self, x: usize, y: usize, width: usize, height: usize) -> Option<Self> {
        let width = width.min(self.width.checked_sub(x)?);
        let height = height.min(self.height.checked_sub(y)?);
        let rows = self.values.chunks_exact(3 * self.width).skip(y).take(height);
        let values = rows.flat_map(|row| row.get(3 * x..3 * (x + width)).unwrap_or(&[])).copied().collect();
        Self::new(width, height, values)
    }

    /// The picture at another size (at least 1 × 1), by area-aware interpolation on the encoded values.
    #[must_use]
    pub fn resize(&self, width: usize, height: usize) -> Self {
        self.resize_part([0.0, 0.0, self.width as f64, self.height as f64], width, height)
    }

    /// The part `[left, top, width, height]` (pixel edges, may be fractional, inside the picture) at another size.
    pub(crate) fn resize_part(&self, part: [f64; 4], width: usize, height: usize) -> Self {
        let (width, height) = (width.max(1), height.max(1));
        let [left, top, part_width, part_height] = part;
        self.try_resize(ResizeOptions::new().crop(left, top, part_width, part_height), width, height)
            .unwrap_or_else(|| self.nearest(part, width, height))
    }

    fn try_resize(&self, options: ResizeOptions, width: usize, height: usize) -> Option<Self> {
        let side = |pixels: usize| u32::try_from(pixels).ok();
        let (own, wanted) = ((side(self.width)?, side(self.height)?), (side(width)?, side(height)?));
        let mut values = vec![0u8; width.checked_mul(height)?.checked_mul(3)?];
        // Typed views: the untyped call would compile every kind of pixel the library knows.
        let source = TypedImageRef::<U8x3>::from_buffer(own.0, own.1, &self.values).ok()?;
        let mut target = TypedImage::<U8x3>::from_buffer(wanted.0, wanted.1, &mut values).ok()?;
        let options = options.resize_alg(ResizeAlg::Convolution(FilterType::CatmullRom));
        Resizer::new().resize_typed(&source, &mut target, &options).ok()?;
        Self::new(width, height, values)
    }

    /// Plain nearest-pixel sampling, for the sizes the resizer refuses (parts thinner than it accepts).
    fn nearest(&self, [left, top, part_width, part_height]: [f64; 4], width: usize, height: usize) -> Self {
        let index = |start: f64, length: f64, i: usize, n: usize, full: usize| {
            ((start + length * (i as f64 + 0.5) / n as f64).max(0.0) as usize).min(full - 1)
        };
        let mut values = Vec::with_capacity(3 * width * height);
        for row in 0..height {
            let y = index(top, part_height, row, height, self.height);
            for column in 0..width {
                let at = 3 * (y * self.width + index(left, part_width, column, width, self.width));
                values.extend_from_slice(self.values.get(at..at + 3).unwrap_or(&[0; 3]));
            }
        }
        Self { width, height, values }
    }
}

/// A value on the 0–1 scale as a byte.
pub(crate) fn to_byte(value: f32) -> u8 {
    (value.clamp(0.0, 1.0) * 255.0 + 0.5) as u8
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ramp(width: usize, height: usize) -> Rgb {
        let values = (0..height).flat_map(|y| (0..width).flat_map(move |x| [x as u8, y as u8, 7])).collect();
        Rgb::new(width, height, values).unwrap()
    }

    #[test]
    fn crop_stops_at_the_edge() {
        let part = ramp(30, 20).crop(25, 15, 10, 10).unwrap();
        assert_eq!((part.width(), part.height()), (5, 5));
        assert_eq!(&part.values()[..3], &[25, 15, 7]);
        assert!(ramp(30, 20).crop(30, 0, 1, 1).is_none());
        assert!(ramp(30, 20).crop(31, 0, 1, 1).is_none());
        assert!(ramp(30, 20).crop(0, 0, 0, 1).is_none());
    }

    #[test]
    fn shrink_keeps_the_shape() {
        let small = ramp(200, 100).shrink(50);
        assert_eq!((small.width(), small.height()), (50, 25));
        assert_eq!(ramp(20, 10).shrink(50), ramp(20, 10));
        let sliver = ramp(255, 1).shrink(10);
        assert_eq!((sliver.width(), sliver.height()), (10, 1));
    }

    #[test]
    fn resizing_an_even_field_keeps_it() {
        let even = Rgb::new(64, 48, vec![90; 64 * 48 * 3]).unwrap();
        assert!(even.resize(17, 100).values().iter().all(|&v| v == 90));
    }
}
