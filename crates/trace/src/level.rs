//! The same picture at full and at half resolution. The running median takes broad grooves for background and the search knows
//! narrow cross-sections only; halved, broad grooves are narrow ones on a background twice as far away.

use picture::{Distortion, Grey};
use quantity::{AxialDeg, Measured};

use crate::background::{Cleared, clear, halved};
use crate::course::{Points, length, resampled, within};
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
    /// Size of the picture, px.
    size_px: [f64; 2],
    /// Spread of the grey values of the picture itself about their background, grey units.
    pub noise_sigma: f32,
}

impl View {
    /// The picture at every level that can hold a trace, finest first.
    pub fn all(grey: &Grey, lens: Option<&Distortion>) -> impl Iterator<Item = Self> {
        let size_px = [grey.width() as f64, grey.height() as f64];
        let mut finest = None;
        Level::of(grey.width(), grey.height()).map(move |level| {
            let cleared = level.clear(grey);
            let noise_sigma = *finest.get_or_insert(cleared.noise_sigma);
            Self { level, lens: lens.map(|lens| level.lens(lens)), size_px, noise_sigma, cleared }
        })
    }

    /// Where a candidate of this level lies on the picture.
    pub fn placed(&self, candidate: &Candidate) -> Placed {
        let step = self.level.step_px();
        let longer = |v: Measured| Measured { value: v.value * step, u: v.u * step };
        let Candidate { axis, fit, .. } = candidate;
        let curvature = fit.curvature_per_px;
        let points: Points = candidate.points_px.iter().map(|p| self.level.onto_picture(*p)).collect();
        // The last halved pixels of a picture of odd size reach beyond it.
        let points = within(&points, self.size_px[0], self.size_px[1]);
        Placed {
            length_px: length(&points),
            points_px: match self.level {
                Level::Full => points,
                Level::Half => resampled(&points, BLOCK_PX as f64),
            },
            sigma_px: candidate.centred.section.sigma_px * step,
            width_px: longer(axis.width_px),
            direction: fit.direction,
            direction_u_deg: fit.direction_u_deg,
            curvature_per_px: Measured { value: curvature.value / step, u: curvature.u / step },
            residual_px: fit.residual_px * step,
            // A block of the level is as many blocks of the picture as its pixels are wide.
            place_noise_px: axis.place_noise_px * step * step.sqrt(),
            contrast: axis.mixture.amplitude() / f64::from(self.noise_sigma / self.cleared.noise_sigma),
        }
    }
}

/// A candidate in pixels and noise of the picture.
pub(crate) struct Placed {
    /// Smoothed axis, one point per block.
    pub points_px: Points,
    pub length_px: f64,
    /// Width of its cross-section, px.
    pub sigma_px: f64,
    /// Full width at half depth, px.
    pub width_px: Measured,
    /// Axis at mid-length.
    pub direction: AxialDeg,
    pub direction_u_deg: f64,
    pub curvature_per_px: Measured,
    /// Standard deviation of the measured points about the arc, px.
    pub residual_px: f64,
    /// Standard deviation with which the noise beside the groove lets one block be placed, px.
    pub place_noise_px: f64,
    /// Largest departure from the background, in spreads of the picture.
    pub contrast: f64,
}

/// Full width at half depth, px, below which a groove is narrow: two and a half pixels at half resolution.
const NARROW_PX: f64 = 5.0;

impl Placed {
    /// Its axis, px, and the width of its cross-section, px.
    pub fn line(&self) -> (&[[f64; 2]], f64) {
        (&self.points_px, self.sigma_px)
    }

    /// Whether full resolution shows all of it, so that its place and ends are best known there.
    pub fn is_narrow(&self) -> bool {
        self.width_px.value < NARROW_PX
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
