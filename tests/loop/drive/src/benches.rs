//! The invented machines, half of them with something wrong, and what the host's own cycle makes of each.

use zdatum::{Setup, Station};
use zdatum_boards_cases::numbers::Numbers;
use zdatum_loop_wire::{Words, draft, words};
use zdatum_world::engine::cycle::run_block_seen;
use zdatum_world::engine::{Bench, run};
use zdatum_world::{Fault, Faults, Noise};

/// The machine of a run.
pub(crate) fn bench(case: u32, seed: u64) -> Bench {
    let mut numbers = Numbers::of(case, 0x42);
    let setup = Setup::check(draft(case)).expect("an invented machine passes its check");
    let mut bench = Bench::new(setup, &Noise::default(), seed);
    if numbers.one_in(2) {
        bench.faults = Faults::new(vec![fault(&mut numbers)]);
    }
    bench
}

fn fault(numbers: &mut Numbers) -> Fault {
    let station = [Station::Tip, Station::Shoulder, Station::Plate][numbers.below(3) as usize];
    match numbers.below(16) {
        0 => Fault::DeadSwitch(station),
        1 => Fault::HeldSwitch(station),
        2 => Fault::StickingSwitch(station),
        3 => Fault::CrossedSwitches,
        4 => Fault::InTheWay(station, 0.3),
        5 => Fault::StaleLatch(0.2),
        6 => Fault::NoPlate,
        7 => Fault::PlateRaised(0.4),
        8 => Fault::FetchMissed,
        9 => Fault::FetchUnconfirmed,
        10 => Fault::PutBackUnconfirmed,
        11 => Fault::LeftFetched,
        12 => Fault::ProbeSensorDead,
        13 => Fault::MoveFails,
        14 => Fault::LooseMount(0.05),
        _ => Fault::StopPressed(numbers.below(12)),
    }
}

/// The words of the same run by the host's own cycle.
pub(crate) fn reference(bench: &Bench, case: u32) -> Result<Words, String> {
    let (mut told, case) = (None, u64::from(case));
    run_block_seen(bench, case..case + 1, |_, seen| {
        told = seen.and_then(|seen| words(seen.outcome, seen.touches))
    })
    .map_err(|fault| fault.to_string())?;
    told.ok_or_else(|| "the host's cycle has no outcome".into())
}

/// How many requests the run makes on a line that is whole.
pub(crate) fn requests(bench: &Bench, case: u32) -> Result<u32, String> {
    let mut count = 0;
    run(bench, u64::from(case), |_, _, _| count += 1).map_err(|fault| fault.to_string())?;
    Ok(count)
}
