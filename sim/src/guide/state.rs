//! What a session knows, in a file that is always whole.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};

use crate::files::FileText;
use crate::files::replace::{create, replace};
use crate::text::Problem;
use crate::text::name::{shown, shown_path};

/// What the file calls itself.
const KIND: &str = "zdatum guide";

/// A session: nothing but answers, from which all else follows.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SessionState {
    /// 1.
    format: u32,
    /// `zdatum guide`.
    kind: String,
    /// Seed of the invented machine's cycle, in practice.
    pub practice: Option<u64>,
    /// The machine file's text as the cycle uses it: as it was found, or as the session wrote it.
    pub machine: Option<String>,
    /// Whether the machine file was there before.
    pub found: bool,
    /// Texts of files that the session has written or was about to: those alone it may write over.
    pub own: Vec<String>,
    /// Answers in order.
    pub answers: Vec<SessionAnswer>,
    /// Answers taken back, which serve as defaults.
    pub earlier: BTreeMap<String, String>,
}

/// One answer.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SessionAnswer {
    /// Its step.
    pub step: String,
    /// As it was read.
    pub text: String,
}

impl SessionState {
    /// A new session.
    pub fn new(practice: Option<u64>, found: Option<String>) -> Self {
        Self {
            format: 1,
            kind: KIND.into(),
            practice,
            found: found.is_some(),
            machine: found,
            own: Vec::new(),
            answers: Vec::new(),
            earlier: BTreeMap::new(),
        }
    }
}

/// The state file, and what stands in it now.
#[derive(Clone, Debug)]
pub struct SessionFile {
    path: PathBuf,
    /// Its text; `None` before the first saving.
    text: Option<String>,
}

impl SessionFile {
    /// Takes up a session, where there is one.
    ///
    /// # Errors
    /// The file cannot be read, or is no session's.
    pub fn open(path: &Path) -> Result<(Self, Option<SessionState>), Problem> {
        if std::fs::symlink_metadata(path).is_err() {
            return Ok((Self { path: path.to_owned(), text: None }, None));
        }
        let source = FileText::read(path)?;
        let refuse = |why: String| {
            Problem::new(format!("{}: not a session of zdatum guide: {why}", source.name))
                .remedy("give another file with --state, or move this one away; it has not been changed")
        };
        let state: SessionState =
            serde_json::from_str(&source.text).map_err(|error| refuse(shown(&error.to_string())))?;
        if state.kind != KIND || state.format != 1 {
            return Err(refuse("its `kind` or `format` is not the expected one".into()));
        }
        Ok((Self { path: path.to_owned(), text: Some(source.text) }, Some(state)))
    }

    /// Saves: a crash leaves the old file or the new one.
    ///
    /// # Errors
    /// It cannot be written, or another session has written it meanwhile.
    pub fn save(&mut self, state: &SessionState) -> Result<(), Problem> {
        let text = serde_json::to_string_pretty(state)
            .map_err(|error| Problem::new(format!("cannot write the session: {error}")))?;
        let text = text + "\n";
        match &self.text {
            Some(before) if *before == text => {}
            Some(before) => replace(&self.path, before, &text)?,
            None => create(&self.path, &text)?,
        }
        self.text = Some(text);
        Ok(())
    }

    /// Takes the file away: the session is over.
    pub fn remove(self) {
        // One that cannot be removed is found again, and says that it is over.
        let _ = std::fs::remove_file(&self.path);
    }

    /// Its name as shown.
    pub fn name(&self) -> String {
        shown_path(&self.path)
    }
}
