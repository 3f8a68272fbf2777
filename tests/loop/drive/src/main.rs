//! The simulated machine at the other end of the firmware's line, and the campaigns. See `docs/boards.md`.

mod benches;
mod machine;
mod port;
mod safety;

use std::process::ExitCode;
use std::time::{Duration, Instant};

use machine::{Served, Strike, What};
use port::{Noise, Port};
use zdatum_boards_cases::numbers::Numbers;
use zdatum_loop_wire::Words;

/// Of the world's random numbers. Machines, faults and strikes follow from the number of the run.
const SEED: u64 = 20;
/// Where nothing is to be cut, a host under load must not be taken for a cut line.
const PATIENT: Duration = Duration::from_secs(10);
/// Where the line is cut, so that a campaign does not take long.
const BRISK: Duration = Duration::from_millis(400);

/// What is wrong in the middle of each run.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Strikes {
    None,
    Cut,
    Restart,
}

struct Campaign {
    name: &'static str,
    runs: u32,
    noise: Noise,
    strikes: Strikes,
    /// Fewest runs of a hundred that must have the host's bits.
    equal: u32,
}

#[derive(Default)]
struct Count {
    landings: u32,
    refusals: u32,
    refused_instead: u32,
    struck: u32,
    dead: u32,
}

fn main() -> ExitCode {
    let mut arguments = std::env::args().skip(1);
    let (Some(image), Some(cycles)) =
        (arguments.next(), arguments.next().and_then(|n| n.parse::<u32>().ok()))
    else {
        eprintln!("drive IMAGE CYCLES: start it by tests/loop/run");
        return ExitCode::from(2);
    };
    let [garbled, lossy, struck] = [5, 20, 40].map(|part| (cycles / part).max(10));
    let campaign = |name, runs, noise, strikes, equal| Campaign { name, runs, noise, strikes, equal };
    for campaign in [
        campaign("whole line", cycles, Noise::None, Strikes::None, 100),
        campaign("one byte in 1000 garbled", garbled, Noise::Garble, Strikes::None, 90),
        campaign("frames lost, cut short, doubled", lossy, Noise::Lose, Strikes::None, 90),
        campaign("line cut in mid-cycle", struck, Noise::None, Strikes::Cut, 0),
        campaign("firmware restarted in mid-cycle", struck, Noise::None, Strikes::Restart, 0),
    ] {
        if let Err(fault) = campaign.go(&image) {
            eprintln!("{}, seed {SEED}: {fault}", campaign.name);
            return ExitCode::FAILURE;
        }
    }
    println!("all campaigns passed: no landing that is not the host's, no tool left down");
    ExitCode::SUCCESS
}

impl Campaign {
    fn go(&self, image: &str) -> Result<(), String> {
        let begun = Instant::now();
        let mut port = Port::open(image)?;
        let mut count = Count::default();
        for run in 0..self.runs {
            self.one(&mut port, run, &mut count).map_err(|fault| format!("run {run}: {fault}"))?;
        }
        let Count { landings, refusals, refused_instead, struck, dead } = count;
        println!("{}: {} cycles, seed {SEED}, {:.1} s", self.name, self.runs, begun.elapsed().as_secs_f64());
        println!(
            "    {landings} landings and {refusals} refusals with the host's bits, {refused_instead} refused instead"
        );
        println!(
            "    {struck} struck, {dead} lifted by the dead-man; {} bytes, {} frames not taken by the machine",
            port.bytes,
            port.bad()
        );
        if (landings + refusals) * 100 < self.runs * self.equal {
            return Err(format!("less than {} % of the runs have the host's bits", self.equal));
        }
        if self.strikes != Strikes::None && struck < self.runs {
            return Err(format!("only {struck} of {} runs were struck", self.runs));
        }
        if self.strikes == Strikes::Cut && (dead == 0 || landings + refusals == 0) {
            return Err("long and short cuts must both come".into());
        }
        Ok(())
    }

    fn one(&self, port: &mut Port, run: u32, count: &mut Count) -> Result<(), String> {
        let bench = benches::bench(run, SEED);
        let host = benches::reference(&bench, run)?;
        let (dead_man, strike) = match self.strikes {
            Strikes::None => (PATIENT, None),
            Strikes::Cut => (BRISK, Some(self.strike(run, benches::requests(&bench, run)?))),
            Strikes::Restart => (PATIENT, Some(self.strike(run, benches::requests(&bench, run)?))),
        };
        port.mended(self.noise, run);
        let served = machine::served(port, &bench, run, dead_man, strike)
            .map_err(|fault| strike.map_or(fault.clone(), |strike| format!("{strike:?}: {fault}")))?;
        count.struck += u32::from(served.struck);
        count.dead += u32::from(served.dead);
        if let Some(Strike { what: What::Cut { quarters: 5.., .. }, .. }) = strike
            && !served.dead
        {
            return Err(format!("{strike:?}: the dead-man has not come"));
        }
        self.held(&served, &host, count).map_err(|fault| {
            format!("{fault}, {strike:?}\n    firmware {:?}\n    host {host:?}", served.words)
        })
    }

    /// When and how the run is struck: at one of its requests, and a restart at the outcome as well.
    fn strike(&self, run: u32, requests: u32) -> Strike {
        let mut numbers = Numbers::of(run, 0x77);
        if self.strikes == Strikes::Cut {
            let quarters = [1, 6, 12][(run % 3) as usize];
            let (to_board, from_board) =
                [(true, true), (true, false), (false, true)][numbers.below(3) as usize];
            return Strike {
                at: 1 + numbers.below(requests),
                what: What::Cut { quarters, to_board, from_board },
            };
        }
        let at = 1 + numbers.below(requests + 1);
        Strike { at, what: What::Restart { carried_out: at > requests || numbers.one_in(2) } }
    }

    /// The host's bits, or, where something was wrong with line or board, a refusal.
    fn held(&self, served: &Served, host: &Words, count: &mut Count) -> Result<(), String> {
        let (landing, reasons) = (served.words.get(1) != Some(&0), served.words.get(2).copied().unwrap_or(0));
        if served.broken_off && landing {
            return Err("a landing from a cycle that broke off".into());
        }
        if served.words == *host {
            if landing {
                count.landings += 1;
            } else {
                count.refusals += 1;
            }
            return Ok(());
        }
        if landing || reasons == 0 || self.noise == Noise::None && self.strikes == Strikes::None {
            return Err("not the host's bits".into());
        }
        count.refused_instead += 1;
        Ok(())
    }
}
