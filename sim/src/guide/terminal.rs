//! A session in the terminal: plain lines that fit 60 columns, with no other command than a newline.

use anstyle::{AnsiColor, Style};
use zdatum::cycle::Outcome;
use zdatum::{Landing, Length, Speed};

use super::GuidePrompt;
use super::gauge::Weighed;
use super::guided::GuideNote;
use crate::files::MachineFile;
use crate::text::lines::{BOLD, FAINT, YELLOW, line};
use crate::text::name::{shown, wrapped};
use crate::text::number::{amount, plain, ratio, signed, uncertainty};

/// Widest line.
const COLUMNS: usize = 60;
/// Room for a line of RS-274 before what it does.
const CODE: usize = 25;

const GREEN: Style = AnsiColor::Green.on_default().bold();

/// What to know before anything moves.
pub const CAUTIONS: [&str; 6] = [
    "The nozzle can burn you; moving axes can pinch: keep hands clear while anything moves.",
    "A wrong number can drive the nozzle into the plate: try any new setup high above the plate first, \
        within reach of \
     the power switch.",
    "Clean the tip, and touch the datum switch below the temperature at which filament oozes.",
    "Wire the probe so that a missing probe or a broken wire reads as tripped.",
    "Never leave a heated printer unattended.",
    "The machine maker's instructions and local electrical codes take precedence; leave mains wiring to a \
        licensed electrician.",
];

/// Commands that are always available.
pub const HELP: &str = "\
Type an answer and press Enter; Enter alone takes the
default.
  back         one step back (what you typed is kept)
  back STEP    back to a step by its name
  show         the answers so far, with their steps
  again        restart the cycle's touches
  quit         leave; the same command resumes
Lengths are in mm. Lines for the machine (RS-274, NIST
IR 6556) are suggestions: the tool sends nothing.";

/// A step with its question.
pub fn prompt(prompt: &GuidePrompt) -> String {
    let mut out = String::new();
    let practice = if prompt.practice { "PRACTICE, invented machine · " } else { "" };
    line!(&mut out, "{FAINT}{}{FAINT:#}", "-".repeat(COLUMNS));
    text(&mut out, &format!("{practice}{}", prompt.title), 0, BOLD);
    for caution in &prompt.cautions {
        text(&mut out, &format!("! {caution}"), 2, YELLOW);
    }
    notes(&mut out, &prompt.notes);
    if !prompt.ask.is_empty() {
        line!(&mut out);
        text(&mut out, &prompt.ask, 0, BOLD);
        text(&mut out, &prompt.why, 2, FAINT);
    }
    if !prompt.choices.is_empty() {
        text(&mut out, &format!("[{}]", prompt.choices), 2, Style::new());
    }
    if let Some(default) = &prompt.default {
        text(&mut out, &format!("Enter: {}", shown(default)), 2, Style::new());
    }
    let _ = std::fmt::Write::write_fmt(&mut out, format_args!("{}> ", prompt.id));
    out
}

/// What there is to say, and lines to send with what they do.
pub fn notes(out: &mut String, notes: &[GuideNote]) {
    let mut is_line = false;
    for note in notes {
        match note {
            GuideNote::Say(say) => text(out, say, 2, Style::new()),
            GuideNote::Line(code, what) => {
                if !is_line {
                    text(out, "Suggested lines to send:", 2, FAINT);
                }
                line!(out, "    {code:<CODE$}  {FAINT}{what}{FAINT:#}");
            }
        }
        is_line = matches!(note, GuideNote::Line(..));
    }
}

/// A sentence to the person.
pub fn say(say: &str) -> String {
    let mut out = String::new();
    text(&mut out, say, 2, Style::new());
    out
}

/// An answer that was not taken.
pub fn not_taken(why: &str) -> String {
    let mut out = String::new();
    text(&mut out, &format!("Not taken: {why}."), 2, YELLOW);
    out
}

fn text(out: &mut String, text: &str, indent: usize, style: Style) {
    if text.is_empty() {
        return;
    }
    for text in wrapped(text, COLUMNS - indent) {
        line!(out, "{:indent$}{style}{text}{style:#}", "");
    }
}

/// The verdict of a cycle in sentences.
pub fn verdict(machine: &MachineFile, outcome: &Outcome) -> Vec<GuideNote> {
    let say = |text: String| GuideNote::Say(text);
    let mut notes = Vec::new();
    let figures = |landing: &Landing| {
        // Touches that disprove what U rests on have none.
        let percent = machine.setup.draft().accept.coverage.percent();
        let sure = outcome.uncertainty().map_or_else(String::new, |found| {
            format!(", U {} mm ({percent} %)", uncertainty(found.expanded))
        });
        format!(
            "{} mm{sure}. Drop {}, rise {}.",
            signed(landing.height),
            signed(landing.drop),
            signed(landing.rise)
        )
    };
    match (outcome.landing(), outcome.landing_seen()) {
        (Some(landing), _) => {
            notes.push(say(format!("ACCEPT. Landing {}", figures(landing))));
        }
        (None, Some(seen)) => notes.push(say(format!("REFUSE. Landing seen {}", figures(seen)))),
        (None, None) => notes.push(say("REFUSE. No landing.".into())),
    }
    for refusal in outcome.refusals() {
        let at = refusal.station.map_or_else(String::new, |station| format!(" at the {}", station.word()));
        let word = refusal.kind.word().replace('-', " ");
        let seen = match (refusal.seen(), refusal.limit()) {
            (Some(seen), Some(limit)) => format!(" (seen {}, limit {})", amount(seen), amount(limit)),
            _ => String::new(),
        };
        notes.push(say(format!("- {word}{at}: {}{seen}. {}", refusal.kind.text(), refusal.kind.advice())));
    }
    if outcome.for_gauge_check() {
        let untrimmed = machine.setup.draft().probe.trimmed_at_speed == Speed::ZERO;
        let why = if untrimmed {
            ": the trip depth still comes from the data sheet, and outweighs everything else"
        } else {
            ""
        };
        notes.push(say(format!(
            "That is the only reason{why}. Use the landing seen for a gauge check and for nothing else."
        )));
    }
    notes
}

/// What a gauge check did.
pub fn said_of_trim(weighed: &Weighed) -> Vec<GuideNote> {
    let trimmed = &weighed.trimmed;
    let off = weighed.check.too_high;
    let (size, way) = match Length::ZERO.minus(off) {
        Ok(low) if off < Length::ZERO => (low, "low"),
        _ => (off, "high"),
    };
    let mut notes = vec![GuideNote::Say(format!(
        "The landing was {} too {way}. Disagreement {} (above 4 is refused), weight {}.",
        plain(size),
        ratio(trimmed.disagreement, 2),
        ratio(trimmed.weight, 3)
    ))];
    if trimmed.accepted {
        notes.push(GuideNote::Say(format!(
            "The trip depth changes from {} (u {}) to {} (u {}), trimmed at {} mm/s.",
            plain(weighed.known.t),
            uncertainty(weighed.known.u),
            plain(trimmed.depth.t),
            uncertainty(trimmed.depth.u),
            trimmed.depth.speed
        )));
    }
    notes
}

/// How a session ended.
#[derive(Clone, Copy, Debug)]
pub struct SessionEnd<'a> {
    /// Whether there is something to apply.
    pub good: bool,
    /// The machine file, as shown.
    pub machine: &'a str,
    /// The log that was written.
    pub log: Option<&'a str>,
    /// The history, as shown, where it is not the usual one.
    pub history: Option<&'a str>,
    /// Whether the cycle is in it.
    pub kept: bool,
    /// Seed of the invented machine's cycle, in practice.
    pub practice: Option<u64>,
}

/// The end of a session: what serves next.
pub fn end(ended: &SessionEnd<'_>) -> String {
    let mut out = String::new();
    let (style, word) = if ended.good { (GREEN, "Done.") } else { (YELLOW, "Finished; nothing to apply.") };
    line!(&mut out, "{FAINT}{}{FAINT:#}", "-".repeat(COLUMNS));
    text(&mut out, word, 0, style);
    let quoted = |name: &str| if name.contains(' ') { format!("\"{name}\"") } else { name.to_owned() };
    let machine = quoted(ended.machine);
    let history = ended.history.map_or_else(String::new, |name| format!(" --history {}", quoted(name)));
    if let (true, Some(log)) = (ended.good, ended.log) {
        let what = "To see the landing of these touches with the machine file as it is now, and lines that \
            apply it \
                    (valid until something is moved, homed or swapped):";
        text(&mut out, what, 2, Style::new());
        line!(&mut out, "    zdatum land {} -m {machine}", quoted(&shown(log)));
    }
    if ended.kept {
        text(&mut out, "To see what is known of the plates, and what has changed:", 2, Style::new());
        line!(&mut out, "    zdatum plates{history}");
        line!(&mut out, "    zdatum watch{history}");
    }
    text(&mut out, "For the next cycle with this machine file:", 2, Style::new());
    let (practice, history) = match ended.practice {
        None => (String::new(), history),
        // In practice the history follows from the machine file's name.
        Some(seed) => (format!(" --practice={}", seed.wrapping_add(1)), String::new()),
    };
    line!(&mut out, "    zdatum guide {machine}{practice}{history}");
    text(&mut out, "To see what the file means:", 2, Style::new());
    line!(&mut out, "    zdatum setup {machine}");
    out
}
