//! The stream that tells pages of changes: those made here at once, those made by other programs within a second.

use std::convert::Infallible;
use std::time::Duration;

use axum::extract::State;
use axum::response::Sse;
use axum::response::sse::{Event, KeepAlive};
use futures_util::{Stream, StreamExt, stream};
use tokio_stream::wrappers::{IntervalStream, WatchStream};
use wire::desk::EventForm;

use crate::state::{Shared, off_thread};

/// How often the folder is looked at for changes that other programs made.
const LOOK_EVERY: Duration = Duration::from_secs(1);

/// Says the revision and the work in progress whenever either changes.
pub async fn events(State(shared): State<Shared>) -> Sse<impl Stream<Item = Result<Event, Infallible>>> {
    let changes = WatchStream::new(shared.changed.subscribe()).map(|_| ());
    let looks = IntervalStream::new(tokio::time::interval(LOOK_EVERY)).map(|_| ());
    let news = stream::select(changes, looks).then(move |()| state(shared.clone())).scan(
        None,
        |last, now: EventForm| {
            let fresh = last.as_ref() != Some(&now);
            *last = Some(now.clone());
            std::future::ready(Some(fresh.then_some(now)))
        },
    );
    let events =
        news.filter_map(|news| async { news.and_then(|form| Event::default().json_data(form).ok()).map(Ok) });
    Sse::new(events).keep_alive(KeepAlive::default())
}

async fn state(shared: Shared) -> EventForm {
    let jobs = shared.jobs.forms();
    let revision = off_thread(move || shared.with(|examination| Ok(examination.revision()?))).await.ok();
    EventForm { revision, jobs }
}
