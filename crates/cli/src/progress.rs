//! A progress bar on stderr where somebody watches; silence where nobody does.

use std::io::IsTerminal;

use examine::Watch;
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

/// Steps of the bar: finer than any terminal is wide.
const STEPS: u64 = 1000;

/// A bar that shows long work.
pub struct Progress {
    bar: ProgressBar,
}

impl Progress {
    /// A bar, hidden unless stderr is a terminal.
    pub fn new() -> Self {
        let target = if std::io::stderr().is_terminal() {
            ProgressDrawTarget::stderr()
        } else {
            ProgressDrawTarget::hidden()
        };
        let bar = ProgressBar::with_draw_target(Some(STEPS), target);
        if let Ok(style) = ProgressStyle::with_template("{bar:30} {percent:>3} % {eta:>4} {wide_msg}") {
            bar.set_style(style);
        }
        Self { bar }
    }
}

impl Watch for Progress {
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        clippy::cast_precision_loss,
        reason = "a share in 0..1"
    )]
    fn at(&self, done: f64, doing: &str) -> bool {
        self.bar.set_position((done.clamp(0.0, 1.0) * STEPS as f64) as u64);
        self.bar.set_message(doing.to_owned());
        true
    }
}

impl Drop for Progress {
    fn drop(&mut self) {
        self.bar.finish_and_clear();
    }
}
