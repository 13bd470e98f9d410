//! Lengths and intensities of lines seen through a window that cuts them: what can be said from counts of ends.
//!
//! `N₀` traces leave the window at both ends, `N₁` at one, `N₂` lie wholly inside; `m = N₁ + 2N₂` ends are inside and
//! `n = N₁ + 2N₀` crossings of the border were met. The mean of the visible lengths is never an estimate of the mean
//! length: long traces are met more often and cut more often.

use std::f64::consts::PI;

/// Traces met by a window, by the number of their ends inside.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Counts {
    /// Both ends outside (`N₀`).
    pub through: usize,
    /// One end inside (`N₁`).
    pub one_end: usize,
    /// Both ends inside (`N₂`).
    pub inside: usize,
}

impl Counts {
    /// Counts a trace by its ends inside, 0 to 2.
    pub fn add(&mut self, ends_inside: u8) {
        match ends_inside {
            0 => self.through += 1,
            1 => self.one_end += 1,
            _ => self.inside += 1,
        }
    }

    /// Traces met in all (`N`).
    #[must_use]
    pub fn total(self) -> usize {
        self.through + self.one_end + self.inside
    }

    /// Ends inside the window (`m`).
    #[must_use]
    pub fn ends(self) -> usize {
        self.one_end + 2 * self.inside
    }

    /// Crossings of the border (`n`).
    #[must_use]
    pub fn crossings(self) -> usize {
        self.one_end + 2 * self.through
    }
}

/// Mean length `2L/m` from the total visible length `L`: right for any convex window, any directions and any law of
/// lengths. `None` where no end is inside.
///
/// # Source
/// Ours: both `L` and `m` are unbiased for their intensities under a stationary process of centres; reference sheet §2.
#[must_use]
pub fn mean_length_ratio(counts: Counts, visible_length: f64) -> Option<f64> {
    (counts.ends() > 0).then(|| 2.0 * visible_length / counts.ends() as f64)
}

/// Mean length from a circular window of radius `radius`, from counts alone: `πc·n/(2m)`. `None` where no end is inside.
///
/// # Source
/// Mauldon, Dunne & Rohrbaugh 2001, J. Struct. Geol. 23:247–258, abstract; Zhang & Einstein 1998 write the same.
#[must_use]
pub fn mean_length_circle(counts: Counts, radius: f64) -> Option<f64> {
    (counts.ends() > 0).then(|| PI * radius * counts.crossings() as f64 / (2.0 * counts.ends() as f64))
}

/// Mean length of parallel traces in a rectangle, from counts alone. `across` is the width of the rectangle seen along
/// the traces, see [`breadth`]. `None` where no end is inside.
///
/// # Source
/// Pahl 1981 (from memory, source not seen; checked by simulation in the reference sheet). Kulatilake & Wu 1984 for
/// several directions: the mean of the breadths.
#[must_use]
pub fn mean_length_rectangle(counts: Counts, area: f64, across: f64) -> Option<f64> {
    (counts.ends() > 0 && across > 0.0)
        .then(|| area * counts.crossings() as f64 / (across * counts.ends() as f64))
}

/// Breadth of a `width × height` rectangle seen along an axis at `axis_deg` from the width's side.
#[must_use]
pub fn breadth(width: f64, height: f64, axis_deg: f64) -> f64 {
    let (sin, cos) = axis_deg.to_radians().sin_cos();
    width * sin.abs() + height * cos.abs()
}

/// Mean breadth of a rectangle over all directions alike.
///
/// # Source
/// Mean of `|sin|` and `|cos|`, `2/π` each; reference sheet §2.
#[must_use]
pub fn mean_breadth(width: f64, height: f64) -> f64 {
    2.0 / PI * (width + height)
}

/// Centres per area, `m/(2A)`.
#[must_use]
pub fn intensity_p20(counts: Counts, area: f64) -> f64 {
    counts.ends() as f64 / (2.0 * area)
}

/// Length per area, `L/A`.
#[must_use]
pub fn intensity_p21(visible_length: f64, area: f64) -> f64 {
    visible_length / area
}

/// Centres per area from a circular window, `m/(2πc²)`.
#[must_use]
pub fn intensity_p20_circle(counts: Counts, radius: f64) -> f64 {
    counts.ends() as f64 / (2.0 * PI * radius * radius)
}

/// Length per area from the crossings of a circle, `n/(4c)`.
#[must_use]
pub fn intensity_p21_circle(counts: Counts, radius: f64) -> f64 {
    counts.crossings() as f64 / (4.0 * radius)
}

/// Maximum likelihood for parallel traces whose lengths follow an exponential law.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ExponentialFit {
    /// Mean length.
    pub mean: f64,
    /// Centres per area.
    pub density: f64,
}

/// Fits the exponential law to the traces of a convex window of area `area` and breadth `across`.
/// `None` where no end is inside or nothing is visible.
///
/// # Source
/// Idea of Laslett 1982, Math. Geol. 14:125–140 (from memory, source not seen); the closed form is derived in the
/// reference sheet §2 and agrees with numerical maximisation there.
#[must_use]
pub fn exponential_ml(counts: Counts, visible_length: f64, area: f64, across: f64) -> Option<ExponentialFit> {
    if counts.ends() == 0 || !(visible_length > 0.0 && area > 0.0 && across > 0.0) {
        return None;
    }
    let difference = counts.inside as f64 - counts.through as f64;
    let a = visible_length * area;
    let b = visible_length * across - area * difference;
    let c = -across * counts.ends() as f64;
    let rate = (-b + (b * b - 4.0 * a * c).sqrt()) / (2.0 * a);
    Some(ExponentialFit { mean: 1.0 / rate, density: counts.total() as f64 / (area + across / rate) })
}

/// Weight of a line met by a straight transect at `angle_deg` to it, `1/sin`, held at the weight of `smallest_deg`.
///
/// # Source
/// Terzaghi 1965 (from memory, source not seen); the cap of 10–20° is common practice, no source.
#[must_use]
pub fn transect_weight(angle_deg: f64, smallest_deg: f64) -> f64 {
    let sine = angle_deg.to_radians().sin().abs();
    1.0 / sine.max(smallest_deg.to_radians().sin())
}
