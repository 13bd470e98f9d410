//! Places on the object.

use rusqlite::{OptionalExtension, Row};

use crate::{ArchiveError, CaptureId, Examination, StationId};

/// Where a station sits on an overview photograph.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pin {
    /// The overview.
    pub capture: CaptureId,
    /// Position as fractions of the picture's width and height, from the top left, each 0 to 1.
    pub at: [f64; 2],
}

/// One place on the object where pictures were taken.
#[derive(Debug, Clone, PartialEq)]
pub struct Station {
    /// Its number.
    pub id: StationId,
    /// Its name, which no other station has.
    pub name: String,
    /// Anything worth knowing.
    pub note: String,
    /// Its place on an overview.
    pub pin: Option<Pin>,
}

const COLUMNS: &str = "id, name, note, pin_capture, pin_x, pin_y";

fn station(row: &Row<'_>) -> rusqlite::Result<Station> {
    let capture: Option<CaptureId> = row.get(3)?;
    let pin = match (capture, row.get(4)?, row.get(5)?) {
        (Some(capture), Some(x), Some(y)) => Some(Pin { capture, at: [x, y] }),
        _ => None,
    };
    Ok(Station { id: row.get(0)?, name: row.get(1)?, note: row.get(2)?, pin })
}

impl Examination {
    /// All stations in the order they were made.
    ///
    /// # Errors
    /// Trouble with the database.
    pub fn stations(&self) -> Result<Vec<Station>, ArchiveError> {
        let mut rows = self.db.prepare(&format!("SELECT {COLUMNS} FROM stations ORDER BY id"))?;
        Ok(rows.query_map([], station)?.collect::<Result<_, _>>()?)
    }

    /// The station of this name, if there is one.
    ///
    /// # Errors
    /// Trouble with the database.
    pub fn station_named(&self, name: &str) -> Result<Option<Station>, ArchiveError> {
        let sql = format!("SELECT {COLUMNS} FROM stations WHERE name = ?1");
        Ok(self.db.query_row(&sql, [name], station).optional()?)
    }

    /// Makes a station; one that has the name already is given back as it is.
    ///
    /// # Errors
    /// [`ArchiveError::BadValue`] for an empty name.
    pub fn make_station(&self, name: &str) -> Result<StationId, ArchiveError> {
        check_name("the name of a station", name)?;
        self.change(|db| {
            db.execute("INSERT OR IGNORE INTO stations (name) VALUES (?1)", [name])?;
            Ok(db.query_row("SELECT id FROM stations WHERE name = ?1", [name], |row| row.get(0))?)
        })
    }

    /// Rewrites a station's name, note and pin.
    ///
    /// # Errors
    /// [`ArchiveError::NoSuch`] station; [`ArchiveError::BadValue`] for an empty or taken name or a pin outside the
    /// picture.
    pub fn set_station(&self, station: &Station) -> Result<(), ArchiveError> {
        check_name("the name of a station", &station.name)?;
        if let Some(pin) = station.pin
            && !pin.at.iter().all(|fraction| (0.0..=1.0).contains(fraction))
        {
            return Err(ArchiveError::BadValue {
                what: "a pin's place",
                value: format!("({}, {})", pin.at[0], pin.at[1]),
                needed: "give fractions of the picture between 0 and 1",
            });
        }
        if self.station_named(&station.name)?.is_some_and(|other| other.id != station.id) {
            return Err(ArchiveError::BadValue {
                what: "the name of a station",
                value: station.name.clone(),
                needed: "another station has this name already",
            });
        }
        if let Some(pin) = station.pin {
            self.capture(pin.capture)?;
        }
        let pin = station.pin;
        self.change(|db| {
            let changed = db.execute(
                "UPDATE stations SET name = ?2, note = ?3, pin_capture = ?4, pin_x = ?5, pin_y = ?6 WHERE id = ?1",
                (
                    station.id,
                    &station.name,
                    &station.note,
                    pin.map(|pin| pin.capture),
                    pin.map(|pin| pin.at[0]),
                    pin.map(|pin| pin.at[1]),
                ),
            )?;
            found(changed, "station", station.id)
        })
    }

    /// Removes a station; its captures stay, without a station.
    ///
    /// # Errors
    /// [`ArchiveError::NoSuch`] station.
    pub fn remove_station(&self, id: StationId) -> Result<(), ArchiveError> {
        self.change(|db| {
            db.execute("UPDATE captures SET station = NULL WHERE station = ?1", [id])?;
            found(db.execute("DELETE FROM stations WHERE id = ?1", [id])?, "station", id)
        })
    }
}

/// Refuses a name nobody could read.
pub(crate) fn check_name(what: &'static str, name: &str) -> Result<(), ArchiveError> {
    if name.trim().is_empty() {
        return Err(ArchiveError::BadValue { what, value: "empty".into(), needed: "give it a name" });
    }
    Ok(())
}

/// An update that met no row had the wrong number.
pub(crate) fn found(changed: usize, what: &'static str, id: impl ToString) -> Result<(), ArchiveError> {
    if changed == 0 {
        return Err(ArchiveError::NoSuch { what, id: id.to_string() });
    }
    Ok(())
}
