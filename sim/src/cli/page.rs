//! `zdatum page`: the bench in a browser, served by this command.

use std::io::Write;
use std::net::{IpAddr, Ipv4Addr, SocketAddr, TcpListener};
use std::path::PathBuf;
use std::sync::atomic::AtomicBool;

use zdatum_sim::files::MachineFile;
use zdatum_sim::history::usual_place;
use zdatum_sim::page::{Limits, PageShown, Token, serve};
use zdatum_sim::text::Problem;
use zdatum_sim::text::name::shown_path;

use super::machine::{DEMO_NAME, demo};
use super::numbers::whole;
use super::{Answer, keeping};

/// Serve the bench to a browser on this computer: change noise, touches or speed and watch the error
#[derive(clap::Args)]
#[command(after_help = "\
Examples:
  zdatum page                            prints an address; open it in a browser
  zdatum page --machine machine.toml     your own machine on the bench
  zdatum page --port 8080 --history h.sqlite

Only this computer can reach it, and only with the whole address printed, which ends in a new token \
each time. Nothing is written. Ctrl-C stops it.")]
pub(crate) struct Args {
    /// Machine file (TOML) on the bench [default: the demo's]
    #[arg(short, long, value_name = "FILE")]
    machine: Option<PathBuf>,
    /// History to browse [default: the platform's data folder, if a history is there]
    #[arg(long, value_name = "FILE")]
    history: Option<PathBuf>,
    /// Port; 0 picks a free one
    #[arg(long, default_value_t = 0, value_parser = whole::<u16>(0..=65_535))]
    port: u16,
    /// Address of this computer to serve on. Any but a loopback address opens it, unencrypted, to the whole
    /// network
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
        return Err(Problem::new(format!("{} means every address of this computer", args.bind))
            .remedy("give the one address that the browser will use"));
    }
    let at = SocketAddr::new(args.bind, args.port);
    let cannot = |error: std::io::Error| {
        Problem::new(format!("cannot serve on {at}: {error}")).remedy("leave out --port to pick a free one")
    };
    let listener = TcpListener::bind(at).map_err(cannot)?;
    let own = listener.local_addr().map_err(cannot)?;
    let token = Token::random().map_err(|error| Problem::new(format!("no random numbers: {error}")))?;
    let mut notes = anstream::stderr().lock();
    if !args.bind.is_loopback() {
        let _ = writeln!(
            notes,
            "Anyone on this network who learns the address can make this computer simulate and see what the \
                page shows."
        );
    }
    let mut out = anstream::stdout().lock();
    let told = writeln!(out, "http://{own}/#{}", token.text()).and_then(|()| out.flush());
    told.map_err(|error| Problem::new(format!("cannot write to standard output: {error}")))?;
    drop(out);
    let _ = writeln!(notes, "Open this address in a browser on this computer. Ctrl-C stops the server.");
    drop(notes);
    let shown = PageShown { machine, machine_name, history };
    serve(&listener, shown, token, Limits::default(), &AtomicBool::new(false)).map_err(cannot)?;
    Ok(Answer::new(String::new(), true))
}
