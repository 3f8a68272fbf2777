//! Floors, refusals at the stations, and what follows a closed series.

extern crate std;

use crate::cycle::{Do, Ending, Outcome};
use crate::refusal::{Amount, Refusal, RefusalKind};
use crate::series::Station;
use crate::units::Length;

use super::machine::{
    PLATE, ROOM, SHOULDER, TIP, at_fetch, at_plate, at_put_back, at_shoulder, at_tip, mm, setup, with,
};
use super::script::run;

fn floor_of(cycle: &crate::cycle::Cycle<'_, ROOM>) -> Length {
    match cycle.poll() {
        Do::Approach { floor, .. } => floor,
        other => panic!("no approach is pending but {other:?}"),
    }
}

/// Sums in millimetres.
fn sum(parts: &[Length]) -> Length {
    parts.iter().fold(Length::ZERO, |sum, part| sum.plus(*part).expect("a height"))
}

fn minus(a: Length, b: Length) -> Length {
    a.minus(b).expect("a height")
}

/// Tip: T_lo − e. Shoulder: T + d_lo − e. Plate: T + r_lo + d + t − e, T and d as measured, T for a trip that
/// was seen late.
#[test]
fn floors_are_made_of_what_was_measured() {
    let setup = setup();
    let (draft, floors) = (setup.draft(), setup.floors());
    assert_eq!(floor_of(&at_tip(&setup)), minus(draft.datum_switch.tip_height.low, floors.datum_overrun));

    // fine speed · (τ + 3u(τ)) + Δ/2 = 1.5 · 0.0007 + 0.0009765625 mm, in whole bits upwards.
    let late = minus(floors.tip_at_most(Length::ZERO).expect("a height"), Length::ZERO);
    assert_eq!(late.to_bits(), (1.5_f64 * 0.0007 * 65_536.0).ceil() as i32 + 65);
    let tip = sum(&[mm("0.6"), late]);
    assert_eq!(
        floor_of(&at_shoulder(&setup)),
        minus(sum(&[tip, draft.probe.drop.low]), floors.datum_overrun)
    );

    let shoulder = sum(&[mm("6.7"), late]);
    let span = sum(&[draft.plates.rise.low, draft.probe.trip_depth]);
    assert_eq!(floor_of(&at_plate(&setup)), minus(sum(&[shoulder, span]), floors.plate_overrun));
}

#[test]
fn every_move_keeps_clear_with_room_for_the_probe() {
    // T_hi + r_hi + margin + d_hi + f = 1.125 + 0.75 + 0.5 + 6.75 + 1.25.
    let setup = with(|draft| draft.touch.tip_again = true);
    let mut cycle = at_tip(&setup);
    run(&mut cycle, TIP);
    run(
        &mut cycle,
        "fetch above 10.375 within 90 s | done\n move to shoulder above 10.375 within 60 s | done",
    );
    run(&mut cycle, SHOULDER);
    run(&mut cycle, "move to plate above 10.375 | done");
    run(&mut cycle, PLATE);
    run(&mut cycle, "put back above 10.375 | done\n move to tip above 10.375 | done");
}

/// A tip that stands above what was expected raises the clearance by as much.
#[test]
fn a_tip_outside_its_range_ends_the_cycle_and_raises_the_lift() {
    let setup = setup();
    let mut cycle = at_tip(&setup);
    run(&mut cycle, &TIP.replace("0.6", "1"));
    run(&mut cycle, "fetch above 10.375");
    // Beyond its range the tip ends the cycle before the probe is fetched; the lift follows it up to the top of the
    // travel.
    for (height, lift, limit) in
        [("2.125", "11.375", "1.125"), ("35", "40", "1.125"), ("0.12", "10.375", "0.125")]
    {
        let mut cycle = at_tip(&setup);
        run(&mut cycle, &TIP.replace("0.6", height));
        run(&mut cycle, &std::format!("lift to {lift} | open\n finished"));
        let place = Refusal::new(
            RefusalKind::TipOutOfPlace,
            Some(Station::Tip),
            Amount::Length(mm(height)),
            Amount::Length(mm(limit)),
        );
        assert_eq!(ended(&cycle).refusals(), [place], "{height}");
    }
}

fn ended(cycle: &crate::cycle::Cycle<'_, ROOM>) -> Outcome {
    cycle.outcome().expect("an outcome")
}

/// Whatever a station answers but a touch ends the cycle; where the probe is is asked before anything is
/// claimed of it.
#[test]
fn what_stops_a_station_is_named_with_it() {
    let setup = setup();
    for station in Station::ALL {
        let at = || match station {
            Station::Tip => at_tip(&setup),
            Station::Shoulder => at_shoulder(&setup),
            Station::Plate => at_plate(&setup),
        };
        for (script, kind) in [
            ("approach | floor", RefusalKind::NoTrip),
            ("approach | already", RefusalKind::AlreadyTripped),
            ("approach | wrong", RefusalKind::WrongSwitch),
        ] {
            let mut cycle = at();
            run(&mut cycle, script);
            run(&mut cycle, "lift to 10.375 | open\n find probe | put back\n finished");
            let outcome = ended(&cycle);
            assert_eq!(outcome.refusals(), [Refusal::bare(kind, Some(station))]);
            assert_eq!(outcome.ending, Ending::LiftedAndPutBack);
        }
    }
    let mut cycle = at_shoulder(&setup);
    run(
        &mut cycle,
        "approach | 6.7\n lift | closed\n lift to 10.375 | closed\n find probe | fetched\n put back | done",
    );
    assert_eq!(ended(&cycle).refusals(), [Refusal::bare(RefusalKind::StillTripped, Some(Station::Shoulder))]);
}

#[test]
fn a_failure_at_a_station_lifts_or_halts() {
    let setup = setup();
    for (script, ending) in [
        ("approach | failed move", "halt | done"),
        ("approach | failed timed out", "halt | done"),
        ("approach | 6.7\n lift | failed position", "halt | failed move"),
        ("approach | failed heat", "lift to 10.375 | open\n put back | done"),
        ("approach | failed probe", "lift to 10.375 | closed\n find probe | put back"),
    ] {
        let mut cycle = at_shoulder(&setup);
        run(&mut cycle, script);
        run(&mut cycle, ending);
        run(&mut cycle, "finished");
    }
    let mut cycle = at_fetch(&setup);
    run(&mut cycle, "fetch | done\n move to shoulder | failed move\n halt | done\n finished");
    assert_eq!(ended(&cycle).refusals(), [Refusal::bare(RefusalKind::MachineFault, None)]);
}

#[test]
fn a_drop_out_of_place_ends_before_the_plate() {
    let setup = setup();
    for (shoulder, limit) in [("6.05", "5.5"), ("7.5", "6.75")] {
        let mut cycle = at_shoulder(&setup);
        run(&mut cycle, &SHOULDER.replace("6.7", shoulder));
        run(&mut cycle, "lift to 10.375 | open\n put back | done\n finished");
        let seen = minus(mm(shoulder), mm("0.6"));
        let limits = (Amount::Length(seen), Amount::Length(mm(limit)));
        assert_eq!(
            ended(&cycle).refusals(),
            [Refusal::new(RefusalKind::DropOutOfPlace, None, limits.0, limits.1)]
        );
    }
    // The limits themselves are in place.
    for drop in [setup.draft().probe.drop.low, setup.draft().probe.drop.high] {
        let mut cycle = at_shoulder(&setup);
        run(&mut cycle, &SHOULDER.replace("6.7", &std::format!("{}", sum(&[mm("0.6"), drop]))));
        run(&mut cycle, "move to plate");
    }
}

/// A walking series ends the cycle where it is seen.
#[test]
fn a_walking_tip_ends_at_once() {
    let setup = with(|draft| {
        (draft.touch.least, draft.touch.most) = (4, 6);
        draft.pooled.tip = super::machine::study("0.0002");
    });
    let mut cycle = at_tip(&setup);
    run(
        &mut cycle,
        "approach | 0.6\n lift | open\n approach | 0.6\n lift | open
         approach | 0.619\n lift | open\n approach | 0.613\n lift | open
         approach | 0.607\n lift | open\n approach | 0.601\n lift | open
         lift | open\n finished",
    );
    let outcome = ended(&cycle);
    assert_eq!(
        outcome.refusals().iter().map(|r| (r.kind, r.station)).collect::<std::vec::Vec<_>>(),
        [(RefusalKind::Walking, Some(Station::Tip))]
    );
    assert_eq!(outcome.ending, Ending::LiftedAndPutBack);
}

#[test]
fn the_tip_touched_again_must_be_where_it_was() {
    let setup = with(|draft| draft.touch.tip_again = true);
    let again = |heights: [&str; 2]| {
        let mut cycle = at_put_back(&setup);
        run(&mut cycle, "put back | done\n move to tip | done");
        let [first, fine] = heights;
        run(
            &mut cycle,
            &std::format!(
                "approach tip down to 0.03882 at 6   | {first}
                 lift                                | open
                 approach tip down to 0.03882 at 1.5 | {fine}
                 lift to 10.375                      | open"
            ),
        );
        cycle
    };
    let bits = |by: i32| {
        let z = i64::from(mm("0.6").to_bits() + by);
        std::format!("{}", Length::from_bits(z).expect("a height"))
    };
    let band = mm("0.02").to_bits();
    for near in [0, band, -band] {
        let cycle = again(["0.6", &bits(near)]);
        assert!(ended(&cycle).accepted(), "{near}: {:?}", ended(&cycle).refusals());
        assert_eq!(ended(&cycle).ending, Ending::LiftedAndPutBack);
    }
    for far in [band + 1, -band - 1] {
        let mut cycle = again(["0.6", &bits(far)]);
        run(&mut cycle, "lift to 10.375 | open\n finished");
        let moved = Length::from_bits(i64::from(far.abs())).expect("a length");
        let moved = Refusal::new(
            RefusalKind::MovedDuringCycle,
            Some(Station::Tip),
            Amount::Length(moved),
            Amount::Length(mm("0.02")),
        );
        let outcome = ended(&cycle);
        assert_eq!(outcome.refusals(), [moved]);
        assert!(outcome.landing().is_none() && outcome.landing_seen().is_some(), "the landing seen is told");
    }
}
