//! The simulated machine at the other end of the firmware's line, and the campaigns. See `docs/loop.md`.

mod machine;
mod port;

use std::process::ExitCode;

use machine::{Ended, reference, served};
use port::{Port, Trouble};
use zdatum_boards_cases::numbers::Numbers;

const SEED: u64 = 20;

fn main() -> ExitCode {
    let mut arguments = std::env::args().skip(1);
    let (Some(image), Some(cycles)) =
        (arguments.next(), arguments.next().and_then(|n| n.parse::<u32>().ok()))
    else {
        eprintln!("drive IMAGE CYCLES: start it by tests/loop/run");
        return ExitCode::from(2);
    };
    let disturbed = (cycles / 50).clamp(4, 20);
    for (name, runs, trouble) in [
        ("whole", cycles, Trouble::None),
        ("garbled", disturbed * 2, Trouble::Garble),
        ("dropped and doubled", disturbed * 2, Trouble::DropAndDouble),
        ("cut", disturbed, Trouble::Cut),
        ("restarted", disturbed, Trouble::Restart),
    ] {
        if let Err(fault) = campaign(&image, name, runs, trouble) {
            eprintln!("{name}, seed {SEED}: {fault}");
            return ExitCode::FAILURE;
        }
    }
    println!("all campaigns passed");
    ExitCode::SUCCESS
}

fn campaign(image: &str, name: &str, runs: u32, trouble: Trouble) -> Result<(), String> {
    let begun = std::time::Instant::now();
    let mut port = Port::open(image)?;
    let (mut accepted, mut refused, mut broken) = (0, 0, 0);
    for run in 0..runs {
        let bench = machine::bench(run, SEED);
        let equal = reference(&bench, u64::from(run))?;
        port.trouble(trouble, run);
        // The turn at which the line is cut or the firmware restarted.
        let at = 1 + Numbers::of(run, 0x77).below(30);
        let seen =
            served(&mut port, &bench, run, trouble, at).map_err(|fault| format!("run {run}: {fault}"))?;
        match seen {
            Ended::Whole(words) if words == equal => {
                if words.get(1) == Some(&1) {
                    accepted += 1
                } else {
                    refused += 1
                }
            }
            Ended::Whole(words) => {
                let reasons = words.get(2).copied().unwrap_or(0);
                if trouble == Trouble::None || words.get(1) != Some(&0) || reasons == 0 {
                    return Err(format!("run {run}: not the host's bits:\n{words:?}\n{equal:?}"));
                }
                broken += 1;
            }
            Ended::BrokenOff(words) => {
                if words.get(1) != Some(&0) {
                    return Err(format!("run {run}: a landing from a broken cycle"));
                }
                broken += 1;
            }
        }
    }
    println!(
        "{name}: {runs} cycles, seed {SEED}: {accepted} landings and {refused} refusals with the host's bits, {broken} \
         broken off, each refused; {} bytes, {} frames not taken, {:.1} s",
        port.bytes,
        port.bad(),
        begun.elapsed().as_secs_f64()
    );
    Ok(())
}
