//! `--report` and `--svg`: where reports and pictures are written.

use std::path::{Path, PathBuf};

use zdatum_sim::files::replace::{check_folder, check_own, check_room, make_folder, stage_own};
use zdatum_sim::show::chart;
use zdatum_sim::show::report::{MARK, Report};
use zdatum_sim::text::Problem;
use zdatum_sim::text::name::shown_path;

/// What is to be written beside the answer.
#[derive(clap::Args, Debug)]
pub(crate) struct Wanted {
    /// Also write a self-contained HTML report; an older report of that name is replaced
    #[arg(long, value_name = "OUT.html")]
    report: Option<PathBuf>,
    /// Also write each picture as an SVG file into this folder; older pictures there are replaced
    #[arg(long, value_name = "DIR")]
    svg: Option<PathBuf>,
}

/// Whether a report can be written there, told before long work.
///
/// # Errors
/// It would have no place, or take the place of something else.
pub(super) fn check_report(path: &Path) -> Result<(), Problem> {
    if path.as_os_str() == "-" {
        return Err(Problem::new("-: a report cannot be written to standard output")
            .remedy("name a file, such as report.html; for a file called - write ./-"));
    }
    check_own(path, is_report)?;
    check_room(path)
}

/// Whether a file that begins so may be replaced by a report.
pub(super) fn is_report(start: &str) -> bool {
    start.contains(MARK)
}

fn is_picture(start: &str) -> bool {
    start.starts_with(chart::MARK)
}

impl Wanted {
    /// Whether anything is.
    pub(crate) fn any(&self) -> bool {
        self.report.is_some() || self.svg.is_some()
    }

    /// Tells before long work what would hinder writing after it. `pictures` are the names of those that may
    /// come of it.
    ///
    /// # Errors
    /// A report would have no place, or take the place of something else.
    pub(crate) fn check(&self, pictures: &[&str]) -> Result<(), Problem> {
        if let Some(path) = &self.report {
            check_report(path)?;
        }
        if let Some(folder) = &self.svg {
            check_folder(folder)?;
            // A folder that is still to be made holds nothing.
            for name in pictures.iter().filter(|_| folder.exists()) {
                check_own(&folder.join(format!("{name}.svg")), is_picture)?;
            }
        }
        Ok(())
    }

    /// Writes what is wanted: nothing where something stands in the way of any file. Says what was written.
    ///
    /// # Errors
    /// The first file that cannot be written.
    pub(crate) fn write(&self, report: &Report) -> Result<String, Problem> {
        let mut notes = String::new();
        let mut staged = Vec::new();
        if let Some(path) = &self.report {
            check_own(path, is_report)?;
        }
        if let Some(folder) = &self.svg {
            let files: Vec<_> = report
                .pictures
                .iter()
                .map(|picture| (folder.join(format!("{}.svg", picture.name)), picture.file()))
                .collect();
            make_folder(folder)?;
            for (path, _) in &files {
                check_own(path, is_picture)?;
            }
            for (path, text) in &files {
                staged.push(stage_own(path, text, is_picture)?);
            }
            notes.push_str(&format!("{} pictures in {}\n", files.len(), shown_path(folder)));
        }
        if let Some(path) = &self.report {
            staged.push(stage_own(path, &report.html, is_report)?);
            notes.push_str(&format!("report in {}\n", shown_path(path)));
        }
        for file in staged {
            file.keep()?;
        }
        Ok(notes)
    }
}
