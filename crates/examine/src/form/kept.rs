//! What an examination keeps about form.

use std::path::PathBuf;

use archive::Examination;
use wire::form::{KEPT_SCHEMA, KeptForm, KeptForms};

use super::{FormOptions, measure};
use crate::{ExamineError, Failure, SEED, SOFTWARE, Watch, results};

/// Kind under which an examination keeps its forms.
const FORM: &str = "form";

/// Everything kept about form, in the order in which the files were first measured.
///
/// # Errors
/// The examination cannot be read.
pub fn kept(examination: &Examination) -> Result<Vec<KeptForm>, ExamineError> {
    match examination.result(FORM)? {
        Some(stored) => Ok(wire::form::read(&stored.payload)?.files),
        None => Ok(Vec::new()),
    }
}

/// Measures the form of some files and keeps the answers in an examination. The files themselves stay where they are; a
/// file measured again replaces its earlier answer. Each file that fails is named; the rest is kept.
///
/// # Errors
/// The examination cannot be written; [`ExamineError::Stopped`] if the watcher gave up.
pub fn form_examination(
    examination: &Examination,
    files: &[PathBuf],
    options: &FormOptions,
    watch: &dyn Watch,
) -> Result<(Vec<KeptForm>, Vec<Failure>), ExamineError> {
    let (mut measured, failures) = measure(files, options, watch)?;
    for form in &mut measured {
        // The folder may be one of the moment; the name is what its owner knows.
        if let Some(name) = PathBuf::from(&form.form.file).file_name() {
            form.form.file = name.to_string_lossy().into_owned();
        }
    }
    let mut all = kept(examination)?;
    measured.iter().for_each(|form| put(&mut all, form));
    keep(examination, all)?;
    Ok((measured, failures))
}

/// Keeps what was measured on one file.
pub(super) fn keep_one(examination: &Examination, form: &KeptForm) -> Result<(), ExamineError> {
    let mut all = kept(examination)?;
    put(&mut all, form);
    keep(examination, all)
}

/// Puts a form in the place of the earlier one of its file, or behind all others.
fn put(all: &mut Vec<KeptForm>, form: &KeptForm) {
    match all.iter_mut().find(|other| other.sha256 == form.sha256) {
        Some(other) => *other = form.clone(),
        None => all.push(form.clone()),
    }
}

/// Forgets what was measured on the file with this SHA-256.
///
/// # Errors
/// Nothing is kept of it; the examination cannot be written.
pub fn forget(examination: &Examination, sha256: &str) -> Result<(), ExamineError> {
    let mut all = kept(examination)?;
    let before = all.len();
    all.retain(|form| form.sha256 != sha256);
    if all.len() == before {
        let missing = archive::ArchiveError::NoSuch { what: "form of a file", id: sha256.to_owned() };
        return Err(missing.into());
    }
    keep(examination, all)
}

fn keep(examination: &Examination, files: Vec<KeptForm>) -> Result<(), ExamineError> {
    let payload = wire::form::write(&KeptForms { schema: KEPT_SCHEMA.to_owned(), files })?;
    results::keep(examination, FORM, SOFTWARE.to_owned(), payload, SEED)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{FormPart, LengthUnit, Unwatched};

    #[test]
    fn a_face_measured_twice_is_kept_once_and_can_be_forgotten() {
        let folder = std::env::temp_dir().join(format!("rubstone-form-{}", std::process::id()));
        let _ = std::fs::remove_dir_all(&folder);
        let examination = Examination::begin(&folder.join("exam"), SOFTWARE).unwrap();
        let grid = folder.join("face.txt");
        let row = |y: usize| (0..40).map(|x| format!("{}", (x + 2 * y) % 5)).collect::<Vec<_>>().join(" ");
        std::fs::write(&grid, (0..40).map(row).collect::<Vec<_>>().join("\n")).unwrap();
        let options = FormOptions {
            unit: Some(LengthUnit::Micrometre),
            pitch_um: Some(2.0),
            parts: vec![FormPart::Flatness, FormPart::Fillet],
            ..FormOptions::default()
        };
        for _ in 0..2 {
            let (measured, failures) = form_examination(
                &examination,
                &[grid.clone(), folder.join("none.txt")],
                &options,
                &Unwatched,
            )
            .unwrap();
            assert_eq!((measured.len(), failures.len()), (1, 1));
        }
        let all = kept(&examination).unwrap();
        assert_eq!(all.len(), 1);
        assert_eq!(all[0].form.file, "face.txt");
        assert!(all[0].asked.iter().any(|(_, value)| value == "2 µm"), "{:?}", all[0].asked);
        assert!(all[0].form.quantities.iter().any(|quantity| quantity.unit == "µm"));
        assert!(all[0].form.cannot_tell[0].contains("mesh"), "{:?}", all[0].form.cannot_tell);
        assert_eq!(all[0].maps[0].columns, 40);
        forget(&examination, &all[0].sha256).unwrap();
        assert!(kept(&examination).unwrap().is_empty());
        assert!(forget(&examination, "0").is_err());
        std::fs::remove_dir_all(&folder).unwrap();
    }
}
