//! What the workbench can do on an examination, done through the command.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test that cannot go on fails")]

use std::fs;
use std::path::Path;

use rubstone_tests::{Ran, run, scratched, write_png};
use serde_json::Value;

const BINARY: &str = env!("CARGO_BIN_EXE_rubstone-under-test");

fn words(words: &[&str]) -> Ran {
    run(BINARY, words.iter().map(|word| rubstone_tests::arg(word.as_ref())))
}

/// What a command that succeeds prints with `--json`.
fn answer(asked: &[&str]) -> Value {
    let ran = words(&[asked, &["--json"]].concat());
    assert_eq!(ran.code, Some(0), "{asked:?}: {:?}", ran.stderr);
    serde_json::from_str(&ran.stdout).expect("one JSON object and nothing else")
}

/// An examination with two micrographs of one instrument that has a typed scale and no lens.
fn two_pictures(folder: &Path) -> String {
    let slab = folder.join("slab").to_str().unwrap().to_owned();
    answer(&["begin", &slab, "--name", "Slab 7"]);
    for (name, size) in [("a1.png", [640, 480]), ("a2.png", [600, 450])] {
        let picture = write_png(folder, name, &scratched(size[0], size[1]));
        answer(&["add", &slab, picture.to_str().unwrap(), "--station", "A", "--instrument", "wide"]);
    }
    answer(&["scale", &slab, "--um-per-px", "2.5", "--u", "0.01"]);
    slab
}

fn capture(slab: &str, name: &str) -> Value {
    answer(&["capture", slab, name])["captures"][0].clone()
}

/// From the graduation through measuring to the report, and back.
#[test]
fn a_graduation_for_one_capture_brings_its_lens_to_that_capture_alone() {
    let folder = tempfile::tempdir().unwrap();
    let slab = two_pictures(folder.path());
    let plate =
        finish::sample::Plate { size_px: [1280, 960], pitch_px: 24.0, tilt_deg: 1.7, k1: 0.02, blur_px: 1.0 };
    let graduation = write_png(folder.path(), "graduation.png", &plate.photograph(3).unwrap());
    let graduation = graduation.to_str().unwrap();
    let told = answer(&[
        "scale",
        &slab,
        "--capture",
        "a1.png",
        "--graduation",
        graduation,
        "--um-per-tick",
        "60",
        "--u",
        "0.06",
    ]);
    assert_eq!(told["holds_for"], "a1.png");
    let (own, other) = (capture(&slab, "a1.png"), capture(&slab, "a2.png"));
    let lens = own["lens"].as_str().unwrap();
    assert!(lens.starts_with("calibrated for this capture alone"), "{lens}");
    assert_eq!((&own["scale_is_own"], &other["lens"]), (&Value::Bool(true), &Value::from("not calibrated")));
    assert_eq!(words(&["measure", &slab]).code, Some(0));
    assert_eq!(words(&["report", &slab]).code, Some(0));
    let html = fs::read_to_string(Path::new(&slab).join("report/report.html")).unwrap();
    assert!(html.contains("lens calibrated for this capture alone"), "the capture's facts name its lens");
    assert!(html.contains("lens not calibrated"), "the other capture has none");
    assert!(html.contains("graduation graduation.png"), "the provenance names where the scale came from");
    let table = fs::read_to_string(Path::new(&slab).join("report/tables/captures.csv")).unwrap();
    assert_eq!(table.matches("calibrated for this capture alone").count(), 1, "{table}");
    // The traces rest on the lens: without it they are out of date.
    assert_eq!(capture(&slab, "a1.png")["out_of_date"], false);
    let back = answer(&["capture", &slab, "a1.png", "--as-instrument"])["captures"][0].clone();
    assert_eq!((&back["scale_is_own"], &back["lens"]), (&Value::Bool(false), &Value::from("not calibrated")));
    assert_eq!(back["out_of_date"], true);
}

#[test]
fn two_people_read_a_capture_and_their_readings_are_compared() {
    let folder = tempfile::tempdir().unwrap();
    let slab = two_pictures(folder.path());
    assert_eq!(words(&["measure", &slab]).code, Some(0));
    let reading =
        |more: &[&str]| answer(&[&["reading", slab.as_str(), "a1.png"], more].concat())["reading"].clone();
    let states = |reading: &Value, state: &str| {
        reading["traces"].as_array().unwrap().iter().filter(|trace| trace["state"] == state).count()
    };
    let found = reading(&[]);
    let first = found["traces"][0]["id"].to_string();
    let all = states(&found, "accepted");
    assert!(all > 2, "{found}");
    let rejected = reading(&["--person", "Ada", "--reject", &first]);
    assert_eq!((states(&rejected, "rejected"), rejected["undo"].as_u64()), (1, Some(1)));
    let undone = reading(&["--person", "Ada", "--undo"]);
    assert_eq!((states(&undone, "rejected"), undone["redo"].as_u64()), (0, Some(1)));
    reading(&["--person", "Ada", "--redo"]);
    let drawn = reading(&["--person", "Ben", "--draw", "20,20", "200,180"]);
    assert_eq!(drawn["traces"].as_array().unwrap().len(), found["traces"].as_array().unwrap().len() + 1);
    let pairs = answer(&["reading", &slab, "a1.png", "--agreement"])["pairs"].clone();
    assert_eq!(pairs[0]["both"].as_u64(), Some(all as u64 - 1), "{pairs}");
    let nobody = words(&["reading", &slab, "a1.png", "--reject", &first]);
    assert_eq!(nobody.code, Some(2), "a step belongs to a person: {:?}", nobody.stderr);
    let missing = words(&["reading", &slab, "a1.png", "--person", "Ada", "--accept", "999999"]);
    assert_eq!(missing.code, Some(2), "{:?}", missing.stderr);
}

#[test]
fn what_was_begun_can_be_changed_by_name() {
    let folder = tempfile::tempdir().unwrap();
    let slab = two_pictures(folder.path());
    let object =
        answer(&["object", &slab, "--place", "store room", "--mineral", "quartz=1"])["object"].clone();
    assert_eq!((object["name"].as_str(), object["place"].as_str()), (Some("Slab 7"), Some("store room")));
    let wrong = words(&["object", &slab, "--mineral", "moonstuff=1"]);
    assert_eq!(wrong.code, Some(2), "{:?}", wrong.stderr);

    let stations = answer(&["station", &slab, "A", "--rename", "A, left edge"]);
    assert_eq!(
        (stations["items"][0]["name"].as_str(), stations["items"][0]["captures"].as_u64()),
        (Some("A, left edge"), Some(2))
    );
    assert_eq!(words(&["station", &slab, "B", "--rename", "C"]).code, Some(2), "there is no station B");
    answer(&["station", &slab, "A, left edge", "--remove"]);
    assert!(capture(&slab, "a1.png")["station"].is_null());

    let aside =
        answer(&["capture", &slab, "a2.png", "--set-aside", "--kind", "overview", "--note", "blurred"]);
    assert_eq!(
        (&aside["captures"][0]["set_aside"], aside["captures"][0]["kind"].as_str()),
        (&Value::Bool(true), Some("overview"))
    );
    let nowhere = words(&["capture", &slab, "--set-aside"]);
    assert_eq!(nowhere.code, Some(2), "which capture? {:?}", nowhere.stderr);
    let instruments = answer(&["instrument", &slab, "wide", "--rename", "low position", "--camera"]);
    assert_eq!(instruments["items"][0]["name"], "low position");
    let panels = answer(&["panel", "set", &slab]);
    assert!(panels["panels"].as_array().unwrap().is_empty());
    let none = words(&["panel", "set", &slab, "--add", "guided-rub=nowhere.json"]);
    assert_eq!(none.code, Some(2), "{:?}", none.stderr);
    let nothing = words(&["form", "--keep", &slab, "--forget", "face.x3p"]);
    assert_eq!(nothing.code, Some(2), "{:?}", nothing.stderr);
}
