//! Pictures of every kind that is read, by their bytes.

#![no_main]

use libfuzzer_sys::fuzz_target;
use picture::{Limits, read};

fuzz_target!(|bytes: &[u8]| {
    // The first byte names a file: the ending must not decide what the bytes are.
    let Some((name, bytes)) = bytes.split_first() else { return };
    let names = ["a.jpg", "a.png", "a.tif", "a.webp", "a.bmp"];
    let limits = Limits { max_pixels: 1 << 20, max_memory: 256 << 20 };
    let _ = read(bytes, names[usize::from(*name) % names.len()], &limits);
});
