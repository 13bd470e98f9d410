//! Form: what a height map or a mesh says about flatness, texture, scratches, symmetry, grooves, radii and removed stone.

mod heights;
mod kept;
mod landmarks;
mod mesh;
mod record;

use std::path::{Path, PathBuf};

use ::form::{
    HeightFormat, LengthUnit, Limits, MeasureError, MeshFormat, Pitch, Plane, Polygon, ReadError,
    open_heights, open_mesh,
};
use picture::Fingerprint;
use wire::form::{FormAnswer, KeptForm};

pub use kept::{forget, form_examination, kept};
pub use landmarks::{landmarks, landmarks_examination};
pub use record::quantity_words;

use crate::error::shown;
use crate::watch::Pieces;
use crate::{ExamineError, Failure, Watch};

/// One thing that can be measured on form.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FormPart {
    /// How far a face departs from a plane.
    Flatness,
    /// Areal texture of a height map.
    Texture,
    /// Scratches on a height map: how many, how deep, how wide.
    Scratches,
    /// Best mirror plane of a mesh and the deviations from it.
    Symmetry,
    /// Stone taken away below a block face, or down from the hull of a closed mesh.
    Removed,
    /// A groove along a path.
    Groove,
    /// Radius of a fillet or undercut of a mesh along a path.
    Fillet,
}

impl FormPart {
    /// All of them.
    pub const ALL: [Self; 7] = [
        Self::Flatness,
        Self::Texture,
        Self::Scratches,
        Self::Symmetry,
        Self::Removed,
        Self::Groove,
        Self::Fillet,
    ];

    /// Its word.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Flatness => "flatness",
            Self::Texture => "texture",
            Self::Scratches => "scratches",
            Self::Symmetry => "symmetry",
            Self::Removed => "removed",
            Self::Groove => "groove",
            Self::Fillet => "fillet",
        }
    }

    /// The part of this word.
    ///
    /// # Errors
    /// None is called that.
    pub fn of_word(word: &str) -> Result<Self, ExamineError> {
        Self::ALL.into_iter().find(|part| part.word() == word.trim()).ok_or_else(|| {
            let words = Self::ALL.map(Self::word).join(", ");
            ExamineError::request(format!("'{word}' is nothing that can be measured here; choose {words}"))
        })
    }
}

/// Where the face of the raw block lay.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum BlockAsked {
    /// Through three points, mm.
    Through([[f64; 3]; 3]),
    /// On a height map: its least-squares plane, raised by this much, mm.
    Raised(f64),
}

/// What the files do not say of themselves, and what is to be measured on them.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct FormOptions {
    /// Unit of a mesh's coordinates, or of a height map's heights.
    pub unit: Option<LengthUnit>,
    /// Step between neighbouring heights, µm.
    pub pitch_um: Option<f64>,
    /// Height of one count of a 16-bit map, in `unit`; 1 where it is not given.
    pub height_per_count: Option<f64>,
    /// Standard uncertainty of one height, µm; 0 if unknown.
    pub u_height_um: f64,
    /// Standard uncertainty of a mesh's scale, as a share.
    pub scale_u: f64,
    /// Waves shorter than this are taken out before the texture, µm.
    pub s_filter_um: Option<f64>,
    /// Waves longer than this are taken out before the texture and before scratches are looked for, µm.
    pub l_filter_um: Option<f64>,
    /// What to measure; empty for everything that asks for nothing more.
    pub parts: Vec<FormPart>,
    /// Corners of the region that flatness and removed stone are measured in, in order round it, mm; empty for everything.
    /// On a height map from the centre of its top-left height, x right, y down.
    pub region_mm: Vec<[f64; 3]>,
    /// Path along a groove or a fillet, mm; on a height map from the centre of its top-left height, x right, y down.
    pub path_mm: Vec<[f64; 3]>,
    /// How far to either side of the path a section reaches, mm.
    pub reach_mm: Option<f64>,
    /// Distance between sections along the path, mm.
    pub spacing_mm: Option<f64>,
    /// Where the face of the raw block lay.
    pub block: Option<BlockAsked>,
    /// Standard uncertainty of that face's height, mm.
    pub block_u_mm: f64,
}

impl FormOptions {
    /// Whether a part is wanted: named, or nothing is named and it is one of those measured unasked.
    fn wants(&self, part: FormPart, unasked: bool) -> bool {
        if self.parts.is_empty() { unasked } else { self.parts.contains(&part) }
    }

    /// The region on a height map, µm; `None` for the whole map.
    fn region_um(&self) -> Result<Option<Polygon>, ExamineError> {
        if self.region_mm.is_empty() {
            return Ok(None);
        }
        let corners = self.region_mm.iter().map(|&[x, y, _]| [1000.0 * x, 1000.0 * y]).collect();
        let region = Polygon::new(corners).ok_or_else(|| {
            ExamineError::request("the region needs three corners or more that enclose an area")
        })?;
        Ok(Some(region))
    }

    /// The region on a mesh, mm; `None` for the whole mesh.
    fn region_on_mesh(&self) -> Option<&[[f64; 3]]> {
        (!self.region_mm.is_empty()).then_some(self.region_mm.as_slice())
    }

    /// Path, reach and spacing of sections.
    fn sections(&self) -> Result<(&[[f64; 3]], f64, f64), ExamineError> {
        match (self.path_mm.len(), self.reach_mm, self.spacing_mm) {
            (2.., Some(reach), Some(spacing)) => Ok((&self.path_mm, reach, spacing)),
            _ => Err(ExamineError::request(
                "give the path as two or more points in mm, how far to either side the sections reach and their distance, mm",
            )),
        }
    }

    /// What was said and asked, for whoever reads the answer later.
    fn asked(&self) -> Vec<(String, String)> {
        let mut asked = Vec::new();
        let mut say = |name: &str, value: String| asked.push((name.to_owned(), value));
        if let Some(unit) = self.unit {
            say("unit of the file's numbers", unit.to_string());
        }
        if let Some(step) = self.pitch_um {
            say("step between heights", format!("{step} µm"));
        }
        if let (Some(count), Some(unit)) = (self.height_per_count, self.unit) {
            say("height of one count", format!("{count} {unit}"));
        }
        if self.u_height_um > 0.0 {
            say("standard uncertainty of one height", format!("{} µm", self.u_height_um));
        }
        if self.scale_u > 0.0 {
            say("standard uncertainty of the scale", format!("{} %", 100.0 * self.scale_u));
        }
        for (name, filter) in [("S-filter", self.s_filter_um), ("L-filter", self.l_filter_um)] {
            if let Some(cutoff) = filter {
                say(name, format!("{cutoff} µm"));
            }
        }
        if !self.region_mm.is_empty() {
            let corners: Vec<String> =
                self.region_mm.iter().map(|[x, y, z]| format!("({x}, {y}, {z})")).collect();
            say("region of flatness and removed stone", format!("{} mm", corners.join(", ")));
        }
        if let (true, Some(reach), Some(spacing)) = (!self.path_mm.is_empty(), self.reach_mm, self.spacing_mm)
        {
            say(
                "path",
                format!(
                    "{} points; sections every {spacing} mm, {reach} mm to either side",
                    self.path_mm.len()
                ),
            );
        }
        match self.block {
            Some(BlockAsked::Raised(by)) => {
                say(
                    "block face",
                    format!("least-squares plane raised by {by} mm (± {} mm)", self.block_u_mm),
                );
            }
            Some(BlockAsked::Through(points)) => {
                let points = points.map(|[x, y, z]| format!("({x}, {y}, {z})")).join(", ");
                say("block face", format!("through {points} mm (± {} mm)", self.block_u_mm));
            }
            None => {}
        }
        asked
    }
}

impl From<ReadError> for ExamineError {
    fn from(error: ReadError) -> Self {
        Self::Request(error.to_string())
    }
}

/// The unit of length of this sign.
///
/// # Errors
/// None has it.
pub fn length_unit(sign: &str) -> Result<LengthUnit, ExamineError> {
    LengthUnit::from_sign(sign).ok_or_else(|| {
        ExamineError::request(format!(
            "'{sign}' is no unit of length known here; give m, cm, mm, um, nm or in"
        ))
    })
}

/// Measures the form of some files. Each file that fails is named; the rest goes on.
///
/// # Errors
/// [`ExamineError::Stopped`] if the watcher gave up.
pub fn form(
    files: &[PathBuf],
    options: &FormOptions,
    watch: &dyn Watch,
) -> Result<(FormAnswer, Vec<Failure>), ExamineError> {
    let (measured, failures) = measure(files, options, watch)?;
    let files = measured.into_iter().map(|file| file.form).collect();
    Ok((FormAnswer { schema: wire::form::SCHEMA.to_owned(), files }, failures))
}

fn measure(
    files: &[PathBuf],
    options: &FormOptions,
    watch: &dyn Watch,
) -> Result<(Vec<KeptForm>, Vec<Failure>), ExamineError> {
    let pieces = Pieces::new(watch, files.len());
    let (mut measured, mut failures) = (Vec::new(), Vec::new());
    for (index, file) in files.iter().enumerate() {
        match form_file(file, options, &|done| pieces.at(index, done, &shown(file))) {
            Ok(form) => measured.push(form),
            Err(ExamineError::Stopped) => return Err(ExamineError::Stopped),
            Err(error) => failures.push(Failure::of_file(file, &error)),
        }
    }
    Ok((measured, failures))
}

fn form_file(
    file: &Path,
    options: &FormOptions,
    watch: &(dyn Fn(f64) -> bool + Sync),
) -> Result<KeptForm, ExamineError> {
    if !watch(0.0) {
        return Err(ExamineError::Stopped);
    }
    let name = shown(file);
    let limits = Limits::default();
    let mut kept = if MeshFormat::of_name(&name).is_some() {
        mesh::measure(name, &open_mesh(file, options.unit, &limits)?, options, watch)?
    } else if HeightFormat::of_name(&name).is_some() {
        heights::measure(name, &open_heights(file, pitch(options), &limits)?, options, watch)?
    } else {
        return Err(ExamineError::request(
            "is neither a height map (X3P, TIFF, text grid) nor a mesh (PLY, OBJ, STL, glTF) by its name; export it as one",
        ));
    };
    let fingerprint = Fingerprint::of_file(file)
        .map_err(|e| ExamineError::request(format!("cannot be read ({e}); check the disk")))?;
    kept.sha256 = fingerprint.hex();
    kept.asked = options.asked();
    Ok(kept)
}

fn pitch(options: &FormOptions) -> Option<Pitch> {
    let (step, height_unit) = (options.pitch_um?, options.unit?);
    let height_per_count = options.height_per_count.unwrap_or(1.0);
    Some(Pitch { dx_um: step, dy_um: step, height_unit, height_per_count })
}

/// The plane through three points, its normal on the side away from `inside`.
fn plane_through(corners: [[f64; 3]; 3], inside: [f64; 3]) -> Result<Plane, ExamineError> {
    let plane = Plane::through_three(corners).ok_or_else(|| {
        ExamineError::request("the three points of the block face lie on one line; give three others")
    })?;
    Ok(if plane.distance(inside) > 0.0 { plane.flipped() } else { plane })
}

/// What a part could not tell, as a line of the answer; stopping is passed on.
fn cannot_tell(what: &str, error: ExamineError) -> Result<String, ExamineError> {
    match error {
        ExamineError::Stopped => Err(ExamineError::Stopped),
        other => Ok(format!("{what}: {other}")),
    }
}

impl From<MeasureError> for ExamineError {
    fn from(error: MeasureError) -> Self {
        match error {
            MeasureError::Stopped => Self::Stopped,
            other => Self::Request(other.to_string()),
        }
    }
}
