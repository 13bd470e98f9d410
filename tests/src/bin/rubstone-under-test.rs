//! The rubstone command, built with the tests so that they run what they were built with.

use std::process::ExitCode;

fn main() -> ExitCode {
    cli::main()
}
