//! Cameras and microscopes at one setting, and what holds for a capture in the end.

use picture::{Distortion, Light};
use quantity::{AxialDeg, Measured, UmPerPx};
use rusqlite::types::Value;
use rusqlite::{OptionalExtension, Row};

use crate::stations::{check_name, found};
use crate::{ArchiveError, Capture, Examination, InstrumentId};

/// Kind of instrument.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum InstrumentKind {
    /// A camera, for overviews.
    Camera,
    /// A microscope, for micrographs.
    Microscope,
}

/// A scale and where it came from, such as "graduation cal10.png, 10 µm per tick" or "typed".
#[derive(Debug, Clone, PartialEq)]
pub struct Scale {
    /// Micrometres per pixel with uncertainty.
    pub um_per_px: UmPerPx,
    /// Where it came from, in words.
    pub source: String,
}

/// One camera or microscope at one setting.
#[derive(Debug, Clone, PartialEq)]
pub struct Instrument {
    /// Its number; ignored when it is made.
    pub id: InstrumentId,
    /// Its name and setting, which no other instrument has.
    pub name: String,
    /// Camera or microscope.
    pub kind: InstrumentKind,
    /// Scale, if one is known.
    pub scale: Option<Scale>,
    /// Light.
    pub light: Light,
    /// Lens, if it has been calibrated.
    pub lens: Option<Distortion>,
    /// What is engraved or shown, such as "50×". Recorded, never used as a scale.
    pub nominal_magnification: String,
    /// Anything worth knowing.
    pub note: String,
}

impl Instrument {
    /// An instrument of which nothing but the name is known.
    #[must_use]
    pub fn named(name: &str, kind: InstrumentKind) -> Self {
        Self {
            id: InstrumentId(0),
            name: name.to_owned(),
            kind,
            scale: None,
            light: Light::Unknown,
            lens: None,
            nominal_magnification: String::new(),
            note: String::new(),
        }
    }
}

/// What holds for one capture: its own scale, light and lens if it has them, else its instrument's.
#[derive(Debug, Clone, PartialEq)]
pub struct Setting {
    /// Scale, if one is known.
    pub scale: Option<Scale>,
    /// Light.
    pub light: Light,
    /// Lens, if it has been calibrated.
    pub lens: Option<Distortion>,
    /// Name of the instrument.
    pub instrument: Option<String>,
}

const COLUMNS: &str = "id, name, kind, um_per_px, um_per_px_u, scale_source, light, light_azimuth_deg, lens_k1, \
                       lens_k1_u, lens_centre_x_px, lens_centre_y_px, nominal_magnification, note";

fn instrument(row: &Row<'_>) -> rusqlite::Result<Instrument> {
    let kind: String = row.get(2)?;
    let light: String = row.get(6)?;
    Ok(Instrument {
        id: row.get(0)?,
        name: row.get(1)?,
        kind: if kind == "camera" { InstrumentKind::Camera } else { InstrumentKind::Microscope },
        scale: scale_of(row.get(3)?, row.get(4)?, row.get(5)?),
        light: light_of(&light, row.get(7)?),
        lens: lens_of(row.get(8)?, row.get(9)?, row.get(10)?, row.get(11)?),
        nominal_magnification: row.get(12)?,
        note: row.get(13)?,
    })
}

impl Examination {
    /// All instruments in the order they were made.
    ///
    /// # Errors
    /// Trouble with the database.
    pub fn instruments(&self) -> Result<Vec<Instrument>, ArchiveError> {
        let mut rows = self.db.prepare(&format!("SELECT {COLUMNS} FROM instruments ORDER BY id"))?;
        Ok(rows.query_map([], instrument)?.collect::<Result<_, _>>()?)
    }

    /// The instrument of this name, if there is one.
    ///
    /// # Errors
    /// Trouble with the database.
    pub fn instrument_named(&self, name: &str) -> Result<Option<Instrument>, ArchiveError> {
        let sql = format!("SELECT {COLUMNS} FROM instruments WHERE name = ?1");
        Ok(self.db.query_row(&sql, [name], instrument).optional()?)
    }

    /// One instrument.
    ///
    /// # Errors
    /// [`ArchiveError::NoSuch`] instrument.
    pub fn instrument(&self, id: InstrumentId) -> Result<Instrument, ArchiveError> {
        let sql = format!("SELECT {COLUMNS} FROM instruments WHERE id = ?1");
        let found = self.db.query_row(&sql, [id], instrument).optional()?;
        found.ok_or_else(|| ArchiveError::NoSuch { what: "instrument", id: id.to_string() })
    }

    /// Makes an instrument; its number in `new` is ignored.
    ///
    /// # Errors
    /// [`ArchiveError::BadValue`] for an empty or taken name.
    pub fn make_instrument(&self, new: &Instrument) -> Result<InstrumentId, ArchiveError> {
        check_name("the name of an instrument", &new.name)?;
        self.check_instrument_name_free(&new.name, None)?;
        self.change(|db| {
            db.execute("INSERT INTO instruments (name, kind) VALUES (?1, 'microscope')", [&new.name])?;
            let id = InstrumentId(db.last_insert_rowid());
            write_instrument(db, &Instrument { id, ..new.clone() })?;
            Ok(id)
        })
    }

    /// Rewrites an instrument.
    ///
    /// # Errors
    /// [`ArchiveError::NoSuch`] instrument; [`ArchiveError::BadValue`] for an empty or taken name.
    pub fn set_instrument(&self, instrument: &Instrument) -> Result<(), ArchiveError> {
        check_name("the name of an instrument", &instrument.name)?;
        self.check_instrument_name_free(&instrument.name, Some(instrument.id))?;
        self.change(|db| write_instrument(db, instrument))
    }

    fn check_instrument_name_free(&self, name: &str, own: Option<InstrumentId>) -> Result<(), ArchiveError> {
        if self.instrument_named(name)?.is_some_and(|other| Some(other.id) != own) {
            return Err(ArchiveError::BadValue {
                what: "the name of an instrument",
                value: name.to_owned(),
                needed: "another instrument has this name already",
            });
        }
        Ok(())
    }

    /// Scale, light and lens that hold for a capture.
    ///
    /// # Errors
    /// Trouble with the database.
    pub fn setting(&self, capture: &Capture) -> Result<Setting, ArchiveError> {
        let instrument = capture.instrument.map(|id| self.instrument(id)).transpose()?;
        let scale = capture.scale.clone().or_else(|| instrument.as_ref().and_then(|i| i.scale.clone()));
        let light = capture.light.or_else(|| instrument.as_ref().map(|i| i.light)).unwrap_or(Light::Unknown);
        let lens = capture.lens.or_else(|| instrument.as_ref().and_then(|i| i.lens));
        Ok(Setting { scale, light, lens, instrument: instrument.map(|i| i.name) })
    }
}

fn write_instrument(db: &rusqlite::Connection, instrument: &Instrument) -> Result<(), ArchiveError> {
    let (light, azimuth) = light_words(instrument.light);
    let kind = match instrument.kind {
        InstrumentKind::Camera => "camera",
        InstrumentKind::Microscope => "microscope",
    };
    let scale = scale_values(instrument.scale.as_ref());
    let lens = lens_values(instrument.lens);
    let changed = db.execute(
        "UPDATE instruments SET name = ?2, kind = ?3, um_per_px = ?4, um_per_px_u = ?5, scale_source = ?6,
            light = ?7, light_azimuth_deg = ?8, lens_k1 = ?9, lens_k1_u = ?10, lens_centre_x_px = ?11,
            lens_centre_y_px = ?12, nominal_magnification = ?13, note = ?14
         WHERE id = ?1",
        rusqlite::params![
            instrument.id,
            instrument.name,
            kind,
            scale[0],
            scale[1],
            scale[2],
            light,
            azimuth,
            lens[0],
            lens[1],
            lens[2],
            lens[3],
            instrument.nominal_magnification,
            instrument.note,
        ],
    )?;
    found(changed, "instrument", instrument.id)
}

/// Value, uncertainty and source of a scale, as the three columns hold them.
pub(crate) fn scale_values(scale: Option<&Scale>) -> [Value; 3] {
    scale.map_or([Value::Null, Value::Null, Value::Null], |scale| {
        [scale.um_per_px.value().into(), scale.um_per_px.u().into(), scale.source.clone().into()]
    })
}

pub(crate) fn scale_of(value: Option<f64>, u: Option<f64>, source: Option<String>) -> Option<Scale> {
    Some(Scale { um_per_px: UmPerPx::new(value?, u?)?, source: source.unwrap_or_default() })
}

pub(crate) fn light_words(light: Light) -> (&'static str, Option<f64>) {
    match light {
        Light::Azimuth(axis) => ("azimuth", Some(axis.degrees())),
        Light::Ring => ("ring", None),
        Light::Coaxial => ("coaxial", None),
        Light::Unknown => ("unknown", None),
    }
}

pub(crate) fn light_of(word: &str, azimuth_deg: Option<f64>) -> Light {
    match (word, azimuth_deg.and_then(AxialDeg::new)) {
        ("azimuth", Some(axis)) => Light::Azimuth(axis),
        ("ring", _) => Light::Ring,
        ("coaxial", _) => Light::Coaxial,
        _ => Light::Unknown,
    }
}

/// Coefficient, its uncertainty and centre of a lens, as the four columns hold them.
pub(crate) fn lens_values(lens: Option<Distortion>) -> [Option<f64>; 4] {
    let centre = lens.and_then(|lens| lens.centre_px);
    let k1 = lens.map(|lens| lens.k1);
    [k1.map(|k1| k1.value), k1.map(|k1| k1.u), centre.map(|[x, _]| x), centre.map(|[_, y]| y)]
}

pub(crate) fn lens_of(k1: Option<f64>, u: Option<f64>, x: Option<f64>, y: Option<f64>) -> Option<Distortion> {
    let centre_px = x.zip(y).map(|(x, y)| [x, y]);
    Some(Distortion { k1: Measured { value: k1?, u: u? }, centre_px })
}
