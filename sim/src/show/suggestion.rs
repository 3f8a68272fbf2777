//! How a landing may be applied: lines of RS-274 (NIST IR 6556) for a person to send; the tool sends nothing.

use anstyle::Style;
use zdatum::{Landing, Length};

use crate::files::MachineFile;
use crate::text::lines::{BOLD, YELLOW, line, paragraph};
use crate::text::number::plain;

/// Height above the plate at which the second way sets the current height.
const CLEAR: Length = Length::from_mm(10);

/// What it holds for.
pub(super) const HOLDS_FOR: &str =
    "It is valid for this plate, probe, nozzle and temperature, at the point touched.";

/// One way to apply a landing.
pub(super) struct ApplyWay {
    /// When it serves.
    pub(super) when: &'static str,
    /// Lines, each with what it does.
    pub(super) lines: Vec<(String, &'static str)>,
}

/// The ways that the travel allows.
pub(super) fn ways(machine: &MachineFile, landing: &Landing, wish: Length) -> Vec<ApplyWay> {
    // A sum that cannot be held is far beyond every travel: then the landing alone, which the text shows beside it.
    let height = landing.height.plus(wish).unwrap_or(landing.height);
    let zero = if wish == Length::ZERO {
        "coordinate system 1: zero at the landing"
    } else {
        "coordinate system 1: zero at landing and wish"
    };
    let mut ways = vec![ApplyWay {
        when: "Either, with no other offset active, shift the coordinates:",
        lines: vec![(format!("G10 L2 P1 Z{}", plain(height)), zero)],
    }];
    let top = machine.setup.draft().travel.z.high;
    if let Some(above) = height.plus(CLEAR).ok().filter(|above| *above <= top) {
        ways.push(ApplyWay {
            when: "Or, with no other offset active, set the current height (probe put back):",
            lines: vec![
                ("G90".into(), "heights are absolute"),
                (format!("G1 Z{} F300", plain(above)), "tip 10 mm above the plate"),
                ("G92 Z10.0000".into(), "this height is 10: the plate is now 0"),
            ],
        });
    }
    ways
}

/// The lines with what they do, and the cautions that belong to them.
pub(super) fn lines(out: &mut String, machine: &MachineFile, name: &str, landing: &Landing, wish: Length) {
    line!(out, "{BOLD}To apply {name}{BOLD:#} (RS-274 lines to send yourself; the tool sends nothing)");
    for way in ways(machine, landing, wish) {
        line!(out, "  {}", way.when);
        for (code, what) in way.lines {
            line!(out, "    {code:<22} {what}");
        }
    }
    let caution = "Caution: a wrong number drives the nozzle into the plate. Check high above it first, \
        within reach of the power switch. The nozzle can burn you; moving axes can pinch. Keep your hands \
        clear while anything moves.";
    paragraph(out, caution, 0, YELLOW);
    paragraph(out, HOLDS_FOR, 0, Style::new());
}
