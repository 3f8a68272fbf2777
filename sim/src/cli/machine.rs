//! The machine that is simulated: the one that is named, or the demo's.

use std::path::{Path, PathBuf};

use zdatum_sim::demo::MACHINE as DEMO;
use zdatum_sim::files::{FileText, MachineFile};
use zdatum_sim::text::Problem;
use zdatum_sim::text::name::shown_path;

use super::tell;

/// What stands for the demo's path.
pub(super) const DEMO_NAME: &str = "the demo's (docs/demo/machine.toml)";

/// The machine that is simulated where none is named.
pub(super) fn demo() -> Result<MachineFile, Problem> {
    MachineFile::of(FileText::of("docs/demo/machine.toml", DEMO))
}

/// Tells a person where the file does not know its noise.
pub(super) fn say_whose_noise(machine: &MachineFile, path: &Path, json: bool) {
    if !machine.has_noise && !json {
        let name = shown_path(path);
        tell(&format!("no [noise] in {name}: figures of common practice serve; a study tells your own\n"));
    }
}

/// The machine that is named, or the demo's, with its name.
pub(super) fn machine_or_demo(path: Option<&PathBuf>, json: bool) -> Result<(MachineFile, String), Problem> {
    Ok(match path {
        Some(path) => {
            let machine = MachineFile::read(path)?;
            say_whose_noise(&machine, path, json);
            (machine, path.display().to_string())
        }
        None => (demo()?, DEMO_NAME.into()),
    })
}
