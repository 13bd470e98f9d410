//! The plane of grey values that everything is measured on.

/// Grey values of one picture, row by row: `width × height` values, 0 black to 1 white, on the sRGB-encoded scale
/// (IEC 61966-2-1), where sensor noise is nearly even over the range.
#[derive(Debug, Clone, PartialEq)]
pub struct Grey {
    width: usize,
    height: usize,
    values: Vec<f32>,
}

impl Grey {
    /// A plane from its values, row by row; `None` if their number is not `width × height`.
    #[must_use]
    pub fn new(width: usize, height: usize, values: Vec<f32>) -> Option<Self> {
        (width.checked_mul(height) == Some(values.len())).then_some(Self { width, height, values })
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

    /// All values, row by row.
    #[must_use]
    pub fn values(&self) -> &[f32] {
        &self.values
    }

    /// One row; empty if there is no such row.
    #[must_use]
    pub fn row(&self, y: usize) -> &[f32] {
        self.values.get(y * self.width..(y + 1) * self.width).unwrap_or(&[])
    }

    /// The values, given away.
    #[must_use]
    pub fn into_values(self) -> Vec<f32> {
        self.values
    }
}
