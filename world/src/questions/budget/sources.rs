//! What makes the simulated error: each source of the world, and the world without it.

use zdatum::{Draft, Growth, Latency, Setup, Source, Station, Uncertainty};

use crate::truth::trip_depth_u;
use crate::words::{reduced_by, words};
use crate::{self as world, Noise};

/// The finest motor steps that can be named: 2^14 in a millimetre.
const FINEST: (u32, u32) = (1 << 14, 1);

/// A source that can be switched off, while every draw stays as it was.
#[derive(Clone, Debug)]
pub(super) struct Switchable {
    /// In words.
    pub(super) source: String,
    /// The core's source on the same line.
    pub(super) core: Option<Source>,
    /// Whether more touches average it.
    pub(super) is_touches: bool,
    /// What would reduce it.
    pub(super) reduced_by: &'static str,
    /// Where the core counts it, where not on this line.
    pub(super) note: &'static str,
    /// The world without it; `None` where the world has none of it.
    pub(super) without: Option<world::Machine>,
}

/// What the world is made of.
struct Made<'m> {
    growth_names: &'m [String],
    setup: &'m Setup,
    noise: &'m Noise,
}

/// Every source of the core's and of the world's, in the order of `docs/uncertainty.md`.
pub(super) fn all(growth_names: &[String], setup: &Setup, noise: &Noise) -> Vec<Switchable> {
    let made = Made { growth_names, setup, noise };
    let draft = setup.draft();
    let mut all = vec![
        made.core(Source::Touches(Station::Tip), made.quiet(noise.tip_switch, |n| n.tip_switch = 0.0)),
        made.core(
            Source::Touches(Station::Shoulder),
            made.quiet(noise.shoulder_switch, |n| n.shoulder_switch = 0.0),
        ),
        made.core(Source::Touches(Station::Plate), made.quiet(noise.plate_switch, |n| n.plate_switch = 0.0)),
        made.core(
            Source::TripDepth,
            made.known(trip_depth_u(draft), |d| d.probe.trip_depth_u = Uncertainty::LEAST),
        ),
        made.core(
            Source::PlateLatency,
            made.known(draft.probe.delay.latency_u.to_f64(), |d| d.probe.delay.latency_u = Latency::ZERO),
        ),
        made.core(
            Source::DatumLatency,
            made.known(draft.datum_switch.delay.latency_u.to_f64(), |d| {
                d.datum_switch.delay.latency_u = Latency::ZERO;
            }),
        ),
        made.core(Source::Soak, made.quiet(noise.drift, |n| n.drift = 0.0)),
        made.core(Source::Unseen, made.quiet(noise.unseen, |n| n.unseen = 0.0)),
    ];
    for (index, part) in draft.growth.iter().enumerate() {
        let without = made.known(part.rate_u.to_f64(), |d| {
            if let Some(part) = d.growth.get_mut(index) {
                part.rate_u = Growth::ZERO;
            }
        });
        all.push(made.core(Source::Growth(index as u8), without));
    }
    all.extend(made.of_the_world_alone());
    all
}

impl Made<'_> {
    fn core(&self, source: Source, without: Option<world::Machine>) -> Switchable {
        Switchable {
            source: words(self.growth_names, source),
            core: Some(source),
            is_touches: matches!(source, Source::Touches(_)),
            reduced_by: reduced_by(self.setup, source),
            note: "",
            without,
        }
    }

    /// What the core counts elsewhere or not at all.
    fn of_the_world_alone(&self) -> [Switchable; 8] {
        let noise = self.noise;
        let one = |source: &str, is_touches, reduced_by, note, without| Switchable {
            source: source.into(),
            core: None,
            is_touches,
            reduced_by,
            note,
            without,
        };
        // Wild touches of no size, not none: their draws are made all the same.
        let tame = if noise.outlier_rate > 0.0 { noise.outlier_size } else { 0.0 };
        let fine = self.known(1.0, |draft| draft.travel.steps = FINEST);
        let counted_there = "counted in the touches";
        let spread = self.spread_over_steps();
        [
            one(
                "latency jitter",
                spread,
                "more touches, or slower ones",
                counted_there,
                self.quiet(noise.latency_jitter_s, |n| n.latency_jitter_s = 0.0),
            ),
            one("motor steps", spread, "finer steps", counted_there, fine),
            one(
                "wild touches",
                false,
                "finding their cause",
                "not counted: the band keeps them out",
                self.quiet(tame, |n| n.outlier_size = 0.0),
            ),
            one(
                "filament on the tip",
                false,
                "a clean tip",
                "not counted: it is refused as walking",
                self.quiet(noise.tip_filament, |n| n.tip_filament = 0.0),
            ),
            one(
                "seating of the probe",
                false,
                "",
                "cancels: shoulder and plate share a fetch",
                self.quiet(noise.reseat, |n| n.reseat = 0.0),
            ),
            one(
                "shift from series to series",
                false,
                "a better switch or mount",
                "counted by the terms from series to series, where a study found any",
                self.quiet(noise.station_shift, |n| n.station_shift = 0.0),
            ),
            one(
                "cyclic error of the drive",
                false,
                "a better drive",
                "counted as unseen, where the file allows for it",
                self.quiet(noise.cyclic, |n| n.cyclic = 0.0),
            ),
            one(
                "temperature readings",
                false,
                "a better temperature reading",
                "counted where delta_u_c states it",
                self.quiet(noise.temperature_error_c, |n| n.temperature_error_c = 0.0),
            ),
        ]
    }

    /// Whether the touches of every station scatter over enough of a motor step that their mean is finer than
    /// the step: by half of it, where what is left of the step, exp(−2π²/4)/π of its width, is below 1/400.
    /// Quieter touches all give the same step, however many they are.
    fn spread_over_steps(&self) -> bool {
        let (noise, draft) = (self.noise, self.setup.draft());
        let (steps, mm) = draft.travel.steps;
        let half = f64::from(mm) / f64::from(steps.max(1)) / 2.0;
        let jitter = draft.touch.fine_speed.to_f64() * noise.latency_jitter_s;
        [noise.tip_switch, noise.shoulder_switch, noise.plate_switch]
            .iter()
            .all(|switch| libm::hypot(*switch, jitter) >= half)
    }

    /// The world with other noise, where there is any of it.
    fn quiet(&self, size: f64, change: impl Fn(&mut Noise)) -> Option<world::Machine> {
        let mut noise = *self.noise;
        change(&mut noise);
        (size != 0.0).then(|| world::Machine::new(self.setup, &noise))
    }

    /// The world of another draft, where that changes it. The cycle keeps its own setup.
    fn known(&self, size: f64, change: impl Fn(&mut Draft)) -> Option<world::Machine> {
        let mut draft = self.setup.draft().clone();
        change(&mut draft);
        let setup = Setup::check(draft).ok()?;
        (size != 0.0).then(|| world::Machine::new(&setup, self.noise))
    }
}

#[cfg(test)]
mod tests;
