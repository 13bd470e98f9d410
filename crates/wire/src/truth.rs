//! `rubstone.truth/1`: what is truly on a rendered micrograph, for anyone's tests.
//!
//! Coordinates and directions as in `rubstone.measure/1`.

use finish::render::{LineKind, TrueScratch, Truth};
use serde::Serialize;

use crate::text::light;
use crate::{FormError, to_text};

/// Name of the form.
pub const SCHEMA: &str = "rubstone.truth/1";

/// How a picture was made.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Made {
    /// File name of the picture.
    pub picture: String,
    /// Finish whose model drew the strokes, or "none".
    pub finish: String,
    /// Kind of stone.
    pub stone: String,
    /// Seed.
    pub seed: u64,
    /// Width and height, px.
    pub size_px: (u32, u32),
}

#[derive(Serialize)]
struct TruthForm<'a> {
    schema: &'static str,
    picture: &'a str,
    finish: &'a str,
    stone: &'a str,
    seed: u64,
    width_px: u32,
    height_px: u32,
    um_per_px: f64,
    light: &'static str,
    light_azimuth_deg: Option<f64>,
    scratches: Vec<ScratchForm<'a>>,
    lines_of_the_stone: Vec<LineForm<'a>>,
}

#[derive(Serialize)]
struct ScratchForm<'a> {
    groove: usize,
    points: &'a [[f64; 2]],
    ideal_points: &'a [[f64; 2]],
    width_px: f64,
    depth_um: f64,
    length_px: f64,
    visible_px: f64,
    direction_deg: f64,
    drawn_direction_deg: f64,
    curvature_per_px: f64,
    drawn_curvature_per_px: f64,
    ends_inside: u8,
    cnr: f64,
    cnr_along: &'a [f32],
    visible: &'a [bool],
}

#[derive(Serialize)]
struct LineForm<'a> {
    kind: &'static str,
    points: &'a [[f64; 2]],
}

/// The truth as JSON text.
///
/// # Errors
/// [`FormError::Unwritable`], which no truth should meet.
pub fn write(truth: &Truth, made: &Made) -> Result<String, FormError> {
    let (light, light_azimuth_deg) = light(truth.light);
    to_text(&TruthForm {
        schema: SCHEMA,
        picture: &made.picture,
        finish: &made.finish,
        stone: &made.stone,
        seed: made.seed,
        width_px: made.size_px.0,
        height_px: made.size_px.1,
        um_per_px: truth.um_per_px,
        light,
        light_azimuth_deg,
        scratches: truth.scratches.iter().map(scratch).collect(),
        lines_of_the_stone: truth
            .lines_of_the_stone
            .iter()
            .map(|line| LineForm { kind: kind(line.kind), points: &line.points_px })
            .collect(),
    })
}

fn scratch(scratch: &TrueScratch) -> ScratchForm<'_> {
    let [first, last] = scratch.ends_inside;
    ScratchForm {
        groove: scratch.groove,
        points: &scratch.points_px,
        ideal_points: &scratch.ideal_points_px,
        width_px: scratch.width_px,
        depth_um: scratch.depth_um,
        length_px: scratch.length_px,
        visible_px: scratch.visible_px,
        direction_deg: scratch.direction.degrees(),
        drawn_direction_deg: scratch.drawn_direction.degrees(),
        curvature_per_px: scratch.curvature_per_px,
        drawn_curvature_per_px: scratch.drawn_curvature_per_px,
        ends_inside: u8::from(first) + u8::from(last),
        cnr: scratch.cnr,
        cnr_along: &scratch.cnr_along,
        visible: &scratch.visible,
    }
}

fn kind(kind: LineKind) -> &'static str {
    match kind {
        LineKind::Lamella => "lamella",
        LineKind::Cleavage => "cleavage",
        LineKind::Boundary => "boundary",
        LineKind::Crack => "crack",
        LineKind::Fibre => "fibre",
        LineKind::Pit => "pit",
    }
}
