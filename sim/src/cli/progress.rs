//! Long work: its seed, on how many threads, Ctrl-C, a bar, and how it ends.

use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant};

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use zdatum_sim::text::Problem;

use super::numbers::{counted, whole};
use super::{Answer, json};

/// More threads than this are started only where there are as many processors: they would all wait for each
/// other.
const MOST_THREADS: usize = 32;
/// What a shell takes an interrupted command to answer.
pub(super) const INTERRUPTED: u8 = 130;

/// Work that is over sooner shows no bar.
const AFTER: Duration = Duration::from_millis(500);

/// What every command takes whose work is long.
#[derive(clap::Args)]
pub(crate) struct Long {
    /// Seed of the random numbers
    #[arg(long, default_value_t = 1, allow_negative_numbers = true, value_parser = counted())]
    pub(super) seed: u64,
    /// Threads; all processors if left out
    #[arg(long, allow_negative_numbers = true, value_parser = whole::<u16>(1..=1024))]
    pub(super) threads: Option<u16>,
    /// One JSON document instead of text
    #[arg(long)]
    pub(super) json: bool,
}

impl Long {
    /// What was found, as asked for: 0 where `good`, else 1.
    ///
    /// # Errors
    /// A document that is none.
    pub(super) fn answer<D: serde::Serialize>(
        &self,
        document: impl FnOnce() -> D,
        page: impl FnOnce() -> String,
        good: bool,
    ) -> Result<Answer, Problem> {
        let text = if self.json { json(&document())? } else { page() };
        Ok(Answer::new(text, good))
    }

    /// [`answer`](Self::answer), but 130 where the work is not `complete`.
    ///
    /// # Errors
    /// The same.
    pub(super) fn ending<D: serde::Serialize>(
        &self,
        document: impl FnOnce() -> D,
        page: impl FnOnce() -> String,
        good: bool,
        complete: bool,
    ) -> Result<Answer, Problem> {
        let answer = self.answer(document, page, good)?;
        Ok(if complete { answer } else { Answer { code: INTERRUPTED, ..answer } })
    }
}

/// Does some `runs` cycles' work on so many threads, all processors where none are named. The work is told
/// when Ctrl-C is pressed, and tells how many cycles it has done.
///
/// # Errors
/// Threads that cannot be started.
pub(super) fn on_threads<T: Send>(
    threads: Option<u16>,
    runs: u64,
    work: impl FnOnce(&AtomicBool, &ProgressLine) -> T + Send,
) -> Result<T, Problem> {
    let stop = Arc::new(AtomicBool::new(false));
    let asked = Arc::clone(&stop);
    // Where no handler can be set, Ctrl-C simply ends the program.
    let _ = ctrlc::set_handler(move || asked.store(true, Ordering::Relaxed));
    // Where more are asked for than help, fewer give the same bits.
    let processors = std::thread::available_parallelism().map_or(1, usize::from);
    let threads = threads.map_or(0, |threads| usize::from(threads).min(processors.max(MOST_THREADS)));
    let pool = rayon::ThreadPoolBuilder::new()
        .num_threads(threads)
        .build()
        .map_err(|error| Problem::new(format!("cannot start {threads} threads: {error}")))?;
    let bar = ProgressLine::new(runs);
    let done = pool.install(|| work(&stop, &bar));
    bar.clear();
    Ok(done)
}

/// A bar on a terminal's standard error, from the first half second on.
pub(super) struct ProgressLine {
    bar: ProgressBar,
    begun: Instant,
    after: Duration,
    /// Where it will be drawn, until it is.
    target: Mutex<Option<ProgressDrawTarget>>,
}

impl ProgressLine {
    fn new(runs: u64) -> Self {
        Self::on(ProgressDrawTarget::stderr_with_hz(5), runs, AFTER)
    }

    fn on(target: ProgressDrawTarget, runs: u64, after: Duration) -> Self {
        let bar = ProgressBar::with_draw_target(Some(runs), ProgressDrawTarget::hidden());
        let style = ProgressStyle::with_template("{bar:40} {percent} % of {human_len} cycles, {eta} left");
        if let Ok(style) = style {
            bar.set_style(style);
        }
        Self { bar, begun: Instant::now(), after, target: Mutex::new(Some(target)) }
    }

    /// So many more are done.
    pub(super) fn add(&self, runs: u64) {
        self.bar.inc(runs);
        if self.begun.elapsed() < self.after {
            return;
        }
        let target = self.target.lock().unwrap_or_else(PoisonError::into_inner).take();
        if let Some(target) = target {
            self.bar.set_draw_target(target);
            self.bar.enable_steady_tick(AFTER);
        }
    }

    fn clear(&self) {
        self.bar.finish_and_clear();
    }
}

#[cfg(test)]
mod tests {
    use std::io;

    use indicatif::TermLike;

    use super::*;

    /// A terminal that keeps what is written to it.
    #[derive(Clone, Debug, Default)]
    struct Screen(Arc<Mutex<String>>);

    impl TermLike for Screen {
        fn width(&self) -> u16 {
            80
        }
        fn move_cursor_up(&self, _: usize) -> io::Result<()> {
            Ok(())
        }
        fn move_cursor_down(&self, _: usize) -> io::Result<()> {
            Ok(())
        }
        fn move_cursor_right(&self, _: usize) -> io::Result<()> {
            Ok(())
        }
        fn move_cursor_left(&self, _: usize) -> io::Result<()> {
            Ok(())
        }
        fn write_line(&self, text: &str) -> io::Result<()> {
            self.write_str(text)
        }
        fn write_str(&self, text: &str) -> io::Result<()> {
            self.0.lock().expect("no panic").push_str(text);
            Ok(())
        }
        fn clear_line(&self) -> io::Result<()> {
            Ok(())
        }
        fn flush(&self) -> io::Result<()> {
            Ok(())
        }
    }

    /// What is on the screen once `done` says so, or after a second.
    fn drawn(after: Duration, done: impl Fn(&str) -> bool) -> String {
        let screen = Screen::default();
        let bar = ProgressLine::on(ProgressDrawTarget::term_like(Box::new(screen.clone())), 1000, after);
        bar.add(200);
        bar.add(300);
        let text = || screen.0.lock().expect("no panic").clone();
        for _ in 0..100 {
            if done(&text()) {
                break;
            }
            std::thread::sleep(Duration::from_millis(10));
        }
        let text = text();
        bar.clear();
        text
    }

    #[test]
    fn short_work_shows_no_bar() {
        let shown = |text: &str| text.contains("% of 1,000 cycles");
        assert_eq!(drawn(Duration::from_secs(3600), shown), "");
        let text = drawn(Duration::ZERO, shown);
        assert!(shown(&text), "{text}");
    }
}
