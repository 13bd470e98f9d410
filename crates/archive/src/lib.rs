//! The examination on disk: SQLite, untouched originals, journal and packages; the only writer.
//!
//! Invariant: the only crate that writes into an examination; never decodes a picture, and takes measurements,
//! readings and results as opaque text whose form it does not know.
//!
//! An examination is one folder:
//! ```text
//! examination.sqlite     everything that is written down
//! originals/<sha256>     every picture as it came, byte for byte, read-only
//! work/<session>/        what a running program is in the middle of, with <session>.lock beside it; empty when nothing runs
//! report/                what was last written for readers
//! ```
//! Nothing is reported as done before it is on disk: files are written beside their place, flushed, renamed, and only
//! then entered in the database. What a killed program left in the middle is named and cleared, or finished, when the
//! folder is opened next.

mod bag;
mod captures;
mod disk;
mod error;
mod examination;
mod instruments;
mod journal;
mod measurements;
mod object;
mod readings;
mod schema;
mod stations;
mod visits;

pub use bag::{BagText, Bagged};
pub use captures::{Added, Capture, CaptureKind, NewCapture};
pub use error::ArchiveError;
pub use examination::{DATABASE, Examination, ORIGINALS};
pub use instruments::{Instrument, InstrumentKind, Scale, Setting};
pub use journal::{Intent, Unfinished, WorkKind};
pub use measurements::{Measurement, NewMeasurement, StoredResult};
pub use object::{MineralShare, Object, Rock};
pub use readings::{Reading, ReadingEvent, ReadingStep};
pub use stations::{Pin, Station};
pub use visits::Visit;

/// Number of one row of a table, so that a station's number is never taken for a capture's.
macro_rules! row_id {
    ($(#[$doc:meta] $name:ident),+ $(,)?) => {$(
        #[$doc]
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub struct $name(pub i64);

        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                self.0.fmt(f)
            }
        }

        impl rusqlite::ToSql for $name {
            fn to_sql(&self) -> rusqlite::Result<rusqlite::types::ToSqlOutput<'_>> {
                self.0.to_sql()
            }
        }

        impl rusqlite::types::FromSql for $name {
            fn column_result(value: rusqlite::types::ValueRef<'_>) -> rusqlite::types::FromSqlResult<Self> {
                i64::column_result(value).map(Self)
            }
        }
    )+};
}

row_id! {
    /// Number of a station within its examination.
    StationId,
    /// Number of an instrument within its examination.
    InstrumentId,
    /// Number of a capture within its examination.
    CaptureId,
    /// Number of a measurement within its examination.
    MeasurementId,
    /// Number of a reading within its examination.
    ReadingId,
    /// Number of a visit within its examination.
    VisitId,
}
