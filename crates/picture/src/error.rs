//! What can be wrong with a picture file.

/// Why a file gave no picture. Every message names the file, says what is wrong and what to do.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum PictureError {
    /// The file could not be read from the disk.
    #[error("{file}: cannot be read ({detail}); check that it still exists, is a file and may be opened")]
    Unreadable {
        /// The file.
        file: String,
        /// What the system says.
        detail: String,
    },
    /// The file has no bytes.
    #[error("{file}: the file is empty (0 bytes); copy it again from the camera")]
    Empty {
        /// The file.
        file: String,
    },
    /// The content is not a picture of a kind that is read here.
    #[error("{file}: the content is {found}, whatever the name says; {advice}")]
    NotAPicture {
        /// The file.
        file: String,
        /// What the first bytes look like.
        found: String,
        /// What to do.
        advice: &'static str,
    },
    /// A picture, in a form that is not read here.
    #[error("{file}: {what}; {advice}")]
    Unsupported {
        /// The file.
        file: String,
        /// What is not read.
        what: String,
        /// What to do.
        advice: &'static str,
    },
    /// The picture data end too early or contradict themselves.
    #[error(
        "{file}: the {format} data are damaged or cut off ({detail}); copy the file again from the camera or export it anew"
    )]
    Damaged {
        /// The file.
        file: String,
        /// Format name.
        format: &'static str,
        /// What the decoder met.
        detail: String,
    },
    /// More pixels than allowed, refused before any memory was taken.
    #[error(
        "{file}: the header announces {width} × {height} = {found_mp:.0} million pixels, more than the limit of {limit_mp:.0} million; crop or shrink it, \
         or raise the limit if you trust the file"
    )]
    TooLarge {
        /// The file.
        file: String,
        /// Width in pixels.
        width: u64,
        /// Height in pixels.
        height: u64,
        /// Pixels in millions.
        found_mp: f64,
        /// Allowed pixels in millions.
        limit_mp: f64,
    },
    /// Decoding would need more memory than allowed.
    #[error(
        "{file}: decoding needs about {needed_mb} MB of memory, more than the limit of {limit_mb} MB; {advice}"
    )]
    TooHeavy {
        /// The file.
        file: String,
        /// Memory needed, in megabytes.
        needed_mb: u64,
        /// Allowed memory, in megabytes.
        limit_mb: u64,
        /// What to do.
        advice: &'static str,
    },
    /// A plane without a pixel, or values that are no numbers at all.
    #[error("{file}: {what}; {advice}")]
    NoContent {
        /// The file.
        file: String,
        /// What is missing.
        what: String,
        /// What to do.
        advice: &'static str,
    },
}

/// A picture could not be written in the wanted form.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum EncodeError {
    /// The format cannot hold the picture's size.
    #[error(
        "{width} × {height} pixels do not fit into {format} (at least 1, at most {limit} a side); shrink the picture or take PNG"
    )]
    Size {
        /// Width in pixels.
        width: usize,
        /// Height in pixels.
        height: usize,
        /// Format name.
        format: &'static str,
        /// Largest side.
        limit: usize,
    },
    /// The encoder gave up.
    #[error("the {format} encoder stopped: {detail}")]
    Encoder {
        /// Format name.
        format: &'static str,
        /// Its own words.
        detail: String,
    },
}
