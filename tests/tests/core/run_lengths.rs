//! Run lengths of the watch on the demo's machine, counted; the figures of the page come from the example of
//! this name.

use zdatum::watch::Design;
use zdatum_tests::lives::{Life, Moves, until_false_alarm, until_seen};

/// One false alarm in at least 370 cycles over all charts together, estimation of limits included: 600
/// machines from their first cycle on, each until its first alarm or cycle 3,000.
#[test]
fn a_sound_machine_is_left_in_peace() {
    let lengths: Vec<u32> = (0..600).map(|seed| until_false_alarm(seed, Design::STANDARD, 3_000)).collect();
    let alarms = lengths.iter().filter(|length| **length < 3_000).count();
    let cycles: u32 = lengths.iter().sum();
    // Cycles watched for each alarm; with 600 alarms good to 4 %.
    let each = f64::from(cycles) / alarms as f64;
    assert!(each > 370.0, "one alarm in {each:.0} cycles");
    assert!(each < 700.0, "so few alarms that something is blunt: one in {each:.0} cycles");
    let early = lengths.iter().filter(|length| **length < 50).count() as f64 / lengths.len() as f64;
    assert!(early < 0.13, "{early} before cycle 50");
}

fn median(moves: Moves, step: f64, learnt: u32) -> u32 {
    let mut seen: Vec<u32> =
        (0..150).filter_map(|seed| until_seen(seed, Design::STANDARD, moves, step, learnt, 300)).collect();
    assert!(seen.len() > 50);
    seen.sort_unstable();
    seen[seen.len() / 2]
}

/// Ten micrometres: tip and span show it at once, the drop when it has come up often enough beside the
/// reseating.
#[test]
fn a_step_of_ten_micrometres_is_seen() {
    assert_eq!(median(Moves::Tip, 0.01, 30), 1);
    assert_eq!(median(Moves::Span, -0.01, 100), 1);
    let drop = median(Moves::Drop, 0.01, 100);
    assert!((15..60).contains(&drop), "{drop}");
    assert!(median(Moves::Drop, -0.05, 30) <= 5);
}

/// A new nozzle that was entered, again and again: no alarm that a sound machine would not give.
#[test]
fn entered_changes_raise_no_alarms() {
    let (mut alarms, mut cycles) = (0, 0);
    for seed in 0..60 {
        let mut life = Life::new(seed, Design::STANDARD);
        for n in 0..300_u32 {
            let nozzle = f64::from(n / 40) * 0.137;
            if n % 40 == 0 {
                life.watch_mut().tell(zdatum::Change::Nozzle);
            }
            if n % 30 == 0 {
                life.watch_mut().tell(zdatum::Change::Trim);
            }
            cycles += 1;
            if life.cycle([nozzle, -nozzle, 0.0], None) {
                alarms += 1;
                life.watch_mut().dismiss();
            }
        }
    }
    assert!(alarms * 370 < cycles, "{alarms} alarms in {cycles} cycles");
}
