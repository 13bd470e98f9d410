//! Beginning and opening an examination folder.

use std::cell::OnceCell;
use std::fs;
use std::path::{Path, PathBuf};
use std::time::Duration;

use rusqlite::{Connection, OpenFlags, Transaction, TransactionBehavior};
use uuid::Uuid;

use crate::journal::Session;
use crate::{ArchiveError, Unfinished, disk, schema};

/// File name of the database.
pub const DATABASE: &str = "examination.sqlite";
/// Folder of the untouched originals.
pub const ORIGINALS: &str = "originals";
/// Folder of what is under way.
pub(crate) const WORK: &str = "work";
/// How long a step waits for another program's step: a step takes milliseconds, only a disk in trouble takes longer.
const PATIENCE: Duration = Duration::from_secs(10);

/// One object's dossier, open for reading and writing. Several programs may have the same one open at once.
#[derive(Debug)]
pub struct Examination {
    pub(crate) root: PathBuf,
    pub(crate) db: Connection,
    pub(crate) session: OnceCell<Session>,
    unfinished: Vec<Unfinished>,
}

impl Examination {
    /// Begins an examination in a new or empty folder. `software` is written beside it, such as "rubstone 0.1.0".
    ///
    /// # Errors
    /// [`ArchiveError::AlreadyBegun`], [`ArchiveError::NotEmpty`], or trouble with the disk.
    pub fn begin(root: &Path, software: &str) -> Result<Self, ArchiveError> {
        let database = root.join(DATABASE);
        if database.exists() {
            return Err(ArchiveError::AlreadyBegun(root.to_path_buf()));
        }
        disk::make_folder(root)?;
        let temporary = root.join(format!("{DATABASE}.new"));
        for entry in fs::read_dir(root).map_err(|e| ArchiveError::disk(root, &e))? {
            let entry = entry.map_err(|e| ArchiveError::disk(root, &e))?;
            let name = entry.file_name();
            // What a killed beginning left behind is no reason to refuse.
            let ours = name.to_string_lossy().starts_with(DATABASE) || name == ORIGINALS || name == WORK;
            if !ours {
                return Err(ArchiveError::NotEmpty(root.to_path_buf()));
            }
        }
        disk::make_folder(&root.join(ORIGINALS))?;
        disk::make_folder(&root.join(WORK))?;
        disk::remove_quietly(&temporary);
        disk::remove_quietly(&root.join(format!("{DATABASE}.new-journal")));
        {
            let db = Connection::open(&temporary)?;
            schema::migrate(&db)?;
            db.execute(
                "INSERT INTO examination (one, uuid, begun_at, software) VALUES (1, ?1, ?2, ?3)",
                (Uuid::now_v7().to_string(), now(), software),
            )?;
        }
        disk::put_in_place(&temporary, &database)?;
        Self::open(root)
    }

    /// Opens an examination, brings its form up to date, and finishes or clears what a killed program left behind
    /// (see [`Self::unfinished`]).
    ///
    /// # Errors
    /// [`ArchiveError::NotAnExamination`], [`ArchiveError::TooNew`], [`ArchiveError::Damaged`], or trouble with the
    /// disk.
    pub fn open(root: &Path) -> Result<Self, ArchiveError> {
        let database = root.join(DATABASE);
        if !database.is_file() {
            return Err(ArchiveError::NotAnExamination(root.to_path_buf()));
        }
        let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let db = Connection::open_with_flags(&database, flags)?;
        db.busy_timeout(PATIENCE)?;
        schema::check_ours(&db)?;
        db.pragma_update_and_check(None, "journal_mode", "WAL", |_| Ok(()))?;
        // What was reported as done survives a power cut.
        db.pragma_update(None, "synchronous", "FULL")?;
        db.pragma_update(None, "foreign_keys", true)?;
        schema::migrate(&db)?;
        let mut examination =
            Self { root: root.to_path_buf(), db, session: OnceCell::new(), unfinished: Vec::new() };
        examination.unfinished = examination.recover()?;
        Ok(examination)
    }

    /// The folder.
    #[must_use]
    pub fn root(&self) -> &Path {
        &self.root
    }

    /// What an earlier, killed program had been in the middle of when this examination was opened.
    #[must_use]
    pub fn unfinished(&self) -> &[Unfinished] {
        &self.unfinished
    }

    /// The examination's own identifier, for packages.
    ///
    /// # Errors
    /// Trouble with the database.
    pub fn uuid(&self) -> Result<String, ArchiveError> {
        Ok(self.db.query_row("SELECT uuid FROM examination", [], |row| row.get(0))?)
    }

    /// When it was begun (RFC 3339, UTC).
    ///
    /// # Errors
    /// Trouble with the database.
    pub fn begun_at(&self) -> Result<String, ArchiveError> {
        Ok(self.db.query_row("SELECT begun_at FROM examination", [], |row| row.get(0))?)
    }

    /// A number that grows with every change, so that a second window notices it.
    ///
    /// # Errors
    /// Trouble with the database.
    pub fn revision(&self) -> Result<i64, ArchiveError> {
        Ok(self.db.query_row("SELECT revision FROM examination", [], |row| row.get(0))?)
    }

    /// Does one change as a whole or not at all.
    pub(crate) fn change<T>(
        &self,
        step: impl FnOnce(&Transaction<'_>) -> Result<T, ArchiveError>,
    ) -> Result<T, ArchiveError> {
        // Immediate: the lock is taken (and waited for) before anything is read, so no step has to be undone.
        let transaction = Transaction::new_unchecked(&self.db, TransactionBehavior::Immediate)?;
        let done = step(&transaction)?;
        transaction.execute("UPDATE examination SET revision = revision + 1", [])?;
        transaction.commit()?;
        Ok(done)
    }

    /// Writes a file for readers, such as `report/report.html`, whole or not at all. `relative` uses `/`.
    ///
    /// # Errors
    /// [`ArchiveError::BadValue`] for a path that leaves the folder; a full or unwritable disk.
    pub fn write_file(&self, relative: &str, bytes: &[u8]) -> Result<PathBuf, ArchiveError> {
        let plain = !relative.is_empty()
            && relative
                .split('/')
                .all(|part| !part.is_empty() && part != "." && part != ".." && !part.contains('\\'));
        let protected = [DATABASE, ORIGINALS, WORK].iter().any(|own| relative.starts_with(own));
        if !plain || protected {
            return Err(ArchiveError::BadValue {
                what: "the name of a file in the examination",
                value: relative.to_owned(),
                needed: "give a relative path outside originals and work",
            });
        }
        let to = relative.split('/').fold(self.root.clone(), |path, part| path.join(part));
        disk::make_folder(to.parent().unwrap_or(&self.root))?;
        let temporary = self.session()?.folder().join(Uuid::now_v7().to_string());
        disk::write_whole(bytes, &temporary, &to)?;
        Ok(to)
    }
}

/// The time now, RFC 3339 in UTC to the second.
pub(crate) fn now() -> String {
    jiff::Timestamp::now().strftime("%Y-%m-%dT%H:%M:%SZ").to_string()
}
