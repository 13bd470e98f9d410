//! Coordinates along and across a graduation.

use crate::Grey;

/// A turned frame: `t` runs along the graduation, `s` along its ticks, both in pixels from the picture's middle.
#[derive(Debug, Clone, Copy)]
pub(super) struct Frame {
    /// Unit step of `t` in pixel coordinates.
    pub(super) along: [f64; 2],
    centre: [f64; 2],
}

impl Frame {
    pub(super) fn new(grey: &Grey, angle_rad: f64) -> Self {
        let (sin, cos) = angle_rad.sin_cos();
        Self {
            along: [cos, sin],
            centre: [(grey.width() as f64 - 1.0) / 2.0, (grey.height() as f64 - 1.0) / 2.0],
        }
    }

    /// Picture coordinates of `(t, s)`.
    pub(super) fn point(&self, t: f64, s: f64) -> [f64; 2] {
        let [cos, sin] = self.along;
        [self.centre[0] + t * cos - s * sin, self.centre[1] + t * sin + s * cos]
    }

    /// `(t, s)` of a pixel.
    pub(super) fn coordinates(&self, x: f64, y: f64) -> [f64; 2] {
        let [cos, sin] = self.along;
        let (dx, dy) = (x - self.centre[0], y - self.centre[1]);
        [dx * cos + dy * sin, -dx * sin + dy * cos]
    }

    /// Half the extent of the picture along `t` and `s`.
    pub(super) fn reach(&self) -> [f64; 2] {
        let [cos, sin] = self.along.map(f64::abs);
        [self.centre[0] * cos + self.centre[1] * sin, self.centre[0] * sin + self.centre[1] * cos]
    }
}

/// Bilinear value at a point; `None` outside the picture.
pub(super) fn value_at(grey: &Grey, [x, y]: [f64; 2]) -> Option<f64> {
    let (width, height) = (grey.width(), grey.height());
    if !(x >= 0.0 && y >= 0.0 && x <= (width - 1) as f64 && y <= (height - 1) as f64) {
        return None;
    }
    let (x0, y0) = ((x as usize).min(width.saturating_sub(2)), (y as usize).min(height.saturating_sub(2)));
    let (fx, fy) = (x - x0 as f64, y - y0 as f64);
    let pair = |row: &[f32]| -> Option<f64> {
        let (a, b) = (f64::from(*row.get(x0)?), f64::from(*row.get(x0 + 1)?));
        Some(a + fx * (b - a))
    };
    let (top, bottom) = (pair(grey.row(y0))?, pair(grey.row(y0 + 1))?);
    Some(top + fy * (bottom - top))
}
