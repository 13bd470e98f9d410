//! The tables, and how older examinations are brought up to date.

use rusqlite::{Connection, Transaction, TransactionBehavior};

use crate::ArchiveError;

/// `PRAGMA application_id` of an examination: the bytes "RUBS".
pub(crate) const APPLICATION_ID: i64 = 0x5255_4253;

/// One step per schema number, applied in order; a released step is never edited, only followed by another.
const MIGRATIONS: &[&str] = &[V1, V2];

/// The newest schema number this program knows.
#[expect(clippy::cast_possible_wrap, reason = "a handful of steps")]
pub(crate) const KNOWN: i64 = MIGRATIONS.len() as i64;

const V1: &str = "
CREATE TABLE examination (
    one INTEGER PRIMARY KEY CHECK (one = 1),
    uuid TEXT NOT NULL,
    begun_at TEXT NOT NULL,
    software TEXT NOT NULL,
    revision INTEGER NOT NULL DEFAULT 0,
    name TEXT NOT NULL DEFAULT '',
    place TEXT NOT NULL DEFAULT '',
    conditions TEXT NOT NULL DEFAULT '',
    note TEXT NOT NULL DEFAULT '',
    rock TEXT
) STRICT;
CREATE TABLE minerals (
    position INTEGER PRIMARY KEY,
    mineral TEXT NOT NULL,
    share REAL NOT NULL
) STRICT;
CREATE TABLE instruments (
    id INTEGER PRIMARY KEY,
    name TEXT NOT NULL UNIQUE,
    kind TEXT NOT NULL CHECK (kind IN ('camera', 'microscope')),
    um_per_px REAL, um_per_px_u REAL, scale_source TEXT,
    light TEXT NOT NULL DEFAULT 'unknown' CHECK (light IN ('azimuth', 'ring', 'coaxial', 'unknown')),
    light_azimuth_deg REAL,
    lens_k1 REAL, lens_k1_u REAL, lens_centre_x_px REAL, lens_centre_y_px REAL,
    nominal_magnification TEXT NOT NULL DEFAULT '',
    note TEXT NOT NULL DEFAULT ''
) STRICT;
CREATE TABLE stations (
    id INTEGER PRIMARY KEY,
    name TEXT NOT NULL UNIQUE,
    note TEXT NOT NULL DEFAULT '',
    pin_capture INTEGER REFERENCES captures(id),
    pin_x REAL, pin_y REAL
) STRICT;
CREATE TABLE captures (
    id INTEGER PRIMARY KEY,
    kind TEXT NOT NULL CHECK (kind IN ('overview', 'micrograph', 'graduation')),
    station INTEGER REFERENCES stations(id),
    instrument INTEGER REFERENCES instruments(id),
    sha256 TEXT NOT NULL UNIQUE,
    bytes INTEGER NOT NULL,
    file_name TEXT NOT NULL,
    file_name_bytes BLOB,
    format TEXT NOT NULL,
    width_px INTEGER NOT NULL,
    height_px INTEGER NOT NULL,
    taken_at TEXT,
    exif TEXT NOT NULL DEFAULT '',
    um_per_px REAL, um_per_px_u REAL, scale_source TEXT,
    light TEXT CHECK (light IN ('azimuth', 'ring', 'coaxial', 'unknown')),
    light_azimuth_deg REAL,
    note TEXT NOT NULL DEFAULT '',
    set_aside INTEGER NOT NULL DEFAULT 0,
    imported_at TEXT NOT NULL
) STRICT;
CREATE TABLE measurements (
    id INTEGER PRIMARY KEY,
    capture INTEGER NOT NULL REFERENCES captures(id),
    settings TEXT NOT NULL,
    payload TEXT NOT NULL,
    software TEXT NOT NULL,
    seed INTEGER NOT NULL,
    made_at TEXT NOT NULL
) STRICT;
CREATE INDEX measurements_by_capture ON measurements(capture, id);
CREATE TABLE results (
    kind TEXT PRIMARY KEY,
    settings TEXT NOT NULL,
    payload TEXT NOT NULL,
    software TEXT NOT NULL,
    seed INTEGER NOT NULL,
    made_at TEXT NOT NULL
) STRICT;
CREATE TABLE readings (
    id INTEGER PRIMARY KEY,
    person TEXT NOT NULL,
    capture INTEGER NOT NULL REFERENCES captures(id),
    measurement INTEGER NOT NULL REFERENCES measurements(id),
    begun_at TEXT NOT NULL,
    UNIQUE (person, measurement)
) STRICT;
CREATE TABLE reading_events (
    id INTEGER PRIMARY KEY,
    reading INTEGER NOT NULL REFERENCES readings(id),
    step TEXT NOT NULL,
    payload TEXT NOT NULL,
    made_at TEXT NOT NULL
) STRICT;
CREATE INDEX events_by_reading ON reading_events(reading, id);
CREATE TABLE visits (
    id INTEGER PRIMARY KEY,
    day TEXT NOT NULL,
    people TEXT NOT NULL DEFAULT '',
    conditions TEXT NOT NULL DEFAULT '',
    note TEXT NOT NULL DEFAULT ''
) STRICT;
CREATE TABLE journal (
    id INTEGER PRIMARY KEY,
    session TEXT NOT NULL,
    kind TEXT NOT NULL,
    subject TEXT NOT NULL,
    began_at TEXT NOT NULL
) STRICT;
CREATE TABLE arrivals (
    journal INTEGER PRIMARY KEY REFERENCES journal(id) ON DELETE CASCADE,
    kind TEXT NOT NULL, station INTEGER, instrument INTEGER,
    sha256 TEXT NOT NULL, bytes INTEGER NOT NULL,
    file_name TEXT NOT NULL, file_name_bytes BLOB,
    format TEXT NOT NULL, width_px INTEGER NOT NULL, height_px INTEGER NOT NULL,
    taken_at TEXT, exif TEXT NOT NULL, imported_at TEXT NOT NULL
) STRICT;
";

/// A capture may have a lens of its own: that of the graduation its own scale comes from.
const V2: &str = "
ALTER TABLE captures ADD COLUMN lens_k1 REAL;
ALTER TABLE captures ADD COLUMN lens_k1_u REAL;
ALTER TABLE captures ADD COLUMN lens_centre_x_px REAL;
ALTER TABLE captures ADD COLUMN lens_centre_y_px REAL;
";

/// Brings a database up to [`KNOWN`], each step in its own transaction.
pub(crate) fn migrate(db: &Connection) -> Result<(), ArchiveError> {
    let found = version(db)?;
    if found > KNOWN {
        return Err(ArchiveError::TooNew { found, known: KNOWN });
    }
    if found == KNOWN {
        return Ok(());
    }
    let step = Transaction::new_unchecked(db, TransactionBehavior::Immediate)?;
    // Another program may have done it while this one waited for the lock.
    let found = usize::try_from(version(&step)?).unwrap_or(0);
    for sql in MIGRATIONS.iter().skip(found) {
        step.execute_batch(sql)?;
    }
    step.pragma_update(None, "application_id", APPLICATION_ID)?;
    step.pragma_update(None, "user_version", KNOWN)?;
    step.commit()?;
    Ok(())
}

/// Schema number of a database, 0 if it is empty.
pub(crate) fn version(db: &Connection) -> Result<i64, ArchiveError> {
    Ok(db.query_row("PRAGMA user_version", [], |row| row.get(0))?)
}

/// Refuses a database that is somebody else's.
pub(crate) fn check_ours(db: &Connection) -> Result<(), ArchiveError> {
    let id: i64 = db.query_row("PRAGMA application_id", [], |row| row.get(0))?;
    if id != APPLICATION_ID {
        return Err(ArchiveError::Damaged("it was written by another program".into()));
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Examination;

    /// An examination of the first form, as programs wrote it that knew no other.
    fn first_form(root: &std::path::Path) {
        std::fs::create_dir_all(root.join("originals")).unwrap();
        std::fs::create_dir_all(root.join("work")).unwrap();
        let db = Connection::open(root.join(crate::DATABASE)).unwrap();
        db.execute_batch(V1).unwrap();
        db.execute_batch(
            "INSERT INTO examination (one, uuid, begun_at, software) VALUES (1, 'u', '2026-01-01T00:00:00Z', 's');
             INSERT INTO instruments (name, kind, lens_k1, lens_k1_u) VALUES ('wide', 'microscope', -0.01, 0.002);
             INSERT INTO captures (kind, instrument, sha256, bytes, file_name, format, width_px, height_px, um_per_px,
                 um_per_px_u, scale_source, imported_at)
                 VALUES ('micrograph', 1, 'abc', 3, 'a.tif', 'TIFF', 64, 48, 2.5, 0.01, 'typed', '2026-01-01T00:00:00Z');",
        )
        .unwrap();
        db.pragma_update(None, "application_id", APPLICATION_ID).unwrap();
        db.pragma_update(None, "user_version", 1).unwrap();
    }

    #[test]
    fn an_examination_of_the_first_form_opens_with_all_it_holds() {
        let folder = tempfile::tempdir().unwrap();
        let root = folder.path().join("old");
        first_form(&root);
        let examination = Examination::open(&root).unwrap();
        assert_eq!(version(&examination.db).unwrap(), KNOWN);
        let [capture] = examination.captures().unwrap().try_into().unwrap();
        assert_eq!((capture.file_name.as_str(), capture.lens), ("a.tif", None));
        let setting = examination.setting(&capture).unwrap();
        assert_eq!(setting.scale.map(|scale| scale.um_per_px.value()), Some(2.5));
        assert_eq!(setting.lens.map(|lens| lens.k1.value), Some(-0.01), "the instrument's lens still holds");
        drop(examination);
        Examination::open(&root).unwrap();
    }
}
