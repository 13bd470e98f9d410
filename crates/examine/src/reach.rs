//! The largest radius a capture could have told from straight.

use picture::Distortion;
use quantity::UmPerPx;
use trace::{Found, Trace};
use weigh::{INDEPENDENT_EVERY_PX, Reach, ReachInput};

/// Share of the visible lengths that lie below the chord a reach is computed for: one trace in ten is that long, so the
/// reach is that of the traces that can tell most (ours).
const LONG_SHARE: f64 = 0.9;
/// Length over which a groove wanders one way, px, until it is measured per trace (ours: grains of some tens of px turn it).
const WAVINESS_EVERY_PX: f64 = 60.0;

/// Reach of one capture for the traces that count, and the chord it was computed for, px; `None` without traces, which
/// leave nothing to tell from straight.
///
/// The chord is the length that one visible trace in ten exceeds.
#[must_use]
pub fn reach(
    size_px: (u32, u32),
    scale: Option<UmPerPx>,
    found: &Found,
    accepted: &[&Trace],
    lens: Option<Distortion>,
) -> Option<(Reach, f64)> {
    let (width_px, height_px) = (f64::from(size_px.0), f64::from(size_px.1));
    let mut lengths: Vec<f64> = accepted.iter().map(|trace| trace.length_px).collect();
    lengths.sort_by(f64::total_cmp);
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        clippy::cast_precision_loss,
        reason = "an index"
    )]
    let long = (LONG_SHARE * lengths.len().saturating_sub(1) as f64).round() as usize;
    let chord_px = *lengths.get(long)?;
    let reach = weigh::reach(&ReachInput {
        width_px,
        height_px,
        um_per_px: scale,
        chord_px,
        localisation_px: found.localisation_px,
        independent_every_px: INDEPENDENT_EVERY_PX,
        waviness_px: found.waviness_px,
        waviness_every_px: WAVINESS_EVERY_PX,
        residual_distortion: lens.map(|lens| lens.residual_sagitta_share(width_px, height_px)),
        tilt_curvature_per_px: 0.0,
    });
    Some((reach, chord_px))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn without_a_trace_nothing_is_told_from_straight() {
        let found = Found {
            traces: Vec::new(),
            refused: None,
            noise_sigma: 0.01,
            localisation_px: 0.0,
            waviness_px: 0.0,
            hidden: None,
        };
        assert_eq!(reach((1280, 960), None, &found, &[], None), None);
    }
}
