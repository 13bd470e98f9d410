//! Work that goes on while pages come and go.

use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use tokio::sync::watch;
use wire::desk::JobForm;

use crate::answer::Refusal;

/// Ended work that is still listed; older is forgotten.
const REMEMBERED: usize = 20;

/// What came of a piece of work.
#[derive(Debug, Default)]
pub struct Outcome {
    /// In words.
    pub said: String,
    /// Single inputs that failed, each with what to do.
    pub problems: Vec<String>,
}

struct Job {
    form: JobForm,
    cancelled: Arc<AtomicBool>,
}

/// All work of this run of the server, one piece at a time.
pub struct Jobs {
    list: Arc<Mutex<Vec<Job>>>,
    changed: watch::Sender<u64>,
}

/// How a piece of work tells what it is at and hears that it is no longer wanted.
pub struct JobWatch {
    id: u64,
    list: Arc<Mutex<Vec<Job>>>,
    changed: watch::Sender<u64>,
    cancelled: Arc<AtomicBool>,
}

impl Jobs {
    /// No work yet; `changed` hears of every change.
    pub fn new(changed: watch::Sender<u64>) -> Self {
        Self { list: Arc::default(), changed }
    }

    /// All work as pages see it.
    pub fn forms(&self) -> Vec<JobForm> {
        locked(&self.list).iter().map(|job| job.form.clone()).collect()
    }

    /// Starts a piece of work on a thread of its own.
    ///
    /// # Errors
    /// Another piece is still running.
    pub fn start(
        &self,
        title: &str,
        work: impl FnOnce(&JobWatch) -> Result<Outcome, String> + Send + 'static,
    ) -> Result<JobForm, Refusal> {
        let mut list = locked(&self.list);
        if let Some(running) = list.iter().find(|job| job.form.state == "running") {
            return Err(Refusal::busy(format!("wait for \"{}\" to end, or cancel it", running.form.title)));
        }
        let id = list.last().map_or(1, |job| job.form.id + 1);
        let form = JobForm {
            id,
            title: title.to_owned(),
            at: String::new(),
            done: 0.0,
            state: "running".to_owned(),
            problems: Vec::new(),
            outcome: None,
        };
        let cancelled = Arc::new(AtomicBool::new(false));
        list.push(Job { form: form.clone(), cancelled: Arc::clone(&cancelled) });
        let excess = list.len().saturating_sub(REMEMBERED);
        list.drain(..excess);
        drop(list);
        let watch = JobWatch { id, list: Arc::clone(&self.list), changed: self.changed.clone(), cancelled };
        std::thread::spawn(move || {
            // A panic must not leave the work "running" for ever.
            let ended = std::panic::catch_unwind(std::panic::AssertUnwindSafe(|| work(&watch)));
            watch.end(ended.unwrap_or_else(|_| {
                Err("the program failed inside; what was done before is kept".to_owned())
            }));
        });
        tell(&self.changed);
        Ok(form)
    }

    /// Asks a piece of work to stop; what it has done stays.
    ///
    /// # Errors
    /// No such work.
    pub fn cancel(&self, id: u64) -> Result<(), Refusal> {
        let list = locked(&self.list);
        let job = list.iter().find(|job| job.form.id == id);
        let job = job.ok_or_else(|| Refusal::missing(format!("there is no work number {id}")))?;
        job.cancelled.store(true, Ordering::Relaxed);
        Ok(())
    }
}

impl JobWatch {
    /// Tells what share is done and what it is at; `false` when the work is no longer wanted.
    pub fn report(&self, done: f64, at: &str) -> bool {
        self.edit(|form| {
            form.done = done.clamp(0.0, 1.0);
            at.clone_into(&mut form.at);
        });
        self.wanted()
    }

    /// Whether the work is still wanted.
    pub fn wanted(&self) -> bool {
        !self.cancelled.load(Ordering::Relaxed)
    }

    fn end(&self, ended: Result<Outcome, String>) {
        let wanted = self.wanted();
        self.edit(|form| match ended {
            _ if !wanted => form.state = "cancelled".to_owned(),
            Ok(outcome) => {
                form.state = "done".to_owned();
                form.done = 1.0;
                form.outcome = Some(outcome.said);
                form.problems = outcome.problems;
            }
            Err(reason) => {
                form.state = "failed".to_owned();
                form.outcome = Some(reason);
            }
        });
    }

    fn edit(&self, change: impl FnOnce(&mut JobForm)) {
        if let Some(job) = locked(&self.list).iter_mut().find(|job| job.form.id == self.id) {
            change(&mut job.form);
        }
        tell(&self.changed);
    }
}

fn locked(list: &Mutex<Vec<Job>>) -> MutexGuard<'_, Vec<Job>> {
    list.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Tells every listening page that something changed.
pub fn tell(changed: &watch::Sender<u64>) {
    changed.send_modify(|count| *count += 1);
}
