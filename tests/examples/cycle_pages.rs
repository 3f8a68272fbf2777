//! Prints a page of the docs that is made by running the model: `faults` (docs/tables/cycle-faults.md) or
//! `refusals` (docs/tables/refusals-reached.md).

use zdatum_tests::model::{catalogue, causes};

fn main() {
    match std::env::args().nth(1).as_deref() {
        Some("faults") => print!("{}", catalogue::run().page()),
        Some("refusals") => print!("{}", causes::page()),
        _ => {
            eprintln!("name the page: faults or refusals");
            std::process::exit(2);
        }
    }
}
