//! The ways in which people set the height of the first layer.

use zdatum::series::MOST_TOUCHES;
use zdatum::{Centre, Setup, Station, Uncertainty};

/// Feel of a gauge or a sheet of paper, one standard deviation, mm (*common practice*).
pub const FEEL: f64 = 0.010;

/// What the names of its variants begin with.
const THREE: &str = "three touches, ";

/// A way to set the height of the first layer.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Method {
    /// Set by hand with a gauge, once; never measured again.
    ByHand,
    /// The tip touches the datum switch; the plate's height over it was set by hand, once.
    FixedSwitch,
    /// The plunger touches the plate; the way from its trip to the tip was set by hand, once.
    StoredHeight,
    /// The three touches: the core's own cycle.
    ThreeTouches {
        /// Counted touches per station.
        touches: u8,
        /// What stands for a series.
        centre: Centre,
    },
    /// Two such cycles of five touches, a fetch each; both must be accepted, their landings are averaged.
    FetchedTwice,
}

impl Method {
    /// All that are compared, in the order in which they are shown.
    pub const ALL: [Self; 10] = [
        Self::ByHand,
        Self::FixedSwitch,
        Self::StoredHeight,
        Self::ThreeTouches { touches: 1, centre: Centre::Mean },
        Self::ThreeTouches { touches: 3, centre: Centre::Mean },
        Self::ThreeTouches { touches: 5, centre: Centre::Mean },
        Self::ThreeTouches { touches: 9, centre: Centre::Mean },
        Self::ThreeTouches { touches: 5, centre: Centre::Median },
        Self::ThreeTouches { touches: 5, centre: Centre::HodgesLehmann },
        Self::FetchedTwice,
    ];

    /// Whether an interval is stated with each height.
    pub const fn states_u(self) -> bool {
        matches!(self, Self::ThreeTouches { .. })
    }

    /// For people.
    pub fn name(self) -> String {
        match self {
            Self::ByHand => "by hand, once".into(),
            Self::FixedSwitch => "fixed switch".into(),
            Self::StoredHeight => "probe, stored height".into(),
            Self::ThreeTouches { touches, centre } => {
                let centre = match centre {
                    Centre::Mean => "",
                    Centre::Median => ", median",
                    Centre::HodgesLehmann => ", Hodges–Lehmann",
                };
                format!("{THREE}{touches} each{centre}")
            }
            Self::FetchedTwice => format!("{THREE}5 each, fetched twice"),
        }
    }

    /// For a column of at most 24 characters: variants of the three touches stand indented under them.
    pub fn label(self) -> String {
        let name = self.name();
        match name.strip_prefix(THREE) {
            Some(variant) if variant.contains(',') => format!("  {variant}"),
            _ => name,
        }
    }

    /// For programs, such as `three-touches-5-median`.
    pub fn word(self) -> String {
        match self {
            Self::ByHand => "by-hand".into(),
            Self::FixedSwitch => "fixed-switch".into(),
            Self::StoredHeight => "stored-height".into(),
            Self::ThreeTouches { touches, centre } => {
                let centre = match centre {
                    Centre::Mean => "mean",
                    Centre::Median => "median",
                    Centre::HodgesLehmann => "hodges-lehmann",
                };
                format!("three-touches-{touches}-{centre}")
            }
            Self::FetchedTwice => "fetched-twice".into(),
        }
    }
}

/// The machine's setup with another number of touches and another centre; as many spare touches as the file
/// allows, and no target, which would ask for touches of its own.
///
/// # Errors
/// Why this machine does not allow it.
pub fn with_touches(setup: &Setup, touches: u8, centre: Centre) -> Result<Setup, String> {
    let mut draft = setup.draft().clone();
    let studied = Station::ALL.iter().all(|station| draft.pooled.of(*station).is_some());
    if touches == 1 && !studied {
        return Err("a single touch says nothing of its scatter: it needs a study ([pooled])".into());
    }
    let spare = draft.touch.most.saturating_sub(draft.touch.least);
    draft.touch.least = touches;
    draft.touch.most = touches.saturating_add(spare).min(MOST_TOUCHES as u8);
    draft.touch.centre = centre;
    draft.touch.target_u = Uncertainty::ZERO;
    Setup::check(draft).map_err(|bad| bad.to_string())
}

#[cfg(test)]
mod tests;
