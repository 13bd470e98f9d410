//! Whoever waits for long work: told how far it is, asked whether to go on.

use std::sync::Mutex;

/// Watches long work.
pub trait Watch: Sync {
    /// Called now and then with the share done, 0 to 1, and what is being done. `false` gives up: what is finished is
    /// kept, the rest is left.
    fn at(&self, done: f64, doing: &str) -> bool;
}

/// Nobody watches.
#[derive(Debug, Clone, Copy, Default)]
pub struct Unwatched;

impl Watch for Unwatched {
    fn at(&self, _done: f64, _doing: &str) -> bool {
        true
    }
}

/// A part of the whole, from share `from` to share `to`, watched by the same watcher.
pub(crate) struct Part<'a> {
    pub(crate) whole: &'a dyn Watch,
    pub(crate) from: f64,
    pub(crate) to: f64,
}

impl Watch for Part<'_> {
    fn at(&self, done: f64, doing: &str) -> bool {
        self.whole.at(self.from + done.clamp(0.0, 1.0) * (self.to - self.from), doing)
    }
}

/// Several pieces of equal weight that run at the same time; the watcher hears of their mean.
pub(crate) struct Pieces<'a> {
    whole: &'a dyn Watch,
    done: Mutex<Vec<f64>>,
}

impl<'a> Pieces<'a> {
    pub(crate) fn new(whole: &'a dyn Watch, n_pieces: usize) -> Self {
        Self { whole, done: Mutex::new(vec![0.0; n_pieces]) }
    }

    /// Tells how far piece `index` is.
    #[expect(clippy::cast_precision_loss, reason = "a share for a progress bar")]
    pub(crate) fn at(&self, index: usize, done: f64, doing: &str) -> bool {
        let mean = {
            // A panic elsewhere must not hide progress here.
            let mut all = self.done.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
            if let Some(piece) = all.get_mut(index) {
                *piece = done.clamp(0.0, 1.0);
            }
            all.iter().sum::<f64>() / all.len().max(1) as f64
        };
        self.whole.at(mean, doing)
    }
}
