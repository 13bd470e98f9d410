//! Tests that see the whole house: the command as its users run it, on awkward input, interrupted, and end to end.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test that cannot go on fails")]

use std::ffi::OsStr;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

use picture::Grey;

/// What a run of the command left.
#[derive(Debug)]
pub struct Ran {
    /// Exit code; `None` if it was killed.
    pub code: Option<i32>,
    /// Everything on stdout.
    pub stdout: String,
    /// Lines on stderr.
    pub stderr: Vec<String>,
}

/// The command under `binary`, ready to run.
pub fn command<A: AsRef<OsStr>>(binary: &str, args: impl IntoIterator<Item = A>) -> Command {
    let mut command = Command::new(binary);
    command.args(args).stdin(Stdio::null());
    command
}

/// Runs the command to its end.
pub fn run<A: AsRef<OsStr>>(binary: &str, args: impl IntoIterator<Item = A>) -> Ran {
    ran(command(binary, args).output().expect("the command can be started"))
}

/// What an output says.
#[must_use]
pub fn ran(output: Output) -> Ran {
    Ran {
        code: output.status.code(),
        stdout: String::from_utf8(output.stdout).expect("stdout is UTF-8"),
        stderr: String::from_utf8_lossy(&output.stderr).lines().map(str::to_owned).collect(),
    }
}

/// An even, grainy grey plane without a single line on it.
#[must_use]
pub fn plain(width: usize, height: usize) -> Grey {
    textured(width, height, |_, _| 0.0)
}

/// A grainy plane with dark straight scratches 30 px apart, running at about 27° as seen.
#[must_use]
pub fn scratched(width: usize, height: usize) -> Grey {
    textured(width, height, |x, y| {
        let across = 0.45 * x + 0.89 * y;
        let from_line = (across / 30.0 - (across / 30.0).round()) * 30.0;
        -0.25 * (-from_line * from_line / 3.0).exp()
    })
}

fn textured(width: usize, height: usize, line: impl Fn(f64, f64) -> f64) -> Grey {
    let mut state = 0x9e37_79b9_7f4a_7c15_u64;
    let mut values = Vec::with_capacity(width * height);
    for y in 0..height {
        for x in 0..width {
            // A plain congruential generator: the same plane on every machine.
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            let noise = (state >> 40) as f64 / f64::from(1u32 << 24) - 0.5;
            values.push((0.55 + 0.06 * noise + line(x as f64, y as f64)) as f32);
        }
    }
    Grey::new(width, height, values).expect("as many values as pixels")
}

/// Writes a plane as a PNG file into `folder`.
pub fn write_png(folder: &Path, name: impl AsRef<Path>, grey: &Grey) -> PathBuf {
    let path = folder.join(name);
    std::fs::write(&path, grey.to_png8().expect("a plane that a PNG can hold")).expect("a writable folder");
    path
}

/// A path as an argument.
#[must_use]
pub fn arg(path: &Path) -> &OsStr {
    path.as_os_str()
}
