//! Weighing the finishes, for an examination or for anyone's measurements.

use std::path::{Path, PathBuf};

use archive::{Examination, WorkKind};
use finish::models::Finish;
use picture::Light;
use quantity::{AxialDeg, Measured, UmPerPx};
use weigh::panels::PanelUse;
use weigh::{CannotWeigh, Engine, Options, SeenCapture, SeenTrace, Visit};
use wire::measure::{CaptureForm, Measure, TraceForm};
use wire::weigh::{CaptureReachForm, KeptWeighing};

use crate::describe::{Read, StationReads, by_station, counts};
use crate::panels::{NamedPanel, panel};
use crate::reach::reach;
use crate::reading::State;
use crate::{ExamineError, SEED, SOFTWARE, Watch, results};

/// Kind under which an examination keeps its weighing.
pub(crate) const WEIGHING: &str = "weighing";

/// How to weigh.
#[derive(Debug, Clone, PartialEq)]
pub struct WeighOptions {
    /// Seed of the simulations.
    pub seed: u64,
    /// Finishes to consider, by name; empty for all. A ratio between two does not depend on the others.
    pub finishes: Vec<String>,
    /// Prior probabilities the user typed, by the finish's name; empty for none.
    pub priors: Vec<(String, f64)>,
    /// Reference panels that update or replace the forward models of their finishes; empty for none.
    pub panels: Vec<NamedPanel>,
    /// Panels take the place of the models of their finishes instead of updating them.
    pub replace: bool,
    /// Folder for simulations, so that the same geometry need not be simulated again; `None` keeps none.
    pub cache: Option<PathBuf>,
}

impl Default for WeighOptions {
    fn default() -> Self {
        Self {
            seed: SEED,
            finishes: Vec::new(),
            priors: Vec::new(),
            panels: Vec::new(),
            replace: false,
            cache: None,
        }
    }
}

/// Weighs an examination and keeps the answer in it, for the report.
///
/// # Errors
/// It cannot be weighed, in words; or the watcher gave up.
pub fn weigh_examination(
    examination: &Examination,
    options: &WeighOptions,
    watch: &dyn Watch,
) -> Result<KeptWeighing, ExamineError> {
    let groups = by_station(examination)?;
    let visit = visit(examination, &groups)?;
    let intent = examination.intend(WorkKind::Weigh, "the finishes")?;
    let weighed = weigh_visit(&visit, reaches(&groups), options, watch);
    examination.close(intent)?;
    let kept = weighed?;
    let (settings, payload) = (basis(&visit, options.seed), wire::weigh::write(&kept)?);
    results::keep(examination, WEIGHING, settings, payload, options.seed)?;
    Ok(kept)
}

/// The weighing an examination keeps, as it was made.
pub(crate) fn stored_weighing(examination: &Examination) -> Result<Option<KeptWeighing>, ExamineError> {
    let stored = examination.result(WEIGHING)?;
    Ok(stored.map(|stored| wire::weigh::read(&stored.payload)).transpose()?)
}

/// The weighing an examination keeps, with a remark if traces or captures have changed since.
pub(crate) fn kept_weighing(
    examination: &Examination,
    groups: &[StationReads],
) -> Result<Option<KeptWeighing>, ExamineError> {
    let Some(stored) = examination.result(WEIGHING)? else { return Ok(None) };
    let mut kept = wire::weigh::read(&stored.payload)?;
    let now = visit(examination, groups)?;
    // Weighings kept before the settings of captures were written down say nothing of them.
    let same = [basis(&now, stored.seed), counted(&now, stored.seed)].contains(&stored.settings);
    if !same {
        let words = "Traces, captures or their scale, light or lens have changed since this was weighed; weigh again.";
        kept.notes.insert(0, words.to_owned());
    }
    Ok(Some(kept))
}

/// Everything a measurement brings to a weighing.
pub(crate) fn visit_of(measure: &Measure) -> Result<Visit, ExamineError> {
    Ok(Visit { captures: measure.captures.iter().map(seen_form).collect::<Result<_, _>>()? })
}

/// Everything an examination brings to a weighing.
pub(crate) fn visit(examination: &Examination, groups: &[StationReads]) -> Result<Visit, ExamineError> {
    let mut captures = Vec::new();
    for (station, reads) in groups {
        let name = station.as_ref().map_or("no station", |station| station.name.as_str());
        for read in reads.iter().filter(|read| counts(read)) {
            captures.push(seen(examination, read, name)?);
        }
    }
    Ok(Visit { captures })
}

/// How far each capture of a weighing reaches.
fn reaches(groups: &[StationReads]) -> Vec<CaptureReachForm> {
    let reads = groups.iter().flat_map(|(_, reads)| reads);
    reads.filter(|read| counts(read)).filter_map(capture_reach).collect()
}

/// Weighs what `rubstone measure --json` printed, or anyone's text of that form. All captures count as one station: nothing
/// says that they are independent of each other.
///
/// # Errors
/// It cannot be weighed, in words; or the watcher gave up.
pub fn weigh_measure(
    measure: &Measure,
    options: &WeighOptions,
    watch: &dyn Watch,
) -> Result<KeptWeighing, ExamineError> {
    let reaches = measure.captures.iter().map(|capture| CaptureReachForm {
        capture: capture.file.clone(),
        radius_mm: capture.reach.radius_mm,
        radius_px: capture.reach.radius_px,
        limited_by: capture.reach.limited_by.clone(),
    });
    weigh_visit(&visit_of(measure)?, reaches.collect(), options, watch)
}

/// The measurements in a file with the output of `rubstone measure --json`.
///
/// # Errors
/// The file cannot be read as text, or is of another form.
pub fn measure_in(path: &Path) -> Result<Measure, ExamineError> {
    let text = std::fs::read_to_string(path).map_err(|e| {
        ExamineError::request(format!(
            "cannot be read as text ({e}); give the output of `rubstone measure --json`"
        ))
    })?;
    Ok(wire::measure::read(&text)?)
}

/// What a weighing rests on, as one line: a kept one with another line is out of date.
fn basis(visit: &Visit, seed: u64) -> String {
    let mut settings: Vec<String> = visit.captures.iter().map(setting_line).collect();
    settings.sort();
    settings.dedup();
    format!("{}; {}", counted(visit, seed), settings.join("; "))
}

fn setting_line(capture: &SeenCapture) -> String {
    let scale = capture.scale.map_or("no scale".to_owned(), |scale| format!("{} µm/px", scale.value()));
    let lens = capture.lens_residual.map_or("no lens".to_owned(), |residual| format!("lens {residual}"));
    format!("{scale}, {lens}, {:?}", capture.light)
}

/// Version, seed and how much was weighed.
fn counted(visit: &Visit, seed: u64) -> String {
    let traces: usize = visit.captures.iter().map(|capture| capture.traces.len()).sum();
    format!("{SOFTWARE}; {} captures; {traces} traces; seed {seed}", visit.captures.len())
}

fn weigh_visit(
    visit: &Visit,
    reaches: Vec<CaptureReachForm>,
    options: &WeighOptions,
    watch: &dyn Watch,
) -> Result<KeptWeighing, ExamineError> {
    let typed_priors = options.priors.iter().map(prior).collect::<Result<Vec<_>, _>>()?;
    let considered = options.finishes.iter().map(|name| finish_named(name)).collect::<Result<Vec<_>, _>>()?;
    if considered.len() == 1 {
        return Err(ExamineError::request(
            "one finish cannot be weighed alone; choose two or more, or none for all",
        ));
    }
    let how = Options { seed: options.seed, typed_priors, ..Options::default() };
    // Whether it can be weighed at all is said before minutes of simulation.
    let visit = visit.weighable()?;
    let panels = options.panels.iter().map(panel).collect::<Result<Vec<_>, _>>()?;
    let panel_use = if options.replace { PanelUse::Replace } else { PanelUse::Update };
    let key = if panels.is_empty() {
        Engine::key(&visit, &how)
    } else {
        Engine::key_with_panels(&visit, &panels, panel_use, &how)
    };
    let stored = options.cache.as_deref().map(|folder| folder.join(format!("{key}.engine")));
    let known =
        stored.as_deref().and_then(|path| std::fs::read(path).ok()).and_then(|b| Engine::from_bytes(&b));
    let engine = match known {
        Some(engine) => engine,
        None => {
            let watched = |done: f64| watch.at(done, "simulating the finishes");
            let engine = if panels.is_empty() {
                Engine::train(&visit, &how, &watched).map_err(|error| match error {
                    CannotWeigh::Interrupted => ExamineError::Stopped,
                    other => ExamineError::Weigh(other),
                })?
            } else {
                Engine::train_with_panels(&visit, &panels, panel_use, &how, &watched)?
            };
            if let Some(path) = &stored {
                remember(path, &engine.to_bytes());
            }
            engine
        }
    };
    let mut weighing = engine.weigh(&visit, &how)?.only(&considered);
    if !panels.is_empty() {
        let done = if options.replace { "take the place of" } else { "update" };
        let names: Vec<&str> = panels.iter().map(|panel| panel.name.as_str()).collect();
        let words =
            format!("{} panels {done} the models of their finishes: {}.", panels.len(), names.join(", "));
        weighing.notes.push(words);
    }
    Ok(wire::weigh::kept(&weighing, reaches, &options.priors))
}

/// Where this system keeps what can be made again, simulations among it; `None` where it has no such place.
#[must_use]
pub fn cache_folder() -> Option<PathBuf> {
    let named = |name: &str| std::env::var_os(name).filter(|value| !value.is_empty()).map(PathBuf::from);
    let base = named("XDG_CACHE_HOME")
        .or_else(|| named("LOCALAPPDATA"))
        .or_else(|| named("HOME").map(|home| home.join(".cache")))?;
    Some(base.join("rubstone"))
}

/// Why an examination cannot be weighed as it stands; `None` where it can.
pub(crate) fn cannot_weigh(
    examination: &Examination,
    groups: &[StationReads],
) -> Result<Option<String>, ExamineError> {
    Ok(visit(examination, groups)?.weighable().err().map(|why| why.to_string()))
}

/// Stores simulations for the next time. That it fails costs time later, nothing else.
fn remember(path: &Path, bytes: &[u8]) {
    let temporary = path.with_extension(format!("{}.part", std::process::id()));
    let written = path
        .parent()
        .map_or(Ok(()), std::fs::create_dir_all)
        .and_then(|()| std::fs::write(&temporary, bytes))
        .and_then(|()| std::fs::rename(&temporary, path));
    if written.is_err() {
        drop(std::fs::remove_file(&temporary));
    }
}

/// The finish of this name.
pub(crate) fn finish_named(name: &str) -> Result<Finish, ExamineError> {
    Finish::named(name).ok_or_else(|| {
        let names: Vec<&str> = Finish::all().map(Finish::name).collect();
        ExamineError::request(format!("'{name}' is no finish known here; choose {}", names.join(", ")))
    })
}

fn prior((name, probability): &(String, f64)) -> Result<(Finish, f64), ExamineError> {
    let finish = finish_named(name)?;
    if !(probability.is_finite() && *probability >= 0.0) {
        return Err(ExamineError::request(format!(
            "{probability} is no probability for {name}; give 0 to 1"
        )));
    }
    Ok((finish, *probability))
}

fn seen(examination: &Examination, read: &Read, station: &str) -> Result<SeenCapture, ExamineError> {
    let capture = &read.capture;
    let focus = read.standing.kept.as_ref().and_then(|kept| kept.quality.focus_sigma_px);
    let traces = read.standing.traces.iter().filter(|one| one.state != State::Rejected);
    Ok(SeenCapture {
        name: capture.file_name.clone(),
        station: station.to_owned(),
        width_px: capture.width_px,
        height_px: capture.height_px,
        scale: read.scale,
        sharpness_px: focus.map(|focus| focus.value),
        light: examination.setting(capture)?.light,
        lens_residual: read.lens.map(|lens| {
            lens.residual_sagitta_share(f64::from(capture.width_px), f64::from(capture.height_px))
        }),
        traces: traces
            .map(|one| SeenTrace { suspect: one.state == State::Suspect, ..SeenTrace::from(&one.trace) })
            .collect(),
    })
}

fn capture_reach(read: &Read) -> Option<CaptureReachForm> {
    let kept = read.standing.kept.as_ref()?;
    let accepted: Vec<&trace::Trace> = read.standing.accepted().collect();
    let size_px = (read.capture.width_px, read.capture.height_px);
    let (reach, _) = reach(size_px, read.scale, &kept.found, &accepted, read.lens)?;
    Some(CaptureReachForm {
        capture: read.capture.file_name.clone(),
        radius_mm: reach.radius_mm,
        radius_px: reach.radius_px,
        limited_by: reach.limited_by.word().to_owned(),
    })
}

fn seen_form(capture: &CaptureForm) -> Result<SeenCapture, ExamineError> {
    let u = capture.quality.um_per_px_u.unwrap_or(0.0);
    let light =
        match (capture.quality.light.as_str(), capture.quality.light_azimuth_deg.and_then(AxialDeg::new)) {
            ("azimuth", Some(axis)) => Light::Azimuth(axis),
            ("ring", _) => Light::Ring,
            ("coaxial", _) => Light::Coaxial,
            _ => Light::Unknown,
        };
    Ok(SeenCapture {
        name: capture.file.clone(),
        station: "all".to_owned(),
        width_px: capture.width_px,
        height_px: capture.height_px,
        scale: capture.um_per_px.and_then(|value| UmPerPx::new(value, u)),
        sharpness_px: capture.quality.focus_sigma_px,
        light,
        lens_residual: None,
        traces: capture.traces.iter().map(seen_trace).collect::<Result<_, _>>()?,
    })
}

fn seen_trace(trace: &TraceForm) -> Result<SeenTrace, ExamineError> {
    let direction = AxialDeg::new(trace.direction_deg).ok_or_else(|| {
        ExamineError::request(format!("trace {} has no direction; measure it again", trace.id))
    })?;
    Ok(SeenTrace {
        points_px: trace.points.clone(),
        length_px: trace.length_px,
        width_px: trace.width_px,
        direction,
        curvature_per_px: Measured { value: trace.curvature_per_px, u: trace.curvature_u_per_px },
        ends_inside: trace.ends_inside,
        suspect: trace.suspect.is_some(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn seen(um_per_px: f64) -> SeenCapture {
        SeenCapture {
            name: "a.jpg".to_owned(),
            station: "A".to_owned(),
            width_px: 1600,
            height_px: 1200,
            scale: UmPerPx::new(um_per_px, 0.01),
            sharpness_px: None,
            light: Light::Ring,
            lens_residual: None,
            traces: Vec::new(),
        }
    }

    #[test]
    fn a_weighing_is_out_of_date_once_a_scale_or_a_lens_is_another() {
        let line = |capture: SeenCapture| basis(&Visit { captures: vec![capture] }, 1);
        let before = line(seen(2.5));
        assert_eq!(before, line(seen(2.5)));
        assert_ne!(before, line(seen(2.6)));
        assert_ne!(before, line(SeenCapture { lens_residual: Some(1e-4), ..seen(2.5) }));
        assert_ne!(before, line(SeenCapture { light: Light::Coaxial, ..seen(2.5) }));
    }
}
