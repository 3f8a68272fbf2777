//! Running the tool, and what it needs to run on.

use std::ffi::OsStr;
use std::io::Write;
use std::path::PathBuf;
use std::process::{Command, Output, Stdio};

use serde_json::Value;

/// One run.
#[derive(Debug)]
pub(crate) struct Run {
    /// Exit code; `None` where a signal ended it.
    pub(crate) code: Option<i32>,
    pub(crate) out: String,
    pub(crate) err: String,
}

impl Run {
    /// The one JSON document on standard output.
    pub(crate) fn json(&self) -> Value {
        assert_eq!(self.err, "", "nothing but the document");
        serde_json::from_str(&self.out).unwrap_or_else(|error| panic!("{error}: {self:?}"))
    }

    /// What was said, whatever lines it was broken into.
    pub(crate) fn words(&self) -> String {
        self.out.split_whitespace().collect::<Vec<_>>().join(" ")
    }
}

/// The tool, without the caller's colour settings.
pub(crate) fn tool() -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_zdatum"));
    for name in ["NO_COLOR", "CLICOLOR", "CLICOLOR_FORCE"] {
        command.env_remove(name);
    }
    command
}

pub(crate) fn finish(command: &mut Command) -> Run {
    run_of(command.output().expect("the tool runs"))
}

pub(crate) fn run<S: AsRef<OsStr>>(args: &[S]) -> Run {
    finish(tool().args(args))
}

/// Runs with text on standard input.
pub(crate) fn run_with<S: AsRef<OsStr>>(args: &[S], input: &str) -> Run {
    let mut child = tool()
        .args(args)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the tool runs");
    // A tool that has seen enough need not read to the end.
    if let Err(error) = child.stdin.take().expect("a pipe").write_all(input.as_bytes()) {
        assert_eq!(error.kind(), std::io::ErrorKind::BrokenPipe);
    }
    run_of(child.wait_with_output().expect("it ends"))
}

/// A folder of files that goes away with the test.
pub(crate) struct Folder(tempfile::TempDir);

impl Folder {
    pub(crate) fn new() -> Self {
        Self(tempfile::tempdir().expect("a folder"))
    }

    pub(crate) fn path(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    pub(crate) fn write(&self, name: &str, content: impl AsRef<[u8]>) -> String {
        std::fs::write(self.path(name), content).expect("a file");
        self.path(name).to_str().expect("UTF-8").to_owned()
    }

    pub(crate) fn read(&self, name: &str) -> String {
        std::fs::read_to_string(self.path(name)).expect("a file")
    }

    pub(crate) fn read_bytes(&self, name: &str) -> Vec<u8> {
        std::fs::read(self.path(name)).expect("a file")
    }

    /// Names of all that is in it.
    pub(crate) fn names(&self) -> Vec<String> {
        let entries = std::fs::read_dir(self.0.path()).expect("a folder");
        let mut names: Vec<_> = entries
            .map(|entry| entry.expect("an entry").file_name().to_str().expect("UTF-8").to_owned())
            .collect();
        names.sort();
        names
    }
}

/// A file of the demo.
pub(crate) fn demo(name: &str) -> String {
    format!("{}/../docs/demo/{name}", env!("CARGO_MANIFEST_DIR"))
}

/// The machine of the formats' example: t = 0.640 known to 0.005, trimmed at 2 mm/s.
pub(crate) const MACHINE: &str = r#"# About this machine.
format = 1

[travel]                      # reach of the carriage
x = [0.0, 230.0]
y = [0.0, 215.0]
z = [-2.0, 200.0]
steps = [800, 1]

[stations]
tip = [204.0, 212.0]
shoulder = [204.0, 187.5]
plate = [112.0, 120.0]

[datum_switch]
tip_height = [0.2, 0.9]
overtravel = 2.0
latency_s = 0.0005
latency_u_s = 0.0002

[plate_switch]
latency_s = 0.0010
latency_u_s = 0.0005

[probe]
  trip_depth   =   0.640      # t, the one number
trip_depth_u = 0.005          # how sure
trimmed_at_speed = 2.0        # v0
drop = [6.0, 7.5]
free_height = 1.1

[plates]
rise = [-0.6, 0.8]
margin = 0.5

[touch]
first_speed = 8.0
fine_speed = 2.0
lift = 1.0
stop = 0.1
settle = 1
least = 5
most = 9
band = 0.020

[accept]
landing = [-1.0, 1.5]
shift = 0.25
expanded_u = 0.030
coverage = 0.95
# The last line, with no line end"#;

/// One good cycle for [`MACHINE`].
pub(crate) const LOG: &str = "\
station,z
tip,0.498
tip,0.499
shoulder,7.131
shoulder,7.133
plate,7.214
plate,7.213
";

/// A message that is one, on standard error alone, with all of these words, and exit code 2.
pub(crate) fn assert_refused(run: &Run, words: &[&str]) {
    assert_eq!((run.code, run.out.as_str()), (Some(2), ""), "{}", run.err);
    assert_eq!(run.err.matches("error: ").count(), 1, "{}", run.err);
    for word in words {
        assert!(run.err.contains(word), "`{word}` is missing in:\n{}", run.err);
    }
}

/// A cycle with its plate's span moved by so many micrometres.
pub(crate) fn cycle(name: &str, plate: &str, moved: i32) -> String {
    let moved = f64::from(moved) / 1e3;
    let touches = [
        ("tip", 0.498),
        ("tip", 0.499),
        ("shoulder", 7.131),
        ("shoulder", 7.133),
        ("plate", 7.214 + moved),
        ("plate", 7.213 + moved),
    ];
    touches.iter().map(|(station, z)| format!("{name},{plate},{station},{z:.3}\n")).collect()
}

/// A log of such cycles.
pub(crate) fn log(cycles: &[String]) -> String {
    format!("run,plate,station,z\n{}", cycles.concat())
}

/// Starts the tool and interrupts it, as Ctrl-C does, after so many milliseconds. Until its handler stands,
/// that simply ends the program, and on a busy host it may take a while: then it waits longer.
#[cfg(unix)]
pub(crate) fn interrupted(args: &[&str], milliseconds: u64) -> Run {
    let ended = [milliseconds, 2_000, 10_000].into_iter().find_map(|milliseconds| {
        let child =
            tool().args(args).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().expect("the tool runs");
        std::thread::sleep(std::time::Duration::from_millis(milliseconds));
        let kill = Command::new("kill").args(["-INT", &child.id().to_string()]).status();
        assert!(kill.expect("kill").success());
        let run = run_of(child.wait_with_output().expect("it ends"));
        run.code.is_some().then_some(run)
    });
    ended.expect("a handler within ten seconds")
}

fn run_of(output: Output) -> Run {
    Run {
        code: output.status.code(),
        out: String::from_utf8(output.stdout).expect("UTF-8"),
        err: String::from_utf8(output.stderr).expect("UTF-8"),
    }
}
