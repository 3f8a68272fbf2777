//! Images in emulation.

use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::sync::mpsc;
use std::time::{Duration, Instant};

use crate::boards::Board;

/// How an emulation ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ended {
    /// The image came to its own end.
    Finished,
    /// It stopped on a panic or a fault.
    Stopped,
}

/// What an image said.
#[derive(Clone, Debug)]
pub struct Run {
    /// Its lines, the last one not among them.
    pub lines: Vec<String>,
    /// How it ended, by its last line.
    pub ended: Ended,
}

/// Longest time for one emulation; on a busy machine most images need a few seconds.
const PATIENCE: Duration = Duration::from_secs(240);

/// Whether the board's emulator is there.
pub fn available(board: &Board) -> bool {
    let [program, ..] = board.emulator else { return false };
    let version = Command::new(program).arg("--version").stdin(Stdio::null()).output();
    version.is_ok_and(|out| out.status.success())
}

/// A process that is gone when this is.
struct Guarded(Child);

impl Drop for Guarded {
    fn drop(&mut self) {
        // It may have ended by itself in between; either way it is gone afterwards.
        let _ = self.0.kill().and_then(|()| self.0.wait());
    }
}

/// Runs an image to its last line. Some emulated processors cannot end their emulation: the line decides.
pub fn run(board: &Board, image: &Path, more: &[&str]) -> Result<Run, String> {
    let mut told = |_: &str| {};
    follow(board, image, more, false, &mut told)
}

/// The same, with every line of the emulator's own log handed over.
pub fn trace(board: &Board, image: &Path, told: &mut dyn FnMut(&str)) -> Result<Run, String> {
    follow(board, image, board.tracing.unwrap_or_default(), true, told)
}

enum Heard {
    Line(String),
    Log(String),
    End,
}

fn follow(
    board: &Board,
    image: &Path,
    more: &[&str],
    log: bool,
    told: &mut dyn FnMut(&str),
) -> Result<Run, String> {
    let [program, arguments @ ..] = board.emulator else { return Err("no emulator".to_owned()) };
    let mut command = Command::new(program);
    // The image's path belongs behind the last of the board's own arguments.
    command.args(more).args(arguments).arg(image).stdin(Stdio::null()).stdout(Stdio::piped());
    command.stderr(if log { Stdio::piped() } else { Stdio::null() });
    let mut child = Guarded(command.spawn().map_err(|error| format!("{program}: {error}"))?);
    let (said, heard) = mpsc::sync_channel(1 << 16);
    let lines = child.0.stdout.take().map(BufReader::new);
    let logged = child.0.stderr.take().map(BufReader::new);
    let started = Instant::now();
    std::thread::scope(|scope| {
        let say = said.clone();
        scope.spawn(move || {
            for line in lines.into_iter().flat_map(|lines| lines.split(b'\n')).map_while(Result::ok) {
                if say.send(Heard::Line(String::from_utf8_lossy(&line).trim_end().to_owned())).is_err() {
                    return;
                }
            }
            let _ = say.send(Heard::End);
        });
        scope.spawn(move || {
            for line in logged.into_iter().flat_map(BufRead::lines).map_while(Result::ok) {
                if said.send(Heard::Log(line)).is_err() {
                    return;
                }
            }
        });
        let run = listen(&heard, started, told);
        // Both readers end with the process and the channel.
        drop(child);
        drop(heard);
        run
    })
    .map_err(|error| format!("{program}: {error}"))
}

fn listen(
    heard: &mpsc::Receiver<Heard>,
    started: Instant,
    told: &mut dyn FnMut(&str),
) -> Result<Run, String> {
    let mut lines = Vec::new();
    loop {
        let left = PATIENCE.saturating_sub(started.elapsed());
        match heard.recv_timeout(left) {
            Ok(Heard::Log(line)) => told(&line),
            Ok(Heard::Line(line)) if line == "finished" => return Ok(Run { lines, ended: Ended::Finished }),
            Ok(Heard::Line(line)) if line.starts_with("stopped") => {
                return Ok(Run { lines, ended: Ended::Stopped });
            }
            Ok(Heard::Line(line)) => lines.push(line),
            Ok(Heard::End) => {
                let last = lines.last().map_or("nothing", String::as_str);
                return Err(format!("it ended without its last line, after {last:?}"));
            }
            Err(_) => return Err(format!("it did not end within {} s", PATIENCE.as_secs())),
        }
    }
}
