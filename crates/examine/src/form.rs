//! Form: what a height map or a mesh says about flatness, texture, symmetry and removed stone.

use std::path::{Path, PathBuf};

use ::form::texture::{Texture, TextureOptions, texture};
use ::form::{
    Bvh, HeightFormat, HeightRead, LengthUnit, Limits, MeasureError, MeshFormat, MeshRead, Pitch, ReadError,
    SymmetryOptions, flatness, mirror_symmetry, open_heights, open_mesh, removed_from_hull,
};
use quantity::Measured;
use wire::form::{FormAnswer, FormFile, QuantityForm};

use crate::error::shown;
use crate::watch::Pieces;
use crate::{ExamineError, Failure, Watch};

/// What the files do not say of themselves.
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
    /// Waves longer than this are taken out before the texture, µm.
    pub l_filter_um: Option<f64>,
}

impl From<ReadError> for ExamineError {
    fn from(error: ReadError) -> Self {
        Self::Request(error.to_string())
    }
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
    let pieces = Pieces::new(watch, files.len());
    let mut answer = FormAnswer { schema: wire::form::SCHEMA.to_owned(), files: Vec::new() };
    let mut failures = Vec::new();
    for (index, file) in files.iter().enumerate() {
        match form_file(file, options, &|done| pieces.at(index, done, &shown(file))) {
            Ok(form) => answer.files.push(form),
            Err(ExamineError::Stopped) => return Err(ExamineError::Stopped),
            Err(error) => failures.push(Failure::of_file(file, &error)),
        }
    }
    Ok((answer, failures))
}

fn form_file(
    file: &Path,
    options: &FormOptions,
    watch: &(dyn Fn(f64) -> bool + Sync),
) -> Result<FormFile, ExamineError> {
    if !watch(0.0) {
        return Err(ExamineError::Stopped);
    }
    let name = shown(file);
    let limits = Limits::default();
    if MeshFormat::of_name(&name).is_some() {
        return of_mesh(name, &open_mesh(file, options.unit, &limits)?, options, watch);
    }
    if HeightFormat::of_name(&name).is_some() {
        let heights = open_heights(file, pitch(options), &limits)?;
        return Ok(of_heights(name, &heights, options));
    }
    Err(ExamineError::request(
        "is neither a height map (X3P, TIFF, text grid) nor a mesh (PLY, OBJ, STL, glTF) by its name; export it as one",
    ))
}

fn pitch(options: &FormOptions) -> Option<Pitch> {
    let (step, height_unit) = (options.pitch_um?, options.unit?);
    let height_per_count = options.height_per_count.unwrap_or(1.0);
    Some(Pitch { dx_um: step, dy_um: step, height_unit, height_per_count })
}

fn of_heights(file: String, read: &HeightRead, options: &FormOptions) -> FormFile {
    let map = &read.map;
    let mut form = FormFile {
        file,
        kind: "heights".to_owned(),
        facts: read.facts.clone(),
        notes: read.notes.clone(),
        quantities: Vec::new(),
        cannot_tell: Vec::new(),
    };
    form.facts.push(("heights".to_owned(), format!("{} × {}", map.width(), map.height())));
    form.facts.push(("step".to_owned(), format!("{} × {} µm", map.dx_um(), map.dy_um())));
    match flatness(&map.points_um(None), options.u_height_um, "µm") {
        Ok(flat) => form.quantities.extend([
            measured("flatness, minimum zone (FLTt)", flat.total_mz, "µm"),
            measured("flatness, least squares (FLTt)", flat.total_ls, "µm"),
            plain("root mean square from the least-squares plane (FLTq)", flat.least_squares.rms, "µm"),
        ]),
        Err(error) => form.cannot_tell.push(format!("flatness: {error}")),
    }
    let how = TextureOptions {
        s_filter_um: options.s_filter_um,
        l_filter_um: options.l_filter_um,
        ..TextureOptions::default()
    };
    match texture(map, &how) {
        Ok(texture) => form.quantities.extend(of_texture(&texture)),
        Err(error) => form.cannot_tell.push(format!("texture: {error}")),
    }
    form
}

fn of_texture(texture: &Texture) -> Vec<QuantityForm> {
    let heights = &texture.heights;
    let mut all = vec![
        plain("mean absolute height (Sa)", heights.sa_um, "µm"),
        plain("root mean square height (Sq)", heights.sq_um, "µm"),
        plain("skewness (Ssk)", heights.ssk, ""),
        plain("kurtosis (Sku)", heights.sku, ""),
        plain("highest above the mean (Sp)", heights.sp_um, "µm"),
        plain("deepest below the mean (Sv)", heights.sv_um, "µm"),
        plain("greatest height (Sz)", heights.sz_um, "µm"),
        plain("root mean square slope (Sdq)", texture.hybrid.sdq, ""),
        plain("developed area beyond the plan (Sdr)", texture.hybrid.sdr_percent, "%"),
    ];
    all.extend(texture.sal_um.map(|value| plain("shortest correlation length (Sal)", value, "µm")));
    all.extend(texture.str_ratio.map(|value| plain("texture aspect ratio (Str)", value, "")));
    all.extend(texture.direction.as_ref().map(|direction| {
        let lay = Measured { value: direction.lay.degrees(), u: direction.u_deg };
        measured("direction of the lay from the spectrum", lay, "°")
    }));
    all
}

fn of_mesh(
    file: String,
    read: &MeshRead,
    options: &FormOptions,
    watch: &(dyn Fn(f64) -> bool + Sync),
) -> Result<FormFile, ExamineError> {
    let (mesh, condition) = (&read.mesh, &read.condition);
    let [x, y, z] = condition.size_mm;
    let mut form = FormFile {
        file,
        kind: "mesh".to_owned(),
        facts: vec![
            ("triangles".to_owned(), mesh.triangles().len().to_string()),
            ("corners".to_owned(), mesh.points_mm().len().to_string()),
            ("size".to_owned(), format!("{x:.3} × {y:.3} × {z:.3} mm")),
            ("open edges".to_owned(), condition.open_edges.to_string()),
        ],
        notes: read.notes.clone(),
        quantities: vec![plain("area of the surface", mesh.area_mm2(), "mm²")],
        cannot_tell: Vec::new(),
    };
    if condition.is_closed() {
        form.quantities.push(plain("enclosed volume", mesh.enclosed_volume_mm3().abs(), "mm³"));
    }
    match removed_from_hull(mesh, condition, options.scale_u) {
        Ok(removed) => {
            form.quantities.push(measured(
                "volume to the convex hull, the least taken away",
                removed.volume_mm3,
                "mm³",
            ));
        }
        Err(error) => form.cannot_tell.push(format!("volume taken away: {error}")),
    }
    match mirror_symmetry(&Bvh::new(mesh), &SymmetryOptions::default(), watch) {
        Ok(symmetry) => {
            let share = |mm: f64| 100.0 * mm / symmetry.width_mm;
            let normal = symmetry.best.plane.normal;
            form.facts.push((
                "normal of the best mirror plane".to_owned(),
                format!(
                    "{:.5} {:.5} {:.5} (± {:.2}°)",
                    normal[0], normal[1], normal[2], symmetry.direction_u_deg
                ),
            ));
            form.quantities.extend([
                plain("deviation from mirror symmetry, median", symmetry.median_mm, "mm"),
                plain("deviation from mirror symmetry, 95 %", symmetry.p95_mm, "mm"),
                plain("the same as a share of the width, median", share(symmetry.median_mm), "%"),
                plain("the same as a share of the width, 95 %", share(symmetry.p95_mm), "%"),
                plain("share of the surface without a counterpart", 100.0 * symmetry.best.unmatched, "%"),
            ]);
        }
        Err(MeasureError::Stopped) => return Err(ExamineError::Stopped),
        Err(error) => form.cannot_tell.push(format!("mirror symmetry: {error}")),
    }
    Ok(form)
}

fn plain(name: &str, value: f64, unit: &str) -> QuantityForm {
    QuantityForm { name: name.to_owned(), value, u: None, unit: unit.to_owned() }
}

fn measured(name: &str, value: Measured, unit: &str) -> QuantityForm {
    QuantityForm {
        name: name.to_owned(),
        value: value.value,
        u: (value.u > 0.0).then_some(value.u),
        unit: unit.to_owned(),
    }
}
