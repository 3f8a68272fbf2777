//! One computation at a time: a newer one stops the older and waits for its end.

use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

/// The place where computations run.
#[derive(Debug, Default)]
pub struct Jobs {
    /// What stops the newest.
    newest: Mutex<Option<Arc<AtomicBool>>>,
    /// Held while one runs.
    bench: Mutex<()>,
}

/// A computation that was stopped, by a newer one or by the reader.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Stopped;

impl Jobs {
    /// Runs a computation once the one before it has stopped. It must look at the flag, and end soon after it
    /// is set.
    ///
    /// # Errors
    /// It was stopped, before it began or while it ran.
    pub fn run<T>(&self, work: impl FnOnce(&AtomicBool) -> T) -> Result<T, Stopped> {
        let stop = Arc::new(AtomicBool::new(false));
        if let Some(older) = held(&self.newest).replace(Arc::clone(&stop)) {
            older.store(true, Ordering::Relaxed);
        }
        let _alone = held(&self.bench);
        if stop.load(Ordering::Relaxed) {
            return Err(Stopped);
        }
        let done = work(&stop);
        if stop.load(Ordering::Relaxed) { Err(Stopped) } else { Ok(done) }
    }

    /// Stops the newest computation.
    pub fn cancel(&self) {
        if let Some(newest) = held(&self.newest).take() {
            newest.store(true, Ordering::Relaxed);
        }
    }
}

/// A computation that panicked has left nothing half done behind.
fn held<T>(lock: &Mutex<T>) -> MutexGuard<'_, T> {
    lock.lock().unwrap_or_else(PoisonError::into_inner)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::mpsc;

    #[test]
    fn a_newer_one_stops_the_older_and_never_runs_beside_it() {
        let jobs = Arc::new(Jobs::default());
        let (begun, has_begun) = mpsc::channel();
        let running = Arc::new(AtomicBool::new(false));
        let older = {
            let (jobs, running) = (Arc::clone(&jobs), Arc::clone(&running));
            std::thread::spawn(move || {
                jobs.run(|stop| {
                    running.store(true, Ordering::SeqCst);
                    begun.send(()).expect("a listener");
                    while !stop.load(Ordering::Relaxed) {
                        std::thread::yield_now();
                    }
                    running.store(false, Ordering::SeqCst);
                })
            })
        };
        has_begun.recv().expect("begun");
        let newer = jobs.run(|_| running.load(Ordering::SeqCst));
        assert_eq!(newer, Ok(false));
        assert_eq!(older.join().expect("no panic"), Err(Stopped));
    }

    #[test]
    fn the_reader_may_stop_it() {
        let jobs = Jobs::default();
        jobs.cancel();
        assert_eq!(jobs.run(|_| 1), Ok(1));
        assert_eq!(jobs.run(|_| jobs.cancel()), Err(Stopped));
        assert_eq!(jobs.run(|stop| stop.load(Ordering::Relaxed)), Ok(false));
    }
}
