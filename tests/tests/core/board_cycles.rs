//! The boards' whole cycles, each against a second telling of what a cycle must do with that script: in exact
//! arithmetic, straight down, without states.

use std::cell::Cell;
use std::collections::BTreeSet;

use num_traits::Signed;
use zdatum::cycle::{Ending, Event, Fault, Known};
use zdatum::setup::Follows;
use zdatum::{Readings, RefusalKind, Setup, Station, Temperature};
use zdatum_boards_cases::Kind;
use zdatum_boards_cases::cycle::{Script, Trouble, play};
use zdatum_boards_cases::digest::Digest;
use zdatum_tests::allowed::Ledger;
use zdatum_tests::case::{self, ToExact, floors_of};
use zdatum_tests::generate::Case;
use zdatum_tests::oracle::{Exact, fraction, in_bits, nearest_up, of_bits, series, whole};

use crate::board_cases::{LANDING, cases, check_limits, hold, noisy, tip_outside, walks};
use crate::oracle_landing::check_case;

type Reason = (RefusalKind, Option<Station>);

/// Where the cycle takes the probe to be.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Carrying {
    Nothing,
    Probe,
    NotKnown,
}

/// What must come out.
#[derive(Debug, Default)]
struct Told {
    reasons: Vec<Reason>,
    ending: Option<Ending>,
    /// Counted touches of tip, shoulder and plate, and how many came before the first of them.
    counted: [Option<(Vec<i64>, u32)>; 3],
}

/// Why the telling stops: the cycle does, or the allowed errors decide.
#[derive(Debug)]
enum Stop {
    Refused(Reason),
    Blurred,
}

/// The second telling.
struct Teller<'a> {
    script: &'a Script,
    told: Told,
    turn: u32,
    homed: bool,
    carrying: Carrying,
    /// What is true: whether the probe hangs on the tool, and whether the one trouble has come.
    fetched: bool,
    struck: bool,
}

impl<'a> Teller<'a> {
    fn tell(script: &'a Script) -> Result<Told, ()> {
        let mut teller = Self {
            script,
            told: Told::default(),
            turn: 0,
            homed: script.job.homed,
            carrying: Carrying::NotKnown,
            fetched: script.left_fetched,
            struck: false,
        };
        match teller.cycle() {
            Ok(()) => teller.told.ending = Some(Ending::LiftedAndPutBack),
            Err(Stop::Blurred) => return Err(()),
            Err(Stop::Refused(reason)) => {
                teller.told.reasons.push(reason);
                let ending = teller.end();
                teller.told.ending = Some(ending);
            }
        }
        Ok(teller.told)
    }

    fn full(&self) -> bool {
        matches!(self.script.job.kind, zdatum::cycle::Kind::Full { .. })
    }

    /// One request; being asked to stop in its place ends the cycle.
    fn ask(&mut self) -> Result<(), Stop> {
        let turn = self.turn;
        self.turn += 1;
        if self.script.trouble == Trouble::Cancel(turn) {
            self.struck = true;
            return Err(Stop::Refused((RefusalKind::Cancelled, None)));
        }
        Ok(())
    }

    fn fail(&mut self, fault: Fault) -> Stop {
        self.struck = true;
        if fault == Fault::Probe {
            self.carrying = Carrying::NotKnown;
            return Stop::Refused((RefusalKind::ProbeStateUnknown, None));
        }
        if !matches!(fault, Fault::Level | Fault::Heat) {
            self.homed = false;
        }
        Stop::Refused((RefusalKind::MachineFault, None))
    }

    fn cycle(&mut self) -> Result<(), Stop> {
        self.ask()?;
        if self.fetched {
            self.put_back()?;
        }
        self.carrying = Carrying::Nothing;
        self.begin()?;
        for leg in 0..3 {
            if leg == 1 {
                self.fetch()?;
            }
            self.station(leg)?;
        }
        self.put_back()?;
        if self.full() && self.script.draft.touch.tip_again { self.tip_again() } else { Ok(()) }
    }

    fn begin(&mut self) -> Result<(), Stop> {
        let warms = self.script.draft.growth.iter().any(|part| part.follows == Follows::Tool);
        let asked = [!self.homed, !self.script.job.levelled, warms];
        for (place, asked) in asked.into_iter().enumerate() {
            if asked {
                self.ask()?;
                if let (Trouble::Begin(fault), false) = (self.script.trouble, self.struck) {
                    return Err(self.fail(fault));
                }
                self.homed |= place == 0;
            }
        }
        Ok(())
    }

    fn put_back(&mut self) -> Result<(), Stop> {
        self.carrying = Carrying::NotKnown;
        self.ask()?;
        if let (Trouble::PutBack(fault), false) = (self.script.trouble, self.struck) {
            return Err(self.fail(fault));
        }
        (self.fetched, self.carrying) = (false, Carrying::Nothing);
        Ok(())
    }

    fn fetch(&mut self) -> Result<(), Stop> {
        self.carrying = Carrying::NotKnown;
        self.ask()?;
        if let (Trouble::Fetch(fault), false) = (self.script.trouble, self.struck) {
            return Err(self.fail(fault));
        }
        (self.fetched, self.carrying) = (true, Carrying::Probe);
        Ok(())
    }

    /// A leg from the move on; what it finds.
    fn station(&mut self, leg: usize) -> Result<(), Stop> {
        let station = Station::ALL[leg];
        let full = self.full();
        let touch = self.script.draft.touch;
        let plan = if full { (touch.settle, touch.least, touch.most) } else { (0, 1, 1) };
        let counted = self.touches(leg, plan)?;
        let walking =
            full.then(|| walks(&self.script.draft, self.script.draft.pooled.of(station), &counted.0));
        let noisy = full.then(|| noisy(&self.script.draft, self.script.draft.pooled.of(station), &counted.0));
        self.told.counted[leg] = Some(counted);
        match walking {
            Some(None) => return Err(Stop::Blurred),
            Some(Some(true)) => return Err(Stop::Refused((RefusalKind::Walking, Some(station)))),
            _ => {}
        }
        match noisy {
            Some(None) => return Err(Stop::Blurred),
            Some(Some(true)) => {
                return Err(Stop::Refused((RefusalKind::NoisierThanStudied, Some(station))));
            }
            _ => {}
        }
        if leg == 0 {
            let setup = zdatum::Setup::check(self.script.draft.clone()).expect("a sound machine");
            let tip = nearest_up(&in_bits(&self.centre(0), 16));
            if tip_outside(&setup, &tip) {
                return Err(Stop::Refused((RefusalKind::TipOutOfPlace, Some(Station::Tip))));
            }
        }
        if leg == 1 {
            let (drop, limits) = (self.centre(1) - self.centre(0), self.script.draft.probe.drop);
            let drop = nearest_up(&in_bits(&drop, 16));
            // Rounded once more than exact arithmetic would: where that decides, either is right.
            let [low, high] =
                [limits.low, limits.high].map(|limit| num_bigint::BigInt::from(limit.to_bits()));
            if (&drop - &low).abs() <= 1.into() || (&drop - &high).abs() <= 1.into() {
                return Err(Stop::Blurred);
            }
            if drop < low || drop > high {
                return Err(Stop::Refused((RefusalKind::DropOutOfPlace, None)));
            }
        }
        Ok(())
    }

    fn tip_again(&mut self) -> Result<(), Stop> {
        let (z, _) = self.touches(3, (0, 1, 1))?;
        let moved = (of_bits(z[0], 16) - self.centre(0)).abs();
        let off = in_bits(&(moved - self.script.draft.touch.band.exact()), 16);
        if off.abs() <= whole(1) {
            return Err(Stop::Blurred);
        }
        if off > whole(0) {
            return Err(Stop::Refused((RefusalKind::MovedDuringCycle, Some(Station::Tip))));
        }
        Ok(())
    }

    /// A closed station's centre in mm.
    fn centre(&self, leg: usize) -> Exact {
        let (z, _) = self.told.counted[leg].as_ref().expect("touched before");
        series::centre(z, case::centre(self.script.draft.touch.centre)) * of_bits(1, 16)
    }

    /// The floor of a leg's approaches in mm.
    fn floor(&self, leg: usize) -> Exact {
        let floors = floors_of(&self.script.draft);
        match leg {
            1 => floors.shoulder(&(self.centre(0) + floors.reads_low())),
            2 => floors.plate(&(self.centre(0) + floors.reads_low()), &(self.centre(1) - self.centre(0))),
            _ => floors.tip(),
        }
    }

    /// All touches of a leg: the counted ones, and how many came before.
    fn touches(&mut self, leg: usize, (settle, least, most): (u8, u8, u8)) -> Result<(Vec<i64>, u32), Stop> {
        let (script, station) = (self.script, Station::ALL[leg % 3]);
        let draft = &script.draft;
        self.ask()?;
        let floor = self.floor(leg);
        let mut top = i64::from(draft.travel.z.high.to_bits());
        let mut fine: Vec<i64> = Vec::new();
        for number in 0_u32.. {
            self.ask()?;
            let mut z = i64::from(script.touch(leg, number).to_bits());
            let here = |trouble: &Trouble| match trouble {
                Trouble::Approach(at, touch, _) | Trouble::TooHigh(at, touch) => {
                    (*at, *touch) == (leg, number)
                }
                _ => false,
            };
            if here(&script.trouble) && !self.struck {
                self.struck = true;
                let kind = match script.trouble {
                    Trouble::Approach(_, _, Event::Failed(fault)) => return Err(self.fail(fault)),
                    Trouble::Approach(_, _, Event::FloorReached) => Some(RefusalKind::NoTrip),
                    Trouble::Approach(_, _, Event::AlreadyTripped) => Some(RefusalKind::AlreadyTripped),
                    Trouble::Approach(..) => Some(RefusalKind::WrongSwitch),
                    _ => None,
                };
                if let Some(kind) = kind {
                    self.carrying = Carrying::NotKnown;
                    return Err(Stop::Refused((kind, Some(station))));
                }
                z = i64::MAX;
            }
            let above = whole(z) - in_bits(&floor, 16);
            if above.abs() < whole(8) {
                return Err(Stop::Blurred);
            }
            if above < whole(0) || z > top {
                self.homed = false;
                return Err(Stop::Refused((RefusalKind::MachineFault, Some(station))));
            }
            let mut complete = None;
            if number > u32::from(settle) {
                fine.push(z);
                complete = self.complete(station, &fine, least, most)?;
            }
            top = z + i64::from(draft.touch.lift.to_bits());
            self.ask()?;
            if script.trouble == Trouble::StillTripped(leg, number) && !self.struck {
                (self.struck, self.carrying) = (true, Carrying::NotKnown);
                return Err(Stop::Refused((RefusalKind::StillTripped, Some(station))));
            }
            if let Some(tail) = complete {
                let before = number + 1 - tail as u32;
                return Ok((fine.split_off(fine.len() - tail), before));
            }
        }
        unreachable!("`most` ends every series")
    }

    /// How many touches count, once they suffice.
    fn complete(&self, station: Station, fine: &[i64], least: u8, most: u8) -> Result<Option<usize>, Stop> {
        let draft = &self.script.draft;
        let band = i64::from(draft.touch.band.to_bits());
        let spread = |z: &[i64]| z.iter().max().zip(z.iter().min()).map_or(0, |(high, low)| high - low);
        let tail = (1..=fine.len()).rev().find(|n| spread(&fine[fine.len() - n..]) <= band).unwrap_or(1);
        if fine.len() < usize::from(least) {
            return Ok(None);
        }
        let exhausted = fine.len() >= usize::from(most);
        if tail >= usize::from(least) && (exhausted || self.meets_target(station, tail)?) {
            return Ok(Some(tail));
        }
        if exhausted { Err(Stop::Refused((RefusalKind::Unsteady, Some(station)))) } else { Ok(None) }
    }

    fn meets_target(&self, station: Station, tail: usize) -> Result<bool, Stop> {
        let draft = &self.script.draft;
        let (target, Some(study)) = (draft.touch.target_u.exact(), draft.pooled.of(station)) else {
            return Ok(true);
        };
        if target == whole(0) {
            return Ok(true);
        }
        let step = fraction(draft.travel.steps.1, draft.travel.steps.0);
        let s2 = study.s.exact() * study.s.exact() * case::factor(draft.touch.centre, tail) / whole(tail);
        let off = s2.max(&step * &step / whole(12)) - &target * &target;
        if off.abs() < of_bits(4, 60) { Err(Stop::Blurred) } else { Ok(off <= whole(0)) }
    }

    fn end(&mut self) -> Ending {
        if !self.homed {
            return Ending::Halted;
        }
        let turn = self.turn;
        // Being asked to stop while ending changes nothing but the machine's mind.
        self.struck |= matches!(self.script.trouble, Trouble::Cancel(at) if at >= turn && at <= turn + 2);
        let fetched = match self.carrying {
            Carrying::Nothing => false,
            Carrying::Probe => true,
            Carrying::NotKnown if self.struck && self.script.lost => {
                self.add(RefusalKind::ProbeStateUnknown);
                return Ending::LiftedProbeUnknown;
            }
            Carrying::NotKnown => self.fetched,
        };
        match self.script.trouble {
            Trouble::PutBack(Fault::Probe) if fetched && !self.struck => {
                self.add(RefusalKind::ProbeStateUnknown);
                Ending::LiftedProbeUnknown
            }
            Trouble::PutBack(_) if fetched && !self.struck => {
                self.add(RefusalKind::MachineFault);
                Ending::Halted
            }
            _ => Ending::LiftedAndPutBack,
        }
    }

    /// The same reason is kept once.
    fn add(&mut self, kind: RefusalKind) {
        if self.told.reasons.iter().all(|(kept, _)| *kept != kind) {
            self.told.reasons.push((kind, None));
        }
    }
}

/// Means of what was read beside the counted touches, ties up.
fn readings(script: &Script, told: &Told, leg: usize) -> Readings {
    let (z, before) = told.counted[leg].as_ref().expect("touched");
    let beside = (*before..).take(z.len()).map(|number| script.beside(number));
    let mean = |pick: &dyn Fn(zdatum::cycle::Temperatures) -> Option<Temperature>| {
        let bits: Vec<i64> = beside.clone().filter_map(pick).map(|at| i64::from(at.to_bits())).collect();
        let mean = fraction(bits.iter().sum::<i64>(), bits.len().max(1));
        let bits: Option<i64> =
            (!bits.is_empty()).then(|| nearest_up(&mean).try_into().expect("a temperature"));
        bits.map(|bits| Temperature::from_bits(bits).expect("a temperature"))
    };
    Readings {
        speed: None,
        tool: mean(&|at| at.tool),
        bed: mean(&|at| at.bed),
        chamber: mean(&|at| at.chamber),
    }
}

fn judged_by_landing(kind: RefusalKind) -> bool {
    matches!(
        kind,
        RefusalKind::PlateOutOfPlace
            | RefusalKind::LandingOutOfWindow
            | RefusalKind::MovedTooFar
            | RefusalKind::TooUncertain
    )
}

#[test]
fn cycles_of_the_boards_end_as_they_must() {
    let ledger = Ledger::new(LANDING);
    let (at_edge, mut blurred, mut accepted) = (Cell::new(0), 0, [0, 0]);
    let (mut kinds, mut endings) = (BTreeSet::new(), [0; 3]);
    for number in cases(Kind::Cycle) {
        let script = Script::of(number);
        let setup = Setup::check(script.draft.clone()).expect("every case's machine passes its check");
        let cycle = play(&script, &setup, &mut Digest::new()).expect("every cycle ends");
        let outcome = cycle.outcome().expect("it has ended");
        let Ok(told) = Teller::tell(&script) else {
            blurred += 1;
            continue;
        };
        assert_eq!(Some(outcome.ending), told.ending, "case {number}: {:?}", script.trouble);
        let mut right = told.reasons.clone();
        right.sort_by_key(|(kind, _)| kind.code());
        let stopped = outcome.refusals().iter().filter(|refusal| !judged_by_landing(refusal.kind));
        let seen: Vec<Reason> = stopped.map(|refusal| (refusal.kind, refusal.station)).collect();
        assert_eq!(seen, right, "case {number}: {:?}", script.trouble);

        let whole_series = told.counted.iter().all(Option::is_some);
        match script.job.kind {
            zdatum::cycle::Kind::Quick(known) => {
                quick(number, &known, &told, outcome.quick.as_ref(), outcome.accepted());
            }
            zdatum::cycle::Kind::Full { last } => {
                assert_eq!(outcome.landing_seen().is_some(), whole_series, "case {number}");
                if let Some(landing) = outcome.landing_seen() {
                    let touches = [0, 1, 2].map(|leg| told.counted[leg].clone().expect("touched").0);
                    let readings = [0, 1, 2].map(|leg| readings(&script, &told, leg));
                    let case = Case { draft: script.draft.clone(), touches, readings };
                    hold(number, check_case(&ledger, &at_edge, &case));
                    let landed = case::land(&setup, &case).and_then(|(_, landing)| landing.ok());
                    assert_eq!(Some(landing), landed.as_ref(), "case {number}");
                    let has = |kind| outcome.refusals().iter().any(|refusal| refusal.kind == kind);
                    hold(number, check_limits(&script.draft, landing, last.as_ref(), &has));
                }
                assert_eq!(outcome.accepted(), outcome.refusals().is_empty(), "case {number}");
            }
        }
        accepted[usize::from(script.job.kind != zdatum::cycle::Kind::Full { last: None })] +=
            u32::from(outcome.accepted());
        endings[match outcome.ending {
            Ending::LiftedAndPutBack => 0,
            Ending::LiftedProbeUnknown => 1,
            Ending::Halted => 2,
        }] += 1;
        kinds.extend(outcome.refusals().iter().map(|refusal| refusal.kind.word()));
    }
    ledger.close();
    println!("accepted {accepted:?}, endings {endings:?}, {blurred} decided by the allowed errors");
    let never = ["out-of-range"];
    let missing: Vec<&str> = RefusalKind::ALL
        .iter()
        .map(|kind| kind.word())
        .filter(|word| !kinds.contains(word) && !never.contains(word))
        .collect();
    assert!(missing.is_empty(), "the scripts must bring every refusal; missing: {missing:?}");
    assert!(accepted.iter().all(|count| *count > 300), "{accepted:?}");
    assert!(endings.iter().all(|count| *count > 30), "{endings:?}");
    assert!(blurred < 30, "{blurred} cases say nothing");
}

fn quick(number: u32, known: &Known, told: &Told, seen: Option<&zdatum::cycle::Quick>, accepted: bool) {
    let z = told.counted.each_ref().map(|counted| counted.as_ref().map(|(z, _)| z[0]));
    let [Some(tip), Some(shoulder), Some(plate)] = z else {
        assert!(seen.is_none(), "case {number}");
        return;
    };
    let seen = seen.unwrap_or_else(|| panic!("case {number}: three touches and no finding"));
    let (span, drop) = (plate - shoulder, shoulder - tip);
    assert_eq!(
        (i64::from(seen.span.to_bits()), i64::from(seen.drop.to_bits())),
        (span, drop),
        "case {number}"
    );
    let changed = |seen: i64, was: zdatum::Length, most: zdatum::Length| {
        (seen - i64::from(was.to_bits())).abs() > i64::from(most.to_bits())
    };
    let needed = changed(span, known.span, known.span_change)
        || changed(drop, known.drop, known.drop_change)
        || !told.reasons.is_empty();
    assert_eq!((seen.full_cycle_needed, accepted), (needed, !needed), "case {number}");
}
