//! The same picture at full and at half resolution. The running median takes broad grooves for background and the search knows
//! narrow cross-sections only; halved, broad grooves are narrow ones on a background twice as far away.

use picture::{Distortion, Grey};
use quantity::Measured;

use crate::background::{Cleared, clear, halved};
use crate::course::{Points, resampled};
use crate::features::Candidate;
use crate::find::LEAST_SIDE_PX;
use crate::lattice::BLOCK_PX;

/// A picture as it is seen at one level.
pub(crate) struct View {
    pub level: Level,
    /// The level's pixels, background taken off.
    pub cleared: Cleared,
    /// The lens as it draws on this level.
    pub lens: Option<Distortion>,
    /// Spread of the picture's grey values about their background, that of the level being 1.
    noise: f64,
}

impl View {
    /// The picture at every level that can hold a trace, finest first.
    pub fn all(grey: &Grey, lens: Option<&Distortion>) -> impl Iterator<Item = Self> {
        let mut finest = None;
        Level::of(grey.width(), grey.height()).map(move |level| {
            let cleared = level.clear(grey);
            let noise_sigma = *finest.get_or_insert(cleared.noise_sigma);
            Self {
                level,
                lens: lens.map(|lens| level.lens(lens)),
                noise: f64::from(noise_sigma / cleared.noise_sigma),
                cleared,
            }
        })
    }

    /// A candidate of this level in pixels and spreads of the picture.
    pub fn on_picture(&self, mut candidate: Candidate) -> Candidate {
        let (level, step) = (self.level, self.level.step_px());
        candidate.points_px = level.path(&candidate.points_px);
        candidate.length_px *= step;
        candidate.centred.section.sigma_px *= step;
        candidate.fit = candidate.fit.on_picture(step);
        let axis = &mut candidate.axis;
        axis.points_px = level.path(&axis.points_px);
        axis.width_px = Measured { value: axis.width_px.value * step, u: axis.width_px.u * step };
        // A block of the level is as many blocks of the picture as its pixels are wide.
        axis.place_noise_px *= step * step.sqrt();
        axis.mixture = axis.mixture.on_picture(step, self.noise);
        candidate
    }
}

/// One resolution at which traces are looked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Level {
    Full,
    Half,
}

impl Level {
    /// Number of levels.
    pub const COUNT: usize = 2;

    /// The levels at which a picture of this size can hold a trace.
    fn of(width: usize, height: usize) -> impl Iterator<Item = Self> {
        let half = (width.min(height) / 2 >= LEAST_SIDE_PX).then_some(Self::Half);
        std::iter::once(Self::Full).chain(half)
    }

    /// Pixels of the picture per pixel of the level.
    fn step_px(self) -> f64 {
        match self {
            Self::Full => 1.0,
            Self::Half => 2.0,
        }
    }

    /// The picture at this level, its background taken off.
    fn clear(self, grey: &Grey) -> Cleared {
        match self {
            Self::Full => clear(grey.width(), grey.height(), grey.values()),
            Self::Half => {
                let half = halved(grey.width(), grey.height(), grey.values());
                clear(half.width, half.height, &half.values)
            }
        }
    }

    /// Where a pixel of the level lies on the picture: a halved one is the middle of four.
    fn onto_picture(self, p: [f64; 2]) -> [f64; 2] {
        let step = self.step_px();
        p.map(|v| v * step + (step - 1.0) / 2.0)
    }

    /// Where a point of the picture lies on the level.
    pub fn onto_level(self, p: [f64; 2]) -> [f64; 2] {
        let step = self.step_px();
        p.map(|v| (v - (step - 1.0) / 2.0) / step)
    }

    /// The lens as it draws on this level.
    fn lens(self, lens: &Distortion) -> Distortion {
        Distortion { centre_px: lens.centre_px.map(|centre| self.onto_level(centre)), ..*lens }
    }

    /// Points of a path on the picture, one per block of the picture.
    fn path(self, points: &[[f64; 2]]) -> Points {
        let points: Points = points.iter().map(|p| self.onto_picture(*p)).collect();
        if self == Self::Full { points } else { resampled(&points, BLOCK_PX as f64) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_pixel_of_the_half_level_is_the_middle_of_four() {
        assert_eq!(Level::Half.onto_picture([3.0, 0.0]), [6.5, 0.5]);
        for level in [Level::Full, Level::Half] {
            let [x, y] = level.onto_level(level.onto_picture([12.25, 7.5]));
            assert!((x - 12.25).abs() < 1e-12 && (y - 7.5).abs() < 1e-12, "{level:?}");
        }
    }

    #[test]
    fn a_picture_too_small_to_be_halved_has_one_level() {
        let count = |width, height| Level::of(width, height).count();
        assert_eq!((count(LEAST_SIDE_PX, 400), count(2 * LEAST_SIDE_PX, 400)), (1, 2));
    }

    /// The lens bends lines of either level alike: a point drawn at half resolution is the halved one drawn in full.
    #[test]
    fn the_lens_is_the_same_on_both_levels() {
        let lens = Distortion { k1: Measured::exact(0.05), centre_px: Some([300.0, 180.0]) };
        let full = picture::distort([500.0, 350.0], &lens, 640.0, 480.0);
        let point = Level::Half.onto_level([500.0, 350.0]);
        let half = picture::distort(point, &Level::Half.lens(&lens), 320.0, 240.0);
        let [x, y] = Level::Half.onto_picture(half);
        assert!((x - full[0]).abs() < 1e-9 && (y - full[1]).abs() < 1e-9, "{x}, {y} and {full:?}");
    }
}
