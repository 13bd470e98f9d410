//! `rubstone measure --json` against its contract, field by field, and its exit codes.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test that cannot go on fails")]

use rubstone_tests::{arg, plain, run, scratched, write_png};
use serde_json::Value;

const BINARY: &str = env!("CARGO_BIN_EXE_rubstone-under-test");

fn names(value: &Value) -> Vec<&str> {
    value.as_object().expect("an object").keys().map(String::as_str).collect()
}

fn number_or_null(value: &Value) -> bool {
    value.is_null() || value.is_number()
}

/// The one object on stdout, checked against the published form.
fn checked(stdout: &str) -> Value {
    let measure: Value = serde_json::from_str(stdout).expect("one JSON object and nothing else");
    assert_eq!(names(&measure), ["schema", "captures"]);
    assert_eq!(measure["schema"], "rubstone.measure/1");
    for capture in measure["captures"].as_array().unwrap() {
        assert_eq!(
            names(capture),
            ["file", "sha256", "width_px", "height_px", "um_per_px", "quality", "traces", "lay", "reach"]
        );
        assert_eq!(capture["sha256"].as_str().unwrap().len(), 64);
        assert!(capture["width_px"].is_u64() && capture["height_px"].is_u64());
        assert!(number_or_null(&capture["um_per_px"]) && capture["quality"].is_object());
        capture["traces"].as_array().unwrap().iter().for_each(check_trace);
        check_lay(&capture["lay"]);
        let reach = &capture["reach"];
        assert_eq!(names(reach), ["radius_mm", "radius_px", "limited_by"]);
        assert!(number_or_null(&reach["radius_mm"]) && reach["radius_px"].is_number());
        assert!(reach["limited_by"].is_string());
        if capture["um_per_px"].is_null() {
            for length in
                [&reach["radius_mm"], &capture["lay"]["density_per_mm2"], &capture["lay"]["intensity_per_mm"]]
            {
                assert!(length.is_null(), "a length without a scale: {length}");
            }
        }
    }
    measure
}

fn check_trace(trace: &Value) {
    assert_eq!(
        names(trace),
        [
            "id",
            "points",
            "length_px",
            "width_px",
            "direction_deg",
            "direction_u_deg",
            "curvature_per_px",
            "curvature_u_per_px",
            "ends_inside",
            "contrast",
            "log10_nfa",
            "suspect"
        ]
    );
    for field in names(trace) {
        let well = match field {
            "id" => trace[field].is_u64(),
            "points" => {
                trace[field].as_array().unwrap().iter().all(|p| p.as_array().is_some_and(|p| p.len() == 2))
            }
            "suspect" => {
                let known = ["lamella", "grain_edge", "compression", "sensor", "blur"];
                trace[field].is_null() || trace[field].as_str().is_some_and(|word| known.contains(&word))
            }
            "ends_inside" => trace[field].as_u64().is_some_and(|ends| ends <= 2),
            "direction_deg" => trace[field].as_f64().is_some_and(|degrees| (0.0..180.0).contains(&degrees)),
            _ => trace[field].is_number(),
        };
        assert!(well, "{field}: {}", trace[field]);
    }
}

fn check_lay(lay: &Value) {
    assert_eq!(
        names(lay),
        [
            "count",
            "density_per_mm2",
            "intensity_per_mm",
            "resultant",
            "uniform_p",
            "sets",
            "crossing_deg",
            "crossing_u_deg"
        ]
    );
    assert!(lay["count"].is_u64() && lay["resultant"].is_number() && lay["uniform_p"].is_number());
    for field in ["density_per_mm2", "intensity_per_mm", "crossing_deg", "crossing_u_deg"] {
        assert!(number_or_null(&lay[field]), "{field}");
    }
    for set in lay["sets"].as_array().unwrap() {
        assert_eq!(names(set), ["direction_deg", "direction_u_deg", "concentration", "share"]);
        assert!(names(set).into_iter().all(|field| set[field].is_number()));
    }
}

#[test]
fn measures_with_and_without_a_scale() {
    let folder = tempfile::tempdir().unwrap();
    let picture = write_png(folder.path(), "scratched.png", &scratched(700, 500));
    let bare = run(BINARY, [arg("measure".as_ref()), arg(&picture), arg("--json".as_ref())]);
    assert_eq!(bare.code, Some(0), "{:?}", bare.stderr);
    assert!(bare.stderr.is_empty(), "silent where nobody watches: {:?}", bare.stderr);
    let bare = checked(&bare.stdout);
    assert!(bare["captures"][0]["um_per_px"].is_null());

    let options = ["--um-per-px", "2.5", "--light-azimuth", "120", "--json"];
    let args =
        [arg("measure".as_ref()), arg(&picture)].into_iter().chain(options.iter().map(|o| arg(o.as_ref())));
    let scaled = run(BINARY, args);
    assert_eq!(scaled.code, Some(0), "{:?}", scaled.stderr);
    let scaled = checked(&scaled.stdout);
    let capture = &scaled["captures"][0];
    assert_eq!(capture["um_per_px"], 2.5);
    assert_eq!(capture["quality"]["light_azimuth_deg"], 120.0);
    // The picture's scratches run along (0.89, −0.45) in pixels: 26.8° as seen, counter-clockwise, y downwards.
    let direction = capture["lay"]["sets"][0]["direction_deg"].as_f64().expect("the scratches form a set");
    let drawn = 0.45f64.atan2(0.89).to_degrees();
    assert!((direction - drawn).abs() < 2.0, "{direction}° measured, {drawn}° drawn");
    // What the program prints it can read, and it holds together.
    let text = serde_json::to_string(&scaled).unwrap();
    assert_eq!(wire::measure::read(&text).unwrap().captures.len(), 1);
}

#[test]
fn a_plain_picture_has_no_lay() {
    let folder = tempfile::tempdir().unwrap();
    let picture = write_png(folder.path(), "plain.png", &plain(600, 400));
    let ran = run(BINARY, [arg("measure".as_ref()), arg(&picture), arg("--json".as_ref())]);
    let measure = checked(&ran.stdout);
    assert_eq!(measure["captures"][0]["lay"]["sets"].as_array().unwrap().len(), 0);
}

#[test]
fn one_thread_and_two_give_the_same_answer() {
    let folder = tempfile::tempdir().unwrap();
    let pictures = ["a.png", "b.png"].map(|name| write_png(folder.path(), name, &scratched(500, 400)));
    let answers = ["1", "2"].map(|threads| {
        let args = [arg("measure".as_ref()), arg(&pictures[0]), arg(&pictures[1]), arg("--json".as_ref())];
        let output =
            rubstone_tests::command(BINARY, args).env("RAYON_NUM_THREADS", threads).output().unwrap();
        assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
        output.stdout
    });
    assert!(answers[0] == answers[1], "the answer depends on the number of threads");
}

#[test]
fn exit_codes() {
    let folder = tempfile::tempdir().unwrap();
    let good = write_png(folder.path(), "good.png", &scratched(300, 200));
    let missing = folder.path().join("missing.png");
    let some = run(BINARY, [arg("measure".as_ref()), arg(&good), arg(&missing), arg("--json".as_ref())]);
    assert_eq!(some.code, Some(1));
    assert_eq!(some.stderr.len(), 1, "{:?}", some.stderr);
    assert!(some.stderr[0].starts_with(missing.to_str().unwrap()), "{:?}", some.stderr);
    assert_eq!(checked(&some.stdout)["captures"].as_array().unwrap().len(), 1, "the rest is done");
    for wrong in [
        &["measure"][..],
        &["measure", "x.png", "--um-per-px", "-3"],
        &["measure", "x.png", "--um-per-px", "zero"],
        &["measure", "x.png", "--light", "ring", "--light-azimuth", "3"],
        &["polish"],
        &["report", "/nowhere/at/all"],
        &["lay", folder.path().to_str().unwrap()],
        &["render", folder.path().to_str().unwrap(), "--finish", "magic"],
    ] {
        let ran = run(BINARY, wrong);
        assert_eq!(ran.code, Some(2), "{wrong:?}: {:?}", ran.stderr);
        assert!(!ran.stderr.is_empty() && ran.stdout.is_empty(), "{wrong:?}");
    }
    assert_eq!(run(BINARY, ["--help"]).code, Some(0));
}

/// Without arguments the workbench opens; `--no-browser` prints the address alone.
#[test]
fn the_workbench_prints_its_address() {
    use std::io::{BufRead, BufReader};
    let mut child = rubstone_tests::command(BINARY, ["--no-browser"])
        .stdout(std::process::Stdio::piped())
        .stderr(std::process::Stdio::null())
        .spawn()
        .unwrap();
    let mut line = String::new();
    BufReader::new(child.stdout.take().unwrap()).read_line(&mut line).unwrap();
    child.kill().unwrap();
    child.wait().unwrap();
    assert!(line.starts_with("http://127.0.0.1:"), "{line}");
}

#[test]
fn every_command_has_an_example_in_its_help() {
    let help = run(BINARY, ["--help"]).stdout;
    let commands: Vec<&str> = help
        .lines()
        .skip_while(|line| !line.starts_with("Commands:"))
        .skip(1)
        .take_while(|line| line.starts_with("  "))
        .filter_map(|line| line.split_whitespace().next())
        .filter(|name| *name != "help")
        .collect();
    assert!(commands.len() >= 12, "{commands:?}");
    for name in commands {
        let help = run(BINARY, [name, "--help"]).stdout;
        assert!(help.contains("Example") && help.contains(&format!("rubstone {name}")), "{name}: {help}");
        assert!(help.contains("--json"), "{name}");
    }
}

#[test]
fn an_edited_measurement_is_answered_in_words() {
    let folder = tempfile::tempdir().unwrap();
    let picture = write_png(folder.path(), "scratched.png", &scratched(700, 500));
    let ran = run(BINARY, [arg("measure".as_ref()), arg(&picture), arg("--json".as_ref())]);
    let good = checked(&ran.stdout);
    assert!(good["captures"][0]["traces"].as_array().unwrap().len() > 1, "traces to edit");
    let edit = |pointer: &str, value: Value| {
        let mut edited = good.clone();
        *edited.pointer_mut(pointer).unwrap() = value;
        wire::measure::read(&edited.to_string()).unwrap_err().to_string()
    };
    let trace = "/captures/0/traces/0";
    for (pointer, value, said) in [
        ("/schema", Value::from("rubstone.measure/9"), "rubstone.measure/9"),
        ("/captures/0/width_px", Value::from(0), "size 0"),
        ("/captures/0/um_per_px", Value::from(-1.0), "scale is -1"),
        ("/captures/0/sha256", Value::from("abc"), "no SHA-256"),
        ("/captures/0/lay/count", Value::from(99_999), "99999"),
        (&format!("{trace}/length_px"), Value::from(1.0), "px long"),
        (&format!("{trace}/direction_deg"), Value::from(270.0), "270"),
        (&format!("{trace}/direction_deg"), Value::from(116.0), "points run at"),
        (&format!("{trace}/ends_inside"), Value::from(3), "3 ends"),
        (&format!("{trace}/points"), Value::Array(vec![]), "no points"),
        (&format!("{trace}/suspect"), Value::from("ghost"), "ghost"),
        (&format!("{trace}/id"), good["captures"][0]["traces"][1]["id"].clone(), "listed twice"),
    ] {
        let words = edit(pointer, value);
        assert!(words.contains(said), "{pointer}: {words}");
        assert!(words.contains(';'), "says what to do: {words}");
    }
    assert!(wire::measure::read("measure me").unwrap_err().to_string().contains("not JSON"));
    assert!(wire::measure::read("[]").unwrap_err().to_string().contains("does not say which form it has"));
}
