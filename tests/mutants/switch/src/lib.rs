//! Which mutant is switched on: the number in the variable `MUTANT`; none where it is 0 or missing. With
//! `MUTANTS_SEEN` naming a file, the numbers of all that are come by are written there, a line each.
//!
//! A mutant inside a `const fn` can be switched while the program runs, which takes an unstable intrinsic:
//! build with `RUSTC_BOOTSTRAP=1`.

#![feature(core_intrinsics, const_eval_select)]
#![allow(internal_features)]

use std::fs::{File, OpenOptions};
use std::io::Write;
use std::sync::atomic::{AtomicBool, AtomicU32, Ordering::Relaxed};
use std::sync::{Mutex, Once};

const UNREAD: u32 = u32::MAX;
const RECORDING: u32 = u32::MAX - 1;
/// Mutants at most.
const MOST: usize = 1 << 16;

static NOW: AtomicU32 = AtomicU32::new(UNREAD);
static SEEN: [AtomicBool; MOST] = [const { AtomicBool::new(false) }; MOST];
static LIST: Mutex<Option<File>> = Mutex::new(None);

/// Whether this one is on.
#[inline]
pub const fn on(number: u32) -> bool {
    core::intrinsics::const_eval_select((number,), never, asked)
}

const fn never(_: u32) -> bool {
    false
}

#[inline]
fn asked(number: u32) -> bool {
    let now = NOW.load(Relaxed);
    now == number || now >= RECORDING && slowly(number)
}

#[cold]
fn slowly(number: u32) -> bool {
    static ONCE: Once = Once::new();
    ONCE.call_once(|| {
        // The first panic ends the process, before a property shrinks anything.
        std::panic::set_hook(Box::new(|_| std::process::exit(101)));
        let now = match std::env::var_os("MUTANTS_SEEN") {
            Some(path) => {
                // A test may start programs that come by mutants of their own.
                let list = OpenOptions::new().create(true).append(true).open(path);
                *LIST.lock().unwrap() = Some(list.expect("a file for what is seen"));
                RECORDING
            }
            None => std::env::var("MUTANT").map_or(0, |text| text.parse().expect("a mutant's number")),
        };
        NOW.store(now, Relaxed);
    });
    if NOW.load(Relaxed) == RECORDING && !SEEN[number as usize].swap(true, Relaxed) {
        if let Some(file) = LIST.lock().unwrap().as_mut() {
            let _ = writeln!(file, "{number}");
        }
    }
    NOW.load(Relaxed) == number
}
