//! What must hold whatever the line does: nothing is driven into anything, and at the end the tool is lifted.

use zdatum::cycle::{Do, Event, Seconds};
use zdatum::{Length, Setup, Station};
use zdatum_loop_wire::Words;
use zdatum_world::World;

/// Heights in the world are doubles.
const ROUNDING: f64 = 1e-9;

/// A world that is watched.
pub(crate) struct Watched<'a> {
    pub(crate) world: World<'a>,
    setup: &'a Setup,
}

impl<'a> Watched<'a> {
    pub(crate) fn new(world: World<'a>, setup: &'a Setup) -> Self {
        Self { world, setup }
    }

    /// Carries a request out.
    ///
    /// # Errors
    /// Where something was driven lower than the request allows, into the plate, or past the datum switch's
    /// overtravel.
    pub(crate) fn carried_out(&mut self, request: Do) -> Result<Event, String> {
        let before = self.world.z;
        let event = self.world.answer(request);
        let z = self.world.z;
        let lowest = match request {
            Do::Approach { floor, .. } => floor.to_f64().min(before),
            _ => before,
        };
        if z < lowest - ROUNDING {
            return Err(format!("{request:?} went down to {z} mm"));
        }
        if let Do::Approach { station, .. } = request {
            let solid = self.solid(station);
            if z < solid - ROUNDING {
                return Err(format!(
                    "{request:?} went down to {z} mm, into what is solid from {solid} mm down"
                ));
            }
        }
        Ok(event)
    }

    /// The true height of the carriage from which on something is pressed that does not give.
    fn solid(&self, station: Station) -> f64 {
        let truth = &self.world.truth;
        let overtravel = self.setup.draft().datum_switch.overtravel.to_f64();
        let pressed = if self.world.probe_is_fetched() { truth.tip + truth.drop } else { truth.tip };
        match station {
            Station::Plate => truth.tip + truth.rise,
            _ => pressed - overtravel,
        }
    }

    /// The dead-man: stops, and rises to where it may go sideways.
    pub(crate) fn lift_by_itself(&mut self) {
        let _ = self.world.answer(Do::Lift { to: self.clear(), within: Seconds(60) });
    }

    /// Lowest height of moves sideways with what hangs on the tool.
    fn clear(&self) -> Length {
        let floors = self.setup.floors();
        if self.world.probe_is_fetched() { floors.clear_with_probe } else { floors.clear }
    }
}

/// The tool is lifted, and the probe is where the outcome says.
pub(crate) fn at_the_end(watched: &Watched<'_>, words: &Words, dead: bool) -> Result<(), String> {
    let (ending, clear, z) = (words.first().copied().unwrap_or(0), watched.clear().to_f64(), watched.world.z);
    if z < clear - ROUNDING {
        let who = if dead { "after the dead-man's time" } else { "by the cycle" };
        return Err(format!("ending {ending} {who}: the tool is left at {z} mm, clear from {clear} mm on"));
    }
    match ending {
        1 if watched.world.probe_is_fetched() => {
            Err("put back, the outcome says; the probe is on the tool".into())
        }
        1..=3 => Ok(()),
        other => Err(format!("no ending of number {other}")),
    }
}
