//! `zdatum plan`: bad arguments, and help.

use super::tool::{assert_refused, run};

#[test]
fn bad_arguments_are_refused() {
    for (arguments, named) in [
        (&["--risk", "0"][..], "0.00001 to 0.5"),
        (&["--risk", "often"], "such as 0.001"),
        (&["--risk", "NaN"], "0.00001 to 0.5"),
        (&["--within", "0"], "above 0"),
        (&["--refused-costs", "-1"], "--refused-costs"),
        (&["--threads", "0"], "--threads"),
    ] {
        let output = run(&[&["plan", "--machine", "no-such.toml"], arguments].concat());
        assert_refused(&output, &[named]);
    }
    assert_refused(&run(&["plan", "--machine", "no-such.toml"]), &["no-such.toml"]);
    assert_refused(&run(&["plan"]), &["--machine"]);
}
