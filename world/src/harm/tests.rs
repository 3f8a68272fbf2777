use super::*;
use crate::tests::machine::{SILENT, bench, draft};
use crate::{Faults, Machine};

/// The pin trips the datum switch at 0.5, the plate lies at 0.7; the shoulder hangs 6 below the tip, the
/// plunger 1 further.
const PIN: f64 = 0.5;
const PLATE: f64 = 0.7;
const ROOM: Room = Room { overtravel: 2.0, free_height: 1.0 };
/// Less than anything here is told by.
const HAIR: f64 = 1e-9;

fn machine() -> Machine {
    bench(&draft(), &SILENT).machine
}

fn world<'m>(machine: &'m Machine, faults: &'m Faults, over: Over, fetched: bool, z: f64) -> World<'m> {
    let mut world = World::new(machine, faults, 1, 0);
    (world.truth.tip, world.truth.rise, world.truth.drop) = (PIN, PLATE - PIN, 6.0);
    (world.over, world.fetched, world.was_fetched, world.z) = (over, fetched, fetched, z);
    world
}

/// Just above a height nothing is harmed, just below it this is.
#[track_caller]
fn begins_at(faults: &Faults, station: Station, fetched: bool, z: f64, harm: Harm) {
    let machine = machine();
    let at = |z: f64| world(&machine, faults, Over::Station(station), fetched, z).harm(&ROOM);
    assert_eq!((at(z + HAIR), at(z - HAIR)), (None, Some(harm)));
}

#[test]
fn each_station_is_harmed_from_its_own_height_on() {
    let sound = Faults::NONE;
    begins_at(&sound, Station::Tip, false, PIN - 2.0, Harm::TipPastOvertravel);
    begins_at(&sound, Station::Tip, true, PIN - 2.0, Harm::TipPastOvertravel);
    begins_at(&sound, Station::Shoulder, true, PIN + 6.0 - 2.0, Harm::ShoulderPastOvertravel);
    // Without the probe it is the tip that comes down there, over the plate as it may be.
    begins_at(&sound, Station::Shoulder, false, PLATE, Harm::TipIntoPlate);
    begins_at(&sound, Station::Plate, true, PLATE + 6.0, Harm::ShoulderIntoPlate);
    begins_at(&sound, Station::Plate, false, PLATE, Harm::TipIntoPlate);
    let machine = machine();
    let at = |over, z| world(&machine, &sound, over, true, z).harm(&ROOM);
    assert_eq!(at(Over::Elsewhere, -100.0), None);
    assert_eq!(at(Over::Station(Station::Shoulder), PLATE - HAIR), Some(Harm::TipIntoPlate));
    assert_eq!(at(Over::Station(Station::Plate), PLATE - HAIR), Some(Harm::TipIntoPlate));
    // Exactly there: not yet.
    assert_eq!(at(Over::Station(Station::Tip), -1.5), None);
    assert_eq!(at(Over::Station(Station::Shoulder), 4.5), None);
}

/// A probe that has fallen off harms nothing at the plate; until then it does.
#[test]
fn a_lost_probe_hangs_no_more() {
    let lost = Faults::new(vec![Fault::ProbeLost]);
    begins_at(&lost, Station::Plate, true, PLATE, Harm::TipIntoPlate);
    begins_at(&lost, Station::Shoulder, true, PIN + 6.0 - 2.0, Harm::ShoulderPastOvertravel);
}

#[test]
fn what_stands_highest_is_met_sideways() {
    let (machine, sound) = (machine(), Faults::NONE);
    let place = Over::Station(Station::Tip);
    let at = |fetched, z| world(&machine, &sound, place, fetched, z).harm_sideways(&ROOM);
    assert_eq!((at(false, PLATE + HAIR), at(false, PLATE - HAIR)), (None, Some(Harm::TipSideways)));
    let hangs = PLATE + 6.0 + 1.0;
    assert_eq!((at(true, hangs + HAIR), at(true, hangs - HAIR)), (None, Some(Harm::ProbeSideways)));
    assert_eq!(at(true, PLATE - HAIR), Some(Harm::TipSideways));
    // A plate lower than the pin: the pin is met.
    let mut low = world(&machine, &sound, place, false, PIN - HAIR);
    low.truth.rise = -0.2;
    assert_eq!(low.harm_sideways(&ROOM), Some(Harm::TipSideways));
    low.z = PIN + HAIR;
    assert_eq!(low.harm_sideways(&ROOM), None);
}

/// What lies under the plunger alone is not there for the nozzle; a knocked pin stands higher from the first
/// fetch on, the plate does not; steps lost raise both.
#[test]
fn faults_move_what_is_met() {
    let machine = machine();
    let surfaces = |fault: Option<Fault>, change: &dyn Fn(&mut World)| {
        let faults = Faults::new(fault.into_iter().collect());
        let mut world = world(&machine, &faults, Over::Elsewhere, false, 10.0);
        change(&mut world);
        world.surfaces()
    };
    let near = |(pin, plate): (f64, f64), due: (f64, f64)| {
        assert!((pin - due.0).abs() < 1e-12 && (plate - due.1).abs() < 1e-12, "{pin} {plate}, not {due:?}");
    };
    near(surfaces(None, &|_| {}), (PIN, PLATE));
    near(surfaces(None, &|world| world.steps_lost = 0.25), (PIN + 0.25, PLATE + 0.25));
    near(surfaces(Some(Fault::ChipUnderPlunger(0.125)), &|_| {}), (PIN, PLATE - 0.125));
    near(surfaces(Some(Fault::DatumKnocked(0.25)), &|_| {}), (PIN, PLATE));
    near(surfaces(Some(Fault::DatumKnocked(0.25)), &|world| world.was_fetched = true), (PIN + 0.25, PLATE));
    let (pin, plate) = surfaces(Some(Fault::NoPlate), &|_| {});
    assert_eq!((pin, plate), (PIN, f64::NEG_INFINITY));
}

/// After one time constant the frame has grown by 1 − 1/e of its drift: pin and plate alike.
#[test]
fn a_growing_frame_lifts_both() {
    let drifting = bench(&draft(), &crate::Noise { drift: 0.1, drift_tau_s: 100.0, ..SILENT }).machine;
    let mut world = world(&drifting, &crate::SOUND, Over::Elsewhere, false, 10.0);
    world.seconds = 100.0;
    let grown = 0.063_212_055_882_856;
    let (pin, plate) = world.surfaces();
    assert!((pin - PIN - grown).abs() < 1e-12 && (plate - PLATE - grown).abs() < 1e-12, "{pin} {plate}");
}

/// The tip 0.2 higher and the plate another 0.05: the landing goes with both.
#[test]
fn another_place_takes_the_landing_with_it() {
    let machine = machine();
    let mut world = World::new(&machine, &crate::SOUND, 1, 0);
    let before = world.truth;
    world.place(before.tip + 0.2, 0.05);
    let moved = |now: f64, then: f64| now - then;
    for (seen, due) in [
        (moved(world.truth.landing, before.landing), 0.25),
        (moved(world.truth.tip, before.tip), 0.2),
        (moved(world.truth.rise, before.rise), 0.05),
    ] {
        assert!((seen - due).abs() < 1e-12, "{seen}, not {due}");
    }
}

#[test]
fn each_harm_has_its_word() {
    let words = [
        "tip-into-plate",
        "tip-past-overtravel",
        "tip-sideways",
        "shoulder-past-overtravel",
        "shoulder-into-plate",
        "probe-sideways",
    ];
    assert_eq!(Harm::ALL.map(Harm::word), words);
    assert_eq!(Harm::ALL.map(Harm::is_of_the_nozzle), [true, true, true, false, false, false]);
}
