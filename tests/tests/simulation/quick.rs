//! The quick check's time beside the full cycle's.

use zdatum::cycle::{Do, Job, Kind, Known};
use zdatum_tests::machine::mm;
use zdatum_world::engine::{Bench, run};

use crate::machines::{assert_near, demo};

const RUNS: u64 = 2_000;

/// Mean seconds of a cycle of the demo's machine, and of its approaches and lifts alone.
fn seconds(kind: Kind, homed: bool) -> (f64, f64) {
    let machine = demo();
    let mut bench = Bench::new(machine.setup, &machine.noise, 1);
    bench.job = Job { homed, levelled: homed, kind };
    let (mut all, mut touching) = (0.0, 0.0);
    for index in 0..RUNS {
        let mut before = 0.0;
        let ran = run(&bench, index, |world, request, _| {
            if matches!(request, Do::Approach { .. } | Do::Lift { .. }) {
                touching += world.seconds - before;
            }
            before = world.seconds;
        });
        all += ran.expect("room").seconds;
    }
    (all / RUNS as f64, touching / RUNS as f64)
}

/// `cargo test -p zdatum-tests --test simulation quick -- --nocapture` prints the figures of
/// `core/docs/cycle.md`.
#[test]
fn the_quick_check_takes_so_much_of_the_full_cycles_time() {
    // Middle of the plates' rises and trip depth, middle of the drops; limits that every run keeps.
    let quick = Kind::Quick(Known {
        span: mm("0.632"),
        span_change: mm("0.2"),
        drop: mm("5.125"),
        drop_change: mm("0.2"),
    });
    for (homed, what) in [(true, "homed and level"), (false, "with homing and levelling")] {
        let ((full, touching), (short, short_touching)) =
            (seconds(Kind::Full { last: None }, homed), seconds(quick, homed));
        println!("{what}: full {full:.2} s, quick {short:.2} s ({:.2})", short / full);
        println!(
            "  approaches and lifts: full {touching:.2} s, quick {short_touching:.2} s ({:.2})",
            short_touching / touching
        );
        let expected = if homed { (24.25, 17.34) } else { (84.25, 77.34) };
        assert_near(full, expected.0, 0.03);
        assert_near(short, expected.1, 0.03);
        assert_near(touching, 11.29, 0.03);
        assert_near(short_touching, 4.36, 0.03);
        // The rest is much the same in both: fetch and put back, and the moves.
        assert_near(full - touching, short - short_touching, 0.05);
    }
}
