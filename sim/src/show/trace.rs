//! One run, step by step: every request with its answer, time and true heights.

use zdatum::cycle::{Do, Event};

use crate::text::json::Number;
use crate::text::lines::{BOLD, FAINT, line};
use crate::text::number::shortest_mm;
use crate::world::World;
use zdatum_world::engine::Ran;

/// One request with its answer, as seen from the world.
#[derive(Clone, Debug, serde::Serialize)]
pub struct TraceStep {
    format: u8,
    /// Seconds since the cycle's start, after the answer.
    seconds: Number,
    request: &'static str,
    /// In words, with its numbers.
    asked: String,
    answered: String,
    /// True carriage height after the answer.
    carriage: Number,
    /// True height at which the switch was met.
    true_height: Option<Number>,
    /// Height reported.
    reported: Option<Number>,
}

impl TraceStep {
    /// What the world did just now.
    pub fn of(world: &World<'_>, request: &Do, event: &Event) -> Self {
        Self {
            format: 1,
            seconds: Number::decimal(world.seconds, 6),
            request: name(request),
            asked: asked(request),
            answered: answered(event),
            carriage: Number::decimal(world.z, 6),
            true_height: match event {
                Event::Tripped { .. } => Some(Number::decimal(world.met, 6)),
                _ => None,
            },
            reported: match event {
                Event::Tripped { z, .. } => Some((*z).into()),
                _ => None,
            },
        }
    }
}

fn name(request: &Do) -> &'static str {
    match request {
        Do::FindProbe { .. } => "find probe",
        Do::Home { .. } => "home",
        Do::Level { .. } => "level",
        Do::Warm { .. } => "warm",
        Do::Fetch { .. } => "fetch",
        Do::PutBack { .. } => "put back",
        Do::Move { .. } => "move",
        Do::Approach { .. } => "approach",
        Do::Lift { .. } => "lift",
        Do::Halt => "halt",
        Do::Finished => "finished",
    }
}

fn asked(request: &Do) -> String {
    match request {
        Do::Warm { tool, .. } => format!("tool to {tool} °C"),
        Do::Fetch { lowest, .. } | Do::Level { lowest, .. } => format!("never below {lowest}"),
        Do::PutBack { lowest: Some(lowest), .. } => format!("never below {lowest}"),
        Do::Move { to, lowest, .. } => format!("to {}, {}, never below {lowest}", to.x, to.y),
        Do::Approach { station, floor, speed, .. } => {
            format!("{} at {speed} mm/s, floor {floor}", station.word())
        }
        Do::Lift { to, .. } => format!("to {to}"),
        _ => String::new(),
    }
}

fn answered(event: &Event) -> String {
    match event {
        Event::Done => "done".into(),
        Event::Probe(state) => format!("probe {state:?}"),
        Event::Tripped { z, .. } => format!("tripped at {z}"),
        Event::FloorReached => "floor reached".into(),
        Event::AlreadyTripped => "already tripped".into(),
        Event::WrongSwitch => "wrong switch".into(),
        Event::Lifted { open: true } => "lifted, open".into(),
        Event::Lifted { open: false } => "lifted, still closed".into(),
        Event::Failed(fault) => format!("failed: {fault:?}"),
    }
}

/// One run to be shown.
#[derive(Clone, Copy, Debug)]
pub struct TracedRun<'a> {
    /// Its number, from 0.
    pub run: u64,
    /// The campaign's seed.
    pub seed: u64,
    /// Tolerance of the first-layer error, mm.
    pub within: f64,
    /// What it came to.
    pub ran: &'a Ran,
}

/// What the run came to, as a last line.
#[derive(Clone, Debug, serde::Serialize)]
pub struct TraceEnd {
    format: u8,
    run: u64,
    seed: u64,
    verdict: &'static str,
    refused: Option<&'static str>,
    ending: String,
    true_landing: Number,
    error: Option<Number>,
    within: Number,
    outside: Option<bool>,
    expanded_u: Option<Number>,
    touches: u32,
    cycle_s: Number,
}

impl TraceEnd {
    /// From a run.
    pub fn of(one: &TracedRun<'_>) -> Self {
        let ran = one.ran;
        Self {
            format: 1,
            run: one.run,
            seed: one.seed,
            verdict: if ran.error.is_some() { "accept" } else { "refuse" },
            refused: ran.refused.map(|kind| kind.word()),
            ending: format!("{:?}", ran.ending),
            true_landing: Number::decimal(ran.true_landing, 9),
            error: ran.error.map(|error| Number::decimal(error, 9)),
            within: Number::decimal(one.within, 9),
            outside: ran.error.map(|error| error.abs() > one.within),
            expanded_u: ran.error.map(|_| Number::decimal(ran.expanded, 9)),
            touches: ran.touches,
            cycle_s: Number::decimal(ran.seconds, 6),
        }
    }
}

/// All steps as lines, then what came of it.
pub fn page(steps: &[TraceStep], one: &TracedRun<'_>) -> String {
    let TracedRun { run, seed, within, ran } = *one;
    let mut out = String::new();
    if !steps.is_empty() {
        line!(&mut out, "{FAINT}             true heights, mm{FAINT:#}");
        line!(&mut out, "{FAINT}     s    carriage    switch  request     asked and answered{FAINT:#}");
    }
    for step in steps {
        let (seconds, carriage) = (step.seconds.rounded(2), step.carriage.rounded(4));
        let met = step.true_height.as_ref().map_or(String::new(), |height| height.rounded(4));
        let mut text =
            format!("{seconds:>6}  {carriage:>10}  {met:>8}  {:<10}  {}", step.request, step.asked);
        let arrow = if step.asked.is_empty() { "" } else { " → " };
        text.push_str(arrow);
        text.push_str(&step.answered);
        line!(&mut out, "{text}");
    }
    let (verdict, detail) = match (ran.error, ran.refused) {
        (Some(error), _) => {
            let (landing, sure) = (ran.true_landing, ran.expanded);
            let off = format!("{error:+.4} mm off the true one at {landing:+.4} mm");
            let side = if error.abs() > within { "beyond" } else { "within" };
            let tolerance = format!("{side} the tolerance of ±{} mm", shortest_mm(within));
            let sure = format!("it was said to be sure to ±{sure:.4} mm");
            ("accepted", format!("The landing is {off}, {tolerance};\n{sure}."))
        }
        (None, Some(kind)) => ("refused", format!("{}: {}", kind.word(), kind.text())),
        (None, None) => ("no outcome", String::new()),
    };
    line!(&mut out, "{BOLD}Run {run} of seed {seed}: {verdict}{BOLD:#}");
    line!(&mut out, "{detail}");
    out
}
