//! Whether the touches are good enough for a tolerance of the first layer.

use zdatum::Station;

/// Largest share of the tolerance that the expanded uncertainty of a measurement may take: 30 % (ISO 22514-7,
/// for a whole measuring process; *from memory*).
pub const MOST_SHARE: f64 = 0.30;
/// k of the expanded uncertainty, for about 95 %.
pub const FACTOR: f64 = 2.0;

/// Touches beyond which more of them are no advice.
pub const MOST_TOUCHES: usize = zdatum::series::MOST_TOUCHES;

/// One part of the landing's uncertainty that a study sees.
#[derive(Clone, Copy, Debug, PartialEq, serde::Serialize)]
pub struct CapabilityPart {
    /// Whose switch.
    #[serde(rename = "source", serialize_with = "touches_of")]
    pub station: Station,
    /// Standard uncertainty.
    pub u: f64,
    /// Share of u², 0 to 1.
    pub share: f64,
}

/// A station's touches as a source of uncertainty, in words.
pub fn source(station: Station) -> &'static str {
    match station {
        Station::Tip => "tip touches",
        Station::Shoulder => "shoulder touches",
        Station::Plate => "plate touches",
    }
}

fn touches_of<S: serde::Serializer>(station: &Station, serializer: S) -> Result<S::Ok, S::Error> {
    serializer.serialize_str(source(*station))
}

/// What a study says of a tolerance ±`within`.
#[derive(Clone, Debug, PartialEq)]
pub struct Capability {
    /// The tolerance.
    pub within: f64,
    /// Touches per station.
    pub touches: usize,
    /// Largest first; at least one.
    pub parts: Vec<CapabilityPart>,
    /// U = 2·√Σu².
    pub expanded: f64,
    /// U/within.
    pub share: f64,
    /// Touches per station with which U would take the most that it may; `None` where not even
    /// [`MOST_TOUCHES`] do.
    pub enough: Option<usize>,
    /// U with [`MOST_TOUCHES`] per station.
    pub least: f64,
    /// Whether the motor's steps alone take more than U may: neither more touches nor a better switch goes
    /// below them.
    pub stepped: bool,
    /// U were the span's moves from run to run counted too; `None` where none are seen. They are the plate's
    /// lying, which a landing follows, unless the plate stayed on: then the probe itself moves.
    pub with_span: Option<f64>,
    /// Stations that the log does not tell about.
    pub missing: Vec<Station>,
}

impl Capability {
    /// From each station's variance of one touch with the floor below which no mean's goes, and the span's
    /// variance from run to run.
    pub fn of(
        within: f64,
        touches: usize,
        switches: &[(Station, f64)],
        floor: f64,
        span: Option<f64>,
        missing: Vec<Station>,
    ) -> Option<Self> {
        let at = |n: usize, variance: f64| (variance / n as f64).max(floor);
        let sum = |n: usize| -> f64 { switches.iter().map(|(_, variance)| at(n, *variance)).sum() };
        let total = sum(touches.max(1));
        let mut parts: Vec<CapabilityPart> = switches
            .iter()
            .map(|(station, variance)| {
                let square = at(touches.max(1), *variance);
                CapabilityPart {
                    station: *station,
                    u: square.sqrt(),
                    share: if total > 0.0 { square / total } else { 0.0 },
                }
            })
            .collect();
        parts.sort_by(|a, b| b.u.total_cmp(&a.u));
        let expanded = FACTOR * total.sqrt();
        let target = (MOST_SHARE * within / FACTOR).powi(2);
        let enough = (1..=MOST_TOUCHES).find(|n| sum(*n) <= target);
        let with_span = span.map(|span| FACTOR * (total + span).sqrt());
        let share = expanded / within;
        (!parts.is_empty()).then_some(Self {
            within,
            touches,
            parts,
            expanded,
            share,
            enough,
            least: FACTOR * sum(MOST_TOUCHES).sqrt(),
            stepped: floor * switches.len() as f64 > target,
            with_span,
            missing,
        })
    }

    /// Whether it is good enough.
    pub fn good(&self) -> bool {
        self.share <= MOST_SHARE
    }
}

#[cfg(test)]
mod tests;
