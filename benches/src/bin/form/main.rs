//! Bars of form: flatness, mirror symmetry, fillets, volumes and areal texture on surfaces with known answers.
//!
//! Prints one table: what was asked, what was found, and whether it holds. Run with
//! `cargo run --release -p rubstone-benches --bin form [-- PART…]`; the parts are those of `PARTS`. `meshes` reads the
//! folder named by the environment variable `RUBSTONE_MESHES`, which `cargo xtask bench form` fills from a package.

mod faces;
mod fillets;
mod meshes;
mod symmetry;
mod texture;

use std::time::Instant;

use form::MeasureError;
use rand::RngExt;
use rand_pcg::Pcg64;

type Bars = fn() -> Result<(), MeasureError>;

/// Parts of the table by name.
const PARTS: [(&str, Bars); 8] = [
    ("flatness", faces::flatness),
    ("symmetry", symmetry::bars),
    ("fillets", fillets::bars),
    ("volume", faces::volume),
    ("texture", texture::bars),
    ("uncertainty", texture::uncertainty_bars),
    ("reading", faces::reading),
    ("meshes", meshes::bars),
];

fn main() -> Result<(), MeasureError> {
    let wanted: Vec<String> = std::env::args().skip(1).collect();
    println!("| bar | asked | found | holds |");
    println!("|---|---|---|---|");
    for (name, bars) in PARTS {
        if wanted.is_empty() || wanted.iter().any(|part| part == name) {
            bars()?;
        }
    }
    Ok(())
}

fn row(bar: &str, asked: &str, found: &str, holds: bool) {
    println!("| {bar} | {asked} | {found} | {} |", if holds { "yes" } else { "NO" });
}

/// Wall clock and processor seconds of some work: on a shared machine only the second says what it costs.
struct Spent {
    wall: f64,
    processor: f64,
}

impl Spent {
    /// What it would take at most on a processor of its own: other work on the machine lengthens the wall clock only.
    fn own(&self) -> f64 {
        if self.processor.is_nan() { self.wall } else { self.wall.min(self.processor) }
    }
}

impl std::fmt::Display for Spent {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{:.2} s ({:.2} s of processor)", self.wall, self.processor)
    }
}

fn spent(work: impl FnOnce() -> Result<(), MeasureError>) -> Result<Spent, MeasureError> {
    let (start, before) = (Instant::now(), processor_seconds());
    work()?;
    Ok(Spent { wall: start.elapsed().as_secs_f64(), processor: processor_seconds() - before })
}

/// Processor time of this process so far; NaN where the system does not say.
fn processor_seconds() -> f64 {
    /// Clock ticks of Linux's process table.
    const PER_SECOND: f64 = 100.0;
    let stat = std::fs::read_to_string("/proc/self/stat").unwrap_or_default();
    let fields: Vec<f64> = stat
        .rsplit(')')
        .next()
        .into_iter()
        .flat_map(str::split_whitespace)
        .map(|field| field.parse().unwrap_or(f64::NAN))
        .collect();
    // The 14th and 15th field, counted with the name that ends at the bracket.
    fields.get(11).zip(fields.get(12)).map_or(f64::NAN, |(user, system)| (user + system) / PER_SECOND)
}

/// Normal deviate from twelve uniform ones: good to well beyond the quantiles used here.
fn normal(random: &mut Pcg64) -> f64 {
    (0..12).map(|_| random.random::<f64>()).sum::<f64>() - 6.0
}

/// Largest resident size of this process so far, GB; NaN where the system does not say.
fn peak_gb() -> f64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"));
    let kilobytes = line.and_then(|line| line.split_whitespace().next()?.parse::<f64>().ok());
    kilobytes.map_or(f64::NAN, |kb| kb / 1048576.0)
}
