//! `rubstone` without a command: the workbench.

use std::process::ExitCode;

use desk::{DeskError, Options};

use crate::args::Open;
use crate::{outcome, say};

pub fn run(args: &Open) -> ExitCode {
    let options = Options { examination: args.examination.clone(), port: args.port };
    let served = desk::serve(&options, |address| {
        say::result(address);
        if args.no_browser {
            return;
        }
        match open::that_detached(address) {
            Ok(()) => say::note("The workbench is open in your browser; end it with Ctrl+C."),
            Err(error) => say::note(&format!(
                "No browser could be started ({error}); open the address above yourself and end the workbench with Ctrl+C."
            )),
        }
    });
    match served {
        Ok(()) => ExitCode::from(outcome::DONE),
        Err(error) => {
            say::error(&format!("rubstone: {error}"));
            ExitCode::from(match error {
                DeskError::Port { .. } | DeskError::Examination(_) => outcome::USAGE,
                _ => outcome::INTERNAL,
            })
        }
    }
}
