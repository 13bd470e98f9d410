//! Measurements and results, whose text this crate does not read.

use rusqlite::{OptionalExtension, Row};

use crate::examination::now;
use crate::{ArchiveError, CaptureId, Examination, MeasurementId};

/// A measurement to be kept.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NewMeasurement {
    /// What was measured.
    pub capture: CaptureId,
    /// Everything the outcome depends on, as one line; the same line means it need not be measured again.
    pub settings: String,
    /// The outcome.
    pub payload: String,
    /// Program and version.
    pub software: String,
    /// Seed of every random number used.
    pub seed: u64,
}

/// A measurement as kept.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Measurement {
    /// Its number.
    pub id: MeasurementId,
    /// What was measured.
    pub capture: CaptureId,
    /// Everything the outcome depends on.
    pub settings: String,
    /// The outcome.
    pub payload: String,
    /// Program and version.
    pub software: String,
    /// Seed of every random number used.
    pub seed: u64,
    /// When (RFC 3339, UTC).
    pub made_at: String,
}

/// A result that belongs to the whole examination, such as a weighing.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StoredResult {
    /// What it depends on, as one line.
    pub settings: String,
    /// The outcome.
    pub payload: String,
    /// Program and version.
    pub software: String,
    /// Seed of every random number used.
    pub seed: u64,
    /// When (RFC 3339, UTC); ignored when it is stored.
    pub made_at: String,
}

const COLUMNS: &str = "id, capture, settings, payload, software, seed, made_at";

fn measurement(row: &Row<'_>) -> rusqlite::Result<Measurement> {
    Ok(Measurement {
        id: row.get(0)?,
        capture: row.get(1)?,
        settings: row.get(2)?,
        payload: row.get(3)?,
        software: row.get(4)?,
        seed: row.get::<_, i64>(5)?.cast_unsigned(),
        made_at: row.get(6)?,
    })
}

impl Examination {
    /// Keeps a measurement. Earlier ones of the same capture stay: readings rest on them.
    ///
    /// # Errors
    /// [`ArchiveError::NoSuch`] capture; a full disk.
    pub fn keep_measurement(&self, new: &NewMeasurement) -> Result<MeasurementId, ArchiveError> {
        self.capture(new.capture)?;
        self.change(|db| {
            db.execute(
                "INSERT INTO measurements (capture, settings, payload, software, seed, made_at)
                 VALUES (?1, ?2, ?3, ?4, ?5, ?6)",
                (new.capture, &new.settings, &new.payload, &new.software, new.seed.cast_signed(), now()),
            )?;
            Ok(MeasurementId(db.last_insert_rowid()))
        })
    }

    /// The newest measurement of a capture.
    ///
    /// # Errors
    /// Trouble with the database.
    pub fn measurement(&self, capture: CaptureId) -> Result<Option<Measurement>, ArchiveError> {
        let sql = format!("SELECT {COLUMNS} FROM measurements WHERE capture = ?1 ORDER BY id DESC LIMIT 1");
        Ok(self.db.query_row(&sql, [capture], measurement).optional()?)
    }

    /// One measurement by its number.
    ///
    /// # Errors
    /// [`ArchiveError::NoSuch`] measurement.
    pub fn measurement_by_id(&self, id: MeasurementId) -> Result<Measurement, ArchiveError> {
        let sql = format!("SELECT {COLUMNS} FROM measurements WHERE id = ?1");
        let found = self.db.query_row(&sql, [id], measurement).optional()?;
        found.ok_or_else(|| ArchiveError::NoSuch { what: "measurement", id: id.to_string() })
    }

    /// Settings line of the newest measurement of a capture, without its payload.
    ///
    /// # Errors
    /// Trouble with the database.
    pub fn measured_with(&self, capture: CaptureId) -> Result<Option<String>, ArchiveError> {
        let sql = "SELECT settings FROM measurements WHERE capture = ?1 ORDER BY id DESC LIMIT 1";
        Ok(self.db.query_row(sql, [capture], |row| row.get(0)).optional()?)
    }

    /// Keeps a result of this kind in place of the earlier one.
    ///
    /// # Errors
    /// A full disk or trouble with the database.
    pub fn keep_result(&self, kind: &str, result: &StoredResult) -> Result<(), ArchiveError> {
        self.change(|db| {
            db.execute(
                "INSERT OR REPLACE INTO results (kind, settings, payload, software, seed, made_at)
                 VALUES (?1, ?2, ?3, ?4, ?5, ?6)",
                (kind, &result.settings, &result.payload, &result.software, result.seed.cast_signed(), now()),
            )?;
            Ok(())
        })
    }

    /// The result of this kind, if there is one.
    ///
    /// # Errors
    /// Trouble with the database.
    pub fn result(&self, kind: &str) -> Result<Option<StoredResult>, ArchiveError> {
        let sql = "SELECT settings, payload, software, seed, made_at FROM results WHERE kind = ?1";
        let found = self.db.query_row(sql, [kind], |row| {
            Ok(StoredResult {
                settings: row.get(0)?,
                payload: row.get(1)?,
                software: row.get(2)?,
                seed: row.get::<_, i64>(3)?.cast_unsigned(),
                made_at: row.get(4)?,
            })
        });
        Ok(found.optional()?)
    }
}
