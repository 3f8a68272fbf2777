//! Every refusal with a physical cause that reaches it in the model.

use std::fmt::Write as _;

use zdatum::cycle::{Cycle, Do, Event, Fault, Job, Kind, Outcome, ProbeState};
use zdatum::{Draft, LastSpan, RefusalKind, Setup, Station, Variance};

use super::tight::{self, Corner, length};
use super::world::{Probe, Switch, World};
use super::world_at;
use crate::machine::{growth, mm, range, study, u};

/// What happens at a request.
#[derive(Clone, Copy, Debug)]
pub enum Then {
    /// The machine does as asked and tells the truth.
    Obey,
    /// The machine does not, and tells this.
    Tell(Event),
    /// A person asks to stop.
    Cancel,
}

/// A refusal and how it comes about.
pub struct Cause {
    /// Which refusal.
    pub kind: RefusalKind,
    /// What is wrong with the machine.
    pub what: &'static str,
    draft: fn() -> Draft,
    last: Option<LastSpan>,
    probe: Probe,
    /// Done to the world before a request of which so many of its kind went before.
    act: fn(&mut World, &Do, u32) -> Then,
}

impl Cause {
    const fn new(kind: RefusalKind, what: &'static str, act: fn(&mut World, &Do, u32) -> Then) -> Self {
        Self { kind, what, draft: tight::draft, last: None, probe: Probe::Dock, act }
    }

    /// Runs the cycle to its end.
    pub fn outcome(&self) -> Outcome {
        let setup = Setup::check((self.draft)()).unwrap_or_else(|bad| panic!("{}: {bad}", self.what));
        let mut world = world_at(&setup, Corner { deep: true, ..Corner::of(0) }, self.probe, true);
        let job = Job { kind: Kind::Full { last: self.last }, ..Job::full() };
        let mut cycle = Cycle::<9>::new(&setup, job).expect("room for the touches");
        let mut before: Vec<Do> = Vec::new();
        while !cycle.is_finished() {
            let request = cycle.poll();
            let alike = before.iter().filter(|other| same_kind(other, &request)).count();
            before.push(request);
            match (self.act)(&mut world, &request, alike as u32) {
                Then::Cancel => {
                    cycle.cancel();
                    continue;
                }
                Then::Tell(event) => cycle.handle(event),
                Then::Obey => cycle.handle(world.execute(request)),
            }
            .expect("an answer in turn");
        }
        cycle.outcome().expect("an outcome at the end")
    }
}

fn same_kind(a: &Do, b: &Do) -> bool {
    match (a, b) {
        (Do::Approach { station: a, .. }, Do::Approach { station: b, .. }) => a == b,
        _ => core::mem::discriminant(a) == core::mem::discriminant(b),
    }
}

fn at(request: &Do, station: Station) -> bool {
    matches!(request, Do::Approach { station: s, .. } if *s == station)
}

/// All of them, in the order of the refusals.
pub fn all() -> Vec<Cause> {
    use RefusalKind as R;
    vec![
        Cause::new(R::AlreadyTripped, "the datum switch's wires touch", |world, _, _| {
            world.jam(Switch::Datum);
            Then::Obey
        }),
        Cause::new(R::NoTrip, "no plate is fitted", |world, _, _| {
            world.remove_plate();
            Then::Obey
        }),
        Cause {
            probe: Probe::Tool,
            ..Cause::new(
                R::WrongSwitch,
                "the probe hangs on the tool, and its sensor says that it does not",
                |_, request, _| match request {
                    Do::FindProbe { .. } => Then::Tell(Event::Probe(ProbeState::PutBack)),
                    _ => Then::Obey,
                },
            )
        },
        Cause::new(R::StillTripped, "the plunger sticks where it was pressed", |world, request, nth| {
            // The lifts before it: four at the tip, four at the shoulder.
            if matches!(request, Do::Lift { .. }) && nth == 8 {
                world.jam(Switch::Plunger);
            }
            Then::Obey
        }),
        Cause::new(
            R::Unsteady,
            "the probe's mount is loose: it sits 0.05 mm lower at every other touch",
            |world, request, nth| {
                if at(request, Station::Plate) {
                    world.slip_probe(if nth % 2 == 0 { 3_277 } else { -3_277 });
                }
                Then::Obey
            },
        ),
        Cause {
            draft: || {
                let mut draft = tight::draft();
                (draft.touch.least, draft.touch.most) = (5, 9);
                draft.pooled.tip = study("0.0005", 40);
                draft
            },
            ..Cause::new(
                R::Walking,
                "filament on the tip gives way with every touch",
                |world, request, nth| {
                    if at(request, Station::Tip) && nth == 0 {
                        world.ooze(2_000);
                    }
                    Then::Obey
                },
            )
        },
        Cause::new(
            R::DropOutOfPlace,
            "the probe is half seated and hangs 0.6 mm too low",
            |world, request, nth| {
                if at(request, Station::Shoulder) && nth == 0 {
                    world.slip_probe(40_000);
                }
                Then::Obey
            },
        ),
        Cause::new(R::PlateOutOfPlace, "two plates lie on each other", |world, _, _| {
            world.geometry.rise = i64::from(mm("0.55").to_bits());
            Then::Obey
        }),
        Cause {
            draft: || {
                let mut draft = tight::draft();
                draft.accept.landing = range("5", "6");
                draft
            },
            ..Cause::new(
                R::LandingOutOfWindow,
                "the window is that of a machine whose switch stands 5 mm higher",
                |_, _, _| Then::Obey,
            )
        },
        Cause {
            draft: || {
                let mut draft = tight::draft();
                draft.accept.shift = mm("0.05");
                draft
            },
            // The rise at the lowest corner and the trip depth, as a sound cycle reads them.
            last: Some(LastSpan::new(length(-32_768 + 33_536), Variance::ZERO)),
            ..Cause::new(R::MovedTooFar, "debris of 0.1 mm lies under the plate", |world, request, nth| {
                if matches!(request, Do::FindProbe { .. }) && nth == 0 {
                    world.geometry.rise += 6_554;
                }
                Then::Obey
            })
        },
        Cause::new(
            R::MovedDuringCycle,
            "the height axis loses 0.1 mm while the probe is put back",
            |world, request, _| {
                if matches!(request, Do::PutBack { .. }) {
                    world.lose_height(6_554);
                }
                Then::Obey
            },
        ),
        Cause {
            draft: || {
                let mut draft = tight::draft();
                draft.accept.expanded_u = u("0.005");
                draft
            },
            ..Cause::new(R::TooUncertain, "the trip depth has never been trimmed", |_, _, _| Then::Obey)
        },
        Cause::new(
            R::MachineFault,
            "a motor stalls on the way to the shoulder's station",
            |_, request, nth| match request {
                Do::Move { .. } if nth == 1 => Then::Tell(Event::Failed(Fault::Move)),
                _ => Then::Obey,
            },
        ),
        Cause::new(R::ProbeStateUnknown, "the probe fell off before it was fetched", |world, request, _| {
            if matches!(request, Do::Fetch { .. }) {
                world.probe = Probe::Lost;
            }
            Then::Obey
        }),
        Cause::new(R::Cancelled, "a person presses stop during a touch", |_, request, nth| {
            if at(request, Station::Plate) && nth == 1 { Then::Cancel } else { Then::Obey }
        }),
        Cause {
            draft: || {
                let mut draft = tight::draft();
                draft.growth[0].rate_u = growth("62.5");
                draft
            },
            ..Cause::new(R::OutOfRange, "the uncertainty of a growth was typed in another unit", |_, _, _| {
                Then::Obey
            })
        },
        Cause {
            draft: || {
                let mut draft = tight::draft();
                draft.travel.steps = (8_192, 1);
                (draft.touch.least, draft.touch.most) = (5, 9);
                draft.pooled.plate = study("0.0005", 40);
                draft
            },
            ..Cause::new(
                R::NoisierThanStudied,
                "the plunger has worn since its study: it trips 6 um higher at every other touch",
                |world, request, nth| {
                    if at(request, Station::Plate) {
                        world.slip_probe(if nth % 2 == 0 { 393 } else { -393 });
                    }
                    Then::Obey
                },
            )
        },
        Cause::new(
            R::TipOutOfPlace,
            "the offset of an earlier landing is still in force",
            |world, request, _| {
                if matches!(request, Do::Home { .. }) {
                    world.lose_height(3 << 16);
                }
                Then::Obey
            },
        ),
    ]
}

/// The page `docs/tables/refusals-reached.md`.
pub fn page() -> String {
    let mut page = String::from(
        "# How each refusal is reached\n\n\
        Every refusal has a physical cause that reaches it in the model world of the tests. This page is\n\
        written by `cargo run --release -p zdatum-tests --example cycle_pages -- refusals`; a test fails\n\
        if a refusal has no cause, is not reached by it, or this page is out of date. *With* names the\n\
        other reasons that the same cycle gives.\n\n\
        | refusal | cause in the model | with | how the cycle ends |\n|---|---|---|---|\n",
    );
    for cause in all() {
        let outcome = cause.outcome();
        let mut others: Vec<_> = outcome
            .refusals()
            .iter()
            .map(|r| r.kind)
            .filter(|kind| *kind != cause.kind)
            .map(|k| k.word())
            .collect();
        others.dedup();
        let _ = writeln!(
            page,
            "| `{}` | {} | {} | {} |",
            cause.kind.word(),
            cause.what,
            others.join(", "),
            super::catalogue::ending(outcome.ending)
        );
    }
    page
}
