//! Each pointer of each function null, misaligned, and to a storage that was never started.

use core::ptr::null_mut;

use super::*;
use crate::plates::*;
use crate::watch::*;

/// An address that is not aligned for anything; nothing may look there.
fn crooked<T>() -> *mut T {
    core::ptr::without_provenance_mut(align_of::<T>() + 1)
}

/// Calls a function with each of its pointers spoilt in turn; the others are good.
macro_rules! spoilt {
    ($call:ident($($before:expr),*; $($pointer:expr),+)) => {
        spoilt!(@each $call [$($before),*] [] [$($pointer),+]);
    };
    (@each $call:ident [$($before:expr),*] [$($done:expr),*] []) => {};
    (@each $call:ident [$($before:expr),*] [$($done:expr),*] [$one:expr $(, $rest:expr)*]) => {
        // SAFETY: a null or misaligned pointer is answered, the others are whole objects.
        let codes = unsafe {(
            $call($($before,)* $($done,)* null_mut() $(, $rest)*),
            $call($($before,)* $($done,)* crooked() $(, $rest)*),
        )};
        assert_eq!(codes, (ZDATUM_NULL, ZDATUM_MISALIGNED), "{}: {}", stringify!($call), stringify!($one));
        spoilt!(@each $call [$($before),*] [$($done,)* $one] [$($rest),*]);
    };
}

#[test]
fn null_and_misaligned_pointers() {
    let mut setup = checked();
    let (mut draft, mut job, mut event) = (plain(), zdatum_job::default(), zdatum_event::default());
    let (mut cycle, mut request) = (cycle_storage(), zdatum_request::default());
    let (mut outcome, mut landing) = (zdatum_outcome::default(), zdatum_landing::default());
    let (mut floors, mut number, mut wide) = (zdatum_floors::default(), 0_i32, (0_i64, 0_i64));
    let (mut series, mut summary) = (series_storage(), zdatum_summary::default());
    let mut readings = zdatum_readings::default();
    let known = zdatum_depth { u: u("0.1"), ..zdatum_depth::default() };
    let (mut known, mut latency) = (known, zdatum_delay::default());
    let (mut check, mut trimmed) = (zdatum_gauge_check::default(), zdatum_trimmed::default());
    // SAFETY: whole objects.
    unsafe {
        assert_eq!(zdatum_cycle_start(&mut cycle, &*setup, &job), ZDATUM_OK);
        assert_eq!(zdatum_series_start(&mut series), ZDATUM_OK);
        assert_eq!(zdatum_series_push(&mut series, 1 << 16), ZDATUM_OK);
    }
    let setup: *mut zdatum_setup = &mut *setup;
    let draft: *mut zdatum_draft = &mut draft;
    let cycle: *mut zdatum_cycle = &mut cycle;
    let series: *mut zdatum_series = &mut series;
    let outcome: *mut zdatum_outcome = &mut outcome;
    outcome_is_accepted(outcome);

    spoilt!(zdatum_range(ZDATUM_LENGTH; &mut wide.0, &mut wide.1));
    spoilt!(zdatum_steps(400, 1, 1; &mut number));
    spoilt!(zdatum_setup_floors(; setup, &mut floors));
    spoilt!(zdatum_outcome_landing(; outcome, &mut landing));
    spoilt!(zdatum_cycle_start(; cycle, setup, &mut job));
    spoilt!(zdatum_cycle_poll(; cycle, &mut request));
    spoilt!(zdatum_cycle_handle(; cycle, &mut event));
    spoilt!(zdatum_cycle_cancel(; cycle));
    spoilt!(zdatum_cycle_outcome(; cycle, outcome));
    spoilt!(zdatum_series_start(; series));
    spoilt!(zdatum_series_readings(; series, &mut readings));
    spoilt!(zdatum_trim(; &mut known, &mut latency, &mut check, &mut trimmed));

    let mut book = zdatum_book { words: [0; ZDATUM_BOOK_WORDS] };
    let (mut span, mut plate) = (zdatum_last_span::default(), zdatum_plate::default());
    let mut recognised = zdatum_recognised::default();
    // SAFETY: whole objects.
    unsafe {
        assert_eq!(zdatum_book_recognise(&book, &span, &mut recognised), ZDATUM_NOT_STARTED);
        assert_eq!(zdatum_book_start(&mut book, ZDATUM_SEATING), ZDATUM_OK);
        assert_eq!(zdatum_book_record(&mut book, 7, &span, 1), ZDATUM_OK);
    }
    let book: *mut zdatum_book = &mut book;
    spoilt!(zdatum_book_recognise(; book, &mut span, &mut recognised));
    spoilt!(zdatum_book_restore(; book, &mut plate));

    let mut watch = zdatum_watch { words: [0; ZDATUM_WATCH_WORDS] };
    let (mut fits, mut charts, mut charts2) =
        ([zdatum_fit::default(); ZDATUM_CAUSES], ZERO_CHARTS, ZERO_CHARTS);
    const ZERO_CHARTS: zdatum_charts = zdatum_charts { words: [0; ZDATUM_CHARTS_WORDS] };
    // SAFETY: whole objects.
    unsafe {
        assert_eq!(zdatum_watch_diagnosis(&watch, fits.as_mut_ptr(), &mut 0), ZDATUM_NOT_STARTED);
        assert_eq!(zdatum_watch_start(&mut watch, 0), ZDATUM_OK);
    }
    let watch: *mut zdatum_watch = &mut watch;
    spoilt!(zdatum_watch_dismiss(; watch));
    spoilt!(zdatum_watch_restore(; watch, &mut charts, &mut charts2));
    // Those whose last arguments are no pointers, or may be null.
    // SAFETY: null and misaligned pointers are answered, the others are whole objects.
    unsafe {
        for (spoilt, code) in [(true, ZDATUM_NULL), (false, ZDATUM_MISALIGNED)] {
            fn or<T>(spoilt: bool) -> *mut T {
                if spoilt { null_mut() } else { crooked() }
            }
            assert_eq!(zdatum_setup_check(or(spoilt), draft, null_mut()), code);
            assert_eq!(zdatum_setup_check(setup, or(spoilt), null_mut()), code);
            assert_eq!(zdatum_shoulder_floor(or(spoilt), 0, &mut number), code);
            assert_eq!(zdatum_shoulder_floor(setup, 0, or(spoilt)), code);
            assert_eq!(zdatum_plate_floor(or(spoilt), 0, 0, &mut number), code);
            assert_eq!(zdatum_plate_floor(setup, 0, 0, or(spoilt)), code);
            assert_eq!(zdatum_series_push(or(spoilt), 0), code);
            assert_eq!(zdatum_series_close(or(spoilt), setup, ZDATUM_TIP, &mut summary), code);
            assert_eq!(zdatum_series_close(series, or(spoilt), ZDATUM_TIP, &mut summary), code);
            assert_eq!(zdatum_series_close(series, setup, ZDATUM_TIP, or(spoilt)), code);
            assert_eq!(zdatum_assess(or(spoilt), series, series, series, null_mut(), outcome), code);
            assert_eq!(zdatum_assess(setup, or(spoilt), series, series, null_mut(), outcome), code);
            assert_eq!(zdatum_assess(setup, series, or(spoilt), series, null_mut(), outcome), code);
            assert_eq!(zdatum_assess(setup, series, series, or(spoilt), null_mut(), outcome), code);
            assert_eq!(zdatum_assess(setup, series, series, series, null_mut(), or(spoilt)), code);
            assert_eq!(zdatum_parse(ZDATUM_LENGTH, c"1".as_ptr(), 1, or(spoilt)), code);
            assert_eq!(zdatum_book_start(or(spoilt), 0), code);
            assert_eq!(zdatum_book_record(or(spoilt), 7, &span, 1), code);
            assert_eq!(zdatum_book_record(book, 7, or(spoilt), 1), code);
            assert_eq!(zdatum_book_last(or(spoilt), 7, 1600, 3, &mut span), code);
            assert_eq!(zdatum_book_last(book, 7, 1600, 3, or(spoilt)), code);
            assert_eq!(zdatum_book_named(or(spoilt), 7, &span, &mut 0, &mut number), code);
            assert_eq!(zdatum_book_named(book, 7, or(spoilt), &mut 0, &mut number), code);
            assert_eq!(zdatum_book_named(book, 7, &span, &mut 0, or(spoilt)), code);
            assert_eq!(zdatum_book_remove(or(spoilt), 7), code);
            assert_eq!(zdatum_book_plate(or(spoilt), 0, &mut plate), code);
            assert_eq!(zdatum_book_plate(book, 0, or(spoilt)), code);
            assert_eq!(zdatum_watch_start(or(spoilt), 0), code);
            assert_eq!(zdatum_watch_see(or(spoilt), &landing, &7, 0, &mut 0), code);
            assert_eq!(zdatum_watch_see(watch, or(spoilt), &7, 0, &mut 0), code);
            assert_eq!(zdatum_watch_diagnosis(or(spoilt), fits.as_mut_ptr(), &mut 0), code);
            assert_eq!(zdatum_watch_diagnosis(watch, or(spoilt), &mut 0), code);
            assert_eq!(zdatum_watch_tell(or(spoilt), ZDATUM_CHANGED_NOZZLE, 0), code);
            assert_eq!(zdatum_watch_forget(or(spoilt), 7), code);
            assert_eq!(zdatum_watch_save(or(spoilt), 0, &mut 0, &mut charts), code);
            assert_eq!(zdatum_watch_save(watch, 0, or(spoilt), &mut charts), code);
            assert_eq!(zdatum_watch_save(watch, 0, &mut 0, or(spoilt)), code);
            assert_eq!(zdatum_watch_restore_span(or(spoilt), 7, &charts), code);
            assert_eq!(zdatum_watch_restore_span(watch, 7, or(spoilt)), code);
        }
        assert_eq!(zdatum_setup_check(setup, draft, crooked()), ZDATUM_MISALIGNED);
        assert_eq!(zdatum_watch_see(watch, &landing, &7, 0, null_mut()), ZDATUM_NULL);
        assert_eq!(zdatum_watch_see(watch, &landing, crooked(), 0, &mut 0), ZDATUM_MISALIGNED);
        assert_eq!(zdatum_watch_diagnosis(watch, fits.as_mut_ptr(), null_mut()), ZDATUM_NULL);
        assert_eq!(zdatum_assess(setup, series, series, series, crooked(), outcome), ZDATUM_MISALIGNED);
        assert_eq!(zdatum_parse(ZDATUM_LENGTH, null_mut(), 1, &mut wide.0), ZDATUM_NULL);
        assert_eq!(zdatum_parse(ZDATUM_LENGTH, c"1".as_ptr(), usize::MAX, &mut wide.0), ZDATUM_OUT_OF_RANGE);
        assert_eq!(zdatum_write(ZDATUM_LENGTH, 0, null_mut(), 9), ZDATUM_NULL);
    }
}

/// So that its landing would be handed over.
fn outcome_is_accepted(outcome: *mut zdatum_outcome) {
    // SAFETY: a whole outcome.
    unsafe { ((*outcome).accepted, (*outcome).has_landing_seen) = (1, 1) };
}

#[test]
fn storage_that_was_never_started() {
    let (setup, mut cycle, mut series) = (setup_storage(), cycle_storage(), series_storage());
    let mut good = checked();
    let (mut outcome, mut number) = (zdatum_outcome::default(), 0);
    // SAFETY: whole objects.
    unsafe {
        let not = ZDATUM_NOT_STARTED;
        assert_eq!(zdatum_setup_floors(&setup, &mut zdatum_floors::default()), not);
        assert_eq!(zdatum_shoulder_floor(&setup, 0, &mut number), not);
        assert_eq!(zdatum_plate_floor(&setup, 0, 0, &mut number), not);
        assert_eq!(zdatum_cycle_start(&mut cycle, &setup, &zdatum_job::default()), not);
        assert_eq!(zdatum_cycle_poll(&cycle, &mut zdatum_request::default()), not);
        assert_eq!(zdatum_cycle_handle(&mut cycle, &zdatum_event::default()), not);
        assert_eq!(zdatum_cycle_cancel(&mut cycle), not);
        assert_eq!(zdatum_cycle_outcome(&cycle, &mut outcome), not);
        assert_eq!(zdatum_series_push(&mut series, 0), not);
        assert_eq!(zdatum_series_readings(&mut series, &zdatum_readings::default()), not);
        assert_eq!(zdatum_series_close(&series, &*good, 1, &mut zdatum_summary::default()), not);
        assert_eq!(zdatum_assess(&*good, &series, &series, &series, null(), &mut outcome), not);
        // One kind is not another.
        assert_eq!(zdatum_cycle_poll((&raw const *good).cast(), &mut zdatum_request::default()), not);
        // A setup that was cleared under a cycle.
        assert_eq!(zdatum_cycle_start(&mut cycle, &*good, &zdatum_job::default()), ZDATUM_OK);
        good.words = [0; ZDATUM_SETUP_WORDS];
        assert_eq!(zdatum_cycle_poll(&cycle, &mut zdatum_request::default()), not);
        assert_eq!(zdatum_cycle_handle(&mut cycle, &zdatum_event { kind: 1, ..Default::default() }), not);
    }
}
