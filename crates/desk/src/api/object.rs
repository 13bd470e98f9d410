//! The examination itself, its object and its stations.

use std::path::PathBuf;

use archive::{Examination, StationId};
use axum::extract::State;
use wire::desk::{DeskForm, ExaminationForm, ObjectForm, OpenRequest, PinForm, Problem, StationText};

use super::{Changed, change};
use crate::answer::Refusal;
use crate::extract::{Json, Path};
use crate::recent::home;
use crate::state::{Shared, off_thread};

/// What the page needs to begin.
#[utoipa::path(get, path = "/api/desk", responses((status = 200, body = DeskForm), (status = 400, body = Problem)))]
pub async fn state(State(shared): State<Shared>) -> Result<Json<DeskForm>, Refusal> {
    off_thread(move || desk_form(&shared)).await.map(Json)
}

fn desk_form(shared: &Shared) -> Result<DeskForm, Refusal> {
    let examination = match shared.folder() {
        None => None,
        Some(_) => {
            Some(shared.with(|examination| Ok(examine::forms::examination(examination, &shared.memory)?))?)
        }
    };
    let home = home().unwrap_or_else(|| PathBuf::from("."));
    Ok(DeskForm {
        software: examine::SOFTWARE.to_owned(),
        examination,
        recent: shared.recent.folders(),
        home: home.display().to_string(),
    })
}

/// Opens an examination, or begins one.
#[utoipa::path(post, path = "/api/open", request_body = OpenRequest,
    responses((status = 200, body = ExaminationForm), (status = 400, body = Problem), (status = 409, body = Problem)))]
pub async fn open(State(shared): State<Shared>, Json(request): Json<OpenRequest>) -> Changed {
    let folder = PathBuf::from(request.folder.trim());
    if !folder.is_absolute() {
        return Err(Refusal::bad("give the whole path of the folder, from the root of the disk"));
    }
    off_thread(move || {
        let examination = if request.begin {
            Examination::begin(&folder, examine::SOFTWARE)?
        } else {
            Examination::open(&folder)?
        };
        shared.open(&folder);
        Ok(Json(examine::forms::examination(&examination, &shared.memory)?))
    })
    .await
}

/// Closes the examination; its folder stays as it is.
#[utoipa::path(post, path = "/api/close", responses((status = 200, body = DeskForm), (status = 400, body = Problem)))]
pub async fn close(State(shared): State<Shared>) -> Result<Json<DeskForm>, Refusal> {
    off_thread(move || {
        shared.close();
        desk_form(&shared)
    })
    .await
    .map(Json)
}

/// Sets what is known of the object.
#[utoipa::path(put, path = "/api/object", request_body = ObjectForm,
    responses((status = 200, body = ExaminationForm), (status = 400, body = Problem), (status = 409, body = Problem)))]
pub async fn set(State(shared): State<Shared>, Json(object): Json<ObjectForm>) -> Changed {
    change(shared, move |examination| examine::forms::set_object(examination, &object)).await
}

/// Adds a station.
#[utoipa::path(post, path = "/api/stations", request_body = StationText,
    responses((status = 200, body = ExaminationForm), (status = 400, body = Problem), (status = 409, body = Problem)))]
pub async fn add_station(State(shared): State<Shared>, Json(text): Json<StationText>) -> Changed {
    change(shared, move |examination| examine::forms::add_station(examination, &text)).await
}

/// Changes a station's name and note.
#[utoipa::path(put, path = "/api/stations/{id}", params(("id" = i64, Path, description = "Station")), request_body = StationText,
    responses((status = 200, body = ExaminationForm), (status = 400, body = Problem), (status = 404, body = Problem), (status = 409, body = Problem)))]
pub async fn change_station(
    State(shared): State<Shared>,
    Path(id): Path<i64>,
    Json(text): Json<StationText>,
) -> Changed {
    change(shared, move |examination| examine::forms::change_station(examination, StationId(id), &text)).await
}

/// Removes a station that has no captures.
#[utoipa::path(delete, path = "/api/stations/{id}", params(("id" = i64, Path, description = "Station")),
    responses((status = 200, body = ExaminationForm), (status = 400, body = Problem), (status = 404, body = Problem), (status = 409, body = Problem)))]
pub async fn remove_station(State(shared): State<Shared>, Path(id): Path<i64>) -> Changed {
    change(shared, move |examination| Ok(examination.remove_station(StationId(id))?)).await
}

/// Pins a station on an overview picture.
#[utoipa::path(put, path = "/api/stations/{id}/pin", params(("id" = i64, Path, description = "Station")), request_body = PinForm,
    responses((status = 200, body = ExaminationForm), (status = 400, body = Problem), (status = 404, body = Problem), (status = 409, body = Problem)))]
pub async fn pin(State(shared): State<Shared>, Path(id): Path<i64>, Json(pin): Json<PinForm>) -> Changed {
    change(shared, move |examination| examine::forms::pin(examination, StationId(id), Some(pin))).await
}

/// Takes a station's pin off.
#[utoipa::path(delete, path = "/api/stations/{id}/pin", params(("id" = i64, Path, description = "Station")),
    responses((status = 200, body = ExaminationForm), (status = 400, body = Problem), (status = 404, body = Problem), (status = 409, body = Problem)))]
pub async fn unpin(State(shared): State<Shared>, Path(id): Path<i64>) -> Changed {
    change(shared, move |examination| examine::forms::pin(examination, StationId(id), None)).await
}
