//! X3P containers: the bytes as a whole file, and as the description inside a sound container, which the zip's own
//! checksums would otherwise keep the fuzzer away from.

#![no_main]

use std::io::{Cursor, Write};

use form::{Limits, read_heights};
use libfuzzer_sys::fuzz_target;
use zip::write::SimpleFileOptions;

const LIMITS: Limits = Limits { file_bytes: 1 << 20, heights: 100_000, triangles: 0 };

fuzz_target!(|bytes: &[u8]| {
    let _ = read_heights(bytes, "a.x3p", None, &LIMITS);
    if let Some(container) = around(bytes) {
        let _ = read_heights(&container, "a.x3p", None, &LIMITS);
    }
});

/// A container with `bytes` as its description and eight heights of two bytes.
fn around(bytes: &[u8]) -> Option<Vec<u8>> {
    let mut container = zip::ZipWriter::new(Cursor::new(Vec::new()));
    for (name, contents) in
        [("main.xml", bytes), ("bindata/data.bin", &[7; 16][..]), ("bindata/valid.bin", &[0x5d][..])]
    {
        container.start_file(name, SimpleFileOptions::default()).ok()?;
        container.write_all(contents).ok()?;
    }
    Some(container.finish().ok()?.into_inner())
}
