//! The examination on disk, as the rest of the program uses it.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test that cannot go on fails")]

use std::fs;
use std::path::{Path, PathBuf};

use archive::{
    Added, ArchiveError, Capture, CaptureId, CaptureKind, Examination, Instrument, InstrumentKind,
    MineralShare, NewCapture, NewMeasurement, Object, Pin, ReadingStep, Rock, Scale, Station, StationId,
    StoredResult, WorkKind,
};
use picture::{Distortion, Light};
use quantity::{AxialDeg, Measured, UmPerPx};
use sha2::{Digest, Sha256};

const SOFTWARE: &str = "rubstone test";

fn begun() -> (tempfile::TempDir, PathBuf, Examination) {
    let folder = tempfile::tempdir().unwrap();
    let root = folder.path().join("slab");
    let examination = Examination::begin(&root, SOFTWARE).unwrap();
    (folder, root, examination)
}

fn sha(bytes: &[u8]) -> String {
    Sha256::digest(bytes).iter().map(|b| format!("{b:02x}")).collect()
}

fn new(bytes: &[u8]) -> NewCapture {
    NewCapture {
        kind: CaptureKind::Micrograph,
        station: None,
        instrument: None,
        sha256: sha(bytes),
        format: "TIFF, 16 bit, grey".into(),
        width_px: 640,
        height_px: 480,
        taken_at: None,
        exif: "Model: hand lens".into(),
    }
}

fn add(examination: &Examination, folder: &Path, name: &str, bytes: &[u8]) -> Added {
    let path = folder.join(name);
    fs::write(&path, bytes).unwrap();
    examination.add(&path, &new(bytes)).unwrap()
}

#[test]
fn everything_comes_back_as_it_was_written() {
    let (folder, root, examination) = begun();
    let object = Object {
        name: "Slab with \"quotes\" and 🪨".into(),
        rock: Rock::Minerals(vec![
            MineralShare { mineral: "plagioclase".into(), share: 0.6 },
            MineralShare { mineral: "hornblende".into(), share: 0.4 },
        ]),
        place: "yard behind the mill".into(),
        conditions: "no touching; one hour".into(),
        note: String::new(),
    };
    examination.set_object(&object).unwrap();
    let scale = Some(Scale {
        um_per_px: UmPerPx::new(1.293, 0.002).unwrap(),
        source: "graduation, 10 µm per tick".into(),
    });
    let mut microscope = Instrument {
        scale: scale.clone(),
        light: Light::Azimuth(AxialDeg::new(37.0).unwrap()),
        lens: Some(Distortion { k1: Measured { value: -0.01, u: 0.002 }, centre_px: Some([310.0, 250.0]) }),
        nominal_magnification: "50×".into(),
        ..Instrument::named("hand-held, low stop", InstrumentKind::Microscope)
    };
    microscope.id = examination.make_instrument(&microscope).unwrap();
    let station = examination.make_station("A").unwrap();
    let overview = add(&examination, folder.path(), "overview.jpg", b"overview").id();
    examination
        .set_station(&Station {
            id: station,
            name: "A, left edge".into(),
            note: "near the chip".into(),
            pin: Some(Pin { capture: overview, at: [0.25, 0.75] }),
        })
        .unwrap();
    let id = add(&examination, folder.path(), "a1.tif", b"micrograph").id();
    let mut capture = examination.capture(id).unwrap();
    capture.station = Some(station);
    capture.instrument = Some(microscope.id);
    examination.set_capture(&capture).unwrap();
    drop(examination);

    let examination = Examination::open(&root).unwrap();
    assert_eq!(examination.object().unwrap(), object);
    assert_eq!(examination.instruments().unwrap(), vec![microscope.clone()]);
    let stations = examination.stations().unwrap();
    assert_eq!(stations[0].pin.unwrap().at, [0.25, 0.75]);
    assert_eq!(examination.capture(id).unwrap(), capture);
    let setting = examination.setting(&capture).unwrap();
    assert_eq!(setting.scale, scale);
    assert_eq!(setting.light, microscope.light);
    assert_eq!(setting.lens, microscope.lens);
    // A light and a lens of the capture's own go first.
    let lens = Some(Distortion { k1: Measured { value: 0.02, u: 0.001 }, centre_px: Some([300.5, 240.0]) });
    let own = Capture { light: Some(Light::Ring), lens, ..capture };
    examination.set_capture(&own).unwrap();
    assert_eq!(examination.capture(id).unwrap(), own);
    let setting = examination.setting(&own).unwrap();
    assert_eq!((setting.light, setting.lens), (Light::Ring, lens));
    assert_eq!(fs::read(examination.original_path(&sha(b"micrograph"))).unwrap(), b"micrograph");
    assert!(examination.unfinished().is_empty());
}

#[test]
fn the_same_picture_is_taken_in_once() {
    let (folder, _, examination) = begun();
    let first = add(&examination, folder.path(), "a.tif", b"same");
    let second = add(&examination, folder.path(), "b with spaces.tif", b"same");
    assert_eq!(second, Added::Already(first.id()));
    assert_eq!(examination.captures().unwrap().len(), 1);
    assert_eq!(examination.captures().unwrap()[0].file_name, "a.tif");
}

#[test]
fn a_file_that_changed_underway_is_refused_and_nothing_stays() {
    let (folder, root, examination) = begun();
    let path = folder.path().join("a.tif");
    fs::write(&path, b"later").unwrap();
    let error = examination.add(&path, &new(b"earlier")).unwrap_err();
    assert!(matches!(error, ArchiveError::ChangedUnderway), "{error}");
    let vanished = examination.add(&folder.path().join("gone.tif"), &new(b"gone")).unwrap_err();
    assert!(matches!(vanished, ArchiveError::Unreadable { .. }), "{vanished}");
    assert!(examination.captures().unwrap().is_empty());
    assert_eq!(fs::read_dir(root.join("originals")).unwrap().count(), 0);
    drop(examination);
    assert!(Examination::open(&root).unwrap().unfinished().is_empty());
    assert_eq!(fs::read_dir(root.join("work")).unwrap().count(), 0);
}

#[cfg(unix)]
#[test]
fn a_name_that_is_no_text_is_kept_to_the_byte() {
    use std::os::unix::ffi::OsStrExt;
    let (folder, _, examination) = begun();
    let raw = b"sl\xffab 'a'.tif";
    let path = folder.path().join(std::ffi::OsStr::from_bytes(raw));
    if fs::write(&path, b"odd").is_err() {
        return; // This disk takes no such names.
    }
    let id = examination.add(&path, &new(b"odd")).unwrap().id();
    let capture = examination.capture(id).unwrap();
    assert_eq!(capture.file_name_bytes.as_deref(), Some(&raw[..]));
    assert_eq!(capture.file_name, "sl\u{fffd}ab 'a'.tif");
}

#[test]
fn a_killed_addition_is_finished_or_cleared() {
    let (_folder, root, examination) = begun();
    drop(examination);
    // What a program killed between writing the original and entering it leaves: a note, an arrival, an original.
    let database = rusqlite::Connection::open(root.join("examination.sqlite")).unwrap();
    for (journal, bytes) in [(1, &b"whole"[..]), (2, b"lost")] {
        database
            .execute(
                "INSERT INTO journal (id, session, kind, subject, began_at) VALUES (?1, 'dead', 'add', ?2, '')",
                (journal, format!("{journal}.tif")),
            )
            .unwrap();
        database
            .execute(
                "INSERT INTO arrivals (journal, kind, sha256, bytes, file_name, format, width_px, height_px, exif,
                 imported_at) VALUES (?1, 'micrograph', ?2, ?3, ?4, 'PNG', 10, 20, '', '2026-01-01T00:00:00Z')",
                (journal, sha(bytes), i64::try_from(bytes.len()).unwrap(), format!("{journal}.tif")),
            )
            .unwrap();
    }
    database
        .execute(
            "INSERT INTO journal (session, kind, subject, began_at) VALUES ('dead', 'measure', 'x.tif', '')",
            [],
        )
        .unwrap();
    drop(database);
    fs::create_dir_all(root.join("work/dead")).unwrap();
    fs::write(root.join("work/dead/1"), b"whole").unwrap();
    fs::write(root.join("work/dead/2"), b"los").unwrap();

    let examination = Examination::open(&root).unwrap();
    let said: Vec<String> = examination.unfinished().iter().map(ToString::to_string).collect();
    assert_eq!(
        said,
        [
            "adding 1.tif had been interrupted: finished now",
            "adding 2.tif had been interrupted: cleared; do it again",
            "measuring x.tif had been interrupted: cleared; do it again",
        ]
    );
    assert_eq!(examination.captures().unwrap().len(), 1);
    examination.check_original(&examination.captures().unwrap()[0]).unwrap();
    assert!(!root.join("work/dead").exists());
    drop(examination);
    assert!(Examination::open(&root).unwrap().unfinished().is_empty(), "said once");
}

#[test]
fn a_living_program_is_left_alone() {
    let (_folder, root, first) = begun();
    let intent = first.intend(WorkKind::Measure, "a.tif").unwrap();
    let second = Examination::open(&root).unwrap();
    assert!(second.unfinished().is_empty(), "the first is alive and at work");
    first.close(intent).unwrap();
    let revision = first.revision().unwrap();
    second.make_station("B").unwrap();
    assert!(first.revision().unwrap() > revision, "the first window notices the second's change");
    let left = first.intend(WorkKind::Measure, "b.tif").unwrap();
    assert_ne!(left, first.intend(WorkKind::Report, "c").unwrap());
    drop(first);
    // Dropped without closing: as good as killed.
    assert_eq!(Examination::open(&root).unwrap().unfinished().len(), 2);
}

#[test]
fn two_at_once_add_everything_once() {
    let (folder, root, _examination) = begun();
    let pictures: Vec<Vec<u8>> = (0..12u8).map(|n| vec![n; 1000]).collect();
    std::thread::scope(|scope| {
        for _ in 0..3 {
            scope.spawn(|| {
                let examination = Examination::open(&root).unwrap();
                for (n, bytes) in pictures.iter().enumerate() {
                    let path = folder.path().join(format!("{:?}-{n}.tif", std::thread::current().id()));
                    fs::write(&path, bytes).unwrap();
                    examination.add(&path, &new(bytes)).unwrap();
                }
            });
        }
    });
    let examination = Examination::open(&root).unwrap();
    assert_eq!(examination.captures().unwrap().len(), pictures.len());
    for capture in examination.captures().unwrap() {
        examination.check_original(&capture).unwrap();
    }
}

#[test]
fn a_folder_is_begun_once_and_only_where_it_is_empty() {
    let (folder, root, _examination) = begun();
    let again = Examination::begin(&root, SOFTWARE).unwrap_err();
    assert!(matches!(again, ArchiveError::AlreadyBegun(_)), "{again}");
    fs::write(folder.path().join("letter.txt"), "x").unwrap();
    let full = Examination::begin(folder.path(), SOFTWARE).unwrap_err();
    assert!(matches!(full, ArchiveError::NotEmpty(_)), "{full}");
    let none = Examination::open(folder.path()).unwrap_err();
    assert!(matches!(none, ArchiveError::NotAnExamination(_)), "{none}");
    // A beginning that was killed leaves a half-made database; beginning again takes its place.
    let killed = folder.path().join("killed");
    fs::create_dir_all(killed.join("originals")).unwrap();
    fs::write(killed.join("examination.sqlite.new"), "half").unwrap();
    Examination::begin(&killed, SOFTWARE).unwrap();
}

#[test]
fn damage_and_later_versions_are_told() {
    let (_folder, root, examination) = begun();
    drop(examination);
    let database = root.join("examination.sqlite");
    rusqlite::Connection::open(&database).unwrap().pragma_update(None, "user_version", 99).unwrap();
    let newer = Examination::open(&root).unwrap_err();
    assert!(matches!(newer, ArchiveError::TooNew { found: 99, .. }), "{newer}");
    fs::write(&database, "this is a letter, not a database, and long enough to be read as one").unwrap();
    let damaged = Examination::open(&root).unwrap_err();
    assert!(matches!(damaged, ArchiveError::Damaged(_)), "{damaged}");
}

#[test]
fn a_reading_is_undone_and_redone() {
    let (folder, _, examination) = begun();
    let capture = add(&examination, folder.path(), "a.tif", b"a").id();
    let measurement = examination
        .keep_measurement(&NewMeasurement {
            capture,
            settings: "s".into(),
            payload: "{}".into(),
            software: SOFTWARE.into(),
            seed: u64::MAX,
        })
        .unwrap();
    assert_eq!(examination.measurement(capture).unwrap().unwrap().seed, u64::MAX);
    let reading = examination.reading("Ada", measurement).unwrap();
    assert_eq!(examination.reading("Ada", measurement).unwrap(), reading, "one reading each");
    let payloads = || -> Vec<String> {
        examination.standing_steps(reading.id).unwrap().into_iter().map(|event| event.payload).collect()
    };
    for payload in ["1", "2", "3"] {
        examination.add_step(reading.id, ReadingStep::Reject, payload).unwrap();
    }
    assert!(examination.undo(reading.id).unwrap());
    assert!(examination.undo(reading.id).unwrap());
    assert_eq!(payloads(), ["1"]);
    assert!(examination.redo(reading.id).unwrap());
    assert_eq!(payloads(), ["1", "2"]);
    examination.add_step(reading.id, ReadingStep::Draw, "4").unwrap();
    assert!(!examination.redo(reading.id).unwrap(), "a new step ends what could be redone");
    assert_eq!(payloads(), ["1", "2", "4"]);
    for _ in 0..3 {
        assert!(examination.undo(reading.id).unwrap());
    }
    assert!(!examination.undo(reading.id).unwrap());
}

#[test]
fn results_replace_each_other() {
    let (_folder, _, examination) = begun();
    let result = |payload: &str| StoredResult {
        settings: "s".into(),
        payload: payload.into(),
        software: SOFTWARE.into(),
        seed: 7,
        made_at: String::new(),
    };
    assert!(examination.result("weighing").unwrap().is_none());
    examination.keep_result("weighing", &result("one")).unwrap();
    examination.keep_result("weighing", &result("two")).unwrap();
    assert_eq!(examination.result("weighing").unwrap().unwrap().payload, "two");
}

#[test]
fn nonsense_is_refused() {
    let (folder, root, examination) = begun();
    let shares = |share| Object {
        rock: Rock::Minerals(vec![MineralShare { mineral: "quartz".into(), share }; 2]),
        ..Object::default()
    };
    assert!(examination.set_object(&shares(0.7)).is_err(), "together more than the whole");
    assert!(examination.set_object(&shares(f64::NAN)).is_err());
    assert!(examination.make_station("  ").is_err());
    assert!(examination.instrument(archive::InstrumentId(9)).is_err());
    let capture = add(&examination, folder.path(), "a.tif", b"a").id();
    let mut lost = examination.capture(capture).unwrap();
    lost.station = Some(StationId(77));
    assert!(examination.set_capture(&lost).is_err());
    assert!(examination.capture(CaptureId(99)).is_err());
    for path in ["../up.txt", "/etc/x", "originals/x", "work/x", "", "a//b", "examination.sqlite", "a\\..\\b"]
    {
        assert!(examination.write_file(path, b"x").is_err(), "{path}");
    }
    examination.write_file("report/tables/traces.csv", b"a,b\n").unwrap();
    assert_eq!(fs::read(root.join("report/tables/traces.csv")).unwrap(), b"a,b\n");
}

/// Requests and listeners of a workbench open the folder for a moment each, all at once: nobody may take another's session
/// for that of a killed program.
#[test]
fn many_write_while_others_open_it() {
    let folder = tempfile::tempdir().unwrap();
    let root = folder.path().join("many");
    Examination::begin(&root, SOFTWARE).unwrap();
    std::thread::scope(|scope| {
        let hands: Vec<_> = (0..6)
            .map(|hand| {
                let root = &root;
                scope.spawn(move || {
                    for turn in 0..300 {
                        let examination = Examination::open(root).unwrap();
                        assert!(examination.unfinished().is_empty());
                        if hand % 2 == 0 {
                            let bytes = format!("{hand} {turn}").into_bytes();
                            examination.add_bytes(&bytes, "one.tif", &new(&bytes)).unwrap();
                        }
                    }
                })
            })
            .collect();
        hands.into_iter().for_each(|hand| hand.join().unwrap());
    });
    assert_eq!(Examination::open(&root).unwrap().captures().unwrap().len(), 900);
    assert_eq!(fs::read_dir(root.join("work")).unwrap().count(), 0);
}
