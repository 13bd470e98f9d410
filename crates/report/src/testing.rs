//! Small invented captures and traces for unit tests.

use picture::Light;
use quantity::{AxialDeg, Measured, UmPerPx};
use trace::{Ends, Trace};

use crate::dossier::{Capture, Quality, Reading, Scale, ShownTrace, Verdict};

/// An accepted straight trace between two points.
pub(crate) fn straight_trace(id: u32, from: [f64; 2], to: [f64; 2]) -> ShownTrace {
    let (dx, dy) = (to[0] - from[0], to[1] - from[1]);
    ShownTrace {
        trace: Trace {
            id,
            points_px: vec![from, to],
            length_px: dx.hypot(dy),
            width_px: Measured { value: 3.0, u: 0.4 },
            direction: AxialDeg::from_pixel_step(dx, dy).unwrap(),
            direction_u_deg: 0.2,
            curvature_per_px: Measured { value: 0.0, u: 1e-5 },
            ends: Ends { first_inside: true, last_inside: false },
            contrast: 2.5,
            log10_nfa: -6.0,
            suspect: None,
        },
        reading: Reading::Accepted,
        by_hand: false,
    }
}

/// A usable capture without a picture.
pub(crate) fn capture_of(
    width_px: usize,
    height_px: usize,
    um_per_px: Option<f64>,
    traces: Vec<ShownTrace>,
) -> Capture {
    Capture {
        label: "A1".into(),
        file_name: "a1.tif".into(),
        sha256: "0".repeat(64),
        bytes: 1,
        width_px,
        height_px,
        format: "TIFF, 16 bit, grey".into(),
        taken_at: None,
        camera: None,
        instrument: None,
        scale: um_per_px.map(|value| Scale {
            um_per_px: UmPerPx::new(value, value * 1e-3).unwrap(),
            origin: "typed".into(),
        }),
        nominal_magnification: None,
        light: Light::Unknown,
        lens: "not known".into(),
        quality: Quality { verdict: Verdict::Usable, reasons: vec![] },
        picture: None,
        traces,
        refused: None,
        hidden: None,
        expected_false: Some(1.0),
        reach: None,
        lay: None,
        notes: vec![],
    }
}
