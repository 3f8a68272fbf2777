//! A touch log that was dropped on the page.

use super::routes::Upload;
use crate::files::log::Log;
use crate::files::{FileText, LoggedCycle, MachineFile, cycles};
use crate::judged::judge;
use crate::show::report::LandReport;
use crate::text::Problem;

/// Its landings, as sections one after the other, and in a sentence.
///
/// # Errors
/// As `zdatum land`.
pub(super) fn run(machine: &MachineFile, upload: &Upload) -> Result<(String, String), Problem> {
    let log = Log::read(FileText::of(&upload.name, &upload.text))?;
    let all: Vec<LoggedCycle> = cycles::cycles(&log)?;
    let judged = judge(machine, all.clone(), None).map_err(|malformed| match all.get(malformed.cycle) {
        Some(cycle) => cycle.too_few(Some(&log), malformed.few),
        None => Problem::new("a cycle has too few touches"),
    })?;
    let of = LandReport { machine, log: Some(&log), judged: &judged };
    let html: String = of.sections()?.iter().map(|section| section.html()).collect();
    let refused = judged.iter().filter(|one| !one.assessment.accepted()).count();
    let newest = judged.last().and_then(|one| one.assessment.landing());
    let newest = newest.map_or_else(
        || "the newest cycle has no landing".into(),
        |landing| {
            format!(
                "the newest landing is {} ± {} mm",
                crate::text::number::signed(landing.height),
                crate::text::number::uncertainty(landing.uncertainty.expanded)
            )
        },
    );
    Ok((html, format!("{} cycles, {refused} refused; {newest}.", judged.len())))
}
