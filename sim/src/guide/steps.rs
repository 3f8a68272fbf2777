//! Where a session stands, what is asked there, and how an answer is read.

use std::path::PathBuf;

use zdatum::cycle::{Ending, Outcome};
use zdatum::setup::Span;
use zdatum::{Length, Setup, Station};

use super::gauge::{self, Weighed};
use super::guided::{GuidedCycle, GuidedStep, Note, Task, Touched};
use super::keeping::Ended;
use super::questions::{Kind, QUESTIONS};
use super::terminal::{CAUTIONS, said_of_trim, verdict};
use super::{Answer, Answers, Guide, draft, heights};
use crate::text::name::shown_path;
use crate::text::number::{plain, uncertainty};

/// A step, with what its question rests on.
#[derive(Clone, Debug)]
pub enum Place {
    /// The cautions.
    Caution,
    /// A question of the setup, by its number.
    Setup(usize),
    /// The machine file, checked, before it is written.
    SaveMachine(String),
    /// Which plate is on.
    Plate,
    /// A question of the cycle.
    Cycle(GuidedCycle),
    /// The cycle is over: its touches, before they are written.
    SaveLog(GuidedCycle),
    /// The landing is refused.
    Refused(GuidedCycle),
    /// The gauge check is prepared.
    GaugeReady(GuidedCycle),
    /// The gauge's thickness.
    Gauge(GuidedCycle),
    /// Where drag is felt over it.
    Felt(GuidedCycle, Length),
    /// The new trip depth, before it is written.
    SaveTrim(GuidedCycle, Weighed),
    /// The check disagrees.
    Disagrees(Weighed),
    /// The cycle, before it goes into the history.
    Keep(Ended),
    /// The end, and whether all was accepted.
    Over(bool),
}

impl Place {
    /// Its name in the state file.
    pub fn id(&self) -> String {
        match self {
            Place::Caution => "cautions".into(),
            Place::Setup(number) => QUESTIONS.get(*number).map_or("", |question| question.id).into(),
            Place::SaveMachine(_) => "save-machine".into(),
            Place::Plate => "plate".into(),
            Place::Cycle(cycle) => format!("cycle-{}", cycle.used + 1),
            Place::SaveLog(_) => "save-log".into(),
            Place::Refused(_) => "refused".into(),
            Place::GaugeReady(_) => "gauge-ready".into(),
            Place::Gauge(_) => "gauge".into(),
            Place::Felt(..) => "felt".into(),
            Place::SaveTrim(..) => "save-trim".into(),
            Place::Disagrees(_) => "disagrees".into(),
            Place::Keep(_) => "keep".into(),
            Place::Over(_) => "over".into(),
        }
    }
}

/// What is shown and asked at a step.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Prompt {
    /// The step's name.
    pub id: String,
    /// Where it stands, in words.
    pub title: String,
    /// Shown as cautions.
    pub cautions: Vec<String>,
    /// What to know or do before.
    pub notes: Vec<Note>,
    /// The question.
    pub ask: String,
    /// Why, in a sentence.
    pub why: String,
    /// What may be typed, where that is a choice of words.
    pub choices: String,
    /// What an empty line stands for.
    pub default: Option<String>,
    /// Whether an invented machine answers.
    pub practice: bool,
}

impl Prompt {
    pub(super) fn stuck(why: &str) -> Self {
        Self {
            title: "Stuck".into(),
            ask: format!("{why}. Go back?"),
            choices: "back".into(),
            ..Self::default()
        }
    }
}

impl Guide {
    /// The step after so many answers.
    ///
    /// # Errors
    /// An answer that does not fit.
    pub(super) fn place_after(&self, answers: &[Answer]) -> Result<Place, String> {
        let Some((_, rest)) = answers.split_first() else { return Ok(Place::Caution) };
        let mut rest = rest;
        if !self.state.found {
            if rest.len() < QUESTIONS.len() {
                return Ok(Place::Setup(rest.len()));
            }
            rest = rest.get(QUESTIONS.len()..).unwrap_or(&[]);
            match rest.split_first() {
                None => return self.rendered().map(Place::SaveMachine).map_err(|problem| problem.title),
                Some((_, after)) => rest = after,
            }
        }
        let Some((_, after)) = rest.split_first() else { return Ok(Place::Plate) };
        rest = after;
        let cycle = self.cycle(rest)?;
        rest = rest.get(cycle.used..).unwrap_or(&[]);
        let (None, Some(outcome)) = (cycle.asked, &cycle.outcome) else { return Ok(Place::Cycle(cycle)) };
        let Some((_, rest)) = rest.split_first() else { return Ok(Place::SaveLog(cycle)) };
        let Some(landing) = gauge::landing(outcome) else {
            return Ok(match rest {
                [] => Place::Refused(cycle),
                [_, more @ ..] => self.ended(cycle, None, false, more),
            });
        };
        let landing = *landing;
        match rest {
            [] => Ok(Place::GaugeReady(cycle)),
            [ready, more @ ..] if ready.text == "later" => {
                let good = outcome.accepted();
                Ok(self.ended(cycle, None, good, more))
            }
            [_] => Ok(Place::Gauge(cycle)),
            [_, gauge] => Ok(Place::Felt(cycle, gauge::thickness(&gauge.text)?)),
            [_, gauge, felt, more @ ..] => {
                let setup = self.setup()?;
                let felt = heights::height(&felt.text, None)?;
                let weighed = gauge::weigh(&setup, &landing, gauge::thickness(&gauge.text)?, felt)?;
                Ok(match (weighed.trimmed.accepted, more) {
                    (true, []) => Place::SaveTrim(cycle, weighed),
                    (false, []) => Place::Disagrees(weighed),
                    (good, [written, more @ ..]) => {
                        let trim = (good && written.text == "yes").then_some(weighed);
                        self.ended(cycle, trim, good, more)
                    }
                })
            }
        }
    }

    fn setup(&self) -> Result<Setup, String> {
        self.machine().map(|machine| machine.setup).map_err(|problem| problem.title)
    }

    /// What is asked at a step.
    pub(super) fn prompt_at(&self, place: &Place) -> Prompt {
        let mut prompt = self.words_at(place);
        prompt.id = place.id();
        prompt.practice = self.state.practice.is_some();
        prompt
    }

    fn words_at(&self, place: &Place) -> Prompt {
        let practice = |text: &str| self.state.practice.map(|_| text.to_owned());
        let yes = || "yes".to_owned();
        match place {
            Place::Caution => Prompt {
                title: "Before anything moves".into(),
                cautions: CAUTIONS.map(str::to_owned).to_vec(),
                notes: vec![Note::Say(self.plan())],
                ask: "Read and understood?".into(),
                why: "Nothing is ever sent to the machine: you move it, and type what it shows.".into(),
                choices: yes(),
                default: practice("yes"),
                ..Prompt::default()
            },
            Place::Setup(number) => self.setup_prompt(*number),
            Place::SaveMachine(text) => Prompt {
                title: "The machine file".into(),
                notes: self.setup_notes(text),
                ask: format!("Write it to {}?", self.machine_name()),
                why: "The core has checked it: the floors keep nozzle and probe safe whatever single thing fails.".into(),
                choices: yes(),
                default: Some(yes()),
                ..Prompt::default()
            },
            Place::Plate => Prompt {
                title: "The plate".into(),
                ask: "Which plate is on?".into(),
                why: "A name of your own for it, such as slate: each plate is remembered by its name. `no` names none.".into(),
                default: self.state.earlier.get("plate").cloned().or_else(|| practice("slate")),
                ..Prompt::default()
            },
            Place::Cycle(cycle) => self.cycle_prompt(cycle),
            Place::SaveLog(cycle) => {
                let mut notes = cycle.notes.clone();
                notes.extend(self.verdict(cycle));
                Prompt {
                    title: "The verdict".into(),
                    notes,
                    ask: "Keep the touches: under which name?".into(),
                    why: "A touch log, as `land` and `study` read it; `no` keeps none.".into(),
                    default: Some(self.free_log(cycle)),
                    ..Prompt::default()
                }
            }
            Place::Refused(cycle) => Prompt {
                title: "Refused".into(),
                notes: self.verdict(cycle),
                ask: "Touch again, once the cause is dealt with, or end here?".into(),
                why: "Do not apply this landing. `back save-machine` and further back lead to the setup.".into(),
                choices: "again, end".into(),
                ..Prompt::default()
            },
            Place::GaugeReady(cycle) => Prompt {
                title: "Gauge check".into(),
                cautions: vec![
                    "A wrong number drives the nozzle into the plate. Come down slowly, within reach of the power switch; \
                     the nozzle is hot."
                        .into(),
                ],
                notes: self.gauge_notes(cycle),
                ask: "Is the tip high above the plate, over the point that was touched?".into(),
                why: "The sheet's tolerance is tenths of a millimetre: only a gauge says where the plunger really trips.".into(),
                choices: "done, later".into(),
                default: practice("done"),
                ..Prompt::default()
            },
            Place::Gauge(_) => Prompt {
                title: "Gauge check".into(),
                ask: "How thick is the gauge?".into(),
                why: "Measure it; copy paper of 80 g/m² is about 0.1 mm (common practice).".into(),
                default: practice("0.150"),
                ..Prompt::default()
            },
            Place::Felt(cycle, gauge) => Prompt {
                title: "Gauge check".into(),
                ask: "At which height Z is drag first felt?".into(),
                why: "In the coordinates of the landing: a perfect one would give the gauge's own thickness.".into(),
                default: cycle.true_landing.and_then(|truth| {
                    let landing = gauge::landing(cycle.outcome.as_ref()?)?;
                    gauge::felt_in_practice(landing, truth, *gauge)
                }),
                ..Prompt::default()
            },
            Place::SaveTrim(_, weighed) => Prompt {
                title: "The trip depth".into(),
                notes: said_of_trim(weighed),
                ask: format!("Write it into {}?", self.machine_name()),
                why: "The check is remembered there, so that none counts twice. The rest of the file stays as it is.".into(),
                choices: "yes, no".into(),
                default: Some(yes()),
                ..Prompt::default()
            },
            Place::Disagrees(weighed) => Prompt {
                title: "The check is refused".into(),
                notes: said_of_trim(weighed),
                ask: "Go back to check again, or end here?".into(),
                why: "So large a disagreement means that something else has moved, or that a number was mistyped.".into(),
                choices: "end".into(),
                ..Prompt::default()
            },
            Place::Keep(ended) => self.keep_prompt(ended),
            Place::Over(_) => Prompt { title: "The end".into(), ..Prompt::default() },
        }
    }

    fn plan(&self) -> String {
        if self.state.found {
            format!(
                "{} is there and sound: it is used as it stands. What follows is a cycle and a gauge check, to be kept in the history.",
                self.machine_name()
            )
        } else {
            format!(
                "What follows: {} questions about the machine, a cycle of touches, and a gauge check. Have at hand the sheets of both \
                 switches, a gauge or a slip of paper of known thickness, and the machine, homed, with the nozzle cold for now.",
                QUESTIONS.len()
            )
        }
    }

    fn machine_name(&self) -> String {
        shown_path(&self.paths.machine)
    }

    fn setup_prompt(&self, number: usize) -> Prompt {
        let Some(question) = QUESTIONS.get(number) else { return Prompt::default() };
        let given = Self::setup_answers(&self.state.answers);
        let invented =
            self.state.practice.map(|_| question.practice.to_owned()).filter(|text| !text.is_empty());
        let default = draft::computed(question.id, Answers { given: &given })
            .or_else(|| self.state.earlier.get(question.id).cloned())
            .or(invented)
            .or_else(|| question.default.map(str::to_owned));
        let cautions = match question.kind {
            Kind::Height => vec!["Slowly, hands clear, within reach of the power switch.".to_owned()],
            _ => Vec::new(),
        };
        Prompt {
            title: format!("Setup, question {} of {}", number + 1, Self::setup_steps()),
            cautions,
            ask: question.ask.into(),
            why: question.why.into(),
            default,
            ..Prompt::default()
        }
    }

    fn setup_notes(&self, text: &str) -> Vec<Note> {
        let Some(setup) = draft::setup(text) else { return Vec::new() };
        let say = |text: String| Note::Say(text);
        let (draft, floors) = (setup.draft(), setup.floors());
        let range = |span: Span| format!("{} to {}", plain(span.low), plain(span.high));
        let mut notes = vec![
            say(format!("Tip on the datum switch: {}.", range(draft.datum_switch.tip_height))),
            say(format!("Drop: {}. Rise: {}.", range(draft.probe.drop), range(draft.plates.rise))),
            say(format!(
                "Trip depth {} from the sheet, u {} (tolerance over the root of 3), for speed 0.",
                plain(draft.probe.trip_depth),
                uncertainty(draft.probe.trip_depth_u)
            )),
            say(format!(
                "The tip is never approached below {}; sideways never below {}, with the probe {}.",
                plain(floors.tip),
                plain(floors.clear),
                plain(floors.clear_with_probe)
            )),
        ];
        let press = floors.dead_plunger(draft.plates.rise.high);
        if let Some(press) = press.ok().filter(|press| press.shoulder_into_plate > Length::ZERO) {
            notes.push(say(format!(
                    "Should the probe's switch be dead over the highest plate, the shoulder would press the plate by up to {}. \
                     Narrower plates (back plates-vary) make that less.",
                    plain(press.shoulder_into_plate)
                )));
        }
        notes.push(say(
            "Taken as common practice, until a study says better: latencies, and 12.5 mm of brass that grow."
                .into(),
        ));
        notes
    }

    fn cycle_prompt(&self, cycle: &GuidedCycle) -> Prompt {
        let Some(asked) = cycle.asked else { return Prompt::default() };
        let mut prompt =
            Prompt { notes: cycle.notes.clone(), default: cycle.practice.clone(), ..Prompt::default() };
        match asked {
            GuidedStep::Probe => {
                prompt.title = "The cycle".into();
                prompt.ask = "Where is the probe: put away, or fetched on the tool?".into();
                prompt.why =
                    "The tip is touched first, with the probe put back, since it hangs lower than the tip."
                        .into();
                prompt.choices = "away, fetched, unknown, stop".into();
            }
            GuidedStep::Done(task) => {
                prompt.title = "The cycle".into();
                prompt.choices = "done, failed, stop".into();
                let (ask, why) = match task {
                    Task::Home => (
                        "Homed?",
                        "Heights mean something only from here on. Do not home again until the cycle ends.",
                    ),
                    Task::Warm => (
                        "Warm and clean?",
                        "Heights change with heat: touch as warm as you print, but without oozing.",
                    ),
                    Task::Fetch => (
                        "Does the tool carry the probe?",
                        "Shoulder and plate belong to one fetch: do not take it off between.",
                    ),
                    Task::PutBack => ("Is the probe put back?", "The tip must be free for what follows."),
                };
                (prompt.ask, prompt.why) = (ask.into(), why.into());
                if task == Task::Home {
                    prompt.cautions = vec!["The axes pinch, and move fast. Hands clear.".into()];
                }
            }
            GuidedStep::Touch { station, number, kind, floor, .. } => {
                let what = match kind {
                    Touched::First => "first approach, fast",
                    Touched::Settle => "thrown away",
                    Touched::Fine => "fine",
                };
                prompt.title = format!("{}, touch {number}: {what}", capital(station));
                if number == 1 {
                    prompt.cautions = vec![format!(
                        "Watch the first one with a finger on the power switch. Never below Z{}.",
                        plain(floor)
                    )];
                }
                prompt.ask = "What did the machine print, or at which Z did it trip?".into();
                prompt.why = match kind {
                    Touched::First => {
                        "The height at the edge, not where the carriage stopped. Paste the line: the height is found in it."
                    }
                    Touched::Settle => "The first slow touch is thrown away: it seats what is loose.",
                    Touched::Fine => "",
                }
                .into();
                prompt.choices = match kind {
                    Touched::First => {
                        "or: floor (no trip), closed (tripped before the start), wrong (the other switch tripped), failed, stop"
                    }
                    _ => "or: floor, closed, wrong, failed, stop",
                }
                .into();
            }
        }
        prompt
    }

    fn verdict(&self, cycle: &GuidedCycle) -> Vec<Note> {
        match (self.machine(), &cycle.outcome) {
            (Ok(machine), Some(outcome)) => {
                let mut notes = verdict(&machine, outcome);
                notes.push(Note::Say(ended(outcome).into()));
                notes
            }
            _ => Vec::new(),
        }
    }

    fn gauge_notes(&self, cycle: &GuidedCycle) -> Vec<Note> {
        match (self.setup(), cycle.outcome.as_ref().and_then(gauge::landing)) {
            (Ok(setup), Some(landing)) => gauge::notes(&setup, landing),
            _ => Vec::new(),
        }
    }

    /// A name for the log that nothing else has, unless it is this very log.
    fn free_log(&self, cycle: &GuidedCycle) -> String {
        let text = self.log_text(cycle).unwrap_or_default();
        let is_free = |path: &PathBuf| {
            std::fs::symlink_metadata(path).is_err()
                || std::fs::read_to_string(path).is_ok_and(|there| there == text)
        };
        let log = &self.paths.log;
        let stem = log.file_stem().map(|stem| stem.to_string_lossy().into_owned()).unwrap_or_default();
        let numbered = (2..1_000).map(|number| log.with_file_name(format!("{stem}-{number}.csv")));
        let free = std::iter::once(log.clone()).chain(numbered).find(|path| is_free(path));
        free.unwrap_or_else(|| log.clone()).to_string_lossy().into_owned()
    }
}

fn capital(station: Station) -> &'static str {
    match station {
        Station::Tip => "Tip",
        Station::Shoulder => "Shoulder",
        Station::Plate => "Plate",
    }
}

fn ended(outcome: &Outcome) -> &'static str {
    match outcome.ending {
        Ending::LiftedAndPutBack => "The tool is lifted and the probe put back.",
        Ending::LiftedProbeUnknown => "The tool is lifted; where the probe is cannot be told: look.",
        Ending::Halted => "Halted, the position unknown: look before anything moves.",
    }
}
