//! A capture by whatever somebody calls it.

use archive::{Capture, Examination};

use crate::ExamineError;

/// Fewest digits of a SHA-256 that name a capture.
const LEAST_DIGITS: usize = 8;

/// The capture of this number, file name or beginning of its SHA-256.
///
/// # Errors
/// There is none, or the file name is that of several.
pub fn find_capture(examination: &Examination, called: &str) -> Result<Capture, ExamineError> {
    let captures = examination.captures()?;
    // A path's last part is the name it was taken in under.
    let name = std::path::Path::new(called).file_name().map(|name| name.to_string_lossy().into_owned());
    let mut named = captures.iter().filter(|capture| Some(&capture.file_name) == name.as_ref());
    if let Some(first) = named.next() {
        let others: Vec<String> = named.map(|capture| capture.id.to_string()).collect();
        if others.is_empty() {
            return Ok(first.clone());
        }
        return Err(ExamineError::request(format!(
            "several captures are called {called}: {}, {}; give the number instead",
            first.id,
            others.join(", ")
        )));
    }
    let numbered = captures.iter().find(|capture| capture.id.to_string() == called);
    let hashed = || captures.iter().find(|c| called.len() >= LEAST_DIGITS && c.sha256.starts_with(called));
    numbered.or_else(hashed).cloned().ok_or_else(|| {
        ExamineError::request(format!(
            "no capture is called {called} in this examination; give a file name, a number or a SHA-256"
        ))
    })
}
