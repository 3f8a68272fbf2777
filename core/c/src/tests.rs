//! What C gets is what the core says; what is wrong gets its code and changes nothing.

mod drafts;
mod plates;
mod pointers;
mod watch;

use core::ptr::{null, null_mut};

use zdatum::cycle::{Cycle, Do, Event, Job, ProbeState, Temperatures};
use zdatum::{
    Assessment, Growth, Latency, Length, Recorded, RefusalKind, Setup, Speed, Station, Temperature,
    Uncertainty,
};

use crate::codes::*;
use crate::cycle::*;
use crate::outcome::*;
use crate::refusal::*;
use crate::series::*;
use crate::setup::*;
use crate::trim::*;
use crate::units::*;
use drafts::{bits, draft, late, mm, plain, speed, text, u};

fn setup_storage() -> zdatum_setup {
    zdatum_setup { words: [0; ZDATUM_SETUP_WORDS] }
}

fn cycle_storage() -> zdatum_cycle {
    zdatum_cycle { words: [0; ZDATUM_CYCLE_WORDS] }
}

fn series_storage() -> zdatum_series {
    zdatum_series { words: [0; ZDATUM_SERIES_WORDS] }
}

fn checked() -> Box<zdatum_setup> {
    let mut setup = Box::new(setup_storage());
    // SAFETY: whole objects.
    assert_eq!(unsafe { zdatum_setup_check(&mut *setup, &plain(), null_mut()) }, ZDATUM_OK);
    setup
}

#[test]
fn the_codes_are_one_table() {
    let numbers: Vec<_> = TEXTS.iter().map(|(code, _)| *code).collect();
    assert_eq!(numbers, (ZDATUM_OK..=ZDATUM_TAKEN).collect::<Vec<_>>());
    assert_eq!(text(zdatum_code_text(ZDATUM_OUT_OF_TURN)), TEXTS[5].1);
    assert_eq!(text(zdatum_code_text(99)), "");
    assert_eq!(zdatum_abi(), ZDATUM_ABI);
}

#[test]
fn the_refusals_are_the_cores() {
    let published = [
        ("already-tripped", ZDATUM_ALREADY_TRIPPED),
        ("no-trip", ZDATUM_NO_TRIP),
        ("wrong-switch", ZDATUM_WRONG_SWITCH),
        ("still-tripped", ZDATUM_STILL_TRIPPED),
        ("unsteady", ZDATUM_UNSTEADY),
        ("walking", ZDATUM_WALKING),
        ("drop-out-of-place", ZDATUM_DROP_OUT_OF_PLACE),
        ("plate-out-of-place", ZDATUM_PLATE_OUT_OF_PLACE),
        ("landing-out-of-window", ZDATUM_LANDING_OUT_OF_WINDOW),
        ("moved-too-far", ZDATUM_MOVED_TOO_FAR),
        ("moved-during-cycle", ZDATUM_MOVED_DURING_CYCLE),
        ("too-uncertain", ZDATUM_TOO_UNCERTAIN),
        ("machine-fault", ZDATUM_MACHINE_FAULT),
        ("probe-state-unknown", ZDATUM_PROBE_STATE_UNKNOWN),
        ("cancelled", ZDATUM_CANCELLED),
        ("out-of-range", ZDATUM_BEYOND_RANGE),
        ("noisier-than-studied", ZDATUM_NOISIER_THAN_STUDIED),
        ("tip-out-of-place", ZDATUM_TIP_OUT_OF_PLACE),
    ];
    let own: Vec<_> = RefusalKind::ALL.iter().map(|kind| (kind.word(), kind.code())).collect();
    assert_eq!(own, published);
    for kind in RefusalKind::ALL {
        assert_eq!(text(zdatum_refusal_word(kind.code())), kind.word());
        assert_eq!(text(zdatum_refusal_text(kind.code())), kind.text());
        assert_eq!(text(zdatum_refusal_advice(kind.code())), kind.advice());
    }
    assert_eq!(text(zdatum_refusal_word(0)), "");
    assert_eq!(
        (ZDATUM_MOST_REFUSALS, ZDATUM_MOST_GROWTH),
        (zdatum::refusal::MOST_REFUSALS, zdatum::setup::MOST_GROWTH)
    );
}

#[test]
fn numbers_are_the_cores() {
    for (quantity, spec, written) in [
        (ZDATUM_LENGTH, Length::SPEC, "-0.55"),
        (ZDATUM_SPEED, Speed::SPEC, "1.5"),
        (ZDATUM_LATENCY, Latency::SPEC, "0.0012"),
        (ZDATUM_TEMPERATURE, Temperature::SPEC, "-12.5"),
        (ZDATUM_GROWTH, Growth::SPEC, "0.26"),
        (ZDATUM_WARMING, zdatum::Warming::SPEC, "-41.5"),
        (ZDATUM_UNCERTAINTY, Uncertainty::SPEC, "0.004"),
        (ZDATUM_RATIO, zdatum::Ratio::SPEC, "1.96"),
    ] {
        let (mut low, mut high) = (0, 0);
        // SAFETY: whole numbers.
        assert_eq!(unsafe { zdatum_range(quantity, &mut low, &mut high) }, ZDATUM_OK);
        assert_eq!((low, high), (spec.min, spec.max_i64()));
        assert_eq!(text(zdatum_unit(quantity)), spec.unit);

        let number = bits(quantity, written);
        let mut buffer = [1_u8; ZDATUM_TEXT_ROOM];
        let mut write = |bits, room| {
            // SAFETY: `room` is at most the buffer's.
            let code = unsafe { zdatum_write(quantity, bits, buffer.as_mut_ptr().cast(), room) };
            (code, std::ffi::CStr::from_bytes_until_nul(&buffer).map(|text| text.to_owned()))
        };
        let (code, back) = write(number, written.len() + 1);
        assert_eq!((code, back.unwrap().to_str().unwrap()), (ZDATUM_OK, written));
        assert_eq!(write(number, written.len()).0, ZDATUM_NO_ROOM);
        assert_eq!(write(number, 0).0, ZDATUM_NO_ROOM);
        assert_eq!(write(high, ZDATUM_TEXT_ROOM).0, ZDATUM_OK);
        assert_eq!(write(high + 1, ZDATUM_TEXT_ROOM).0, ZDATUM_OUT_OF_RANGE);
        assert_eq!(write(low - 1, ZDATUM_TEXT_ROOM).0, ZDATUM_OUT_OF_RANGE);
    }
    let mut bits = 7;
    let mut parse = |quantity, text: &[u8]| {
        // SAFETY: a whole text and a whole number.
        let code = unsafe { zdatum_parse(quantity, text.as_ptr().cast(), text.len(), &mut bits) };
        (code, bits)
    };
    assert_eq!(parse(ZDATUM_LENGTH, b"0,55"), (ZDATUM_NOT_A_NUMBER, 7));
    assert_eq!(parse(ZDATUM_LENGTH, b"\xff"), (ZDATUM_NOT_A_NUMBER, 7));
    assert_eq!(parse(ZDATUM_SPEED, b"1001"), (ZDATUM_OUT_OF_RANGE, 7));
    assert_eq!(parse(9, b"1"), (ZDATUM_OUT_OF_RANGE, 7));

    let mut length = 0;
    // SAFETY: a whole number.
    let mut steps = |steps, mm, count| (unsafe { zdatum_steps(steps, mm, count, &mut length) }, length);
    assert_eq!(steps(1600, 3, 1), (ZDATUM_OK, 123));
    assert_eq!(steps(1600, 3, -160_000), (ZDATUM_OK, -300 << 16));
    assert_eq!(steps(0, 3, 1), (ZDATUM_OUT_OF_RANGE, -300 << 16));
    assert_eq!(steps(1, 1, i32::MAX), (ZDATUM_OUT_OF_RANGE, -300 << 16));
}

#[test]
fn a_draft_means_the_same_in_both() {
    let setup = checked();
    // SAFETY: a whole, started storage.
    let kept = unsafe { crate::memory::started(&*setup) }.unwrap();
    assert_eq!(kept, &Setup::check(draft()).unwrap());
}

/// One wrong field and the key that is named.
type Wrong = (fn(&mut zdatum_draft), &'static str, zdatum_code);

#[test]
fn a_bad_draft_names_its_key_and_keeps_the_setup() {
    let mut setup = checked();
    let before = setup.words;
    let cases: [Wrong; 14] = [
        (|d| d.datum_overtravel = 1, "datum_switch.overtravel", ZDATUM_BAD_SETUP),
        (|d| d.touch_least = 0, "touch.least", ZDATUM_BAD_SETUP),
        (|d| d.travel_steps = 0, "travel.steps", ZDATUM_BAD_SETUP),
        (|d| d.datum_delay.latency = u32::MAX, "datum_switch.latency", ZDATUM_OUT_OF_RANGE),
        (|d| d.probe_delay.latency_u = u32::MAX, "probe.latency", ZDATUM_OUT_OF_RANGE),
        (|d| d.probe_trimmed_at_speed = u32::MAX, "probe.trimmed_at_speed", ZDATUM_OUT_OF_RANGE),
        (|d| d.touch_first_speed = u32::MAX, "touch.first_speed", ZDATUM_OUT_OF_RANGE),
        (|d| d.touch_fine_speed = u32::MAX, "touch.fine_speed", ZDATUM_OUT_OF_RANGE),
        (|d| d.touch_centre = 3, "touch.centre", ZDATUM_OUT_OF_RANGE),
        (|d| d.touch_tip_again = 2, "touch.tip_again", ZDATUM_OUT_OF_RANGE),
        (|d| d.growth_count = 9, "growth", ZDATUM_OUT_OF_RANGE),
        (|d| d.growth[1].follows = 3, "growth", ZDATUM_OUT_OF_RANGE),
        (|d| d.growth[2].print = i32::MAX, "growth", ZDATUM_OUT_OF_RANGE),
        (|d| d.accept_coverage = 50, "accept.coverage", ZDATUM_OUT_OF_RANGE),
    ];
    for (spoil, key, expected) in cases {
        let mut draft = plain();
        spoil(&mut draft);
        let mut bad = core::mem::MaybeUninit::uninit();
        // SAFETY: whole objects; the last is written on both of these codes.
        let (code, bad) = unsafe {
            let code = zdatum_setup_check(&mut *setup, &draft, bad.as_mut_ptr());
            assert_eq!(code, expected, "{key}");
            (code, bad.assume_init())
        };
        assert_eq!(text(bad.key), key);
        assert!(!text(bad.fault).is_empty());
        assert_eq!(setup.words, before, "{key} {code}");
        if key == "datum_switch.overtravel" {
            assert_eq!((bad.has_amounts, bad.limit), (1, 1));
            assert!(bad.seen > 1);
        }
    }
}

#[test]
fn floors_are_the_cores() {
    let setup = checked();
    let core = Setup::check(draft()).unwrap();
    let own = core.floors();
    let (tip, shoulder) = (Length::parse("0.6").unwrap(), Length::parse("6.7").unwrap());
    let highest = own.tip_at_most(tip).unwrap();
    let (mut told, mut a, mut b) = (zdatum_floors::default(), 0, 0);
    // SAFETY: whole objects.
    unsafe {
        assert_eq!(zdatum_setup_floors(&*setup, &mut told), ZDATUM_OK);
        assert_eq!(zdatum_shoulder_floor(&*setup, tip.to_bits(), &mut a), ZDATUM_OK);
        assert_eq!(zdatum_plate_floor(&*setup, tip.to_bits(), shoulder.to_bits(), &mut b), ZDATUM_OK);
        assert_eq!(zdatum_shoulder_floor(&*setup, i32::MAX, &mut a), ZDATUM_OUT_OF_RANGE);
    }
    assert_eq!((told.tip, told.clear), (own.tip.to_bits(), own.clear.to_bits()));
    assert_eq!(told.clear_with_probe, own.clear_with_probe.to_bits());
    assert_eq!(
        (told.datum_overrun, told.plate_overrun),
        (own.datum_overrun.to_bits(), own.plate_overrun.to_bits())
    );
    assert_eq!(a, own.shoulder(highest).unwrap().to_bits());
    assert_eq!(b, own.plate(highest, shoulder.minus(tip).unwrap()).unwrap().to_bits());
}

/// A machine on which everything goes well.
fn answer(request: &Do, count: i64) -> Event {
    let noise = [0, 90, -60, 30, -90, 60][count as usize % 6];
    match request {
        Do::FindProbe { .. } => Event::Probe(ProbeState::PutBack),
        Do::Approach { station, .. } => {
            let z = match station {
                Station::Tip => "0.6",
                Station::Shoulder => "6.7",
                Station::Plate => "7.35",
            };
            let z = Length::from_bits(i64::from(Length::parse(z).unwrap().to_bits()) + noise).unwrap();
            let degrees = |text| Some(Temperature::parse(text).unwrap());
            Event::Tripped { z, at: Temperatures { tool: degrees("149"), bed: degrees("61"), chamber: None } }
        }
        Do::Lift { .. } => Event::Lifted { open: true },
        _ => Event::Done,
    }
}

fn told(event: Event) -> zdatum_event {
    let plain = zdatum_event::default();
    match event {
        Event::Done => zdatum_event { kind: ZDATUM_EVENT_DONE, ..plain },
        Event::Probe(_) => zdatum_event { kind: ZDATUM_EVENT_PROBE, detail: ZDATUM_PROBE_PUT_BACK, ..plain },
        Event::Tripped { z, at } => zdatum_event {
            kind: ZDATUM_EVENT_TRIPPED,
            z: z.to_bits(),
            tool: at.tool.unwrap().to_bits(),
            bed: at.bed.unwrap().to_bits(),
            chamber: 99,
            readings: ZDATUM_READ_TOOL | ZDATUM_READ_BED,
            ..plain
        },
        _ => zdatum_event { kind: ZDATUM_EVENT_LIFTED, detail: 1, ..plain },
    }
}

#[test]
fn a_cycle_is_the_cores_request_by_request() {
    let setup = checked();
    let core_setup = Setup::check(draft()).unwrap();
    let mut core = Cycle::<ZDATUM_TOUCHES>::new(&core_setup, Job::full()).unwrap();
    let mut cycle = cycle_storage();
    let mut outcome = zdatum_outcome::default();
    let mut count = 0;
    // SAFETY: whole objects; the setup stays.
    unsafe {
        assert_eq!(zdatum_cycle_start(&mut cycle, &*setup, &zdatum_job::default()), ZDATUM_OK);
        loop {
            let mut request = zdatum_request::default();
            assert_eq!(zdatum_cycle_poll(&cycle, &mut request), ZDATUM_OK);
            let asked = core.poll();
            let (kind, height, within) = match asked {
                Do::Finished => (ZDATUM_DO_FINISHED, None, 0),
                Do::FindProbe { within } => (ZDATUM_DO_FIND_PROBE, None, within.0),
                Do::Home { within } => (ZDATUM_DO_HOME, None, within.0),
                Do::Level { lowest, within } => (ZDATUM_DO_LEVEL, Some(lowest), within.0),
                Do::Warm { within, .. } => (ZDATUM_DO_WARM, None, within.0),
                Do::Fetch { lowest, within } => (ZDATUM_DO_FETCH, Some(lowest), within.0),
                Do::PutBack { lowest, within } => (ZDATUM_DO_PUT_BACK, lowest, within.0),
                Do::Move { lowest, within, .. } => (ZDATUM_DO_MOVE, Some(lowest), within.0),
                Do::Approach { floor, within, .. } => (ZDATUM_DO_APPROACH, Some(floor), within.0),
                Do::Lift { to, within } => (ZDATUM_DO_LIFT, Some(to), within.0),
                Do::Halt => (ZDATUM_DO_HALT, None, 0),
            };
            assert_eq!((request.kind, request.within), (kind, within));
            assert_eq!((request.has_height == 1).then_some(request.height), height.map(Length::to_bits));
            match asked {
                Do::Move { to, .. } => assert_eq!((request.x, request.y), (to.x.to_bits(), to.y.to_bits())),
                Do::Approach { station, speed, .. } => {
                    assert_eq!((request.station, request.speed), (number_of(station), speed.to_bits()));
                }
                Do::Warm { tool, .. } => assert_eq!(request.tool, tool.to_bits()),
                Do::Finished => break,
                _ => {}
            }
            assert_eq!(zdatum_cycle_outcome(&cycle, &mut outcome), ZDATUM_NOT_FINISHED);
            let wrong = zdatum_event { kind: ZDATUM_EVENT_WRONG_SWITCH, ..zdatum_event::default() };
            if kind != ZDATUM_DO_APPROACH {
                assert_eq!(zdatum_cycle_handle(&mut cycle, &wrong), ZDATUM_OUT_OF_TURN);
            }
            let event = answer(&asked, count);
            count += 1;
            core.handle(event).unwrap();
            assert_eq!(zdatum_cycle_handle(&mut cycle, &told(event)), ZDATUM_OK);
        }
        assert_eq!(zdatum_cycle_outcome(&cycle, &mut outcome), ZDATUM_OK);
    }
    same(&outcome, core.outcome().unwrap().landing().unwrap());
    let observed = zdatum::Observed::of(core.touches().unwrap()).unwrap();
    let (tip, drop, seen) = (observed.tip.unwrap(), observed.drop.unwrap(), &outcome.landing_seen);
    assert_eq!((seen.tip, seen.tip_variance), (tip.value.to_bits(), tip.variance.to_bits()));
    assert_eq!((seen.drop, seen.drop_variance), (drop.value.to_bits(), drop.variance.to_bits()));
    assert_eq!((outcome.accepted, outcome.ending), (1, ZDATUM_LIFTED_AND_PUT_BACK));
    let mut landing = zdatum_landing::default();
    // SAFETY: whole objects.
    unsafe {
        assert_eq!(zdatum_outcome_landing(&outcome, &mut landing), ZDATUM_OK);
        outcome.accepted = 0;
        assert_eq!(landing.height, outcome.landing_seen.height);
        assert_eq!(zdatum_outcome_landing(&outcome, &mut landing), ZDATUM_REFUSED);
    }
    assert!(count > 30);
}

fn same(outcome: &zdatum_outcome, own: &zdatum::Landing) {
    let told = &outcome.landing_seen;
    assert_eq!(
        [told.height, told.drop, told.rise, told.span, told.speed_correction, told.growth_correction],
        [own.height, own.drop, own.rise, own.span, own.corrections.speed, own.corrections.growth]
            .map(Length::to_bits)
    );
    let sure = own.uncertainty;
    assert_eq!((told.u, told.expanded), (sure.u.to_bits(), sure.expanded.to_bits()));
    assert_eq!((told.factor, told.dof), (sure.factor.to_bits(), sure.dof.finite().unwrap_or(0)));
    assert_eq!(told.span_variance, own.span_variance.to_bits());
    assert_eq!((outcome.has_landing_seen, outcome.refusal_count), (1, 0));
}

#[test]
fn events_jobs_and_readings_that_are_none() {
    let setup = checked();
    let mut cycle = cycle_storage();
    let mut series = series_storage();
    let event = zdatum_event::default();
    let job = zdatum_job::default();
    // SAFETY: whole objects; the setup stays.
    unsafe {
        for job in [
            zdatum_job { kind: 2, ..job },
            zdatum_job { homed: 2, ..job },
            zdatum_job { levelled: 2, ..job },
            zdatum_job { has_last: 2, ..job },
        ] {
            assert_eq!(zdatum_cycle_start(&mut cycle, &*setup, &job), ZDATUM_OUT_OF_RANGE);
        }
        assert_eq!(cycle.words, [0; ZDATUM_CYCLE_WORDS]);
        assert_eq!(zdatum_cycle_start(&mut cycle, &*setup, &job), ZDATUM_OK);
        for event in [
            event,
            zdatum_event { kind: 9, ..event },
            zdatum_event { kind: ZDATUM_EVENT_PROBE, detail: 4, ..event },
            zdatum_event { kind: ZDATUM_EVENT_LIFTED, detail: 2, ..event },
            zdatum_event { kind: ZDATUM_EVENT_FAILED, detail: 0, ..event },
            zdatum_event { kind: ZDATUM_EVENT_FAILED, detail: 8, ..event },
            zdatum_event { kind: ZDATUM_EVENT_TRIPPED, readings: 8, ..event },
            zdatum_event { kind: ZDATUM_EVENT_TRIPPED, readings: 1, tool: i32::MIN, ..event },
        ] {
            assert_eq!(zdatum_cycle_handle(&mut cycle, &event), ZDATUM_OUT_OF_RANGE);
        }
        assert_eq!(zdatum_series_start(&mut series), ZDATUM_OK);
        let readings = zdatum_readings::default();
        for readings in [
            zdatum_readings { which: 16, ..readings },
            zdatum_readings { which: ZDATUM_READ_SPEED, speed: u32::MAX, ..readings },
            zdatum_readings { which: ZDATUM_READ_BED, bed: i32::MIN, ..readings },
        ] {
            assert_eq!(zdatum_series_readings(&mut series, &readings), ZDATUM_OUT_OF_RANGE);
        }
        let mut summary = zdatum_summary::default();
        assert_eq!(zdatum_series_close(&series, &*setup, 4, &mut summary), ZDATUM_OUT_OF_RANGE);
        assert_eq!(zdatum_series_close(&series, &*setup, ZDATUM_TIP, &mut summary), ZDATUM_TOO_FEW);
    }
}

#[test]
fn more_touches_than_there_is_room() {
    let mut draft = plain();
    draft.touch_most = ZDATUM_TOUCHES as u8 + 1;
    let (mut setup, mut cycle, mut series) = (setup_storage(), cycle_storage(), series_storage());
    // SAFETY: whole objects; the setup stays.
    unsafe {
        assert_eq!(zdatum_setup_check(&mut setup, &draft, null_mut()), ZDATUM_OK);
        assert_eq!(zdatum_cycle_start(&mut cycle, &setup, &zdatum_job::default()), ZDATUM_NO_ROOM);
        assert_eq!(cycle.words, [0; ZDATUM_CYCLE_WORDS]);
        assert_eq!(zdatum_series_start(&mut series), ZDATUM_OK);
        for z in 0..ZDATUM_TOUCHES as i32 {
            assert_eq!(zdatum_series_push(&mut series, z), ZDATUM_OK);
        }
        assert_eq!(zdatum_series_push(&mut series, 0), ZDATUM_NO_ROOM);
    }
}

#[test]
fn recorded_touches_are_the_cores() {
    let setup = checked();
    let core_setup = Setup::check(draft()).unwrap();
    let mut kept = [series_storage(), series_storage(), series_storage()];
    let mut own = [const { Recorded::<ZDATUM_TOUCHES> { series: zdatum::Series::new(), readings: NONE } }; 3];
    const NONE: zdatum::Readings = zdatum::Readings { speed: None, tool: None, bed: None, chamber: None };
    let readings = zdatum_readings {
        speed: speed("1.4"),
        tool: 149 << 16,
        bed: 61 << 16,
        chamber: 35 << 16,
        which: ZDATUM_READ_SPEED | ZDATUM_READ_TOOL | ZDATUM_READ_BED | ZDATUM_READ_CHAMBER,
    };
    let mut outcome = zdatum_outcome::default();
    // SAFETY: whole objects.
    unsafe {
        for ((kept, own), middle) in kept.iter_mut().zip(&mut own).zip(["0.6", "6.7", "7.35"]) {
            assert_eq!(zdatum_series_start(kept), ZDATUM_OK);
            assert_eq!(zdatum_series_readings(kept, &readings), ZDATUM_OK);
            let degrees = |text| Some(Temperature::parse(text).unwrap());
            own.readings.speed = Some(Speed::parse("1.4").unwrap());
            (own.readings.tool, own.readings.bed) = (degrees("149"), degrees("61"));
            own.readings.chamber = degrees("35");
            for noise in [0, 90, -60, 30, -90] {
                assert_eq!(zdatum_series_push(kept, mm(middle) + noise), ZDATUM_OK);
                own.series.push(Length::from_bits(i64::from(mm(middle) + noise)).unwrap()).unwrap();
            }
        }
        for (station, (kept, own)) in Station::ALL.iter().zip(kept.iter().zip(&own)) {
            let mut summary = zdatum_summary::default();
            assert_eq!(zdatum_series_close(kept, &*setup, number_of(*station), &mut summary), ZDATUM_OK);
            let closed = own.series.close(&core_setup.method(*station)).unwrap();
            assert_eq!(summary.centre_wide, closed.centre().to_bits());
            assert_eq!(summary.centre, closed.centre().round().unwrap().to_bits());
            assert_eq!((summary.variance, summary.count), (closed.variance().to_bits(), 5));
            assert_eq!((summary.spread, summary.dof), (180, closed.dof().finite().unwrap()));
            assert_eq!(summary.u, closed.variance().root().to_bits());
        }
        let [tip, shoulder, plate] = &kept;
        assert_eq!(zdatum_assess(&*setup, tip, shoulder, plate, null(), &mut outcome), ZDATUM_OK);
        let [own_tip, own_shoulder, own_plate] = &own;
        let assessed = Assessment::of(&core_setup, own_tip, own_shoulder, own_plate, None).unwrap();
        same(&outcome, assessed.landing().unwrap());
        assert_eq!((outcome.accepted, outcome.ending), (1, ZDATUM_NO_ENDING));

        // Another plate than the one named.
        let span = outcome.landing_seen.span + mm("0.3");
        let last = zdatum_last_span { span, ..zdatum_last_span::default() };
        assert_eq!(zdatum_assess(&*setup, tip, shoulder, plate, &last, &mut outcome), ZDATUM_OK);
        let refusal = &outcome.refusals[0];
        assert_eq!((outcome.accepted, outcome.refusal_count, refusal.kind), (0, 1, ZDATUM_MOVED_TOO_FAR));
        assert_eq!((refusal.seen_quantity, refusal.seen), (ZDATUM_LENGTH, i64::from(mm("0.3"))));
        assert!(refusal.limit < i64::from(mm("0.2")) && refusal.limit_quantity == ZDATUM_LENGTH);
        assert_eq!((refusal.station, outcome.for_gauge_check), (0, 0));
    }
}

#[test]
fn a_gauge_check_is_the_cores() {
    let known = zdatum_depth { t: mm("0.64"), u: u("0.1"), speed: speed("1.5") };
    // Worked by hand, afresh and at the same speed: t becomes 0.64 + (0.15 - 0.115).
    let check = zdatum_gauge_check {
        too_high: mm("0.15") - mm("0.115"),
        made_with: mm("0.64"),
        speed: speed("1.5"),
        gauge_u: u("0.002"),
        feel_u: u("0.01"),
        landing_u: u("0.003"),
        afresh: 1,
        ..zdatum_gauge_check::default()
    };
    let (delay, mut trimmed) = (late("0.0012", "0.0003"), zdatum_trimmed::default());
    // SAFETY: whole objects.
    unsafe {
        assert_eq!(zdatum_trim(&known, &delay, &check, &mut trimmed), ZDATUM_OK);
        assert_eq!((trimmed.depth.t, trimmed.accepted, trimmed.weight), (mm("0.675") - 1, 1, 1 << 16));
        // A wish of 10 µm was no error, and the one part's warming is taken up whole.
        let mut wished = zdatum_gauge_check { wish: mm("0.01"), part_count: 1, ..check };
        wished.parts[0] = zdatum_warmed { rate_u: 0, trimmed: 5 << 16, under_test: 85 << 16 };
        let mut other = zdatum_trimmed::default();
        assert_eq!(zdatum_trim(&known, &delay, &wished, &mut other), ZDATUM_OK);
        assert_eq!((other.depth.t, other.warmings[0]), (trimmed.depth.t - mm("0.01"), 85 << 16));
        wished.part_count = 9;
        assert_eq!(zdatum_trim(&known, &delay, &wished, &mut other), ZDATUM_OUT_OF_RANGE);
        assert_eq!((trimmed.change, trimmed.depth.speed), (trimmed.depth.t - known.t, speed("1.5")));
        let wild = zdatum_gauge_check { too_high: mm("0.6"), afresh: 0, ..check };
        assert_eq!(zdatum_trim(&known, &delay, &wild, &mut trimmed), ZDATUM_OK);
        assert_eq!(trimmed.accepted, 0);
        let none = zdatum_gauge_check { afresh: 2, ..check };
        assert_eq!(zdatum_trim(&known, &delay, &none, &mut trimmed), ZDATUM_OUT_OF_RANGE);
        let none = zdatum_gauge_check { feel_u: u32::MAX, ..check };
        assert_eq!(zdatum_trim(&known, &delay, &none, &mut trimmed), ZDATUM_OUT_OF_RANGE);
    }
}
