//! The page's histogram and the document's quantiles, on sound machines and on others.

use super::simulate::{document, machine, number};
use super::tool::{Folder, MACHINE, demo, run};

/// The rows of a page's histogram: their middles in mm, whether each is marked as beyond the tolerance, their
/// shares in per cent.
fn rows(page: &str) -> Vec<(f64, bool, f64)> {
    page.lines()
        .filter_map(|line| {
            let (left, right) = line.split_once('│')?;
            let (middle, mark) = left.split_once(" µm ")?;
            let share = right.trim_start_matches(|c: char| !c.is_ascii_digit()).strip_suffix(" %")?;
            let middle = middle.trim().parse::<f64>().expect("a height") / 1e3;
            Some((middle, mark == "!", share.parse().expect("a share")))
        })
        .collect()
}

#[test]
fn the_histogram_says_what_the_quantiles_say() {
    let folder = Folder::new();
    // Nothing wrong, a tip with filament on it (the error has a mean of 0.06 mm and zero is still near), and
    // a mean so far off that zero would squeeze the rest into a row.
    let biased = machine(&folder, "tip_filament = 0.06\ntip_squash = 0.0");
    let far = folder.write(
        "far.toml",
        format!("{MACHINE}\n[noise]\ndrift = 0.30\ndrift_tau_s = 300.0\nprint_delay_s = 3000.0\n"),
    );
    let sound = demo("machine.toml");
    for (file, within, zero) in
        [(&sound, "0.0125", true), (&sound, "5", true), (&biased, "0.02", true), (&far, "0.02", false)]
    {
        let args = ["simulate", "-m", file, "--runs", "20000", "--within", within];
        let page = run(&args).out;
        let document = run(&[&args[..], &["--json"]].concat()).json();
        let (error, tolerance) = (&document["error"], number(&document["within"]));
        let rows = rows(&page);
        assert_eq!(rows.len(), 17, "{page}");
        let height = (rows[16].0 - rows[0].0) / 16.0;
        let (low, high) = (rows[0].0 - height / 2.0, rows[16].0 + height / 2.0);
        // Rows are shown to one digit of their height.
        let fuzz = 0.06 * height;
        let quantile = |name: &str| number(&error["quantiles"][name]);
        assert!(low <= quantile("0.001") + fuzz && quantile("0.999") - fuzz <= high, "{page}");
        assert_eq!(low <= 0.0 && 0.0 <= high, zero, "{page}");
        // Nearly all errors are in the rows, and no row holds half of them.
        let shown: f64 = rows.iter().map(|(_, _, share)| share).sum();
        assert!((99.0..=100.9).contains(&shown), "{shown} % in\n{page}");
        assert!(rows.iter().all(|(_, _, share)| *share < 50.0), "{page}");
        // The shares up to the row of a quantile are the quantile's.
        for (name, p) in [("0.025", 2.5), ("0.5", 50.0), ("0.975", 97.5)] {
            let row_below = rows.iter().filter(|(middle, ..)| middle + height / 2.0 <= quantile(name));
            let row_above = rows.iter().filter(|(middle, ..)| middle - height / 2.0 <= quantile(name));
            let below: f64 = row_below.map(|(_, _, share)| share).sum();
            let above: f64 = row_above.map(|(_, _, share)| share).sum();
            assert!(below <= p + 1.0 && p <= above + 1.0, "{name}: {below} to {above} in\n{page}");
        }
        // Marked is what is beyond the tolerance, and nothing else.
        for (middle, marked, _) in &rows {
            if (middle.abs() - tolerance).abs() > fuzz {
                assert_eq!(*marked, middle.abs() > tolerance, "{middle} in\n{page}");
            }
        }
        let (in_um, all) = (1e3 * tolerance, rows.iter().any(|(_, marked, _)| *marked));
        assert_eq!(page.contains(&format!("! beyond ±{in_um} µm")), all, "{page}");
        assert!(page.contains(&format!("Beyond ±{within} mm: ")), "{page}");
        // What is off the chart is told, where there is any; what ends in the outermost row may be either.
        let (min, max) = (number(&error["min"]), number(&error["max"]));
        let told = page.contains("off the chart: ");
        if min < low - fuzz || max > high + fuzz {
            assert!(told, "{page}");
        }
        if min > low + fuzz && max < high - fuzz {
            assert!(!told, "{page}");
        }
    }
}

#[test]
fn quantiles_are_true_where_the_first_runs_do_not_show_the_tail() {
    let folder = Folder::new();
    let text = std::fs::read_to_string(demo("machine.toml")).expect("the demo");
    // With so few degrees of freedom no cycle is noisier than studied.
    let mut text = format!("{}\n", text.replace("dof = 54", "dof = 11"));
    for (key, value) in [
        ("trip_depth_u", "0.0001"),
        ("um_per_c_u", "0.0"),
        ("latency_u_s", "0.0"),
        ("band", "1.0"),
        ("outlier_size", "0.6"),
        ("outlier_rate", "0.0016"),
    ] {
        let lines = text.lines().map(|line| match line.strip_prefix(key) {
            Some(rest) if rest.trim_start().starts_with('=') => format!("{key} = {value}"),
            _ => line.to_owned(),
        });
        text = lines.collect::<Vec<_>>().join("\n");
        assert!(text.contains(&format!("{key} = {value}")));
    }
    let file = folder.write("machine.toml", text);
    let document = document(&["-m", &file, "--runs", "60000", "--seed", "18"]);
    let (error, n) = (&document["error"], number(&document["accepted"]));
    // A wild touch of 0.6 mm at one of 5 counted ones is 0.12 mm; about 1.2 % of the cycles have one, either
    // sign alike.
    let high = number(&error["quantiles"]["0.999"]);
    assert!((0.118..0.122).contains(&high), "{error}");
    assert!(number(&error["quantile_resolution"]) < 0.13 / 16_384.0, "{error}");
    // Kurtosis p·0.12⁴ over (p·0.12²)²: the standard deviation is far less sure than with normal errors.
    let normal = number(&error["sd"]) / (2.0 * n).sqrt();
    assert!(number(&error["sd_standard_error"]) > 4.0 * normal, "{error}");
}
