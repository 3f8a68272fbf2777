//! The page: a server for one browser on this machine, with the live bench, landings of dropped logs and the
//! history.
//!
//! It speaks as much HTTP/1.1 as a browser's `fetch` needs, over the standard library's sockets: a request a
//! connection, no keep-alive, no transfer codings. `http` reads and writes, `access` says who may ask, `jobs`
//! lets one computation run at a time, `routes` answers. Nothing is written anywhere, no file is opened by a
//! name that a browser sends.

pub mod access;
mod bench;
mod controls;
mod document;
mod history;
pub mod http;
pub mod jobs;
mod landing;
mod routes;
mod server;

use std::path::PathBuf;

use crate::files::MachineFile;

pub use access::Token;
pub use server::{Limits, serve};

/// Most bytes of a request's body: 4 MiB.
pub const MOST_BODY: usize = 4 << 20;

/// Most simulated cycles that one request may ask for.
pub const MOST_CYCLES: u64 = 100_000;

/// What the page shows where the browser sends nothing else.
#[derive(Debug)]
pub struct PageShown {
    /// The machine at the bench.
    pub machine: MachineFile,
    /// Its name, for people.
    pub machine_name: String,
    /// The history, where there is one to browse.
    pub history: Option<PathBuf>,
}
