//! A first setup, a cycle and a gauge check, step by step with a person.
//!
//! A session is a list of answers ([`state`]); where it stands follows from them alone. So taking a step back
//! is dropping the newest answer, and a session that was left goes on as if it had not been. [`questions`]
//! holds the setup's questions as data, [`draft`] makes the machine file of the answers, [`guided`] drives
//! the core's own cycle with the person as the machine, [`gauge`] proves it, and the history keeps it.

pub mod draft;
pub mod gauge;
pub mod guided;
pub mod heights;
pub mod invented;
mod keeping;
pub mod questions;
mod reading;
pub mod state;
mod steps;
pub mod terminal;

use std::path::PathBuf;

pub use draft::SetupAnswers;
pub use state::{SessionAnswer, SessionFile, SessionState};
pub use steps::{GuidePrompt, GuideStage};

use crate::files::replace::{create, replace};
use crate::files::{FileText, MachineFile};
use crate::text::Problem;
use crate::text::name::{shown, shown_path};
use guided::{GuidedCycle, GuidedTouch};
use invented::Practice;
use questions::QUESTIONS;

/// Files of a session.
#[derive(Clone, Debug)]
pub struct SessionPaths {
    /// The machine file.
    pub machine: PathBuf,
    /// Where the touches go, if the owner names no other place.
    pub log: PathBuf,
    /// The history; the usual place where none is given.
    pub history: Option<PathBuf>,
}

/// What became of what was typed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum GuideReply {
    /// Taken; what there is to say about it.
    Taken(Vec<String>),
    /// Not taken; why.
    Again(String),
}

/// A session.
#[derive(Clone, Debug)]
pub struct Guide {
    paths: SessionPaths,
    state: SessionState,
    keeper: SessionFile,
}

impl Guide {
    /// Takes a session up, or begins one.
    ///
    /// # Errors
    /// Files that cannot be read, a session whose answers do not fit.
    pub fn open(
        paths: SessionPaths,
        state: &std::path::Path,
        practice: Option<u64>,
    ) -> Result<(Self, bool), Problem> {
        let (keeper, known) = SessionFile::open(state)?;
        let resumed = known.is_some();
        let state = match known {
            Some(state) if practice.is_some() && practice != state.practice => {
                return Err(Problem::new(format!(
                    "{}: this session has another seed, or is not for practice",
                    keeper.name()
                ))
                .remedy("resume it with the option it was started with, or give another file with --state"));
            }
            Some(state) => state,
            None if paths.machine.exists() => {
                let machine = MachineFile::read(&paths.machine)?;
                is_of_its_kind(&machine, practice.is_some())?;
                // A mark would be lost, and with it the proof that the file is what was read.
                let mark = if machine.source.has_bom { crate::files::file_text::BOM } else { "" };
                SessionState::new(practice, Some(format!("{mark}{}", machine.source.text)))
            }
            None => SessionState::new(practice, None),
        };
        let guide = Self { paths, state, keeper };
        guide.check()?;
        Ok((guide, resumed))
    }

    /// Whether every answer still belongs to the step at which it stands.
    fn check(&self) -> Result<(), Problem> {
        let refuse = |number: usize, why: &str| {
            Problem::new(format!("{}: answer {} does not fit: {why}", self.keeper.name(), number + 1))
                .remedy("it was changed by hand; move it away to start again")
        };
        for number in 0..self.state.answers.len() {
            let before = self.state.answers.get(..number).unwrap_or(&[]);
            let place = self.place_after(before).map_err(|why| refuse(number, &why))?;
            let id = place.id();
            match self.state.answers.get(number) {
                Some(answer) if answer.step == id => {}
                _ => return Err(refuse(number, &format!("the step here is {id}"))),
            }
        }
        self.place_after(&self.state.answers)
            .map(|_| ())
            .map_err(|why| refuse(self.state.answers.len(), &why))
    }

    /// What to ask now.
    pub fn prompt(&self) -> GuidePrompt {
        match self.place_after(&self.state.answers) {
            Ok(place) => self.prompt_at(&place),
            // Answers are checked before they are kept.
            Err(why) => GuidePrompt::stuck(&why),
        }
    }

    /// Whether the session is over, and all was accepted.
    pub fn over(&self) -> Option<bool> {
        match self.place_after(&self.state.answers) {
            Ok(GuideStage::Over(good)) => Some(good),
            _ => None,
        }
    }

    /// Whether touches have been made, which belong together.
    pub fn in_cycle(&self) -> bool {
        self.state.answers.iter().any(|answer| answer.step.starts_with("cycle-"))
    }

    /// The log that was written, where one was.
    pub fn log(&self) -> Option<&str> {
        let answer = self.state.answers.iter().find(|answer| answer.step == "save-log");
        answer.map(|answer| answer.text.as_str()).filter(|text| *text != "no")
    }

    /// Whether the cycle was kept in the history.
    pub fn kept(&self) -> bool {
        self.state.answers.iter().any(|answer| answer.step == "keep" && answer.text == "yes")
    }

    /// Seed of the invented machine's cycle, in practice.
    pub fn practice(&self) -> Option<u64> {
        self.state.practice
    }

    /// The state's name.
    pub fn state_name(&self) -> String {
        self.keeper.name()
    }

    /// Saves what is known.
    ///
    /// # Errors
    /// It cannot be written.
    pub fn save(&mut self) -> Result<(), Problem> {
        self.keeper.save(&self.state)
    }

    /// Takes the file of a session that is over away.
    pub fn close(self) {
        self.keeper.remove();
    }

    /// The answers so far, with their steps.
    pub fn answers(&self) -> &[SessionAnswer] {
        &self.state.answers
    }

    /// Takes the newest answer back, or all from the named step on.
    ///
    /// # Errors
    /// There is none.
    pub fn back(&mut self, to: Option<&str>) -> Result<(), String> {
        let keep = match to {
            None => self.state.answers.len().checked_sub(1).ok_or("this is the first step")?,
            Some(id) => {
                self.state.answers.iter().rposition(|answer| answer.step == id).ok_or_else(|| {
                    format!("there is no answer `{}` yet; show lists the answers", shown(id))
                })?
            }
        };
        for answer in self.state.answers.drain(keep..) {
            self.state.earlier.insert(answer.step, answer.text);
        }
        if !self.state.found && !self.state.answers.iter().any(|answer| answer.step == "save-machine") {
            self.state.machine = None;
        }
        Ok(())
    }

    /// Begins the cycle anew, without its touches.
    ///
    /// # Errors
    /// No cycle has begun.
    pub fn again(&mut self) -> Result<(), String> {
        let is_cycle = |answer: &SessionAnswer| answer.step.starts_with("cycle-");
        let keep = self.state.answers.iter().position(is_cycle).ok_or("no cycle has begun")?;
        self.state.answers.truncate(keep);
        Ok(())
    }

    /// Takes what was typed.
    ///
    /// # Errors
    /// A file cannot be written: nothing has changed.
    pub fn take(&mut self, text: &str) -> Result<GuideReply, Problem> {
        let place = match self.place_after(&self.state.answers) {
            Ok(place) => place,
            Err(why) => return Ok(GuideReply::Again(why)),
        };
        let prompt = self.prompt_at(&place);
        let typed = text.trim();
        let text = match (typed.is_empty(), &prompt.default) {
            (false, _) => typed.to_owned(),
            (true, Some(default)) => default.clone(),
            (true, None) => return Ok(GuideReply::Again("there is no default here: type an answer".into())),
        };
        let (text, mut said) = match self.read_at(&place, &text) {
            Ok(read) => read,
            Err(why) => return Ok(GuideReply::Again(why)),
        };
        match &place {
            GuideStage::SaveMachine(_) if text == "yes" => {
                let file = self.rendered()?;
                if let Err(why) = self.write(&self.paths.machine.clone(), None, &file)? {
                    return Ok(GuideReply::Again(why));
                }
                self.state.machine = Some(file);
            }
            GuideStage::SaveLog(cycle) if text != "no" => {
                let log = self.log_text(cycle)?;
                let path = self.beside(&text);
                if let Err(why) = self.write(&path, None, &log)? {
                    return Ok(GuideReply::Again(why));
                }
            }
            GuideStage::SaveTrim(_, weighed) if text == "yes" => {
                let after = match self.machine().and_then(|machine| gauge::written(&machine, weighed)) {
                    Ok(after) => after,
                    Err(problem) => return Ok(GuideReply::Again(problem.title)),
                };
                let before = self.state.machine.clone();
                if let Err(why) = self.write(&self.paths.machine.clone(), before.as_deref(), &after)? {
                    return Ok(GuideReply::Again(why));
                }
            }
            GuideStage::Keep(ended) if text == "yes" => match self.keep(ended) {
                Ok(told) => said.extend(told),
                Err(problem) => return Ok(GuideReply::Again(in_one(problem))),
            },
            GuideStage::Refused(_) if text == "again" => {
                return Ok(match self.again() {
                    Ok(()) => GuideReply::Taken(vec!["The cycle restarts.".into()]),
                    Err(why) => GuideReply::Again(why),
                });
            }
            _ => {}
        }
        self.state.answers.push(SessionAnswer { step: place.id(), text });
        Ok(match self.place_after(&self.state.answers) {
            Ok(_) => GuideReply::Taken(said),
            Err(why) => {
                self.state.answers.pop();
                GuideReply::Again(why)
            }
        })
    }

    /// Writes a file of the session's: one that is there is written over only where it is `before`, or the
    /// session's own. What is meant is saved first, so that a crash in between leaves no file that the
    /// session does not know.
    fn write(
        &mut self,
        path: &std::path::Path,
        before: Option<&str>,
        text: &str,
    ) -> Result<Result<(), String>, Problem> {
        if !self.state.own.iter().any(|own| own == text) {
            self.state.own.push(text.to_owned());
            self.save()?;
        }
        let there = match std::fs::symlink_metadata(path) {
            Err(_) => None,
            Ok(_) => match std::fs::read_to_string(path) {
                Ok(there) => Some(there),
                Err(error) => {
                    return Ok(Err(format!("{}: cannot be read: {error}", shown_path(path))));
                }
            },
        };
        let done = match there {
            Some(there) if there == text => Ok(()),
            Some(there) if before == Some(there.as_str()) || self.state.own.contains(&there) => {
                replace(path, &there, text)
            }
            Some(_) if before.is_some() => {
                return Ok(Err(format!(
                    "{}: was changed by something else since this session read it; nothing was written. \
                        Type no, and use zdatum trim",
                    shown_path(path)
                )));
            }
            Some(_) => {
                return Ok(Err(format!(
                    "{}: already exists and was not written by this session; nothing was written. Move it \
                        away, or give another name",
                    shown_path(path)
                )));
            }
            None => create(path, text),
        };
        Ok(done.map_err(in_one))
    }

    /// The setup's answers among those given.
    fn setup_answers(answers: &[SessionAnswer]) -> Vec<(&'static str, String)> {
        let of = |answer: &SessionAnswer| {
            questions::named(&answer.step).map(|question| (question.id, answer.text.clone()))
        };
        answers.iter().filter_map(of).collect()
    }

    fn rendered(&self) -> Result<String, Problem> {
        let given = Self::setup_answers(&self.state.answers);
        draft::render(SetupAnswers { given: &given }, self.state.practice.is_some())
            .map_err(|error| Problem::new(format!("the heights together: {error}")))
    }

    /// The machine as the cycle uses it.
    fn machine(&self) -> Result<MachineFile, Problem> {
        let text = match &self.state.machine {
            Some(text) => text.clone(),
            None => self.rendered()?,
        };
        MachineFile::of(FileText::of(&self.paths.machine.to_string_lossy(), &text))
    }

    fn cycle(&self, answers: &[SessionAnswer]) -> Result<GuidedCycle, String> {
        let machine = self.machine().map_err(|problem| problem.title)?;
        let texts: Vec<&str> = answers.iter().map(|answer| answer.text.as_str()).collect();
        let plate = self.state.answers.iter().find(|answer| answer.step == "plate");
        let practice = self.state.practice.map(|seed| Practice {
            seed,
            noise: &machine.noise,
            plate: plate.map_or("", |answer| &answer.text),
            checks: &machine.counted,
        });
        guided::drive(&machine.setup, practice, &texts)
    }

    /// A file that the owner named, beside the machine file unless it says where.
    fn beside(&self, name: &str) -> PathBuf {
        let name = PathBuf::from(name);
        match self.paths.machine.parent() {
            Some(folder) if name.components().count() == 1 && name.is_relative() => folder.join(name),
            _ => name,
        }
    }

    /// How many steps the setup has.
    fn setup_steps() -> usize {
        QUESTIONS.len()
    }
}

/// A problem with its remedy in one sentence and another.
fn in_one(problem: Problem) -> String {
    match problem.remedy {
        Some(remedy) => format!("{}. To do: {remedy}", problem.title),
        None => problem.title,
    }
}

/// Refuses to let an invented machine's checks into a real machine's file, and to move a real machine by an
/// invented one's.
fn is_of_its_kind(machine: &MachineFile, practice: bool) -> Result<(), Problem> {
    let name = &machine.source.name;
    match (machine.source.text.starts_with(draft::PRACTICE), practice) {
        (false, true) => {
            Err(Problem::new(format!("{name}: is a real machine's file, and practice would write to it"))
                .remedy("give practice its own file, such as practice.toml"))
        }
        (true, false) => {
            Err(Problem::new(format!("{name}: is an invented machine's file, made for practice"))
                .remedy("add --practice, or give another name for your own machine"))
        }
        _ => Ok(()),
    }
}
