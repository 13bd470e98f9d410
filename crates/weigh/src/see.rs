//! Strokes as the captures would have shown them: hidden, lost in part, broken, bent, measured, with strays among them.

use crate::beside::Beside;
use crate::geometry::{FieldGeometry, Geometry, Lit, MOST_MARKS, WOBBLE_LENGTH_IN_WIDTHS};
use crate::mark::{FIT_POINTS, Fitter, Mark, resample_part};
use crate::nuisance::Nuisance;
use crate::reach::UNCALIBRATED_LENS;
use crate::sources::Source;
use crate::strays;
use crate::tracer::{Effects, Off, Tracer};
use finish::models::{Detail, Place, Stroke, Window, any_angle, normal};
use rand::RngExt;
use rand_pcg::Pcg64;
use std::f64::consts::PI;

/// Most strokes drawn in one field. Under the shifted prior half of the fields hold more (200 on 3 mm, 500 on 6 mm, 1300 on 12
/// mm), so that too few are hidden by others there; with ninety the log loss of 6 mm × 4 was 0.03 higher (`benches/weigh`).
const MOST_STROKES: usize = 200;
/// Fields of one station lie within about this distance of each other, mm (common practice, no source).
const STATION_SPREAD_MM: f64 = 8.0;
/// A line a quarter of the width off the centre bends to a radius of 0.78 W/k1 (feasibility study), and a sagitta share
/// δ of the full width is a radius of W/(8 δ): k1 = 6.2 δ.
const SAGITTA_TO_K1: f64 = 6.2;

/// The marks of one object under the geometry of a visit, field by field.
pub fn see(
    source: &dyn Source,
    nuisance: &Nuisance,
    geometry: &Geometry,
    fitter: &Fitter,
    rng: &mut Pcg64,
) -> Vec<Vec<Mark>> {
    let tilt_axis = any_angle(rng);
    geometry
        .fields
        .iter()
        .map(|field| {
            let place = Place {
                centre_mm: [STATION_SPREAD_MM * normal(rng), STATION_SPREAD_MM * normal(rng)],
                camera_rad: any_angle(rng),
            };
            let window = Window { width_mm: field.width_mm, height_mm: field.height_mm };
            let detail = Detail { step_mm: field.width_mm / 5.0, step_rad: 0.2, most: MOST_STROKES };
            let found = source.field(field.station, place, window, detail, rng);
            trace(&found, field, nuisance, tilt_axis, fitter, rng)
        })
        .collect()
}

/// The marks that tracing one field with these strokes would give; `tilt_axis` is the direction of the tilt, radians.
pub fn trace(
    strokes: &[Stroke],
    field: &FieldGeometry,
    nuisance: &Nuisance,
    tilt_axis: f64,
    fitter: &Fitter,
    rng: &mut Pcg64,
) -> Vec<Mark> {
    let light = match field.light {
        Lit::Side(axis) => axis,
        Lit::Around | Lit::Unknown => rng.random::<f64>() * PI,
    };
    let looker = Looker { field, nuisance, fitter, tilt_axis, effects: nuisance.effects.of_picture(rng) };
    let mut seen = looker.found(strokes, light, rng);
    strays::add(&mut seen, field, &looker.effects, nuisance, rng);
    let n = seen.len();
    let wanted = n.min(MOST_MARKS);
    // As for real traces, those weighed are spread evenly over all.
    (0..wanted).filter_map(|k| looker.mark(seen.get(k * n / wanted.max(1))?, rng)).collect()
}

/// One trace before it is bent and fitted.
pub(crate) struct Seen {
    pub even: [[f64; 2]; FIT_POINTS],
    pub length_mm: f64,
    pub width_px: f64,
    pub off: Off,
}

struct Looker<'a> {
    field: &'a FieldGeometry,
    nuisance: &'a Nuisance,
    fitter: &'a Fitter,
    tilt_axis: f64,
    effects: Effects,
}

impl Looker<'_> {
    fn found(&self, strokes: &[Stroke], light: f64, rng: &mut Pcg64) -> Vec<Seen> {
        let tracer = &Tracer::MEASURED;
        let beside = Beside::of(strokes, self.field, light);
        let mut seen = Vec::new();
        for (stroke, facts) in strokes.iter().zip(beside.facts()) {
            let chance = tracer.finding.chance(&facts, self.nuisance.light, self.effects.finding);
            if rng.random::<f64>() >= chance {
                continue;
            }
            for [from, to] in tracer.stretches(&facts, self.effects.trimming, rng) {
                let part = [from * self.field.mm_per_px, to * self.field.mm_per_px];
                let Some((even, length_mm)) = resample_part(&stroke.points_mm, part) else { continue };
                seen.push(Seen {
                    even,
                    length_mm,
                    width_px: tracer.width_px(&facts, self.field.blur_px, &self.effects, rng),
                    off: tracer.off(to - from, &facts, &self.effects, rng),
                });
            }
        }
        seen
    }

    fn mark(&self, seen: &Seen, rng: &mut Pcg64) -> Option<Mark> {
        let mut even = seen.even;
        let width_um = seen.width_px * self.field.mm_per_px * 1000.0;
        self.bend(&mut even, seen.length_mm, width_um, rng);
        self.fitter.displace(&mut even, seen.off.shape.map(|px| px * self.field.mm_per_px));
        let ends = self.field.ends_inside(even[0], even[FIT_POINTS - 1]);
        let mut mark = self.field.mark(&even, seen.length_mm, width_um, ends, self.fitter)?;
        mark.residual_um = mark.residual_um.hypot(seen.off.scatter * self.field.mm_per_px * 1000.0);
        Some(mark)
    }

    /// Distorts the points as lens, tilt and waviness of the scratch do.
    fn bend(&self, even: &mut [[f64; 2]; FIT_POINTS], length: f64, width_um: f64, rng: &mut Pcg64) {
        let field = self.field;
        // Coefficient of the cubic distortion: k1 at half the diagonal, 6.2 times the sagitta share it stands for.
        let k1 = SAGITTA_TO_K1 * field.lens_residual.unwrap_or(UNCALIBRATED_LENS) * self.nuisance.lens;
        let strength = 4.0 * k1 / (field.width_mm.powi(2) + field.height_mm.powi(2));
        let sag = self.nuisance.tilt_rad.tan() / (2.0 * self.nuisance.surface_radius_mm);
        let (axis_sin, axis_cos) = self.tilt_axis.sin_cos();
        let (dx, dy) = (even[FIT_POINTS - 1][0] - even[0][0], even[FIT_POINTS - 1][1] - even[0][1]);
        let chord = dx.hypot(dy).max(1e-12);
        let normal_to = [-dy / chord, dx / chord];
        let wobble = self.nuisance.wobble * width_um / 1000.0;
        let n_wobbles = (length / (WOBBLE_LENGTH_IN_WIDTHS * width_um / 1000.0)).max(1.0);
        // A traced axis is smooth between its points: of the waviness it shows only what varies slowly.
        let wobble_sd = wobble * (FIT_POINTS as f64 / n_wobbles).min(1.5).sqrt();
        for p in even.iter_mut() {
            let radial = strength * (p[0] * p[0] + p[1] * p[1]);
            // On a curved surface seen at a slant, height moves points along the tilt.
            let across = p[0] * axis_cos + p[1] * axis_sin;
            let lift = sag * across * across;
            let noise = wobble_sd * normal(rng);
            p[0] += radial * p[0] - lift * axis_sin + noise * normal_to[0];
            p[1] += radial * p[1] + lift * axis_cos + noise * normal_to[1];
        }
    }
}
