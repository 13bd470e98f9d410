//! The rubstone command: arguments, progress bars, exit codes; no computation.
//!
//! Invariant: computes nothing and knows no file format; what it can do, the workbench can do, and both through
//! `examine`.

mod args;
mod commands;
mod outcome;
mod progress;
mod say;

use std::panic;
use std::process::ExitCode;

use clap::Parser;

use args::{Args, Command};
use outcome::{Outcome, failed_code};

/// Does what the command line asks for, and says how it ended.
#[must_use]
pub fn main() -> ExitCode {
    // A mistake of ours is said in one line that can be passed on, not as a dump.
    panic::set_hook(Box::new(|info| {
        say::error(&format!(
            "internal error: {info}; this is our mistake, please report it; the examination is consistent"
        ));
    }));
    match panic::catch_unwind(run) {
        Ok(code) => code,
        Err(_) => ExitCode::from(outcome::INTERNAL),
    }
}

fn run() -> ExitCode {
    let args = match Args::try_parse() {
        Ok(args) => args,
        Err(error) => {
            // Help and version are no errors and go to stdout; a closed pipe is no reason to complain.
            drop(error.print());
            return ExitCode::from(if error.use_stderr() { outcome::USAGE } else { outcome::DONE });
        }
    };
    let Some(command) = args.command else {
        return commands::open::run(&args.open);
    };
    let done = match &command {
        Command::Begin(args) => commands::begin::run(args),
        Command::Object(args) => commands::object::run(args),
        Command::Capture(args) => commands::capture::run(args),
        Command::Reading(args) => commands::reading::run(args),
        Command::Add(args) => commands::add::run(args),
        Command::Instrument(args) => commands::instrument::run(args),
        Command::Station(args) => commands::station::run(args),
        Command::Scale(args) => commands::scale::run(args),
        Command::Measure(args) => commands::measure::run(args),
        Command::Lay(args) => commands::lay::run(args),
        Command::Weigh(args) => commands::weigh::run(args),
        Command::Report(args) => commands::report::run(args),
        Command::Plan(args) => commands::plan::run(args),
        Command::Panel(args) => commands::panel::run(args),
        Command::Form(args) => commands::form::run(args),
        Command::Stone(args) => commands::stone::run(args),
        Command::Bag(args) => commands::bag::run(args),
        Command::Status(args) => commands::status::run(args),
        Command::Sample(args) => commands::sample::run(args),
        Command::Render(args) => commands::render::run(args),
    };
    match done {
        Ok(Outcome { failures }) => {
            for failure in &failures {
                say::error(&failure.line);
            }
            ExitCode::from(if failures.is_empty() { outcome::DONE } else { outcome::SOME_FAILED })
        }
        Err(failure) => {
            say::error(&failure.line());
            ExitCode::from(failed_code(&failure.error))
        }
    }
}
