//! Small invented traces for unit tests.

use quantity::{AxialDeg, Measured};
use trace::{Ends, Trace};

/// A trace along these points, unsuspected, with both ends inside.
pub(crate) fn line(id: u32, points_px: &[[f64; 2]]) -> Trace {
    let first = points_px.first().copied().unwrap_or_default();
    let last = points_px.last().copied().unwrap_or_default();
    Trace {
        id,
        points_px: points_px.to_vec(),
        length_px: points_px
            .windows(2)
            .map(|pair| (pair[1][0] - pair[0][0]).hypot(pair[1][1] - pair[0][1]))
            .sum(),
        width_px: Measured { value: 3.0, u: 0.4 },
        direction: AxialDeg::from_pixel_step(last[0] - first[0], last[1] - first[1]).unwrap(),
        direction_u_deg: 0.3,
        curvature_per_px: Measured { value: 0.0, u: 1e-5 },
        ends: Ends { first_inside: true, last_inside: true },
        contrast: 2.0,
        log10_nfa: -4.0,
        suspect: None,
    }
}
