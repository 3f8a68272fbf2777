//! Compilers, and what is built with them.

use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

/// Where the boards' own workspace lies.
pub struct Place {
    pub boards: PathBuf,
    pub target: PathBuf,
}

/// A compiler with a core library, ready made or in source, for some board.
pub struct Toolchain {
    cargo: PathBuf,
    rustc: PathBuf,
    /// The core library is built from its source first.
    from_source: bool,
    /// As it calls itself, `rustc 1.95.0`.
    pub name: String,
}

/// Debian's compiler; beside it, the source of its core library.
const DEBIAN: &str = "/usr/bin";

impl Toolchain {
    /// The toolchain that runs this check, where it has the core library of `target`.
    pub fn ready_made(target: &str) -> Option<Self> {
        let folder = output(Command::new("rustc").args(["--print", "target-libdir", "--target", target]))?;
        let core = std::fs::read_dir(folder)
            .ok()?
            .flatten()
            .any(|entry| entry.file_name().to_string_lossy().starts_with("libcore-"));
        if !core {
            return None;
        }
        let name = version(Path::new("rustc"))?;
        Some(Self { cargo: "cargo".into(), rustc: "rustc".into(), from_source: false, name })
    }

    /// Debian's toolchain, where it is installed with its source.
    pub fn debian() -> Option<Self> {
        let (cargo, rustc) = (Path::new(DEBIAN).join("cargo"), Path::new(DEBIAN).join("rustc"));
        let sysroot = output(Command::new(&rustc).args(["--print", "sysroot"]))?;
        let source = Path::new(&sysroot).join("lib/rustlib/src/rust/library/core/Cargo.toml");
        if !cargo.is_file() || !source.is_file() {
            return None;
        }
        let name = version(&rustc)?;
        Some(Self { cargo, rustc, from_source: true, name })
    }

    /// Runs cargo on the boards' workspace; the error is what it said.
    fn cargo(
        &self,
        place: &Place,
        command: &str,
        arguments: &[&str],
        settings: &[(&str, &str)],
    ) -> Result<(), String> {
        let mut cargo = Command::new(&self.cargo);
        cargo.current_dir(&place.boards).arg(command).arg("--target-dir").arg(&place.target);
        if std::env::var_os("CI").is_some() {
            cargo.arg("--locked");
        }
        if self.from_source {
            // The path to the compiler in full: without it the first one on PATH would be asked.
            cargo.env("RUSTC", &self.rustc).env("RUSTC_BOOTSTRAP", "1").env_remove("RUSTUP_TOOLCHAIN").args(
                ["-Zbuild-std=core,alloc", "--config", "profile.release.package.core.overflow-checks=false"],
            );
        }
        cargo.args(arguments).envs(settings.iter().copied());
        let done = cargo
            .stdin(Stdio::null())
            .output()
            .map_err(|error| format!("{}: {error}", self.cargo.display()))?;
        if done.status.success() {
            Ok(())
        } else {
            Err(String::from_utf8_lossy(&done.stderr).trim_end().to_owned())
        }
    }
}

/// An image's files.
pub struct Built {
    pub image: PathBuf,
    /// The optimised program before the code generator.
    pub ir: PathBuf,
}

/// Links the image `name` for `target` with some features.
pub fn image(
    toolchain: &Toolchain,
    place: &Place,
    name: &str,
    target: &str,
    features: &str,
) -> Result<Built, String> {
    let suffix = if features.is_empty() { "whole" } else { features };
    let ir = place.target.join(format!("{name}-{}.ll", suffix.replace(',', "-")));
    let emit = format!("--emit=link,llvm-ir={}", ir.display());
    let mut arguments =
        vec!["--release", "--bin", name, "--target", target, "--features", features, "--", &emit];
    // Debian's compiler comes without a linker for boards.
    if toolchain.from_source {
        arguments.extend(["-C", "linker=ld.lld-19", "-C", "linker-flavor=ld.lld"]);
    }
    toolchain.cargo(place, "rustc", &arguments, &[])?;
    let image = place.target.join(target).join("release").join(name);
    Ok(Built { image, ir })
}

/// Compiles the core and its calls for `target`, without linking, and returns the library.
pub fn library(toolchain: &Toolchain, place: &Place, target: &str, flags: &str) -> Result<PathBuf, String> {
    let arguments = ["--profile", "library", "--lib", "--package", "zdatum-boards", "--target", target];
    toolchain.cargo(place, "build", &arguments, &[("RUSTFLAGS", flags)])?;
    Ok(place.target.join(target).join("library/libzdatum_boards.rlib"))
}

/// How an emulation ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ended {
    /// The image came to its own end.
    Finished,
    /// It stopped on a panic or a fault.
    Stopped,
    /// There is no emulator.
    NotRun,
}

/// Longest time for one emulation; the images need a fraction of a second.
const PATIENCE: Duration = Duration::from_secs(60);

/// Runs an image in emulation.
pub fn run(emulator: &str, arguments: &[&str], image: &Path) -> Result<Ended, String> {
    if output(Command::new(emulator).arg("--version")).is_none() {
        return Ok(Ended::NotRun);
    }
    let mut command = Command::new(emulator);
    command.args(arguments).arg("-kernel").arg(image).stdin(Stdio::null()).stdout(Stdio::null());
    let mut running = command.spawn().map_err(|error| format!("{emulator}: {error}"))?;
    let started = Instant::now();
    loop {
        match running.try_wait().map_err(|error| format!("{emulator}: {error}"))? {
            Some(status) if status.code() == Some(0) => return Ok(Ended::Finished),
            Some(status) if status.code() == Some(1) => return Ok(Ended::Stopped),
            Some(status) => return Err(format!("{emulator} ended with {status}")),
            None if started.elapsed() > PATIENCE => {
                // It may have ended by itself in between; either way it is gone afterwards.
                let _ = running.kill().and_then(|()| running.wait());
                return Err(format!("it did not end within {} s", PATIENCE.as_secs()));
            }
            None => std::thread::sleep(Duration::from_millis(10)),
        }
    }
}

fn version(rustc: &Path) -> Option<String> {
    let line = output(Command::new(rustc).arg("--version"))?;
    Some(line.split(" (").next().unwrap_or(&line).to_owned())
}

/// First thing a command says, or `None` where it is missing or fails.
fn output(command: &mut Command) -> Option<String> {
    let done = command.stdin(Stdio::null()).stderr(Stdio::null()).output().ok()?;
    done.status.success().then(|| String::from_utf8_lossy(&done.stdout).trim_end().to_owned())
}
