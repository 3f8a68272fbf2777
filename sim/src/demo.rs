//! The demo's machine, and its logs for a study and a soak: that machine in the simulated world, with a seed.

use zdatum::Speed;

use crate::files::MachineFile;
use crate::world::{self, Faults, Noise, World};
use zdatum_world::recorded;

/// The demo's machine file, which a package carries along: a copy of `docs/demo/machine.toml`, which lies
/// outside it.
pub const MACHINE: &str = include_str!("demo.toml");
/// Seed of the study.
const STUDY: u64 = 9;
/// Seed of the soak.
const SOAK: u64 = 1;
/// Fetches, and rounds of touches at each station.
const RUNS: u32 = 6;
const ROUNDS: u32 = 3;
/// In turn, so that no drift passes for latency.
const SPEEDS: [i16; 4] = [2, 6, 1, 4];
/// One touch a minute.
const TOUCHES: u32 = 150;
const EVERY: f64 = 60.0;

/// The study's log, with what it is above its header.
pub fn study(machine: &MachineFile) -> String {
    let speeds = SPEEDS.map(|speed| Speed::parse(&speed.to_string()).unwrap_or_default());
    let log = recorded::study(&machine.setup, &machine.noise, STUDY, RUNS, ROUNDS, &speeds);
    format!(
        "# A study of the demo's machine: six fetches an hour apart, twelve touches per station, at four \
            speeds in turn.\n\
         # Invented: recorded in the simulated world (seed {STUDY}) by `cargo run -p zdatum-sim --example \
         demo_logs -- study`.\n{log}"
    )
}

/// The soak's noise: the demo's, on a machine that starts cold.
fn cold(noise: &Noise) -> Noise {
    Noise { drift: 0.085, drift_tau_s: 1700.0, outlier_rate: 0.0, ..*noise }
}

/// The soak's log, likewise.
pub fn soak(machine: &MachineFile) -> String {
    let log = recorded::soak(&machine.setup, &cold(&machine.noise), SOAK, TOUCHES, EVERY);
    format!(
        "# A soak of the demo's machine: the tip touched once a minute from a cold start on.\n\
         # Invented: recorded in the simulated world (seed {SOAK}) by `cargo run -p zdatum-sim --example \
         demo_logs -- soak`.\n{log}"
    )
}

/// What is true of both.
pub fn truth(machine: &MachineFile) -> String {
    let world = world::Machine::new(&machine.setup, &machine.noise);
    let truth = World::new(&world, &Faults::NONE, STUDY, 0).truth;
    let noise = cold(&machine.noise);
    format!(
        "study: datum switch latency {:.6} s, plate switch latency {:.6} s, reseat {} mm\nsoak: growth {} \
            mm, time constant {} s\n",
        truth.datum_latency, truth.plate_latency, machine.noise.reseat, noise.drift, noise.drift_tau_s
    )
}
