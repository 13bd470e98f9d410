//! Captures through pixels: finished objects rendered, traced and kept in a folder, two captures of each object.

use finish::models::{Detail, Draw, Finish, Place, Stroke, Window, any_angle, normal};
use finish::render::makes::{GrooveMake, InstrumentMake, StoneMake, character, instrument};
use finish::render::{Groove, Scene, render};
use picture::{Light, Limits};
use quantity::{AxialDeg, Measured, UmPerPx};
use rand::RngExt;
use rayon::prelude::*;
use serde_json::{Value, json};
use std::path::Path;
use trace::{Settings, find};
use weigh::geometry::Geometry;
use weigh::simulate::generator;
use weigh::sources::{Finished, Source};
use weigh::{SeenCapture, SeenTrace, Visit};

/// Size of the pictures, px: half a megapixel.
pub const SIZE_PX: [u32; 2] = [816, 612];
/// Width of the field, mm.
pub const WIDTH_MM: f64 = 3.0;
/// Captures of each object.
pub const PER_OBJECT: usize = 2;
/// Where one-sided light comes from, degrees.
const AZIMUTH_DEG: f64 = 30.0;
/// Sagitta share of a checked lens; the rendered optics have none.
const LENS_RESIDUAL: f64 = 0.0005;
/// Streams of random numbers of the rendered objects and of their fields.
const STREAMS: [u64; 2] = [5000, 5001];
/// Most strokes laid in a field: the simulations, which go up to two hundred, are to lie within what was measured.
const MOST_STROKES: usize = 300;
/// An object of which a capture shows fewer strokes is drawn anew: hardly any of them shows the ten traces that are needed.
const FEWEST_STROKES: usize = 10;
/// Draws of one object.
const TRIES: u64 = 20;
/// Fields of one station lie within about this distance of each other, mm, as in the simulations.
const STATION_SPREAD_MM: f64 = 8.0;

const STONES: [StoneMake; 6] = [
    StoneMake::Diorite,
    StoneMake::Granite,
    StoneMake::Dolerite,
    StoneMake::Marble,
    StoneMake::Quartzite,
    StoneMake::Gneiss,
];
/// Instruments the objects are captured with, in turn.
pub const INSTRUMENTS: [InstrumentMake; 2] = [InstrumentMake::Stand, InstrumentMake::HandHeld];

/// One capture with what was laid on the stone and what was traced.
pub struct Capture {
    /// Number, from 0; captures of one object follow each other.
    pub index: usize,
    /// The true finish.
    pub finish: Finish,
    /// Place of its instrument in [`INSTRUMENTS`].
    pub instrument: usize,
    /// The strokes laid.
    pub strokes: Vec<Stroke>,
    /// The traces found.
    pub traces: Vec<SeenTrace>,
}

impl Capture {
    /// Whether the tracer may be measured on it; the captures of every other round of objects are kept for tests.
    pub fn is_for_fitting(&self) -> bool {
        (self.index / PER_OBJECT / Finish::count()).is_multiple_of(2)
    }
}

/// What an object of the set is made of.
struct Object {
    finished: Finished,
    finish: Finish,
    instrument: usize,
    groove: GrooveMake,
    stone: StoneMake,
    grain_um: f64,
}

/// Object number `number` with the strokes of its captures.
fn object(number: usize) -> (Object, Vec<Vec<Stroke>>) {
    let mut drawn = draw_object(number, 0);
    for attempt in 1..TRIES {
        if drawn.1.iter().all(|strokes| strokes.len() >= FEWEST_STROKES) {
            break;
        }
        drawn = draw_object(number, attempt);
    }
    drawn
}

fn draw_object(number: usize, attempt: u64) -> (Object, Vec<Vec<Stroke>>) {
    let mut rng = generator(1, STREAMS[0], number as u64 * TRIES + attempt);
    let finishes: Vec<Finish> = Finish::all().collect();
    let finish = finishes[number % finishes.len()];
    let draw = Draw::WIDE.settled(&mut rng);
    let instrument = usize::from(rng.random::<f64>() < 0.33);
    let object = Object {
        finished: Finished::draw(finish, &draw, &geometry(instrument, 1), &mut rng),
        finish,
        instrument,
        groove: [GrooveMake::Clean, GrooveMake::Uneven][rng.random_range(0..2)],
        stone: STONES[rng.random_range(0..STONES.len())],
        grain_um: 200.0 + 400.0 * rng.random::<f64>(),
    };
    let captures = number * PER_OBJECT..(number + 1) * PER_OBJECT;
    let strokes = captures.map(|index| laid(&object, index as u64 * TRIES + attempt)).collect();
    (object, strokes)
}

/// The window of every capture.
pub fn window() -> Window {
    Window { width_mm: WIDTH_MM, height_mm: WIDTH_MM * f64::from(SIZE_PX[1]) / f64::from(SIZE_PX[0]) }
}

/// Geometry of a visit of `n` fields at one station.
pub fn geometry(instrument: usize, n: usize) -> Geometry {
    Geometry::of(&Visit { captures: vec![seen(instrument, Vec::new()); n] })
}

/// What the visit knows of a capture.
pub fn seen(number: usize, traces: Vec<SeenTrace>) -> SeenCapture {
    let um_per_px = 1000.0 * WIDTH_MM / f64::from(SIZE_PX[0]);
    let (_, optics, _) = instrument(INSTRUMENTS[number], AZIMUTH_DEG);
    SeenCapture {
        name: "capture".into(),
        station: "station".into(),
        width_px: SIZE_PX[0],
        height_px: SIZE_PX[1],
        scale: UmPerPx::new(um_per_px, 0.0),
        sharpness_px: Some(optics.blur_px),
        light: AxialDeg::new(AZIMUTH_DEG).map_or(Light::Unknown, Light::Azimuth),
        lens_residual: Some(LENS_RESIDUAL),
        traces,
    }
}

fn laid(object: &Object, draw: u64) -> Vec<Stroke> {
    let mut rng = generator(1, STREAMS[1], draw);
    let place = Place {
        centre_mm: [STATION_SPREAD_MM * normal(&mut rng), STATION_SPREAD_MM * normal(&mut rng)],
        camera_rad: any_angle(&mut rng),
    };
    let detail = Detail { step_mm: 0.03, step_rad: 0.05, most: MOST_STROKES };
    object.finished.field(0, place, window(), detail, &mut rng)
}

fn scene(object: &Object, strokes: &[Stroke]) -> Scene {
    let character = character(object.groove);
    let (lighting, optics, sensor) = instrument(INSTRUMENTS[object.instrument], AZIMUTH_DEG);
    Scene {
        width_px: SIZE_PX[0] as usize,
        height_px: SIZE_PX[1] as usize,
        um_per_px: 1000.0 * WIDTH_MM / f64::from(SIZE_PX[0]),
        stone: object.stone.stone(object.grain_um),
        grooves: strokes
            .iter()
            .map(|stroke| Groove {
                points_um: stroke.points_um(window()),
                width_um: stroke.width_um,
                depth_um: stroke.depth_um,
                character,
            })
            .collect(),
        lighting,
        optics,
        sensor,
    }
}

/// Renders `n` captures into `folder` (pictures that are there already stay) and traces all of them anew.
///
/// # Errors
/// In words: a picture that could not be rendered, written or traced.
pub fn run(folder: &str, n: usize) -> Result<(), String> {
    std::fs::create_dir_all(folder).map_err(|e| format!("{folder}: {e}"))?;
    (0..n).into_par_iter().map(|index| trace_one(Path::new(folder), index)).collect()
}

fn trace_one(folder: &Path, index: usize) -> Result<(), String> {
    let (object, mut strokes) = object(index / PER_OBJECT);
    let strokes = strokes.swap_remove(index % PER_OBJECT);
    let path = folder.join(format!("{index:04}.png"));
    let failed = |e: &dyn std::fmt::Display| format!("capture {index}: {e}");
    if !path.exists() {
        let rendered = render(&scene(&object, &strokes), index as u64).map_err(|e| failed(&e))?;
        let png = rendered.grey.to_png8().map_err(|e| failed(&e))?;
        std::fs::write(&path, png).map_err(|e| failed(&e))?;
    }
    let png = std::fs::read(&path).map_err(|e| failed(&e))?;
    let picture = picture::read(&png, "capture", &Limits::default()).map_err(|e| failed(&e))?;
    let quality = picture::judge(&picture.grey, &picture.facts);
    let light = AxialDeg::new(AZIMUTH_DEG).map_or(Light::Unknown, Light::Azimuth);
    let settings = Settings { light, ..Settings::default() };
    let found = find(&picture.grey, &quality, &settings, &|_| true).map_err(|e| failed(&e))?;
    let traces: Vec<Value> = found.traces.iter().map(|trace| to_json(&SeenTrace::from(trace))).collect();
    eprintln!("capture {index}: {}, {} traces", object.finish.name(), traces.len());
    let text = json!({ "traces": traces }).to_string();
    std::fs::write(folder.join(format!("{index:04}.json")), text).map_err(|e| failed(&e))
}

/// Most captures that are looked for.
const MOST_CAPTURES: usize = 2000;

/// All captures kept in `folder`, of objects of which all captures are there.
///
/// # Errors
/// In words: no captures there, or a file that is not one.
pub fn read(folder: &str) -> Result<Vec<Capture>, String> {
    let texts: Vec<Option<String>> = (0..MOST_CAPTURES)
        .map(|index| std::fs::read_to_string(Path::new(folder).join(format!("{index:04}.json"))).ok())
        .collect();
    let mut captures = Vec::new();
    for (index, text) in texts.iter().enumerate() {
        let of_object = index / PER_OBJECT * PER_OBJECT;
        let complete = texts.iter().skip(of_object).take(PER_OBJECT).all(Option::is_some);
        let Some(text) = text.as_ref().filter(|_| complete) else { continue };
        let value: Value = serde_json::from_str(text).map_err(|e| format!("capture {index}: {e}"))?;
        let traces = value["traces"].as_array().map(|all| all.iter().filter_map(from_json).collect());
        let (object, mut strokes) = object(index / PER_OBJECT);
        captures.push(Capture {
            index,
            finish: object.finish,
            instrument: object.instrument,
            strokes: strokes.swap_remove(index % PER_OBJECT),
            traces: traces.unwrap_or_default(),
        });
    }
    if captures.is_empty() {
        return Err(format!("no captures in {folder}; make them with `weigh captures {folder}`"));
    }
    Ok(captures)
}

fn to_json(trace: &SeenTrace) -> Value {
    json!({
        "points": trace.points_px,
        "length": trace.length_px,
        "width": trace.width_px,
        "direction": trace.direction.degrees(),
        "curvature": [trace.curvature_per_px.value, trace.curvature_per_px.u],
        "ends": trace.ends_inside,
        "suspect": trace.suspect,
    })
}

fn from_json(value: &Value) -> Option<SeenTrace> {
    let point = |p: &Value| Some([p.get(0)?.as_f64()?, p.get(1)?.as_f64()?]);
    Some(SeenTrace {
        points_px: value["points"].as_array()?.iter().map(point).collect::<Option<Vec<_>>>()?,
        length_px: value["length"].as_f64()?,
        width_px: value["width"].as_f64()?,
        direction: AxialDeg::new(value["direction"].as_f64()?)?,
        curvature_per_px: Measured {
            value: value["curvature"][0].as_f64()?,
            u: value["curvature"][1].as_f64()?,
        },
        ends_inside: value["ends"].as_u64()? as u8,
        suspect: value["suspect"].as_bool()?,
    })
}
