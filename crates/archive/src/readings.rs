//! What a person accepts, rejects and draws on a capture, as a list of steps that is only ever added to.

use rusqlite::{OptionalExtension, Row};

use crate::examination::now;
use crate::stations::check_name;
use crate::{ArchiveError, CaptureId, Examination, MeasurementId, ReadingId};

/// One person's reading of one measurement.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Reading {
    /// Its number.
    pub id: ReadingId,
    /// Whose it is.
    pub person: String,
    /// Of which capture.
    pub capture: CaptureId,
    /// Of which measurement of that capture.
    pub measurement: MeasurementId,
    /// When it was begun (RFC 3339, UTC).
    pub begun_at: String,
}

/// Kind of step.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ReadingStep {
    /// Traces accepted.
    Accept,
    /// Traces rejected.
    Reject,
    /// A trace drawn by hand.
    Draw,
    /// A trace cut in parts.
    Cut,
    /// Traces joined.
    Join,
    /// Traces marked as suspect, or cleared of it, with the reason.
    Suspect,
}

impl ReadingStep {
    const ALL: [Self; 6] = [Self::Accept, Self::Reject, Self::Draw, Self::Cut, Self::Join, Self::Suspect];

    fn word(self) -> &'static str {
        match self {
            Self::Accept => "accept",
            Self::Reject => "reject",
            Self::Draw => "draw",
            Self::Cut => "cut",
            Self::Join => "join",
            Self::Suspect => "suspect",
        }
    }

    fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|step| step.word() == word)
    }
}

/// A step that stands, that is, has not been undone.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ReadingEvent {
    /// Its number; grows with time.
    pub id: i64,
    /// Kind.
    pub step: ReadingStep,
    /// What was done; a text whose form this crate does not know.
    pub payload: String,
    /// When (RFC 3339, UTC).
    pub made_at: String,
}

const COLUMNS: &str = "id, person, capture, measurement, begun_at";
const UNDO: &str = "undo";
const REDO: &str = "redo";

fn reading(row: &Row<'_>) -> rusqlite::Result<Reading> {
    Ok(Reading {
        id: row.get(0)?,
        person: row.get(1)?,
        capture: row.get(2)?,
        measurement: row.get(3)?,
        begun_at: row.get(4)?,
    })
}

/// Steps that stand and steps that could be done again, after undoing and redoing.
#[derive(Default)]
struct History {
    standing: Vec<ReadingEvent>,
    undone: Vec<ReadingEvent>,
}

impl Examination {
    /// All readings, oldest first.
    ///
    /// # Errors
    /// Trouble with the database.
    pub fn readings(&self) -> Result<Vec<Reading>, ArchiveError> {
        let mut rows = self.db.prepare(&format!("SELECT {COLUMNS} FROM readings ORDER BY id"))?;
        Ok(rows.query_map([], reading)?.collect::<Result<_, _>>()?)
    }

    /// The person's reading of a measurement, begun if there is none yet.
    ///
    /// # Errors
    /// [`ArchiveError::BadValue`] for an empty name; [`ArchiveError::NoSuch`] measurement.
    pub fn reading(&self, person: &str, measurement: MeasurementId) -> Result<Reading, ArchiveError> {
        check_name("the name of a reader", person)?;
        let sql = format!("SELECT {COLUMNS} FROM readings WHERE person = ?1 AND measurement = ?2");
        if let Some(there) = self.db.query_row(&sql, (person, measurement), reading).optional()? {
            return Ok(there);
        }
        let capture = self.measurement_by_id(measurement)?.capture;
        self.change(|db| {
            db.execute(
                "INSERT OR IGNORE INTO readings (person, capture, measurement, begun_at) VALUES (?1, ?2, ?3, ?4)",
                (person, capture, measurement, now()),
            )?;
            Ok(db.query_row(&sql, (person, measurement), reading)?)
        })
    }

    /// Adds a step to a reading; what had been undone cannot be redone afterwards.
    ///
    /// # Errors
    /// [`ArchiveError::NoSuch`] reading.
    pub fn add_step(&self, id: ReadingId, step: ReadingStep, payload: &str) -> Result<(), ArchiveError> {
        self.append(id, step.word(), payload)
    }

    /// Takes back the last step that stands; `false` if there is none.
    ///
    /// # Errors
    /// [`ArchiveError::NoSuch`] reading.
    pub fn undo(&self, id: ReadingId) -> Result<bool, ArchiveError> {
        if self.history(id)?.standing.is_empty() {
            return Ok(false);
        }
        self.append(id, UNDO, "").map(|()| true)
    }

    /// Does the last undone step again; `false` if there is none.
    ///
    /// # Errors
    /// [`ArchiveError::NoSuch`] reading.
    pub fn redo(&self, id: ReadingId) -> Result<bool, ArchiveError> {
        if self.history(id)?.undone.is_empty() {
            return Ok(false);
        }
        self.append(id, REDO, "").map(|()| true)
    }

    /// The steps of a reading that stand, in order.
    ///
    /// # Errors
    /// Trouble with the database.
    pub fn standing_steps(&self, id: ReadingId) -> Result<Vec<ReadingEvent>, ArchiveError> {
        Ok(self.history(id)?.standing)
    }

    /// How many steps could be undone and how many done again.
    ///
    /// # Errors
    /// Trouble with the database.
    pub fn step_counts(&self, id: ReadingId) -> Result<[usize; 2], ArchiveError> {
        let history = self.history(id)?;
        Ok([history.standing.len(), history.undone.len()])
    }

    /// The newest measurement and the newest step of any reading of a capture, 0 for none: while neither number changes,
    /// nor do the capture's traces.
    ///
    /// # Errors
    /// Trouble with the database.
    pub fn traces_stamp(&self, capture: CaptureId) -> Result<[i64; 2], ArchiveError> {
        let sql = "SELECT (SELECT ifnull(max(id), 0) FROM measurements WHERE capture = ?1),
                          (SELECT ifnull(max(e.id), 0) FROM reading_events e JOIN readings r ON r.id = e.reading
                           WHERE r.capture = ?1)";
        Ok(self.db.query_row(sql, [capture], |row| Ok([row.get(0)?, row.get(1)?]))?)
    }

    fn append(&self, id: ReadingId, word: &str, payload: &str) -> Result<(), ArchiveError> {
        self.change(|db| {
            let there: i64 =
                db.query_row("SELECT count(*) FROM readings WHERE id = ?1", [id], |row| row.get(0))?;
            if there == 0 {
                return Err(ArchiveError::NoSuch { what: "reading", id: id.to_string() });
            }
            db.execute(
                "INSERT INTO reading_events (reading, step, payload, made_at) VALUES (?1, ?2, ?3, ?4)",
                (id, word, payload, now()),
            )?;
            Ok(())
        })
    }

    fn history(&self, id: ReadingId) -> Result<History, ArchiveError> {
        let mut rows = self.db.prepare(
            "SELECT id, step, payload, made_at FROM reading_events WHERE reading = ?1 ORDER BY id",
        )?;
        let events: Vec<(i64, String, String, String)> = rows
            .query_map([id], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?, row.get(3)?)))?
            .collect::<Result<_, _>>()?;
        let mut history = History::default();
        for (id, word, payload, made_at) in events {
            match word.as_str() {
                UNDO => history.undone.extend(history.standing.pop()),
                REDO => history.standing.extend(history.undone.pop()),
                _ => {
                    history.undone.clear();
                    let step = ReadingStep::from_word(&word).ok_or_else(|| {
                        ArchiveError::Damaged(format!("a reading has the unknown step \"{word}\""))
                    })?;
                    history.standing.push(ReadingEvent { id, step, payload, made_at });
                }
            }
        }
        Ok(history)
    }
}
