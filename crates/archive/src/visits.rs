//! Visits to the object.

use crate::stations::check_name;
use crate::{ArchiveError, Examination, VisitId};

/// One visit: a day before the object.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Visit {
    /// Its number; ignored when it is added.
    pub id: VisitId,
    /// The day, as the examiner writes it.
    pub day: String,
    /// Who was there.
    pub people: String,
    /// Light, access, permission.
    pub conditions: String,
    /// Anything else.
    pub note: String,
}

impl Examination {
    /// All visits in the order they were written down.
    ///
    /// # Errors
    /// Trouble with the database.
    pub fn visits(&self) -> Result<Vec<Visit>, ArchiveError> {
        let mut rows = self.db.prepare("SELECT id, day, people, conditions, note FROM visits ORDER BY id")?;
        let visits = rows.query_map([], |row| {
            Ok(Visit {
                id: row.get(0)?,
                day: row.get(1)?,
                people: row.get(2)?,
                conditions: row.get(3)?,
                note: row.get(4)?,
            })
        })?;
        Ok(visits.collect::<Result<_, _>>()?)
    }

    /// Writes a visit down.
    ///
    /// # Errors
    /// [`ArchiveError::BadValue`] for an empty day.
    pub fn add_visit(&self, visit: &Visit) -> Result<VisitId, ArchiveError> {
        check_name("the day of a visit", &visit.day)?;
        self.change(|db| {
            db.execute(
                "INSERT INTO visits (day, people, conditions, note) VALUES (?1, ?2, ?3, ?4)",
                (&visit.day, &visit.people, &visit.conditions, &visit.note),
            )?;
            Ok(VisitId(db.last_insert_rowid()))
        })
    }
}
