//! Run lengths of the watch on the demo's machine: the figures of docs/tables/run-lengths.md.
//! `cargo run --release -p zdatum-tests --example run_lengths`, or with a number of machines other than
//! 10,000.

use zdatum::watch::Design;
use zdatum_tests::lives::{Moves, until_false_alarm, until_seen};

fn main() {
    let machines = std::env::args().nth(1).and_then(|text| text.parse().ok()).unwrap_or(10_000_u64);
    let design = Design::STANDARD;
    let mut lengths: Vec<u32> = in_parallel(machines, |seed| Some(until_false_alarm(seed, design, 20_000)));
    lengths.sort_unstable();
    let n = lengths.len() as f64;
    let mean = lengths.iter().map(|length| f64::from(*length)).sum::<f64>() / n;
    let sd = (lengths.iter().map(|length| (f64::from(*length) - mean).powi(2)).sum::<f64>() / n).sqrt();
    let share = |below: u32| lengths.iter().filter(|length| **length < below).count() as f64 / n;
    println!(
        "{machines} sound machines from their first cycle on, all charts of T, d and three spans together:"
    );
    println!(
        "cycles until the first false alarm: mean {mean:.0} ± {:.0}, median {}",
        sd / n.sqrt(),
        lengths[lengths.len() / 2]
    );
    println!(
        "alarm before cycle 50: {:.1} %; before cycle 20: {:.1} %",
        100.0 * share(50),
        100.0 * share(20)
    );
    println!("longest {}", lengths[lengths.len() - 1]);

    println!(
        "\nstep | quantity | cycles with each plate before | median | 90 % within | not seen in 300 | machines"
    );
    for (moves, step) in [(Moves::Tip, 0.01), (Moves::Span, 0.01), (Moves::Drop, 0.01), (Moves::Drop, 0.05)] {
        for learnt in [10, 30, 100] {
            let mut seen =
                in_parallel(machines / 5, |seed| until_seen(seed, design, moves, step, learnt, 300));
            seen.sort_unstable();
            let at = |share: f64| seen[((seen.len() - 1) as f64 * share) as usize];
            let never = seen.iter().filter(|cycles| **cycles == 300).count() as f64 / seen.len() as f64;
            println!(
                "{:.0} µm | {moves:?} | {learnt} | {} | {} | {:.1} % | {}",
                step * 1000.0,
                at(0.5),
                at(0.9),
                100.0 * never,
                seen.len()
            );
        }
    }
}

/// One seed after the other, on all processors.
fn in_parallel(machines: u64, work: impl Fn(u64) -> Option<u32> + Sync) -> Vec<u32> {
    let threads = std::thread::available_parallelism().map_or(1, usize::from) as u64;
    std::thread::scope(|scope| {
        let workers: Vec<_> = (0..threads)
            .map(|first| {
                let work = &work;
                scope.spawn(move || {
                    (first..machines).step_by(threads as usize).filter_map(work).collect::<Vec<_>>()
                })
            })
            .collect();
        workers.into_iter().flat_map(|worker| worker.join().expect("a life that does not panic")).collect()
    })
}
