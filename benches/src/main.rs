//! Prints the tables that say how good the measuring is.
//!
//! `traces [--set learn|dev|check|held] [--peers] [--only TEXT] [--overlay DIR] [--no-arcs]`, `traces --memory`.

use std::path::PathBuf;
use std::process::ExitCode;

use rubstone_benches::sets::Which;
use rubstone_benches::traces::{self, Order};

const USAGE: &str = "usage: traces [--set learn|dev|check|held] [--peers] [--only TEXT] [--overlay DIR] [--no-arcs] | traces --memory";

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    match read(&arguments) {
        Err(wrong) => {
            eprintln!("{wrong}\n{USAGE}");
            ExitCode::from(2)
        }
        Ok(order) => match traces::run(&order) {
            Ok(()) => ExitCode::SUCCESS,
            Err(failed) => {
                eprintln!("{failed}");
                ExitCode::FAILURE
            }
        },
    }
}

fn read(arguments: &[String]) -> Result<Order, String> {
    let mut rest = arguments.iter();
    if rest.next().map(String::as_str) != Some("traces") {
        return Err("the only table so far is `traces`".to_owned());
    }
    let mut order =
        Order { which: Which::Dev, peers: false, only: None, overlay: None, arcs: true, memory: false };
    while let Some(option) = rest.next() {
        let mut value = || rest.next().ok_or(format!("{option} needs a value"));
        match option.as_str() {
            "--set" => {
                order.which = match value()?.as_str() {
                    "learn" => Which::Learn,
                    "dev" => Which::Dev,
                    "check" => Which::Check,
                    "held" => Which::Held,
                    other => return Err(format!("no set is called '{other}'")),
                }
            }
            "--peers" => order.peers = true,
            "--only" => order.only = Some(value()?.clone()),
            "--overlay" => order.overlay = Some(PathBuf::from(value()?)),
            "--no-arcs" => order.arcs = false,
            "--memory" => order.memory = true,
            other => return Err(format!("unknown option '{other}'")),
        }
    }
    Ok(order)
}
