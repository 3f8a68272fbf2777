//! From answers to a machine file: what follows from what, checked by the core as it grows.

use zdatum::setup::Fault;
use zdatum::{Length, OutOfRange, Setup, Uncertainty};

use super::questions::named;
use crate::files::{FileText, MachineFile, TEMPLATE};
use crate::text::number::plain;
use crate::text::written::Written;

/// How the file of an invented machine begins.
pub const PRACTICE: &str = "# PRACTICE: an invented machine.";

/// Answers so far, each with its question's name.
#[derive(Clone, Copy, Debug)]
pub struct SetupAnswers<'a> {
    /// In the questions' order; the rest is open.
    pub given: &'a [(&'static str, String)],
}

impl SetupAnswers<'_> {
    /// Whether a question has been answered.
    pub fn has(&self, id: &str) -> bool {
        self.given.iter().any(|(known, _)| *known == id)
    }

    /// The numbers of an answer, or the open question's stand-in.
    fn words(&self, id: &str) -> Vec<&str> {
        let text = match self.given.iter().find(|(known, _)| *known == id) {
            Some((_, text)) => text.as_str(),
            None => named(id).map_or("", |question| question.open),
        };
        text.split_whitespace().collect()
    }

    fn word(&self, id: &str, index: usize) -> &str {
        self.words(id).get(index).copied().unwrap_or("0")
    }

    fn length(&self, id: &str, index: usize) -> Result<Length, OutOfRange> {
        let beyond = OutOfRange { quantity: zdatum::units::Quantity::Length };
        Length::read(self.word(id, index)).map_err(|_| beyond)
    }

    fn tip(&self) -> Result<Length, OutOfRange> {
        self.length("tip-height", 0)
    }

    /// How far the shoulder was seen to hang below the tip.
    fn drop(&self) -> Result<Length, OutOfRange> {
        if self.has("shoulder-height") {
            self.length("shoulder-height", 0)?.minus(self.tip()?)
        } else {
            Ok(Length::from_mm(1_000))
        }
    }

    /// How far the plate was seen to stand above the datum switch.
    fn rise(&self) -> Result<Length, OutOfRange> {
        if self.has("plate-height") {
            self.length("plate-height", 0)?.minus(self.tip()?)
        } else {
            Ok(Length::ZERO)
        }
    }

    /// u = a/√3 (JCGM 100:2008, 4.3.7).
    pub fn trip_depth_u(&self) -> Uncertainty {
        let half = Uncertainty::read(self.word("tolerance", 0)).unwrap_or_default();
        let u = half.third_of_square().map(|variance| variance.root()).unwrap_or_default();
        // Before the question is answered, so that no other answer is at fault for it.
        u.max(Uncertainty::LEAST)
    }
}

/// A default that follows from other answers.
pub fn computed(id: &str, answers: SetupAnswers<'_>) -> Option<String> {
    let text = |length: Length| plain(length).trim_end_matches('0').trim_end_matches('.').to_owned();
    match id {
        "trip-depth" => {
            let depth =
                answers.length("free-height", 0).ok()?.minus(answers.length("pretravel", 0).ok()?).ok()?;
            (depth > Length::ZERO).then(|| text(depth))
        }
        "plate-at" => {
            let middle = |index: usize| -> Option<Length> {
                let of = |id: &str| answers.length(id, index).ok();
                let half = Length::from_bits(i64::from(of("plate-size")?.to_bits()) / 2).ok()?;
                let tip_there = of("plate-corner")?.plus(half).ok()?;
                tip_there.plus(of("shoulder-at")?).ok()?.minus(of("tip-at")?).ok()
            };
            // Half a bit of a length is 8 nm; no carriage is placed by it.
            Some(format!("{} {}", text(middle(0)?), text(middle(1)?)))
        }
        _ => None,
    }
}

/// What is wrong with the newest answer as the core sees it; `None` while nothing is.
pub fn fault(answers: SetupAnswers<'_>) -> Option<String> {
    let beyond = |error: OutOfRange| Some(format!("the heights together: {error}"));
    let text = match render(answers, false) {
        Ok(text) => text,
        Err(error) => return beyond(error),
    };
    let size = ["plate-size"].into_iter().filter(|id| answers.has(id));
    for (id, index) in size.flat_map(|id| [(id, 0), (id, 1)]) {
        if answers.length(id, index).is_ok_and(|length| length <= Length::ZERO) {
            return Some("a plate's size must be above zero".into());
        }
    }
    if answers.has("pretravel") && answers.length("pretravel", 0).is_ok_and(|length| length < Length::ZERO) {
        return Some("the pretravel must not be below zero".into());
    }
    let varies = ["tip-varies", "drop-varies", "plates-vary"];
    if varies.iter().any(|id| answers.has(id) && answers.length(id, 0).is_ok_and(|x| x < Length::ZERO)) {
        return Some("a variation must not be below zero".into());
    }
    let (problem, bad) = MachineFile::checked(FileText::of("the answers", &text)).err()?;
    if bad.is_some_and(|bad| floors_are_open(answers, bad.fault)) {
        return None;
    }
    let seen = problem.place.as_ref().map(|place| place.label.clone()).filter(|label| label.contains("mm"));
    let seen = seen.map_or_else(String::new, |label| format!(" ({label})"));
    let remedy = problem.remedy.as_ref().map_or_else(String::new, |remedy| format!(". To do: {remedy}"));
    let back = bad.and_then(|bad| question_of(bad.key.text()));
    let back = back.map_or_else(String::new, |id| format!(". Its question: back {id}"));
    Some(format!("{}{seen}{remedy}{back}", problem.title))
}

/// Whether the fault is one of the floors, while answers that they are made of are still open.
fn floors_are_open(answers: SetupAnswers<'_>, fault: Fault) -> bool {
    let needs: &[&str] = match fault {
        Fault::TipOverpress => &["overtravel"],
        Fault::ShoulderOverpress => &["drop-varies"],
        Fault::ShoulderLow | Fault::PlateLow | Fault::BeyondReach | Fault::CannotHold => &["plates-vary"],
        _ => &[],
    };
    needs.iter().any(|id| !answers.has(id))
}

/// The machine file: the template with the answers in it. `practice` labels it as invented.
///
/// # Errors
/// *Out of range* where a sum of answers is.
pub fn render(answers: SetupAnswers<'_>, practice: bool) -> Result<String, OutOfRange> {
    let number = |text: &str| if text.contains('.') { text.to_owned() } else { format!("{text}.0") };
    let list = |id: &str| -> String {
        let words: Vec<String> = answers.words(id).into_iter().map(number).collect();
        format!("[{}]", words.join(", "))
    };
    let one = |id: &str, index: usize| number(answers.word(id, index));
    // To 0.1 µm: sums of binary lengths would show their last bit.
    let mm = |length: Length| number(plain(length).trim_end_matches('0').trim_end_matches('.'));
    let around = |middle: Length, id: &str| -> Result<(Length, Length), OutOfRange> {
        let varies = answers.length(id, 0)?;
        Ok((middle.minus(varies)?, middle.plus(varies)?))
    };
    let at = |id: &str| if answers.has(id) { list(id) } else { corner(answers, &number) };

    let tip = around(answers.tip()?, "tip-varies")?;
    let drop = around(answers.drop()?, "drop-varies")?;
    let rise = around(answers.rise()?, "plates-vary")?;
    // A landing is T + r; the window is guarded by U, which before the first gauge check is a little above
    // the tolerance.
    let doubt = answers.length("tolerance", 0)?;
    let guard = doubt.plus(doubt)?.plus(Length::read("0.05").unwrap_or_default())?;
    let lowest = tip.0.plus(rise.0)?.minus(guard)?;
    let highest = tip.1.plus(rise.1)?.plus(guard)?;
    let range = |low: Length, high: Length| format!("[{}, {}]", mm(low), mm(high));

    let values = [
        ("travel.x", list("travel-x")),
        ("travel.y", list("travel-y")),
        ("travel.z", list("travel-z")),
        ("travel.steps", format!("[{}, {}]", answers.word("steps", 0), answers.word("steps", 1))),
        ("stations.tip", at("tip-at")),
        ("stations.shoulder", at("shoulder-at")),
        ("stations.plate", at("plate-at")),
        ("datum_switch.tip_height", range(tip.0, tip.1)),
        ("datum_switch.overtravel", one("overtravel", 0)),
        ("probe.trip_depth", one("trip-depth", 0)),
        ("probe.trip_depth_u", number(&answers.trip_depth_u().text())),
        ("probe.drop", range(drop.0, drop.1)),
        ("probe.free_height", one("free-height", 0)),
        ("plates.rise", range(rise.0, rise.1)),
        ("plates.margin", one("margin", 0)),
        ("touch.first_speed", one("speeds", 0)),
        ("touch.fine_speed", one("speeds", 1)),
        ("touch.lift", one("lift", 0)),
        ("touch.least", answers.word("touches", 0).into()),
        ("touch.most", answers.word("touches", 1).into()),
        ("touch.band", one("band", 0)),
        ("growth.touch_c", one("heat", 0)),
        ("growth.print_c", one("heat", 1)),
        ("accept.landing", range(lowest, highest)),
    ];
    let label = if practice { format!("{PRACTICE} No such machine exists.\n") } else { String::new() };
    Ok(format!("{label}{}", filled(&values)))
}

/// The template with these values in place of its examples; its comments stay.
fn filled(values: &[(&str, String)]) -> String {
    let mut out = String::from(
        "# A machine file, written by `zdatum guide` from its owner's answers. `zdatum setup FILE` explains it.\n",
    );
    let mut section = String::new();
    // Its first line says that every value is an example.
    for line in TEMPLATE.lines().skip(1) {
        if line.starts_with('[') {
            section = line.trim_matches(['[', ']']).to_owned();
        }
        let value = line.split_once(" = ").and_then(|(key, rest)| {
            let named = format!("{section}.{key}");
            let (_, value) = values.iter().find(|(known, _)| *known == named)?;
            let entry = format!("{key} = {value}");
            Some(match rest.split_once('#') {
                Some((_, comment)) => format!("{entry:<27} #{comment}"),
                None => entry,
            })
        });
        out.push_str(value.as_deref().unwrap_or(line));
        out.push('\n');
    }
    out
}

/// A place that is in reach, for a station still open.
fn corner(answers: SetupAnswers<'_>, number: &impl Fn(&str) -> String) -> String {
    format!("[{}, {}]", number(answers.word("travel-x", 0)), number(answers.word("travel-y", 0)))
}

/// The question that a key of the machine file is answered by, for the way back.
pub fn question_of(key: &str) -> Option<&'static str> {
    Some(match key {
        "travel.x" => "travel-x",
        "travel.y" => "travel-y",
        "travel.z" => "travel-z",
        "travel.steps" => "steps",
        "stations.tip" => "tip-at",
        "stations.shoulder" => "shoulder-at",
        "stations.plate" => "plate-at",
        "datum_switch.tip_height" => "tip-varies",
        "datum_switch.overtravel" => "overtravel",
        "probe.trip_depth" => "trip-depth",
        "probe.trip_depth_u" => "tolerance",
        "probe.drop" => "drop-varies",
        "probe.free_height" => "free-height",
        "plates.rise" => "plates-vary",
        "plates.margin" => "margin",
        "touch.first_speed" | "touch.fine_speed" => "speeds",
        "touch.lift" => "lift",
        "touch.least" | "touch.most" => "touches",
        "touch.band" => "band",
        _ => return None,
    })
}

/// A checked setup from text that the core has accepted before.
pub(super) fn setup(text: &str) -> Option<Setup> {
    MachineFile::of(FileText::of("the answers", text)).ok().map(|machine| machine.setup)
}

#[cfg(test)]
mod tests {
    use super::super::questions::QUESTIONS;
    use super::*;

    fn practice() -> Vec<(&'static str, String)> {
        let mut given = Vec::new();
        for question in QUESTIONS {
            let text = computed(question.id, SetupAnswers { given: &given })
                .unwrap_or_else(|| question.practice.into());
            given.push((question.id, question.read(&text).expect(question.id)));
            assert_eq!(fault(SetupAnswers { given: &given }), None, "{}", question.id);
        }
        given
    }

    fn changed(id: &str, text: &str) -> Option<String> {
        let given: Vec<_> = practice()
            .into_iter()
            .map(|(known, old)| if known == id { (known, text.to_owned()) } else { (known, old) })
            .collect();
        fault(SetupAnswers { given: &given })
    }

    #[test]
    fn the_invented_machine_is_sound_at_every_question() {
        let given = practice();
        let answers = SetupAnswers { given: &given };
        let setup = setup(&render(answers, true).expect("in range")).expect("sound");
        let draft = setup.draft();
        let mm = |text| Length::read(text).expect("a length");
        assert_eq!(draft.probe.trip_depth, mm("1.10").minus(mm("0.46")).expect("in range"));
        // a/√3 = 0.0577350…
        assert!((draft.probe.trip_depth_u.to_f64() - 0.1 / 3.0_f64.sqrt()).abs() < 1e-7);
        assert_eq!(draft.probe.trimmed_at_speed, zdatum::Speed::ZERO);
        // The middle (115, 110), the plunger 24.5 beside the tip: shoulder less tip position is (0, −24.5).
        assert_eq!((draft.stations.plate.x, draft.stations.plate.y), (mm("115"), mm("85.5")));
        assert!((draft.probe.drop.low.to_f64() - 6.35).abs() < 1e-4);
    }

    #[test]
    fn every_answer_replaces_an_example_of_the_template() {
        let given = practice();
        let text = render(SetupAnswers { given: &given }, false).expect("in range");
        assert_eq!(text.lines().count(), TEMPLATE.lines().count());
        for line in [
            "x = [0.0, 236.0]",
            "print_c = 215.0",
            "least = 5                   # touches that must agree ...",
        ] {
            assert!(text.lines().any(|one| one == line), "{line}: {text}");
        }
    }

    #[test]
    fn faults_are_the_cores_own_with_key_and_remedy() {
        for (id, text, key, remedy) in [
            ("travel-x", "230 0", "travel.x", "lowest first"),
            ("steps", "0 1", "travel.steps", "whole numbers"),
            ("speeds", "2 6", "touch.fine_speed", "lower touch.fine_speed"),
            ("tip-at", "999 0", "stations.tip", "reach in [travel]"),
            ("overtravel", "0.3", "datum_switch.overtravel", "more overtravel"),
            ("trip-depth", "2", "probe.trip_depth", "free_height"),
            ("plates-vary", "4", "", ""),
            ("touches", "9 5", "touch.least", "lower touch.least"),
            ("touches", "1 5", "touch.least", "2 or more"),
            ("plate-size", "0 1", "size", "above zero"),
            ("drop-varies", "-1", "below zero", ""),
        ] {
            let error = changed(id, text).expect(id);
            assert!(error.contains(key) && error.contains(remedy), "{id}: {error}");
        }
    }

    #[test]
    fn every_key_at_fault_has_a_way_back() {
        for key in zdatum::setup::Key::ALL {
            let fixed = [
                "touch.stop",
                "touch.settle",
                "touch.target_u",
                "soak.left",
                "unseen.u",
                "growth",
                "pooled",
                "accept",
            ];
            let asked = question_of(key.text());
            assert!(
                asked.is_some() != fixed.iter().any(|part| key.text().starts_with(part)),
                "{}",
                key.text()
            );
            assert!(asked.is_none_or(|id| named(id).is_some()));
        }
    }
}
