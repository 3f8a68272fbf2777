//! The page `docs/tables/cycle-faults.md`: what one and two wrong events do.

use std::fmt::Write as _;

use zdatum::cycle::{Ending, Job, Kind, Known};
use zdatum::{Length, Setup};

use super::scripts::Tally;
use super::tight;
use super::world::{Harm, Probe};
use super::wrong::Group;
use super::{Scripts, tight::length};

/// What was run.
pub struct Runs {
    /// With one wrong event at most, everything tried.
    pub single: Tally,
    /// With two wrong events at most.
    pub double: Tally,
}

/// A quick check against a plate of which much is forgiven.
pub fn quick() -> Job {
    let mm = |n: i64| length(n << 16);
    let known = Known { span: Length::ZERO, span_change: mm(3), drop: mm(1), drop_change: mm(3) };
    Job { homed: true, levelled: true, kind: Kind::Quick(known) }
}

/// Runs everything: full cycles and quick checks, from all beginnings.
pub fn run() -> Runs {
    let setup = Setup::check(tight::draft()).unwrap_or_else(|bad| panic!("the tight machine: {bad}"));
    let mut single = Tally::default();
    let homed = Job { homed: true, levelled: true, ..Job::full() };
    for job in [Job::full(), homed, quick()] {
        for probe in [Probe::Dock, Probe::Tool] {
            for crowded in [true, false] {
                for opposed in [true, false] {
                    single.add(Scripts { job, probe, crowded, opposed, ..Scripts::full(1) }.run(&setup));
                }
            }
        }
    }
    let mut double = Scripts::full(2).run(&setup);
    double.add(Scripts { job: quick(), ..Scripts::full(2) }.run(&setup));
    Runs { single, double }
}

/// How a cycle ended, in words.
pub const fn ending(ending: Ending) -> &'static str {
    match ending {
        Ending::LiftedAndPutBack => "lifted and put back",
        Ending::LiftedProbeUnknown => "lifted, probe state unknown",
        Ending::Halted => "halted, position unknown",
    }
}

const fn harm(harm: Harm) -> &'static str {
    match harm {
        Harm::TipIntoPlate => "tip into plate",
        Harm::PinPastOvertravel => "pin past its overtravel",
        Harm::ShoulderIntoPlate => "shoulder into plate beyond what `setup` warned of",
        Harm::SidewaysTooLow => "sideways nearer than the margin",
    }
}

/// Millimetres with three decimals, away from zero.
fn mm(bits: i64) -> String {
    let micrometres = (bits.abs() * 1_000 + 65_535) >> 16;
    format!("{}{}.{:03}", if bits < 0 { "−" } else { "" }, micrometres / 1_000, micrometres % 1_000)
}

/// With thin commas.
fn number(n: u64) -> String {
    let digits = n.to_string();
    let mut text = String::new();
    for (i, digit) in digits.chars().enumerate() {
        if i > 0 && (digits.len() - i).is_multiple_of(3) {
            text.push(',');
        }
        text.push(digit);
    }
    text
}

/// The hardware that prevents a pair: either's would; named is the one that is surer to be had.
fn prevents(a: Group, b: Group) -> &'static str {
    let of = |group: Group| group.text().1;
    match (a, b) {
        (_, Group::Astray) | (Group::Astray, _) => of(Group::Astray),
        (Group::PlungerDead, Group::ProbeTold) => of(Group::ProbeTold),
        _ => of(a),
    }
}

impl Runs {
    /// The page.
    pub fn page(&self) -> String {
        let mut page = String::from(HEAD);
        let (single, double) = (&self.single, &self.double);
        let _ = write!(
            page,
            "\n## How many\n\n| scripts with | number |\n|---|---|\n\
            | nothing wrong | {} |\n| one wrong event, every one tried | {} |\n\
            | two wrong events, equivalent ones left out | {} |\n\n\
            Requests answered in all: {}. Longest script: {} requests.\n",
            number(single.scripts[0]),
            number(single.scripts[1]),
            number(double.scripts[2]),
            number(single.requests + double.requests),
            single.longest.max(double.longest),
        );

        page.push_str(
            "\n## One wrong event\n\n\
            None does harm, shifts of up to 0.1 mm included, unless the carriage is elsewhere sideways\n\
            than it is taken to be: nothing over the plate tells the tip so. A shift beyond the margin\n\
            is not tried here: height steps lost, or a probe that slips, by more than `plates.margin`\n\
            can drag the probe over the plate, and no floor can prevent that; an encoder on the height\n\
            axis, or a sensor that the probe is seated, can.\n\n\
            | what is wrong | harm | scripts | deepest, mm | hardware that prevents it |\n|---|---|---|---|---|\n",
        );
        for ((group, what), count) in &single.single {
            let (name, hardware) = group.text();
            let _ = writeln!(
                page,
                "| {name} | {} | {} | {} | {hardware} |",
                harm(*what),
                number(count.scripts),
                mm(count.deepest)
            );
        }
        page.push_str(
            "\nWhat one wrong event does to a landing that is accepted all the same, compared with the\n\
            landing of the same cycle with nothing wrong. Below is the dangerous side. A wrong height\n\
            among the counted touches is limited by the band (0.020 mm here); the shifts that are\n\
            tried are 0.010 mm and 0.100 mm, and each passes into the landing at most as a whole, up\n\
            to the declared width of drop and rise. A known plate's last span shows a change between\n\
            shoulder and plate, the tip touched again one between the tip and the end; nothing shows\n\
            what comes and goes in between, or comes after the last touch.\n\n\
            | what is wrong | below, mm | above, mm | hardware that prevents it |\n|---|---|---|---|\n",
        );
        for (group, errors) in single.errors.iter().filter(|(_, errors)| errors.below < 0 || errors.above > 0)
        {
            let (name, hardware) = group.text();
            let _ = writeln!(page, "| {name} | {} | {} | {hardware} |", mm(errors.below), mm(errors.above));
        }
        for (group, scripts) in &single.misplaced {
            let _ = write!(
                page,
                "\nIn {} scripts ({}) the outcome says *put back* while the probe hangs: a put-back that\n\
                is reported done and was not passes unnoticed if nothing meets the probe afterwards.\n\
                Hardware: {}.\n",
                number(*scripts),
                group.text().0,
                group.text().1
            );
        }

        page.push_str(
            "\n## Two wrong events\n\nThe classes that do harm, each with the hardware that prevents it.\n\n\
            | what is wrong | and | harm | scripts | deepest, mm | hardware |\n|---|---|---|---|---|---|\n",
        );
        for ((a, b, what), count) in &double.double {
            let _ = writeln!(
                page,
                "| {} | {} | {} | {} | {} | {} |",
                a.text().0,
                b.text().0,
                harm(*what),
                number(count.scripts),
                mm(count.deepest),
                prevents(*a, *b)
            );
        }
        page
    }
}

const HEAD: &str = "# What one and two faults can do

The touch cycle was run in a model world: exact geometry of tip, shoulder, plunger, pin and plate, no noise,
and a machine that does what it is asked. At every request everything that can go wrong was made to go
wrong, at most two things per script, at the 128 corners of what the setup declares: T, d, r, t, the way
after a trip, the latency of the switches, and the rounding to steps, each at both ends. The machine is
invented and as tight as a setup may be: one settling touch, two to three fine ones, the tip again.

This page is written by `cargo run --release -p zdatum-tests --example cycle_pages -- faults`, and a test
fails if it is out of date.

What the model takes for granted:

- the machine keeps `lowest` and the floor of each request, and homes, levels and passes the dock without
  harm;
- nothing is outside the declared ranges, except for a shift of 0.1 mm, which counts against the margin;
- a part that has fallen off lies where nothing meets it; nothing touches the frame beside plate and datum
  switch;
- sideways the worst case: whatever hangs beside the part in use is over the plate. With one wrong event the
  opposite, where less is noticed, was run too, and the two switches at opposite ends of their latency.
";
