//! The core's sources of uncertainty in words.

use zdatum::{Setup, Source};

/// A source in words; growing parts by their names in the machine file.
pub fn words(growth_names: &[String], source: Source) -> String {
    match source {
        Source::Touches(station) => format!("{} touches", station.word()),
        Source::TripDepth => "trip depth".into(),
        Source::PlateLatency => "plate switch latency".into(),
        Source::DatumLatency => "datum switch latency".into(),
        Source::Growth(index) => match growth_names.get(usize::from(index)) {
            Some(name) => name.clone(),
            None => format!("growth {}", index + 1),
        },
        Source::Soak => "soak".into(),
        Source::Other(index) => format!("source {}", index + 1),
    }
}

/// What would reduce a source.
pub fn reduced_by(setup: &Setup, source: Source) -> &'static str {
    match source {
        Source::Touches(station) if setup.draft().pooled.of(station).is_none() => "more touches, or a study",
        Source::Touches(_) => "more touches",
        Source::TripDepth => "a gauge check",
        Source::PlateLatency => "touching at the trim's speed",
        Source::DatumLatency => "one speed for tip and shoulder",
        Source::Growth(_) => "touching nearer print heat",
        Source::Soak => "a longer soak",
        Source::Other(_) => "",
    }
}
