//! The pictures of this project, made of [`chart`](super::chart)'s parts: what to draw, not where it is
//! shown.

pub mod budget;
pub mod histogram;
pub mod landings;
pub mod methods;
pub mod plan;
pub mod power;
pub mod refusals;
pub mod runs;
pub mod scrape;
pub mod series;
pub mod soak;
pub mod stations;
pub mod sweep;
pub mod watch;

use crate::show::chart::number;
use zdatum_world::engine::Estimate;

/// Micrometres of a length in mm.
pub(super) fn um(mm: f64) -> f64 {
    mm * 1000.0
}

/// A share in per cent with digits enough to tell it from none; `<0.001` where there is some, but less.
pub fn percent(share: f64) -> String {
    let percent = 100.0 * share;
    let places = match percent {
        p if p >= 9.95 => 0,
        p if p >= 1.995 => 1,
        p if p >= 0.0095 => 2,
        p if p >= 0.000_95 => 3,
        p if p > 0.0 => return "<0.001".into(),
        _ => 0,
    };
    // Almost all is not all.
    if percent < 100.0 && percent > 99.4 {
        format!("{percent:.1}").replace("100.0", ">99.9")
    } else {
        format!("{percent:.places$}")
    }
}

/// A share in per cent with its standard error.
pub fn estimated_share(estimate: Estimate) -> String {
    let (value, error) = (100.0 * estimate.value, 100.0 * estimate.error);
    let places = places_for(error);
    format!("{} ± {} %", number(value, places), number(error, places))
}

/// Decimals with which a standard error has two digits; one to four.
pub fn places_for(error: f64) -> usize {
    match error {
        e if e >= 1.0 => 1,
        e if e >= 0.1 => 2,
        e if e >= 0.01 || e <= 0.0 => 3,
        _ => 4,
    }
}

#[cfg(test)]
mod tests {
    use super::percent;

    #[test]
    fn shares_say_whether_there_is_any() {
        let shown = [0.0, 1e-9, 1e-5, 2e-4, 0.001_28, 0.043, 0.157, 0.999, 0.999_99, 1.0].map(percent);
        assert_eq!(shown, ["0", "<0.001", "0.001", "0.02", "0.13", "4.3", "16", "99.9", ">99.9", "100"]);
    }
}
