//! The program killed at any moment: nothing reported as done is lost, and the next opening says what was unfinished.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test that cannot go on fails")]

use std::fs;
use std::path::{Path, PathBuf};
use std::time::Duration;

use archive::Examination;
use rubstone_tests::{arg, command, run, scratched, write_png};

const BINARY: &str = env!("CARGO_BIN_EXE_rubstone-under-test");

fn pictures(folder: &Path, count: usize) -> Vec<PathBuf> {
    (0..count).map(|n| write_png(folder, format!("{n}.png"), &scratched(400 + n, 300))).collect()
}

/// Every capture has its whole original, and there is no original without a capture.
fn check_consistent(slab: &Path) -> usize {
    let examination = Examination::open(slab).unwrap();
    let captures = examination.captures().unwrap();
    for capture in &captures {
        examination.check_original(capture).unwrap();
    }
    assert_eq!(fs::read_dir(slab.join("originals")).unwrap().count(), captures.len());
    drop(examination);
    assert!(Examination::open(slab).unwrap().unfinished().is_empty(), "said once, then settled");
    assert_eq!(fs::read_dir(slab.join("work")).unwrap().count(), 0);
    captures.len()
}

#[test]
fn killed_while_adding() {
    let folder = tempfile::tempdir().unwrap();
    let pictures = pictures(folder.path(), 8);
    // Moments spread over the whole run, from before the first picture to after the last.
    for (round, delay_ms) in [5u64, 20, 40, 60, 90, 130, 180, 260].into_iter().enumerate() {
        let slab = folder.path().join(format!("slab-{round}"));
        assert_eq!(run(BINARY, [arg("begin".as_ref()), arg(&slab)]).code, Some(0));
        let words = [arg("add".as_ref()), arg(&slab)];
        let mut child = command(BINARY, words.into_iter().chain(pictures.iter().map(|p| arg(p))))
            .stdout(std::process::Stdio::null())
            .stderr(std::process::Stdio::null())
            .spawn()
            .unwrap();
        std::thread::sleep(Duration::from_millis(delay_ms));
        child.kill().unwrap();
        child.wait().unwrap();
        let before = check_consistent(&slab);
        // Adding again adds what is missing, and only that.
        let words = [arg("add".as_ref()), arg(&slab)];
        let again = run(BINARY, words.into_iter().chain(pictures.iter().map(|p| arg(p))));
        assert_eq!(again.code, Some(0), "{:?}", again.stderr);
        assert_eq!(again.stdout.matches("known:").count(), before);
        assert_eq!(check_consistent(&slab), pictures.len());
    }
}

#[test]
fn killed_while_measuring() {
    let folder = tempfile::tempdir().unwrap();
    let slab = folder.path().join("slab");
    let pictures = pictures(folder.path(), 6);
    assert_eq!(run(BINARY, [arg("begin".as_ref()), arg(&slab)]).code, Some(0));
    let words = [arg("add".as_ref()), arg(&slab)];
    assert_eq!(run(BINARY, words.into_iter().chain(pictures.iter().map(|p| arg(p)))).code, Some(0));
    let measured = || {
        let examination = Examination::open(&slab).unwrap();
        let captures = examination.captures().unwrap();
        captures.iter().filter(|c| examination.measured_with(c.id).unwrap().is_some()).count()
    };
    for delay_ms in [150, 400] {
        let mut child = command(BINARY, [arg("measure".as_ref()), arg(&slab)])
            .stdout(std::process::Stdio::null())
            .stderr(std::process::Stdio::null())
            .spawn()
            .unwrap();
        std::thread::sleep(Duration::from_millis(delay_ms));
        child.kill().unwrap();
        child.wait().unwrap();
        check_consistent(&slab);
    }
    let before = measured();
    let rest = run(BINARY, [arg("measure".as_ref()), arg(&slab)]);
    assert_eq!(rest.code, Some(0), "{:?}", rest.stderr);
    assert!(rest.stdout.contains(&format!("measured: {} now, 6 in all", 6 - before)), "{}", rest.stdout);
    assert_eq!(measured(), 6);
    let nothing_left = run(BINARY, [arg("measure".as_ref()), arg(&slab)]);
    assert!(nothing_left.stdout.contains("measured: 0 now"), "{}", nothing_left.stdout);
}

#[test]
fn interrupted_work_is_named_at_the_next_opening() {
    let folder = tempfile::tempdir().unwrap();
    let slab = folder.path().join("slab");
    assert_eq!(run(BINARY, [arg("begin".as_ref()), arg(&slab)]).code, Some(0));
    {
        let examination = Examination::open(&slab).unwrap();
        let left = examination.intend(archive::WorkKind::Measure, "a1.tif").unwrap();
        assert_ne!(left, examination.intend(archive::WorkKind::Report, "slab").unwrap());
    }
    let status = run(BINARY, [arg("status".as_ref()), arg(&slab)]);
    assert_eq!(status.code, Some(0));
    assert_eq!(status.stderr.len(), 2, "{:?}", status.stderr);
    assert!(status.stderr[0].contains("measuring a1.tif had been interrupted"), "{:?}", status.stderr);
}
