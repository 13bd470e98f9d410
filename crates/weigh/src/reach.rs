//! Reach: the largest radius of curvature that a capture could have told from a straight line.

use quantity::UmPerPx;

/// How many standard uncertainties a sagitta must have before it counts as seen (common practice, no source).
const COVERAGE: f64 = 3.0;
/// Standard uncertainty of the sagitta of a parabola fitted to n even points is this times the scatter over √n: √720/8.
///
/// Gluckstern 1963 (from memory, source not seen); derived anew in the reference sheet §3.
const SAGITTA_FACTOR: f64 = 3.354_101_966_249_684_6;
/// Residual sagitta of a straight line over the full width, as a share of the width, where the lens was not calibrated:
/// the higher of the two values of the feasibility study (its calibrated case has 0.05 %).
pub const UNCALIBRATED_LENS: f64 = 0.002;
/// Distance between independent points along a trace, px, where no better figure is known: that of the ideal fit in the
/// feasibility study's table.
pub const INDEPENDENT_EVERY_PX: f64 = 8.0;
/// A chord of at least this share of the field's width is as long as the field allows.
const FILLS_FIELD: f64 = 0.7;
/// A field twice as wide doubles the reach by itself (the lens rule); if it gained this much more, the field is the limit.
const FIELD_GAIN: f64 = 1.25;

/// What limits the reach of a capture.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ReachInput {
    /// Width of the picture, px.
    pub width_px: f64,
    /// Height of the picture, px.
    pub height_px: f64,
    /// Scale, where one is known.
    pub um_per_px: Option<UmPerPx>,
    /// Visible chord of a long trace, px.
    pub chord_px: f64,
    /// Scatter of one independent point of a trace about its line, px: sharpness and noise.
    pub localisation_px: f64,
    /// Distance between independent points along the trace, px; see [`INDEPENDENT_EVERY_PX`].
    pub independent_every_px: f64,
    /// Wandering of the groove itself about its line (standard deviation), px.
    pub waviness_px: f64,
    /// Length over which the groove wanders one way, px.
    pub waviness_every_px: f64,
    /// Residual sagitta of a straight line over the full width, as a share of the width; `None` for a lens not calibrated.
    pub residual_distortion: Option<f64>,
    /// Standard uncertainty of the curvature that tilt on a curved surface adds, 1/px; see [`tilt_curvature_per_px`].
    pub tilt_curvature_per_px: f64,
}

/// What limits a reach most.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Limit {
    /// The field is small: a wider one would gain more than in proportion.
    Field,
    /// Sharpness and noise.
    Sharpness,
    /// What is left of the lens's distortion.
    Lens,
    /// The grooves themselves wander.
    Waviness,
    /// The surface was tilted or curved.
    Tilt,
}

impl Limit {
    /// The limit as one word of the JSON contract.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Field => "field",
            Self::Sharpness => "sharpness",
            Self::Lens => "lens",
            Self::Waviness => "waviness",
            Self::Tilt => "tilt",
        }
    }
}

/// The largest radius told from a straight line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reach {
    /// The radius, px. Zero where nothing can be told at all.
    pub radius_px: f64,
    /// The radius, mm; `None` without a scale.
    pub radius_mm: Option<f64>,
    /// The smallest sagitta that would have been seen, px.
    pub sagitta_px: f64,
    /// What limits it most.
    pub limited_by: Limit,
}

/// Curvature that a tilt of `tilt_deg` draws into straight lines on a surface of radius `surface_radius_px`, 1/px.
///
/// # Source
/// Feasibility study §2: a tilt τ on a surface of radius ρ gives arcs of radius ρ/tan τ.
#[must_use]
pub fn tilt_curvature_per_px(tilt_deg: f64, surface_radius_px: f64) -> f64 {
    tilt_deg.to_radians().tan().abs() / surface_radius_px
}

/// Reach of one capture: `R = L²/(8 s)`, `s` three standard uncertainties of a sagitta over the chord `L`. The standard
/// uncertainty combines the scatter of the points, the wandering of the groove, the lens and the tilt: noise alone would
/// promise radii that the lens forges.
///
/// # Source
/// Feasibility study §2 (formula and table, checked below).
#[must_use]
pub fn reach(input: &ReachInput) -> Reach {
    let chord_px = input.chord_px.min(input.width_px.hypot(input.height_px));
    let parts = Parts::new(input, chord_px);
    let nothing = Reach {
        radius_px: 0.0,
        radius_mm: input.um_per_px.map(|_| 0.0),
        sagitta_px: f64::INFINITY,
        limited_by: Limit::Field,
    };
    let u_px = parts.combined();
    if !(u_px.is_finite() && u_px > 0.0 && chord_px > 0.0) {
        return nothing;
    }
    let sagitta_px = COVERAGE * u_px;
    let radius_px = chord_px * chord_px / (8.0 * sagitta_px);
    let fills = chord_px >= FILLS_FIELD * input.width_px;
    let gain = u_px / parts.in_field_twice_as_wide().combined();
    Reach {
        radius_px,
        radius_mm: input.um_per_px.map(|scale| radius_px * scale.value() / 1000.0),
        sagitta_px,
        limited_by: if fills && gain > FIELD_GAIN { Limit::Field } else { parts.largest() },
    }
}

/// Reach of a station: that of its best capture. Captures are not pooled, for they share lens and tilt. `None` for none.
#[must_use]
pub fn station_reach(captures: &[Reach]) -> Option<Reach> {
    captures.iter().copied().reduce(|best, next| {
        // Millimetres decide where both have them: pixels of two magnifications do not compare.
        let farther = match (best.radius_mm, next.radius_mm) {
            (Some(best), Some(next)) => next > best,
            (None, Some(_)) => true,
            (Some(_), None) => false,
            (None, None) => next.radius_px > best.radius_px,
        };
        if farther { next } else { best }
    })
}

/// Standard uncertainties of the sagitta, px, by cause.
struct Parts {
    points: f64,
    waviness: f64,
    lens: f64,
    tilt: f64,
}

impl Parts {
    fn new(input: &ReachInput, chord_px: f64) -> Self {
        // A parabola has three points at the least; what wanders more slowly than that bends it less, not more.
        let independent = |every_px: f64| (chord_px / every_px.max(1.0)).max(3.0).sqrt();
        let share = chord_px / input.width_px;
        Self {
            points: SAGITTA_FACTOR * input.localisation_px / independent(input.independent_every_px),
            waviness: SAGITTA_FACTOR * input.waviness_px / independent(input.waviness_every_px),
            lens: input.residual_distortion.unwrap_or(UNCALIBRATED_LENS) * input.width_px * share * share,
            tilt: input.tilt_curvature_per_px * chord_px * chord_px / 8.0,
        }
    }

    fn combined(&self) -> f64 {
        self.points.hypot(self.waviness).hypot(self.lens).hypot(self.tilt)
    }

    /// The same number of pixels over twice the width: grooves wander half as many pixels, twice as often.
    fn in_field_twice_as_wide(&self) -> Self {
        Self {
            points: self.points,
            waviness: self.waviness / 8.0_f64.sqrt(),
            lens: self.lens,
            tilt: 2.0 * self.tilt,
        }
    }

    fn largest(&self) -> Limit {
        let causes = [
            (self.lens, Limit::Lens),
            (self.waviness, Limit::Waviness),
            (self.points, Limit::Sharpness),
            (self.tilt, Limit::Tilt),
        ];
        causes.into_iter().fold((0.0, Limit::Lens), |best, next| if next.0 > best.0 { next } else { best }).1
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The inputs of the feasibility study's table: chord 0.8 of the width, grooves `groove_um` wide that wander by 6 % of
    /// their width over 12 widths, points scattered by half a pixel and 0.3 µm.
    /// The number of independent points is not printed: its figures fit one per 8 px, at most 48 (none of that limit in the
    /// ideal fit).
    fn study(width_mm: f64, pixels: f64, groove_um: f64, distortion: f64) -> Reach {
        let um_per_px = 1000.0 * width_mm / pixels;
        let ideal = groove_um == 0.0 && distortion == 0.0;
        reach(&ReachInput {
            width_px: pixels,
            height_px: 0.75 * pixels,
            um_per_px: UmPerPx::new(um_per_px, 0.0),
            chord_px: 0.8 * pixels,
            localisation_px: f64::hypot(0.5, 0.3 / um_per_px),
            independent_every_px: if ideal {
                INDEPENDENT_EVERY_PX
            } else {
                INDEPENDENT_EVERY_PX.max(0.8 * pixels / 48.0)
            },
            waviness_px: 0.06 * groove_um / um_per_px,
            waviness_every_px: 12.0 * groove_um / um_per_px,
            residual_distortion: Some(distortion),
            tilt_curvature_per_px: 0.0,
        })
    }

    /// Source: feasibility study §2, table: the realistic and the ideal column to its printed digits (whole millimetres, above
    /// 500 mm one in a thousand), other lenses and grooves to 1 %, which is as near as a whole number of points comes.
    #[test]
    fn the_study_table() {
        let widths = [0.5, 1.0, 3.0, 6.0, 12.0, 25.0];
        let realistic =
            [[6, 6, 6], [30, 31, 31], [198, 217, 223], [425, 473, 488], [859, 957, 989], [1792, 1998, 2065]];
        let distortion = [(0.0001, [6, 33, 412, 1256, 2749, 5850]), (0.002, [5, 18, 62, 125, 249, 519])];
        let ideal = [102, 359, 1767, 3854, 7897, 16557];
        let check = |reach: Reach, printed: i32, share: f64, what: &str| {
            let radius_mm = reach.radius_mm.unwrap();
            let tolerance = f64::max(0.5, share * f64::from(printed));
            assert!((radius_mm - f64::from(printed)).abs() <= tolerance, "{what}: {radius_mm} for {printed}");
        };
        for (row, width) in widths.into_iter().enumerate() {
            for (column, pixels) in [1280.0, 2592.0, 6000.0].into_iter().enumerate() {
                check(
                    study(width, pixels, 10.0, 0.0005),
                    realistic[row][column],
                    1e-3,
                    &format!("{width} mm, {pixels} px"),
                );
            }
            for (share, printed) in distortion {
                check(
                    study(width, 2592.0, 10.0, share),
                    printed[row],
                    0.01,
                    &format!("{width} mm, distortion {share}"),
                );
            }
            check(study(width, 2592.0, 0.0, 0.0), ideal[row], 1e-3, &format!("{width} mm, ideal"));
        }
        for (groove, printed) in [(3.0, [23, 69, 237, 478, 959, 2000]), (30.0, [2, 8, 94, 369, 921, 1989])] {
            for (width, printed) in widths.into_iter().zip(printed) {
                check(
                    study(width, 2592.0, groove, 0.0005),
                    printed,
                    0.01,
                    &format!("{width} mm, groove {groove} µm"),
                );
            }
        }
    }

    /// Worked example of the study: arcs of a pad 20–200 mm across have radii of 10–100 mm.
    #[test]
    fn half_a_millimetre_cannot_tell_a_pad_and_six_can() {
        let small = study(0.5, 2592.0, 10.0, 0.0005);
        assert!(small.radius_mm.unwrap() < 10.0);
        assert_eq!(small.limited_by, Limit::Field);
        let large = study(6.0, 2592.0, 10.0, 0.0005);
        assert!(large.radius_mm.unwrap() > 200.0);
        assert_eq!(large.limited_by, Limit::Lens);
    }

    #[test]
    fn short_strokes_limit_large_fields() {
        let capture = study(25.0, 2592.0, 10.0, 0.0005);
        let short = |chord_px| {
            let um_per_px = 25_000.0 / 2592.0;
            reach(&ReachInput {
                chord_px,
                width_px: 2592.0,
                height_px: 1944.0,
                um_per_px: UmPerPx::new(um_per_px, 0.0),
                localisation_px: f64::hypot(0.5, 0.3 / um_per_px),
                independent_every_px: INDEPENDENT_EVERY_PX.max(chord_px / 48.0),
                waviness_px: 0.6 / um_per_px,
                waviness_every_px: 120.0 / um_per_px,
                residual_distortion: Some(0.0005),
                tilt_curvature_per_px: 0.0,
            })
        };
        // The study prints 142 mm for a stroke of 3 mm in a field of 25 mm.
        let stroke = short(3.0 / 25.0 * 2592.0);
        assert!((stroke.radius_mm.unwrap() - 142.0).abs() < 1.0, "{stroke:?}");
        assert_eq!(stroke.limited_by, Limit::Sharpness);
        assert!(stroke.radius_px < capture.radius_px);
        assert_eq!(short(0.0).radius_px, 0.0);
        assert_eq!(
            short(f64::NAN).limited_by,
            short(2592.0).limited_by,
            "a chord that is no number is the whole field"
        );
    }

    /// Source: feasibility study §2: ρ = 100 mm tilted by 5° gives 1143 mm.
    #[test]
    fn tilt_forges_arcs() {
        assert!((1.0 / tilt_curvature_per_px(5.0, 100.0) - 1143.0).abs() < 0.5);
    }

    #[test]
    fn without_a_scale_the_reach_is_in_pixels() {
        let mut input = ReachInput {
            width_px: 2592.0,
            height_px: 1944.0,
            um_per_px: None,
            chord_px: 2000.0,
            localisation_px: 0.5,
            independent_every_px: INDEPENDENT_EVERY_PX,
            waviness_px: 0.0,
            waviness_every_px: 100.0,
            residual_distortion: None,
            tilt_curvature_per_px: 0.0,
        };
        let plain = reach(&input);
        assert!(plain.radius_mm.is_none() && plain.radius_px > 0.0);
        assert_eq!(plain.limited_by, Limit::Lens);
        input.tilt_curvature_per_px = 1e-3;
        assert_eq!(reach(&input).limited_by, Limit::Tilt);
        let best = station_reach(&[plain, reach(&input)]).unwrap();
        assert_eq!(best, plain);
        assert!(station_reach(&[]).is_none());
    }
}
