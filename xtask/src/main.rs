//! Chores of the house: `cargo xtask sample` runs the main job, `cargo xtask test` everything that CI runs.
//!
//! Invariant: depends on no other crate, so that it compiles in seconds on a fresh machine.

mod house;
mod setup;
mod steps;

use std::process::ExitCode;

const HELP: &str = "cargo xtask COMMAND

  sample [DIR]   set up, build, run the sample examination (pictures in, report out) and open the workbench
                 (--no-browser prints its address; --no-desk stops after the report)
  test           set up, then format, lints, house rules, unit and published-value tests, the end-to-end job,
                 browser tests and docs: all that CI runs
  check          the house rules alone (crate map, layers, sources of published values, file lengths)
  web            build the front end alone
  fuzz [SECONDS] feed random bytes to every reader of pictures, height maps and meshes, 60 seconds each
  bench NAME     print a table of benchmarks (traces, weigh, form, desk); peers are installed by the bench itself";

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let rest = arguments.get(1..).unwrap_or(&[]);
    let outcome = match arguments.first().map(String::as_str) {
        Some("sample") => steps::sample(rest),
        Some("test") => steps::test(),
        Some("check") => house::check(),
        Some("web") => setup::web(),
        Some("fuzz") => steps::fuzz(rest),
        Some("bench") => steps::bench(rest),
        _ => {
            eprintln!("{HELP}");
            return ExitCode::from(2);
        }
    };
    match outcome {
        Ok(()) => ExitCode::SUCCESS,
        Err(reason) => {
            eprintln!("xtask: {reason}");
            ExitCode::FAILURE
        }
    }
}
