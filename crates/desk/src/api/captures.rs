//! Captures and the instruments they were taken with.

use std::path::PathBuf;

use archive::{CaptureId, InstrumentId};
use axum::extract::{Multipart, State};
use tokio::io::AsyncWriteExt;
use uuid::Uuid;
use wire::desk::{
    AddQuery, AddedForm, CaptureChange, ExaminationForm, InstrumentText, Problem, SetScale, UploadForm,
};

use super::{Changed, change};
use crate::answer::Refusal;
use crate::extract::{Json, Path, Query};
use crate::state::{Shared, off_thread};

/// Adds one picture.
#[utoipa::path(post, path = "/api/captures", params(AddQuery), request_body(content = UploadForm, content_type = "multipart/form-data"),
    responses((status = 200, body = AddedForm), (status = 413, body = Problem), (status = 400, body = Problem), (status = 404, body = Problem), (status = 409, body = Problem)))]
pub async fn add(
    State(shared): State<Shared>,
    Query(query): Query<AddQuery>,
    upload: Result<Multipart, axum::extract::multipart::MultipartRejection>,
) -> Result<Json<AddedForm>, Refusal> {
    let mut upload =
        upload.map_err(|e| Refusal::bad(format!("the upload is not a form with a file ({e})")))?;
    let waiting = Waiting::new()?;
    let path = waiting.take(&mut upload).await?;
    off_thread(move || {
        let form = shared.with(|examination| Ok(examine::forms::add(examination, &path, &query)?))?;
        drop(waiting);
        crate::jobs::tell(&shared.changed);
        Ok(Json(form))
    })
    .await
}

/// A folder for one upload, gone with it.
struct Waiting(PathBuf);

impl Waiting {
    fn new() -> Result<Self, Refusal> {
        let folder = std::env::temp_dir().join(format!("rubstone-{}", Uuid::now_v7()));
        std::fs::create_dir(&folder)
            .map_err(|e| Refusal::with(500, format!("{}: {e}; make room there", folder.display())))?;
        Ok(Self(folder))
    }

    /// Writes the uploaded file to disk as it comes, under its own name.
    async fn take(&self, upload: &mut Multipart) -> Result<PathBuf, Refusal> {
        let broken = |e: axum::extract::multipart::MultipartError| {
            Refusal::with(e.status().as_u16(), format!("the upload broke off ({e}); send it again"))
        };
        let mut field = upload
            .next_field()
            .await
            .map_err(broken)?
            .ok_or_else(|| Refusal::bad("the upload has no file"))?;
        let path = self.0.join(plain_name(field.file_name().unwrap_or_default())?);
        let disk = |e: std::io::Error| {
            Refusal::with(
                500,
                format!("the upload cannot be kept ({e}); make room on the disk and send it again"),
            )
        };
        let mut file = tokio::fs::File::create_new(&path).await.map_err(disk)?;
        while let Some(part) = field.chunk().await.map_err(broken)? {
            file.write_all(&part).await.map_err(disk)?;
        }
        file.flush().await.map_err(disk)?;
        Ok(path)
    }
}

impl Drop for Waiting {
    fn drop(&mut self) {
        // What cannot be removed lies in the system's folder for such things, which clears itself.
        let _ = std::fs::remove_dir_all(&self.0);
    }
}

/// The last part of a name, if it is one that stays in its folder.
fn plain_name(name: &str) -> Result<&str, Refusal> {
    let plain = name.rsplit(['/', '\\']).next().unwrap_or_default();
    let usable =
        !plain.is_empty() && plain != "." && plain != ".." && !plain.contains('\0') && plain.len() <= 255;
    if usable {
        Ok(plain)
    } else {
        Err(Refusal::bad("the file has no usable name; rename it and send it again"))
    }
}

/// Changes a capture's kind, station, instrument, light or note, or sets it aside.
#[utoipa::path(patch, path = "/api/captures/{id}", params(("id" = i64, Path, description = "Capture")), request_body = CaptureChange,
    responses((status = 200, body = ExaminationForm), (status = 400, body = Problem), (status = 404, body = Problem), (status = 409, body = Problem)))]
pub async fn change_one(
    State(shared): State<Shared>,
    Path(id): Path<i64>,
    Json(wanted): Json<CaptureChange>,
) -> Changed {
    change(shared, move |examination| {
        Ok(examine::forms::change_capture(examination, CaptureId(id), &wanted)?)
    })
    .await
}

/// Adds an instrument.
#[utoipa::path(post, path = "/api/instruments", request_body = InstrumentText,
    responses((status = 200, body = ExaminationForm), (status = 400, body = Problem), (status = 404, body = Problem), (status = 409, body = Problem)))]
pub async fn add_instrument(State(shared): State<Shared>, Json(text): Json<InstrumentText>) -> Changed {
    change(shared, move |examination| Ok(examine::forms::add_instrument(examination, &text)?)).await
}

/// Changes an instrument.
#[utoipa::path(put, path = "/api/instruments/{id}", params(("id" = i64, Path, description = "Instrument")), request_body = InstrumentText,
    responses((status = 200, body = ExaminationForm), (status = 400, body = Problem), (status = 404, body = Problem), (status = 409, body = Problem)))]
pub async fn change_instrument(
    State(shared): State<Shared>,
    Path(id): Path<i64>,
    Json(text): Json<InstrumentText>,
) -> Changed {
    change(shared, move |examination| {
        Ok(examine::forms::change_instrument(examination, InstrumentId(id), &text)?)
    })
    .await
}

/// Sets the scale of an instrument or of one capture.
#[utoipa::path(post, path = "/api/scale", request_body = SetScale,
    responses((status = 200, body = ExaminationForm), (status = 400, body = Problem), (status = 404, body = Problem), (status = 409, body = Problem)))]
pub async fn set_scale(State(shared): State<Shared>, Json(wanted): Json<SetScale>) -> Changed {
    change(shared, move |examination| Ok(examine::forms::set_scale(examination, &wanted)?)).await
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_stay_in_their_folder() {
        for (name, kept) in [
            ("a.jpg", "a.jpg"),
            ("../../etc/passwd", "passwd"),
            ("C:\\pictures\\b.png", "b.png"),
            ("\\\\host\\share\\c.tif", "c.tif"),
        ] {
            assert_eq!(plain_name(name).ok(), Some(kept), "{name}");
        }
        for name in ["", "..", "a/..", "x\\.", "nul\0.jpg"] {
            assert!(plain_name(name).is_err(), "{name:?}");
        }
    }
}
