//! How an answer is read at its step, and what is said about it.

use zdatum::cycle::Event;
use zdatum::{Series, Station};

use super::guided::{GuidedCycle, GuidedStep, GuidedTouch, Touched, read};
use super::questions::{QUESTIONS, SetupQuestion};
use super::steps::GuideStage;
use super::{Guide, SessionAnswer, SetupAnswers, draft, gauge, heights, keeping};
use crate::files::MachineFile;
use crate::text::number::{plain, signed, signed_wide, uncertainty};

impl Guide {
    /// Reads what was typed at a step: what is kept, and what there is to say.
    ///
    /// # Errors
    /// Why it is no answer.
    pub(super) fn read_at(&self, place: &GuideStage, text: &str) -> Result<(String, Vec<String>), String> {
        let word = text.trim().to_lowercase();
        let choose = |words: &[&str]| match words.iter().find(|known| **known == word) {
            Some(known) => Ok(((*known).to_owned(), Vec::new())),
            None => Err(format!("type {}", words.join(" or "))),
        };
        match place {
            GuideStage::Caution | GuideStage::SaveMachine(_) => {
                choose(&["yes"]).map_err(|why| format!("{why} to continue; back and quit also work"))
            }
            GuideStage::SaveTrim(..) | GuideStage::Keep(_) => choose(&["yes", "no"]),
            GuideStage::Refused(_) => choose(&["again", "end"]),
            GuideStage::Disagrees(_) => choose(&["end"]).map_err(|_| "type back, or end".into()),
            GuideStage::GaugeReady(_) => choose(&["done", "later"]),
            GuideStage::Setup(number) => self.read_setup(*number, text),
            GuideStage::SaveLog(_) => match text {
                "no" => Ok((text.to_owned(), Vec::new())),
                // A slip, such as the answer to another question, makes no file.
                _ if !text.ends_with(".csv") => {
                    Err("type a file name that ends in .csv, press Enter for the default, or type no".into())
                }
                _ if text.chars().any(char::is_control) => {
                    Err("the name contains a control character".into())
                }
                _ => Ok((text.to_owned(), Vec::new())),
            },
            GuideStage::Plate => keeping::plate(text).map(|plate| (plate, Vec::new())),
            GuideStage::Cycle(cycle) => self.read_touch(cycle, text),
            GuideStage::Gauge(_) => {
                gauge::thickness(text).map(|gauge| (gauge.text().to_string(), Vec::new()))
            }
            GuideStage::Felt(..) => {
                heights::height(text, None).map(|felt| (felt.text().to_string(), Vec::new()))
            }
            GuideStage::Over(_) => Err("the session is over".into()),
        }
    }

    fn read_setup(&self, number: usize, text: &str) -> Result<(String, Vec<String>), String> {
        let question: &SetupQuestion = QUESTIONS.get(number).ok_or("no such question")?;
        let read = question.read(text)?;
        let mut given = Self::setup_answers(&self.state.answers);
        given.push((question.id, read.clone()));
        let answers = SetupAnswers { given: &given };
        if let Some(fault) = draft::fault(answers) {
            return Err(fault);
        }
        let said = match question.id {
            "tolerance" => {
                vec![format!("Its standard uncertainty is {} mm.", uncertainty(answers.trip_depth_u()))]
            }
            _ => Vec::new(),
        };
        Ok((read, said))
    }

    fn read_touch(&self, cycle: &GuidedCycle, text: &str) -> Result<(String, Vec<String>), String> {
        let asked = cycle.asked.ok_or("the cycle is over")?;
        let word = text.trim().to_lowercase();
        if word == "stop" {
            return Ok((word, Vec::new()));
        }
        let event = read(&asked, text)?;
        let kept = match event {
            Event::Tripped { z, .. } => z.text().to_string(),
            _ => return Ok((word, Vec::new())),
        };
        let machine = self.machine().map_err(|problem| problem.title)?;
        let begin = self.state.answers.len().saturating_sub(cycle.used);
        let mut answers = self.state.answers.get(begin..).unwrap_or(&[]).to_vec();
        answers.push(SessionAnswer { step: String::new(), text: kept.clone() });
        let after = self.cycle(&answers)?;
        Ok((kept, progress(&machine, cycle, &after)))
    }
}

/// What a touch has changed.
fn progress(machine: &MachineFile, before: &GuidedCycle, after: &GuidedCycle) -> Vec<String> {
    let Some(newest) = after.touches.last() else { return Vec::new() };
    let counted = |touches: &[GuidedTouch], station: Station| -> Series<64> {
        let mut series = Series::new();
        for touch in touches.iter().filter(|touch| touch.station == station && touch.counted) {
            // As many as a series holds are made at most.
            let _ = series.push(touch.z);
        }
        series
    };
    if newest.kind != Touched::Fine {
        return Vec::new();
    }
    let touch = &machine.setup.draft().touch;
    let (old, new) = (counted(&before.touches, newest.station), counted(&after.touches, newest.station));
    let spread = new.spread().map_or_else(|_| "-".into(), plain);
    let mut said = Vec::new();
    if new.len() <= old.len() {
        said.push(format!(
            "{} is outside the band of {} with those before it: {} counted now. The count restarts; one \
                wild touch does no \
             harm.",
            signed(newest.z),
            plain(touch.band),
            new.len()
        ));
    } else {
        said.push(format!(
            "{} of {} agree, spread {} (band {}).",
            new.len(),
            touch.least,
            spread,
            plain(touch.band)
        ));
    }
    let goes_on = matches!(after.asked, Some(GuidedStep::Touch { station, .. }) if station == newest.station);
    let stopped = after.outcome.as_ref().is_some_and(|outcome| !outcome.refusals().is_empty());
    if goes_on || stopped || new.len() < usize::from(touch.least) {
        return said;
    }
    let centre = |station: Station| counted(&after.touches, station).centre(touch.centre).ok().flatten();
    if let Some(height) = centre(newest.station) {
        said.push(format!("Height of the {}: {}.", newest.station.word(), signed_wide(height)));
    }
    if let (Station::Shoulder, Some(tip), Some(shoulder)) =
        (newest.station, centre(Station::Tip), centre(Station::Shoulder))
    {
        let drop = shoulder.round().and_then(|shoulder| shoulder.minus(tip.round()?));
        if let Ok(drop) = drop {
            let expected = machine.setup.draft().probe.drop;
            said.push(format!(
                "Drop {}, expected {} to {}.",
                signed(drop),
                plain(expected.low),
                plain(expected.high)
            ));
        }
    }
    said
}
