//! What every report says in the same words: cautions, and the words of the trade.

use maud::{Markup, html};

use super::Section;

/// What a wrong number does, in one line, beside whatever might be applied.
pub(super) fn short_caution() -> Markup {
    html! {
        p.caution {
            strong { "Caution. " }
            "A wrong number drives the nozzle into the plate: check high above the plate first, within reach of the \
                power switch. \
             The nozzle is hot enough to burn and the axes pinch: hands clear while anything moves."
        }
    }
}

pub(super) fn cautions() -> Section {
    Section {
        id: "cautions",
        title: "Cautions".into(),
        body: html! {
            ul {
                li { "The nozzle is hot enough to burn and the axes pinch. Keep hands clear while anything moves." }
                li { "Clean the tip, and touch the datum switch below the temperature at which filament oozes." }
                li { "A wrong number drives the nozzle into the plate. Check any new setup high above the plate first, \
                    within reach of \
                      the power switch." }
                li { "Wire the probe so that a missing probe or a broken wire reads as tripped." }
                li { "Heated printers are not left alone." }
                li { "The machine maker’s instructions and the local electrical codes come first. Mains wiring is for \
                    a licensed person." }
            }
        },
    }
}

pub(super) fn glossary() -> Section {
    const WORDS: [(&str, &str); 26] = [
        ("datum switch", "the switch fixed to the frame; the tool presses it from above"),
        ("tip", "the nozzle’s lowest point"),
        ("shoulder", "the flat on the probe beside its plunger; it can press the datum switch"),
        ("plunger", "the moving pin of the probe’s own switch; it meets the plate"),
        ("touch", "one trip of a switch: the carriage height at that instant"),
        ("station", "where touches are taken: tip, shoulder or plate"),
        ("landing, L", "the carriage height at which the tip just meets the plate"),
        (
            "trip depth, t",
            "how far the plunger’s end stands below the shoulder when it trips; the one number that must be known",
        ),
        ("drop, d", "how far the shoulder hangs below the tip"),
        ("rise, r", "how far the plate’s surface stands above the datum switch’s trip height"),
        ("span", "plate height less shoulder height: what is remembered of a plate"),
        (
            "first-layer error",
            "landing reported less landing true; above zero: the tip is too far from the plate",
        ),
        (
            "u, U",
            "standard uncertainty; and U = k·u, so that the truth lies within ± U as often as the coverage says",
        ),
        ("band", "the widest spread that the counted touches of one station may show"),
        ("carriage", "what carries the tool up and down; all heights here are its heights"),
        ("cycle", "touches at all three stations, and the landing that comes of them"),
        ("core", "the part of zdatum that works out landing, U and verdict, in a firmware as here"),
        ("fetch", "taking the probe from its holder; how it seats differs from one fetch to the next"),
        ("soak", "warming up until heights no longer drift"),
        (
            "walking",
            "touches that move the same way one after the other, as a filament does that is squashed",
        ),
        ("pair means", "the median of the means of all pairs of touches; a wild touch hardly moves it"),
        ("variance", "standard deviation squared; those of independent sources add up"),
        ("draws, seed", "random numbers of the simulation, and the number that they all follow from"),
        ("k", "the factor between u and U; it grows where u itself is known from few touches"),
        ("ν", "degrees of freedom: from how many independent differences u is known"),
        ("gauge check", "a gauge of known thickness felt under the tip; it tells the trip depth"),
    ];
    Section {
        id: "words",
        title: "Words used here".into(),
        body: html! { dl.words { @for (word, meaning) in WORDS { div { dt { (word) } dd { (meaning) } } } } },
    }
}
