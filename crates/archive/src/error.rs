//! What can go wrong with an examination on disk. Each message says what is wrong, then what to do.

use std::io;
use std::path::{Path, PathBuf};

/// Why the examination could not be read or written.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum ArchiveError {
    /// The folder holds no examination.
    #[error("{} holds no examination; begin one there, or name the folder that has examination.sqlite in it", .0.display())]
    NotAnExamination(PathBuf),
    /// The folder already holds one.
    #[error("{} already holds an examination; choose another folder, or go on with this one", .0.display())]
    AlreadyBegun(PathBuf),
    /// The folder has other things in it.
    #[error("{} is not empty; choose a new or an empty folder", .0.display())]
    NotEmpty(PathBuf),
    /// The database was written by a later version.
    #[error(
        "the examination was written by a later version (form {found}, this program knows {known}); use a newer rubstone"
    )]
    TooNew {
        /// Schema number found.
        found: i64,
        /// Newest schema number known here.
        known: i64,
    },
    /// The database file is not one of ours or is damaged.
    #[error("examination.sqlite is damaged or not an examination ({0}); restore it from a copy or a package")]
    Damaged(String),
    /// Another program holds the database for too long.
    #[error("another program is writing to this examination; wait until it is done, then try again")]
    Busy,
    /// No space is left.
    #[error("the disk that holds {} is full; free some space and do this step again, nothing half-written is kept", .0.display())]
    DiskFull(PathBuf),
    /// Writing is not allowed.
    #[error("{} may not be written; check the folder's permissions or copy the examination to a writable disk", .0.display())]
    ReadOnly(PathBuf),
    /// A file to be added could not be read.
    #[error("cannot be read ({reason}); check that the file is still there and may be read")]
    Unreadable {
        /// What the operating system says.
        reason: String,
    },
    /// The file changed while it was being added.
    #[error("changed while it was being added; add it again once nothing writes to it")]
    ChangedUnderway,
    /// An original is missing or altered.
    #[error("the original {sha256} is {what}; restore it from the camera's card, a copy or a package")]
    OriginalLost {
        /// Its SHA-256.
        sha256: String,
        /// "missing" or "altered".
        what: &'static str,
    },
    /// There is no such thing in this examination.
    #[error("there is no {what} {id} in this examination; list what there is with `rubstone status`")]
    NoSuch {
        /// Kind of thing.
        what: &'static str,
        /// Number or name asked for.
        id: String,
    },
    /// A value that makes no sense.
    #[error("{what} cannot be {value}; {needed}")]
    BadValue {
        /// Which value.
        what: &'static str,
        /// What was given.
        value: String,
        /// What would be right.
        needed: &'static str,
    },
    /// Any other trouble with a file.
    #[error("{}: {reason}; check the disk and the folder's permissions", .path.display())]
    Disk {
        /// Which file.
        path: PathBuf,
        /// What the operating system says.
        reason: String,
    },
    /// Any other trouble with the database.
    #[error("the examination's database refused this step ({0}); nothing was changed")]
    Database(String),
}

impl ArchiveError {
    /// Sorts an operating-system error on `path`.
    pub(crate) fn disk(path: &Path, error: &io::Error) -> Self {
        match error.kind() {
            io::ErrorKind::StorageFull | io::ErrorKind::QuotaExceeded => Self::DiskFull(path.to_path_buf()),
            io::ErrorKind::PermissionDenied | io::ErrorKind::ReadOnlyFilesystem => {
                Self::ReadOnly(path.to_path_buf())
            }
            _ => Self::Disk { path: path.to_path_buf(), reason: error.to_string() },
        }
    }
}

impl From<rusqlite::Error> for ArchiveError {
    fn from(error: rusqlite::Error) -> Self {
        use rusqlite::ErrorCode;
        match error.sqlite_error_code() {
            Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) => Self::Busy,
            Some(ErrorCode::DiskFull) => Self::DiskFull(PathBuf::from("examination.sqlite")),
            Some(ErrorCode::ReadOnly | ErrorCode::PermissionDenied | ErrorCode::CannotOpen) => {
                Self::ReadOnly(PathBuf::from("examination.sqlite"))
            }
            Some(ErrorCode::NotADatabase | ErrorCode::DatabaseCorrupt) => Self::Damaged(error.to_string()),
            _ => Self::Database(error.to_string()),
        }
    }
}
