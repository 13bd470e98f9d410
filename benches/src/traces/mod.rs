//! `traces`: what is found on rendered pictures, by us and by general-purpose libraries, in one table.

pub mod clock;
pub mod lay_of;
pub mod overlay;
pub mod peers;
pub mod samples;
pub mod score;
pub mod table;
pub mod uncertainty;

use std::path::PathBuf;
use std::time::Instant;

use finish::render::{Truth, render};
use picture::{Distortion, Limits, Picture, judge};
use trace::{Found, Settings, find};

use crate::sets::{ARC_RADII_MM, Case, Which, arc_fields, cases};
use lay_of::SetScore;
use score::{Key, Tally};
use uncertainty::Compared;

/// Expected number of false traces at the strict setting.
pub const STRICT: f64 = 0.05;

/// What to run.
pub struct Order {
    /// Which set.
    pub which: Which,
    /// General-purpose libraries too.
    pub peers: bool,
    /// Only pictures whose name holds this.
    pub only: Option<String>,
    /// Folder for overlays.
    pub overlay: Option<PathBuf>,
    /// Bias of curvature on fields with arcs of one radius.
    pub arcs: bool,
    /// Peak memory on a 50-MP picture.
    pub memory: bool,
}

/// One picture, rendered, written as a file and read back as a user's would be.
pub struct Ready {
    /// What was asked for.
    pub case: Case,
    /// The picture as decoded.
    pub picture: Picture,
    /// The file.
    pub png: Vec<u8>,
    /// What is truly on it.
    pub truth: Truth,
}

/// Our answers on one picture at one setting.
pub struct Ours {
    /// The score.
    pub tally: Tally,
    /// Standardised errors.
    pub compared: Vec<Compared>,
    /// Sets, where there is a lay.
    pub sets: Option<SetScore>,
    /// Processor time, s.
    pub cpu_s: f64,
    /// Time on the wall, s.
    pub wall_s: f64,
    /// The lines.
    pub lines: Vec<Vec<[f64; 2]>>,
    /// Why nothing was reported, where that is so.
    pub refused: Option<String>,
}

/// Runs the whole comparison and prints it.
///
/// # Errors
/// In words: what could not be rendered, read, measured or written.
pub fn run(order: &Order) -> Result<(), String> {
    if order.memory {
        return memory();
    }
    let chosen: Vec<Case> = cases(order.which)
        .into_iter()
        .filter(|c| order.only.as_ref().is_none_or(|part| c.name.contains(part.as_str())))
        .collect();
    let started = Instant::now();
    let ready = chosen.into_iter().map(prepare).collect::<Result<Vec<Ready>, String>>()?;
    eprintln!("{} pictures rendered in {:.0} s", ready.len(), started.elapsed().as_secs_f64());
    let measure =
        |expected_false| ready.iter().map(|r| ours(r, expected_false)).collect::<Result<Vec<Ours>, String>>();
    let (normal, strict) = (measure(Settings::default().expected_false)?, measure(STRICT)?);
    table::pictures(&ready, &normal);
    if let Some(folder) = &order.overlay {
        draw(folder, &ready, &normal)?;
    }
    let peers = if order.peers { peers::run(&ready)? } else { Vec::new() };
    table::bars(&ready, &normal, &strict, &peers);
    table::grounds(&normal, &strict);
    if order.arcs {
        arcs()?;
    }
    Ok(())
}

fn prepare(case: Case) -> Result<Ready, String> {
    let rendered = render(&case.scene, case.seed).map_err(|e| format!("{}: {e}", case.name))?;
    let png = rendered.grey.to_png8().map_err(|e| format!("{}: {e}", case.name))?;
    let picture =
        picture::read(&png, &format!("{}.png", case.name), &Limits::default()).map_err(|e| e.to_string())?;
    Ok(Ready { case, picture, png, truth: rendered.truth })
}

fn lens(case: &Case) -> Option<Distortion> {
    case.scene.optics.distortion
}

fn ours(ready: &Ready, expected_false: f64) -> Result<Ours, String> {
    let (cpu, wall) = (clock::cpu_seconds(), Instant::now());
    let found = measured(ready, expected_false)?;
    let (cpu_s, wall_s) = (clock::cpu_seconds() - cpu, wall.elapsed().as_secs_f64());
    let key = Key::new(&ready.truth, ready.picture.grey.width(), ready.picture.grey.height());
    let lines: Vec<Vec<[f64; 2]>> = found.traces.iter().map(|t| t.points_px.clone()).collect();
    let (axes, lengths) = lay_of::of_traces(&found.traces);
    let laid = &ready.case.laid_deg;
    let compared = if ready.case.is_circular() {
        uncertainty::compare(&found.traces, &key, &ready.truth, lens(&ready.case).is_some())
    } else {
        Vec::new()
    };
    Ok(Ours {
        tally: key.score(&lines),
        compared,
        sets: (!laid.is_empty()).then(|| lay_of::compare(&axes, &lengths, laid, &ready.truth)),
        cpu_s,
        wall_s,
        lines,
        refused: found.refused,
    })
}

fn measured(ready: &Ready, expected_false: f64) -> Result<Found, String> {
    let quality = judge(&ready.picture.grey, &ready.picture.facts);
    let settings = Settings { expected_false, light: ready.truth.light, lens: lens(&ready.case) };
    find(&ready.picture.grey, &quality, &settings, &|_| true).map_err(|e| format!("{}: {e}", ready.case.name))
}

fn draw(folder: &PathBuf, ready: &[Ready], ours: &[Ours]) -> Result<(), String> {
    std::fs::create_dir_all(folder).map_err(|e| format!("{}: {e}", folder.display()))?;
    for (r, o) in ready.iter().zip(ours) {
        let Some(picture) = overlay::draw(&r.picture.grey, &r.truth, &o.lines) else { continue };
        let png = picture.to_png().map_err(|e| e.to_string())?;
        let path = folder.join(format!("{}.png", r.case.name));
        std::fs::write(&path, png).map_err(|e| format!("{}: {e}", path.display()))?;
    }
    Ok(())
}

/// Bias of curvature on fields 6 mm wide with arcs of one radius, the fields of each radius together.
fn arcs() -> Result<(), String> {
    println!("\nArcs of one radius in a field 6 mm wide: (curvature − truth) / u, positive = too bent");
    println!("{:>10} {:>7} {:>8} {:>8} {:>8}", "radius mm", "traces", "mean", "± s.e.", "sd");
    let mut compared = Vec::new();
    for (radius_mm, case) in arc_fields() {
        let ours = ours(&prepare(case)?, 1.0)?;
        compared.extend(ours.compared.iter().map(|c| (radius_mm, c.curvature)));
    }
    for radius_mm in ARC_RADII_MM {
        let z: Vec<f64> =
            compared.iter().filter(|(radius, _)| *radius == radius_mm).map(|(_, z)| *z).collect();
        let s = uncertainty::scatter(&z);
        println!(
            "{radius_mm:>10} {:>7} {:>8.2} {:>8.2} {:>8.2}",
            s.count,
            s.mean,
            s.sd / (s.count as f64).sqrt(),
            s.sd
        );
    }
    Ok(())
}

/// Peak memory of measuring 50 MP: a rendered picture mirrored until it fills 8192 × 6144 px.
fn memory() -> Result<(), String> {
    let case = cases(Which::Dev).into_iter().nth(2).ok_or("no such picture")?;
    let small = render(&case.scene, case.seed).map_err(|e| e.to_string())?.grey;
    let (width, height) = (8192, 6144);
    let fold = |v: usize, n: usize| if (v / n).is_multiple_of(2) { v % n } else { n - 1 - v % n };
    let values = (0..width * height)
        .map(|i| small.row(fold(i / width, small.height()))[fold(i % width, small.width())])
        .collect();
    let grey = picture::Grey::new(width, height, values).ok_or("size")?;
    let png = small.to_png8().map_err(|e| e.to_string())?;
    let facts = picture::read(&png, "part.png", &Limits::default()).map_err(|e| e.to_string())?.facts;
    let before = clock::peak_megabytes();
    let quality = judge(&grey, &facts);
    let started = Instant::now();
    let found = find(&grey, &quality, &Settings::default(), &|_| true).map_err(|e| e.to_string())?;
    println!(
        "50 MP: {} traces, {:.0} s on the wall, peak memory {:.0} MB ({before:.0} MB before measuring)",
        found.traces.len(),
        started.elapsed().as_secs_f64(),
        clock::peak_megabytes()
    );
    Ok(())
}
