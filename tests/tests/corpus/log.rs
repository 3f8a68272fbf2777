//! Any text as a touch log: what every command does with it.

use std::sync::LazyLock;

use zdatum_sim::files::cycles::cycles;
use zdatum_sim::files::log::Log;
use zdatum_sim::files::{FileText, MachineFile};
use zdatum_sim::judged::judge;
use zdatum_sim::show;
use zdatum_sim::study::soak::soak;
use zdatum_sim::study::whole::StudyOptions;
use zdatum_sim::study::{Groups, Study};

const DEMO: &str = include_str!("../../../docs/demo/machine.toml");

static MACHINE: LazyLock<MachineFile> =
    LazyLock::new(|| MachineFile::of(FileText::of("machine.toml", DEMO)).expect("the demo's machine"));

pub(crate) fn take(text: &str) {
    let Ok(log) = Log::read(FileText::of("touches.csv", text)) else { return };
    if let Ok(cycles) = cycles(&log)
        && let Ok(judged) = judge(&MACHINE, cycles, None)
    {
        let page = show::land::page(&MACHINE, &judged);
        // What was read is never shown as it stands: it could steer a terminal.
        assert!(!page.chars().any(|c| c.is_control() && c != '\n' && c != '\u{1b}'), "{page:?}");
        for one in &judged {
            assert_eq!(one.assessment.accepted(), one.assessment.landing().is_some());
        }
    }
    if let Ok(groups) = Groups::of(&log) {
        let study = Study::of(groups, &StudyOptions { within: Some(0.02), touches: 5, floor: 0.0 });
        let _ = show::study::page(&show::study::StudyShown {
            study: &study,
            log: "touches.csv",
            machine: None,
            written: false,
        });
    }
    let _ = soak(&log, 0.005);
}
