//! Strokes as the captures would have shown them: hidden, bent, broken, blurred, measured.

use crate::detection::DetectionModel;
use crate::geometry::{
    FieldGeometry, Geometry, INDEPENDENT_PX, Lit, MOST_MARKS, OPTICAL_FLOOR_MM, WOBBLE_LENGTH_IN_WIDTHS,
};
use crate::mark::{FIT_POINTS, Fitter, Mark, resample};
use crate::nuisance::Nuisance;
use crate::observables::{Row, observe};
use crate::reach::UNCALIBRATED_LENS;
use crate::simulate::generator;
use finish::models::{
    Detail, Draw, Finish, Object, Place, Station, Stroke, Window, any_angle, normal, strokes,
};
use rand::RngExt;
use rand_pcg::Pcg64;
use rayon::prelude::*;
use std::f64::consts::PI;

/// Something that draws strokes in a field: a finish, or what a test puts in its place.
pub trait Source: Sync {
    /// Strokes of one field of `station` (stations are numbered from 0 within one object).
    fn field(
        &self,
        station: usize,
        place: Place,
        window: Window,
        detail: Detail,
        rng: &mut Pcg64,
    ) -> Vec<Stroke>;
}

/// A finished object with its stations drawn.
pub struct Finished {
    /// The object.
    pub object: Object,
    /// Its stations.
    pub stations: Vec<Station>,
}

impl Finished {
    /// A fresh object of this finish with stations for a geometry.
    pub fn draw(finish: Finish, draw: &Draw, geometry: &Geometry, rng: &mut Pcg64) -> Finished {
        let object = Object::draw(finish, draw, rng);
        let n_stations = geometry.fields.iter().map(|field| field.station + 1).max().unwrap_or(0);
        Finished { object, stations: (0..n_stations).map(|_| object.station(rng)).collect() }
    }
}

impl Source for Finished {
    fn field(
        &self,
        station: usize,
        place: Place,
        window: Window,
        detail: Detail,
        rng: &mut Pcg64,
    ) -> Vec<Stroke> {
        match self.stations.get(station) {
            Some(station) => strokes(&self.object, station, place, window, detail, rng),
            None => Vec::new(),
        }
    }
}

/// Two finishes on top of each other; the later one left this share of the strokes.
pub struct Layered {
    /// The earlier finish.
    pub earlier: Finished,
    /// The later finish.
    pub later: Finished,
    /// Share of strokes from the later finish, 0 to 1.
    pub share: f64,
}

impl Source for Layered {
    fn field(
        &self,
        station: usize,
        place: Place,
        window: Window,
        detail: Detail,
        rng: &mut Pcg64,
    ) -> Vec<Stroke> {
        let mut earlier = self.earlier.field(station, place, window, detail, rng);
        let mut later = self.later.field(station, place, window, detail, rng);
        let mut mixed = Vec::with_capacity(earlier.len() + later.len());
        // Both layers in their shares until one is used up.
        while mixed.len() < detail.most {
            let from = if rng.random::<f64>() < self.share { &mut later } else { &mut earlier };
            match from.pop() {
                Some(stroke) => mixed.push(stroke),
                None => break,
            }
        }
        mixed
    }
}

/// Observables of objects with two finishes on top of each other, under the wide prior.
#[must_use]
pub fn layered_rows(geometry: &Geometry, detection: &DetectionModel, n: usize, seed: u64) -> Vec<Row> {
    let finishes: Vec<Finish> = Finish::all().collect();
    (0..n)
        .into_par_iter()
        .map(|index| {
            let mut rng = generator(seed, LAYERED_STREAM, index as u64);
            let first = index % finishes.len();
            let second = (first + rng.random_range(1..finishes.len())) % finishes.len();
            let draw = Draw::WIDE.settled(&mut rng);
            let mut finished = |finish: usize| Finished::draw(finishes[finish], &draw, geometry, &mut rng);
            let (earlier, later) = (finished(first), finished(second));
            let nuisance = Nuisance::draw(&draw, &mut rng);
            let layered = Layered { earlier, later, share: 0.3 + 0.4 * rng.random::<f64>() };
            let marks = see(&layered, &nuisance, geometry, detection, &Fitter::default(), &mut rng);
            observe(&marks, geometry)
        })
        .collect()
}

/// Stream of random numbers for layered objects, beyond those of the finishes.
const LAYERED_STREAM: u64 = 1000;

/// Most strokes drawn in one field: enough that [`MOST_MARKS`] remain after losses.
const MOST_STROKES: usize = 90;
/// Fields of one station lie within about this distance of each other, mm (common practice, no source).
const STATION_SPREAD_MM: f64 = 8.0;
/// What a ring light still hides compared with a one-sided light (ours).
const RING_LOSS: f64 = 0.2;
/// A line a quarter of the width off the centre bends to a radius of 0.78 W/k1 (feasibility study), and a sagitta share
/// δ of the full width is a radius of W/(8 δ): k1 = 6.2 δ.
const SAGITTA_TO_K1: f64 = 6.2;
/// An end nearer to the border than this cannot be told from running out, px (ours).
const BORDER_PX: f64 = 8.0;

/// The marks of one object under the geometry of a visit, field by field.
pub fn see(
    source: &dyn Source,
    nuisance: &Nuisance,
    geometry: &Geometry,
    detection: &DetectionModel,
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
            let detail = Detail { step_mm: field.width_mm / 14.0, step_rad: 0.2, most: MOST_STROKES };
            let mut found = source.field(field.station, place, window, detail, rng);
            add_lamellae(&mut found, nuisance, window, rng);
            let mut looker =
                Looker { field, nuisance, detection, fitter, light: light_axis(field, rng), tilt_axis };
            looker.look(&found, rng)
        })
        .collect()
}

fn light_axis(field: &FieldGeometry, rng: &mut Pcg64) -> f64 {
    match field.light {
        Lit::Side(axis) => axis,
        Lit::Around | Lit::Unknown => rng.random::<f64>() * PI,
    }
}

/// Lines of the stone that pass for scratches: short, straight, in one direction.
fn add_lamellae(found: &mut Vec<Stroke>, nuisance: &Nuisance, window: Window, rng: &mut Pcg64) {
    if nuisance.lamella_share <= 0.0 || found.is_empty() {
        return;
    }
    let wanted =
        (found.len() as f64 * nuisance.lamella_share / (1.0 - nuisance.lamella_share)).round() as usize;
    let direction = any_angle(rng);
    let width_um = found.first().map_or(5.0, |stroke| stroke.width_um);
    // Spread over the list, so that the cut at the most marks does not favour the scratches.
    for _ in 0..wanted {
        let length = (0.06 * window.width_mm * (0.6 * normal(rng)).exp()).min(0.6 * window.height_mm);
        let (sin, cos) = (direction + 0.03 * normal(rng)).sin_cos();
        let at =
            [(rng.random::<f64>() - 0.5) * window.width_mm, (rng.random::<f64>() - 0.5) * window.height_mm];
        let half = 0.5 * length;
        let lamella = Stroke {
            points_mm: vec![
                [at[0] - half * cos, at[1] - half * sin],
                [at[0] + half * cos, at[1] + half * sin],
            ],
            width_um,
            depth_um: 1.0,
            length_mm: length,
            ends_inside: [true, true],
            layer: finish::models::Layer::Wear,
        };
        let place = rng.random_range(0..=found.len());
        found.insert(place, lamella);
    }
}

struct Looker<'a> {
    field: &'a FieldGeometry,
    nuisance: &'a Nuisance,
    detection: &'a DetectionModel,
    fitter: &'a Fitter,
    light: f64,
    tilt_axis: f64,
}

impl Looker<'_> {
    fn look(&mut self, found: &[Stroke], rng: &mut Pcg64) -> Vec<Mark> {
        let mut marks = Vec::with_capacity(MOST_MARKS);
        for stroke in found {
            if marks.len() >= MOST_MARKS {
                break;
            }
            self.look_at(stroke, &mut marks, rng);
        }
        marks
    }

    fn look_at(&self, stroke: &Stroke, marks: &mut Vec<Mark>, rng: &mut Pcg64) {
        for (from, to, ends) in pieces(stroke, self.nuisance, rng) {
            let Some(points) = stroke.points_mm.get(from..to) else { continue };
            if points.len() < 2 {
                continue;
            }
            let Some((mut even, length)) = resample(points) else { continue };
            let length_px = length / self.field.mm_per_px;
            let width_um = stroke.width_um * (0.1 * normal(rng)).exp();
            let width_px = width_um / (1000.0 * self.field.mm_per_px);
            let mut chance = self.detection.chance(length_px, width_px, self.nuisance.log_contrast);
            let along = (even[FIT_POINTS - 1][1] - even[0][1]).atan2(even[FIT_POINTS - 1][0] - even[0][0]);
            let loss =
                self.nuisance.light_loss * if self.field.light == Lit::Around { RING_LOSS } else { 1.0 };
            chance *= 1.0 - loss * (along - self.light).cos().powi(2);
            if rng.random::<f64>() > chance || marks.len() >= MOST_MARKS {
                continue;
            }
            let noise_um2 = self.bend(&mut even, length, width_um, rng);
            let measured_um = width_um.hypot(1.5 * self.field.blur_px * self.field.mm_per_px * 1000.0);
            if let Some(mut mark) =
                self.field.mark(&even, length, measured_um, self.ends(&even, ends), self.fitter)
            {
                // The resampled points carry only the slow part of the noise; the fast part is scatter about the fit.
                mark.residual_um =
                    mark.residual_um.hypot((noise_um2 * (0.8 + 0.4 * rng.random::<f64>())).sqrt());
                marks.push(mark);
            }
        }
    }

    /// Distorts the points as lens, tilt, waviness and localisation do; returns the variance of the fast noise, µm².
    fn bend(&self, even: &mut [[f64; 2]; FIT_POINTS], length: f64, width_um: f64, rng: &mut Pcg64) -> f64 {
        let field = self.field;
        // Coefficient of the cubic distortion: k1 at half the diagonal, 6.2 times the sagitta share it stands for.
        let k1 = SAGITTA_TO_K1 * field.lens_residual.unwrap_or(UNCALIBRATED_LENS) * self.nuisance.lens;
        let strength = 4.0 * k1 / (field.width_mm.powi(2) + field.height_mm.powi(2));
        let sag = self.nuisance.tilt_rad.tan() / (2.0 * self.nuisance.surface_radius_mm);
        let (axis_sin, axis_cos) = self.tilt_axis.sin_cos();
        let (dx, dy) = (even[FIT_POINTS - 1][0] - even[0][0], even[FIT_POINTS - 1][1] - even[0][1]);
        let chord = dx.hypot(dy).max(1e-12);
        let normal_to = [-dy / chord, dx / chord];
        let localisation = (self.nuisance.localisation_px * field.mm_per_px).hypot(OPTICAL_FLOOR_MM);
        let wobble = self.nuisance.wobble * width_um / 1000.0;
        let n_points = (length / (INDEPENDENT_PX * field.mm_per_px)).max(2.0);
        let n_wobbles = (length / (WOBBLE_LENGTH_IN_WIDTHS * width_um / 1000.0)).max(1.0);
        let slow = |sd: f64, n: f64| sd * sd * (FIT_POINTS as f64 / n).min(1.5);
        let slow_variance = slow(localisation, n_points) + slow(wobble, n_wobbles);
        let fast_variance = (localisation * localisation + wobble * wobble - slow_variance).max(0.0);
        let slow_sd = slow_variance.sqrt();
        for p in even.iter_mut() {
            let radial = strength * (p[0] * p[0] + p[1] * p[1]);
            // On a curved surface seen at a slant, height moves points along the tilt.
            let across = p[0] * axis_cos + p[1] * axis_sin;
            let lift = sag * across * across;
            let noise = slow_sd * normal(rng);
            p[0] += radial * p[0] - lift * axis_sin + noise * normal_to[0];
            p[1] += radial * p[1] + lift * axis_cos + noise * normal_to[1];
        }
        fast_variance * 1e6
    }

    fn ends(&self, even: &[[f64; 2]; FIT_POINTS], true_ends: [bool; 2]) -> u8 {
        let margin = BORDER_PX * self.field.mm_per_px;
        let half = [0.5 * self.field.width_mm - margin, 0.5 * self.field.height_mm - margin];
        let clear = |p: [f64; 2]| p[0].abs() < half[0] && p[1].abs() < half[1];
        u8::from(true_ends[0] && clear(even[0])) + u8::from(true_ends[1] && clear(even[FIT_POINTS - 1]))
    }
}

/// Cuts a stroke where it turns too far to be followed and where it is broken by chance.
fn pieces(stroke: &Stroke, nuisance: &Nuisance, rng: &mut Pcg64) -> Vec<(usize, usize, [bool; 2])> {
    let n = stroke.points_mm.len();
    let mut cuts = vec![0];
    let mut turned = 0.0;
    for index in 1..n.saturating_sub(1) {
        let (a, b, c) = (stroke.points_mm[index - 1], stroke.points_mm[index], stroke.points_mm[index + 1]);
        let (ux, uy, vx, vy) = (b[0] - a[0], b[1] - a[1], c[0] - b[0], c[1] - b[1]);
        turned += (ux * vy - uy * vx).atan2(ux * vx + uy * vy).abs();
        if turned > nuisance.most_turn_rad {
            cuts.push(index);
            turned = 0.0;
        }
    }
    if n > 3 && rng.random::<f64>() < nuisance.break_chance {
        let place = rng.random_range(1..n - 1);
        if let Err(position) = cuts.binary_search(&place) {
            cuts.insert(position, place);
        }
    }
    let n_pieces = cuts.len();
    (0..n_pieces)
        .map(|k| {
            let from = cuts[k];
            let last = k + 1 == n_pieces;
            let to = if last { n } else { cuts[k + 1] + 1 };
            // A cut looks like two ends inside the field.
            (from, to, [k > 0 || stroke.ends_inside[0], !last || stroke.ends_inside[1]])
        })
        .collect()
}
