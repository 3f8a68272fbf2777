//! Any text as a machine file: read, checked, explained, and run once where it is sound.

use zdatum_sim::files::{FileText, MachineFile};
use zdatum_sim::judged::explained::Explained;
use zdatum_sim::show;
use zdatum_world::engine::{Bench, run};

pub(crate) fn take(text: &str) {
    let Ok(machine) = MachineFile::of(FileText::of("machine.toml", text)) else { return };
    let explained = Explained::of(&machine);
    let _ = show::explain::page(&machine, &explained);
    let bench = Bench::new(machine.setup.clone(), &machine.noise, 1);
    let ran = run(&bench, 0, |_, _, _| {}).expect("room for what was checked");
    assert_eq!(ran.error.is_some(), ran.refused.is_none());
}
