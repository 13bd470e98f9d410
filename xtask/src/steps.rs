//! The commands, as lists of steps.

use crate::{house, setup};
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::Instant;

/// The root of the repository.
pub fn repository() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().map_or_else(|| PathBuf::from("."), Path::to_path_buf)
}

/// Runs a program in the repository's root; its failure is an error that names it.
pub fn run(program: &str, arguments: &[&str]) -> Result<(), String> {
    run_in(&repository(), program, arguments)
}

/// Runs a program in `folder`.
pub fn run_in(folder: &Path, program: &str, arguments: &[&str]) -> Result<(), String> {
    run_with(folder, program, arguments, &[])
}

fn run_with(
    folder: &Path,
    program: &str,
    arguments: &[&str],
    environment: &[(&str, &str)],
) -> Result<(), String> {
    let shown = format!("{program} {}", arguments.join(" "));
    eprintln!("+ {shown}");
    let start = Instant::now();
    let status = Command::new(program)
        .args(arguments)
        .current_dir(folder)
        .envs(environment.iter().copied())
        .status()
        .map_err(|e| format!("{shown}: {e}"))?;
    eprintln!("  {:.0} s", start.elapsed().as_secs_f64());
    if status.success() { Ok(()) } else { Err(format!("{shown}: {status}")) }
}

/// A program that cargo has built.
fn built(name: &str) -> PathBuf {
    let target =
        std::env::var_os("CARGO_TARGET_DIR").map_or_else(|| repository().join("target"), PathBuf::from);
    target.join("release").join(name)
}

/// Builds the program. The whole workspace is named so that its libraries get the same features as in the tests and are
/// not compiled twice.
const BUILD: [&str; 6] = ["build", "--release", "--locked", "--workspace", "--bin", "rubstone"];

/// Sets up, builds, runs the sample examination and opens the workbench on it.
pub fn sample(arguments: &[String]) -> Result<(), String> {
    let (flags, folders): (Vec<&String>, Vec<&String>) = arguments.iter().partition(|a| a.starts_with("--"));
    if let Some(unknown) = flags.iter().find(|f| !["--no-browser", "--no-desk"].contains(&f.as_str())) {
        return Err(format!("unknown option {unknown}; known: --no-browser, --no-desk"));
    }
    let folder = match folders.as_slice() {
        [] => repository().join("target/sample").display().to_string(),
        [folder] => std::path::absolute(folder).map_err(|e| format!("{folder}: {e}"))?.display().to_string(),
        _ => return Err("one folder at most".to_owned()),
    };
    setup::web()?;
    run("cargo", &BUILD)?;
    let rubstone = built("rubstone").display().to_string();
    run(&rubstone, &["sample", &folder])?;
    match flags.iter().map(|f| f.as_str()).collect::<Vec<_>>().as_slice() {
        [] => run(&rubstone, &["--examination", &folder]),
        ["--no-browser"] => run(&rubstone, &["--examination", &folder, "--no-browser"]),
        _ => Ok(()),
    }
}

/// Everything CI runs, cheapest first. Continues in one build profile so that nothing is compiled twice.
pub fn test() -> Result<(), String> {
    let start = Instant::now();
    run("cargo", &["fmt", "--all", "--check"])?;
    house::check()?;
    setup::debian_packages()?;
    setup::web()?;
    let web = repository().join("web");
    run_in(&web, "npm", &["run", "check"])?;
    run_in(&web, "npm", &["test"])?;
    run(
        "cargo",
        &["clippy", "--workspace", "--all-targets", "--release", "--locked", "--", "-D", "warnings"],
    )?;
    // The test of these meshes says that it had none where they cannot be fetched.
    let meshes = setup::meshes().map(|folder| folder.display().to_string()).unwrap_or_else(|reason| {
        eprintln!("no meshes of others: {reason}");
        String::new()
    });
    let tests = ["test", "--workspace", "--release", "--locked"];
    run_with(&repository(), "cargo", &tests, &[("RUBSTONE_MESHES", &meshes)])?;
    let under_test = built("rubstone-under-test").display().to_string();
    run_with(&web, "npm", &["run", "browser"], &[("RUBSTONE", &under_test)])?;
    let docs = ["doc", "--workspace", "--lib", "--no-deps", "--release", "--locked"];
    run_with(&repository(), "cargo", &docs, &[("RUSTDOCFLAGS", "-D warnings")])?;
    eprintln!("all checks passed in {:.0} s", start.elapsed().as_secs_f64());
    Ok(())
}

/// Coverage counters that libFuzzer steers by, and a guard around every access to memory.
const FUZZ_FLAGS: &str = "-Cpasses=sancov-module -Cllvm-args=-sanitizer-coverage-level=4 \
    -Cllvm-args=-sanitizer-coverage-inline-8bit-counters -Cllvm-args=-sanitizer-coverage-pc-table \
    -Cllvm-args=-sanitizer-coverage-trace-compares -Ccodegen-units=1 -Zsanitizer=address --cfg fuzzing";

/// Feeds random bytes to each reader for some seconds; what it finds is written to `fuzz/corpus`.
pub fn fuzz(arguments: &[String]) -> Result<(), String> {
    let seconds = match arguments {
        [] => 60,
        [seconds] => seconds.parse::<u32>().map_err(|_| format!("'{seconds}' is no number of seconds"))?,
        _ => return Err("one number of seconds at most".to_owned()),
    };
    let root = repository();
    for target in ["picture", "x3p", "grid", "mesh"] {
        let corpus = root.join("fuzz/corpus").join(target);
        std::fs::create_dir_all(&corpus).map_err(|e| format!("{}: {e}", corpus.display()))?;
        let time = format!("-max_total_time={seconds}");
        let folders = [format!("fuzz/corpus/{target}"), format!("fuzz/seeds/{target}")];
        let mut command = vec!["run", "--release", "--manifest-path", "fuzz/Cargo.toml"];
        command.extend(["--target", "x86_64-unknown-linux-gnu", "--bin", target, "--"]);
        // One input may take neither long nor much memory.
        command.extend(["-timeout=10", "-rss_limit_mb=2048", "-malloc_limit_mb=512", &time]);
        command.extend(folders.iter().map(String::as_str));
        // The instrumentation is not stable; the compiler that everything else is built with has it.
        run_with(&root, "cargo", &command, &[("RUSTFLAGS", FUZZ_FLAGS), ("RUSTC_BOOTSTRAP", "1")])?;
    }
    Ok(())
}

/// Prints one table of benchmarks.
pub fn bench(arguments: &[String]) -> Result<(), String> {
    let Some((name, rest)) = arguments.split_first() else {
        return Err("which table? traces, weigh, form or desk".to_owned());
    };
    if name == "desk" {
        setup::debian_packages()?;
        setup::web()?;
        run("cargo", &BUILD)?;
        return run_in(&repository().join("web"), "npm", &["run", "bench"]);
    }
    let mut command = vec!["run", "--release", "--locked", "--package", "rubstone-benches"];
    // The table of traces is the package's own program and is told its name; the others are programs of their own.
    if name == "traces" {
        command.extend(["--", "traces"]);
    } else {
        command.extend(["--bin", name.as_str(), "--"]);
    }
    command.extend(rest.iter().map(String::as_str));
    if name == "form" {
        let meshes = setup::meshes()?.display().to_string();
        return run_with(&repository(), "cargo", &command, &[("RUBSTONE_MESHES", &meshes)]);
    }
    run("cargo", &command)
}
