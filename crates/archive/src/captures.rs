//! Pictures taken in, each kept as it came.

use std::ffi::OsStr;
use std::fs::{self, File};
use std::path::{Path, PathBuf};

use picture::{Distortion, Light};
use rusqlite::{OptionalExtension, Row};

use crate::examination::{ORIGINALS, now};
use crate::instruments::{lens_of, lens_values, light_of, light_words, scale_of, scale_values};
use crate::stations::found;
use crate::{ArchiveError, CaptureId, Examination, InstrumentId, Scale, StationId, WorkKind, disk};

/// What a capture shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CaptureKind {
    /// The object or a part of it, for pinning stations.
    Overview,
    /// A field that is measured.
    Micrograph,
    /// A graduation of known pitch, for the scale.
    Graduation,
}

impl CaptureKind {
    fn word(self) -> &'static str {
        match self {
            Self::Overview => "overview",
            Self::Micrograph => "micrograph",
            Self::Graduation => "graduation",
        }
    }

    fn from_word(word: &str) -> Self {
        match word {
            "overview" => Self::Overview,
            "graduation" => Self::Graduation,
            _ => Self::Micrograph,
        }
    }
}

/// What is known of a picture when it is taken in; the caller has decoded it, the archive only keeps it.
#[derive(Debug, Clone, PartialEq)]
pub struct NewCapture {
    /// What it shows.
    pub kind: CaptureKind,
    /// Where on the object.
    pub station: Option<StationId>,
    /// With what.
    pub instrument: Option<InstrumentId>,
    /// SHA-256 (hex) of the bytes that were looked at; another file under the same name is refused.
    pub sha256: String,
    /// File format in words.
    pub format: String,
    /// Width as shown, px.
    pub width_px: u32,
    /// Height as shown, px.
    pub height_px: u32,
    /// When it was taken, as the camera wrote it.
    pub taken_at: Option<String>,
    /// Camera data as text, one `name: value` per line.
    pub exif: String,
}

/// One picture of the examination.
#[derive(Debug, Clone, PartialEq)]
pub struct Capture {
    /// Its number.
    pub id: CaptureId,
    /// What it shows.
    pub kind: CaptureKind,
    /// Where on the object.
    pub station: Option<StationId>,
    /// With what.
    pub instrument: Option<InstrumentId>,
    /// SHA-256 of the original, lower-case hex.
    pub sha256: String,
    /// Size of the original.
    pub bytes: u64,
    /// Its own file name, readable; bytes that are no UTF-8 are shown as �.
    pub file_name: String,
    /// Its own file name as the system gave it, where that is not UTF-8.
    pub file_name_bytes: Option<Vec<u8>>,
    /// File format in words.
    pub format: String,
    /// Width as shown, px.
    pub width_px: u32,
    /// Height as shown, px.
    pub height_px: u32,
    /// When it was taken, as the camera wrote it.
    pub taken_at: Option<String>,
    /// Camera data as text, one `name: value` per line.
    pub exif: String,
    /// A scale of its own, which goes before its instrument's.
    pub scale: Option<Scale>,
    /// A light of its own, which goes before its instrument's.
    pub light: Option<Light>,
    /// A lens of its own, which goes before its instrument's.
    pub lens: Option<Distortion>,
    /// Anything worth knowing.
    pub note: String,
    /// Kept, but left out of measuring and report.
    pub set_aside: bool,
    /// When it was taken in (RFC 3339, UTC).
    pub imported_at: String,
}

/// What became of an addition.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Added {
    /// It is a new capture.
    New(CaptureId),
    /// The very same picture is there already.
    Already(CaptureId),
}

impl Added {
    /// The capture, new or old.
    #[must_use]
    pub fn id(self) -> CaptureId {
        match self {
            Self::New(id) | Self::Already(id) => id,
        }
    }
}

/// Columns an arrival hands over to its capture.
pub(crate) const ARRIVAL_COLUMNS: &str = "kind, station, instrument, sha256, bytes, file_name, file_name_bytes, \
                                          format, width_px, height_px, taken_at, exif, imported_at";
const COLUMNS: &str = "id, kind, station, instrument, sha256, bytes, file_name, file_name_bytes, format, width_px, \
                       height_px, taken_at, exif, imported_at, um_per_px, um_per_px_u, scale_source, light, \
                       light_azimuth_deg, note, set_aside, lens_k1, lens_k1_u, lens_centre_x_px, \
                       lens_centre_y_px";

fn capture(row: &Row<'_>) -> rusqlite::Result<Capture> {
    let light: Option<String> = row.get(17)?;
    let azimuth = row.get(18)?;
    Ok(Capture {
        id: row.get(0)?,
        kind: CaptureKind::from_word(&row.get::<_, String>(1)?),
        station: row.get(2)?,
        instrument: row.get(3)?,
        sha256: row.get(4)?,
        bytes: u64::try_from(row.get::<_, i64>(5)?).unwrap_or(0),
        file_name: row.get(6)?,
        file_name_bytes: row.get(7)?,
        format: row.get(8)?,
        width_px: row.get(9)?,
        height_px: row.get(10)?,
        taken_at: row.get(11)?,
        exif: row.get(12)?,
        imported_at: row.get(13)?,
        scale: scale_of(row.get(14)?, row.get(15)?, row.get(16)?),
        light: light.map(|word| light_of(&word, azimuth)),
        lens: lens_of(row.get(21)?, row.get(22)?, row.get(23)?, row.get(24)?),
        note: row.get(19)?,
        set_aside: row.get(20)?,
    })
}

impl Examination {
    /// All captures in the order they came.
    ///
    /// # Errors
    /// Trouble with the database.
    pub fn captures(&self) -> Result<Vec<Capture>, ArchiveError> {
        let mut rows = self.db.prepare(&format!("SELECT {COLUMNS} FROM captures ORDER BY id"))?;
        Ok(rows.query_map([], capture)?.collect::<Result<_, _>>()?)
    }

    /// One capture.
    ///
    /// # Errors
    /// [`ArchiveError::NoSuch`] capture.
    pub fn capture(&self, id: CaptureId) -> Result<Capture, ArchiveError> {
        let sql = format!("SELECT {COLUMNS} FROM captures WHERE id = ?1");
        let found = self.db.query_row(&sql, [id], capture).optional()?;
        found.ok_or_else(|| ArchiveError::NoSuch { what: "capture", id: id.to_string() })
    }

    /// The capture with this original, if it is there already.
    ///
    /// # Errors
    /// Trouble with the database.
    pub fn capture_of(&self, sha256: &str) -> Result<Option<Capture>, ArchiveError> {
        let sql = format!("SELECT {COLUMNS} FROM captures WHERE sha256 = ?1");
        Ok(self.db.query_row(&sql, [sha256], capture).optional()?)
    }

    /// Takes a picture in: copies it untouched to the originals, then enters it. The same picture is taken in once.
    ///
    /// # Errors
    /// [`ArchiveError::Unreadable`], [`ArchiveError::ChangedUnderway`], [`ArchiveError::DiskFull`] and others; nothing
    /// half-written stays.
    pub fn add(&self, source: &Path, new: &NewCapture) -> Result<Added, ArchiveError> {
        if let Some(there) = self.capture_of(&new.sha256)? {
            return Ok(Added::Already(there.id));
        }
        let name = source.file_name().unwrap_or(OsStr::new("")).to_owned();
        let unreadable = |e: std::io::Error| ArchiveError::Unreadable { reason: e.to_string() };
        let mut file = File::open(source).map_err(unreadable)?;
        self.add_from(&mut file, &name, new)
    }

    /// Takes a picture in from memory, under the name it came with.
    ///
    /// # Errors
    /// As [`Self::add`].
    pub fn add_bytes(&self, bytes: &[u8], file_name: &str, new: &NewCapture) -> Result<Added, ArchiveError> {
        if let Some(there) = self.capture_of(&new.sha256)? {
            return Ok(Added::Already(there.id));
        }
        self.add_from(&mut &*bytes, OsStr::new(file_name), new)
    }

    fn add_from(
        &self,
        source: &mut dyn std::io::Read,
        name: &OsStr,
        new: &NewCapture,
    ) -> Result<Added, ArchiveError> {
        let shown = name.to_string_lossy().into_owned();
        let intent = self.intend(WorkKind::Add, &shown)?;
        let half_done = self.session()?.folder().join(intent.0.to_string());
        let added = self.arrive(source, name, new, intent.0, &half_done);
        if added.is_err() {
            disk::remove_quietly(&half_done);
            self.close(intent)?;
        }
        added
    }

    fn arrive(
        &self,
        source: &mut dyn std::io::Read,
        name: &OsStr,
        new: &NewCapture,
        journal: i64,
        half_done: &Path,
    ) -> Result<Added, ArchiveError> {
        let copied = disk::copy_hashed(source, half_done)?;
        if copied.sha256 != new.sha256 {
            return Err(ArchiveError::ChangedUnderway);
        }
        make_read_only(half_done)?;
        let name_bytes = name.to_str().is_none().then_some(name.as_encoded_bytes());
        self.change(|db| {
            Ok(db.execute(
                &format!(
                    "INSERT INTO arrivals (journal, {ARRIVAL_COLUMNS})
                     VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14)"
                ),
                rusqlite::params![
                    journal,
                    new.kind.word(),
                    new.station,
                    new.instrument,
                    new.sha256,
                    i64::try_from(copied.bytes).unwrap_or(i64::MAX),
                    name.to_string_lossy(),
                    name_bytes,
                    new.format,
                    new.width_px,
                    new.height_px,
                    new.taken_at,
                    new.exif,
                    now(),
                ],
            )?)
        })?;
        disk::put_in_place(half_done, &self.original_path(&new.sha256))?;
        self.change(|db| {
            let entered = db.execute(
                &format!(
                    "INSERT OR IGNORE INTO captures ({ARRIVAL_COLUMNS})
                     SELECT {ARRIVAL_COLUMNS} FROM arrivals WHERE journal = ?1"
                ),
                [journal],
            )?;
            db.execute("DELETE FROM journal WHERE id = ?1", [journal])?;
            let id =
                db.query_row("SELECT id FROM captures WHERE sha256 = ?1", [&new.sha256], |row| row.get(0))?;
            // Another program may have entered the same picture in the meantime.
            Ok(if entered == 1 { Added::New(id) } else { Added::Already(id) })
        })
    }

    /// Rewrites what may be rewritten of a capture: kind, station, instrument, own scale, light and lens, note, set
    /// aside.
    ///
    /// # Errors
    /// [`ArchiveError::NoSuch`] capture, station or instrument.
    pub fn set_capture(&self, capture: &Capture) -> Result<(), ArchiveError> {
        if let Some(instrument) = capture.instrument {
            self.instrument(instrument)?;
        }
        if let Some(station) = capture.station
            && !self.stations()?.iter().any(|other| other.id == station)
        {
            return Err(ArchiveError::NoSuch { what: "station", id: station.to_string() });
        }
        let scale = scale_values(capture.scale.as_ref());
        let light = capture.light.map(light_words);
        let lens = lens_values(capture.lens);
        self.change(|db| {
            let changed = db.execute(
                "UPDATE captures SET kind = ?2, station = ?3, instrument = ?4, um_per_px = ?5, um_per_px_u = ?6,
                    scale_source = ?7, light = ?8, light_azimuth_deg = ?9, note = ?10, set_aside = ?11,
                    lens_k1 = ?12, lens_k1_u = ?13, lens_centre_x_px = ?14, lens_centre_y_px = ?15
                 WHERE id = ?1",
                rusqlite::params![
                    capture.id,
                    capture.kind.word(),
                    capture.station,
                    capture.instrument,
                    scale[0],
                    scale[1],
                    scale[2],
                    light.map(|(word, _)| word),
                    light.and_then(|(_, azimuth)| azimuth),
                    capture.note,
                    capture.set_aside,
                    lens[0],
                    lens[1],
                    lens[2],
                    lens[3],
                ],
            )?;
            found(changed, "capture", capture.id)
        })
    }

    /// Where the original with this SHA-256 lies. Read it; never write it.
    #[must_use]
    pub fn original_path(&self, sha256: &str) -> PathBuf {
        self.root.join(ORIGINALS).join(sha256)
    }

    /// Checks that an original is there and unaltered.
    ///
    /// # Errors
    /// [`ArchiveError::OriginalLost`].
    pub fn check_original(&self, capture: &Capture) -> Result<(), ArchiveError> {
        let lost = |what| ArchiveError::OriginalLost { sha256: capture.sha256.clone(), what };
        match disk::hash_file(&self.original_path(&capture.sha256)) {
            Ok(found) if found.sha256 == capture.sha256 => Ok(()),
            Ok(_) => Err(lost("altered")),
            Err(_) => Err(lost("missing")),
        }
    }
}

/// An original is never written again, not even by mistake.
fn make_read_only(path: &Path) -> Result<(), ArchiveError> {
    let mut permissions = fs::metadata(path).map_err(|e| ArchiveError::disk(path, &e))?.permissions();
    permissions.set_readonly(true);
    fs::set_permissions(path, permissions).map_err(|e| ArchiveError::disk(path, &e))
}
