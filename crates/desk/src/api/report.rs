//! The report, made as it stands now.

use axum::extract::State;
use axum::http::{HeaderValue, header};
use axum::response::{IntoResponse, Response};
use examine::{PublishOptions, Unwatched};
use wire::desk::ReportQuery;

use crate::answer::Refusal;
use crate::extract::{Path, Query};
use crate::state::{Shared, off_thread};

/// The preview brings its own styles and pictures inside the page, and may do nothing else.
const PREVIEW_POLICY: &str =
    "default-src 'none'; style-src 'unsafe-inline'; img-src data:; frame-ancestors 'self'; sandbox";

/// `preview`, `report.html`, `report.pdf`, one of the tables (`captures.csv`, …), or what other programs read:
/// `measure.json`, `weigh.json`, and `weigh-file.json` for the last file that was weighed.
pub async fn report_file(
    State(shared): State<Shared>,
    Path(file): Path<String>,
    Query(query): Query<ReportQuery>,
) -> Result<Response, Refusal> {
    off_thread(move || {
        let without =
            query.without.split(',').filter(|chapter| !chapter.is_empty()).map(str::to_owned).collect();
        let made_at = Some(query.made_at).filter(|day| !day.trim().is_empty());
        let options = PublishOptions { made_at, without, ..PublishOptions::default() };
        let dossier = || shared.with(|examination| Ok(examine::dossier(examination, &options, &Unwatched)?));
        let made = |e: report::ReportError| Refusal::with(500, e.to_string());
        match file.as_str() {
            "preview" => {
                let mut response = page(report::html(&dossier()?).map_err(made)?);
                response
                    .headers_mut()
                    .insert(header::CONTENT_SECURITY_POLICY, HeaderValue::from_static(PREVIEW_POLICY));
                Ok(response)
            }
            "report.html" => Ok(kept(
                "text/html; charset=utf-8",
                &file,
                report::html(&dossier()?).map_err(made)?.into_bytes(),
            )),
            "report.pdf" => Ok(kept("application/pdf", &file, report::pdf(&dossier()?).map_err(made)?)),
            "measure.json" => {
                let text = shared.with(|examination| Ok(examine::measurements_text(examination)?))?;
                Ok(kept("application/json", &file, text.into_bytes()))
            }
            "weigh.json" => {
                let text = shared.with(|examination| Ok(examine::forms::weighing_text(examination)?))?;
                Ok(kept("application/json", &file, text.into_bytes()))
            }
            "weigh-file.json" => {
                let weighed = shared.weighed();
                let weighed =
                    weighed.ok_or_else(|| Refusal::missing("no file was weighed yet; weigh one first"))?;
                let text = examine::forms::weighing_as_text(&weighed.kept)?;
                Ok(kept("application/json", &file, text.into_bytes()))
            }
            name if name.ends_with(".csv") => {
                let tables = report::tables(&dossier()?).map_err(made)?;
                let table = tables.into_iter().find(|table| table.name == name);
                let table =
                    table.ok_or_else(|| Refusal::missing(format!("the report has no table {name}")))?;
                Ok(kept("text/csv; charset=utf-8", name, table.csv))
            }
            _ => Err(Refusal::missing("the report has no such file")),
        }
    })
    .await
}

fn page(html: String) -> Response {
    ([(header::CONTENT_TYPE, "text/html; charset=utf-8")], html).into_response()
}

/// A file to keep rather than to show.
fn kept(kind: &'static str, name: &str, bytes: Vec<u8>) -> Response {
    // Only names of ours come here, so they need no quoting.
    let disposition = format!("attachment; filename=\"{name}\"");
    ([(header::CONTENT_TYPE, kind.to_owned()), (header::CONTENT_DISPOSITION, disposition)], bytes)
        .into_response()
}
