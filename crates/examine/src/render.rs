//! Micrographs of invented stone with their truth, for anyone's tests.

use finish::models::{Detail, Draw, Window, strokes_in_field};
use finish::render::makes::{GrooveMake, InstrumentMake, StoneMake, character, instrument};
use finish::render::{Groove, Rendered, Scene};
use picture::Grey;
use rand::SeedableRng;
use rand_pcg::Pcg64;
use wire::truth::Made;

use crate::ExamineError;

/// What to render.
#[derive(Debug, Clone, PartialEq)]
pub struct RenderOptions {
    /// Finish whose model draws the strokes, as the contracts name it, or "none" for scratch-free stone.
    pub finish: String,
    /// Kind of stone, by its name.
    pub stone: String,
    /// Kind of instrument, by its name.
    pub instrument: String,
    /// Width of the picture, px.
    pub width_px: u32,
    /// Height of the picture, px.
    pub height_px: u32,
    /// Scale, µm/px.
    pub um_per_px: f64,
    /// Mean size of a grain, µm.
    pub grain_um: f64,
    /// Standard deviation of the blur, px; that of the instrument if not given.
    pub blur_px: Option<f64>,
    /// Where one-sided light comes from, degrees.
    pub light_azimuth_deg: f64,
    /// Seed.
    pub seed: u64,
}

impl Default for RenderOptions {
    fn default() -> Self {
        Self {
            finish: "free-hand".to_owned(),
            stone: "diorite".to_owned(),
            instrument: "hand-held".to_owned(),
            width_px: 1600,
            height_px: 1200,
            um_per_px: 2.5,
            grain_um: 350.0,
            blur_px: None,
            light_azimuth_deg: 35.0,
            seed: crate::SEED,
        }
    }
}

/// A rendered micrograph.
#[derive(Debug, Clone, PartialEq)]
pub struct Rendering {
    /// The picture as a PNG file.
    pub png: Vec<u8>,
    /// What is truly on it, as JSON (`rubstone.truth/1`).
    pub truth: String,
}

/// Names of the stones that can be rendered.
pub const STONES: [(&str, StoneMake); 6] = [
    ("diorite", StoneMake::Diorite),
    ("granite", StoneMake::Granite),
    ("dolerite", StoneMake::Dolerite),
    ("marble", StoneMake::Marble),
    ("quartzite", StoneMake::Quartzite),
    ("gneiss", StoneMake::Gneiss),
];

/// Names of the instruments that can be rendered.
pub const INSTRUMENTS: [(&str, InstrumentMake); 4] = [
    ("stand", InstrumentMake::Stand),
    ("hand-held", InstrumentMake::HandHeld),
    ("ring-held", InstrumentMake::RingHeld),
    ("coaxial", InstrumentMake::Coaxial),
];

/// Most strokes on one picture: beyond that an eye sees no single scratch.
const MOST_STROKES: usize = 600;

/// Renders one micrograph; its file will be called `picture`.
///
/// # Errors
/// Names that are not known, or a size or scale that cannot be rendered; the words say what can.
pub fn render(options: &RenderOptions, picture: &str) -> Result<Rendering, ExamineError> {
    let rendered = scene(options)?;
    let made = Made {
        picture: picture.to_owned(),
        finish: options.finish.clone(),
        stone: options.stone.clone(),
        seed: options.seed,
        size_px: (options.width_px, options.height_px),
    };
    Ok(Rendering { png: png(&rendered.grey)?, truth: wire::truth::write(&rendered.truth, &made)? })
}

/// The scene asked for, rendered.
pub(crate) fn scene(options: &RenderOptions) -> Result<Rendered, ExamineError> {
    let stone = chosen("stone", &options.stone, &STONES)?;
    let (lighting, mut optics, sensor) =
        instrument(chosen("instrument", &options.instrument, &INSTRUMENTS)?, options.light_azimuth_deg);
    optics.blur_px = options.blur_px.unwrap_or(optics.blur_px);
    let scene = Scene {
        width_px: options.width_px as usize,
        height_px: options.height_px as usize,
        um_per_px: options.um_per_px,
        stone: stone.stone(options.grain_um),
        grooves: grooves(options)?,
        lighting,
        optics,
        sensor,
    };
    finish::render::render(&scene, options.seed).map_err(|e| ExamineError::request(e.to_string()))
}

/// The grooves that the finish's model draws into the field.
fn grooves(options: &RenderOptions) -> Result<Vec<Groove>, ExamineError> {
    if options.finish == "none" {
        return Ok(Vec::new());
    }
    let finish = crate::weighing::finish_named(&options.finish)?;
    let mm = |px: u32| f64::from(px) * options.um_per_px / 1000.0;
    let window = Window { width_mm: mm(options.width_px), height_mm: mm(options.height_px) };
    let detail = Detail { step_mm: 4.0 * options.um_per_px / 1000.0, step_rad: 0.05, most: MOST_STROKES };
    let mut rng = Pcg64::seed_from_u64(options.seed);
    let strokes = strokes_in_field(finish, &Draw::WIDE, window, detail, &mut rng);
    let makes = [GrooveMake::Clean, GrooveMake::Uneven, GrooveMake::Chipped];
    let cut = |(number, stroke): (usize, finish::models::Stroke)| Groove {
        points_um: stroke.points_um(window),
        width_um: stroke.width_um,
        depth_um: stroke.depth_um,
        character: character(makes.get(number % makes.len()).copied().unwrap_or(GrooveMake::Clean)),
    };
    Ok(strokes.into_iter().enumerate().map(cut).collect())
}

fn chosen<T: Copy>(what: &str, name: &str, known: &[(&str, T)]) -> Result<T, ExamineError> {
    known.iter().find(|(known, _)| *known == name).map(|(_, value)| *value).ok_or_else(|| {
        let names: Vec<&str> = known.iter().map(|(name, _)| *name).collect();
        ExamineError::request(format!("'{name}' is no {what} known here; choose {}", names.join(", ")))
    })
}

pub(crate) fn png(grey: &Grey) -> Result<Vec<u8>, ExamineError> {
    grey.to_png8().map_err(|e| ExamineError::request(e.to_string()))
}
