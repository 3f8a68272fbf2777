//! One request in, one response out, within a deadline.

use std::io::{self, Read, Write};
use std::net::{Shutdown, TcpStream};
use std::time::{Duration, Instant};

use super::MOST_BODY;

/// Most bytes of a request's line and headers.
const MOST_HEAD: usize = 16 << 10;
/// Most headers; a browser sends about fifteen.
const MOST_HEADERS: usize = 64;
/// What is read and thrown away of a request that is refused, so that its sender sees the answer.
const MOST_DRAINED: usize = 2 * MOST_BODY;
/// For how long that is done.
const DRAIN: Duration = Duration::from_millis(500);

/// A request's line and headers.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Request {
    /// As sent.
    pub method: String,
    /// As sent; never a file's name.
    pub path: String,
    /// Names in lower case.
    pub headers: Vec<(String, String)>,
    /// Bytes of the body.
    pub length: usize,
}

/// A request that is not answered.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RefusedRequest {
    /// HTTP's status code.
    pub code: u16,
    /// Why, for people.
    pub why: String,
}

/// What is sent back.
#[derive(Clone, Debug)]
pub struct Response {
    /// HTTP's status code.
    pub code: u16,
    /// `text/html` or `application/json`.
    pub kind: &'static str,
    /// What the browser may do with it.
    pub policy: String,
    /// The content.
    pub body: String,
}

impl RefusedRequest {
    /// With a reason.
    pub fn new(code: u16, why: impl Into<String>) -> Self {
        Self { code, why: why.into() }
    }
}

impl Request {
    /// The value of a header; `None` where there is none.
    pub fn header(&self, name: &str) -> Option<&str> {
        self.headers.iter().find(|header| header.0 == name).map(|header| header.1.as_str())
    }

    /// Reads line and headers, and whatever of the body came with them.
    ///
    /// # Errors
    /// Not HTTP/1.1, too long, a length that is none, a header twice that may stand once; `None` where
    /// nothing can be answered.
    pub fn read(stream: &mut TcpStream, until: Instant) -> Result<(Self, Vec<u8>), Option<RefusedRequest>> {
        let mut bytes = Vec::new();
        loop {
            if let Some((request, used)) = Self::parse(&bytes)? {
                bytes.drain(..used);
                return Ok((request, bytes));
            }
            if bytes.len() >= MOST_HEAD {
                return Err(Some(RefusedRequest::new(431, "the headers are longer than 16 KiB")));
            }
            let mut part = [0; 4096];
            let room = part.len().min(MOST_HEAD - bytes.len());
            let read = read_until(stream, part.get_mut(..room).unwrap_or_default(), until).map_err(late)?;
            if read == 0 {
                return Err(None);
            }
            bytes.extend(part.iter().take(read));
        }
    }

    /// The request and how many bytes it took; `None` where more must come.
    fn parse(bytes: &[u8]) -> Result<Option<(Self, usize)>, RefusedRequest> {
        let mut headers = [httparse::EMPTY_HEADER; MOST_HEADERS];
        let mut parsed = httparse::Request::new(&mut headers);
        let used = match parsed.parse(bytes) {
            Ok(httparse::Status::Complete(used)) => used,
            Ok(httparse::Status::Partial) => return Ok(None),
            Err(httparse::Error::TooManyHeaders) => {
                return Err(RefusedRequest::new(431, format!("more than {MOST_HEADERS} headers")));
            }
            Err(error) => return Err(RefusedRequest::new(400, format!("not a request: {error}"))),
        };
        if parsed.version != Some(1) {
            return Err(RefusedRequest::new(505, "HTTP/1.1 only"));
        }
        let mut request = Self {
            method: parsed.method.unwrap_or_default().to_owned(),
            path: parsed.path.unwrap_or_default().to_owned(),
            ..Self::default()
        };
        for header in parsed.headers.iter() {
            let value = std::str::from_utf8(header.value)
                .map_err(|_| RefusedRequest::new(400, "a header is not text"))?;
            let name = header.name.to_ascii_lowercase();
            // What decides anything must not be open to two readings.
            let decides =
                ["host", "origin", "content-length", super::access::HEADER].contains(&name.as_str());
            if decides && request.header(&name).is_some() {
                return Err(RefusedRequest::new(400, format!("the header {name} occurs twice")));
            }
            request.headers.push((name, value.to_owned()));
        }
        if request.header("transfer-encoding").is_some() {
            return Err(RefusedRequest::new(501, "transfer codings are not supported"));
        }
        request.length = match request.header("content-length") {
            None if request.method == "POST" => {
                return Err(RefusedRequest::new(
                    411,
                    "a content length is \
                required",
                ));
            }
            None => 0,
            Some(text) if !text.is_empty() && text.bytes().all(|byte| byte.is_ascii_digit()) => {
                text.parse().unwrap_or(usize::MAX)
            }
            Some(_) => return Err(RefusedRequest::new(400, "the content length is not a number")),
        };
        if request.length > MOST_BODY {
            return Err(RefusedRequest::new(413, "larger than the limit of 4 MiB"));
        }
        Ok(Some((request, used)))
    }

    /// Reads the body, of which `begun` has come already.
    ///
    /// # Errors
    /// It comes too slowly, ends early, or is no UTF-8; `None` where nothing can be answered.
    pub fn body(
        &self,
        stream: &mut TcpStream,
        mut begun: Vec<u8>,
        until: Instant,
    ) -> Result<String, Option<RefusedRequest>> {
        begun.truncate(self.length);
        let mut part = vec![0; 64 << 10];
        while begun.len() < self.length {
            let room = part.len().min(self.length - begun.len());
            let read = read_until(stream, part.get_mut(..room).unwrap_or_default(), until).map_err(late)?;
            if read == 0 {
                return Err(None);
            }
            begun.extend(part.iter().take(read));
        }
        String::from_utf8(begun).map_err(|_| Some(RefusedRequest::new(400, "the body is not UTF-8")))
    }
}

impl Response {
    /// JSON.
    pub fn json(code: u16, body: String) -> Self {
        Self {
            code,
            kind: "application/json",
            policy: "default-src 'none'; frame-ancestors 'none'".into(),
            body,
        }
    }

    /// For a request that is not answered.
    pub fn refused(refused: &RefusedRequest) -> Self {
        Self::json(refused.code, serde_json::json!({ "error": { "title": refused.why } }).to_string())
    }

    /// Sends it and ends the connection. What the browser still sends is read for a moment, else it would
    /// never see the answer.
    ///
    /// # Errors
    /// The browser has gone.
    pub fn send(&self, stream: &mut TcpStream, until: Instant) -> io::Result<()> {
        let head = format!(
            "HTTP/1.1 {} {}\r\nContent-Type: {}; charset=utf-8\r\nContent-Length: \
                {}\r\nContent-Security-Policy: {}\r\n\
             X-Content-Type-Options: nosniff\r\nX-Frame-Options: DENY\r\nReferrer-Policy: \
             no-referrer\r\nCache-Control: no-store\r\n\
             Cross-Origin-Opener-Policy: same-origin\r\nCross-Origin-Resource-Policy: \
             same-origin\r\nConnection: close\r\n\r\n",
            self.code,
            reason(self.code),
            self.kind,
            self.body.len(),
            self.policy
        );
        for mut part in [head.as_bytes(), self.body.as_bytes()] {
            while !part.is_empty() {
                stream.set_write_timeout(Some(left(until)?))?;
                let written = stream.write(part)?;
                part = part.get(written..).unwrap_or_default();
            }
        }
        stream.shutdown(Shutdown::Write)?;
        let until = Instant::now() + DRAIN;
        let (mut drained, mut part) = (0, [0; 4096]);
        while drained < MOST_DRAINED {
            match read_until(stream, &mut part, until) {
                Ok(0) | Err(_) => break,
                Ok(read) => drained += read,
            }
        }
        Ok(())
    }
}

/// Reads some bytes; the deadline holds over all reads together, so that one byte now and then wins nothing.
fn read_until(stream: &mut TcpStream, into: &mut [u8], until: Instant) -> io::Result<usize> {
    loop {
        stream.set_read_timeout(Some(left(until)?))?;
        match stream.read(into) {
            Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
            other => return other,
        }
    }
}

fn left(until: Instant) -> io::Result<Duration> {
    match until.checked_duration_since(Instant::now()) {
        Some(left) if left > Duration::ZERO => Ok(left),
        _ => Err(io::ErrorKind::TimedOut.into()),
    }
}

fn late(error: io::Error) -> Option<RefusedRequest> {
    let late = matches!(error.kind(), io::ErrorKind::TimedOut | io::ErrorKind::WouldBlock);
    late.then(|| RefusedRequest::new(408, "the request came too slowly"))
}

const fn reason(code: u16) -> &'static str {
    match code {
        200 => "OK",
        400 => "Bad Request",
        403 => "Forbidden",
        404 => "Not Found",
        405 => "Method Not Allowed",
        408 => "Request Timeout",
        409 => "Conflict",
        411 => "Length Required",
        413 => "Content Too Large",
        431 => "Request Header Fields Too Large",
        501 => "Not Implemented",
        505 => "HTTP Version Not Supported",
        _ => "Error",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn code(text: &str) -> Option<u16> {
        match Request::parse(text.as_bytes()) {
            Ok(Some(_)) => Some(200),
            Ok(None) => None,
            Err(refused) => Some(refused.code),
        }
    }

    #[test]
    fn requests_are_read_one_way_only() {
        let get = "GET / HTTP/1.1\r\nHost: a\r\n\r\n";
        assert_eq!(code(get), Some(200));
        for to in 0..get.len() {
            assert_eq!(code(&get[..to]), None, "{to}");
        }
        for (text, expected) in [
            ("GET / HTTP/1.0\r\nHost: a\r\n\r\n", 505),
            ("GET /\r\n\r\n", 400),
            ("\u{0}\r\n\r\n", 400),
            ("GET / HTTP/1.1\r\nHost: a\r\nhost: b\r\n\r\n", 400),
            ("GET / HTTP/1.1\r\nOrigin: a\r\nOrigin: a\r\n\r\n", 400),
            ("GET / HTTP/1.1\r\nBad Name: a\r\n\r\n", 400),
            ("POST / HTTP/1.1\r\nHost: a\r\n\r\n", 411),
            ("POST / HTTP/1.1\r\nContent-Length: 1\r\nContent-Length: 2\r\n\r\n", 400),
            ("POST / HTTP/1.1\r\nContent-Length: -1\r\n\r\n", 400),
            ("POST / HTTP/1.1\r\nContent-Length: +1\r\n\r\n", 400),
            ("POST / HTTP/1.1\r\nContent-Length: 1\r\nTransfer-Encoding: chunked\r\n\r\n", 501),
            ("POST / HTTP/1.1\r\nContent-Length: 4194305\r\n\r\n", 413),
            ("POST / HTTP/1.1\r\nContent-Length: 99999999999999999999999999\r\n\r\n", 413),
            ("POST / HTTP/1.1\r\nContent-Length: 4194304\r\n\r\n", 200),
        ] {
            assert_eq!(code(text), Some(expected), "{text:?}");
        }
        let many = format!("GET / HTTP/1.1\r\n{}\r\n", "A: b\r\n".repeat(MOST_HEADERS + 1));
        assert_eq!(code(&many), Some(431));
    }
}
