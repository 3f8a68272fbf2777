//! `zdatum page`: the bench in a browser, served by this command.

use std::io::Write;
use std::net::{IpAddr, Ipv4Addr, SocketAddr, TcpListener};
use std::path::PathBuf;
use std::sync::atomic::AtomicBool;

use zdatum_sim::files::MachineFile;
use zdatum_sim::history::usual_place;
use zdatum_sim::page::{Limits, Shown, Token, serve};
use zdatum_sim::text::Problem;
use zdatum_sim::text::name::shown_path;

use super::machine::{DEMO_NAME, demo};
use super::numbers::whole;
use super::{Answer, keeping};

/// Serve the bench to a browser on this computer: change noise, touches, speed, and see the error follow
#[derive(clap::Args)]
#[command(after_help = "\
Examples:
  zdatum page                            prints an address; open it in a browser
  zdatum page --machine machine.toml     your own machine at the bench
  zdatum page --port 8080 --history h.sqlite

Only this computer can reach it, and only with the whole address printed: it ends in a token that is \
new each time. Nothing is written. Ctrl-C ends it.")]
pub(crate) struct Args {
    /// Machine file (TOML) at the bench; without it the demo's
    #[arg(short, long, value_name = "FILE")]
    machine: Option<PathBuf>,
    /// The history to browse [default: where the platform keeps such data, if there is one]
    #[arg(long, value_name = "FILE")]
    history: Option<PathBuf>,
    /// Port; 0 for any free one
    #[arg(long, default_value_t = 0, value_parser = whole::<u16>(0..=65_535))]
    port: u16,
    /// Address of this computer to serve at. Any but a loopback address lets the whole network ask, unencrypted
    #[arg(long, value_name = "ADDRESS", default_value_t = IpAddr::V4(Ipv4Addr::LOCALHOST))]
    bind: IpAddr,
}

pub(crate) fn run(args: &Args) -> Result<Answer, Problem> {
    let machine = match &args.machine {
        Some(path) => MachineFile::read(path)?,
        None => demo()?,
    };
    let machine_name = args.machine.as_ref().map_or_else(|| DEMO_NAME.into(), |path| shown_path(path));
    let history = match &args.history {
        Some(path) => {
            // Told now rather than in the browser.
            keeping::open(Some(path))?;
            Some(path.clone())
        }
        None => usual_place().ok().filter(|path| path.exists()),
    };
    if args.bind.is_unspecified() {
        return Err(Problem::new(format!("{} is every address of this computer at once", args.bind))
            .remedy("name the one that the browser will use"));
    }
    let at = SocketAddr::new(args.bind, args.port);
    let cannot = |error: std::io::Error| {
        Problem::new(format!("cannot serve at {at}: {error}")).remedy("leave out --port for any free one")
    };
    let listener = TcpListener::bind(at).map_err(cannot)?;
    let own = listener.local_addr().map_err(cannot)?;
    let token = Token::random().map_err(|error| Problem::new(format!("no random numbers: {error}")))?;
    let mut notes = anstream::stderr().lock();
    if !args.bind.is_loopback() {
        let _ = writeln!(
            notes,
            "Whoever is on this network and learns the address can ask this computer to simulate, and see what is shown."
        );
    }
    let mut out = anstream::stdout().lock();
    let told = writeln!(out, "http://{own}/#{}", token.text()).and_then(|()| out.flush());
    told.map_err(|error| Problem::new(format!("cannot write to standard output: {error}")))?;
    drop(out);
    let _ = writeln!(notes, "Open it in a browser on this computer. Ctrl-C ends it.");
    drop(notes);
    let shown = Shown { machine, machine_name, history };
    serve(&listener, shown, token, Limits::default(), &AtomicBool::new(false)).map_err(cannot)?;
    Ok(Answer::new(String::new(), true))
}
