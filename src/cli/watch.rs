//! What happens while a plan is being made: the progress report, and Ctrl-C.

use std::io::{self, Write};
use std::sync::Mutex;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

use crate::measure::Money;
use crate::nesting::Progress;

use super::failure::{Failure, INTERRUPTED};

static CANCEL: AtomicBool = AtomicBool::new(false);

/// From here on Ctrl-C (or a polite kill) sets the flag returned; a second one ends the program at once.
pub fn catch_interrupts() -> Result<&'static AtomicBool, Failure> {
    ctrlc::set_handler(|| {
        if CANCEL.swap(true, Ordering::SeqCst) {
            std::process::exit(i32::from(INTERRUPTED));
        }
        // Whether anyone can read this does not matter to the plan.
        let _ = writeln!(io::stderr(), "\nstopping with what there is so far; once more stops at once");
    })
    .map_err(|error| Failure::Fault(format!("interrupts cannot be caught: {error}")))?;
    Ok(&CANCEL)
}

/// How progress is shown.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Reporting {
    /// Not at all.
    Silent,
    /// One line that is rewritten, once the work has taken a while.
    OneLine,
    /// A line each time there is news.
    Lines,
}

/// Work shorter than this shows no progress line.
const PATIENCE: Duration = Duration::from_millis(700);
/// A line is rewritten no more often than this.
const BLINK: Duration = Duration::from_millis(100);

/// Reports progress on standard error.
pub struct Reporter {
    reporting: Reporting,
    started: Instant,
    /// When the line was last written, and how long it was.
    last: Mutex<Option<(Instant, usize)>>,
}

impl Reporter {
    /// A reporter that starts its clock now.
    pub fn new(reporting: Reporting) -> Reporter {
        Reporter { reporting, started: Instant::now(), last: Mutex::new(None) }
    }

    /// Takes in news of a plan; shows it if it is time.
    pub fn tell(&self, progress: &Progress) {
        self.say(&|| sentence(progress));
    }

    /// Takes in any other news, worded only when it is shown.
    pub fn say(&self, sentence: &dyn Fn() -> String) {
        match self.reporting {
            Reporting::Silent => {}
            // A closed standard error must not stop the work.
            Reporting::Lines => drop(writeln!(io::stderr(), "{}", sentence())),
            Reporting::OneLine => self.rewrite(sentence),
        }
    }

    /// Seconds since it began.
    pub fn seconds(&self) -> f64 {
        self.started.elapsed().as_secs_f64()
    }

    fn rewrite(&self, sentence: &dyn Fn() -> String) {
        let Ok(mut last) = self.last.lock() else { return };
        let due = match *last {
            None => self.started.elapsed() >= PATIENCE,
            Some((when, _)) => when.elapsed() >= BLINK,
        };
        if due {
            let line = sentence();
            let width = last.map_or(0, |(_, length)| length);
            drop(write!(io::stderr(), "\r{line:width$}"));
            *last = Some((Instant::now(), line.chars().count()));
        }
    }

    /// Clears the line, so that what follows starts on a clean one.
    pub fn finish(&self) {
        if let Ok(mut last) = self.last.lock()
            && let Some((_, length)) = last.take()
        {
            drop(write!(io::stderr(), "\r{:length$}\r", ""));
        }
    }
}

/// `12 s  31 of 31 pieces  cost 412.50  at least 409.10  gap 0.82 %`
fn sentence(progress: &Progress) -> String {
    let cost = Money::from_micros(progress.cost);
    let floor = Money::from_micros(progress.bound.div_euclid(10_000) * 10_000);
    let gap = if progress.cost > 0 {
        100.0 * (progress.cost - progress.bound).max(0) as f64 / progress.cost as f64
    } else {
        0.0
    };
    format!(
        "{:.1} s  {} of {} pieces  cost {cost}  at least {floor}  gap {gap:.2} %",
        progress.seconds, progress.made, progress.asked
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn progress_reads_as_one_line_with_the_bound_rounded_down() {
        let progress = Progress { seconds: 3.21, made: 30, asked: 31, cost: 412_500_000, bound: 409_109_999 };
        assert_eq!(sentence(&progress), "3.2 s  30 of 31 pieces  cost 412.50  at least 409.10  gap 0.82 %");
    }

    #[test]
    fn a_plan_that_costs_nothing_has_no_gap() {
        let progress = Progress { seconds: 0.0, made: 1, asked: 1, cost: 0, bound: 0 };
        assert!(sentence(&progress).ends_with("gap 0.00 %"));
    }
}
