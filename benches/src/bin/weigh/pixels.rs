//! Through pixels: finished objects are rendered, traced and weighed, one capture each.

use finish::models::{Detail, Draw, Finish, Place, Window, any_angle};
use finish::render::makes::{GrooveMake, InstrumentMake, StoneMake, character, instrument};
use finish::render::{Groove, Scene, render};
use picture::{Light, Limits};
use quantity::UmPerPx;
use rand::RngExt;
use rand_pcg::Pcg64;
use rayon::prelude::*;
use trace::{Settings, find};
use weigh::detection::DetectionModel;
use weigh::evaluation::{ece, normalised_log_loss};
use weigh::geometry::Geometry;
use weigh::observables::{Row, n_observables, name, observe};
use weigh::see::{Finished, Source};
use weigh::simulate::{generator, simulate};
use weigh::{Engine, NONE_FITS, Options, SeenCapture, SeenTrace, Visit};

/// Size of the pictures, px: half a megapixel.
const SIZE_PX: [u32; 2] = [816, 612];
/// Width of the field, mm.
const WIDTH_MM: f64 = 3.0;
/// Where one-sided light comes from, degrees.
const AZIMUTH_DEG: f64 = 30.0;
/// Sagitta share of a checked lens; the rendered optics have none.
const LENS_RESIDUAL: f64 = 0.0005;
/// Stream of random numbers of the rendered objects.
const STREAM: u64 = 5000;
/// Most strokes laid in a field, as in the simulations.
const MOST_STROKES: usize = 90;

const STONES: [StoneMake; 4] =
    [StoneMake::Diorite, StoneMake::Granite, StoneMake::Dolerite, StoneMake::Marble];

/// One weighed capture.
struct Weighed {
    truth: usize,
    row: Row,
    /// Traces found, or why it cannot be weighed.
    traces: Result<usize, String>,
}

/// Renders, traces and weighs `captures` objects of alternating finishes under one instrument, and prints what came out.
///
/// # Errors
/// In words: a picture that could not be rendered or traced, or an engine that could not be trained.
pub fn run(captures: usize, objects: usize) -> Result<(), String> {
    let geometry = Geometry::of(&Visit { captures: vec![seen(Vec::new())] });
    let options = Options { objects_per_finish: objects, sensitivity: false, ..Options::default() };
    let engine = Engine::for_geometry(&geometry, &options, &|_| true).map_err(|e| e.to_string())?;
    let weighed = (0..captures)
        .into_par_iter()
        .map(|index| capture(index, &geometry))
        .collect::<Result<Vec<_>, String>>()?;
    let able: Vec<&Weighed> = weighed.iter().filter(|one| one.traces.is_ok()).collect();
    let truths: Vec<usize> = able.iter().map(|one| one.truth).collect();
    let posteriors: Vec<Vec<f64>> = able.iter().map(|one| engine.plain_posterior(&one.row)).collect();
    let flags: Vec<bool> = able.iter().map(|one| engine.fits(&one.row).0 < NONE_FITS).collect();
    let (mut wrong_ten, mut wrong_hundred, mut right_ten, mut compared) = (0, 0, 0, 0);
    for ((one, truth), _) in able.iter().zip(&truths).zip(&flags).filter(|(_, flagged)| !**flagged) {
        for (ratio, rule) in engine.reported(&one.row).into_iter().zip(engine.rules()) {
            let for_truth = match *truth {
                truth if truth == rule.a => ratio,
                truth if truth == rule.b => -ratio,
                _ => continue,
            };
            compared += 1;
            wrong_ten += usize::from(for_truth <= -1.0);
            wrong_hundred += usize::from(for_truth <= -2.0);
            right_ten += usize::from(for_truth >= 1.0);
        }
    }
    let share = |n: usize| 100.0 * n as f64 / compared.max(1) as f64;
    let flagged = flags.iter().filter(|flag| **flag).count();
    println!(
        "| through pixels, {captures} captures of {WIDTH_MM} mm: cannot be weighed; none fits | – | {}; {flagged} |",
        captures - able.len()
    );
    println!(
        "| through pixels: log loss, ECE | –, ≤ 0.03 | {:.3}, {:.3} |",
        normalised_log_loss(&posteriors, &truths),
        ece(&posteriors, &truths)
    );
    println!(
        "| through pixels: log10 LR ≥ 2 for the wrong one; ≥ 1 for the wrong one; ≥ 1 for the right one | ≤ 1 % | {:.2} %; {:.2} %; {:.1} % |",
        share(wrong_hundred),
        share(wrong_ten),
        share(right_ten)
    );
    confusion(&posteriors, &truths);
    differences(&able, &geometry, objects / 10);
    for because in able.iter().zip(&flags).filter(|(_, flag)| **flag).map(|(one, _)| engine.fits(&one.row).1)
    {
        eprintln!("none fits: {because}");
    }
    Ok(())
}

/// Mean posterior of every finish (columns) for captures of each finish (rows).
fn confusion(posteriors: &[Vec<f64>], truths: &[usize]) {
    for finish in Finish::all() {
        let mine: Vec<&Vec<f64>> = posteriors
            .iter()
            .zip(truths)
            .filter(|(_, truth)| **truth == finish.index())
            .map(|(posterior, _)| posterior)
            .collect();
        let mean = |class: usize| mine.iter().map(|p| p[class]).sum::<f64>() / mine.len().max(1) as f64;
        let shares: Vec<String> = (0..Finish::count()).map(|class| format!("{:.2}", mean(class))).collect();
        println!(
            "| {} ({} captures): mean posterior | – | {} |",
            finish.name(),
            mine.len(),
            shares.join(" ")
        );
    }
}

/// Observables printed as unlike the simulated ones.
const UNLIKE: usize = 12;

/// Prints the observables whose places among simulated objects of the same finish lie furthest from the middle on average.
fn differences(able: &[&Weighed], geometry: &Geometry, per_finish: usize) {
    let wide = |_, _, _: &mut Pcg64| (0, Draw::WIDE);
    let simulated = simulate(geometry, &DetectionModel::MEASURED, per_finish.max(50), 1, &wide, &|| true);
    let Some(simulated) = simulated else { return };
    let place = |one: &Weighed, column: usize| {
        let value = one.row.get(column).copied().filter(|value| value.is_finite())?;
        let others: Vec<f32> = simulated
            .iter()
            .filter(|object| object.finish == one.truth)
            .filter_map(|object| object.row.get(column).copied())
            .filter(|value| value.is_finite())
            .collect();
        let below = others.iter().filter(|other| **other < value).count() as f64;
        let equal = others.iter().filter(|other| **other == value).count() as f64;
        (!others.is_empty()).then(|| (below + 0.5 * equal) / others.len() as f64)
    };
    let mut means: Vec<(f64, usize)> = (0..n_observables())
        .filter_map(|column| {
            let places: Vec<f64> = able.iter().filter_map(|one| place(one, column)).collect();
            let mean = places.iter().sum::<f64>() / places.len() as f64;
            (places.len() >= able.len() / 3).then_some((mean, column))
        })
        .collect();
    means.sort_by(|a, b| (b.0 - 0.5).abs().total_cmp(&(a.0 - 0.5).abs()));
    for (mean, column) in means.into_iter().take(UNLIKE) {
        println!("| rendered against simulated: mean place of {} | 0.5 | {mean:.2} |", name(column));
    }
}

fn capture(index: usize, geometry: &Geometry) -> Result<Weighed, String> {
    let finishes: Vec<Finish> = Finish::all().collect();
    let finish = finishes[index % finishes.len()];
    let mut rng = generator(1, STREAM, index as u64);
    let scene = scene(finish, index, geometry, &mut rng);
    let rendered = render(&scene, rng.random()).map_err(|e| e.to_string())?;
    let name = format!("capture {index}");
    let png = rendered.grey.to_png8().map_err(|e| e.to_string())?;
    let picture = picture::read(&png, &name, &Limits::default()).map_err(|e| e.to_string())?;
    let quality = picture::judge(&picture.grey, &picture.facts);
    let settings = Settings { light: rendered.truth.light, ..Settings::default() };
    let found = find(&picture.grey, &quality, &settings, &|_| true).map_err(|e| e.to_string())?;
    let visit = Visit { captures: vec![seen(found.traces.iter().map(SeenTrace::from).collect())] };
    let traces = visit.weighable().map(|visit| visit.captures.iter().map(|c| c.traces.len()).sum());
    let row = observe(&geometry.marks(&visit), geometry);
    eprintln!("{name}: {}, {traces:?}", finish.name());
    Ok(Weighed { truth: finish.index(), row, traces: traces.map_err(|e| e.to_string()) })
}

/// What the visit knows of a capture.
fn seen(traces: Vec<SeenTrace>) -> SeenCapture {
    let um_per_px = 1000.0 * WIDTH_MM / f64::from(SIZE_PX[0]);
    let (_, optics, _) = instrument(InstrumentMake::Stand, AZIMUTH_DEG);
    SeenCapture {
        name: "capture".into(),
        station: "station".into(),
        width_px: SIZE_PX[0],
        height_px: SIZE_PX[1],
        scale: UmPerPx::new(um_per_px, 0.0),
        sharpness_px: Some(optics.blur_px),
        light: quantity::AxialDeg::new(AZIMUTH_DEG).map_or(Light::Unknown, Light::Azimuth),
        lens_residual: Some(LENS_RESIDUAL),
        traces,
    }
}

fn scene(finish: Finish, index: usize, geometry: &Geometry, rng: &mut Pcg64) -> Scene {
    let draw = Draw::WIDE.settled(rng);
    let finished = Finished::draw(finish, &draw, geometry, rng);
    let um_per_px = 1000.0 * WIDTH_MM / f64::from(SIZE_PX[0]);
    let window =
        Window { width_mm: WIDTH_MM, height_mm: WIDTH_MM * f64::from(SIZE_PX[1]) / f64::from(SIZE_PX[0]) };
    let place = Place { centre_mm: [0.0; 2], camera_rad: any_angle(rng) };
    let detail = Detail { step_mm: 0.03, step_rad: 0.05, most: MOST_STROKES };
    let cut = character([GrooveMake::Clean, GrooveMake::Uneven][index / 2 % 2]);
    let grooves = finished
        .field(0, place, window, detail, rng)
        .iter()
        .map(|stroke| Groove {
            points_um: stroke.points_um(window),
            width_um: stroke.width_um,
            depth_um: stroke.depth_um,
            character: cut,
        })
        .collect();
    let (lighting, optics, sensor) = instrument(InstrumentMake::Stand, AZIMUTH_DEG);
    Scene {
        width_px: SIZE_PX[0] as usize,
        height_px: SIZE_PX[1] as usize,
        um_per_px,
        stone: STONES[index / Finish::count() % STONES.len()].stone(200.0 + 400.0 * rng.random::<f64>()),
        grooves,
        lighting,
        optics,
        sensor,
    }
}
