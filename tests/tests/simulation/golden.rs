//! The result table of a grid of scenarios, seeded: any change of the world, of the cycle or of the numbers
//! shows here.
//!
//! Where a change is meant, `ZDATUM_REWRITE=1 cargo test -p zdatum-tests --test simulation golden` writes the
//! table anew.

use std::fmt::Write as _;
use std::path::Path;

use zdatum_world::engine::Tally;

use crate::machines::{Case, SILENT};

const RUNS: u64 = 2_000;

/// Motor steps in so many mm.
const STEPS: [(u32, u32); 3] = [(960, 1), (1_600, 3), (100, 1)];

fn scenarios() -> Vec<(String, Case)> {
    let mut all = Vec::new();
    for n in [3_u8, 5, 9] {
        for studied in [true, false] {
            for steps in STEPS {
                for what in ["sound", "outliers", "filament", "drift"] {
                    let mut case = Case {
                        draft: zdatum_tests::machine::workshop(),
                        noise: SILENT,
                        faults: Vec::new(),
                        seed: 1,
                    };
                    case = case.touches(n, 2 * n).switches(0.0013, 0.0012, 0.0026);
                    case.draft.travel.steps = steps;
                    case = case.studied(studied.then_some([0.0014, 0.0013, 0.0027]));
                    (case.noise.reseat, case.noise.latency_jitter_s) = (0.02, 0.0002);
                    match what {
                        "outliers" => (case.noise.outlier_rate, case.noise.outlier_size) = (0.03, 0.05),
                        "filament" => (case.noise.tip_filament, case.noise.tip_squash) = (0.02, 0.3),
                        "drift" => (case.noise.drift, case.noise.drift_tau_s) = (0.06, 900.0),
                        _ => {}
                    }
                    let study = if studied { "study" } else { "own" };
                    all.push((format!("{n} {study:5} {:>4}/{} {what:8}", steps.0, steps.1), case));
                }
            }
        }
    }
    all
}

/// Lengths in nm, so that every bit of a height shows.
fn row(tally: &Tally) -> String {
    let nm = |mm: Option<f64>| mm.map_or("-".into(), |mm| format!("{:.1}", mm * 1e6));
    let quantile = |p| nm(tally.errors.quantile(p).map(|quantile| quantile.value));
    let (low, high) = tally.errors.extremes().unzip();
    let mut row = format!(
        "{:>5} {:>8} {:>8} {:>9} {:>9} {:>9} {:>9} {:>6} {:>7.3} {:>7.3}",
        tally.accepted,
        nm(tally.mean().map(|mean| mean.value)),
        nm(tally.sd().map(|sd| sd.value)),
        nm(low),
        quantile(0.025),
        quantile(0.975),
        nm(high),
        tally.coverage().map_or("-".into(), |share| format!("{:.3}", share.value)),
        tally.touches_mean(),
        tally.cycle_s_mean(),
    );
    for (kind, count) in tally.refusals() {
        let _ = write!(row, " {} {count}", kind.word());
    }
    row
}

fn table() -> String {
    let mut table = format!(
        "# First-layer error over {RUNS} cycles a row, lengths in nm. Written by the test `golden`; see there how.\n\
         # touches, study or own s, steps/mm, scenario: accepted, mean, sd, min, 2.5 %, 97.5 %, max, coverage, touches, s, refused\n"
    );
    for (name, case) in scenarios() {
        let _ = writeln!(table, "{name} {}", row(&case.tally(RUNS)));
    }
    table
}

#[test]
fn golden() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/simulation/golden.txt");
    let now = table();
    if std::env::var_os("ZDATUM_REWRITE").is_some() {
        std::fs::write(&path, &now).expect("the table can be written");
        return;
    }
    let kept = std::fs::read_to_string(&path).expect("the table stands in the source tree");
    for (kept, now) in kept.lines().zip(now.lines()) {
        assert_eq!(now, kept, "a row has changed; see this test's source where that is meant");
    }
    assert_eq!(now.lines().count(), kept.lines().count(), "rows have come or gone");
}
