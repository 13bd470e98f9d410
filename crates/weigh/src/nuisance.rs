//! What else bends, breaks, hides or adds traces: drawn anew for every simulated object.

use crate::tracer::Effects;
use finish::models::{Draw, Parameter, Scale, normal, span};
use rand_pcg::Pcg64;

/// Nuisances of one object's captures.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Nuisance {
    /// Loss of scratches along a one-sided light, in units of the measured loss.
    pub light: f64,
    /// Lines of the stone that passed for scratches beyond the usual, for each found stroke.
    pub lamella_share: f64,
    /// Lens distortion left over, in units of what the capture's lens residual leads one to expect (signed).
    pub lens: f64,
    /// Tilt of the camera, radians.
    pub tilt_rad: f64,
    /// Radius of the surface, mm (very large for a flat).
    pub surface_radius_mm: f64,
    /// Waviness of a scratch as a share of its width.
    pub wobble: f64,
    /// What the object's stone and instrument do to the tracing of all its pictures.
    pub effects: Effects,
}

/// Which nuisance is pushed to its worst, for the worst-case strata.
pub static PARAMETERS: [Parameter; 8] = [
    nuisance(
        "light_loss",
        "",
        Scale::Linear,
        span(0.8, 1.2),
        &[span(0.4, 1.4)],
        "ours: about the measured loss",
    ),
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
    nuisance(
        "wobble",
        "",
        Scale::Log,
        span(0.002, 0.05),
        &[span(0.01, 0.15)],
        "ours: beyond what a trace shows of its own",
    ),
    nuisance(
        "picture_effects",
        "",
        Scale::Linear,
        span(0.8, 1.2),
        &[span(1.0, 1.6)],
        "ours: measured differences between rendered pictures, and more",
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
        let [light, lamellae, lamella_share, lens_sd, tilt_sd_deg] = [0, 1, 2, 3, 4].map(&mut value);
        let [surface_radius_mm, wobble, picture_effects] = [5, 6, 7].map(&mut value);
        Nuisance {
            light,
            lamella_share: lamellae * lamella_share,
            lens: lens_sd * normal(rng),
            tilt_rad: (tilt_sd_deg * normal(rng)).to_radians(),
            surface_radius_mm,
            wobble,
            effects: Effects::draw(picture_effects, rng),
        }
    }
}
