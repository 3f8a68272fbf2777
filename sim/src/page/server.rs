//! Connections: each has a thread and a deadline. Where all places are taken by clients that have not
//! finished asking, the one that has waited longest makes room, so that slow clients never keep a new one
//! out.

use std::collections::VecDeque;
use std::io;
use std::net::{Shutdown, TcpListener, TcpStream};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

use super::access::{Token, check};
use super::http::{RefusedRequest, Request, Response};
use super::jobs::Jobs;
use super::routes::answer;
use super::{PageShown, document};

/// What a client may take.
#[derive(Clone, Copy, Debug)]
pub struct Limits {
    /// From the connection to the end of the headers.
    pub head: Duration,
    /// From there to the end of the body.
    pub body: Duration,
    /// From the answer's beginning to its end.
    pub answer: Duration,
    /// Clients that may be asking at once.
    pub asking: usize,
}

impl Default for Limits {
    fn default() -> Self {
        let seconds = Duration::from_secs;
        Self { head: seconds(5), body: seconds(20), answer: seconds(20), asking: 64 }
    }
}

/// What all connections share.
struct Server {
    shown: PageShown,
    token: Token,
    limits: Limits,
    jobs: Jobs,
    asking: Mutex<Asking>,
}

/// Clients that have not finished asking, the longest first.
#[derive(Default)]
struct Asking {
    next: u64,
    clients: VecDeque<(u64, TcpStream)>,
}

/// Serves until `stop` is set and one more connection is made.
///
/// # Errors
/// No connection can be taken any more.
pub fn serve(
    listener: &TcpListener,
    shown: PageShown,
    token: Token,
    limits: Limits,
    stop: &AtomicBool,
) -> io::Result<()> {
    let server = Arc::new(Server { shown, token, limits, jobs: Jobs::default(), asking: Mutex::default() });
    while !stop.load(Ordering::Relaxed) {
        let stream = match listener.accept() {
            Ok((stream, _)) => stream,
            // A client that went away meanwhile, or no file descriptor free just now: the next one may fare
            // better.
            Err(error) if error.kind() != io::ErrorKind::InvalidInput => {
                std::thread::sleep(Duration::from_millis(20));
                continue;
            }
            Err(error) => return Err(error),
        };
        let Ok(place) = server.enter(&stream) else { continue };
        let server_of = Arc::clone(&server);
        let thread = std::thread::Builder::new().name("client".into());
        if thread.spawn(move || server_of.client(stream, place)).is_err() {
            server.leave(place);
        }
    }
    server.jobs.cancel();
    Ok(())
}

impl Server {
    fn enter(&self, stream: &TcpStream) -> io::Result<u64> {
        let own = stream.try_clone()?;
        let mut asking = self.asking();
        if asking.clients.len() >= self.limits.asking
            && let Some((_, longest)) = asking.clients.pop_front()
        {
            let _ = longest.shutdown(Shutdown::Both);
        }
        asking.next += 1;
        let place = asking.next;
        asking.clients.push_back((place, own));
        Ok(place)
    }

    fn leave(&self, place: u64) {
        self.asking().clients.retain(|(other, _)| *other != place);
    }

    fn asking(&self) -> MutexGuard<'_, Asking> {
        self.asking.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn client(&self, mut stream: TcpStream, place: u64) {
        let asked = self.asked(&mut stream);
        // Whoever has the token may take its time; all others keep a place that a newer client can have.
        if asked.as_ref().is_ok_and(|(request, _)| request.method != "GET") {
            self.leave(place);
        }
        let response = match asked {
            Ok((request, body)) => answer(&self.shown, &self.jobs, &request, &body),
            Err(Some(refused)) => Response::refused(&refused),
            Err(None) => return self.leave(place),
        };
        // A browser that has gone needs no answer.
        let _ = response.send(&mut stream, Instant::now() + self.limits.answer);
        self.leave(place);
    }

    /// The request and its body, of whoever may ask.
    fn asked(&self, stream: &mut TcpStream) -> Result<(Request, String), Option<RefusedRequest>> {
        let own = stream.local_addr().map_err(|_| None)?;
        let (request, begun) = Request::read(stream, Instant::now() + self.limits.head)?;
        check(&request, own, &self.token)?;
        let body = request.body(stream, begun, Instant::now() + self.limits.body)?;
        Ok((request, body))
    }
}

/// The page with a nonce of its own.
pub(super) fn page() -> Result<Response, RefusedRequest> {
    let mut bytes = [0; 16];
    getrandom::fill(&mut bytes).map_err(|error| {
        RefusedRequest::new(
            500,
            format!(
                "no random numbers: \
        {error}"
            ),
        )
    })?;
    let nonce = super::access::hex(&bytes);
    Ok(Response {
        code: 200,
        kind: "text/html",
        policy: format!(
            "default-src 'none'; script-src 'nonce-{nonce}'; style-src 'nonce-{nonce}'; connect-src 'self'; \
                img-src data:; \
             base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
        ),
        body: document::page(&nonce),
    })
}
