//! Tests of the numeric core: one program, so that it links once.

/// Declares oracle tests with the operations they cover; `COVERED` lists them for the test that nothing is
/// left out.
macro_rules! oracle_tests {
    ($($(#[$doc:meta])* fn $name:ident($ledger:ident: [$($operation:ident),*]) $body:block)*) => {
        pub(crate) const COVERED: &[Operation] = &[$($(Operation::$operation,)*)*];
        $(
            $(#[$doc])*
            #[test]
            fn $name() {
                const OPERATIONS: &[Operation] = &[$(Operation::$operation,)*];
                let ledger = Ledger::new(OPERATIONS);
                let $ledger = &ledger;
                $body
                ledger.close();
            }
        )*
    };
}

mod board_cases;
mod board_cycles;
mod board_page;
mod chain;
mod compile_fail;
mod factors;
mod geometry;
mod oracle_budget;
mod oracle_landing;
mod oracle_plates;
mod oracle_series;
mod oracle_setup;
mod oracle_trim;
mod oracle_units;
mod oracle_watch;
mod published;
mod published_charts;
mod refusals;
mod run_lengths;
mod series;
mod setup;
mod verdict;

use zdatum_tests::allowed::Operation;

/// Fails where the table of allowed errors lists an operation that no oracle test covers.
#[test]
fn every_operation_of_the_table_has_a_test() {
    let covered = [
        oracle_budget::COVERED,
        oracle_landing::COVERED,
        oracle_plates::COVERED,
        oracle_series::COVERED,
        oracle_setup::COVERED,
        oracle_trim::COVERED,
        oracle_units::COVERED,
        oracle_watch::COVERED,
    ]
    .concat();
    for operation in Operation::ALL {
        assert!(covered.contains(operation), "{operation:?} has no test");
    }
}
