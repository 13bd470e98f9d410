//! A rectangle of `f32`, row by row, and sampling between its pixels.

use rayon::prelude::*;

/// `width × height` values, row by row.
#[derive(Debug, Clone)]
pub(crate) struct Plane {
    pub width: usize,
    pub height: usize,
    pub values: Vec<f32>,
}

impl Plane {
    /// A plane whose rows are made one by one, in parallel.
    pub fn from_rows(width: usize, height: usize, make_row: impl Fn(usize, &mut [f32]) + Sync) -> Self {
        let mut values = vec![0.0; width * height];
        values.par_chunks_mut(width.max(1)).enumerate().for_each(|(y, row)| make_row(y, row));
        Self { width, height, values }
    }

    /// One row; empty if there is no such row.
    pub fn row(&self, y: usize) -> &[f32] {
        self.values.get(y * self.width..(y + 1) * self.width).unwrap_or(&[])
    }

    /// Value at a pixel, the nearest one inside for a pixel outside.
    pub fn clamped(&self, x: isize, y: isize) -> f32 {
        let (x, y) = (inside(x, self.width), inside(y, self.height));
        self.values.get(y * self.width + x).copied().unwrap_or(0.0)
    }

    /// Bilinear value at a point; `None` outside the outermost pixel centres.
    pub fn at(&self, x_px: f32, y_px: f32) -> Option<f32> {
        if !(x_px >= 0.0 && y_px >= 0.0) {
            return None;
        }
        // Of what is not negative, cutting is rounding down, and needs no call.
        let (column, row) = (x_px as usize, y_px as usize);
        if column + 1 >= self.width || row + 1 >= self.height {
            return None;
        }
        let (fx, fy) = (x_px - column as f32, y_px - row as f32);
        let first = row * self.width + column;
        let upper = self.values.get(first..first + 2)?;
        let lower = self.values.get(first + self.width..first + self.width + 2)?;
        let (&[a, b], &[c, d]) = (upper, lower) else { return None };
        Some((a + fx * (b - a)) * (1.0 - fy) + (c + fx * (d - c)) * fy)
    }

    /// Rows become columns.
    pub fn transposed(&self) -> Self {
        let (width, height) = (self.height, self.width);
        let mut values = vec![0.0_f32; self.values.len()];
        // Blocks of 32 × 32 stay in the cache on both sides.
        values.par_chunks_mut(width.max(1) * 32).enumerate().for_each(|(band, out)| {
            let rows = out.len() / width.max(1);
            for x0 in (0..width).step_by(32) {
                for r in 0..rows {
                    let source_column = band * 32 + r;
                    for x in x0..(x0 + 32).min(width) {
                        if let (Some(to), Some(from)) =
                            (out.get_mut(r * width + x), self.values.get(x * self.width + source_column))
                        {
                            *to = *from;
                        }
                    }
                }
            }
        });
        Self { width, height, values }
    }
}

fn inside(index: isize, length: usize) -> usize {
    usize::try_from(index).unwrap_or(0).min(length.saturating_sub(1))
}

/// The value below which a share `quantile` of `values` lies (reorders them); 0 for none.
pub(crate) fn quantile(values: &mut [f32], quantile: f64) -> f32 {
    if values.is_empty() {
        return 0.0;
    }
    let rank = ((values.len() - 1) as f64 * quantile).round() as usize;
    let (_, value, _) = values.select_nth_unstable_by(rank.min(values.len() - 1), f32::total_cmp);
    *value
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn transposing_swaps_rows_and_columns() {
        let plane = Plane::from_rows(70, 45, |y, row| {
            row.iter_mut().enumerate().for_each(|(x, v)| *v = (y * 100 + x) as f32)
        });
        let turned = plane.transposed();
        assert_eq!((turned.width, turned.height), (45, 70));
        for (x, y) in [(0, 0), (69, 44), (33, 31), (31, 33)] {
            assert_eq!(turned.row(x)[y], plane.row(y)[x]);
        }
    }

    #[test]
    fn between_pixels_values_are_bilinear() {
        let plane = Plane::from_rows(4, 4, |y, row| {
            row.iter_mut().enumerate().for_each(|(x, v)| *v = 2.0 * x as f32 + 3.0 * y as f32)
        });
        assert!((plane.at(1.25, 2.5).unwrap() - 10.0).abs() < 1e-5);
        assert!(
            plane.at(3.0, 1.0).is_none()
                && plane.at(-0.1, 1.0).is_none()
                && plane.at(f32::NAN, 1.0).is_none()
        );
    }
}
