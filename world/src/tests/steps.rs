//! What each request comes to: heights, seconds, answers.

use zdatum::cycle::{Do, Event, ProbeState, Seconds};
use zdatum::setup::Place;
use zdatum::{Length, Speed, Station};

use super::machine::{SILENT, bench, draft, mm, speed};
use crate::{Fault, Faults, Machine, Noise, Over, SOUND, World};

const SOON: Seconds = Seconds(60);
/// Fine: 2 mm/s. The datum switch is seen 0.4 ms late, the plate's 1 ms: 0.8 and 2 µm.
const V: f64 = 2.0;

fn machine() -> Machine {
    bench(&draft(), &SILENT).machine
}

/// Tip 0.5, drop 6, rise 0.25, trip depth 0.55: stations at 0.5, 6.5 and 7.3. The probe is fetched, the
/// carriage stands at 10.
fn world<'m>(machine: &'m Machine, faults: &'m Faults) -> World<'m> {
    let mut world = World::new(machine, faults, 1, 0);
    let truth = &mut world.truth;
    (truth.tip, truth.drop, truth.rise, truth.trip_depth_seen) = (0.5, 6.0, 0.25, 0.55);
    (world.z, world.fetched) = (10.0, true);
    world
}

fn fine() -> Speed {
    speed("2")
}

/// As near as the setup's own decimals are held: 2⁻¹⁶ mm.
#[track_caller]
fn near(seen: f64, due: f64) {
    assert!((seen - due).abs() < 2e-5, "{seen}, not {due}");
}

/// To a motor step of 2⁻¹⁴ mm.
#[track_caller]
fn stepped(event: Event, due: f64) {
    let Event::Tripped { z, .. } = event else { panic!("{event:?}") };
    assert!((z.to_f64() - due).abs() <= 0.5 / 16_384.0 + 1e-5, "{z:?}, not {due}");
}

#[test]
fn an_approach_trips_at_its_station() {
    let machine = machine();
    for (station, height, late) in
        [(Station::Tip, 0.5, 0.0008), (Station::Shoulder, 6.5, 0.0008), (Station::Plate, 7.3, 0.002)]
    {
        let mut world = world(&machine, &SOUND);
        stepped(world.approach(station, mm("0.1"), fine()), height - late);
        near(world.met, height);
        near(world.seconds, (10.0 - (height - late)) / V);
        // It runs on for 0.1 mm until it stands.
        near(world.z, height - late - 0.1);
        assert_eq!(world.touches, 1);
        // Pressed already.
        assert_eq!(world.approach(station, mm("-2"), fine()), Event::AlreadyTripped);
        assert_eq!(world.touches, 1);
    }
}

/// No lower than the floor, also after a trip; and exactly at the trip it is pressed.
#[test]
fn floors_hold() {
    let machine = machine();
    let mut low = world(&machine, &SOUND);
    stepped(low.approach(Station::Tip, mm("0.4375"), fine()), 0.4992);
    assert_eq!(low.z, 0.4375);
    let mut high = world(&machine, &SOUND);
    assert_eq!(high.approach(Station::Tip, mm("0.625"), fine()), Event::FloorReached);
    assert_eq!((high.z, high.touches), (0.625, 0));
    near(high.seconds, (10.0 - 0.625) / V);
    // Below the floor before it begins: it stays there, and takes no time.
    let mut below = world(&machine, &SOUND);
    below.z = 0.5625;
    assert_eq!(below.approach(Station::Tip, mm("0.625"), fine()), Event::FloorReached);
    assert_eq!((below.z, below.seconds), (0.5625, 0.0));
    let mut there = world(&machine, &SOUND);
    there.z = 0.5;
    assert_eq!(there.approach(Station::Tip, mm("0.1"), fine()), Event::AlreadyTripped);
    // A latency below nothing trips it where it stands.
    let mut early = world(&machine, &SOUND);
    early.truth.datum_latency = -4.75;
    assert_eq!(early.approach(Station::Tip, mm("0.1"), fine()), Event::AlreadyTripped);
}

/// Filament raises the tip alone, and each touch of the tip squashes 3 parts of 10.
#[test]
fn filament_is_squashed_by_the_tip() {
    let squashed = bench(&draft(), &Noise { tip_filament: 0.1, ..SILENT }).machine;
    let mut world = world(&squashed, &SOUND);
    for left in [0.1, 0.07, 0.049] {
        stepped(world.approach(Station::Tip, mm("0.1"), fine()), 0.5 - 0.0008 + left);
        world.z = 10.0;
    }
    stepped(world.approach(Station::Shoulder, mm("0.1"), fine()), 6.5 - 0.0008);
    near(world.filament, 0.0343);
}

/// The frame grows while the carriage comes down: what counts is its growth at the trip.
#[test]
fn growth_is_that_of_the_trip() {
    let growing = bench(&draft(), &Noise { drift: 0.1, drift_tau_s: 50.0, ..SILENT }).machine;
    let mut world = world(&growing, &SOUND);
    world.seconds = 20.0;
    let grown = |s: f64| 0.1 * (1.0 - (-s / 50.0_f64).exp());
    let trip = 20.0 + (10.0 - 0.5 - grown(20.0)) / V;
    stepped(world.approach(Station::Tip, mm("0.1"), fine()), 0.5 + grown(trip) - 0.0008);
    near(world.met, 0.5 + grown(trip));
    near(world.true_landing() - world.truth.landing, grown(world.seconds + 90.0));
}

fn approached(fault: Fault, station: Station, change: impl Fn(&mut World)) -> (Event, f64, f64) {
    let (machine, faults) = (machine(), Faults::new(vec![fault]));
    let mut world = world(&machine, &faults);
    change(&mut world);
    let event = world.approach(station, mm("0.125"), fine());
    (event, world.z, world.seconds)
}

#[test]
fn faulty_approaches() {
    let as_is = |_: &mut World| {};
    let floor = |fault, station| {
        let (event, z, seconds) = approached(fault, station, as_is);
        assert_eq!((event, z), (Event::FloorReached, 0.125));
        near(seconds, (10.0 - 0.125) / V);
    };
    floor(Fault::DeadSwitch(Station::Tip), Station::Shoulder);
    floor(Fault::NoPlate, Station::Plate);
    floor(Fault::ProbeLost, Station::Plate);
    assert_eq!(approached(Fault::HeldSwitch(Station::Plate), Station::Plate, as_is).0, Event::AlreadyTripped);
    // Each of these is not about the other switch.
    for (fault, station) in [
        (Fault::DeadSwitch(Station::Plate), Station::Tip),
        (Fault::HeldSwitch(Station::Plate), Station::Tip),
        (Fault::NoPlate, Station::Tip),
        (Fault::ProbeLost, Station::Shoulder),
        (Fault::InTheWay(Station::Plate, 0.5), Station::Shoulder),
    ] {
        let height = if station == Station::Tip { 0.5 } else { 6.5 };
        stepped(approached(fault, station, as_is).0, height - 0.0008);
    }
    // Nothing hangs there but the tip.
    let bare = |world: &mut World| world.fetched = false;
    assert_eq!(approached(Fault::MoveFails, Station::Shoulder, bare).0, Event::FloorReached);
    stepped(approached(Fault::MoveFails, Station::Tip, bare).0, 0.4992);
    stepped(approached(Fault::StaleLatch(0.25), Station::Tip, as_is).0, 10.25);
    let (event, z, seconds) = approached(Fault::InTheWay(Station::Plate, 0.5), Station::Plate, as_is);
    assert_eq!(event, Event::WrongSwitch);
    near(z, 7.3 + 0.5 - 0.1);
    near(seconds, (10.0 - 7.8) / V);
    // From below it is met where the carriage stands.
    let low = |world: &mut World| world.z = 7.5;
    let (event, z, seconds) = approached(Fault::InTheWay(Station::Plate, 0.5), Station::Plate, low);
    assert_eq!((event, seconds), (Event::WrongSwitch, 0.0));
    near(z, 7.4);
    let (event, z, _) = approached(Fault::CrossedSwitches, Station::Tip, as_is);
    assert_eq!(event, Event::WrongSwitch);
    near(z, 0.4);
    // 50 ms later at 2 mm/s: read 0.1 lower.
    stepped(approached(Fault::SeenLater(Station::Tip, 0.05), Station::Tip, as_is).0, 0.4992 - 0.1);
    // Each offset at its station, the second touch of a cycle where it comes and goes.
    let second = |world: &mut World| world.touches = 1;
    let third = |world: &mut World| world.touches = 2;
    let fetched = |world: &mut World| world.was_fetched = true;
    let (plate, shoulder, tip) = (7.3 - 0.002, 6.5 - 0.0008, 0.5 - 0.0008);
    for (fault, station, change, due) in [
        (Fault::LooseMount(0.25), Station::Plate, &second as &dyn Fn(&mut World), plate + 0.25),
        (Fault::LooseMount(0.25), Station::Plate, &as_is, plate),
        (Fault::LooseMount(0.25), Station::Tip, &second, tip),
        (Fault::WildPlate(0.25), Station::Plate, &second, plate + 0.25),
        (Fault::WildPlate(0.25), Station::Shoulder, &second, shoulder),
        (Fault::ProbeShifted(0.25), Station::Plate, &as_is, plate + 0.25),
        (Fault::ProbeShifted(0.25), Station::Shoulder, &as_is, shoulder),
        (Fault::DatumKnocked(0.25), Station::Tip, &fetched, tip + 0.25),
        (Fault::DatumKnocked(0.25), Station::Tip, &as_is, tip),
        (Fault::DatumKnocked(0.25), Station::Plate, &fetched, plate),
        (Fault::ChipOnDatum(0.25), Station::Shoulder, &as_is, shoulder + 0.25),
        (Fault::FiresEarly(Station::Plate, 0.25), Station::Plate, &third, plate + 0.25),
        (Fault::FiresEarly(Station::Plate, 0.25), Station::Plate, &second, plate),
    ] {
        let (event, ..) = approached(fault, station, change);
        let Event::Tripped { z, .. } = event else { panic!("{fault:?} {station:?}: {event:?}") };
        assert!((z.to_f64() - due).abs() < 1e-4, "{fault:?} {station:?}: {z:?}, not {due}");
    }
}

/// Upwards at 15 mm/s; never downwards. A switch that sticks stays closed at its own station.
#[test]
fn lifts_rise() {
    let (machine, stuck) = (machine(), Faults::new(vec![Fault::StickingSwitch(Station::Tip)]));
    let mut world = world(&machine, &SOUND);
    world.z = 1.0;
    assert_eq!(world.lift(mm("4")), Event::Lifted { open: true });
    assert_eq!(world.z, 4.0);
    near(world.seconds, 0.2);
    world.lift(mm("2"));
    assert_eq!(world.z, 4.0);
    near(world.seconds, 0.2);
    let mut world = self::world(&machine, &stuck);
    for (over, open) in [(Station::Tip, false), (Station::Shoulder, false), (Station::Plate, true)] {
        world.over = Over::Station(over);
        assert_eq!(world.lift(mm("4")), Event::Lifted { open }, "{over:?}");
    }
}

fn at(x: &str, y: &str) -> Place {
    Place { x: mm(x), y: mm(y) }
}

/// Sideways at 150 mm/s: from tip to shoulder 25 mm, to a place that is no station as far as from anywhere:
/// 100 mm.
#[test]
fn moves_go_sideways() {
    let machine = machine();
    let mut world = world(&machine, &SOUND);
    let go = |world: &mut World, to| world.answer(Do::Move { to, lowest: Length::ZERO, within: SOON });
    world.touches = 3;
    for (to, over, seconds) in [
        (at("170", "180"), Over::Station(Station::Tip), 100.0 / 150.0),
        (at("170", "155"), Over::Station(Station::Shoulder), 25.0 / 150.0),
        (at("90", "95"), Over::Station(Station::Plate), 100.0 / 150.0),
        (at("170", "180"), Over::Station(Station::Tip), (80.0_f64.hypot(85.0)) / 150.0),
        (at("1", "1"), Over::Elsewhere, 100.0 / 150.0),
    ] {
        let before = world.seconds;
        assert_eq!(go(&mut world, to), Event::Done);
        assert_eq!(world.over, over);
        near(world.seconds - before, seconds);
    }
    assert_eq!(world.before, 3, "a series begins anew");
    // It rises first, where it must.
    world.answer(Do::Move { to: at("1", "1"), lowest: mm("13"), within: SOON });
    assert_eq!(world.z, 13.0);
    let fails = Faults::new(vec![Fault::MoveFails]);
    let event = go(&mut self::world(&machine, &fails), at("1", "1"));
    assert_eq!(event, Event::Failed(zdatum::cycle::Fault::Move));
}

#[test]
fn the_probe_is_fetched_and_put_back() {
    let machine = machine();
    let mut world = World::new(&machine, &SOUND, 1, 0);
    let fetch = Do::Fetch { lowest: mm("12"), within: SOON };
    let back = |lowest| Do::PutBack { lowest, within: SOON };
    let look = Do::FindProbe { within: SOON };
    world.z = 9.0;
    assert_eq!(world.answer(look), Event::Probe(ProbeState::PutBack));
    world.over = Over::Station(Station::Tip);
    assert_eq!(world.answer(fetch), Event::Done);
    // Up by 3 mm at 15 mm/s, and 5 s for the rest.
    near(world.seconds, 5.2);
    assert_eq!((world.z, world.over, world.was_fetched), (12.0, Over::Elsewhere, true));
    assert!(world.probe_is_fetched());
    assert_eq!(world.answer(look), Event::Probe(ProbeState::Fetched));
    assert_eq!(world.answer(back(Some(mm("12.75")))), Event::Done);
    near(world.seconds, 10.25);
    assert!(!world.probe_is_fetched());
    world.answer(back(None));
    assert_eq!(world.z, 12.75);
    for (fault, request, event, fetched) in [
        (Fault::FetchUnconfirmed, fetch, Event::Failed(zdatum::cycle::Fault::Probe), false),
        (Fault::FetchMissed, fetch, Event::Done, false),
        (Fault::MoveFails, fetch, Event::Done, true),
        (Fault::LeftFetched, back(None), Event::Done, false),
        (Fault::PutBackUnconfirmed, back(None), Event::Failed(zdatum::cycle::Fault::Probe), false),
        (Fault::ProbeSensorDead, look, Event::Probe(ProbeState::Unknown), false),
        (Fault::LeftFetched, look, Event::Probe(ProbeState::Fetched), true),
    ] {
        let faults = Faults::new(vec![fault]);
        let mut world = World::new(&machine, &faults, 1, 0);
        assert_eq!(world.answer(request), event, "{fault:?}");
        assert_eq!(world.probe_is_fetched(), fetched, "{fault:?}");
    }
}

/// Homing takes 20 s and levelling 40; after homing the carriage stands where it rests. Steps that are lost
/// while the probe is put back are in every later height and in the landing.
#[test]
fn the_rest_of_the_requests() {
    let machine = machine();
    let mut world = world(&machine, &SOUND);
    world.over = Over::Station(Station::Tip);
    assert_eq!(world.answer(Do::Home { within: SOON }), Event::Done);
    assert_eq!((world.over, world.z), (Over::Elsewhere, machine.rest));
    near(world.seconds, 20.0);
    assert_eq!(world.answer(Do::Level { lowest: Length::ZERO, within: SOON }), Event::Done);
    near(world.seconds, 60.0);
    let lost = Faults::new(vec![Fault::StepsLost(0.25)]);
    let mut world = self::world(&machine, &lost);
    let before = world.true_landing();
    world.answer(Do::PutBack { lowest: None, within: SOON });
    near(world.true_landing() - before, 0.25);
    stepped(world.approach(Station::Tip, mm("0.1"), fine()), 0.4992 + 0.25);
    let off = Faults::new(vec![Fault::HomedOff(0.5)]);
    near(World::new(&machine, &off, 1, 0).z - machine.rest, 0.5);
    let stop = Faults::new(vec![Fault::StopPressed(2)]);
    let mut world = self::world(&machine, &stop);
    let pressed = [1, 2, 3].map(|touches| {
        world.touches = touches;
        world.stop_is_pressed()
    });
    assert_eq!(pressed, [false, true, true]);
}
