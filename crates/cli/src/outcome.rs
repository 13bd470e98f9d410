//! How a command ends: what failed, and the exit code that says so.

use std::path::Path;

use archive::{ArchiveError, Examination};
use examine::{ExamineError, Failure, shown};
use wire::FormError;

/// Done.
pub const DONE: u8 = 0;
/// Some inputs failed, the rest is done.
pub const SOME_FAILED: u8 = 1;
/// Wrong usage.
pub const USAGE: u8 = 2;
/// A mistake of ours.
pub const INTERNAL: u8 = 3;

/// A command that did what it could.
#[derive(Debug, Default)]
pub struct Outcome {
    /// Inputs that failed.
    pub failures: Vec<Failure>,
}

/// A command that could not go on.
#[derive(Debug)]
pub struct Stop {
    /// What it was about, in front of the line; empty if the words say it.
    pub subject: String,
    /// Why.
    pub error: ExamineError,
}

impl Stop {
    /// The one line that says so.
    pub fn line(&self) -> String {
        if self.subject.is_empty() {
            return format!("rubstone: {}", self.error);
        }
        Failure::new(&self.subject, &self.error).line
    }
}

impl<E: Into<ExamineError>> From<E> for Stop {
    fn from(error: E) -> Self {
        Self { subject: String::new(), error: error.into() }
    }
}

/// Names what an error is about.
pub trait About<T> {
    /// The same with `path` in front of its line.
    fn about(self, path: &Path) -> Result<T, Stop>;
}

impl<T, E: Into<ExamineError>> About<T> for Result<T, E> {
    fn about(self, path: &Path) -> Result<T, Stop> {
        self.map_err(|error| Stop { subject: shown(path), error: error.into() })
    }
}

/// Opens an examination and says what an interrupted program had left in it.
pub fn open(root: &Path) -> Result<Examination, Stop> {
    let examination = Examination::open(root)?;
    for left in examination.unfinished() {
        crate::say::note(&format!("{}: {left}", shown(root)));
    }
    Ok(examination)
}

/// The exit code of a command that could not go on.
pub fn failed_code(error: &ExamineError) -> u8 {
    match error {
        ExamineError::Request(_)
        | ExamineError::Archive(
            ArchiveError::NotAnExamination(_)
            | ArchiveError::AlreadyBegun(_)
            | ArchiveError::NotEmpty(_)
            | ArchiveError::NoSuch { .. }
            | ArchiveError::BadValue { .. },
        ) => USAGE,
        ExamineError::Report(_) | ExamineError::Form(FormError::Unwritable(_)) => INTERNAL,
        _ => SOME_FAILED,
    }
}
