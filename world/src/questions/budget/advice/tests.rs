use super::*;
use crate::engine::{Estimate, Figures};

/// 2⁻⁸ mm, 3.91 µm: parts of it are exact.
const SD: f64 = 0.003_906_25;

fn known(value: f64) -> Estimate {
    Estimate { value, error: 0.0 }
}

/// A source that makes a share of the variance, each of them clear of chance.
fn line(source: &str, share: f64) -> BudgetLine {
    BudgetLine {
        source: source.into(),
        core_u: None,
        core_share: None,
        variance: known(share * SD * SD),
        share: known(share),
        shift: known(0.0),
        is_touches: false,
        reduced_by: "care",
        note: "",
    }
}

fn shifting(source: &str, by: f64) -> BudgetLine {
    BudgetLine { shift: known(by), ..line(source, 0.0) }
}

fn counted(source: &str, core_u: f64, variance: f64) -> BudgetLine {
    BudgetLine { core_u: Some(core_u), variance: known(variance), ..line(source, 0.0) }
}

/// The core states what is seen; nothing is off.
fn budget(lines: Vec<BudgetLine>) -> Budget {
    Budget {
        runs: 1_000,
        lines,
        core_u: SD,
        simulated_sd: known(SD),
        simulated_mean: known(0.0),
        more: None,
        advice: Vec::new(),
    }
}

const AGREE: &str = "The core states u = 3.91 µm, the simulation shows 3.91 µm: they agree.";
const CHANCE: &str = "Too few runs (--each) to tell what to fix first: no source stands out from chance.";

#[test]
fn nothing_to_fix_is_no_sentence() {
    assert_eq!(of(&budget(Vec::new())), [AGREE]);
    assert_eq!(of(&budget(vec![line("soak", 0.0)])), [AGREE]);
    assert_eq!(of(&budget(vec![line("soak", -0.5)])), [AGREE]);
    let nothing_need_be_done = BudgetLine { reduced_by: "", ..line("seating", 0.9) };
    assert_eq!(of(&budget(vec![nothing_need_be_done])), [AGREE]);
}

#[test]
fn the_weightiest_source_that_can_be_reduced_is_first() {
    let lines = vec![
        BudgetLine { reduced_by: "", ..line("seating", 0.9) },
        line("soak", 0.25),
        // A quarter of the variance left is half of the standard deviation.
        BudgetLine { reduced_by: "a gauge check", ..line("trip depth", 0.75) },
        line("wild touches", 0.5),
    ];
    let first = "Fix first: trip depth. It makes 75 % of the error's variance. To reduce it: a gauge check. \
                 Without it the standard deviation would be 1.95 µm instead of 3.91 µm.";
    assert_eq!(of(&budget(lines)), [first, AGREE]);
    // By chance more than all there is.
    let more = of(&budget(vec![line("soak", 1.25)]));
    assert!(more[0].contains("makes 125 %") && more[0].contains("would be 0.00 µm instead"), "{more:?}");
}

#[test]
fn a_share_counts_from_two_of_its_errors_on() {
    let with =
        |error| of(&budget(vec![BudgetLine { share: Estimate { value: 0.5, error }, ..line("soak", 0.5) }]));
    assert_eq!(with(0.25), [CHANCE, AGREE]);
    assert_eq!(with(0.3), [CHANCE, AGREE]);
    assert!(with(0.2)[0].starts_with("Fix first: soak. It makes 50 %"), "{:?}", with(0.2));
}

fn off_by(mean: f64, error: f64) -> Vec<String> {
    let lines = vec![shifting("soak", 0.000_2), shifting("filament", -0.000_5), shifting("wild", 0.000_3)];
    of(&Budget { simulated_mean: Estimate { value: mean, error }, ..budget(lines) })
}

#[test]
fn a_mean_is_off_by_three_errors_and_a_tenth_of_the_deviation() {
    let far = "On average the tip is 0.50 µm too far, mostly because of filament: it shifts every landing by -0.50 µm, and no \
               interval allows for that. To reduce it: care.";
    assert_eq!(off_by(0.000_5, 0.0001), [far, AGREE]);
    assert_eq!(off_by(-0.000_5, 0.0001), [far.replace("too far", "too near").as_str(), AGREE]);
    // A tenth is 0.39 µm.
    assert_eq!(off_by(0.1 * SD, 0.0), [AGREE]);
    assert_eq!(off_by(0.000_35, 0.000_1), [AGREE]);
    assert_eq!(off_by(0.000_5, 0.000_2), [AGREE]);
    // No source that moves it.
    let unexplained = Budget { simulated_mean: known(0.001), ..budget(vec![line("soak", 0.0)]) };
    assert_eq!(of(&unexplained), [AGREE]);
}

#[test]
fn what_moves_every_landing_leads_where_it_outweighs_the_scatter() {
    let with = |mean| {
        let lines = vec![line("soak", 0.5), shifting("filament", 0.004)];
        of(&Budget { simulated_mean: known(mean), ..budget(lines) })
    };
    let starts = |mean, due: [&str; 3]| {
        let said = with(mean);
        assert_eq!(said.len(), 3, "{said:?}");
        assert!(said.iter().zip(due).all(|(said, due)| said.starts_with(due)), "{said:?}");
    };
    starts(0.008, ["On average the tip is 8.00 µm", "Of the scatter, fix first: soak.", "The core"]);
    starts(-0.008, ["On average the tip is 8.00 µm", "Of the scatter, fix first: soak.", "The core"]);
    starts(SD, ["Fix first: soak.", "On average the tip is 3.91 µm", "The core"]);
    starts(0.001, ["Fix first: soak.", "On average the tip is 1.00 µm", "The core"]);
}

fn figures(sd: Option<Estimate>, refused: f64, seconds: f64) -> Figures {
    Figures {
        runs: 1_000,
        accepted: 1_000,
        refusals: Vec::new(),
        mean: None,
        sd,
        middle: None,
        extremes: None,
        outside: None,
        coverage: None,
        refused: known(refused),
        touches: known(15.0),
        seconds: known(seconds),
    }
}

/// Four touches per station in 20 s, and eight.
fn more(then: Figures) -> MoreTouches {
    let figures_now = figures(Some(known(SD)), 0.125, 20.0);
    MoreTouches { now: 4, then: 8, figures_now, figures_then: then, floor: 0.002, floor_error: 0.0 }
}

fn said_of(more: MoreTouches) -> Vec<String> {
    more_touches(&budget(Vec::new()), &more)
}

#[test]
fn twice_as_many_touches_with_their_time_and_refusals() {
    let start = "Twice as many touches (8 instead of 4 per station) would bring the standard deviation from 3.91 µm to";
    let with = |sd, refused, seconds| said_of(more(figures(Some(known(sd)), refused, seconds)));
    assert_eq!(with(SD / 2.0, 0.125, 20.5), [format!("{start} 1.95 µm: worth a try.")]);
    assert_eq!(with(SD / 2.0, 0.125, 10.0), [format!("{start} 1.95 µm: worth a try.")]);
    let slow = format!("{start} 1.95 µm, take 12 s more per cycle: worth a try.");
    assert_eq!(with(SD / 2.0, 0.125, 32.0), [slow]);
    let refusing =
        format!("{start} 1.95 µm, and refuse 25.0 % of the cycles instead of 12.5 %: worth a try.");
    assert_eq!(with(SD / 2.0, 0.25, 20.0), [refusing]);
    // A thousandth more is not worth telling, nor is less.
    for refused in [0.125 + 0.001, 0.125_5, 0.125, 0.0] {
        assert_eq!(with(SD / 2.0, refused, 20.0), [format!("{start} 1.95 µm: worth a try.")]);
    }
    assert_eq!(with(SD, 0.125, 20.0), [format!("{start} 3.91 µm: hardly worth it.")]);
    // Nothing is known of what none was accepted of.
    assert!(said_of(more(figures(None, 1.0, 20.0))).is_empty());
}

#[test]
fn a_twentieth_saved_is_worth_it_as_far_as_chance_lets_tell() {
    let ends = |now: f64, then: Estimate, due: &str| {
        let mut more = more(figures(Some(then), 0.125, 20.0));
        more.figures_now.sd = Some(Estimate { value: SD, error: now });
        let said = said_of(more);
        assert!(said.len() == 1 && said[0].ends_with(&format!(": {due}.")), "{said:?}, not {due}");
    };
    let unknown = "too few runs (--each) to tell whether it is worth it";
    let part = |part: f64, error: f64| Estimate { value: part * SD, error: error * SD };
    // Nothing saved, give or take just a twentieth: twice the error.
    ends(0.025 * SD, part(1.0, 0.0), unknown);
    ends(0.024 * SD, part(1.0, 0.0), "hardly worth it");
    // Errors add by their squares: 3, 4, 5.
    ends(0.015 * SD, part(1.0, 0.02), unknown);
    ends(0.014 * SD, part(1.0, 0.02), "hardly worth it");
    // A tenth saved, give or take just a twentieth.
    let give = (1.0 - 0.9 - 0.05) / 2.0;
    ends(0.0, part(0.9, give), "worth a try");
    ends(0.0, part(0.9, 0.026), unknown);
    ends(0.0, part(0.98, 0.001), "hardly worth it");
    // More touches that make it worse.
    ends(0.0, part(1.5, 0.001), "hardly worth it");
}

#[test]
fn what_no_number_of_touches_mends_is_named_from_a_twentieth_on() {
    let lines = |shares: [f64; 3]| {
        let mut lines: Vec<BudgetLine> = ["trip depth", "growth", "soak"]
            .iter()
            .zip(shares)
            .map(|(name, share)| line(name, share))
            .collect();
        lines.push(BudgetLine { is_touches: true, ..line("plate touches", 0.5) });
        lines
    };
    let second = |shares, floor_error| {
        let more = MoreTouches { floor_error, ..more(figures(Some(known(SD)), 0.125, 20.0)) };
        let said = more_touches(&budget(lines(shares)), &more);
        assert!(said.len() <= 2, "{said:?}");
        said.get(1).cloned()
    };
    let below =
        |names| Some(format!("No number of touches brings it below 2.00 µm: they do nothing about {names}."));
    assert_eq!(second([0.2, 0.1, 0.05], 0.0), below("trip depth, growth and soak"));
    assert_eq!(second([0.2, 0.1, 0.049], 0.0), below("trip depth and growth"));
    assert_eq!(second([0.04, 0.1, 0.0], 0.0), below("growth"));
    assert_eq!(second([0.04, 0.04, -0.1], 0.0), None);
    // Known to a tenth, by twice its error: 0.1 µm.
    let chance = Some("Too few runs (--each) to tell what is left with any number of touches.".to_owned());
    assert_eq!(second([0.04, 0.1, 0.0], 0.1 * 0.002 / 2.0), below("growth"));
    assert_eq!(second([0.04, 0.1, 0.0], 0.000_101), chance);
    assert_eq!(second([0.04, 0.04, 0.0], 0.000_101), chance);
}

#[test]
fn touches_stand_between_what_to_fix_and_what_is_off() {
    let more = Some(more(figures(Some(known(SD / 2.0)), 0.125, 20.0)));
    let lines = vec![line("soak", 0.5), shifting("filament", 0.001)];
    let said = of(&Budget { more, simulated_mean: known(0.001), ..budget(lines) });
    let due = ["Fix first", "Twice as many", "No number", "On average", "The core"];
    assert!(said.len() == 5 && said.iter().zip(due).all(|(said, due)| said.starts_with(due)), "{said:?}");
}

/// By u² less the variance, in µm²: 16 − 15.9, 4 − 0, 9 − 1, none − 9.
fn lines_of_the_core() -> Vec<BudgetLine> {
    let mut unknown = counted("unknown", 0.0, 9e-6);
    unknown.core_u = None;
    vec![counted("wide", 0.004, 15.9e-6), counted("idle", 0.002, 0.0), counted("kept", 0.003, 1e-6), unknown]
}

#[test]
fn the_cores_u_is_alike_within_a_twentieth() {
    let with = |core_u: f64, lines| compared(&Budget { core_u, simulated_sd: known(0.004), ..budget(lines) });
    let agrees =
        |said: String| assert!(said.ends_with("the simulation shows 4.00 µm: they agree."), "{said}");
    agrees(with(0.004, lines_of_the_core()));
    agrees(with(0.004 * (1.0 + 0.05), lines_of_the_core()));
    agrees(with(0.004 * (1.0 - 0.05), lines_of_the_core()));

    let safe = "The core states u = 5.00 µm, the simulation shows 4.00 µm: the core is on the safe side by 25 %, mostly because it \
                allows 3.00 µm for kept, of which the simulated machine has 1.00 µm.";
    assert_eq!(with(0.005, lines_of_the_core()), safe);
    let idle = with(0.004_21, vec![counted("idle", 0.002, 0.0)]);
    assert!(idle.ends_with(
        "by 5 %, mostly because it allows 2.00 µm for idle, of which the simulated machine has none."
    ));
    assert!(with(0.005, Vec::new()).ends_with("on the safe side by 25 %."));

    let sure = "The core states u = 3.00 µm, the simulation shows 4.00 µm: the core is too sure by 25 %, mostly about unknown: there is \
                3.00 µm of it. Check the machine file against a study.";
    assert_eq!(with(0.003, lines_of_the_core()), sure);
    let bare = with(0.003_79, Vec::new());
    assert!(bare.ends_with("the core is too sure by 5 %. Check the machine file against a study."), "{bare}");
}

#[test]
fn names_in_a_list() {
    let all = [listed(&[]), listed(&["a"]), listed(&["a", "b"]), listed(&["a", "b", "c"])];
    assert_eq!(all, ["", "a", "a and b", "a, b and c"]);
}
