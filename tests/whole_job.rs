//! The whole job through the command: the sample examination, and an examination made step by step.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test that cannot go on fails")]

use std::fs;
use std::path::Path;
use std::process::Command;

use rubstone_tests::{arg, run, scratched, write_png};
use serde_json::Value;

const BINARY: &str = env!("CARGO_BIN_EXE_rubstone-under-test");

fn json(stdout: &str) -> Value {
    serde_json::from_str(stdout).expect("one JSON object and nothing else")
}

/// What every report must be.
fn check_report(folder: &Path) {
    let pdf = fs::read(folder.join("report/report.pdf")).unwrap();
    assert!(pdf.starts_with(b"%PDF-"), "a PDF");
    assert!(
        pdf.len() > 20_000 && pdf.windows(5).any(|w| w == b"%%EOF"),
        "a whole PDF of {} bytes",
        pdf.len()
    );
    // An empty icon, so that no browser asks a server for one.
    let html = fs::read_to_string(folder.join("report/report.html"))
        .unwrap()
        .replace("<link rel=\"icon\" href=\"data:,\">", "");
    for loading in
        ["<script", "<link", "<iframe", "@import", "url(http", "src=\"http", "srcset", "xlink:href=\"http"]
    {
        assert!(!html.contains(loading), "the page loads something: {loading}");
    }
    assert!(html.contains("data:image/"), "pictures are inside the page");
    let tables: Vec<_> =
        fs::read_dir(folder.join("report/tables")).unwrap().map(|t| t.unwrap().path()).collect();
    assert!(tables.len() >= 4, "{tables:?}");
    for table in tables {
        assert!(
            fs::read_to_string(&table).unwrap().lines().next().unwrap().contains(','),
            "{}",
            table.display()
        );
    }
}

/// Checks a package with the Python reference tools where they are installed; what RFC 8493 asks for is checked in the
/// archive's own tests in any case.
fn check_with_reference_tools(package: &Path) {
    let script = "import sys, bagit; bagit.Bag(sys.argv[1]).validate(); print('valid')";
    match Command::new("python3").args(["-c", script]).arg(package).output() {
        Ok(output) if String::from_utf8_lossy(&output.stderr).contains("No module named") => {
            eprintln!("skipped: Python's bagit is not installed");
        }
        Ok(output) => assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr)),
        Err(_) => eprintln!("skipped: there is no Python"),
    }
}

#[test]
fn the_sample_does_the_whole_job() {
    let folder = tempfile::tempdir().unwrap();
    let sample = folder.path().join("sample");
    let ran = run(BINARY, [arg("sample".as_ref()), arg(&sample), arg("--json".as_ref())]);
    assert!(matches!(ran.code, Some(0 | 1)), "{:?}", ran.stderr);
    assert!(ran.stderr.iter().all(|line| line.contains("not usable for measuring")), "{:?}", ran.stderr);
    let answer = json(&ran.stdout);
    assert!(answer["measured"].as_u64().unwrap() >= 12, "{answer}");
    check_report(&sample);
    let status = json(
        &run(BINARY, [arg("status".as_ref()), arg(&sample), arg("--check".as_ref()), arg("--json".as_ref())])
            .stdout,
    );
    assert!(
        status["stations"].as_u64().unwrap() >= 4 && status["micrographs"].as_u64().unwrap() >= 12,
        "{status}"
    );
    assert_eq!((status["to_measure"].as_u64(), status["without_scale"].as_u64()), (Some(0), Some(0)));

    let lay = json(&run(BINARY, [arg("lay".as_ref()), arg(&sample), arg("--json".as_ref())]).stdout);
    assert!(lay["object"]["count"].as_u64().unwrap() > 50, "{}", lay["object"]);

    let again = run(BINARY, [arg("sample".as_ref()), arg(&sample)]);
    assert_eq!(again.code, Some(2), "a sample is never written over something: {:?}", again.stderr);

    let package = folder.path().join("package");
    let bagged = run(BINARY, [arg("bag".as_ref()), arg(&sample), arg(&package), arg("--json".as_ref())]);
    assert_eq!(bagged.code, Some(0), "{:?}", bagged.stderr);
    assert!(json(&bagged.stdout)["files"].as_u64().unwrap() > 15);
    let ro_crate = json(&fs::read_to_string(package.join("data/ro-crate-metadata.json")).unwrap());
    for part in ro_crate["@graph"][1]["hasPart"].as_array().unwrap() {
        let path = part["@id"].as_str().unwrap().replace("%20", " ");
        assert!(package.join("data").join(&path).is_file(), "{path} is in the crate but not in the package");
    }
    let measured = fs::read_to_string(package.join("data/measurements.json")).unwrap();
    assert!(wire::measure::read(&measured).unwrap().captures.len() >= 12);
    check_with_reference_tools(&package);
}

#[test]
fn an_examination_step_by_step() {
    let folder = tempfile::tempdir().unwrap();
    let slab = folder.path().join("slab");
    let words =
        |words: &[&str]| -> rubstone_tests::Ran { run(BINARY, words.iter().map(|word| arg(word.as_ref()))) };
    let slab_word = slab.to_str().unwrap();
    let begun = words(&[
        "begin",
        slab_word,
        "--name",
        "Slab 7",
        "--mineral",
        "quartz=0.3",
        "--mineral",
        "K-feldspar=0.7",
    ]);
    assert_eq!(begun.code, Some(0), "{:?}", begun.stderr);
    assert!(begun.stdout.contains("rubstone add"), "the next step is told: {}", begun.stdout);
    let picture = write_png(folder.path(), "a1.png", &scratched(600, 450));
    let front = write_png(folder.path(), "front.png", &rubstone_tests::plain(300, 200));
    let added =
        words(&["add", slab_word, picture.to_str().unwrap(), "--station", "A", "--instrument", "wide"]);
    assert!(added.code == Some(0) && added.stdout.contains("rubstone scale"), "{added:?}");
    assert_eq!(words(&["add", slab_word, front.to_str().unwrap(), "--kind", "overview"]).code, Some(0));
    assert_eq!(
        words(&["instrument", slab_word, "wide", "--light", "ring", "--nominal", "60x"]).code,
        Some(0)
    );
    assert_eq!(words(&["station", slab_word, "A", "--pin", "front.png", "0.25", "0.5"]).code, Some(0));
    let scaled = json(&words(&["scale", slab_word, "--um-per-px", "2.5", "--u", "0.01", "--json"]).stdout);
    assert_eq!((scaled["um_per_px"].as_f64(), scaled["holds_for"].as_str()), (Some(2.5), Some("wide")));
    let points = [
        "scale",
        slab_word,
        "--capture",
        "a1.png",
        "--points",
        "0",
        "0",
        "300",
        "400",
        "--distance-um",
        "1000",
        "--json",
    ];
    let scaled = json(&words(&points).stdout);
    assert_eq!(scaled["um_per_px"].as_f64(), Some(2.0), "500 px are 1000 µm");
    let measured = words(&["measure", slab_word]);
    assert_eq!(measured.code, Some(0), "{:?}", measured.stderr);
    let report = words(&["report", slab_word]);
    assert_eq!(report.code, Some(0), "{:?}", report.stderr);
    check_report(&slab);
    let html = fs::read_to_string(slab.join("report/report.html")).unwrap();
    assert!(html.contains("Slab 7") && html.contains("a1.png"), "the report names object and capture");
    let unknown = words(&["report", slab_word, "--without", "poetry"]);
    assert_eq!(unknown.code, Some(2), "{:?}", unknown.stderr);
}

/// A graduation of known pitch, tilted and soft; the bar is half a percent.
#[test]
fn a_rendered_graduation_gives_its_scale() {
    let folder = tempfile::tempdir().unwrap();
    let slab = folder.path().join("slab");
    assert_eq!(run(BINARY, [arg("begin".as_ref()), arg(&slab)]).code, Some(0));
    let plate =
        finish::sample::Plate { size_px: [1280, 960], pitch_px: 41.3, tilt_deg: 1.7, k1: 0.0, blur_px: 1.2 };
    let graduation = write_png(folder.path(), "graduation.png", &plate.photograph(3).unwrap());
    let words = [arg("scale".as_ref()), arg(&slab), arg("--graduation".as_ref()), arg(&graduation)];
    let rest = ["--um-per-tick", "100", "--u", "0.1", "--json"];
    let ran = run(BINARY, words.into_iter().chain(rest.iter().map(|word| arg(word.as_ref()))));
    assert_eq!(ran.code, Some(0), "{:?}", ran.stderr);
    let scale = json(&ran.stdout)["um_per_px"].as_f64().unwrap();
    assert!((scale * 41.3 / 100.0 - 1.0).abs() < 0.005, "{scale} µm/px for 100 µm in 41.3 px");
}

#[test]
fn rendered_pictures_come_with_their_truth() {
    let folder = tempfile::tempdir().unwrap();
    let set = folder.path().join("set");
    let words = [arg("render".as_ref()), arg(&set)];
    let rest =
        ["--finish", "rotating-pad", "--finish", "none", "--width", "400", "--height", "300", "--json"];
    let once = run(BINARY, words.into_iter().chain(rest.iter().map(|word| arg(word.as_ref()))));
    assert_eq!(once.code, Some(0), "{:?}", once.stderr);
    let pictures = json(&once.stdout)["pictures"].as_array().unwrap().clone();
    assert_eq!(pictures.len(), 2);
    let truth = |n: usize| json(&fs::read_to_string(pictures[n]["truth"].as_str().unwrap()).unwrap());
    assert_eq!(truth(0)["schema"], "rubstone.truth/1");
    assert!(!truth(0)["scratches"].as_array().unwrap().is_empty());
    assert!(truth(1)["scratches"].as_array().unwrap().is_empty());
    let (width, height) = (400.0, 300.0);
    for point in
        truth(0)["scratches"].as_array().unwrap().iter().flat_map(|s| s["points"].as_array().unwrap())
    {
        let (x, y) = (point[0].as_f64().unwrap(), point[1].as_f64().unwrap());
        assert!((-1.0..=width).contains(&x) && (-1.0..=height).contains(&y), "({x}, {y})");
    }
}
