//! Why a step of the job could not be done.

use std::path::Path;

use archive::ArchiveError;
use picture::PictureError;
use report::ReportError;
use trace::TraceError;
use weigh::CannotWeigh;
use wire::FormError;

/// Why a step could not be done. Each message says what is wrong, then what to do.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum ExamineError {
    /// The examination on disk.
    #[error(transparent)]
    Archive(#[from] ArchiveError),
    /// A text that is not the form it should be.
    #[error(transparent)]
    Form(#[from] FormError),
    /// A picture that cannot be read.
    #[error(transparent)]
    Picture(#[from] PictureError),
    /// A picture that cannot be traced.
    #[error(transparent)]
    Trace(#[from] TraceError),
    /// A report that cannot be printed.
    #[error(transparent)]
    Report(#[from] ReportError),
    /// A visit that cannot be weighed.
    #[error(transparent)]
    Weigh(#[from] CannotWeigh),
    /// A request that makes no sense; the words say what to do instead.
    #[error("{0}")]
    Request(String),
    /// Given up because the watcher said so.
    #[error("stopped before it was done; what was finished is kept, start it again to do the rest")]
    Stopped,
}

impl ExamineError {
    /// A request that makes no sense.
    pub fn request(words: impl Into<String>) -> Self {
        Self::Request(words.into())
    }
}

/// One input that failed, while the rest was done.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Failure {
    /// The input: usually a file.
    pub subject: String,
    /// One line: the input, what is wrong, what to do.
    pub line: String,
}

impl Failure {
    /// A failure of `subject`, with its name in front unless the words begin with it already.
    #[must_use]
    pub fn new(subject: &str, error: &ExamineError) -> Self {
        let words = error.to_string();
        let line = if words.starts_with(subject) { words } else { format!("{subject}: {words}") };
        Self { subject: subject.to_owned(), line: one_line(&line) }
    }

    /// A failure of a file.
    #[must_use]
    pub fn of_file(path: &Path, error: &ExamineError) -> Self {
        Self::new(&shown(path), error)
    }
}

/// A path for people: what is no text in it is shown as �, and a line break in a name does not break the line.
#[must_use]
pub fn shown(path: &Path) -> String {
    one_line(&path.to_string_lossy())
}

fn one_line(text: &str) -> String {
    text.chars().map(|c| if c.is_control() { '\u{fffd}' } else { c }).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_failure_is_one_line_that_begins_with_its_subject() {
        let plain = Failure::new("a b.png", &ExamineError::request("is a letter; choose a picture"));
        assert_eq!(plain.line, "a b.png: is a letter; choose a picture");
        let named = Failure::new("a.png", &ExamineError::request("a.png: is empty; copy it again"));
        assert_eq!(named.line, "a.png: is empty; copy it again");
        let broken = Failure::of_file(Path::new("a\nb.png"), &ExamineError::Stopped);
        assert!(!broken.line.contains('\n'));
    }
}
