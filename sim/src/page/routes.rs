//! What is asked and what is answered. Bodies are JSON; answers hold fragments of HTML, made and escaped
//! here.

use std::sync::atomic::AtomicBool;

use serde::Deserialize;
use serde_json::json;

use super::controls::{Changed, form};
use super::http::{RefusedRequest, Request, Response};
use super::jobs::Jobs;
use super::{MOST_CYCLES, PageShown, bench, history, landing, server};
use crate::files::{FileText, MachineFile};
use crate::text::Problem;
use crate::text::name::{cut, cut_shown};

/// A file that the browser read.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Upload {
    /// What it is called; for messages alone.
    pub(super) name: String,
    /// Its text.
    pub(super) text: String,
}

#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
struct PageRequest {
    /// The machine file that was dropped; without it the one that the command was given.
    machine: Option<Upload>,
    /// The touch log that was dropped.
    log: Option<Upload>,
    /// What is set at the bench.
    settings: Changed,
    /// Cycles in all; as many as may be where none are asked for.
    cycles: Option<u64>,
    /// An entry of the history.
    entry: Option<i64>,
}

/// Columns of a line of a file that are sent back.
const LONGEST: usize = 400;

/// Why there is no answer of its kind.
enum NoAnswer {
    Problem(Problem),
    Refused(RefusedRequest),
}

impl From<Problem> for NoAnswer {
    fn from(problem: Problem) -> Self {
        Self::Problem(problem)
    }
}

/// Answers a request that may be asked.
pub(super) fn answer(shown: &PageShown, jobs: &Jobs, request: &Request, body: &str) -> Response {
    // Exact: no part of a path is ever a name of anything.
    let answered = match (request.method.as_str(), request.path.as_str()) {
        ("GET", "/") => server::page().map_err(NoAnswer::Refused),
        ("POST", "/machine" | "/bench" | "/land" | "/history" | "/entry" | "/cancel") => {
            match serde_json::from_str(if body.is_empty() { "{}" } else { body }) {
                Ok(asked) => post(shown, jobs, &request.path, &asked),
                Err(error) => Err(NoAnswer::Refused(RefusedRequest::new(
                    400,
                    format!(
                        "not a request of this \
                        page: {error}"
                    ),
                ))),
            }
        }
        (_, "/" | "/machine" | "/bench" | "/land" | "/history" | "/entry" | "/cancel") => {
            Err(NoAnswer::Refused(RefusedRequest::new(405, "method not allowed")))
        }
        _ => Err(NoAnswer::Refused(RefusedRequest::new(404, "not found"))),
    };
    match answered {
        Ok(response) => response,
        Err(NoAnswer::Refused(refused)) => Response::refused(&refused),
        Err(NoAnswer::Problem(problem)) => Response::json(400, problem_json(&problem)),
    }
}

fn post(shown: &PageShown, jobs: &Jobs, path: &str, asked: &PageRequest) -> Result<Response, NoAnswer> {
    let stopped = |_| {
        NoAnswer::Refused(RefusedRequest::new(
            409,
            "stopped: a newer request replaced it, or it \
            was cancelled",
        ))
    };
    if path == "/cancel" {
        jobs.cancel();
        return Ok(Response::json(200, json!({ "says": "Stopped." }).to_string()));
    }
    let dropped = asked
        .machine
        .as_ref()
        .map(|file| MachineFile::of(FileText::of(&file.name, &file.text)))
        .transpose()?;
    let (machine, name) = match &dropped {
        Some(machine) => (machine, machine.source.name.clone()),
        None => (&shown.machine, shown.machine_name.clone()),
    };
    let value = match path {
        "/machine" => json!({
            "parts": { "controls": form(machine).into_string() },
            "machine": name,
            "has_history": shown.history.is_some(),
        }),
        "/bench" => {
            let cycles = asked.cycles.unwrap_or(MOST_CYCLES);
            let work = |stop: &AtomicBool| bench::run(machine, &name, &asked.settings, cycles, stop);
            let seen = jobs.run(work).map_err(stopped)??;
            json!({ "parts": seen.parts, "says": seen.says, "cycles": seen.cycles })
        }
        "/land" => {
            let log = asked
                .log
                .as_ref()
                .ok_or_else(|| NoAnswer::Refused(RefusedRequest::new(400, "no touch log was sent")))?;
            let (html, says) = jobs.run(|_| landing::run(machine, log)).map_err(stopped)??;
            json!({ "parts": { "landing": html }, "says": says })
        }
        _ => {
            let path = shown.history.as_deref();
            let path = path.ok_or_else(|| {
                NoAnswer::Refused(RefusedRequest::new(
                    404,
                    "this page has no \
                    history",
                ))
            })?;
            let (part, html, says) = match asked.entry {
                Some(number) => ("entry", history::entry(path, number)?, format!("Showing entry {number}.")),
                None => ("history", history::all(path)?, "Showing the history.".into()),
            };
            json!({ "parts": { part: html }, "says": says })
        }
    };
    Ok(Response::json(200, value.to_string()))
}

fn problem_json(problem: &Problem) -> String {
    // Its words are escaped already; the excerpt is as it stands in the file.
    let place = problem.place.as_ref().map(|place| {
        json!({
            "file": cut_shown(&place.file, LONGEST), "line": place.line, "excerpt": cut(&place.excerpt, LONGEST),
            "label": cut_shown(&place.label, LONGEST),
        })
    });
    let (title, remedy) =
        (cut_shown(&problem.title, LONGEST), problem.remedy.as_ref().map(|text| cut_shown(text, LONGEST)));
    json!({ "error": { "title": title, "place": place, "remedy": remedy } }).to_string()
}
