//! What goes to whom: results to stdout, everything else to stderr. A reader who has gone away is no error.

use std::io::{self, Write};

/// A line of the result.
pub fn result(line: &str) {
    drop(writeln!(io::stdout().lock(), "{line}"));
}

/// A remark for whoever watches.
pub fn note(line: &str) {
    drop(writeln!(io::stderr().lock(), "{line}"));
}

/// What failed.
pub fn error(line: &str) {
    note(line);
}
