//! The geometry of the real captures, under which every simulation is made.

use crate::mark::{FIT_POINTS, Fitter, Mark, resample};
use crate::reach::UNCALIBRATED_LENS;
use crate::visit::{SeenCapture, SeenTrace, Visit};
use picture::Light;
use std::f64::consts::PI;

/// What one capture could show.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FieldGeometry {
    /// Width of the field, mm.
    pub width_mm: f64,
    /// Height of the field, mm.
    pub height_mm: f64,
    /// Scale, mm/px.
    pub mm_per_px: f64,
    /// Blur as a Gaussian sigma, px.
    pub blur_px: f64,
    /// Light.
    pub light: Lit,
    /// Sagitta share a straight line still shows; `None` if unknown.
    pub lens_residual: Option<f64>,
    /// Number of the station, from 0.
    pub station: usize,
}

/// Light as the simulation needs it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Lit {
    /// From one side, along this axis, radians counter-clockwise.
    Side(f64),
    /// From all sides.
    Around,
    /// Not recorded: from one side, but which is not known.
    Unknown,
}

/// The geometry of a whole visit.
#[derive(Debug, Clone, PartialEq)]
pub struct Geometry {
    /// One entry per capture.
    pub fields: Vec<FieldGeometry>,
    /// Names of the stations, in order of first appearance.
    pub stations: Vec<String>,
}

/// Blur assumed where none was judged, px (common practice, no source: a well-focused sensor picture).
const USUAL_BLUR_PX: f64 = 1.2;
/// Most traces of one capture that are weighed. The study found ten to twenty enough where all of them are sound; with a tenth
/// gone astray eighty instead of forty take 0.01 off the log loss of 6 mm × 4 (`benches/weigh`). More only cost time.
pub const MOST_MARKS: usize = 80;

impl Geometry {
    /// The geometry of the captures that have a scale.
    #[must_use]
    pub fn of(visit: &Visit) -> Geometry {
        let mut stations: Vec<String> = Vec::new();
        let mut fields = Vec::new();
        for capture in &visit.captures {
            let Some(um_per_px) = capture.um_per_px() else { continue };
            let station = stations.iter().position(|name| *name == capture.station).unwrap_or_else(|| {
                stations.push(capture.station.clone());
                stations.len() - 1
            });
            let mm_per_px = um_per_px / 1000.0;
            fields.push(FieldGeometry {
                width_mm: f64::from(capture.width_px) * mm_per_px,
                height_mm: f64::from(capture.height_px) * mm_per_px,
                mm_per_px,
                blur_px: capture.sharpness_px.unwrap_or(USUAL_BLUR_PX),
                light: match capture.light {
                    Light::Azimuth(axis) => Lit::Side(axis.degrees().to_radians()),
                    Light::Ring | Light::Coaxial => Lit::Around,
                    Light::Unknown => Lit::Unknown,
                },
                lens_residual: capture.lens_residual,
                station,
            });
        }
        Geometry { fields, stations }
    }

    /// Equal fields at one station each, for planning and for tests.
    #[must_use]
    pub fn equal(n_fields: usize, per_station: usize, width_mm: f64, width_px: f64) -> Geometry {
        let field = |index: usize| FieldGeometry {
            width_mm,
            height_mm: 0.75 * width_mm,
            mm_per_px: width_mm / width_px,
            blur_px: USUAL_BLUR_PX,
            light: Lit::Unknown,
            lens_residual: Some(USUAL_LENS_RESIDUAL),
            station: index / per_station.max(1),
        };
        let fields: Vec<FieldGeometry> = (0..n_fields).map(field).collect();
        let n_stations = fields.last().map_or(0, |field| field.station + 1);
        Geometry { fields, stations: (1..=n_stations).map(|number| format!("station {number}")).collect() }
    }

    /// Without the fields of one station; `None` if nothing is left.
    #[must_use]
    pub fn without_station(&self, station: usize) -> Option<Geometry> {
        let fields: Vec<FieldGeometry> =
            self.fields.iter().filter(|field| field.station != station).copied().collect();
        (!fields.is_empty()).then(|| Geometry { fields, stations: self.stations.clone() })
    }

    /// The marks of a real visit, field by field, in the order of the fields.
    #[must_use]
    pub fn marks(&self, visit: &Visit) -> Vec<Vec<Mark>> {
        let fitter = Fitter::default();
        let scaled = visit.captures.iter().filter(|capture| capture.scale.is_some());
        scaled.zip(&self.fields).map(|(capture, field)| marks_of(capture, field, &fitter)).collect()
    }
}

/// At most [`MOST_MARKS`] marks of one capture, spread evenly over its traces whatever their order.
fn marks_of(capture: &SeenCapture, field: &FieldGeometry, fitter: &Fitter) -> Vec<Mark> {
    let kept: Vec<&SeenTrace> = capture.traces.iter().filter(|trace| !trace.suspect).collect();
    let n = kept.len();
    let wanted = n.min(MOST_MARKS);
    (0..wanted)
        .filter_map(|k| kept.get(k * n / wanted.max(1)))
        .filter_map(|trace| mark_of(trace, field, fitter))
        .collect()
}

fn mark_of(trace: &SeenTrace, field: &FieldGeometry, fitter: &Fitter) -> Option<Mark> {
    let corner = [0.5 * field.width_mm, 0.5 * field.height_mm];
    let points: Vec<[f64; 2]> = trace
        .points_px
        .iter()
        .map(|p| [p[0] * field.mm_per_px - corner[0], corner[1] - p[1] * field.mm_per_px])
        .collect();
    let (even, length) = resample(&points)?;
    let width_um = trace.width_px.max(0.3) * field.mm_per_px * 1000.0;
    let ends = trace.ends_inside.min(field.ends_inside(even[0], even[FIT_POINTS - 1]));
    field.mark(&even, length, width_um, ends, fitter)
}

impl FieldGeometry {
    /// How many of two ends lie so far inside the field that they are no strokes running out.
    pub(crate) fn ends_inside(&self, first: [f64; 2], last: [f64; 2]) -> u8 {
        let margin = BORDER_PX * self.mm_per_px;
        let half = [0.5 * self.width_mm - margin, 0.5 * self.height_mm - margin];
        let clear = |p: [f64; 2]| p[0].abs() < half[0] && p[1].abs() < half[1];
        u8::from(clear(first)) + u8::from(clear(last))
    }

    /// The mark of evenly spaced points seen in this field.
    pub(crate) fn mark(
        &self,
        even: &[[f64; 2]; FIT_POINTS],
        length: f64,
        width_um: f64,
        ends_inside: u8,
        fitter: &Fitter,
    ) -> Option<Mark> {
        let fit = fitter.fit(even, length)?;
        if fit.length < 4.0 * self.mm_per_px {
            return None;
        }
        Some(Mark {
            at_mm: fit.at,
            direction_rad: fit.direction_rad % PI,
            curvature_per_mm: fit.curvature,
            curvature_sd_per_mm: self.expected_curvature_sd(fit.length, width_um),
            cubic_um: fit.cubic * 1000.0,
            residual_um: fit.residual * 1000.0,
            length_mm: fit.length,
            width_um,
            ends_inside,
            turn_rad: (fit.curvature * fit.length).abs(),
        })
    }

    /// Standard deviation of a curvature measured over `length_mm` in this field, 1/mm: localisation, waviness of the
    /// path itself and the lens.
    ///
    /// # Source
    /// var κ = 720 σ²/(n L⁴) for n even points (Gluckstern 1963, REFERENCES §3); terms as in the feasibility study.
    #[must_use]
    pub fn expected_curvature_sd(&self, length_mm: f64, width_um: f64) -> f64 {
        let localisation_mm = (USUAL_LOCALISATION_PX * self.mm_per_px).hypot(OPTICAL_FLOOR_MM);
        let n_points = (length_mm / (INDEPENDENT_PX * self.mm_per_px)).max(4.0);
        let wobble_mm = USUAL_WOBBLE * width_um / 1000.0;
        let n_wobbles = (length_mm / (WOBBLE_LENGTH_IN_WIDTHS * width_um / 1000.0)).max(1.0);
        let noise = localisation_mm * localisation_mm / n_points + wobble_mm * wobble_mm / n_wobbles;
        let lens = 8.0 * self.lens_residual.unwrap_or(UNCALIBRATED_LENS) / self.width_mm;
        (720.0 * noise / length_mm.powi(4)).sqrt().hypot(lens)
    }
}

/// A trace that ends nearer to the border than this is taken to run out, px: half of the traces of strokes that do run out end
/// within 20 px of it, three quarters within 60 px (`benches/weigh detect`).
const BORDER_PX: f64 = 30.0;
/// Localisation of one independent point of a trace, px (feasibility study; `benches/weigh detect` measures it).
pub const USUAL_LOCALISATION_PX: f64 = 0.5;
/// Floor of the localisation set by optics, mm (feasibility study).
pub const OPTICAL_FLOOR_MM: f64 = 0.0003;
/// Distance of independent points along a trace, px (feasibility study).
pub const INDEPENDENT_PX: f64 = 3.0;
/// Waviness of a scratch as a share of its width (feasibility study).
pub const USUAL_WOBBLE: f64 = 0.06;
/// Length over which the waviness of a scratch is one piece, in widths (feasibility study).
pub const WOBBLE_LENGTH_IN_WIDTHS: f64 = 12.0;
/// Sagitta share of a straight line after the lens was checked (feasibility study).
pub const USUAL_LENS_RESIDUAL: f64 = 0.0005;
