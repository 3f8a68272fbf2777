use zdatum::setup::Studied;

use super::*;
use crate::engine::Estimate;
use crate::tests::machine::{SILENT, bench, prompt as draft};

fn figures(outside: Option<f64>, refused: f64) -> Figures {
    let known = |value| Estimate { value, error: 0.0 };
    Figures {
        runs: 100,
        accepted: 100,
        refusals: Vec::new(),
        mean: None,
        sd: None,
        middle: None,
        extremes: None,
        outside: outside.map(known),
        coverage: None,
        refused: known(refused),
        touches: known(12.0),
        seconds: known(20.0),
    }
}

#[test]
fn grades_on_both_sides_of_each_threshold() {
    for (outside, refused, due) in [
        (Some(0.0), 0.0, Grade::Holds),
        (Some(HOLDS), 0.0, Grade::Holds),
        (Some(0.011), 0.0, Grade::Risky),
        (Some(RISKY), REFUSES, Grade::Risky),
        (Some(0.11), REFUSES, Grade::Fails),
        (Some(0.0), 0.11, Grade::Refuses),
        (Some(0.5), 1.0, Grade::Refuses),
        (None, 0.0, Grade::Refuses),
    ] {
        assert_eq!(Grade::of(&figures(outside, refused)), due, "{outside:?}, {refused}");
    }
    let words = [Grade::Holds, Grade::Risky, Grade::Fails, Grade::Refuses].map(Grade::word);
    assert_eq!(words, ["holds", "risky", "fails", "refuses"]);
}

fn row(method: Method, grades: &[Grade]) -> MethodRow {
    let cells = Situation::ALL.iter().zip(grades);
    let cells =
        cells.map(|(at, grade)| MethodCell { situation: *at, figures: figures(None, 0.0), grade: *grade });
    MethodRow { method, cells: cells.collect() }
}

#[test]
fn a_row_holds_where_every_situation_does() {
    use Grade::{Holds, Risky};
    let holds = |grades| row(Method::ByHand, grades).holds_throughout();
    assert!(holds(&[Holds; 5]));
    assert!(!holds(&[Holds; 4]) && !holds(&[Risky; 5]) && !holds(&[]));
    assert!(!holds(&[Holds, Holds, Holds, Holds, Risky]));
}

/// All methods but so many, which are left out.
fn comparison(left_out: usize) -> Comparison {
    let (out, run) = Method::ALL.split_at(left_out);
    Comparison {
        runs: 100,
        within: 0.02,
        sizes: Sizes::of(&bench(&draft(), &SILENT).setup, &SILENT),
        feel: FEEL,
        rows: run.iter().map(|method| row(*method, &[Grade::Holds; 5])).collect(),
        left_out: out.iter().map(|method| LeftOut { method: *method, why: "why".into() }).collect(),
    }
}

#[test]
fn a_comparison_is_complete_with_every_cell_run_to_its_end() {
    assert!([0, 1, 4].iter().all(|out| comparison(*out).complete()));
    let mut missing = comparison(3);
    missing.rows.pop();
    assert!(!missing.complete());
    missing.left_out.clear();
    assert!(!missing.complete());
    let mut short = comparison(1);
    short.rows[8].cells.pop();
    assert!(!short.complete());
    let mut interrupted = comparison(1);
    interrupted.rows[0].cells[4].figures.runs = 99;
    assert!(!interrupted.complete());
    interrupted.runs = 99;
    assert!(!interrupted.complete());
}

/// Without noise every method that measures today is right where nothing changed; a single touch needs a
/// study.
#[test]
fn every_method_in_every_situation() {
    let mut draft = draft();
    draft.pooled = Studied::default();
    let bench = bench(&draft, &SILENT);
    let all = compare(&bench, 20, 0.02, &AtomicBool::new(false), &|_| {});
    assert!(all.complete());
    let left_out: Vec<_> = all.left_out.iter().map(|out| out.method.word()).collect();
    assert_eq!((all.rows.len(), left_out), (9, vec!["three-touches-1-mean".to_owned()]));
    for row in &all.rows {
        let at: Vec<_> = row.cells.iter().map(|cell| cell.situation).collect();
        assert_eq!(at, Situation::ALL);
        let measures = matches!(row.method, Method::ThreeTouches { .. } | Method::FetchedTwice);
        assert!(row.cells.iter().all(|cell| cell.grade == Grade::of(&cell.figures)));
        // While the frame grows the touches walk, and are refused.
        for cell in &row.cells[..4] {
            assert_eq!(cell.figures.coverage.is_some(), row.method.states_u(), "{row:?}");
            assert!(!measures || cell.grade == Grade::Holds, "{row:?}");
        }
    }
    let by_hand: Vec<_> = all.rows[0].cells.iter().map(|cell| cell.grade).collect();
    assert_eq!(by_hand[1..3], [Grade::Fails; 2]);
    let stopped = compare(&bench, 20, 0.02, &AtomicBool::new(true), &|_| {});
    assert!(stopped.rows.is_empty() && stopped.left_out.len() == 1 && !stopped.complete());
}
