//! The rubstone command.

use std::process::ExitCode;

fn main() -> ExitCode {
    cli::main()
}
