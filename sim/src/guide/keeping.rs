//! The end of a session: the cycle goes into the history, by the machine file as it is now.

use super::gauge::{self, Weighed};
use super::guided::{GuideNote, GuidedCycle};
use super::steps::{GuidePrompt, GuideStage};
use super::{Guide, SessionAnswer, draft};
use crate::files::log::Column;
use crate::files::{FileText, MachineFile};
use crate::history::keep::{Fate, Given, KeepFailed, keep};
use crate::history::touches::{NamedTouches, TouchCells, csv, cycle_of};
use crate::history::{History, HistoryEvent, Moment, What, Writing, name, place};
use crate::judged::{Judged, judge_one};
use crate::show::land::words as in_words;
use crate::text::Problem;
use crate::text::name::shown_path;
use crate::text::number::{signed, uncertainty};

/// A log takes each name once, and holds one cycle.
const RUN: &str = "1";

/// A cycle that may be kept.
#[derive(Clone, Debug)]
pub struct FinishedCycle {
    cycle: GuidedCycle,
    /// The trim that was written, where one was.
    weighed: Option<Weighed>,
    judged: Box<Judged>,
    /// Whether it may be applied.
    good: bool,
}

/// A plate's name as it was typed; `no` names none.
///
/// # Errors
/// It is no name.
pub(super) fn plate(text: &str) -> Result<String, String> {
    if text == "no" { Ok(text.to_owned()) } else { name(text) }
}

impl Guide {
    /// The cycle's touches, and the plate that they were taken on.
    pub(super) fn named(&self, cycle: &GuidedCycle) -> NamedTouches {
        let touch = |touch: &super::GuidedTouch| {
            let mut kept = TouchCells::bare(touch.station, &touch.z.text().to_string());
            kept.set(Column::Kind, touch.kind.word());
            kept.set(Column::Counted, if touch.counted { "yes" } else { "no" });
            kept.set(Column::Speed, &touch.speed.text().to_string());
            kept
        };
        let answer = self.state.answers.iter().find(|answer| answer.step == "plate");
        let plate = answer.map(|answer| answer.text.clone()).filter(|text| text != "no");
        NamedTouches { run: RUN.into(), plate, touches: cycle.touches.iter().map(touch).collect() }
    }

    /// The cycle as a touch log.
    ///
    /// # Errors
    /// As of [`csv`].
    pub(super) fn log_text(&self, cycle: &GuidedCycle) -> Result<String, Problem> {
        let mut text = String::from("# Touches recorded by `zdatum guide`.\n");
        if self.state.practice.is_some() {
            text.push_str("# PRACTICE: touches of an invented machine.\n");
        }
        Ok(text + &csv(&[self.named(cycle)])?)
    }

    /// Asks whether to keep a cycle that is over; one that no landing could come of has no place in a
    /// history.
    pub(super) fn ended(
        &self,
        cycle: GuidedCycle,
        weighed: Option<Weighed>,
        good: bool,
        answers: &[SessionAnswer],
    ) -> GuideStage {
        let judged = if answers.is_empty() { self.judged(&cycle, weighed.as_ref()) } else { None };
        match judged {
            Some(judged) => {
                GuideStage::Keep(FinishedCycle { cycle, weighed, judged: Box::new(judged), good })
            }
            None => GuideStage::Over(good),
        }
    }

    /// By the machine file as it is now.
    fn judged(&self, cycle: &GuidedCycle, weighed: Option<&Weighed>) -> Option<Judged> {
        let machine = self.machine_now(weighed).ok()?;
        let (_, cycle) = cycle_of(&self.named(cycle), "touches").ok()?;
        judge_one(&machine, cycle, None).ok()
    }

    fn machine_now(&self, weighed: Option<&Weighed>) -> Result<MachineFile, Problem> {
        let machine = self.machine()?;
        let Some(weighed) = weighed else { return Ok(machine) };
        MachineFile::of(FileText::of(
            &self.paths.machine.to_string_lossy(),
            &gauge::written(&machine, weighed)?,
        ))
    }

    pub(super) fn keep_prompt(&self, ended: &FinishedCycle) -> GuidePrompt {
        let accepted = ended.judged.assessment.accepted();
        let file = self.history_name().unwrap_or_else(|problem| problem.title);
        let now = if ended.weighed.is_some() { "With the new trip depth: " } else { "" };
        let (why, default) = match (accepted, ended.good) {
            (true, true) => (
                "The next cycle on this plate is then compared with it, and zdatum plates and zdatum watch \
                    learn from it.",
                "yes",
            ),
            (true, false) => ("The gauge disagrees with it; if kept, it still counts.", "no"),
            (false, _) => (
                "It would be kept as refused. After a gauge check, zdatum land LOG --keep judges it again \
                    and keeps that.",
                "no",
            ),
        };
        GuidePrompt {
            title: "The history".into(),
            notes: vec![GuideNote::Say(format!("{now}{}.", said(&ended.judged)))],
            ask: format!("Keep the cycle in {file}?"),
            why: why.into(),
            choices: "yes, no".into(),
            default: Some(default.into()),
            ..GuidePrompt::default()
        }
    }

    /// The history's name as shown.
    ///
    /// # Errors
    /// None is chosen and there is no usual place.
    fn history_name(&self) -> Result<String, Problem> {
        place(self.paths.history.as_deref()).map(|path| shown_path(&path))
    }

    /// Keeps the cycle, and before it the trim. Kept once: a crash between this and the answer does not
    /// double it.
    ///
    /// # Errors
    /// The history cannot be written, or is another kind of machine's.
    pub(super) fn keep(&self, ended: &FinishedCycle) -> Result<Vec<String>, Problem> {
        let machine = self.machine_now(ended.weighed.as_ref())?;
        let named = self.named(&ended.cycle);
        let (_, cycle) = cycle_of(&named, "touches")?;
        let mut history = History::begin(self.paths.history.as_deref())?;
        let file = history.name();
        let writing = history.write(Moment::now())?;
        self.is_of_its_kind(&writing, &file)?;
        if let Some(weighed) = &ended.weighed {
            let event = HistoryEvent::trim(&weighed.known, &weighed.trimmed.depth, false);
            let entries = writing.reader().entries(false)?;
            let is_there = |what: &What| matches!(what, What::Event(known) if *known == event);
            if !entries.iter().any(|entry| is_there(&entry.what)) {
                writing.enter(&writing.stamp()?.0, &event)?;
            }
        }
        let given = Given {
            machine: &machine,
            cycles: vec![cycle],
            touches: vec![named.touches],
            last: None,
            nozzle: None,
            again: false,
        };
        let kept = keep(&writing, given).map_err(|failed| match failed {
            KeepFailed::Problem(problem) => problem,
            KeepFailed::Malformed(_) => Problem::new("the cycle has too few touches"),
        })?;
        writing.commit()?;
        let mut told: Vec<String> =
            kept.judged.iter().zip(&kept.fates).map(|(judged, fate)| became(judged, fate, &file)).collect();
        told.extend(kept.notes.iter().map(|note| format!("Note: {note}.")));
        Ok(told)
    }

    /// Refuses to let an invented machine's cycles among a real one's, and a real one's among them.
    fn is_of_its_kind(&self, writing: &Writing<'_>, file: &str) -> Result<(), Problem> {
        let Some((_, digest)) = writing.reader().newest_setup()? else { return Ok(()) };
        let invented = writing.reader().setup(&digest)?.starts_with(draft::PRACTICE);
        if invented == self.state.practice.is_some() {
            return Ok(());
        }
        let (theirs, ours) = if invented { ("an invented", "a real") } else { ("a real", "an invented") };
        Err(Problem::new(format!("{file}: holds cycles of {theirs} machine, but this is {ours} one"))
            .remedy("type no, or resume the session with another --history"))
    }
}

fn said(judged: &Judged) -> String {
    let accepted = judged.assessment.accepted();
    let verdict = if accepted { "accept" } else { "refuse" };
    let landing = judged.seen().map_or_else(String::new, |landing| {
        let seen = if accepted { "landing" } else { "landing seen" };
        let expanded = judged
            .uncertainty()
            .map_or_else(String::new, |found| format!(", U {} mm", uncertainty(found.expanded)));
        format!(", {seen} {} mm{expanded}", signed(landing.height))
    });
    let reasons: Vec<_> = judged.refusals().iter().map(|refusal| in_words(refusal.kind)).collect();
    let reasons = if reasons.is_empty() { String::new() } else { format!(" ({})", reasons.join(", ")) };
    format!("{verdict}{reasons}{landing}")
}

/// What became of the cycle.
fn became(judged: &Judged, fate: &Fate, file: &str) -> String {
    let against = fate
        .held_against
        .map_or_else(String::new, |number| format!("; its span was compared with that of entry {number}"));
    match (fate.number, &fate.known) {
        (Some(number), Some(_)) => format!("Already kept: it is entry {number} of {file}."),
        (Some(number), None) => format!("Kept as entry {number} of {file}: {}{against}.", said(judged)),
        (None, _) => String::new(),
    }
}
