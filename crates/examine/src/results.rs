//! Results that belong to a whole examination, such as a weighing: one of each kind, kept as text.

use archive::{Examination, StoredResult};

use crate::{ExamineError, SOFTWARE};

/// Keeps a result in place of the earlier one of its kind. `settings` is what it depends on, as one line.
pub(crate) fn keep(
    examination: &Examination,
    kind: &str,
    settings: String,
    payload: String,
    seed: u64,
) -> Result<(), ExamineError> {
    let software = SOFTWARE.to_owned();
    let result = StoredResult { settings, payload, software, seed, made_at: String::new() };
    Ok(examination.keep_result(kind, &result)?)
}
