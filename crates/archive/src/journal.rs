//! What is under way, so that a killed program's half-done work is known, named, and finished or cleared.
//!
//! Every program that writes has a session: a folder `work/<uuid>` and beside it a file `work/<uuid>.lock` that it keeps
//! locked. The operating system lets go of the lock when the program ends, however it ends; whoever opens the examination
//! next and can take the lock knows that the session is dead. The lock is there before the folder and goes after it: a
//! folder without one belongs to nobody.

use std::fmt;
use std::fs::{self, File, TryLockError};
use std::path::{Path, PathBuf};

use rusqlite::OptionalExtension;
use uuid::Uuid;

use crate::captures::ARRIVAL_COLUMNS;
use crate::examination::{ORIGINALS, WORK, now};
use crate::{ArchiveError, Examination, disk};

/// What the name of a session's lock ends with.
const LOCK: &str = ".lock";

/// A running program's place for half-done files.
#[derive(Debug)]
pub(crate) struct Session {
    id: String,
    folder: PathBuf,
    lock: PathBuf,
    /// Held, never read: the lock lives as long as this.
    _held: File,
}

/// Where the lock of a session lies.
fn lock_of(root: &Path, session: &str) -> PathBuf {
    root.join(WORK).join(format!("{session}{LOCK}"))
}

impl Session {
    fn begin(root: &Path) -> Result<Self, ArchiveError> {
        disk::make_folder(&root.join(WORK))?;
        loop {
            let id = Uuid::now_v7().to_string();
            let lock = lock_of(root, &id);
            let held = File::create(&lock).map_err(|e| ArchiveError::disk(&lock, &e))?;
            held.lock().map_err(|e| ArchiveError::disk(&lock, &e))?;
            // Between making and locking, another program may have taken it for a dead one's and removed it.
            if lock.exists() {
                let folder = root.join(WORK).join(&id);
                disk::make_folder(&folder)?;
                return Ok(Self { id, folder, lock, _held: held });
            }
        }
    }

    pub(crate) fn folder(&self) -> &Path {
        &self.folder
    }
}

impl Drop for Session {
    fn drop(&mut self) {
        // What cannot be removed is found and cleared at the next opening.
        drop(fs::remove_dir_all(&self.folder));
        drop(fs::remove_file(&self.lock));
    }
}

/// Kind of work that can be interrupted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum WorkKind {
    /// A picture is being taken in.
    Add,
    /// A capture is being measured.
    Measure,
    /// Finishes are being weighed.
    Weigh,
    /// The report is being written.
    Report,
    /// A package is being written.
    Package,
}

impl WorkKind {
    const ALL: [Self; 5] = [Self::Add, Self::Measure, Self::Weigh, Self::Report, Self::Package];

    fn word(self) -> &'static str {
        match self {
            Self::Add => "add",
            Self::Measure => "measure",
            Self::Weigh => "weigh",
            Self::Report => "report",
            Self::Package => "package",
        }
    }

    fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|kind| kind.word() == word)
    }
}

/// A note in the journal that some work has begun; hand it to [`Examination::close`] when it is over.
#[must_use = "an intent that is never closed is reported as unfinished at the next opening"]
#[derive(Debug, PartialEq, Eq)]
pub struct Intent(pub(crate) i64);

/// What a killed program had been doing, and what was made of it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Unfinished {
    /// Kind of work; `None` if a later version wrote it.
    pub kind: Option<WorkKind>,
    /// What it was about: usually a file name.
    pub subject: String,
    /// It has been finished now; otherwise it was cleared and has to be done again.
    pub finished: bool,
}

impl fmt::Display for Unfinished {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let doing = match self.kind {
            Some(WorkKind::Add) => "adding",
            Some(WorkKind::Measure) => "measuring",
            Some(WorkKind::Weigh) => "weighing",
            Some(WorkKind::Report) => "writing the report of",
            Some(WorkKind::Package) => "packing",
            None => "working on",
        };
        let outcome = if self.finished { "finished now" } else { "cleared; do it again" };
        write!(f, "{doing} {} had been interrupted: {outcome}", self.subject)
    }
}

impl Examination {
    /// This program's session, begun when first needed: reading alone leaves no mark.
    pub(crate) fn session(&self) -> Result<&Session, ArchiveError> {
        if let Some(session) = self.session.get() {
            return Ok(session);
        }
        let begun = Session::begin(&self.root)?;
        Ok(self.session.get_or_init(|| begun))
    }

    /// Notes that some work on `subject` begins.
    ///
    /// # Errors
    /// Trouble with the disk or the database.
    pub fn intend(&self, kind: WorkKind, subject: &str) -> Result<Intent, ArchiveError> {
        let session = self.session()?.id.clone();
        self.change(|db| {
            db.execute(
                "INSERT INTO journal (session, kind, subject, began_at) VALUES (?1, ?2, ?3, ?4)",
                (session, kind.word(), subject, now()),
            )?;
            Ok(Intent(db.last_insert_rowid()))
        })
    }

    /// Notes that the work is over, whether it succeeded or was given up in good order.
    ///
    /// # Errors
    /// Trouble with the database.
    pub fn close(&self, intent: Intent) -> Result<(), ArchiveError> {
        self.change(|db| Ok(db.execute("DELETE FROM journal WHERE id = ?1", [intent.0]).map(drop)?))
    }

    /// Finishes or clears what dead sessions left behind.
    pub(crate) fn recover(&self) -> Result<Vec<Unfinished>, ArchiveError> {
        let mut unfinished = Vec::new();
        for (session, lock) in self.dead_sessions()? {
            let mut notes =
                self.db.prepare("SELECT id, kind, subject FROM journal WHERE session = ?1 ORDER BY id")?;
            let notes: Vec<(i64, String, String)> = notes
                .query_map([&session], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?)))?
                .collect::<Result<_, _>>()?;
            for (id, kind, subject) in notes {
                let finished = self.finish_arrival(id, &session)?;
                self.close(Intent(id))?;
                unfinished.push(Unfinished { kind: WorkKind::from_word(&kind), subject, finished });
            }
            drop(fs::remove_dir_all(self.root.join(WORK).join(&session)));
            drop(fs::remove_file(lock_of(&self.root, &session)));
            drop(lock);
        }
        Ok(unfinished)
    }

    /// Dead sessions in the journal or the work folder, each with its lock if it has one: while that is held, no other
    /// program takes the session up as well.
    fn dead_sessions(&self) -> Result<Vec<(String, Option<File>)>, ArchiveError> {
        let mut names = self.db.prepare("SELECT DISTINCT session FROM journal")?;
        let mut names: Vec<String> = names.query_map([], |row| row.get(0))?.collect::<Result<_, _>>()?;
        let work = self.root.join(WORK);
        if let Ok(entries) = fs::read_dir(&work) {
            let entries = entries.flatten().filter_map(|entry| entry.file_name().into_string().ok());
            names.extend(entries.map(|name| name.strip_suffix(LOCK).map_or(name.clone(), str::to_owned)));
        }
        names.sort();
        names.dedup();
        let mut dead = Vec::new();
        for name in names {
            match File::open(lock_of(&self.root, &name)) {
                Err(_) => dead.push((name, None)),
                Ok(file) => match file.try_lock() {
                    Ok(()) => dead.push((name, Some(file))),
                    // Where the disk knows no locks nobody can be told dead: leave everything alone.
                    Err(TryLockError::WouldBlock | TryLockError::Error(_)) => {}
                },
            }
        }
        Ok(dead)
    }

    /// If the picture of an interrupted addition is whole on disk, enters it; `false` if it is not.
    fn finish_arrival(&self, journal: i64, session: &str) -> Result<bool, ArchiveError> {
        let sha256: Option<String> = self
            .db
            .query_row("SELECT sha256 FROM arrivals WHERE journal = ?1", [journal], |row| row.get(0))
            .optional()?;
        let Some(sha256) = sha256 else { return Ok(false) };
        let original = self.root.join(ORIGINALS).join(&sha256);
        let half_done = self.root.join(WORK).join(session).join(journal.to_string());
        let whole = |path: &Path| disk::hash_file(path).is_ok_and(|found| found.sha256 == sha256);
        if !whole(&original) {
            if !whole(&half_done) {
                return Ok(false);
            }
            disk::put_in_place(&half_done, &original)?;
        }
        self.change(|db| {
            db.execute(
                &format!(
                    "INSERT OR IGNORE INTO captures ({ARRIVAL_COLUMNS})
                     SELECT {ARRIVAL_COLUMNS} FROM arrivals WHERE journal = ?1"
                ),
                [journal],
            )?;
            Ok(true)
        })
    }
}
