//! Lines cut into samples one pixel apart, and quick answers to "is there a line here that runs this way".

use quantity::AxialDeg;

/// Largest distance at which two lines are the same, px.
pub const NEAR_PX: f64 = 2.0;
/// Largest angle at which two lines run the same way, degrees.
pub const SAME_WAY_DEG: f64 = 5.0;
/// Half the length over which the direction of a sample is taken, px: shorter, and the jitter of the points decides it.
const TANGENT_PX: f64 = 5.0;

/// One sample of a line.
#[derive(Debug, Clone, Copy)]
pub struct Sample {
    /// Place, px.
    pub at: [f64; 2],
    /// Local axis.
    pub axis: AxialDeg,
    /// Which line it belongs to.
    pub line: usize,
}

/// Samples of a line, one pixel apart along it, the ones inside the picture.
#[must_use]
pub fn samples(points: &[[f64; 2]], line: usize, width: usize, height: usize) -> Vec<Sample> {
    let places = even(points);
    let step = TANGENT_PX as usize;
    (0..places.len())
        .filter_map(|k| {
            let (a, b) = (places[k.saturating_sub(step)], places[(k + step).min(places.len() - 1)]);
            let axis = AxialDeg::from_pixel_step(b[0] - a[0], b[1] - a[1])?;
            let at = places[k];
            let inside =
                at[0] >= -0.5 && at[1] >= -0.5 && at[0] < width as f64 - 0.5 && at[1] < height as f64 - 0.5;
            inside.then_some(Sample { at, axis, line })
        })
        .collect()
}

/// Points one pixel apart along a polyline.
fn even(points: &[[f64; 2]]) -> Vec<[f64; 2]> {
    let mut places = Vec::new();
    let mut left = 0.0;
    for pair in points.windows(2) {
        let length = (pair[1][0] - pair[0][0]).hypot(pair[1][1] - pair[0][1]);
        let mut at = left;
        while at < length {
            let f = at / length;
            places.push([
                pair[0][0] + f * (pair[1][0] - pair[0][0]),
                pair[0][1] + f * (pair[1][1] - pair[0][1]),
            ]);
            at += 1.0;
        }
        left = at - length;
    }
    places
}

/// Samples sorted into square cells.
pub struct Index {
    cells: Vec<Vec<Sample>>,
    columns: usize,
    rows: usize,
}

/// Side of a cell, px: not smaller than the search radius, so that nine cells hold every neighbour.
const CELL_PX: f64 = 4.0;

impl Index {
    /// Sorts samples of a picture of this size.
    #[must_use]
    pub fn new(samples: &[Sample], width: usize, height: usize) -> Self {
        let (columns, rows) = ((width as f64 / CELL_PX) as usize + 2, (height as f64 / CELL_PX) as usize + 2);
        let mut index = Self { cells: vec![Vec::new(); columns * rows], columns, rows };
        for &s in samples {
            let cell = index.cell(s.at);
            index.cells[cell.1 * columns + cell.0].push(s);
        }
        index
    }

    fn cell(&self, at: [f64; 2]) -> (usize, usize) {
        let one = |v: f64, n: usize| ((v.max(0.0) / CELL_PX) as usize).min(n - 1);
        (one(at[0], self.columns), one(at[1], self.rows))
    }

    /// All samples within the two tolerances of `sample`.
    pub fn near(&self, sample: &Sample) -> impl Iterator<Item = &Sample> {
        let (column, row) = self.cell(sample.at);
        let (at, axis) = (sample.at, sample.axis);
        (row.saturating_sub(1)..(row + 2).min(self.rows))
            .flat_map(move |r| {
                (column.saturating_sub(1)..(column + 2).min(self.columns)).map(move |c| r * self.columns + c)
            })
            .flat_map(|cell| &self.cells[cell])
            .filter(move |other| {
                (other.at[0] - at[0]).hypot(other.at[1] - at[1]) <= NEAR_PX
                    && other.axis.angle_to(axis) <= SAME_WAY_DEG
            })
    }
}
