//! Heights as text and as TIFF.

#![no_main]

use form::{LengthUnit, Limits, Pitch, read_heights};
use libfuzzer_sys::fuzz_target;

const LIMITS: Limits = Limits { file_bytes: 1 << 20, heights: 100_000, triangles: 0 };
const PITCH: Pitch =
    Pitch { dx_um: 1.0, dy_um: 2.0, height_unit: LengthUnit::Micrometre, height_per_count: 0.5 };

fuzz_target!(|bytes: &[u8]| {
    for name in ["a.txt", "a.tif"] {
        let _ = read_heights(bytes, name, Some(PITCH), &LIMITS);
    }
});
