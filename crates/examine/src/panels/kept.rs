//! The reference panels that an examination keeps.

use std::path::Path;

use archive::{ArchiveError, Examination};
use wire::panels::{KeptCheck, KeptPanel, KeptPanels, PanelSource};

use super::{NamedPanel, PanelInput, check_panels, graded_panel, panel};
use crate::{ExamineError, SEED, SOFTWARE, Watch, results};

/// Kind under which an examination keeps its panels.
const PANELS: &str = "panels";

/// The panels an examination keeps, and what was found when each was left out.
///
/// # Errors
/// The examination cannot be read.
pub fn kept_panels(examination: &Examination) -> Result<KeptPanels, ExamineError> {
    match examination.result(PANELS)? {
        Some(stored) => Ok(wire::panels::read(&stored.payload)?),
        None => Ok(KeptPanels::default()),
    }
}

/// The panels an examination keeps, as the weighing takes them.
///
/// # Errors
/// The examination cannot be read.
pub fn named_panels(examination: &Examination) -> Result<Vec<NamedPanel>, ExamineError> {
    Ok(kept_panels(examination)?.panels.into_iter().map(named).collect())
}

/// Adds a panel, once it is known that it can be weighed; `grit` is what it was finished with, with its scale, if that is
/// known.
///
/// # Errors
/// The finish or the grit is not known; nothing to weigh lies there, in words; the examination cannot be written.
pub fn add_panel(
    examination: &Examination,
    given: NamedPanel,
    grit: Option<&str>,
) -> Result<(), ExamineError> {
    let read = panel(&given)?;
    read.visit.weighable().map_err(|why| ExamineError::request(format!("{}: {why}", read.name)))?;
    let grit = grit.map(|grit| graded_panel(grit, &given.input)).transpose()?;
    let mut kept = kept_panels(examination)?;
    let (name, source) = match given.input {
        PanelInput::Measure { name, measure } => (name, PanelSource::Measure(*measure)),
        PanelInput::Path(path) if path.is_dir() => {
            // Later the program may be started elsewhere.
            let whole = std::path::absolute(&path).unwrap_or(path);
            (last_part(&whole), PanelSource::Examination(whole.display().to_string()))
        }
        PanelInput::Path(path) => {
            let text = std::fs::read_to_string(&path)
                .map_err(|e| ExamineError::request(format!("{}: cannot be read ({e})", read.name)))?;
            (last_part(&path), PanelSource::Measure(wire::measure::read(&text)?))
        }
    };
    kept.panels.push(KeptPanel { id: kept.next, name, finish: read.finish.name().to_owned(), grit, source });
    kept.next += 1;
    keep(examination, &kept)
}

/// Takes a panel out; its own examination, if it has one, stays as it is.
///
/// # Errors
/// There is no such panel; the examination cannot be written.
pub fn remove_panel(examination: &Examination, id: u32) -> Result<(), ExamineError> {
    let mut kept = kept_panels(examination)?;
    let before = kept.panels.len();
    kept.panels.retain(|panel| panel.id != id);
    if kept.panels.len() == before {
        return Err(ArchiveError::NoSuch { what: "panel", id: id.to_string() }.into());
    }
    keep(examination, &kept)
}

/// Leaves each kept panel out in turn, weighs it with an engine that knows the others, and keeps the answer.
///
/// # Errors
/// Too few panels or panels that cannot be weighed, in words; the examination cannot be written; the watcher gave up.
pub fn check_kept_panels(
    examination: &Examination,
    replace: bool,
    seed: u64,
    watch: &dyn Watch,
) -> Result<KeptCheck, ExamineError> {
    let checked = kept_panels(examination)?.panels;
    let panels = checked.iter().map(|panel| panel.id).collect();
    let named: Vec<NamedPanel> = checked.into_iter().map(named).collect();
    let answer = check_panels(&named, replace, seed, watch)?;
    let check = KeptCheck { replace, seed, panels, answer };
    // Panels may have been added while this was worked out.
    let kept = KeptPanels { check: Some(check.clone()), ..kept_panels(examination)? };
    keep(examination, &kept)?;
    Ok(check)
}

fn named(kept: KeptPanel) -> NamedPanel {
    let input = match kept.source {
        PanelSource::Examination(folder) => PanelInput::Path(folder.into()),
        PanelSource::Measure(measure) => PanelInput::Measure { name: kept.name, measure: Box::new(measure) },
    };
    NamedPanel { finish: kept.finish, input }
}

fn last_part(path: &Path) -> String {
    crate::shown(Path::new(path.file_name().unwrap_or(path.as_os_str())))
}

fn keep(examination: &Examination, kept: &KeptPanels) -> Result<(), ExamineError> {
    results::keep(examination, PANELS, SOFTWARE.to_owned(), wire::panels::write(kept)?, SEED)
}
