//! A surface cut into pieces that know nothing of each other, and what leaving each out in turn says.

use super::autocorrelation::Decay;
use crate::HeightMap;

/// Pieces are this many decay lengths wide: what two neighbours share is then a small part of each (our choice, checked
/// on random surfaces with known parameters, docs/benchmarks.md).
const LENGTHS_PER_PIECE: f64 = 6.0;
/// More pieces cost memory and say nothing more; fewer say too little of their own spread (our choice).
const MOST_PIECES: usize = 64;
const LEAST_PIECES: usize = 8;

/// A grid of pieces laid across the map along the directions in which it forgets itself soonest and last.
pub(super) struct Pieces {
    /// Pieces along the two directions.
    counts: [usize; 2],
    /// For each direction, pieces per column and per row, and the place of the first height in pieces.
    steps: [[f64; 3]; 2],
}

impl Pieces {
    /// The map in one piece.
    pub(super) fn whole() -> Self {
        Self { counts: [1, 1], steps: [[0.0; 3]; 2] }
    }

    /// Independent pieces; `None` if the map holds too few.
    ///
    /// Along a direction in which the map does not forget itself within the reach of its autocorrelation there is one
    /// piece only: marks that run through the field make strips, not squares.
    pub(super) fn independent(map: &HeightMap, shortest: Decay, longest: Option<Decay>) -> Option<Self> {
        let (sin, cos) = shortest.direction_rad.sin_cos();
        let size = [map.width() as f64 * map.dx_um(), map.height() as f64 * map.dy_um()];
        let axes = [[cos, sin], [-sin, cos]];
        let extents = axes.map(|[x, y]| (x * size[0]).abs() + (y * size[1]).abs());
        let fit =
            |extent: f64, length: f64| (extent / (LENGTHS_PER_PIECE * length)).floor().max(1.0) as usize;
        let along = longest.map_or(1, |decay| fit(extents[1], decay.length_um)).min(8);
        let across = fit(extents[0], shortest.length_um).min(MOST_PIECES / along);
        if along * across < LEAST_PIECES {
            return None;
        }
        let counts = [across, along];
        let steps = std::array::from_fn(|k| {
            let [x, y] = axes[k];
            let per_um = counts[k] as f64 / extents[k];
            let before = (x * size[0]).min(0.0) + (y * size[1]).min(0.0);
            [x * map.dx_um() * per_um, y * map.dy_um() * per_um, -before * per_um]
        });
        Some(Self { counts, steps })
    }

    pub(super) fn count(&self) -> usize {
        self.counts[0] * self.counts[1]
    }

    /// The piece of every place of a row.
    pub(super) fn of_row(&self, y: usize, width: usize) -> impl Iterator<Item = usize> {
        let [(first, last_first), (second, last_second)] = [0, 1].map(|k| {
            let [per_column, per_row, start] = self.steps[k];
            ((per_column, start + y as f64 * per_row), self.counts[k] - 1)
        });
        let cell = move |(step, start): (f64, f64), last: usize, x: usize| {
            // A negative number becomes 0.
            ((start + x as f64 * step) as usize).min(last)
        };
        (0..width).map(move |x| cell(second, last_second, x) * (last_first + 1) + cell(first, last_first, x))
    }
}

/// Rows summed together: enough to keep the lists of sums short.
pub(super) const ROWS_TOGETHER: usize = 64;

/// Adds up lists of sums, piece by piece, in their order.
pub(super) fn total<const N: usize>(lists: Vec<Vec<[f64; N]>>, pieces: usize) -> Vec<[f64; N]> {
    let mut sums = vec![[0.0; N]; pieces];
    for list in lists {
        for (sum, part) in sums.iter_mut().zip(list) {
            add(sum, &part, 1.0);
        }
    }
    sums
}

pub(super) fn whole<const N: usize>(pieces: &[[f64; N]]) -> [f64; N] {
    pieces.iter().fold([0.0; N], |mut sum, part| {
        add(&mut sum, part, 1.0);
        sum
    })
}

fn add<const N: usize>(sum: &mut [f64; N], part: &[f64; N], factor: f64) {
    sum.iter_mut().zip(part).for_each(|(sum, value)| *sum += factor * value);
}

/// Standard uncertainty of a quantity made of sums over pieces, from leaving out each piece in turn; the first sum of a
/// piece is the number of its points.
///
/// # Source
/// Jackknife with pieces of unequal size: Busing, Meijer and van der Leeden, Statistics and Computing 9 (1999) 3; from
/// memory, source not seen. With equal pieces it is the ordinary jackknife.
pub(super) fn jackknife<const N: usize>(pieces: &[[f64; N]], quantity: impl Fn(&[f64; N]) -> f64) -> f64 {
    let all = whole(pieces);
    let value = quantity(&all);
    let left_out: Vec<(f64, f64)> = pieces
        .iter()
        .filter(|piece| piece[0] > 0.0)
        .map(|piece| {
            let mut rest = all;
            add(&mut rest, piece, -1.0);
            (all[0] / piece[0], quantity(&rest))
        })
        .collect();
    let count = left_out.len() as f64;
    let mean = count * value - left_out.iter().map(|(h, rest)| (1.0 - 1.0 / h) * rest).sum::<f64>();
    let squares: f64 =
        left_out.iter().map(|(h, rest)| (h * value - (h - 1.0) * rest - mean).powi(2) / (h - 1.0)).sum();
    (squares / count).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// For the mean of equal pieces the jackknife is the standard deviation of their means over the root of their number.
    #[test]
    fn the_mean_of_equal_pieces() {
        let pieces: Vec<[f64; 2]> = [3.0, 5.0, 4.0, 8.0].iter().map(|mean| [10.0, 10.0 * mean]).collect();
        let found = jackknife(&pieces, |sums| sums[1] / sums[0]);
        let sd = (14.0_f64 / 3.0).sqrt();
        assert!((found - sd / 2.0).abs() < 1e-12, "{found}");
    }

    #[test]
    fn strips_follow_the_lay_and_squares_fill_the_map() {
        let map = HeightMap::new(200, 100, 1.0, 2.0, vec![0.0; 20_000]).unwrap();
        let across = Decay { length_um: 2.0, direction_rad: 0.5, slope_per_um: 0.1 };
        let strips = Pieces::independent(&map, across, None).unwrap();
        assert_eq!(strips.counts[1], 1);
        let squares = Pieces::independent(&map, across, Some(across)).unwrap();
        assert_eq!(squares.counts, [8, 8]);
        for pieces in [strips, squares] {
            let mut met = vec![0_usize; pieces.count()];
            (0..100).for_each(|y| pieces.of_row(y, 200).for_each(|piece| met[piece] += 1));
            assert_eq!(met.iter().sum::<usize>(), 20_000);
            assert!(met.iter().filter(|&&count| count > 0).count() > met.len() / 2);
        }
        let wide = Decay { length_um: 40.0, direction_rad: 0.0, slope_per_um: 0.1 };
        assert!(Pieces::independent(&map, wide, Some(wide)).is_none());
    }
}
