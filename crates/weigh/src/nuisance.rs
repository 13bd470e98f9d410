//! What else bends, breaks, hides or adds traces: drawn anew for every simulated object.

use finish::models::{Draw, Parameter, Scale, normal, span};
use rand::RngExt;
use rand_pcg::Pcg64;

/// Nuisances of one object's captures.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Nuisance {
    /// Loss of scratches along a one-sided light, 0 to 1.
    pub light_loss: f64,
    /// Share of traces that are lines of the stone which passed for scratches.
    pub lamella_share: f64,
    /// Lens distortion left over, in units of what the capture's lens residual leads one to expect (signed).
    pub lens: f64,
    /// Tilt of the camera, radians.
    pub tilt_rad: f64,
    /// Radius of the surface, mm (very large for a flat).
    pub surface_radius_mm: f64,
    /// Chance that a trace is broken into two.
    pub break_chance: f64,
    /// Waviness of a scratch as a share of its width.
    pub wobble: f64,
    /// Localisation of one independent point, px.
    pub localisation_px: f64,
    /// Log of the contrast of the scratches relative to the usual.
    pub log_contrast: f64,
    /// Greatest turning one trace is followed through, radians.
    pub most_turn_rad: f64,
}

/// Which nuisance is pushed to its worst, for the worst-case strata.
pub static PARAMETERS: [Parameter; 10] = [
    nuisance("light_loss", "", Scale::Linear, span(0.0, 0.4), &[span(0.4, 1.0)], "feasibility study"),
    nuisance("lamellae", "", Scale::Chance, span(0.1, 0.1), &[span(0.4, 0.4)], "feasibility study"),
    nuisance("lamella_share", "", Scale::Linear, span(0.05, 0.2), &[span(0.1, 0.4)], "feasibility study"),
    nuisance(
        "lens_sd",
        "",
        Scale::Log,
        span(0.2, 0.7),
        &[span(0.7, 1.5)],
        "feasibility study, relative to its residual",
    ),
    nuisance("tilt_sd_deg", "°", Scale::Linear, span(0.5, 2.0), &[span(3.0, 7.0)], "feasibility study"),
    nuisance(
        "surface_radius_mm",
        "mm",
        Scale::Log,
        span(80.0, 5000.0),
        &[span(80.0, 5000.0)],
        "feasibility study",
    ),
    nuisance("break_chance", "", Scale::Linear, span(0.0, 0.15), &[span(0.1, 0.35)], "feasibility study"),
    nuisance("wobble", "", Scale::Log, span(0.02, 0.1), &[span(0.05, 0.25)], "feasibility study"),
    nuisance("localisation_px", "px", Scale::Linear, span(0.3, 0.7), &[span(0.5, 1.2)], "feasibility study"),
    nuisance(
        "log_contrast",
        "",
        Scale::Linear,
        span(-0.3, 0.6),
        &[span(-0.6, 0.3)],
        "common practice, no source",
    ),
];

const fn nuisance(
    name: &'static str,
    unit: &'static str,
    scale: Scale,
    narrow: finish::models::Span,
    shifted: &'static [finish::models::Span],
    source: &'static str,
) -> Parameter {
    Parameter { name, unit, scale, narrow, shifted, beyond: narrow, source }
}

impl Nuisance {
    /// The nuisances of one object.
    pub fn draw(draw: &Draw, rng: &mut Pcg64) -> Nuisance {
        // One lean for all: a hurried visit has worse light, lens and focus together.
        let lean = draw.nuisance_lean(rng);
        let mut value = |index: usize| draw.value(&PARAMETERS[index], lean, rng);
        let [light_loss, lamellae, lamella_share, lens_sd, tilt_sd_deg] = [0, 1, 2, 3, 4].map(&mut value);
        let [surface_radius_mm, break_chance, wobble, localisation_px, log_contrast] =
            [5, 6, 7, 8, 9].map(&mut value);
        Nuisance {
            light_loss,
            lamella_share: lamellae * lamella_share,
            lens: lens_sd * normal(rng),
            tilt_rad: (tilt_sd_deg * normal(rng)).to_radians(),
            surface_radius_mm,
            break_chance,
            wobble,
            localisation_px,
            log_contrast,
            most_turn_rad: 0.9 + 0.9 * rng.random::<f64>(),
        }
    }
}
