//! The core's sources of uncertainty in words.

use zdatum::{Setup, Source, Warming};

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
        Source::Readings(follows) => format!("{} temperature readings", follows.word()),
        Source::Soak => "soak".into(),
        Source::TipBetween => "tip from series to series".into(),
        Source::SpanBetween => "span from series to series".into(),
        Source::Unseen => "unseen".into(),
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
        // Once trimmed, the growth's error at the trim's warming is in the trip depth: only the difference counts.
        Source::Growth(index) => match setup.draft().growth.get(usize::from(index)) {
            Some(part) if part.trimmed != Warming::ZERO => "a gauge check at this warming",
            _ => "touching nearer print heat",
        },
        Source::Readings(_) => "a better temperature reading",
        Source::TipBetween => "a better datum switch",
        Source::SpanBetween => "a better probe mount",
        Source::Unseen => "more gauge checks in the ledger",
        Source::Soak => "a longer soak",
        Source::Other(_) => "",
    }
}
