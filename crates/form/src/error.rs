//! What can go wrong: reading a file, or measuring what was read.

/// Why a file could not be read as a height map or a mesh. One clear line: what was found and what is needed.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum ReadError {
    /// The file could not be opened.
    #[error("cannot open {path}: {reason}")]
    Open {
        /// The path asked for.
        path: String,
        /// What the system said.
        reason: String,
    },
    /// The name's ending is not one of those that are read.
    #[error("{file} is none of the formats read here; needed: {needed}")]
    UnknownFormat {
        /// Name of the file.
        file: String,
        /// The endings that are read.
        needed: &'static str,
    },
    /// The format does not say in which unit its numbers are.
    #[error("a {format} file does not say its unit; state {needed}")]
    UnitNeeded {
        /// Name of the format.
        format: &'static str,
        /// What to state.
        needed: &'static str,
    },
    /// The file asks for more memory than allowed.
    #[error("{what} would need {found}, more than the limit of {limit}; raise the limit or reduce the file")]
    TooLarge {
        /// Which part.
        what: &'static str,
        /// How much it asks for.
        found: u64,
        /// How much is allowed.
        limit: u64,
    },
    /// The contents contradict the format.
    #[error("damaged {format} file: {fault}; export or copy it again")]
    Damaged {
        /// Name of the format.
        format: &'static str,
        /// What is wrong, and where.
        fault: String,
    },
    /// A correct file of a kind that is not read.
    #[error("this {format} file {fault}")]
    Unsupported {
        /// Name of the format.
        format: &'static str,
        /// What it holds, and what would be read.
        fault: String,
    },
    /// Nothing to measure in it.
    #[error("{format} file holds {fault}; nothing can be measured on it")]
    Empty {
        /// Name of the format.
        format: &'static str,
        /// What is missing.
        fault: &'static str,
    },
}

/// Why a quantity could not be measured on what was read.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum MeasureError {
    /// Fewer usable points than the quantity needs.
    #[error("{what} needs at least {needed} usable points, found {found}")]
    TooFewPoints {
        /// The quantity.
        what: &'static str,
        /// Points found.
        found: usize,
        /// Points needed.
        needed: usize,
    },
    /// The points do not span what they must span.
    #[error("{what}: {fault}")]
    Degenerate {
        /// The quantity.
        what: &'static str,
        /// What is wrong and what would do.
        fault: &'static str,
    },
    /// A setting is out of its range.
    #[error("{name} is {found}, needed: {needed}")]
    BadSetting {
        /// Name of the setting.
        name: &'static str,
        /// Its value.
        found: f64,
        /// Its allowed range.
        needed: &'static str,
    },
    /// The measurement was stopped by the caller.
    #[error("stopped before the end")]
    Stopped,
}
