//! The worked stone itself.

use crate::{ArchiveError, Examination};

/// A mineral and its share of the rock.
#[derive(Debug, Clone, PartialEq)]
pub struct MineralShare {
    /// Name of the mineral.
    pub mineral: String,
    /// Share of the volume, 0 to 1.
    pub share: f64,
}

/// What the object is made of, as far as it is known.
#[derive(Debug, Clone, PartialEq, Default)]
pub enum Rock {
    /// Not recorded.
    #[default]
    Unknown,
    /// A rock by its name.
    Named(String),
    /// Minerals with their shares.
    Minerals(Vec<MineralShare>),
}

/// What is examined. Nothing here is required.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Object {
    /// Name or inventory number.
    pub name: String,
    /// What it is made of.
    pub rock: Rock,
    /// Where it is, in free text.
    pub place: String,
    /// Conditions of access: permission, time, what may not be done.
    pub conditions: String,
    /// Anything else.
    pub note: String,
}

impl Examination {
    /// The object.
    ///
    /// # Errors
    /// Trouble with the database.
    pub fn object(&self) -> Result<Object, ArchiveError> {
        let (name, place, conditions, note, rock) =
            self.db.query_row("SELECT name, place, conditions, note, rock FROM examination", [], |row| {
                Ok((row.get(0)?, row.get(1)?, row.get(2)?, row.get(3)?, row.get::<_, Option<String>>(4)?))
            })?;
        let mut minerals = self.db.prepare("SELECT mineral, share FROM minerals ORDER BY position")?;
        let minerals: Vec<MineralShare> = minerals
            .query_map([], |row| Ok(MineralShare { mineral: row.get(0)?, share: row.get(1)? }))?
            .collect::<Result<_, _>>()?;
        let rock = match rock {
            Some(rock) => Rock::Named(rock),
            None if minerals.is_empty() => Rock::Unknown,
            None => Rock::Minerals(minerals),
        };
        Ok(Object { name, rock, place, conditions, note })
    }

    /// Writes what is known of the object.
    ///
    /// # Errors
    /// [`ArchiveError::BadValue`] for shares that are not between 0 and 1 or add up to more than 1.
    pub fn set_object(&self, object: &Object) -> Result<(), ArchiveError> {
        let (rock, minerals): (_, &[MineralShare]) = match &object.rock {
            Rock::Unknown => (None, &[]),
            Rock::Named(name) => (Some(name), &[]),
            Rock::Minerals(minerals) => (None, minerals),
        };
        for mineral in minerals {
            if !(0.0..=1.0).contains(&mineral.share) {
                return Err(ArchiveError::BadValue {
                    what: "the share of a mineral",
                    value: format!("{} ({})", mineral.share, mineral.mineral),
                    needed: "give shares between 0 and 1",
                });
            }
        }
        let sum: f64 = minerals.iter().map(|mineral| mineral.share).sum();
        // Shares read off a table are rounded: a little over 1 is no mistake.
        if sum > 1.02 {
            return Err(ArchiveError::BadValue {
                what: "the sum of the minerals' shares",
                value: format!("{sum:.2}"),
                needed: "give shares that add up to 1 or less",
            });
        }
        self.change(|db| {
            db.execute(
                "UPDATE examination SET name = ?1, place = ?2, conditions = ?3, note = ?4, rock = ?5",
                (&object.name, &object.place, &object.conditions, &object.note, rock),
            )?;
            db.execute("DELETE FROM minerals", [])?;
            for (position, mineral) in (0i64..).zip(minerals) {
                db.execute(
                    "INSERT INTO minerals (position, mineral, share) VALUES (?1, ?2, ?3)",
                    (position, &mineral.mineral, mineral.share),
                )?;
            }
            Ok(())
        })
    }
}
