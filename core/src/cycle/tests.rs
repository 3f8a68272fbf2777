//! State by state. Scripts are text: a request on the left, its answer on the right; see [`script`].

mod begin;
mod ending;
mod golden;
mod machine;
mod outcome;
mod quick;
mod run;
mod script;
mod station;
mod touching;
mod turns;

use super::Cycle;

#[test]
fn nine_touches_a_station_fit_512_bytes() {
    assert!(size_of::<Cycle<'static, 9>>() <= 512, "{} bytes", size_of::<Cycle<'static, 9>>());
}

/// A cycle lives in a `static` without any setup.
static WAITING: Cycle<'static, 9> = Cycle::idle();

#[test]
fn an_idle_cycle_asks_for_nothing() {
    assert_eq!(WAITING.poll(), super::Do::Finished);
    assert!(WAITING.outcome().is_none());
    assert!(!WAITING.is_finished());
}
