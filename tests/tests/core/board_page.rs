//! A handful of the boards' cases in full, `docs/tables/boards-cases.md`: for anyone who ports the core.

use std::fmt::Write as _;

use zdatum::landing::Landing;
use zdatum::{Assessment, Combined, Setup, Station};
use zdatum_boards_cases::{budget, cycle, digest::Digest, landing, trim};

const HEAD: &str = "# Golden vectors in full

A handful of the cases that every board makes for itself ([on the boards](../boards.md)), inputs and results
in decimal. The rest of each machine is in `tests/boards/cases/src/machine.rs`. Lengths in mm, variances as
whole numbers of 2⁻⁶⁰ mm². Made by `ZDATUM_REWRITE=1 cargo test -p zdatum-tests --test core board_page`;
without it the same test compares.
";

fn of_landing(out: &mut String, seen: &Landing) {
    let _ = writeln!(
        out,
        "| L, d, r, P − S | {}, {}, {}, {} |\n| corrections: speed, growth | {}, {} |",
        seen.height, seen.drop, seen.rise, seen.span, seen.corrections.speed, seen.corrections.growth
    );
    of_sum(out, &seen.uncertainty);
}

fn of_sum(out: &mut String, sum: &Combined) {
    let nu = sum.dof.finite().map_or_else(|| "∞".to_owned(), |nu| nu.to_string());
    let _ = writeln!(
        out,
        "| u², u, ν, k, U | {}, {}, {nu}, {}, {} |",
        sum.variance.to_bits(),
        sum.u,
        sum.factor,
        sum.expanded
    );
}

fn reasons(out: &mut String, refusals: &[zdatum::Refusal]) {
    let words: Vec<&str> = refusals.iter().map(|refusal| refusal.kind.word()).collect();
    let verdict =
        if words.is_empty() { "accept".to_owned() } else { format!("refuse: {}", words.join(", ")) };
    let _ = writeln!(out, "| verdict | {verdict} |");
}

fn page() -> String {
    let mut out = HEAD.to_owned();
    for case in [0, 4, 8] {
        let record = landing::Record::of(case);
        let _ = writeln!(out, "\n## Case {case}: a landing\n\n| what | value |\n|---|---|");
        for (station, z) in Station::ALL.iter().zip(&record.touches) {
            let z: Vec<String> = z.iter().map(ToString::to_string).collect();
            let _ = writeln!(out, "| {} | {} |", station.word(), z.join(", "));
        }
        let (probe, steps) = (record.draft.probe, record.draft.travel.steps);
        let _ = writeln!(
            out,
            "| steps in mm | {} in {} |\n| trip depth, its u, for mm/s | {}, {}, {} |",
            steps.0, steps.1, probe.trip_depth, probe.trip_depth_u, probe.trimmed_at_speed
        );
        let setup = Setup::check(record.draft.clone()).expect("passes");
        let [tip, shoulder, plate] = [0, 1, 2].map(|station| record.recorded(station));
        let seen =
            Assessment::of(&setup, &tip, &shoulder, &plate, record.last.as_ref()).expect("enough touches");
        if let Some(landing) = seen.landing_seen() {
            of_landing(&mut out, landing);
        }
        reasons(&mut out, seen.refusals());
    }
    let sum = budget::Sum::of(1);
    out += "\n## Case 1: a sum of terms\n\n| what | value |\n|---|---|\n";
    for term in &sum.terms {
        let nu = term.dof.finite().map_or_else(|| "∞".to_owned(), |nu| nu.to_string());
        let _ = writeln!(out, "| term's u², ν | {}, {nu} |", term.variance.to_bits());
    }
    let _ = writeln!(out, "| coverage | {} % |", sum.coverage.percent());
    of_sum(&mut out, &Combined::of(&sum.terms, sum.coverage).expect("held"));
    for case in [2, 6] {
        let trim::Gauge { known, parts, delay, check, weighing } = trim::Gauge::of(case);
        let seen = zdatum::trim::trim(&known, &parts, &delay, &check, weighing).expect("held");
        let _ = writeln!(
            out,
            "\n## Case {case}: a gauge check\n\n| what | value |\n|---|---|\n\
             | t, u(t), v₀ | {}, {}, {} |\n| τ, u(τ) in s | {}, {} |\n| too high, made with, v | {}, {}, {} |\n\
             | u of gauge, feel, landing | {}, {}, {} |\n| weighing | {weighing:?} |\n\
             | new t, u(t) | {}, {} |\n| K, disagreement, accepted | {}, {}, {} |",
            known.t,
            known.u,
            known.speed,
            delay.latency,
            delay.latency_u,
            check.too_high,
            check.made_with,
            check.speed,
            check.gauge_u,
            check.feel_u,
            check.landing_u,
            seen.depth.t,
            seen.depth.u,
            seen.weight,
            seen.disagreement,
            seen.accepted
        );
    }
    for case in [3, 7, 11] {
        let script = cycle::Script::of(case);
        let setup = Setup::check(script.draft.clone()).expect("passes");
        let ended = cycle::play(&script, &setup, &mut Digest::new()).expect("ends");
        let outcome = ended.outcome().expect("has ended");
        let _ = writeln!(
            out,
            "\n## Case {case}: a cycle\n\n| what | value |\n|---|---|\n| goes wrong | {:?} |\n| ending | {:?} |",
            script.trouble, outcome.ending
        );
        if let Some(landing) = outcome.landing_seen() {
            of_landing(&mut out, landing);
        }
        reasons(&mut out, outcome.refusals());
    }
    out
}

#[test]
fn the_page_of_cases_is_up_to_date() {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../docs/tables/boards-cases.md");
    if std::env::var_os("ZDATUM_REWRITE").is_some() {
        std::fs::write(path, page()).expect("the page can be written");
    }
    let written = std::fs::read_to_string(path).expect("the page is there");
    assert!(written == page(), "docs/tables/boards-cases.md is out of date; the page is now:\n{}", page());
}
