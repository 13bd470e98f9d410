//! General-purpose libraries on the same pictures, run by `peers/lines.py` in an environment of its own.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

use super::Ready;

/// Lines and processor time of one library on one picture.
pub struct Answer {
    /// Lines found, px.
    pub lines: Vec<Vec<[f64; 2]>>,
    /// Processor time, s.
    pub cpu_s: f64,
}

/// All answers of one library, in the order of the pictures.
pub struct Peer {
    /// Its name.
    pub name: String,
    /// One answer per picture.
    pub answers: Vec<Answer>,
}

/// Writes the pictures and their truth, runs the script, reads its answers.
///
/// # Errors
/// In words: what could not be written, started or read.
pub fn run(ready: &[Ready]) -> Result<Vec<Peer>, String> {
    let here = Path::new(env!("CARGO_MANIFEST_DIR"));
    let folder = std::env::temp_dir().join(format!("rubstone-peers-{}", std::process::id()));
    let done = exchange(here, &folder, ready);
    // The pictures are large and can be rendered again at any time.
    let _ = fs::remove_dir_all(&folder);
    done
}

fn exchange(here: &Path, folder: &Path, ready: &[Ready]) -> Result<Vec<Peer>, String> {
    fs::create_dir_all(folder).map_err(|e| format!("{}: {e}", folder.display()))?;
    for (k, r) in ready.iter().enumerate() {
        let write =
            |name: String, bytes: &[u8]| fs::write(folder.join(name), bytes).map_err(|e| e.to_string());
        write(format!("{k:03}.png"), &r.png)?;
        write(format!("{k:03}.truth.json"), truth_json(r).to_string().as_bytes())?;
    }
    let python = environment(here)?;
    let status = Command::new(python)
        .arg(here.join("peers/lines.py"))
        .arg(folder)
        // One core, as the processor time of ours is counted over all threads.
        .env("OMP_NUM_THREADS", "1")
        .status()
        .map_err(|e| format!("the peers' Python did not start: {e}"))?;
    if !status.success() {
        return Err(format!("peers/lines.py ended with {status}"));
    }
    let text = fs::read_to_string(folder.join("answers.json")).map_err(|e| format!("answers.json: {e}"))?;
    let answers: serde_json::Value = serde_json::from_str(&text).map_err(|e| format!("answers.json: {e}"))?;
    let peers = answers.as_object().ok_or("answers.json is not an object")?;
    Ok(peers.iter().map(|(name, pictures)| Peer { name: name.clone(), answers: read(pictures) }).collect())
}

fn read(pictures: &serde_json::Value) -> Vec<Answer> {
    let numbers = |p: &serde_json::Value| Some([p.get(0)?.as_f64()?, p.get(1)?.as_f64()?]);
    let line = |l: &serde_json::Value| -> Vec<[f64; 2]> {
        l.as_array().into_iter().flatten().filter_map(numbers).collect()
    };
    let one = |p: &serde_json::Value| Answer {
        lines: p["lines"].as_array().into_iter().flatten().map(line).collect(),
        cpu_s: p["cpu_s"].as_f64().unwrap_or(f64::NAN),
    };
    pictures.as_array().into_iter().flatten().map(one).collect()
}

fn truth_json(ready: &Ready) -> serde_json::Value {
    let scratches: Vec<serde_json::Value> = ready
        .truth
        .scratches
        .iter()
        .map(|s| {
            serde_json::json!({
                "points": s.points_px, "width_px": s.width_px, "cnr": s.cnr, "length_px": s.length_px,
                "direction_deg": s.drawn_direction.degrees(), "curvature_per_px": s.drawn_curvature_per_px,
            })
        })
        .collect();
    serde_json::json!({ "name": ready.case.name, "um_per_px": ready.truth.um_per_px, "scratches": scratches })
}

/// The Python of the benches' own environment, made on first use.
fn environment(here: &Path) -> Result<PathBuf, String> {
    let venv = here.join(".venv");
    let python = venv.join("bin/python");
    let wanted = here.join("peers/requirements.txt");
    let installed = venv.join("requirements.txt");
    let same = fs::read(&wanted).ok().zip(fs::read(&installed).ok()).is_some_and(|(a, b)| a == b);
    if same {
        return Ok(python);
    }
    let run = |program: &Path, arguments: &[&str]| {
        let status = Command::new(program)
            .args(arguments)
            .status()
            .map_err(|e| format!("{}: {e}", program.display()))?;
        if status.success() {
            Ok(())
        } else {
            Err(format!("{} {arguments:?} ended with {status}", program.display()))
        }
    };
    run(Path::new("python3"), &["-m", "venv", &venv.to_string_lossy()])?;
    run(&python, &["-m", "pip", "install", "--quiet", "-r", &wanted.to_string_lossy()])?;
    fs::copy(&wanted, &installed).map_err(|e| e.to_string())?;
    Ok(python)
}
