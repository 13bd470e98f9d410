//! The plane a decoder paints on, block by block.

use rayon::prelude::*;

use super::tone::{Tone, luma};
use crate::rgb::to_byte;

/// What the caller wants to have.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Want {
    /// The plane everything is measured on.
    Grey,
    /// Colours for showing.
    Rgb,
}

impl Want {
    /// Bytes per pixel of the finished plane.
    pub(crate) fn bytes(self) -> u64 {
        match self {
            Self::Grey => 4,
            Self::Rgb => 3,
        }
    }
}

/// Decoded samples, interleaved, row by row.
#[derive(Clone, Copy)]
pub(crate) enum Samples<'a> {
    U8(&'a [u8]),
    U16(&'a [u16]),
    /// On the 0–1 scale, or any scale in files that hold floating-point numbers.
    F32(&'a [f32]),
}

/// A rectangle of decoded samples.
pub(crate) struct Block<'a> {
    pub(crate) x: usize,
    pub(crate) y: usize,
    pub(crate) width: usize,
    pub(crate) samples: Samples<'a>,
    /// Samples per pixel; those behind the first (grey) or third (colour) are left out.
    pub(crate) stride: usize,
    pub(crate) coloured: bool,
}

/// Pixels gathered so far.
pub(crate) enum Plane {
    Grey(Vec<f32>),
    Rgb(Vec<u8>),
}

/// The picture while it is decoded.
pub(crate) struct Canvas {
    pub(crate) width: usize,
    pub(crate) height: usize,
    pub(crate) plane: Plane,
    pub(crate) tone: Tone,
}

impl Canvas {
    /// An empty canvas; the size has been checked against the limits.
    pub(crate) fn new(width: usize, height: usize, want: Want, tone: Tone) -> Self {
        let plane = match want {
            Want::Grey => Plane::Grey(vec![0.0; width * height]),
            Want::Rgb => Plane::Rgb(vec![0; 3 * width * height]),
        };
        Self { width, height, plane, tone }
    }

    /// Paints a block; what lies outside the canvas is left out.
    pub(crate) fn put(&mut self, block: &Block<'_>) {
        let width = self.width;
        let tone = &self.tone;
        let row_of = |index: usize| (index >= block.y).then(|| block.row(index - block.y)).flatten();
        let shown = block.width.min(width.saturating_sub(block.x));
        match &mut self.plane {
            Plane::Grey(values) => {
                values.par_chunks_mut(width.max(1)).enumerate().skip(block.y).for_each(|(y, row)| {
                    let (Some(mut source), Some(target)) = (row_of(y), row.get_mut(block.x..block.x + shown))
                    else {
                        return;
                    };
                    tone.apply(&mut source);
                    let channels = block.channels();
                    target
                        .iter_mut()
                        .zip(source.chunks_exact(channels))
                        .for_each(|(value, pixel)| *value = luma(pixel));
                })
            }
            Plane::Rgb(values) => {
                values.par_chunks_mut(3 * width.max(1)).enumerate().skip(block.y).for_each(|(y, row)| {
                    let (Some(mut source), Some(target)) =
                        (row_of(y), row.get_mut(3 * block.x..3 * (block.x + shown)))
                    else {
                        return;
                    };
                    tone.apply(&mut source);
                    for (pixel, from) in target.chunks_exact_mut(3).zip(source.chunks_exact(block.channels()))
                    {
                        for (channel, value) in pixel.iter_mut().enumerate() {
                            *value = from.get(channel).or(from.first()).map_or(0, |&v| to_byte(v));
                        }
                    }
                })
            }
        }
    }

    /// Paints one whole row (no threads: for decoders that give row after row).
    pub(crate) fn put_row(&mut self, y: usize, samples: Samples<'_>, stride: usize, coloured: bool) {
        let block = Block { x: 0, y: 0, width: self.width, samples, stride, coloured };
        let Some(mut source) = block.row(0) else { return };
        self.tone.apply(&mut source);
        let channels = block.channels();
        match &mut self.plane {
            Plane::Grey(values) => {
                let target = values.get_mut(y * self.width..(y + 1) * self.width).unwrap_or(&mut []);
                target
                    .iter_mut()
                    .zip(source.chunks_exact(channels))
                    .for_each(|(value, pixel)| *value = luma(pixel));
            }
            Plane::Rgb(values) => {
                let target = values.get_mut(3 * y * self.width..3 * (y + 1) * self.width).unwrap_or(&mut []);
                for (pixel, from) in target.chunks_exact_mut(3).zip(source.chunks_exact(channels)) {
                    for (channel, value) in pixel.iter_mut().enumerate() {
                        *value = from.get(channel).or(from.first()).map_or(0, |&v| to_byte(v));
                    }
                }
            }
        }
    }
}

impl Block<'_> {
    fn channels(&self) -> usize {
        if self.coloured { 3 } else { 1 }
    }

    /// One row of the block as one or three values per pixel on the 0–1 scale; `None` behind the last row.
    fn row(&self, row: usize) -> Option<Vec<f32>> {
        let length = self.width * self.stride;
        let range = row * length..(row + 1) * length;
        let channels = self.channels().min(self.stride);
        let row = match self.samples {
            Samples::U8(all) => keep(all.get(range)?, self.stride, channels, |v| f32::from(v) / 255.0),
            Samples::U16(all) => keep(all.get(range)?, self.stride, channels, |v| f32::from(v) / 65_535.0),
            Samples::F32(all) => keep(all.get(range)?, self.stride, channels, |v| v),
        };
        Some(row)
    }
}

fn keep<T: Copy>(samples: &[T], stride: usize, channels: usize, convert: impl Fn(T) -> f32) -> Vec<f32> {
    if stride == channels {
        return samples.iter().map(|&v| convert(v)).collect();
    }
    samples
        .chunks_exact(stride.max(1))
        .flat_map(|pixel| pixel.get(..channels).unwrap_or(&[]))
        .map(|&v| convert(v))
        .collect()
}
