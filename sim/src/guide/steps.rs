//! Where a session stands, what is asked there, and how an answer is read.

use std::path::PathBuf;

use zdatum::cycle::{Ending, Outcome};
use zdatum::setup::LengthRange;
use zdatum::{Length, Setup, Station};

use super::gauge::{self, Weighed};
use super::guided::{GuideNote, GuidedCycle, GuidedStep, PersonTask, Touched};
use super::keeping::FinishedCycle;
use super::questions::{AnswerKind, QUESTIONS};
use super::terminal::{CAUTIONS, said_of_trim, verdict};
use super::{Guide, SessionAnswer, SetupAnswers, draft, heights};
use crate::text::name::shown_path;
use crate::text::number::{plain, uncertainty};

/// A step, with what its question rests on.
#[derive(Clone, Debug)]
pub enum GuideStage {
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
    Keep(FinishedCycle),
    /// The end, and whether all was accepted.
    Over(bool),
}

impl GuideStage {
    /// Its name in the state file.
    pub fn id(&self) -> String {
        match self {
            GuideStage::Caution => "cautions".into(),
            GuideStage::Setup(number) => QUESTIONS.get(*number).map_or("", |question| question.id).into(),
            GuideStage::SaveMachine(_) => "save-machine".into(),
            GuideStage::Plate => "plate".into(),
            GuideStage::Cycle(cycle) => format!("cycle-{}", cycle.used + 1),
            GuideStage::SaveLog(_) => "save-log".into(),
            GuideStage::Refused(_) => "refused".into(),
            GuideStage::GaugeReady(_) => "gauge-ready".into(),
            GuideStage::Gauge(_) => "gauge".into(),
            GuideStage::Felt(..) => "felt".into(),
            GuideStage::SaveTrim(..) => "save-trim".into(),
            GuideStage::Disagrees(_) => "disagrees".into(),
            GuideStage::Keep(_) => "keep".into(),
            GuideStage::Over(_) => "over".into(),
        }
    }
}

/// What is shown and asked at a step.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct GuidePrompt {
    /// The step's name.
    pub id: String,
    /// Where it stands, in words.
    pub title: String,
    /// Shown as cautions.
    pub cautions: Vec<String>,
    /// What to know or do before.
    pub notes: Vec<GuideNote>,
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

impl GuidePrompt {
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
    pub(super) fn place_after(&self, answers: &[SessionAnswer]) -> Result<GuideStage, String> {
        let Some((_, rest)) = answers.split_first() else { return Ok(GuideStage::Caution) };
        let mut rest = rest;
        if !self.state.found {
            if rest.len() < QUESTIONS.len() {
                return Ok(GuideStage::Setup(rest.len()));
            }
            rest = rest.get(QUESTIONS.len()..).unwrap_or(&[]);
            match rest.split_first() {
                None => return self.rendered().map(GuideStage::SaveMachine).map_err(|problem| problem.title),
                Some((_, after)) => rest = after,
            }
        }
        let Some((_, after)) = rest.split_first() else { return Ok(GuideStage::Plate) };
        rest = after;
        let cycle = self.cycle(rest)?;
        rest = rest.get(cycle.used..).unwrap_or(&[]);
        let (None, Some(outcome)) = (cycle.asked, &cycle.outcome) else {
            return Ok(GuideStage::Cycle(cycle));
        };
        let Some((_, rest)) = rest.split_first() else { return Ok(GuideStage::SaveLog(cycle)) };
        let Some(landing) = gauge::landing(outcome) else {
            return Ok(match rest {
                [] => GuideStage::Refused(cycle),
                [_, more @ ..] => self.ended(cycle, None, false, more),
            });
        };
        let landing = *landing;
        match rest {
            [] => Ok(GuideStage::GaugeReady(cycle)),
            [ready, more @ ..] if ready.text == "later" => {
                let good = outcome.accepted();
                Ok(self.ended(cycle, None, good, more))
            }
            [_] => Ok(GuideStage::Gauge(cycle)),
            [_, gauge] => Ok(GuideStage::Felt(cycle, gauge::thickness(&gauge.text)?)),
            [_, gauge, felt, more @ ..] => {
                let setup = self.setup()?;
                let felt = heights::height(&felt.text, None)?;
                let weighed = gauge::weigh(&setup, &landing, gauge::thickness(&gauge.text)?, felt)?;
                Ok(match (weighed.trimmed.accepted, more) {
                    (true, []) => GuideStage::SaveTrim(cycle, weighed),
                    (false, []) => GuideStage::Disagrees(weighed),
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
    pub(super) fn prompt_at(&self, place: &GuideStage) -> GuidePrompt {
        let mut prompt = self.words_at(place);
        prompt.id = place.id();
        prompt.practice = self.state.practice.is_some();
        prompt
    }

    fn words_at(&self, place: &GuideStage) -> GuidePrompt {
        let practice = |text: &str| self.state.practice.map(|_| text.to_owned());
        let yes = || "yes".to_owned();
        match place {
            GuideStage::Caution => GuidePrompt {
                title: "Before anything moves".into(),
                cautions: CAUTIONS.map(str::to_owned).to_vec(),
                notes: vec![GuideNote::Say(self.plan())],
                ask: "Have you read and understood this?".into(),
                why: "The tool sends nothing to the machine: you move it, and type what it shows.".into(),
                choices: yes(),
                default: practice("yes"),
                ..GuidePrompt::default()
            },
            GuideStage::Setup(number) => self.setup_prompt(*number),
            GuideStage::SaveMachine(text) => GuidePrompt {
                title: "The machine file".into(),
                notes: self.setup_notes(text),
                ask: format!("Write it to {}?", self.machine_name()),
                why: "Its values have been checked: the floors protect nozzle and probe even if any one \
                    thing fails."
                    .into(),
                choices: yes(),
                default: Some(yes()),
                ..GuidePrompt::default()
            },
            GuideStage::Plate => GuidePrompt {
                title: "The plate".into(),
                ask: "Which plate is on?".into(),
                why: "Give it a name, such as slate: each plate is remembered by name. Type no to leave it \
                    unnamed."
                    .into(),
                default: self.state.earlier.get("plate").cloned().or_else(|| practice("slate")),
                ..GuidePrompt::default()
            },
            GuideStage::Cycle(cycle) => self.cycle_prompt(cycle),
            GuideStage::SaveLog(cycle) => {
                let mut notes = cycle.notes.clone();
                notes.extend(self.verdict(cycle));
                GuidePrompt {
                    title: "The verdict".into(),
                    notes,
                    ask: "Save the touches in which file?".into(),
                    why: "As a touch log, which land and study can read. Type no to save none.".into(),
                    default: Some(self.free_log(cycle)),
                    ..GuidePrompt::default()
                }
            }
            GuideStage::Refused(cycle) => GuidePrompt {
                title: "Refused".into(),
                notes: self.verdict(cycle),
                ask: "Touch again once you have dealt with the cause, or end here?".into(),
                why: "Do not apply this landing. To change the setup, type back save-machine, then \
                    back."
                    .into(),
                choices: "again, end".into(),
                ..GuidePrompt::default()
            },
            GuideStage::GaugeReady(cycle) => GuidePrompt {
                title: "Gauge check".into(),
                cautions: vec![
                    "A wrong number can drive the nozzle into the plate. Come down slowly, within reach of \
                        the power \
                     switch; the nozzle is hot."
                        .into(),
                ],
                notes: self.gauge_notes(cycle),
                ask: "Is the tip high above the plate, over the point that was touched?".into(),
                why: "The data sheet's tolerance is tenths of a millimetre: only a gauge shows where the \
                    plunger really trips."
                    .into(),
                choices: "done, later".into(),
                default: practice("done"),
                ..GuidePrompt::default()
            },
            GuideStage::Gauge(_) => GuidePrompt {
                title: "Gauge check".into(),
                ask: "How thick is the gauge?".into(),
                why: "Measure it; 80 g/m² copy paper is about 0.1 mm thick (common practice).".into(),
                default: practice("0.150"),
                ..GuidePrompt::default()
            },
            GuideStage::Felt(cycle, gauge) => GuidePrompt {
                title: "Gauge check".into(),
                ask: "At which height Z is drag first felt?".into(),
                why: "With the landing as the zero of Z: a perfect landing would give the gauge's own \
                    thickness."
                    .into(),
                default: cycle.true_landing.and_then(|truth| {
                    let landing = gauge::landing(cycle.outcome.as_ref()?)?;
                    gauge::felt_in_practice(landing, truth, *gauge)
                }),
                ..GuidePrompt::default()
            },
            GuideStage::SaveTrim(_, weighed) => GuidePrompt {
                title: "The trip depth".into(),
                notes: said_of_trim(weighed),
                ask: format!("Write it into {}?", self.machine_name()),
                why: "The check is recorded there so that it cannot count twice. The rest of the file stays \
                    as it is."
                    .into(),
                choices: "yes, no".into(),
                default: Some(yes()),
                ..GuidePrompt::default()
            },
            GuideStage::Disagrees(weighed) => GuidePrompt {
                title: "The check is refused".into(),
                notes: said_of_trim(weighed),
                ask: "Go back to check again, or end here?".into(),
                why: "A disagreement this large means that something else has moved, or that a number was \
                    mistyped."
                    .into(),
                choices: "end".into(),
                ..GuidePrompt::default()
            },
            GuideStage::Keep(ended) => self.keep_prompt(ended),
            GuideStage::Over(_) => GuidePrompt { title: "The end".into(), ..GuidePrompt::default() },
        }
    }

    fn plan(&self) -> String {
        if self.state.found {
            format!(
                "{} exists and is valid: it is used unchanged. Next come a cycle and a gauge check, which \
                    you can keep in the history.",
                self.machine_name()
            )
        } else {
            format!(
                "Next come {} questions about the machine, a cycle of touches, and a gauge check. Have \
                    ready: the data \
                 sheets of both switches, a gauge or a slip of paper of known thickness, and the machine, \
                 homed, with the \
                 nozzle cold for now.",
                QUESTIONS.len()
            )
        }
    }

    fn machine_name(&self) -> String {
        shown_path(&self.paths.machine)
    }

    fn setup_prompt(&self, number: usize) -> GuidePrompt {
        let Some(question) = QUESTIONS.get(number) else { return GuidePrompt::default() };
        let given = Self::setup_answers(&self.state.answers);
        let invented =
            self.state.practice.map(|_| question.practice.to_owned()).filter(|text| !text.is_empty());
        let default = draft::computed(question.id, SetupAnswers { given: &given })
            .or_else(|| self.state.earlier.get(question.id).cloned())
            .or(invented)
            .or_else(|| question.default.map(str::to_owned));
        let cautions = match question.kind {
            AnswerKind::Height => {
                vec!["Move slowly, keep hands clear, and stay within reach of the power switch.".to_owned()]
            }
            _ => Vec::new(),
        };
        GuidePrompt {
            title: format!("Setup, question {} of {}", number + 1, Self::setup_steps()),
            cautions,
            ask: question.ask.into(),
            why: question.why.into(),
            default,
            ..GuidePrompt::default()
        }
    }

    fn setup_notes(&self, text: &str) -> Vec<GuideNote> {
        let Some(setup) = draft::setup(text) else { return Vec::new() };
        let say = |text: String| GuideNote::Say(text);
        let (draft, floors) = (setup.draft(), setup.floors());
        let range = |span: LengthRange| format!("{} to {}", plain(span.low), plain(span.high));
        let mut notes = vec![
            say(format!("Tip on the datum switch: {}.", range(draft.datum_switch.tip_height))),
            say(format!("Drop: {}. Rise: {}.", range(draft.probe.drop), range(draft.plates.rise))),
            say(format!(
                "Trip depth {} from the data sheet, u {} (tolerance divided by √3), for speed 0.",
                plain(draft.probe.trip_depth),
                uncertainty(draft.probe.trip_depth_u)
            )),
            say(format!(
                "The tip never approaches below {}; sideways moves stay above {}, or {} with the probe.",
                plain(floors.tip),
                plain(floors.clear),
                plain(floors.clear_with_probe)
            )),
        ];
        let press = floors.dead_plunger(draft.plates.rise.high);
        if let Some(press) = press.ok().filter(|press| press.shoulder_into_plate > Length::ZERO) {
            notes.push(say(format!(
                "If the probe's switch is dead over the highest plate, the shoulder presses the plate \
                        by up to {}. A \
                     narrower range of plates (back plates-vary) reduces that.",
                plain(press.shoulder_into_plate)
            )));
        }
        notes.push(say(
            "Assumed as common practice until a study measures them: the latencies, and 12.5 mm of brass \
                that grows with heat."
                .into(),
        ));
        notes
    }

    fn cycle_prompt(&self, cycle: &GuidedCycle) -> GuidePrompt {
        let Some(asked) = cycle.asked else { return GuidePrompt::default() };
        let mut prompt = GuidePrompt {
            notes: cycle.notes.clone(),
            default: cycle.practice.clone(),
            ..GuidePrompt::default()
        };
        match asked {
            GuidedStep::Probe => {
                prompt.title = "The cycle".into();
                prompt.ask = "Where is the probe: put back in its dock, or fetched, on the tool?".into();
                prompt.why =
                    "The tip is touched first, with the probe put back, because the probe hangs lower than \
                        the tip."
                        .into();
                prompt.choices = "away, fetched, unknown, stop".into();
            }
            GuidedStep::Done(task) => {
                prompt.title = "The cycle".into();
                prompt.choices = "done, failed, stop".into();
                let (ask, why) = match task {
                    PersonTask::Home => (
                        "Homed?",
                        "Heights are valid only from here on. Do not home again until the cycle ends.",
                    ),
                    PersonTask::Warm => (
                        "Warm and clean?",
                        "Heights change with heat: touch as close to print temperature as you can without \
                            oozing.",
                    ),
                    PersonTask::Fetch => (
                        "Is the probe on the tool?",
                        "Shoulder and plate must be touched in one fetch: do not take the probe off in \
                            between.",
                    ),
                    PersonTask::PutBack => {
                        ("Is the probe put back?", "The tip must be free for the next step.")
                    }
                };
                (prompt.ask, prompt.why) = (ask.into(), why.into());
                if task == PersonTask::Home {
                    prompt.cautions = vec!["The axes move fast and can pinch. Keep hands clear.".into()];
                }
            }
            GuidedStep::Touch { station, number, kind, floor, .. } => {
                let what = match kind {
                    Touched::First => "first approach, fast",
                    Touched::Settle => "settling, not counted",
                    Touched::Fine => "fine",
                };
                prompt.title = format!("{}, touch {number}: {what}", capital(station));
                if number == 1 {
                    prompt.cautions = vec![format!(
                        "Watch the first one with a finger on the power switch. Never go below Z{}.",
                        plain(floor)
                    )];
                }
                prompt.ask =
                    "At which Z did the switch trip? Type it, or paste what the machine printed.".into();
                prompt.why = match kind {
                    Touched::First => {
                        "The height at the instant of the trip, not where the carriage stopped. In a pasted \
                            line the height is found for you."
                    }
                    Touched::Settle => "The first slow touch is not counted: it lets everything settle.",
                    Touched::Fine => "",
                }
                .into();
                prompt.choices = match kind {
                    Touched::First => {
                        "or: floor (no trip), closed (tripped before the start), wrong (the other switch \
                            tripped), failed (the move failed), stop"
                    }
                    _ => "or: floor, closed, wrong, failed, stop",
                }
                .into();
            }
        }
        prompt
    }

    fn verdict(&self, cycle: &GuidedCycle) -> Vec<GuideNote> {
        match (self.machine(), &cycle.outcome) {
            (Ok(machine), Some(outcome)) => {
                let mut notes = verdict(&machine, outcome);
                notes.push(GuideNote::Say(ended(outcome).into()));
                notes
            }
            _ => Vec::new(),
        }
    }

    fn gauge_notes(&self, cycle: &GuidedCycle) -> Vec<GuideNote> {
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
        Ending::LiftedProbeUnknown => "The tool is lifted; the probe's place is unknown: look.",
        Ending::Halted => "Halted with the position unknown: look before anything moves.",
    }
}
