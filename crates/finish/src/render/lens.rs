//! The lens: where a point of the surface falls on the picture.

use picture::Distortion;

/// First-order radial distortion about one centre, ready for a picture of known size.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Lens {
    k1: f64,
    centre: [f64; 2],
    half_diagonal: f64,
}

impl Lens {
    pub(super) fn new(distortion: Option<&Distortion>, width_px: usize, height_px: usize) -> Self {
        let middle = [(width_px as f64 - 1.0) / 2.0, (height_px as f64 - 1.0) / 2.0];
        Self {
            k1: distortion.map_or(0.0, |d| d.k1.value),
            centre: distortion.and_then(|d| d.centre_px).unwrap_or(middle),
            half_diagonal: 0.5 * (width_px as f64).hypot(height_px as f64),
        }
    }

    /// A lens of this first-order coefficient, centred on the picture.
    pub(crate) fn of(k1: f64, width_px: usize, height_px: usize) -> Self {
        Self { k1, ..Self::new(None, width_px, height_px) }
    }

    /// Where an undistorted point is drawn, px.
    pub(super) fn draw(&self, ideal: [f64; 2]) -> [f64; 2] {
        let (dx, dy) = (ideal[0] - self.centre[0], ideal[1] - self.centre[1]);
        let grow = 1.0 + self.k1 * (dx * dx + dy * dy) / self.half_diagonal.powi(2);
        [self.centre[0] + dx * grow, self.centre[1] + dy * grow]
    }

    /// Where a drawn point would be without the lens, px.
    pub(crate) fn undraw(&self, drawn: [f64; 2]) -> [f64; 2] {
        if self.k1 == 0.0 {
            return drawn;
        }
        let (dx, dy) = (drawn[0] - self.centre[0], drawn[1] - self.centre[1]);
        let drawn_radius = dx.hypot(dy) / self.half_diagonal;
        // Newton's method on r·(1 + k1·r²) = drawn radius, which rises steadily for any lens one would use.
        let mut radius = drawn_radius;
        for _ in 0..8 {
            let square = radius * radius;
            radius -= (radius * (1.0 + self.k1 * square) - drawn_radius) / (1.0 + 3.0 * self.k1 * square);
        }
        let grow = 1.0 + self.k1 * radius * radius;
        [self.centre[0] + dx / grow, self.centre[1] + dy / grow]
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use quantity::Measured;

    #[test]
    fn drawing_and_undrawing_are_inverse() {
        for k1 in [-0.15, -0.02, 0.0, 0.03, 0.15] {
            let lens = Lens::new(Some(&Distortion { k1: Measured::exact(k1), centre_px: None }), 1200, 900);
            for ideal in [[0.0, 0.0], [1100.0, 20.0], [599.5, 449.5], [300.0, 899.0]] {
                let back = lens.undraw(lens.draw(ideal));
                assert!(
                    (back[0] - ideal[0]).hypot(back[1] - ideal[1]) < 1e-5,
                    "k1 {k1}: {ideal:?} came back as {back:?}"
                );
            }
        }
    }

    /// Worked by hand: at the corner (r = h) a k1 of 0.1 moves the point outwards by a tenth of h.
    #[test]
    fn the_corner_moves_by_k1() {
        let lens =
            Lens::new(Some(&Distortion { k1: Measured::exact(0.1), centre_px: Some([0.0, 0.0]) }), 300, 400);
        let drawn = lens.draw([150.0, 200.0]);
        assert!((drawn[0] - 165.0).abs() < 1e-9 && (drawn[1] - 220.0).abs() < 1e-9, "{drawn:?}");
    }
}
