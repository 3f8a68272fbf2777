//! What stands in the demo's folder is what the tool carries along, and what its world records.

use zdatum_sim::demo::{self, MACHINE};
use zdatum_sim::files::{FileText, MachineFile};

use super::tool::demo as path;

fn read(name: &str) -> String {
    std::fs::read_to_string(path(name)).expect("a file of the demo")
}

#[test]
fn the_tool_carries_the_demos_machine_along() {
    assert!(read("machine.toml") == MACHINE, "copy docs/demo/machine.toml to sim/src/demo.toml");
}

#[test]
fn the_demos_logs_are_these() {
    let machine = MachineFile::of(FileText::of("machine.toml", MACHINE));
    let machine = machine.unwrap_or_else(|problem| panic!("{problem:?}"));
    assert!(demo::study(&machine) == read("study.csv"), "write docs/demo/study.csv anew");
    assert!(demo::soak(&machine) == read("soak.csv"), "write docs/demo/soak.csv anew");
    assert!(demo::truth(&machine).contains("0.000603 s, plate switch latency 0.000964 s"));
}
