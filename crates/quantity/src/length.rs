//! Lengths with their unit in the type, and the scale of a picture.

use crate::Measured;

/// A length in millimetres.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct Millimetres(pub f64);

/// A length in micrometres.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct Micrometres(pub f64);

impl From<Micrometres> for Millimetres {
    fn from(length: Micrometres) -> Self {
        Self(length.0 / 1000.0)
    }
}

impl From<Millimetres> for Micrometres {
    fn from(length: Millimetres) -> Self {
        Self(length.0 * 1000.0)
    }
}

/// The scale of a picture: micrometres of surface per pixel, with its standard uncertainty. Always finite and positive.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct UmPerPx(Measured);

impl UmPerPx {
    /// A scale of `value ± u` µm/px; `None` unless the value is finite and positive and `u` finite and not negative.
    #[must_use]
    pub fn new(value: f64, u: f64) -> Option<Self> {
        let usable = value.is_finite() && value > 0.0 && u.is_finite() && u >= 0.0;
        usable.then_some(Self(Measured { value, u }))
    }

    /// Micrometres per pixel.
    #[must_use]
    pub fn value(self) -> f64 {
        self.0.value
    }

    /// Standard uncertainty, micrometres per pixel.
    #[must_use]
    pub fn u(self) -> f64 {
        self.0.u
    }

    /// A length on the picture as a length on the surface, in micrometres, both uncertainties combined.
    ///
    /// # Source
    /// JCGM 100:2008 (GUM) 5.1.2, product of two uncorrelated quantities.
    #[must_use]
    pub fn micrometres(self, length_px: Measured) -> Measured {
        let u = (self.value() * length_px.u).hypot(self.u() * length_px.value);
        Measured { value: self.value() * length_px.value, u }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Case `scale.pixel` of the reference sheet: 250 ± 0.4 px at 0.810 044 552 µm/px (relative 6.636e-4).
    #[test]
    fn length_combines_scale_and_pixels() {
        let scale = UmPerPx::new(0.810_044_552, 0.810_044_552 * 6.636e-4).unwrap();
        let length = scale.micrometres(Measured { value: 250.0, u: 0.4 });
        assert!((length.value - 202.511).abs() < 5e-4, "{length:?}");
        assert!((length.u - 0.351).abs() < 5e-4, "{length:?}");
    }

    #[test]
    fn a_scale_is_finite_and_positive() {
        for (value, u) in
            [(0.0, 0.1), (-1.0, 0.1), (f64::NAN, 0.1), (f64::INFINITY, 0.1), (1.0, -0.1), (1.0, f64::NAN)]
        {
            assert!(UmPerPx::new(value, u).is_none(), "{value} ± {u}");
        }
    }
}
