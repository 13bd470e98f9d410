//! What a height map says.

use ::form::texture::{TextureOptions, compare_lay, texture, texture_direction};
use ::form::{
    BlockFace, GrooveOptions, HeightMap, HeightRead, Polygon, Raster, Row, ScratchProfile, flatness,
    grey_plane, groove, removed_from_map, scratch_profile, vertical_plane,
};
use picture::{Facts, Light};
use quantity::Measured;
use trace::{Settings, Trace, TraceError};
use wire::form::KeptForm;

use super::record::{add, begin, curve, map, quantity};
use super::{BlockAsked, FormOptions, FormPart, cannot_tell, plane_through};
use crate::describe::describe_one;
use crate::{ExamineError, SEED};

/// Half width of a scratch's section over the scratch's width at half depth. A V is twice as wide at the surface, and the
/// quarter of the section at either end has to lie beyond that on stone that was not scratched.
const SECTION_WIDTHS: f64 = 3.0;
/// Longest wave kept for scratches where the user named none, in steps of the map (ours: scratches are narrower).
const SCRATCH_CUTOFF_STEPS: f64 = 80.0;
/// Share of a groove's section at either end that is surface beside it.
const SHOULDER_SHARE: f64 = 0.2;

pub(super) fn measure(
    file: String,
    read: &HeightRead,
    options: &FormOptions,
    watch: &(dyn Fn(f64) -> bool + Sync),
) -> Result<KeptForm, ExamineError> {
    let heights = &read.map;
    let mut facts = read.facts.clone();
    facts.push(("heights".to_owned(), format!("{} × {}", heights.width(), heights.height())));
    facts.push(("step".to_owned(), format!("{} × {} µm", heights.dx_um(), heights.dy_um())));
    let mut kept = begin(file, "heights", facts, read.notes.clone());
    for part in FormPart::ALL {
        let unasked = matches!(part, FormPart::Flatness | FormPart::Texture);
        if !options.wants(part, unasked) {
            continue;
        }
        let done = match part {
            FormPart::Flatness => flat(&mut kept, heights, options),
            FormPart::Texture => textured(&mut kept, heights, options),
            FormPart::Scratches => scratches(&mut kept, heights, options, watch),
            FormPart::Removed => removed(&mut kept, heights, options),
            FormPart::Groove => grooved(&mut kept, heights, options),
            FormPart::Symmetry | FormPart::Fillet => {
                Err(ExamineError::request("is measured on meshes; give one"))
            }
        };
        if let Err(error) = done {
            kept.form.cannot_tell.push(cannot_tell(part.word(), error)?);
        }
    }
    Ok(kept)
}

fn flat(kept: &mut KeptForm, heights: &HeightMap, options: &FormOptions) -> Result<(), ExamineError> {
    let region = options.region_um()?;
    let flat = flatness(&heights.points_um(region.as_ref()), options.u_height_um, "µm")?;
    add(kept, "flatness", &flat);
    let mut raster = Raster::above_plane(heights, &flat.least_squares.plane);
    if let Some(region) = &region {
        blank_outside(&mut raster, heights, region);
    }
    kept.maps.push(map(
        "Heights above the least-squares plane",
        &format!("Heights above the least-squares plane of the {}.", where_of(region.is_some(), "map")),
        "µm",
        &raster,
        1e-3,
    ));
    Ok(())
}

/// What a plane or a face was taken of.
pub(super) fn where_of(region: bool, all: &str) -> String {
    if region { "region".to_owned() } else { format!("whole {all}") }
}

fn blank_outside(raster: &mut Raster, heights: &HeightMap, region: &Polygon) {
    let width = raster.width;
    for (index, value) in raster.values.iter_mut().enumerate() {
        let place = [(index % width) as f64 * heights.dx_um(), (index / width) as f64 * heights.dy_um()];
        if !region.contains(place) {
            *value = f64::NAN;
        }
    }
}

fn textured(kept: &mut KeptForm, heights: &HeightMap, options: &FormOptions) -> Result<(), ExamineError> {
    let how = TextureOptions {
        s_filter_um: options.s_filter_um,
        l_filter_um: options.l_filter_um,
        u_height_um: options.u_height_um,
        ..TextureOptions::default()
    };
    let texture = texture(heights, &how)?;
    add(kept, "texture", &texture);
    Ok(())
}

/// Traces on the map by the means that find them on a micrograph, and the cross-section of each.
fn scratches(
    kept: &mut KeptForm,
    heights: &HeightMap,
    options: &FormOptions,
    watch: &(dyn Fn(f64) -> bool + Sync),
) -> Result<(), ExamineError> {
    let step_um = heights.dx_um().min(heights.dy_um());
    let cutoff_um = options.l_filter_um.unwrap_or(SCRATCH_CUTOFF_STEPS * step_um);
    let plane = grey_plane(heights, cutoff_um)?;
    let quality = picture::judge(&plane.grey, &Facts::of_computed(&plane.grey));
    // Heights have no light: nothing is hidden by its direction, and both flanks of a groove are alike.
    let settings = Settings { light: Light::Coaxial, ..Settings::default() };
    let found = trace::find(&plane.grey, &quality, &settings, watch).map_err(|error| match error {
        TraceError::Stopped => ExamineError::Stopped,
        other => ExamineError::Trace(other),
    })?;
    if let Some(reason) = found.refused {
        return Err(ExamineError::request(reason));
    }
    let accepted: Vec<&Trace> = found.traces.iter().filter(|trace| trace.suspect.is_none()).collect();
    let um_per_px = plane.scale.value();
    let profiles: Vec<(&Trace, ScratchProfile)> = accepted
        .iter()
        .filter_map(|trace| {
            let path: Vec<[f64; 2]> = trace.points_px.iter().map(|p| p.map(|px| px * um_per_px)).collect();
            let half_um = (SECTION_WIDTHS * trace.width_px.value * um_per_px).max(6.0 * step_um);
            scratch_profile(heights, &path, half_um).ok().map(|profile| (*trace, profile))
        })
        .collect();
    let mut say = |row: Row| kept.form.quantities.push(quantity(row));
    say(Row::plain("scratches found", accepted.len() as f64, ""));
    say(Row::plain("scratches with a cross-section", profiles.len() as f64, ""));
    for (name, unit, value) in [
        ("depth", "µm", &(|p: &ScratchProfile| p.depth_um) as &dyn Fn(&ScratchProfile) -> Measured),
        ("width", "µm", &|p| p.width_um),
        ("area of the cross-section", "µm²", &|p| p.area_um2),
    ] {
        let mut all: Vec<f64> = profiles.iter().map(|(_, profile)| value(profile).value).collect();
        all.sort_by(f64::total_cmp);
        for (share, word) in [(0.5, "median"), (0.05, "5 % below"), (0.95, "95 % below")] {
            let at = (share * all.len().saturating_sub(1) as f64).round() as usize;
            if let Some(found) = all.get(at) {
                say(Row::plain(format!("scratches, {name}, {word}"), *found, unit));
            }
        }
    }
    let deepest = profiles.iter().max_by(|a, b| a.1.depth_um.value.total_cmp(&b.1.depth_um.value));
    if let Some((trace, profile)) = deepest {
        let [x, y] = trace.points_px.first().copied().unwrap_or_default().map(|px| px * um_per_px / 1000.0);
        add(kept, &format!("deepest scratch, from {:.3} mm, {:.3} mm", x.max(0.0), y.max(0.0)), profile);
        kept.curves.push(curve(
            [
                "Cross-section of the deepest scratch",
                "Mean cross-section of the deepest scratch along its length.",
            ],
            ["across, µm", "height, µm"],
            vec![(String::new(), profile.section_um.clone(), Vec::new())],
        ));
    }
    kept.form.notes.push(format!(
        "Scratches were looked for on the heights with waves longer than {cutoff_um} µm taken out."
    ));
    lay_of_traces(kept, heights, &accepted, &plane);
    Ok(())
}

/// The lay of the spectrum beside that of the traces, where there are both.
fn lay_of_traces(kept: &mut KeptForm, heights: &HeightMap, traces: &[&Trace], plane: &::form::GreyPlane) {
    let side = |n: usize| u32::try_from(n).unwrap_or(u32::MAX);
    let size_px = (side(plane.grey.width()), side(plane.grey.height()));
    let described = describe_one(size_px, Some(plane.scale), traces, SEED);
    let (Some(set), Some(spectrum)) = (described.sets.sets.first(), texture_direction(heights)) else {
        return;
    };
    let direction = Measured { value: set.direction.degrees(), u: set.direction_u_deg };
    kept.form.quantities.push(quantity(Row::new(
        "direction of the strongest set of scratches",
        direction,
        "°",
    )));
    let compared = compare_lay(&spectrum, set.direction, set.direction_u_deg);
    let word = if compared.agree { "agree" } else { "differ by more than their uncertainties" };
    kept.form.notes.push(format!(
        "The lay of the spectrum and the strongest set of scratches {word}: turn {}°.",
        compared.turn_deg.to_string().replace('-', "−")
    ));
}

fn removed(kept: &mut KeptForm, heights: &HeightMap, options: &FormOptions) -> Result<(), ExamineError> {
    let region = options.region_um()?;
    let points = heights.points_um(region.as_ref());
    let plane = match options.block {
        Some(BlockAsked::Raised(by_mm)) => vertical_plane(&points)?.raised(by_mm * 1000.0),
        Some(BlockAsked::Through(corners)) => {
            let lowest = points.iter().map(|p| p[2]).fold(f64::INFINITY, f64::min);
            plane_through(corners.map(|corner| corner.map(|mm| mm * 1000.0)), [0.0, 0.0, lowest])?
        }
        None => {
            return Err(ExamineError::request(
                "say where the face of the raw block lay: the map's plane raised by so many mm, or three points of it",
            ));
        }
    };
    // Its normal points out of the map.
    let plane = if plane.normal[2] < 0.0 { plane.flipped() } else { plane };
    let face = BlockFace { plane, u: options.block_u_mm * 1000.0, scale_u: options.scale_u };
    add(kept, "stone taken away", &removed_from_map(heights, region.as_ref(), &face)?);
    Ok(())
}

fn grooved(kept: &mut KeptForm, heights: &HeightMap, options: &FormOptions) -> Result<(), ExamineError> {
    let (path, reach_mm, spacing_mm) = options.sections()?;
    let flat: Vec<[f64; 2]> = path.iter().map(|p| [p[0], p[1]]).collect();
    let found = groove(heights, &flat, &groove_options(reach_mm, spacing_mm))?;
    add_groove(kept, &found);
    Ok(())
}

/// Settings of a groove from what the user gave.
pub(super) fn groove_options(reach_mm: f64, spacing_mm: f64) -> GrooveOptions {
    GrooveOptions {
        spacing_mm,
        half_width_mm: reach_mm,
        shoulder_share: SHOULDER_SHARE,
        // A break smaller than a tenth of the section is raggedness, not a chip (ours).
        least_chip_mm: 0.1 * reach_mm,
    }
}

/// A groove with its course.
pub(super) fn add_groove(kept: &mut KeptForm, found: &::form::Groove) {
    add(kept, "groove", found);
    let line = |name: &str, value: &dyn Fn(&::form::ProfileShape) -> Measured| {
        let values = found.stations.iter().map(|station| (station.along_mm, value(&station.shape)));
        let (points, halves) =
            values.map(|(along, value)| ([along, value.value], value.half_width_95())).unzip();
        (name.to_owned(), points, halves)
    };
    kept.curves.push(curve(
        [
            "Groove along its path",
            "Width and depth of the groove from section to section, with 95 % intervals.",
        ],
        ["along the path, mm", "mm"],
        vec![line("width", &|shape| shape.width), line("depth", &|shape| shape.depth)],
    ));
}
