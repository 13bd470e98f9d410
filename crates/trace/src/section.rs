//! The mean cross-section of one groove, and where along it the axis wanders from the path.

use std::sync::LazyLock;

use quantity::Measured;

use crate::course::{Points, extended, moved_sideways, resampled, smoothed, window_px};
use crate::lattice::BLOCK_PX;
use crate::light::Excluded;
use crate::plane::Plane;
use crate::recentre::{REACH, Section, Strip};
use crate::template::Parity;

/// A mixture of an odd and an even cross-section, as light from one side and a changed floor make it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Mixture {
    pub odd: f64,
    pub even: f64,
    pub sigma_px: f64,
    pub centre_px: f64,
    /// Share of the mean profile's variance that the mixture explains.
    pub explained: f64,
}

impl Mixture {
    fn value(&self, t_px: f64) -> f64 {
        let u = (t_px - self.centre_px) / self.sigma_px;
        self.odd * Parity::Odd.shape(u) + self.even * Parity::Even.shape(u)
    }

    fn slope(&self, t_px: f64) -> f64 {
        let u = (t_px - self.centre_px) / self.sigma_px;
        (self.odd * Parity::Odd.slope(u) + self.even * Parity::Even.slope(u)) / self.sigma_px
    }

    /// Largest departure from the background, in spreads.
    pub fn amplitude(&self) -> f64 {
        (-20..=20)
            .map(|k| self.value(self.centre_px + f64::from(k) * 0.15 * self.sigma_px).abs())
            .fold(0.0, f64::max)
    }

    /// Full width at half depth, px. An odd section is the slope of a groove whose depth runs as exp(−u²/2), 2.355 σ at
    /// half depth; an even one is a strip whose lobe is 1.254 σ at half height.
    pub fn width_px(&self) -> f64 {
        let (o, e) = (self.odd * self.odd, self.even * self.even);
        self.sigma_px * (2.355 * o + 1.254 * e) / (o + e).max(1e-12)
    }
}

/// The measured axis of a groove.
pub(crate) struct Axis {
    /// One point per block.
    pub points_px: Points,
    pub mixture: Mixture,
    pub width_px: Measured,
    /// Standard deviation with which the noise beside the groove lets one block be placed, px.
    pub place_noise_px: f64,
}

/// Measures the axis of a groove near a path of about 1 block per point, by matching the groove's own mean cross-section.
pub(crate) fn measure(
    residual: &Plane,
    path: &[[f64; 2]],
    section: Section,
    excluded: Excluded,
) -> Option<Axis> {
    let mut axis = path.to_vec();
    for round in 0..ROUNDS {
        let last = round + 1 == ROUNDS;
        // Points are the middles of blocks: half a block is missing at either end, and the groove may go on a little.
        let longer = extended(&axis, HALF_BLOCK_PX + if last { 0.0 } else { GROWTH_PX });
        let half = window_px(&axis, if round == 0 { 24.0 } else { 40.0 });
        let base = smoothed(&resampled(&longer, 1.0), half as usize);
        let strip = Strip::along(residual, &base);
        if strip.middles.len() < 3 {
            return None;
        }
        let mean = mean_profile(&strip);
        let expected = Expected { section, excluded, noise: noise_of_mean(&strip) };
        let fits = Fits::about(&mean, section.sigma_px, expected)?;
        let mixture = fits.best;
        let blocks: Vec<(f64, f64)> =
            strip.profiles().iter().map(|profile| block_fit(profile, &mixture)).collect();
        let by: Vec<f64> = blocks.iter().map(|(_, wander)| mixture.centre_px + wander).collect();
        axis = moved_sideways(&strip.middles, &by);
        if last {
            let width_px = fits.widened(&mean, expected)?.width_px(expected.noise);
            let place_noise_px = noise_of_sample(&strip) / slope_norm(&mixture).max(1e-6);
            return Some(Axis { points_px: axis, mixture, width_px, place_noise_px });
        }
        let (from, to) = best_run(blocks.iter().map(|(amplitude, _)| *amplitude));
        axis = axis.get(from..to).unwrap_or(&[]).to_vec();
    }
    None
}

/// Measures a groove's place anew, block by block, about a smooth line with points 1 px apart. About a line that does not
/// itself follow the noise, the blocks' errors are independent of one another.
pub(crate) fn about(residual: &Plane, line: &[[f64; 2]], mixture: &Mixture) -> Points {
    let strip: Strip = Strip::along(residual, line);
    let on_line = Mixture { centre_px: 0.0, ..*mixture };
    let by: Vec<f64> = strip.profiles().iter().map(|profile| block_fit(profile, &on_line).1).collect();
    moved_sideways(&strip.middles, &by)
}

/// Rounds of measuring: the first from the path, the others from the axis measured before.
const ROUNDS: usize = 3;
const HALF_BLOCK_PX: f64 = BLOCK_PX as f64 / 2.0;
/// How much further a groove is looked for beyond the ends found so far, px: two blocks.
const GROWTH_PX: f64 = 2.0 * BLOCK_PX as f64;

/// The run of blocks whose amplitudes sum highest beyond half of the groove's own: where the groove begins and ends.
fn best_run(amplitudes: impl Iterator<Item = f64>) -> (usize, usize) {
    let (mut best, mut here, mut start) = ((0.0, 0, 0), 0.0, 0);
    for (i, amplitude) in amplitudes.enumerate() {
        if here <= 0.0 {
            (here, start) = (0.0, i);
        }
        here += amplitude.clamp(-1.0, 2.0) - 0.5;
        if here > best.0 {
            best = (here, start, i + 1);
        }
    }
    (best.1, best.2)
}

fn mean_profile(strip: &Strip) -> Vec<f64> {
    let n = strip.profiles().len().max(1) as f64;
    let mut mean = vec![0.0; 2 * REACH + 1];
    for profile in strip.profiles() {
        mean.iter_mut().zip(profile).for_each(|(m, v)| *m += f64::from(*v) / n);
    }
    mean
}

/// Largest shift of the axis looked for, px.
const CENTRE_PX: f64 = 2.0;

/// How far from where it was found the axis of a groove of this width may lie, px: further off lies another groove.
fn own_reach(sigma_px: f64) -> f64 {
    (0.5 + 0.6 * sigma_px).min(CENTRE_PX)
}

/// By how much the width may differ from that of the cross-section found: on a groove beside a stronger one, the best fit
/// of any width is to the stronger one's flank.
const OTHER_WIDTH: f64 = 1.7;

/// How often the width is looked for further on where the best is the broadest of those tried.
const WIDENINGS: usize = 3;

/// Least-squares mixtures over a grid of centres, one for each width of the grid about one, and the best of them.
struct Fits {
    about_px: f64,
    per_width: Vec<(f64, Mixture)>,
    least: f64,
    best: Mixture,
}

impl Fits {
    fn about(mean: &[f64], sigma_px: f64, expected: Expected) -> Option<Self> {
        // What lies beyond the flanks of such a groove belongs to others.
        let window = ((3.0 * OTHER_WIDTH * sigma_px + 1.0) as usize).clamp(LEAST_FIT_PX, FIT_PX);
        let is_about =
            |shapes: &&Shapes| (1.0 / OTHER_WIDTH..=OTHER_WIDTH).contains(&(shapes.sigma_px / sigma_px));
        let is_near = |shapes: &&Shapes| shapes.centre_px.abs() <= own_reach(shapes.sigma_px);
        let per_width: Vec<(f64, Mixture)> = SHAPES
            .chunks(N_CENTRES)
            .filter_map(|centres| {
                centres
                    .iter()
                    .filter(is_about)
                    .filter(is_near)
                    .map(|shapes| mixture_of(shapes, mean, window, expected))
                    .min_by(|(a, _), (b, _)| a.total_cmp(b))
            })
            .collect();
        let &(least, best) = per_width.iter().min_by(|(a, _), (b, _)| a.total_cmp(b))?;
        Some(Self { about_px: sigma_px, per_width, least, best })
    }

    /// The fits about the groove's own width: a narrow cross-section tells a groove from broad clutter best, so that it may be found
    /// by one much narrower than itself.
    fn widened(mut self, mean: &[f64], expected: Expected) -> Option<Self> {
        for _ in 0..WIDENINGS {
            if self.best.sigma_px < OTHER_WIDTH / WIDTH_STEP * self.about_px / WIDTH_STEP {
                break;
            }
            self = Self::about(mean, self.best.sigma_px, expected)?;
        }
        Some(self)
    }

    /// Full width at half depth with its standard uncertainty, from the likelihood of each width: white noise over the samples of
    /// the mean profile.
    fn width_px(&self, noise: f64) -> Measured {
        let (mut total, mut first, mut second) = (0.0, 0.0, 0.0);
        for (error, other) in &self.per_width {
            let weight = (-(error - self.least) / (2.0 * noise * noise).max(1e-12)).exp();
            let width = other.width_px();
            total += weight;
            first += weight * width;
            second += weight * width * width;
        }
        let mean = first / total;
        let value = self.best.width_px() * WIDTH_STEP.powf(vertex(&self.per_width, self.best.sigma_px));
        let u = (second / total - mean * mean).max(0.0).sqrt().max(WIDTH_SCATTER * value);
        Measured { value, u }
    }
}

/// Relative scatter of widths about the true ones on rendered stone, half the central 68 %, all widths alike: one lit flank
/// of a groove, not its whole, is what often shows.
const WIDTH_SCATTER: f64 = 0.3;

/// How many steps of the grid of widths the least error lies beside that at `sigma_px`: the vertex of a parabola through it
/// and its neighbours.
fn vertex(per_width: &[(f64, Mixture)], sigma_px: f64) -> f64 {
    let around = per_width.windows(3).find(|w| matches!(w, [_, (_, m), _] if m.sigma_px == sigma_px));
    let Some(&[(below, _), (here, _), (above, _)]) = around else { return 0.0 };
    let bend = below + above - 2.0 * here;
    if bend > 0.0 { (0.5 * (below - above) / bend).clamp(-0.5, 0.5) } else { 0.0 }
}

/// Root of the sum of squares of a mixture's slope over whole pixels.
fn slope_norm(mixture: &Mixture) -> f64 {
    let reach = REACH as i32;
    (-reach..=reach).map(|t| mixture.slope(f64::from(t)).powi(2)).sum::<f64>().sqrt()
}

/// Spread of one sample of the mean profile.
fn noise_of_mean(strip: &Strip) -> f64 {
    noise_of_sample(strip) / (strip.profiles().len().max(1) as f64).sqrt()
}

/// Spread of one sample of one block's profile, from samples far from the axis.
fn noise_of_sample(strip: &Strip) -> f64 {
    let (mut square, mut count) = (0.0, 0.0);
    for profile in strip.profiles() {
        for v in profile.iter().take(8).chain(profile.iter().rev().take(8)) {
            square += f64::from(v * v);
            count += 1.0;
        }
    }
    (square / f64::max(count, 1.0)).sqrt()
}

/// Samples of the mean profile that the mixture is fitted to, px on either side.
const FIT_PX: usize = 14;
const LEAST_FIT_PX: usize = 6;
const N_WIDTHS: usize = 22;
/// Ratio of one width of the grid to the one before.
const WIDTH_STEP: f64 = 1.1;
const N_CENTRES: usize = 17;

/// Odd and even shapes at every width and centre of the grid, sampled across.
struct Shapes {
    sigma_px: f64,
    centre_px: f64,
    odd: [f64; 2 * FIT_PX + 1],
    even: [f64; 2 * FIT_PX + 1],
}

/// The grid of shapes, widths outermost.
static SHAPES: LazyLock<Vec<Shapes>> = LazyLock::new(|| {
    let place = |w: usize, c: usize| {
        (0.7 * WIDTH_STEP.powi(w as i32), (c as f64 / (N_CENTRES - 1) as f64 - 0.5) * 2.0 * CENTRE_PX)
    };
    (0..N_WIDTHS)
        .flat_map(|w| (0..N_CENTRES).map(move |c| place(w, c)))
        .map(|(sigma_px, centre_px)| {
            let u = |k: usize| (k as f64 - FIT_PX as f64 - centre_px) / sigma_px;
            Shapes {
                sigma_px,
                centre_px,
                odd: std::array::from_fn(|k| Parity::Odd.shape(u(k))),
                even: std::array::from_fn(|k| Parity::Even.shape(u(k))),
            }
        })
        .collect()
});

/// What the smaller part of a mixture costs, in units of what it explains: odd and even shapes one on top of the other look
/// like either of them aside, so that without a price the axis would be free to wander off.
const LESSER_PART: f64 = 3.0;
/// By how many noise variances of the mean profile the other parity must explain more before it takes the place of the one
/// that was found: ten standard deviations, beyond what the texture of the stone feigns.
const OTHER_PARITY: f64 = 100.0;

/// What the mean cross-section may be: that of the section found, and what odd ones cannot be in this light.
#[derive(Clone, Copy)]
struct Expected {
    section: Section,
    excluded: Excluded,
    noise: f64,
}

/// Squared error, price included, and coefficients of the best mixture of one pair of shapes: mostly of the parity and sign
/// found, of the other parity only beyond doubt.
fn mixture_of(shapes: &Shapes, mean: &[f64], window: usize, expected: Expected) -> (f64, Mixture) {
    let (mut oo, mut ee, mut oe, mut oy, mut ey, mut yy) = (0.0, 0.0, 0.0, 0.0, 0.0, 0.0);
    let off = FIT_PX - window;
    let samples = mean.iter().skip(REACH - window).take(2 * window + 1);
    for ((y, o), e) in samples.zip(shapes.odd.iter().skip(off)).zip(shapes.even.iter().skip(off)) {
        oo += o * o;
        ee += e * e;
        oe += o * e;
        oy += o * y;
        ey += e * y;
        yy += y * y;
    }
    let solved = |oo: f64, ee: f64| {
        let determinant = (oo * ee - oe * oe).max(1e-12);
        [(ee * oy - oe * ey) / determinant, (oo * ey - oe * oy) / determinant]
    };
    let nothing = [0.0, 0.0];
    let mostly_odd = solved(oo, ee * (1.0 + LESSER_PART));
    let mostly_odd = if expected.excluded.holds(mostly_odd[0] as f32) { nothing } else { mostly_odd };
    let mostly_even = solved(oo * (1.0 + LESSER_PART), ee);
    let (main, [found, other]) = match expected.section.parity {
        Parity::Odd => (mostly_odd[0], [mostly_odd, mostly_even]),
        Parity::Even => (mostly_even[1], [mostly_even, mostly_odd]),
    };
    let found = if main * f64::from(expected.section.sign) > 0.0 { found } else { nothing };
    let gain = |[odd, even]: [f64; 2]| odd * oy + even * ey;
    let beyond_doubt = gain(other) - gain(found) > OTHER_PARITY * expected.noise * expected.noise;
    let [odd, even] = if beyond_doubt { other } else { found };
    let explained = 2.0 * gain([odd, even]) - odd * odd * oo - 2.0 * odd * even * oe - even * even * ee;
    let mixture = Mixture {
        odd,
        even,
        sigma_px: shapes.sigma_px,
        centre_px: shapes.centre_px,
        explained: explained / yy.max(1e-12),
    };
    (yy - gain([odd, even]), mixture)
}

/// Amplitude of one block, in units of the mixture's, and how far its groove lies from the mixture's centre, px: one
/// Gauss–Newton step of least squares, amplitude and place together.
fn block_fit<const N: usize>(profile: &[f32; N], mixture: &Mixture) -> (f64, f64) {
    let reach = 3.0 * mixture.sigma_px + 1.0;
    let (mut mm, mut my, mut ms, mut ss, mut sy) = (0.0, 0.0, 0.0, 0.0, 0.0);
    for (k, v) in profile.iter().enumerate() {
        let t = k as f64 - REACH as f64;
        if (t - mixture.centre_px).abs() > reach {
            continue;
        }
        let (m, s, y) = (mixture.value(t), mixture.slope(t), f64::from(*v));
        mm += m * m;
        my += m * y;
        ms += m * s;
        ss += s * s;
        sy += s * y;
    }
    // Project the mixture itself out, so that a block that is fainter or stronger does not look displaced.
    let amplitude = my / mm.max(1e-12);
    let free = ss - ms * ms / mm.max(1e-12);
    if free <= 1e-12 {
        return (amplitude, 0.0);
    }
    let step = -(sy - amplitude * ms) / free;
    let reach = own_reach(mixture.sigma_px);
    (amplitude, step.clamp(-reach, reach))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A straight groove along y = 45 of a calm plane.
    fn plane(shape: impl Fn(f64) -> f64 + Sync) -> Plane {
        Plane::from_rows(300, 90, |y, row| {
            row.iter_mut().enumerate().for_each(|(x, v)| {
                let texture = ((x * 7919 + y * 104_729) % 101) as f64 / 50.0 - 1.0;
                *v = (shape(y as f64 - 45.0) + 0.3 * texture) as f32;
            });
        })
    }

    fn measured(plane: &Plane, parity: Parity, width: usize) -> Axis {
        let path: Points = (4..32).map(|i| [8.0 * f64::from(i), 45.3]).collect();
        measure(plane, &path, Section::new(parity, width, 1.0), Excluded::None).unwrap()
    }

    fn lies_on_axis(axis: &Axis) {
        let mean = axis.points_px.iter().map(|p| p[1]).sum::<f64>() / axis.points_px.len() as f64;
        assert!((mean - 45.0).abs() < 0.25, "axis at {mean}");
    }

    /// A bright strip one of whose flanks is darker is still a strip with its axis in the middle: with an odd part for free
    /// it could as well be placed on its flank.
    #[test]
    fn a_lopsided_strip_keeps_its_axis() {
        let plane = plane(|t| {
            let u = t / 3.0;
            (2.0 - 0.5 * u.clamp(-1.0, 1.0)) * (1.0 - u * u) * (-0.5 * u * u).exp()
        });
        let axis = measured(&plane, Parity::Even, 4);
        lies_on_axis(&axis);
        assert!(axis.mixture.even > 3.0 * axis.mixture.odd.abs(), "{:?}", axis.mixture);
    }

    /// Clutter is broad, so that the narrowest of the cross-sections often has the most evidence.
    #[test]
    fn a_broader_groove_than_its_cross_section_has_its_own_width() {
        for sigma in [2.0, 3.3] {
            let plane = plane(|t| 4.0 * (t / sigma) * (-0.5 * (t / sigma).powi(2)).exp());
            let axis = measured(&plane, Parity::Odd, 0);
            lies_on_axis(&axis);
            let ratio = axis.width_px.value / (2.355 * sigma);
            assert!((ratio - 1.0).abs() < 0.05, "{sigma}: {ratio}");
        }
    }

    #[test]
    fn widths_between_those_of_the_grid_come_back() {
        for sigma in [1.9, 1.98, 2.06, 2.14] {
            let plane = plane(|t| 3.0 * (t / sigma) * (-0.5 * (t / sigma).powi(2)).exp());
            let axis = measured(&plane, Parity::Odd, 3);
            lies_on_axis(&axis);
            let ratio = axis.width_px.value / (2.355 * sigma);
            assert!((ratio - 1.0).abs() < 0.03, "{sigma}: {ratio}");
        }
    }
}
