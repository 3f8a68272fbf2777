//! Who may ask: a page of this very server, in a browser that was given the token. Everyone else is told
//! nothing.
//!
//! A browser on this machine also shows pages of strangers, and those can send requests to any port. So: the
//! `Host` must be the address of this very connection (a name that a stranger points here is none), an
//! `Origin` must be this server's own, and all but the empty page itself asks for a token that no other page
//! can know. The token comes in the fragment of the address, which is never sent, and goes back as a header,
//! which no foreign page can set without being asked for by `OPTIONS`, which is refused.

use std::net::SocketAddr;

use super::http::{RefusedRequest, Request};

/// The header that carries the token.
pub const HEADER: &str = "x-zdatum-token";

/// Bytes of a token.
const BYTES: usize = 24;

/// What a browser must know: 192 random bits, in hexadecimal.
#[derive(Clone, Debug)]
pub struct Token(String);

impl Token {
    /// A new one from the system's generator.
    ///
    /// # Errors
    /// The system has no random numbers.
    pub fn random() -> Result<Self, getrandom::Error> {
        let mut bytes = [0; BYTES];
        getrandom::fill(&mut bytes)?;
        Ok(Self(hex(&bytes)))
    }

    /// For the address.
    pub fn text(&self) -> &str {
        &self.0
    }

    /// Whether this is it, in a time that does not tell how much of it is right.
    fn is(&self, other: &str) -> bool {
        let (mine, theirs) = (self.0.as_bytes(), other.as_bytes());
        let differing = mine.iter().zip(theirs).fold(0, |all, (a, b)| all | (a ^ b));
        mine.len() == theirs.len() && differing == 0
    }
}

/// Some bytes in hexadecimal.
pub(super) fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

/// Lets a request pass, before its body is read. `own` is this end of the connection.
///
/// # Errors
/// What to answer instead.
pub fn check(request: &Request, own: SocketAddr, token: &Token) -> Result<(), RefusedRequest> {
    let hosts = hosts(own);
    match request.header("host") {
        Some(host) if hosts.iter().any(|own| own == host) => {}
        _ => {
            return Err(RefusedRequest::new(
                403,
                "open exactly the address that the command printed, not another name for it",
            ));
        }
    }
    let is_own =
        |origin: &str| origin.strip_prefix("http://").is_some_and(|rest| hosts.iter().any(|own| own == rest));
    match request.header("origin") {
        Some(origin) if !is_own(origin) => {
            return Err(RefusedRequest::new(403, "requests from other pages are not allowed"));
        }
        None if request.method != "GET" => {
            return Err(RefusedRequest::new(
                403,
                "the request has no Origin \
            header",
            ));
        }
        _ => {}
    }
    // The page itself holds nothing but its own script; its address is where the token comes from.
    if request.method == "GET" && request.path == "/" {
        return Ok(());
    }
    match request.header(HEADER) {
        Some(given) if token.is(given) => Ok(()),
        Some(_) => Err(RefusedRequest::new(
            403,
            "the token is not the one of this run: open the address that the command printed",
        )),
        None => Err(RefusedRequest::new(
            403,
            "the token is missing: open the address that the command \
            printed",
        )),
    }
}

/// How a browser writes this address; without the port where that is HTTP's own.
fn hosts(own: SocketAddr) -> Vec<String> {
    let mut hosts = vec![own.to_string()];
    if own.port() == 80 {
        hosts.push(own.to_string().trim_end_matches(":80").to_owned());
    }
    hosts
}

#[cfg(test)]
mod tests {
    use super::*;

    fn asked(method: &str, path: &str, headers: &[(&str, &str)]) -> Request {
        let headers = headers.iter().map(|(name, value)| ((*name).into(), (*value).into())).collect();
        Request { method: method.into(), path: path.into(), headers, length: 0 }
    }

    fn code(request: &Request, own: &str, token: &Token) -> u16 {
        check(request, own.parse().expect("an address"), token).map_or_else(|refused| refused.code, |()| 200)
    }

    #[test]
    fn tokens_are_long_and_differ() {
        let (a, b) = (Token::random().expect("random"), Token::random().expect("random"));
        assert_eq!(a.text().len(), 2 * BYTES);
        assert!(a.is(a.text()) && !a.is(b.text()) && !a.is("") && !a.is(&a.text()[1..]));
    }

    #[test]
    fn hosts_are_exact() {
        let token = Token::random().expect("random");
        let get = |host: &str, own: &str| code(&asked("GET", "/", &[("host", host)]), own, &token);
        assert_eq!(get("127.0.0.1:4000", "127.0.0.1:4000"), 200);
        assert_eq!(get("[::1]:4000", "[::1]:4000"), 200);
        assert_eq!(get("127.0.0.1", "127.0.0.1:80"), 200);
        for host in [
            "localhost:4000",
            "127.0.0.1",
            "127.0.0.1:4001",
            "127.0.0.1:4000.",
            "a.test:4000",
            "",
            "127.0.0.1:04000",
        ] {
            assert_eq!(get(host, "127.0.0.1:4000"), 403, "{host}");
        }
        assert_eq!(code(&asked("GET", "/", &[]), "127.0.0.1:4000", &token), 403);
    }

    #[test]
    fn origins_are_exact_and_tokens_asked_for() {
        let token = Token::random().expect("random");
        let own = "127.0.0.1:4000";
        let post = |origin: Option<&str>, given: Option<&str>| {
            let mut headers = vec![("host", own)];
            headers.extend(origin.map(|origin| ("origin", origin)));
            headers.extend(given.map(|given| (HEADER, given)));
            code(&asked("POST", "/bench", &headers), own, &token)
        };
        assert_eq!(post(Some("http://127.0.0.1:4000"), Some(token.text())), 200);
        for origin in [
            "null",
            "https://127.0.0.1:4000",
            "http://127.0.0.1:4000/",
            "http://localhost:4000",
            "http://127.0.0.1:40001",
            "",
        ] {
            assert_eq!(post(Some(origin), Some(token.text())), 403, "{origin}");
        }
        assert_eq!(post(None, Some(token.text())), 403);
        assert_eq!(post(Some("http://127.0.0.1:4000"), None), 403);
        assert_eq!(post(Some("http://127.0.0.1:4000"), Some("0")), 403);
        // Only the page itself goes without.
        assert_eq!(code(&asked("GET", "/history", &[("host", own)]), own, &token), 403);
    }
}
