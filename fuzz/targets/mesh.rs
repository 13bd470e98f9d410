//! Meshes of every format; the first byte chooses which.

#![no_main]

use form::{LengthUnit, Limits, read_mesh};
use libfuzzer_sys::fuzz_target;

const LIMITS: Limits = Limits { file_bytes: 1 << 20, heights: 0, triangles: 10_000 };

fuzz_target!(|bytes: &[u8]| {
    let Some((&first, rest)) = bytes.split_first() else { return };
    let name = ["a.ply", "a.obj", "a.stl", "a.gltf"][usize::from(first) % 4];
    let _ = read_mesh(rest, name, Some(LengthUnit::Millimetre), &LIMITS);
});
