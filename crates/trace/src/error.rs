//! Why traces could not be looked for.

/// Why traces could not be found or fitted.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum TraceError {
    /// Too small to hold a trace.
    #[error(
        "a picture of {width_px} × {height_px} px cannot hold a trace; it needs at least {needed_px} px each way"
    )]
    TooSmall {
        /// Width of the picture.
        width_px: usize,
        /// Height of the picture.
        height_px: usize,
        /// Least side.
        needed_px: usize,
    },
    /// A hand-drawn line too short or with too few points to fit.
    #[error(
        "the line is {length_px:.0} px long inside the picture; at least {needed_px:.0} px are needed to fit it: draw it longer"
    )]
    TooShort {
        /// Length of the line inside the picture.
        length_px: f64,
        /// Least length.
        needed_px: f64,
    },
    /// The caller asked to stop.
    #[error("the search for traces was stopped before it was done; run it again to finish it")]
    Stopped,
}
