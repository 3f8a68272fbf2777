//! The questions of a first setup, as data: what is asked, why, how it is read, and what is taken where nothing is typed.

use zdatum::{Length, Speed, Temperature, Uncertainty};

use crate::text::name::cut;
use crate::text::written::Written;

/// How an answer is read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// So many lengths in mm.
    Lengths(usize),
    /// So many speeds in mm/s.
    Speeds(usize),
    /// So many temperatures in °C.
    Temperatures(usize),
    /// So many whole numbers.
    Wholes(usize),
    /// A half width in mm, whose square can be held.
    Tolerance,
    /// A height in mm, perhaps within what a machine printed.
    Height,
}

/// One question.
#[derive(Clone, Copy, Debug)]
pub struct Question {
    /// Its name, for `back NAME` and the state file.
    pub id: &'static str,
    /// What is asked.
    pub ask: &'static str,
    /// Why, and how to find out, in a sentence or two.
    pub why: &'static str,
    /// How the answer is read.
    pub kind: Kind,
    /// What serves for most machines.
    pub default: Option<&'static str>,
    /// The invented machine's value, in practice.
    pub practice: &'static str,
    /// What the permissive stand-in is while the question is open, so that only what has been answered can be at fault.
    pub open: &'static str,
}

const fn question(
    id: &'static str,
    kind: Kind,
    (default, practice, open): (Option<&'static str>, &'static str, &'static str),
    ask: &'static str,
    why: &'static str,
) -> Question {
    Question { id, ask, why, kind, default, practice, open }
}

use Kind::{Height, Lengths, Speeds, Temperatures, Tolerance, Wholes};

/// All of them, in their order. Those whose default follows from other answers are in `draft::computed`.
pub const QUESTIONS: &[Question] = &[
    question(
        "travel-x",
        Lengths(2),
        (None, "0 236", "-30000 30000"),
        "How far does the carriage reach across (X): lowest and highest?",
        "No move is ever planned outside it. The machine's own settings say it.",
    ),
    question(
        "travel-y",
        Lengths(2),
        (None, "0 218", "-30000 30000"),
        "How far does it reach along (Y): lowest and highest?",
        "As before.",
    ),
    question(
        "travel-z",
        Lengths(2),
        (None, "-2 187", "-3000 30000"),
        "How far does it reach in height (Z): lowest and highest?",
        "Up is positive. The lowest is often a little below zero, so that the switches can be reached.",
    ),
    question(
        "steps",
        Wholes(2),
        (None, "800 1", "800 1"),
        "How many motor steps of Z are there in how many whole mm?",
        "No height can be finer than one step. 1600 steps in 3 mm is written: 1600 3. Microsteps count.",
    ),
    question(
        "speeds",
        Speeds(2),
        (Some("6 2"), "6 2", "6 2"),
        "How fast is the first approach, and how fast are the fine touches (mm/s)?",
        "The slower, the steadier; the first one only finds the switch. If in doubt, take the default.",
    ),
    question(
        "lift",
        Lengths(1),
        (Some("1.0"), "1.0", "1.0"),
        "How far does the carriage back off between touches?",
        "More than the switches need to open again (movement differential, on their sheets).",
    ),
    question(
        "band",
        Lengths(1),
        (Some("0.020"), "0.020", "0.020"),
        "How widely may the touches of one station spread?",
        "A series outside this band is refused as unsteady. About 7 times the noise of the worse switch.",
    ),
    question(
        "touches",
        Wholes(2),
        (Some("5 9"), "5 9", "5 9"),
        "How many touches must agree, out of how many at most?",
        "More touches average the noise; a wild one starts the count anew.",
    ),
    question(
        "heat",
        Temperatures(2),
        (Some("150 215"), "150 215", "150 215"),
        "How hot is the nozzle at the touch, and how hot at the first layer (°C)?",
        "Touch below the temperature at which filament oozes. The nozzle grows with heat, and that is allowed for.",
    ),
    question(
        "tip-at",
        Lengths(2),
        (None, "204 212", ""),
        "Where does the carriage stand (X Y) when the TIP is over the datum switch?",
        "Probe put back, nozzle clean. Stay high, go sideways until the tip stands over the middle of the switch's pin, and \
         write down what the machine shows.",
    ),
    question(
        "tip-height",
        Height,
        (None, "0.550", "0"),
        "At which height Z does the tip just trip the datum switch?",
        "Come down there by hand, first in mm, then tenths, then hundredths, until the switch reads tripped. To a tenth is good \
         enough: touches will measure it.",
    ),
    question(
        "tip-varies",
        Lengths(1),
        (Some("0.30"), "0.30", "0"),
        "By how much may that differ, up or down, with other nozzles and after homing anew?",
        "The floors come from it: no approach goes lower. Narrow is safer; too narrow is refused.",
    ),
    question(
        "overtravel",
        Lengths(1),
        (None, "2.0", "20000"),
        "How far past its trip may the datum switch be pressed (overtravel)?",
        "On the switch maker's sheet. Whatever fails, it is never pressed further.",
    ),
    question(
        "shoulder-at",
        Lengths(2),
        (None, "204 187.5", ""),
        "Where does the carriage stand (X Y) when the SHOULDER is over the datum switch?",
        "The probe fetched. The shoulder is the flat beside its plunger: that flat, not the plunger, must meet the pin.",
    ),
    question(
        "shoulder-height",
        Height,
        (None, "7.300", ""),
        "At which height Z does the shoulder just trip the datum switch?",
        "By hand again. Less the tip's height it gives the drop: how far the shoulder hangs below the tip.",
    ),
    question(
        "drop-varies",
        Lengths(1),
        (Some("0.40"), "0.40", "0"),
        "By how much may the drop differ, up or down, in a probe that is properly seated?",
        "Seating differs by hundredths, other nozzles by tenths. A drop outside is refused: probe missing or half seated.",
    ),
    question(
        "free-height",
        Lengths(1),
        (None, "1.10", "10000"),
        "How far does the plunger's end stand below the shoulder when nothing presses it?",
        "The free position on the probe switch's sheet, measured from the face that is the shoulder; or a calliper on the probe.",
    ),
    question(
        "pretravel",
        Lengths(1),
        (None, "0.46", "0"),
        "How far is the plunger pressed until it trips (pretravel)?",
        "On the same sheet.",
    ),
    question(
        "trip-depth",
        Lengths(1),
        (None, "", "0.001"),
        "So the trip depth to start with is free height less pretravel. Take it?",
        "How far the plunger's end stands below the shoulder when it trips. Where the sheet gives no free position from that \
         face, type the pretravel figure (common practice). The gauge check will correct it.",
    ),
    question(
        "tolerance",
        Tolerance,
        (None, "0.10", "0"),
        "What is the tolerance ± of that on the sheet?",
        "Its standard uncertainty is the tolerance over the root of 3. Until a gauge check it dominates everything.",
    ),
    question(
        "plate-size",
        Lengths(2),
        (None, "220 210", "1 1"),
        "How wide (X) and how deep (Y) is the plate?",
        "The plate is touched in its middle.",
    ),
    question(
        "plate-corner",
        Lengths(2),
        (None, "5 5", "0 0"),
        "Where does the carriage stand (X Y) when the TIP is over the plate's corner of lowest X and Y?",
        "From above, without touching. With the size it gives the middle.",
    ),
    question(
        "plate-at",
        Lengths(2),
        (None, "", ""),
        "So the PLUNGER is over the plate's middle with the carriage here. Take it?",
        "The tip's middle, moved by shoulder less tip position, since the plunger sits beside the shoulder.",
    ),
    question(
        "margin",
        Lengths(1),
        (Some("0.5"), "0.5", "0"),
        "How much clearance is kept under the tip?",
        "On all ways sideways, and over the highest plate, whatever single thing fails.",
    ),
    question(
        "plate-height",
        Height,
        (None, "0.60", ""),
        "At which height Z would the tip just meet the plate there, roughly?",
        "By hand, cold, on a slip of paper: the height at which it drags, less 0.1 for the paper. To a tenth is good enough.",
    ),
    question(
        "plates-vary",
        Lengths(1),
        (Some("0.30"), "0.30", "0"),
        "By how much may other plates be higher or lower than this one?",
        "A plate outside is refused. The narrower, the less the probe is pressed should its switch be dead.",
    ),
];

/// A question by its name.
pub fn named(id: &str) -> Option<&'static Question> {
    QUESTIONS.iter().find(|question| question.id == id)
}

impl Question {
    /// Reads an answer: its numbers, with one blank between.
    ///
    /// # Errors
    /// What was seen, the limit, the remedy.
    pub fn read(&self, text: &str) -> Result<String, String> {
        let Kind::Height = self.kind else { return self.read_numbers(text) };
        super::heights::height(text, None).map(|z| z.text().to_string())
    }

    fn read_numbers(&self, text: &str) -> Result<String, String> {
        let count = self.count();
        let numbers = numbers(text)?;
        if numbers.len() != count {
            let many =
                if count == 1 { "one number".into() } else { format!("{count} numbers, a blank between") };
            return Err(format!("`{}` has {}; wanted: {many}", cut(text, 30), numbers.len()));
        }
        let plain: Result<Vec<String>, String> = numbers
            .iter()
            .map(|number| self.check(number).map_err(|error| format!("`{}`: {error}", cut(number, 30))))
            .collect();
        Ok(plain?.join(" "))
    }

    const fn count(&self) -> usize {
        match self.kind {
            Lengths(count) | Speeds(count) | Temperatures(count) | Wholes(count) => count,
            Tolerance | Height => 1,
        }
    }

    /// A number as a machine file may have it: `+.5` becomes `0.5`.
    fn check(&self, number: &str) -> Result<String, String> {
        match self.kind {
            Lengths(_) | Height => Length::read(number).map(|x| x.text().to_string()),
            Speeds(_) => Speed::read(number).map(|x| x.text().to_string()),
            Temperatures(_) => Temperature::read(number).map(|x| x.text().to_string()),
            Wholes(_) => {
                number.parse::<u32>().map(|x| x.to_string()).map_err(|_| "a whole number, please".into())
            }
            Tolerance => {
                let half = Uncertainty::read(number)?;
                half.third_of_square().map_err(|_| "must be below 4 mm")?;
                Ok(half.text().to_string())
            }
        }
    }
}

/// The numbers of an answer. Millimetres may be named, other units not.
fn numbers(text: &str) -> Result<Vec<String>, String> {
    let text = text.replace('\u{2212}', "-");
    let mut all = Vec::new();
    for word in text.split_whitespace() {
        let word = word.trim_end_matches([',', ';']);
        let bare = word.trim_start_matches(['±', 'X', 'Y', 'Z', 'x', 'y', 'z', ':', '=']);
        let bare = bare.strip_suffix("mm/s").or_else(|| bare.strip_suffix("mm")).unwrap_or(bare);
        let bare = bare.strip_suffix("°C").unwrap_or(bare);
        match bare {
            "" | "to" | "and" => {}
            _ if bare.contains(',') => {
                return Err(format!(
                    "`{}`: write the decimal point as a point, and a blank between two numbers",
                    cut(word, 20)
                ));
            }
            _ if bare.bytes().any(|byte| byte.is_ascii_digit())
                && bare.bytes().all(|byte| byte.is_ascii_digit() || b"+-.".contains(&byte)) =>
            {
                all.push(bare.to_owned());
            }
            _ => {
                return Err(format!(
                    "`{}` is no number that can be used here; lengths are in mm",
                    cut(word, 20)
                ));
            }
        }
    }
    Ok(all)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn answers_are_read_with_what_people_put_around_them() {
        let pair = named("travel-x").expect("known");
        for text in ["0 230", " 0, 230", "0 mm 230mm", "X0 X230", "0 to 230", "-0 +230.0", "00 230."] {
            assert_eq!(pair.read(text).as_deref(), Ok("0 230"), "{text}");
        }
        assert_eq!(named("tolerance").expect("known").read("±0.15 mm").as_deref(), Ok("0.15"));
        assert_eq!(named("plate-height").expect("known").read("X1 Z-0.25").as_deref(), Ok("-0.25"));
    }

    #[test]
    fn bad_answers_say_what_was_seen_and_the_limit() {
        for (id, text, part) in [
            ("travel-x", "230", "has 1; wanted: 2 numbers"),
            ("travel-x", "0,230", "decimal point"),
            ("travel-x", "0 9 in", "mm"),
            ("travel-x", "0 40000", "32768"),
            ("lift", "1cm", "mm"),
            ("lift", "", "has 0"),
            ("steps", "800.5 1", "whole"),
            ("speeds", "-1 2", "1000"),
            ("tolerance", "5", "below 4 mm"),
            ("heat", "150 2000", "1000"),
            ("lift", "1e3", "no number"),
            ("lift", "1.2.3", "decimal"),
            ("lift", "-", "no number"),
        ] {
            let error = named(id).expect("known").read(text).expect_err(text);
            assert!(error.contains(part), "{id} {text}: {error}");
        }
    }

    #[test]
    fn names_are_unique() {
        let mut ids: Vec<_> = QUESTIONS.iter().map(|question| question.id).collect();
        ids.sort_unstable();
        ids.dedup();
        assert_eq!(ids.len(), QUESTIONS.len());
    }
}
