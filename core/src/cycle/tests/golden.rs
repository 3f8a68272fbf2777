//! Golden traces: whole cycles in full, requests and events.

extern crate std;

use crate::cycle::{Ending, Job};
use crate::refusal::RefusalKind;
use crate::setup::Follows;

use super::machine::{cycle, part, with};
use super::script::run_golden;
/// Everything that a cycle can ask for while nothing is wrong.
#[test]
fn a_whole_cycle() {
    let setup = with(|draft| {
        draft.touch.tip_again = true;
        draft.growth.push(part(Follows::Tool)).expect("room");
    });
    let mut cycle = cycle(&setup, Job::full());
    run_golden(
        &mut cycle,
        "find probe within 10 s                                 | put back
         home within 180 s                                      | done
         level above 10.375 within 600 s                        | done
         warm to 150 within 1200 s                              | done
         move to tip above 10.375 within 60 s                   | done
         approach tip down to 0.03882 at 6 within 11 s          | 0.598 tool 151
         lift to 1.348 within 60 s                              | open
         approach tip down to 0.03882 at 1.5 within 5 s         | 0.601 tool 150
         lift to 1.351 within 60 s                              | open
         approach tip down to 0.03882 at 1.5 within 5 s         | 0.6 tool 150
         lift to 1.35 within 60 s                               | open
         approach tip down to 0.03882 at 1.5 within 5 s         | 0.6 tool 150
         lift to 10.375 within 60 s                             | open
         fetch above 10.375 within 90 s                         | done
         move to shoulder above 10.375 within 60 s              | done
         approach shoulder down to 6.01587 at 6 within 10 s     | 6.698
         lift to 7.448 within 60 s                              | open
         approach shoulder down to 6.01587 at 1.5 within 5 s    | 6.701
         lift to 7.451 within 60 s                              | open
         approach shoulder down to 6.01587 at 1.5 within 5 s    | 6.7
         lift to 7.45 within 60 s                               | open
         approach shoulder down to 6.01587 at 1.5 within 5 s    | 6.7
         lift to 10.375 within 60 s                             | open
         move to plate above 10.375 within 60 s                 | done
         approach plate down to 6.64903 at 6 within 10 s        | 7.347 bed 60 chamber 40
         lift to 8.097 within 60 s                              | open
         approach plate down to 6.64903 at 1.5 within 5 s       | 7.352 bed 60 chamber 40
         lift to 8.102 within 60 s                              | open
         approach plate down to 6.64903 at 1.5 within 5 s       | 7.4 bed 60 chamber 40
         lift to 8.15 within 60 s                               | open
         approach plate down to 6.64903 at 1.5 within 5 s       | 7.35 bed 60 chamber 40
         lift to 8.1 within 60 s                                | open
         approach plate down to 6.64903 at 1.5 within 5 s       | 7.35 bed 60 chamber 40
         lift to 10.375 within 60 s                             | open
         put back above 10.375 within 90 s                      | done
         move to tip above 10.375 within 60 s                   | done
         approach tip down to 0.03882 at 6 within 11 s          | 0.599
         lift to 1.349 within 60 s                              | open
         approach tip down to 0.03882 at 1.5 within 5 s         | 0.602
         lift to 10.375 within 60 s                             | open
         finished",
    );
    let outcome = cycle.outcome().expect("an outcome");
    assert!(outcome.accepted());
    assert_eq!(outcome.ending, Ending::LiftedAndPutBack);
    // L = P − (S − T) − t + g · (220 − 150) K, within a bit of 0.7 + 0.021.
    let landing = outcome.landing().expect("a landing").height;
    assert!((landing.to_bits() - 47_251).abs() <= 1, "{landing}");
}

/// Refused at the plate: none is fitted. The probe that did not answer is looked for before it is put back.
#[test]
fn a_cycle_without_a_plate() {
    let setup = with(|_| {});
    let mut cycle = super::machine::at_plate(&setup);
    run_golden(
        &mut cycle,
        "approach plate down to 6.64903 at 6 within 10 s        | floor
         lift to 10.375 within 60 s                             | open
         find probe within 10 s                                 | fetched
         put back above 10.375 within 90 s                      | done
         finished",
    );
    let outcome = cycle.outcome().expect("an outcome");
    assert_eq!(
        outcome.refusals().iter().map(|r| r.kind).collect::<std::vec::Vec<_>>(),
        [RefusalKind::NoTrip]
    );
    assert_eq!(outcome.ending, Ending::LiftedAndPutBack);
}

/// Cancelled half way down to the shoulder.
#[test]
fn a_cancelled_cycle() {
    let setup = with(|_| {});
    let mut cycle = cycle(&setup, Job::full());
    run_golden(
        &mut cycle,
        "find probe within 10 s                                 | fetched
         put back not homed within 90 s                         | done
         home within 180 s                                      | done
         level above 10.375 within 600 s                        | done
         move to tip above 10.375 within 60 s                   | done
         approach tip down to 0.03882 at 6 within 11 s          | 0.6
         lift to 1.35 within 60 s                               | open
         approach tip down to 0.03882 at 1.5 within 5 s         | 0.6
         lift to 1.35 within 60 s                               | open
         approach tip down to 0.03882 at 1.5 within 5 s         | 0.6
         lift to 1.35 within 60 s                               | open
         approach tip down to 0.03882 at 1.5 within 5 s         | 0.6
         lift to 10.375 within 60 s                             | open
         fetch above 10.375 within 90 s                         | done
         move to shoulder above 10.375 within 60 s              | done
         approach shoulder down to 6.01587 at 6 within 10 s     | cancel
         lift to 10.375 within 60 s                             | open
         put back above 10.375 within 90 s                      | done
         finished",
    );
    let outcome = cycle.outcome().expect("an outcome");
    assert_eq!(
        outcome.refusals().iter().map(|r| r.kind).collect::<std::vec::Vec<_>>(),
        [RefusalKind::Cancelled]
    );
    assert_eq!(outcome.ending, Ending::LiftedAndPutBack);
    assert!(outcome.landing_seen().is_none());
}
