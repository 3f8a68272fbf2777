//! One station: first, settle, fine, and which of them count.

extern crate std;

use crate::cycle::Temperatures;
use crate::refusal::{Amount, Refusal, RefusalKind};
use crate::series::Station;
use crate::units::Length;

use super::machine::{at_plate, at_tip, celsius, mm, study, u, with};
use super::script::run;

/// Fine touches of the tip at these heights, after the first and the settling ones.
fn fine(heights: &[&str]) -> std::string::String {
    let mut script = std::string::String::new();
    for _ in 0..2 {
        script.push_str("approach tip | 0.6\n lift to 1.35 | open\n");
    }
    for height in heights {
        script.push_str(&std::format!("approach tip | {height}\n lift | open\n"));
    }
    script
}

/// What was read of tool, bed, chamber.
fn read<const N: usize>(cycle: &crate::cycle::Cycle<'_, N>) -> [Option<crate::Temperature>; 3] {
    let read = &cycle.touches.conditions;
    [read.tool, read.bed, read.chamber]
}

/// The tip's mean height after these fine touches, which must complete the series exactly.
fn mean_of(setup: &crate::Setup, heights: &[&str], counted: usize) -> Length {
    let mut cycle = at_tip(setup);
    run(&mut cycle, &fine(heights));
    run(&mut cycle, "fetch");
    assert_eq!(cycle.touching.series().len(), counted, "{heights:?}");
    cycle.closed(Station::Tip).expect("a closed series").centre().round().expect("a height")
}

#[test]
fn the_first_approach_is_fast_and_the_others_are_fine() {
    let setup = with(|draft| draft.touch.settle = 2);
    let mut cycle = at_tip(&setup);
    run(
        &mut cycle,
        "approach tip down to 0.03882 at 6 within 11 s   | 0.6
         lift to 1.35 within 60 s                           | open
         approach tip down to 0.03882 at 1.5 within 5 s | 0.61
         lift to 1.36                                       | open
         approach tip down to 0.03882 at 1.5 within 5 s | 0.59
         lift to 1.34                                       | open
         approach tip down to 0.03882 at 1.5              | 0.6
         lift to 1.35                                       | open",
    );
    assert_eq!(cycle.touching.series().touches(), [mm("0.6")], "neither first nor settling touches count");
}

#[test]
fn without_settling_touches_fine_ones_follow_the_first() {
    let setup = with(|draft| draft.touch.settle = 0);
    let mut cycle = at_tip(&setup);
    run(&mut cycle, "approach tip down to 0.03882 at 6 | 0.6\n lift | open\n approach tip | 0.6");
    assert_eq!(cycle.touching.series().len(), 1);
}

#[test]
fn a_series_is_done_with_its_least_touches_within_the_band() {
    let setup = super::machine::setup();
    assert_eq!(mean_of(&setup, &["0.625", "0.640625"], 2), mm("0.6328125"));
    // The band itself is within the band: in bits, 0.02 mm and one more.
    let (low, band) = (mm("0.6").to_bits(), mm("0.02").to_bits());
    let height = |bits: i32| std::format!("{}", Length::from_bits(i64::from(bits)).expect("a height"));
    mean_of(&setup, &["0.6", &height(low + band)], 2);
    mean_of(&setup, &["0.6", &height(low - band)], 2);
    let mut cycle = at_tip(&setup);
    run(&mut cycle, &fine(&["0.6", &height(low + band + 1)]));
    run(&mut cycle, "approach tip");
    let mut cycle = at_tip(&setup);
    run(&mut cycle, &fine(&["0.6", &height(low - band - 1)]));
    run(&mut cycle, "approach tip");
}

#[test]
fn a_wild_touch_restarts_the_tail() {
    let setup = super::machine::setup();
    assert_eq!(mean_of(&setup, &["0.7", "0.625", "0.640625"], 2), mm("0.6328125"));
    assert_eq!(mean_of(&setup, &["0.6", "0.7", "0.625", "0.640625"], 2), mm("0.6328125"));
    let setup = with(|draft| draft.touch.least = 3);
    assert_eq!(mean_of(&setup, &["0.7", "0.6", "0.6", "0.6"], 3), mm("0.6"));
}

/// The tail ends at the newest touch and is unbroken: what fits again beyond a wild one does not count.
#[test]
fn the_tail_does_not_reach_over_a_wild_touch() {
    let setup = with(|draft| (draft.touch.least, draft.touch.most) = (3, 5));
    assert_eq!(mean_of(&setup, &["0.625", "0.75", "0.625", "0.63", "0.6275"], 3), mm("0.6275"));
}

/// A slow drift: every pair of neighbours is within the band, the whole is not.
#[test]
fn the_band_is_held_over_the_whole_tail() {
    let setup = with(|draft| (draft.touch.least, draft.touch.most) = (3, 4));
    let mut cycle = at_tip(&setup);
    run(&mut cycle, &fine(&["0.60", "0.615", "0.622"]));
    run(&mut cycle, "approach tip | 0.614\n lift | open\n fetch");
    assert_eq!(cycle.touching.series().touches(), [mm("0.615"), mm("0.622"), mm("0.614")]);
}

#[test]
fn no_run_within_the_band_is_unsteady() {
    let setup = with(|draft| draft.touch.least = 3);
    let mut cycle = at_tip(&setup);
    run(&mut cycle, &fine(&["0.60", "0.63", "0.60"]));
    run(&mut cycle, "approach tip | 0.64\n lift to 10.375 | open\n finished");
    let outcome = cycle.outcome().expect("an outcome");
    // The spread told is that of the newest `least`: 0.64 − 0.60.
    let spread = mm("0.64").minus(mm("0.6")).expect("a spread");
    let unsteady = Refusal::new(
        RefusalKind::Unsteady,
        Some(Station::Tip),
        Amount::Length(spread),
        Amount::Length(mm("0.02")),
    );
    assert_eq!(outcome.refusals(), [unsteady]);
}

/// `most` fine touches are enough where the tail holds `least`, whatever the target.
#[test]
fn a_target_asks_for_more_touches_up_to_the_most() {
    // s = 0.0015: u = 0.00106 of two, 0.00087 of three, 0.00075 of four.
    for (target, counted) in [("0.002", 2), ("0.0009", 3), ("0.0008", 4), ("0.0001", 4)] {
        let setup = with(|draft| draft.touch.target_u = u(target));
        let touches = std::vec!["0.6"; counted];
        mean_of(&setup, &touches, counted);
    }
    // The tail alone counts towards the target.
    let setup = with(|draft| draft.touch.target_u = u("0.0009"));
    mean_of(&setup, &["0.7", "0.6", "0.6", "0.6"], 3);
}

#[test]
fn a_target_is_held_against_the_station_s_own_study() {
    let setup = with(|draft| {
        draft.pooled.tip = study("0.0005");
        draft.touch.target_u = u("0.001");
    });
    mean_of(&setup, &["0.6", "0.6"], 2);
}

#[test]
fn a_single_touch_serves_where_there_is_a_study() {
    let setup = with(|draft| draft.touch.least = 1);
    mean_of(&setup, &["0.6"], 1);
}

#[test]
fn the_last_lift_leads_clear() {
    let setup = super::machine::setup();
    let mut cycle = at_tip(&setup);
    run(&mut cycle, &fine(&["0.6"]));
    run(&mut cycle, "approach tip | 0.6\n lift to 10.375 | open\n fetch above 10.375");
}

/// A height that the approach cannot have met means that the position is not what it seems.
#[test]
fn a_height_outside_the_approach_halts() {
    let setup = super::machine::setup();
    let floor = setup.floors().tip;
    let below = std::format!("{}", Length::from_bits(i64::from(floor.to_bits()) - 1).expect("a height"));
    let refused = |script: &str| {
        let mut cycle = at_tip(&setup);
        run(&mut cycle, script);
        run(&mut cycle, "halt | done\n finished");
        let outcome = cycle.outcome().expect("an outcome");
        assert_eq!(
            outcome.refusals(),
            [Refusal::bare(RefusalKind::MachineFault, Some(Station::Tip))],
            "{script}"
        );
    };
    refused(&std::format!("approach | {below}"));
    refused("approach | 40.001");
    // A later approach begins where the lift before it ended.
    refused("approach | 0.6\n lift to 1.35 | open\n approach | 1.351");
    let mut cycle = at_tip(&setup);
    run(&mut cycle, &std::format!("approach | {floor}\n lift | open"));
    let mut cycle = at_tip(&setup);
    run(&mut cycle, "approach | 40\n lift to 40 | open");
    let mut cycle = at_tip(&setup);
    run(&mut cycle, "approach | 0.6\n lift to 1.35 | open\n approach | 1.35\n lift to 2.1 | open");
    // One low reading does not shorten the lifts that follow.
    let mut cycle = at_tip(&setup);
    run(&mut cycle, "approach | 0.6\n lift to 1.35 | open\n approach | 0.3\n lift to 1.05 | open");
    run(&mut cycle, "approach | 0.6\n lift to 1.35 | open");
}

#[test]
fn readings_are_averaged_over_the_counted_touches() {
    let setup = super::machine::setup();
    let mut cycle = at_tip(&setup);
    run(
        &mut cycle,
        "approach tip | 0.6 tool 100
         lift         | open
         approach tip | 0.6 tool 110
         lift         | open
         approach tip | 0.7 tool 120 bed 1 chamber 2
         lift         | open
         approach tip | 0.6 tool 150
         lift         | open
         approach tip | 0.6 tool 151
         lift         | open
         fetch        | done
         move         | done",
    );
    assert_eq!(read(&cycle), [Some(celsius("150.5")), None, None]);

    // A sensor that answers now and then: its one reading belongs to the touch that it came with.
    let mut cycle = at_tip(&setup);
    run(
        &mut cycle,
        "approach tip | 0.6
         lift         | open
         approach tip | 0.6
         lift         | open
         approach tip | 0.7
         lift         | open
         approach tip | 0.6 tool 150
         lift         | open
         approach tip | 0.6
         lift         | open
         fetch        | done
         move         | done",
    );
    assert_eq!(read(&cycle), [Some(celsius("150")), None, None]);

    let mut cycle = at_plate(&setup);
    run(
        &mut cycle,
        "approach plate | 7.35 bed 10 chamber 10
         lift           | open
         approach plate | 7.35 bed 20
         lift           | open
         approach plate | 7.35 tool 9 bed 60 chamber 40
         lift           | open
         approach plate | 7.35 tool 9 bed 61 chamber 41
         lift           | open
         put back",
    );
    assert_eq!(read(&cycle), [None, Some(celsius("60.5")), Some(celsius("40.5"))]);
    assert_eq!(Temperatures::default(), Temperatures { tool: None, bed: None, chamber: None });
}
