//! Compilers, and what is built with them.

use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use crate::boards::Board;

/// Where the boards' own workspace lies.
pub struct Place {
    pub boards: PathBuf,
    pub target: PathBuf,
}

impl Place {
    /// A board's own build folder: cargo locks the whole of one, and boards are built side by side.
    fn target_of(&self, board: &Board) -> PathBuf {
        self.target.join("boards").join(board.name)
    }
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

    /// The toolchain that runs this check, where it has its library's source.
    pub fn with_source() -> Option<Self> {
        Self::from_source("cargo".into(), "rustc".into())
    }

    /// Debian's toolchain, where it is installed with its source.
    pub fn debian() -> Option<Self> {
        let (cargo, rustc) = (Path::new(DEBIAN).join("cargo"), Path::new(DEBIAN).join("rustc"));
        if !cargo.is_file() {
            return None;
        }
        Self::from_source(cargo, rustc)
    }

    fn from_source(cargo: PathBuf, rustc: PathBuf) -> Option<Self> {
        let sysroot = output(Command::new(&rustc).args(["--print", "sysroot"]))?;
        let source = Path::new(&sysroot).join("lib/rustlib/src/rust/library/core/Cargo.toml");
        if !source.is_file() {
            return None;
        }
        let name = version(&rustc)?;
        Some(Self { cargo, rustc, from_source: true, name })
    }

    /// Runs cargo on the boards' workspace; the error is what it said.
    fn cargo(
        &self,
        place: &Place,
        board: &Board,
        command: &str,
        arguments: &[&str],
        settings: &[(&str, &str)],
    ) -> Result<(), String> {
        let mut cargo = Command::new(&self.cargo);
        cargo.current_dir(&place.boards).arg(command).arg("--target-dir").arg(place.target_of(board));
        if std::env::var_os("CI").is_some() {
            cargo.arg("--locked");
        }
        if self.from_source {
            cargo.env("RUSTC_BOOTSTRAP", "1");
            if self.rustc.is_absolute() {
                // The path to the compiler in full: without it the first one on PATH would be asked.
                cargo.env("RUSTC", &self.rustc).env_remove("RUSTUP_TOOLCHAIN");
            }
            cargo.arg("-Zbuild-std=core,alloc");
            // As in the ready-made libraries: only our own code is built with checks of overflow.
            for profile in [Profile::Release, Profile::Small] {
                for package in ["core", "compiler_builtins"] {
                    let name = profile.name();
                    cargo
                        .arg("--config")
                        .arg(format!("profile.{name}.package.{package}.overflow-checks=false"));
                }
            }
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

/// What a board needs and does not find, with the way to get it.
pub fn toolchain(board: &Board) -> Result<Toolchain, String> {
    let Board { target, .. } = board;
    let ready_made = Toolchain::ready_made(target);
    let toolchain = match ready_made.or_else(Toolchain::with_source).or_else(Toolchain::debian) {
        Some(toolchain) => toolchain,
        None if *target == "avr-none" => {
            return Err(format!("the core library's source: rustup component add rust-src; or {NO_DEBIAN}"));
        }
        None => {
            return Err(format!(
                "the target's core library: rustup target add {target}; or {NO_DEBIAN}, and apt-get install lld-19"
            ));
        }
    };
    for (program, package) in board.needs {
        let found = if program.starts_with('/') {
            Path::new(program).exists()
        } else {
            output(Command::new(program).arg("--version")).is_some()
        };
        if !found {
            return Err(format!("{program}: apt-get install {package}"));
        }
    }
    if let (true, Some((linker, _))) = (toolchain.from_source, board.linker())
        && output(Command::new(linker).arg("--version")).is_none()
    {
        return Err(format!("{linker}: apt-get install lld-19"));
    }
    Ok(toolchain)
}

const NO_DEBIAN: &str = "Debian's Rust compiler with its source: \
    apt-get install rustc-web; apt-get install cargo-web; apt-get install rust-web-src";

/// How an image is optimised.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Profile {
    /// For speed.
    Release,
    /// For flash.
    Small,
}

impl Profile {
    /// Its name, and that of its folder.
    pub const fn name(self) -> &'static str {
        match self {
            Profile::Release => "release",
            Profile::Small => "small",
        }
    }
}

/// Where an image is once it has been built.
pub fn path(place: &Place, board: &Board, profile: Profile, image: &str) -> PathBuf {
    place.target_of(board).join(board.target).join(profile.name()).join(board.file(image))
}

/// Builds several images with one call.
pub fn images(
    toolchain: &Toolchain,
    place: &Place,
    board: &Board,
    profile: Profile,
    images: &[&str],
    settings: &[(&str, &str)],
) -> Result<(), String> {
    let mut arguments = vec!["--profile", profile.name(), "--target", board.target];
    for image in images {
        arguments.extend(["--bin", image]);
    }
    let flags = flags(toolchain, board);
    let mut all = vec![("RUSTFLAGS", flags.as_str())];
    all.extend(settings);
    toolchain.cargo(place, board, "build", &arguments, &all)
}

/// The same flags for every build of a board, or each would build the core library anew.
fn flags(toolchain: &Toolchain, board: &Board) -> String {
    let mut flags = board.flags.to_owned();
    if let (true, Some((linker, flavour))) = (toolchain.from_source, board.linker()) {
        flags += &format!(" -C linker={linker} -C linker-flavor={flavour}");
    }
    flags
}

/// Links the image that calls every public function, with some features.
pub fn proof(toolchain: &Toolchain, place: &Place, board: &Board, features: &str) -> Result<Built, String> {
    let suffix = if features.is_empty() { "whole" } else { features };
    let ir = place.target_of(board).join(format!("{}.ll", suffix.replace(',', "-")));
    let emit = format!("--emit=link,llvm-ir={}", ir.display());
    let arguments =
        ["--release", "--bin", "proof", "--target", board.target, "--features", features, "--", &emit];
    toolchain.cargo(place, board, "rustc", &arguments, &[("RUSTFLAGS", &flags(toolchain, board))])?;
    Ok(Built { image: path(place, board, Profile::Release, "proof"), ir })
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
