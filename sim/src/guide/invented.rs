//! The machine that answers in practice: one and the same from cycle to cycle, with plates that keep their
//! heights.

use crate::files::checks::{CountedCheck, Reading};
use crate::world::picked::{Drawn, Streams};
use crate::world::{Machine, Noise, SOUND, World};

/// What is the machine's own follows from this seed.
const OWN: u64 = 1;

/// A cycle of the invented machine.
#[derive(Clone, Copy, Debug)]
pub struct Practice<'a> {
    /// Seed of this cycle: its touches, and how the probe seats.
    pub seed: u64,
    /// The machine's noise.
    pub noise: &'a Noise,
    /// Which plate is on: its height follows from its name.
    pub plate: &'a str,
    /// Gauge checks that the machine file remembers.
    pub checks: &'a [CountedCheck],
}

impl Practice<'_> {
    /// The world of the cycle. After each request [`Streams::follow`] is to be called.
    pub fn begin<'m>(&self, machine: &'m Machine) -> (Streams, World<'m>) {
        let seed_of = |drawn| match drawn {
            Drawn::TripDepth | Drawn::DatumLatency | Drawn::PlateLatency | Drawn::Growth => OWN,
            Drawn::Plate => number_of(self.plate),
            Drawn::Position | Drawn::Seating | Drawn::Touches(_) => self.seed,
        };
        let (streams, mut world) = Streams::begin(machine, &SOUND, 0, seed_of);
        if let Some(found) = found_first(self.checks) {
            // The file's trip depth has been trimmed since, by the truth: drawn about it, the truth would
            // move with each trim. What the check found held the growth that the file does not know of.
            let truth = &mut world.truth;
            truth.trip_depth_seen = found + (truth.landing - truth.tip - truth.rise) - machine.growth();
        }
        (streams, world)
    }
}

/// The trip depth that the first gauge check found, mm: before it the machine file's was the sheet's, at
/// speed 0.
fn found_first(checks: &[CountedCheck]) -> Option<f64> {
    let first = checks.first()?;
    Some(match first.reading {
        Reading::Gauge { gauge, felt } => first.made_with.to_f64() + gauge.to_f64() - felt.to_f64(),
        Reading::Nudge(nudge) => first.made_with.to_f64() - nudge.to_f64(),
    })
}

/// A number of its own for each name (FNV-1a of Fowler, Noll and Vo; *from memory*).
fn number_of(name: &str) -> u64 {
    let mix = |number: u64, byte: u8| (number ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01B3);
    name.bytes().fold(0xCBF2_9CE4_8422_2325, mix)
}
