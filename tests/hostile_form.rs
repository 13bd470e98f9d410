//! Awkward height maps and meshes: each gets one clear line, the rest is measured, nothing panics, and the memory stays
//! bounded, which a limit on the address space sees to.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test that cannot go on fails")]

use std::fs;
use std::io::{Cursor, Write};
use std::path::{Path, PathBuf};

use rubstone_tests::{Ran, run};
use serde_json::Value;
use zip::write::SimpleFileOptions;

const BINARY: &str = env!("CARGO_BIN_EXE_rubstone-under-test");
/// Address space of the command, kB: far less than what the bombs below ask for.
const MEMORY_KB: &str = "3000000";

type Corner = [f32; 3];

/// Runs `rubstone form` over some files within [`MEMORY_KB`].
fn form(files: &[PathBuf]) -> Ran {
    let script = format!("ulimit -v {MEMORY_KB}; exec \"$0\" form --json --unit mm --pitch-um 1 \"$@\"");
    let mut words = vec!["-c".to_owned(), script, BINARY.to_owned()];
    words.extend(files.iter().map(|file| file.to_string_lossy().into_owned()));
    run("sh", words)
}

fn stl(triangles: &[[Corner; 3]], promised: u32) -> Vec<u8> {
    let mut bytes = vec![b'x'; 80];
    bytes.extend(promised.to_le_bytes());
    for triangle in triangles {
        bytes.extend([0; 12]);
        triangle.iter().flatten().for_each(|c| bytes.extend(c.to_le_bytes()));
        bytes.extend([0; 2]);
    }
    bytes
}

fn whole_stl(triangles: &[[Corner; 3]]) -> Vec<u8> {
    stl(triangles, u32::try_from(triangles.len()).unwrap())
}

/// An upright block from the origin.
fn block(size: Corner) -> Vec<[Corner; 3]> {
    let corner = |i: usize| std::array::from_fn(|k| if i >> k & 1 == 1 { size[k] } else { 0.0 });
    let quads = [[0, 2, 3, 1], [4, 5, 7, 6], [0, 1, 5, 4], [2, 6, 7, 3], [0, 4, 6, 2], [1, 3, 7, 5]];
    let halves = quads.iter().flat_map(|&[a, b, c, d]| [[a, b, c], [a, c, d]]);
    halves.map(|triangle| triangle.map(corner)).collect()
}

fn description(size: [u64; 2], head: &str, comment: &str) -> String {
    let [x, y] = size;
    format!(
        "<?xml version=\"1.0\"?>{head}<p:ISO5436_2 xmlns:p=\"http://www.opengps.eu/2008/ISO5436_2\"><Record1>\
         <FeatureType>SUR</FeatureType><Axes><CX><AxisType>I</AxisType><Increment>1e-6</Increment></CX>\
         <CY><AxisType>I</AxisType><Increment>1e-6</Increment></CY><CZ><AxisType>A</AxisType><DataType>I</DataType>\
         <Increment>1e-9</Increment></CZ></Axes></Record1><Record2><Comment>{comment}</Comment></Record2><Record3>\
         <MatrixDimension><SizeX>{x}</SizeX><SizeY>{y}</SizeY><SizeZ>1</SizeZ></MatrixDimension><DataLink>\
         <PointDataLink>bindata/data.bin</PointDataLink><ValidPointsLink>bindata/valid.bin</ValidPointsLink></DataLink>\
         </Record3></p:ISO5436_2>"
    )
}

fn x3p(description: &str, data: &[u8], mask: &[u8]) -> Vec<u8> {
    let mut container = zip::ZipWriter::new(Cursor::new(Vec::new()));
    for (name, contents) in
        [("main.xml", description.as_bytes()), ("bindata/data.bin", data), ("bindata/valid.bin", mask)]
    {
        container.start_file(name, SimpleFileOptions::default()).unwrap();
        container.write_all(contents).unwrap();
    }
    container.finish().unwrap().into_inner()
}

/// A TIFF of 32-bit floating-point heights whose header may promise more than it holds.
fn tiff(width: u32, height: u32, data: &[u8]) -> Vec<u8> {
    let length = u32::try_from(data.len()).unwrap();
    let tags: [(u16, u32); 10] = [
        (256, width),
        (257, height),
        (258, 32),
        (259, 1),
        (262, 1),
        (273, 8),
        (277, 1),
        (278, height),
        (279, length),
        (339, 3),
    ];
    let mut bytes = b"II*\0".to_vec();
    bytes.extend((8 + length).to_le_bytes());
    bytes.extend(data);
    bytes.extend(10_u16.to_le_bytes());
    for (tag, value) in tags {
        bytes.extend(tag.to_le_bytes());
        bytes.extend(4_u16.to_le_bytes());
        bytes.extend(1_u32.to_le_bytes());
        bytes.extend(value.to_le_bytes());
    }
    bytes.extend([0; 4]);
    bytes
}

fn refused() -> Vec<(&'static str, Vec<u8>, &'static str)> {
    let block = block([20.0, 30.0, 40.0]);
    let small = description([2, 2], "", "");
    let entities = r#"<!DOCTYPE x [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;&a;">]>"#;
    let lying_ply =
        b"ply\nformat ascii 1.0\nelement vertex 4000000000\nproperty float x\nend_header\n".to_vec();
    let points =
        b"ply\nformat ascii 1.0\nelement vertex 1\nproperty float x\nproperty float y\nproperty float z\n\
        end_header\n0 0 0\n"
            .to_vec();
    vec![
        ("empty.stl", Vec::new(), "not a single byte"),
        ("no area.stl", whole_stl(&[[[1.0; 3]; 3]; 5]), "no usable triangle"),
        ("no numbers.stl", whole_stl(&[[[f32::NAN; 3]; 3]; 5]), "no usable triangle"),
        ("lying.stl", stl(&block, 4_000_000_000), "promises 4000000000 triangles"),
        ("cut.stl", whole_stl(&block)[..300].to_vec(), "promises 12 triangles"),
        ("lying.ply", lying_ply, "promises 4000000000"),
        ("points.ply", points, "a point cloud is not a mesh"),
        ("missing corner.obj", b"v 0 0 0\nf 1 2 3\n".to_vec(), "out of bounds"),
        ("junk.glb", [b"glTF".to_vec(), vec![0xff; 40]].concat(), "damaged glTF"),
        ("not measured.txt", b"nan nan\nnan nan\n".to_vec(), "at least 1 usable point"),
        ("ragged.txt", b"1 2\n3\n".to_vec(), "the first row has 2"),
        ("words.txt", b"Dear keeper\n".to_vec(), "'Dear' is not a number"),
        ("masked.x3p", x3p(&small, &[0; 8], &[0]), "at least 1 usable point"),
        ("short mask.x3p", x3p(&description([3, 3], "", ""), &[0; 18], &[0]), "9 points need 2"),
        ("bomb.x3p", x3p(&small, &vec![0; 64 << 20], &[15]), "unpacks to more than the 8 bytes"),
        (
            "long words.x3p",
            x3p(&description([2, 2], "", &" ".repeat(257 << 20)), &[0; 8], &[15]),
            "unpacks to more",
        ),
        (
            "many words.x3p",
            x3p(&format!("<r>{}</r>", "<q>1</q>".repeat(1 << 20)), &[], &[]),
            "more than 10000 entries",
        ),
        ("deep.x3p", x3p(&"<a>".repeat(200_000), &[], &[]), "nested too deeply"),
        (
            "entities.x3p",
            x3p(&description([2, 2], entities, "&b;"), &[0; 8], &[15]),
            "declares a document type",
        ),
        ("lying.x3p", x3p(&description([1 << 40, 1 << 40], "", ""), &[0; 8], &[15]), "more than the limit"),
        ("lying too.x3p", x3p(&description([20_000, 20_000], "", ""), &[0; 8], &[15]), "800000000"),
        ("cut.x3p", x3p(&small, &[0; 8], &[15])[..200].to_vec(), "Zip"),
        ("lying.tif", tiff(60_000, 60_000, &[0; 16]), "more than the limit"),
        ("lying too.tif", tiff(20_000, 19_000, &[0; 16]), "ends in the middle"),
        ("not measured.tif", tiff(2, 2, &f32::NAN.to_le_bytes().repeat(4)), "at least 1 usable point"),
    ]
}

fn written(folder: &Path, name: &str, bytes: &[u8]) -> PathBuf {
    let path = folder.join(name);
    fs::write(&path, bytes).unwrap();
    path
}

#[test]
fn what_cannot_be_read_is_refused_in_one_line_and_the_rest_is_measured() {
    let folder = tempfile::tempdir().unwrap();
    let good = written(folder.path(), "good.txt", b"0 1 0 2\n1 0 2 0\n0 3 0 1\n");
    let cases = refused();
    let mut files: Vec<PathBuf> =
        cases.iter().map(|(name, bytes, _)| written(folder.path(), name, bytes)).collect();
    files.push(good);
    let ran = form(&files);
    assert_eq!(ran.code, Some(1), "{:?}", ran.stderr);
    assert_eq!(ran.stderr.len(), cases.len(), "{:?}", ran.stderr);
    for ((name, _, reason), line) in cases.iter().zip(&ran.stderr) {
        assert!(line.contains(name) && line.contains(reason), "{name}: {line}");
    }
    let answer: Value = serde_json::from_str(&ran.stdout).unwrap();
    let measured = answer["files"].as_array().unwrap();
    assert_eq!(measured.len(), 1);
    assert!(measured[0]["file"].as_str().unwrap().ends_with("good.txt"));
}

/// Odd but readable: measured, with a word on what is odd.
#[test]
fn odd_meshes_and_maps_are_measured_with_a_word_on_what_is_odd() {
    let folder = tempfile::tempdir().unwrap();
    let whole = block([20.0, 30.0, 40.0]);
    let mut flipped = whole.clone();
    flipped[0].swap(0, 1);
    let twice = [whole.clone(), whole.clone()].concat();
    let with_empty = [whole.clone(), vec![[whole[0][0]; 3]]].concat();
    let even = "1 1 1 1 1 1 1 1\n".repeat(8).into_bytes();
    let cases: Vec<(&str, Vec<u8>, &str)> = vec![
        ("open.stl", whole_stl(&whole[..10]), "the surface does not close a volume"),
        ("flipped.stl", whole_stl(&flipped), "face opposite ways"),
        ("twice.stl", whole_stl(&twice), "12 triangles left out: repeated"),
        ("empty triangle.stl", whole_stl(&with_empty), "1 triangles left out: no area"),
        ("giant.stl", whole_stl(&block([3e5, 3e5, 2e6])), "the object would be 2000 m long: check the unit"),
        ("one point.txt", b"1.0\n".to_vec(), "at least 3 usable points, found 1"),
        ("even.txt", even, "no height differences"),
    ];
    let files: Vec<PathBuf> =
        cases.iter().map(|(name, bytes, _)| written(folder.path(), name, bytes)).collect();
    let ran = form(&files);
    assert_eq!((ran.code, ran.stderr.len()), (Some(0), 0), "{:?}", ran.stderr);
    let answer: Value = serde_json::from_str(&ran.stdout).unwrap();
    for ((name, _, word), file) in cases.iter().zip(answer["files"].as_array().unwrap()) {
        let said = format!("{}{}", file["notes"], file["cannot_tell"]);
        assert!(said.contains(word), "{name}: {said}");
    }
}
