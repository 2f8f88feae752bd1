//! A progress bar for people who wait: on a terminal only, and only once a run has taken a second.

use indicatif::{ProgressBar, ProgressStyle};
use std::io::IsTerminal;
use std::time::{Duration, Instant};

/// A run shorter than this shows no bar.
const PATIENCE: Duration = Duration::from_secs(1);
/// Parts the bar is divided into.
const PARTS: u64 = 1000;

/// Shows how much of a run is done.
pub struct Progress {
    start: Instant,
    wanted: bool,
    doing: &'static str,
    bar: Option<ProgressBar>,
}

impl Progress {
    /// Nothing shown yet; nothing ever when `quiet` or when errors do not go to a terminal.
    pub fn new(quiet: bool) -> Self {
        Self::of("simulating", quiet)
    }

    /// The same for something else that takes time.
    pub fn of(doing: &'static str, quiet: bool) -> Self {
        Self {
            start: Instant::now(),
            doing,
            wanted: !quiet && std::io::stderr().is_terminal(),
            bar: None,
        }
    }

    /// Shows that `share` (0 to 1) is done.
    pub fn show(&mut self, share: f64) {
        if !self.wanted || self.start.elapsed() < PATIENCE {
            return;
        }
        let bar = self.bar.get_or_insert_with(|| {
            let bar = ProgressBar::new(PARTS).with_elapsed(self.start.elapsed());
            match ProgressStyle::with_template(&format!("{} {{wide_bar}} {{percent}} %, {{eta}} left", self.doing)) {
                Ok(style) => bar.with_style(style),
                Err(_) => bar,
            }
        });
        #[allow(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            clippy::cast_precision_loss
        )]
        bar.set_position((share * PARTS as f64) as u64);
    }
}

impl Drop for Progress {
    fn drop(&mut self) {
        if let Some(bar) = &self.bar {
            bar.finish_and_clear();
        }
    }
}
