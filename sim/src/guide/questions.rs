//! The questions of a first setup, as data: what is asked, why, how the answer is read, and the default.

use zdatum::{Length, Speed, Temperature, Uncertainty};

use crate::text::name::cut;
use crate::text::written::Written;

/// How an answer is read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum AnswerKind {
    /// So many lengths in mm.
    Lengths(usize),
    /// So many speeds in mm/s.
    Speeds(usize),
    /// So many temperatures in °C.
    Temperatures(usize),
    /// So many whole numbers.
    Wholes(usize),
    /// A half-width in mm, small enough for its square to be represented.
    Tolerance,
    /// A height in mm, possibly inside a line that a machine printed.
    Height,
}

/// One question.
#[derive(Clone, Copy, Debug)]
pub struct SetupQuestion {
    /// Its name, for `back NAME` and the state file.
    pub id: &'static str,
    /// The question.
    pub ask: &'static str,
    /// Why it is asked and how to find out, in a sentence or two.
    pub why: &'static str,
    /// How the answer is read.
    pub kind: AnswerKind,
    /// A value that suits most machines.
    pub default: Option<&'static str>,
    /// The invented machine's value, for practice.
    pub practice: &'static str,
    /// A permissive stand-in while the question is open, so that only given answers can be at fault.
    pub open: &'static str,
}

const fn question(
    id: &'static str,
    kind: AnswerKind,
    (default, practice, open): (Option<&'static str>, &'static str, &'static str),
    ask: &'static str,
    why: &'static str,
) -> SetupQuestion {
    SetupQuestion { id, ask, why, kind, default, practice, open }
}

use AnswerKind::{Height, Lengths, Speeds, Temperatures, Tolerance, Wholes};

/// All questions in order. Defaults that follow from other answers are in `draft::computed`.
pub const QUESTIONS: &[SetupQuestion] = &[
    question(
        "travel-x",
        Lengths(2),
        (None, "0 236", "-30000 30000"),
        "How far does the carriage reach across (X): lowest and highest?",
        "No move is ever planned outside this range. You find it in the machine's own settings.",
    ),
    question(
        "travel-y",
        Lengths(2),
        (None, "0 218", "-30000 30000"),
        "How far does it reach front to back (Y): lowest and highest?",
        "From the machine's own settings, as for X.",
    ),
    question(
        "travel-z",
        Lengths(2),
        (None, "-2 187", "-3000 30000"),
        "How far does it reach in height (Z): lowest and highest?",
        "Up is positive. The lowest value is often a little below zero, so that the switches can be reached.",
    ),
    question(
        "steps",
        Wholes(2),
        (None, "800 1", "800 1"),
        "How many motor steps does Z take for how many whole mm?",
        "No height can be finer than one step. For 1600 steps in 3 mm, type: 1600 3. Count microsteps.",
    ),
    question(
        "speeds",
        Speeds(2),
        (Some("6 2"), "6 2", "6 2"),
        "How fast is the first approach, and how fast are the fine touches (mm/s)?",
        "Slower touches repeat better; the first approach only finds the switch. If in doubt, take the \
            default.",
    ),
    question(
        "lift",
        Lengths(1),
        (Some("1.0"), "1.0", "1.0"),
        "How far does the carriage back off between touches?",
        "More than the switches need to open again (the movement differential on their data sheets).",
    ),
    question(
        "band",
        Lengths(1),
        (Some("0.020"), "0.020", "0.020"),
        "How far may the touches at one station spread?",
        "A series that spreads further is refused as unsteady. Start with about 7 times the noise of the \
            worse switch.",
    ),
    question(
        "touches",
        Wholes(2),
        (Some("5 9"), "5 9", "5 9"),
        "How many touches must agree, out of how many at most?",
        "More touches average out the noise; a wild one restarts the count.",
    ),
    question(
        "heat",
        Temperatures(2),
        (Some("150 215"), "150 215", "150 215"),
        "How hot is the nozzle when it touches, and how hot for the first layer (°C)?",
        "Touch below the temperature at which filament oozes. The nozzle grows as it heats; this is \
            corrected for.",
    ),
    question(
        "tip-at",
        Lengths(2),
        (None, "204 212", ""),
        "Where does the carriage stand (X Y) when the TIP is over the datum switch?",
        "Put the probe back and clean the nozzle. Stay high, move sideways until the tip is over the middle \
            of the \
         switch's pin, and type the X and Y that the machine shows.",
    ),
    question(
        "tip-height",
        Height,
        (None, "0.550", "0"),
        "At which height Z does the tip just trip the datum switch?",
        "Lower the tip by hand, in steps of 1 mm, then 0.1, then 0.01, until the switch reads tripped. To \
            the nearest \
         tenth is good enough: the touches will measure it.",
    ),
    question(
        "tip-varies",
        Lengths(1),
        (Some("0.30"), "0.30", "0"),
        "How much may that height vary, up or down, with other nozzles and after homing again?",
        "This sets the floors: no approach goes lower. A small value is safer, but one that is too small \
            causes refusals.",
    ),
    question(
        "overtravel",
        Lengths(1),
        (None, "2.0", "20000"),
        "How far past its trip point may the datum switch be pressed (overtravel)?",
        "From the switch's data sheet. Even if something fails, it is never pressed further.",
    ),
    question(
        "shoulder-at",
        Lengths(2),
        (None, "204 187.5", ""),
        "Where does the carriage stand (X Y) when the SHOULDER is over the datum switch?",
        "Fetch the probe first. The shoulder is the flat beside its plunger: that flat, not the plunger, \
            must meet the pin.",
    ),
    question(
        "shoulder-height",
        Height,
        (None, "7.300", ""),
        "At which height Z does the shoulder just trip the datum switch?",
        "Lower it by hand as before. This height minus the tip's is the drop: how far the shoulder hangs \
            below the tip.",
    ),
    question(
        "drop-varies",
        Lengths(1),
        (Some("0.40"), "0.40", "0"),
        "How much may the drop vary, up or down, while the probe is properly seated?",
        "Seating varies by hundredths of a mm, a change of nozzle by tenths. A drop outside this range is \
            refused: the \
         probe is missing or not fully seated.",
    ),
    question(
        "free-height",
        Lengths(1),
        (None, "1.10", "10000"),
        "How far does the plunger's end stand below the shoulder when nothing presses it?",
        "The free position on the probe switch's data sheet, from the face that is the shoulder; or measure \
            it with a calliper.",
    ),
    question(
        "pretravel",
        Lengths(1),
        (None, "0.46", "0"),
        "How far does the plunger move before the switch trips (pretravel)?",
        "From the same data sheet.",
    ),
    question(
        "trip-depth",
        Lengths(1),
        (None, "", "0.001"),
        "Start with a trip depth of free height minus pretravel?",
        "How far the plunger's end stands below the shoulder when the switch trips. If the data sheet gives \
            no free \
         position from that face, type the pretravel (common practice). The gauge check will correct it.",
    ),
    question(
        "tolerance",
        Tolerance,
        (None, "0.10", "0"),
        "What tolerance (±) does the data sheet give for it?",
        "Its standard uncertainty is the tolerance divided by √3. Until a gauge check it outweighs every \
            other source.",
    ),
    question(
        "plate-size",
        Lengths(2),
        (None, "220 210", "1 1"),
        "How wide (X) and how deep (Y) is the plate?",
        "The plate will be touched in the middle.",
    ),
    question(
        "plate-corner",
        Lengths(2),
        (None, "5 5", "0 0"),
        "Where does the carriage stand (X Y) when the TIP is over the plate's corner with the lowest X and \
            Y?",
        "Look from above, without touching. Together with the size this gives the middle.",
    ),
    question(
        "plate-at",
        Lengths(2),
        (None, "", ""),
        "Touch the plate with the carriage here, the PLUNGER over its middle?",
        "The tip's position over the middle, plus the shoulder's position minus the tip's: the plunger sits \
            beside the shoulder.",
    ),
    question(
        "margin",
        Lengths(1),
        (Some("0.5"), "0.5", "0"),
        "How much clearance must stay under the tip?",
        "Kept on every sideways move and over the highest plate, even if any one thing fails.",
    ),
    question(
        "plate-height",
        Height,
        (None, "0.60", ""),
        "Roughly, at which height Z does the tip just meet the plate there?",
        "Lower it by hand, cold, onto a slip of paper: the height at which the paper drags, minus 0.1 for \
            the paper. To \
         the nearest tenth is good enough.",
    ),
    question(
        "plates-vary",
        Lengths(1),
        (Some("0.30"), "0.30", "0"),
        "How much higher or lower than this one may other plates be?",
        "A plate outside this range is refused. The smaller the value, the less the probe is pressed if its \
            switch is dead.",
    ),
];

/// A question by its name.
pub fn named(id: &str) -> Option<&'static SetupQuestion> {
    QUESTIONS.iter().find(|question| question.id == id)
}

impl SetupQuestion {
    /// Reads an answer: its numbers, separated by single spaces.
    ///
    /// # Errors
    /// What was seen, the limit, the remedy.
    pub fn read(&self, text: &str) -> Result<String, String> {
        let AnswerKind::Height = self.kind else { return self.read_numbers(text) };
        super::heights::height(text, None).map(|z| z.text().to_string())
    }

    fn read_numbers(&self, text: &str) -> Result<String, String> {
        let count = self.count();
        let numbers = numbers(text)?;
        if numbers.len() != count {
            let many = if count == 1 {
                "one number".into()
            } else {
                format!("{count} numbers separated by a space")
            };
            return Err(format!("`{}` has {}; expected {many}", cut(text, 30), numbers.len()));
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
                number.parse::<u32>().map(|x| x.to_string()).map_err(|_| "must be a whole number".into())
            }
            Tolerance => {
                let half = Uncertainty::read(number)?;
                if half == Uncertainty::ZERO {
                    return Err("must be above zero: no sheet is exact".into());
                }
                if half > Uncertainty::from_bits(1 << 24).unwrap_or_default() {
                    return Err("must be at most 1 mm".into());
                }
                Ok(half.text().to_string())
            }
        }
    }
}

/// The numbers in an answer. The unit mm may be written, other units of length may not.
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
                    "`{}`: use a decimal point, and separate numbers with a space",
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
                    "`{}` is not a number that can be used here; lengths are in mm",
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
            ("travel-x", "230", "has 1; expected 2 numbers"),
            ("travel-x", "0,230", "decimal point"),
            ("travel-x", "0 9 in", "mm"),
            ("travel-x", "0 40000", "32768"),
            ("lift", "1cm", "mm"),
            ("lift", "", "has 0"),
            ("steps", "800.5 1", "whole"),
            ("speeds", "-1 2", "1000"),
            ("tolerance", "5", "at most 1 mm"),
            ("tolerance", "0", "above zero"),
            ("heat", "150 2000", "1000"),
            ("lift", "1e3", "not a number"),
            ("lift", "1.2.3", "decimal"),
            ("lift", "-", "not a number"),
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
