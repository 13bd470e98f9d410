//! How long a whole weighing takes: twelve captures at six stations, with the sensitivity and the stations, then again from
//! what was stored.

use picture::Light;
use quantity::{AxialDeg, Measured, UmPerPx};
use std::time::Instant;
use weigh::{Engine, Options, SeenCapture, SeenTrace, Visit};

const CAPTURES: usize = 12;
const SIZE_PX: [u32; 2] = [2592, 1944];
const WIDTH_MM: f64 = 3.0;
const TRACES: usize = 25;

/// Prints wall times on the threads of the pool.
///
/// # Errors
/// In words, if the visit cannot be weighed.
pub fn run(objects: usize) -> Result<(), String> {
    let visit = Visit { captures: (0..CAPTURES).map(capture).collect() };
    let options = Options { objects_per_finish: objects, ..Options::default() };
    let start = Instant::now();
    let engine = Engine::train(&visit, &options, &|_| true).map_err(|e| e.to_string())?;
    engine.weigh(&visit, &options).map_err(|e| e.to_string())?;
    let whole = start.elapsed().as_secs_f64();
    let stored = engine.to_bytes();
    let start = Instant::now();
    let known = Engine::from_bytes(&stored).ok_or("the stored engine cannot be read")?;
    known.weigh(&visit, &options).map_err(|e| e.to_string())?;
    let again = start.elapsed().as_secs_f64();
    println!(
        "| {CAPTURES} captures of {WIDTH_MM} mm, {objects} objects a finish, {} threads: weighing; again from {:.0} MB | ≤ 60 s; ≤ 1 s | {whole:.0} s; {again:.2} s |",
        rayon::current_num_threads(),
        stored.len() as f64 / 1e6
    );
    Ok(())
}

/// A capture with straight traces in two directions; what they are does not change the time.
fn capture(index: usize) -> SeenCapture {
    SeenCapture {
        name: format!("capture {index}"),
        station: format!("station {}", index / 2),
        width_px: SIZE_PX[0],
        height_px: SIZE_PX[1],
        scale: UmPerPx::new(1000.0 * WIDTH_MM / f64::from(SIZE_PX[0]), 0.0),
        // Captures differ a little, as real ones do: no two stations can share an engine.
        sharpness_px: Some(1.2 + 0.01 * index as f64),
        light: Light::Ring,
        lens_residual: Some(0.0005),
        traces: (0..TRACES).filter_map(trace).collect(),
    }
}

fn trace(number: usize) -> Option<SeenTrace> {
    let angle_deg = 20.0 + 2.0 * number as f64;
    let (sin, cos) = angle_deg.to_radians().sin_cos();
    let middle = [300.0 + 80.0 * number as f64, 200.0 + 60.0 * number as f64];
    let at = |s: f64| [middle[0] + s * cos, middle[1] - s * sin];
    Some(SeenTrace {
        points_px: (-10..=10).map(|k| at(15.0 * f64::from(k))).collect(),
        length_px: 300.0,
        width_px: 4.0,
        direction: AxialDeg::new(angle_deg)?,
        curvature_per_px: Measured { value: 0.0, u: 1e-5 },
        ends_inside: 1,
        suspect: false,
    })
}
