//! What every report says in the same words: cautions, and the words of the trade.

use maud::{Markup, html};

use super::Section;

/// What a wrong number does, in one line, beside whatever might be applied.
pub(super) fn short_caution() -> Markup {
    html! {
        p.caution {
            strong { "Caution. " }
            "A wrong number can drive the nozzle into the plate: check high above the plate first, within \
                reach of the \
                power switch. The nozzle can burn you; moving axes can pinch: keep hands clear while \
                anything moves."
        }
    }
}

pub(super) fn cautions() -> Section {
    Section {
        id: "cautions",
        title: "Cautions".into(),
        body: html! {
            ul {
                li { "The nozzle can burn you; moving axes can pinch: keep hands clear while anything \
                    moves." }
                li { "Clean the tip, and touch the datum switch below the temperature at which filament \
                    oozes." }
                li { "A wrong number can drive the nozzle into the plate. Try any new setup high above the \
                    plate \
                    first, within reach of the power switch." }
                li { "Wire the probe so that a missing probe or a broken wire reads as tripped." }
                li { "Never leave a heated printer unattended." }
                li { "The machine maker’s instructions and local electrical codes take precedence. Leave \
                    mains wiring \
                    to a licensed electrician." }
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
            "how far the plunger’s end stands below the shoulder when its switch trips; the one number that \
                must be known",
        ),
        ("drop, d", "how far the shoulder hangs below the tip"),
        ("rise, r", "how far the plate’s surface stands above the datum switch’s trip height"),
        ("span", "plate height minus shoulder height: what is remembered of a plate"),
        (
            "first-layer error",
            "landing reported minus true landing; above zero: the tip is too far from the plate",
        ),
        (
            "u, U",
            "standard uncertainty; and U = k·u: the true value lies in ± U with the stated coverage \
                probability",
        ),
        ("band", "the widest spread that the counted touches of one station may show"),
        ("carriage", "what carries the tool up and down; all heights here are its heights"),
        ("cycle", "touches at all three stations, and the landing computed from them"),
        ("core", "the part of zdatum that computes landing, U and verdict, here and in a firmware alike"),
        ("fetch", "taking the probe from its dock; how it seats varies from one fetch to the next"),
        ("soak", "warming up until heights no longer drift"),
        (
            "walking",
            "touches that move steadily in one direction, for example as filament on the tip is squashed",
        ),
        ("Hodges–Lehmann", "the median of the means of all pairs of touches; a wild touch hardly moves it"),
        ("variance", "standard deviation squared; those of independent sources add up"),
        ("draws, seed", "random numbers of the simulation, and the number that determines them all"),
        ("k", "the factor between u and U; it is larger when u is estimated from few touches"),
        ("ν", "degrees of freedom: how many independent differences the estimate of u rests on"),
        ("gauge check", "feeling a gauge of known thickness under the tip; it measures the trip depth"),
    ];
    Section {
        id: "words",
        title: "Words used here".into(),
        body: html! { dl.words { @for (word, meaning) in WORDS { div { dt { (word) } dd { (meaning) } } } } },
    }
}
