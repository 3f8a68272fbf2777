//! `page`: what the server answers, and to whom, by bare sockets.

use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use serde_json::{Value, json};

use super::tool::{Folder, assert_refused, demo, run, tool};

const LOG: &str = "touches.csv";
const MACHINE: &str = "machine.toml";

/// A server that ends with the test.
struct Served {
    child: Child,
    host: String,
    token: String,
}

impl Drop for Served {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

impl Served {
    fn new(args: &[&str]) -> Self {
        let mut command: Command = tool();
        // No history but the test's own.
        command.env("XDG_DATA_HOME", std::env::temp_dir().join("zdatum-no-such-folder"));
        let mut child = command
            .arg("page")
            .args(args)
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .expect("the tool runs");
        let mut line = String::new();
        BufReader::new(child.stdout.take().expect("a pipe")).read_line(&mut line).expect("an address");
        let address = line.trim().strip_prefix("http://").unwrap_or_else(|| panic!("an address: {line:?}"));
        let (host, token) = address.split_once("/#").expect("a token");
        Self { host: host.into(), token: token.into(), child }
    }

    fn connect(&self) -> TcpStream {
        let stream = TcpStream::connect(&self.host).expect("a connection");
        stream.set_read_timeout(Some(Duration::from_secs(60))).expect("a timeout");
        stream
    }

    /// Sends bytes as they are; the answer's code, head and body. 0 where there is none.
    fn raw(&self, bytes: &[u8]) -> (u16, String, String) {
        let mut stream = self.connect();
        // A server that has seen enough may end the connection.
        let _ = stream.write_all(bytes);
        received(&mut stream)
    }

    /// A request as the page sends it, but for some headers; an empty value leaves one out.
    fn asked(&self, method: &str, path: &str, others: &[(&str, &str)], body: &str) -> (u16, String, String) {
        let origin = format!("http://{}", self.host);
        let length = body.len().to_string();
        let mut headers = vec![
            ("Host", self.host.as_str()),
            ("Origin", &origin),
            ("X-Zdatum-Token", &self.token),
            ("Content-Length", &length),
        ];
        for (name, value) in others {
            headers.retain(|(own, _)| own != name);
            if !value.is_empty() {
                headers.push((name, value));
            }
        }
        let headers: String = headers.iter().map(|(name, value)| format!("{name}: {value}\r\n")).collect();
        self.raw(format!("{method} {path} HTTP/1.1\r\n{headers}\r\n{body}").as_bytes())
    }

    fn post(&self, path: &str, body: &Value) -> (u16, Value) {
        let (code, _, text) = self.asked("POST", path, &[], &body.to_string());
        (code, serde_json::from_str(&text).unwrap_or_else(|error| panic!("{error}: {text}")))
    }
}

fn received(stream: &mut TcpStream) -> (u16, String, String) {
    let mut bytes = Vec::new();
    let _ = stream.read_to_end(&mut bytes);
    let text = String::from_utf8(bytes).expect("UTF-8");
    let (head, body) = text.split_once("\r\n\r\n").unwrap_or((&text, ""));
    let code = head.split(' ').nth(1).and_then(|code| code.parse().ok()).unwrap_or(0);
    (code, head.to_owned(), body.to_owned())
}

fn upload(path: &str) -> Value {
    json!({ "name": "a.csv", "text": std::fs::read_to_string(demo(path)).expect("the demo") })
}

#[test]
fn it_serves_at_a_loopback_address_with_a_token_of_its_own() {
    let (one, other) = (Served::new(&[]), Served::new(&[]));
    for served in [&one, &other] {
        assert!(served.host.starts_with("127.0.0.1:"), "{}", served.host);
        assert!(served.token.len() == 48 && served.token.bytes().all(|byte| byte.is_ascii_hexdigit()));
    }
    assert_ne!(one.token, other.token);
    assert_ne!(one.host, other.host);
    let taken = one.host.rsplit(':').next().expect("a port");
    assert_refused(&run(&["page", "--port", taken]), &["cannot serve"]);
    assert_refused(&run(&["page", "--bind", "0.0.0.0"]), &["every address"]);
    assert_refused(&run(&["page", "--machine", "no-such.toml"]), &["no-such.toml"]);
    assert_refused(&run(&["page", "--history", "no-such.sqlite"]), &["no-such.sqlite"]);
}

#[test]
fn the_page_itself_is_bare_and_locked() {
    let served = Served::new(&[]);
    let (code, head, body) =
        served.asked("GET", "/", &[("Origin", ""), ("X-Zdatum-Token", ""), ("Content-Length", "")], "");
    assert_eq!(code, 200);
    assert!(body.starts_with("<!DOCTYPE html>") && !body.contains(&served.token));
    let head = head.to_ascii_lowercase();
    for needed in [
        "default-src 'none'",
        "script-src 'nonce-",
        "style-src 'nonce-",
        "frame-ancestors 'none'",
        "base-uri 'none'",
        "form-action 'none'",
        "x-content-type-options: nosniff",
        "referrer-policy: no-referrer",
        "cache-control: no-store",
        "cross-origin-resource-policy: same-origin",
    ] {
        assert!(head.contains(needed), "{needed} in {head}");
    }
    for never in ["access-control", "unsafe-inline", "unsafe-eval", "set-cookie"] {
        assert!(!head.contains(never), "{never} in {head}");
    }
    let nonce = |head: &str| {
        head.split("script-src 'nonce-").nth(1).and_then(|rest| rest.split('\'').next()).map(str::to_owned)
    };
    let first = nonce(&head).expect("a nonce");
    assert!(body.contains(&format!("<script nonce=\"{first}\">")));
    let again = served.asked("GET", "/", &[("Origin", "")], "").1.to_ascii_lowercase();
    assert_ne!(nonce(&again), Some(first), "one nonce for each page");
}

#[test]
fn only_its_own_page_may_ask() {
    let served = Served::new(&[]);
    let port = served.host.rsplit(':').next().expect("a port").to_owned();
    let code = |others: &[(&str, &str)]| served.asked("POST", "/machine", others, "{}").0;
    assert_eq!(code(&[]), 200);
    for host in [
        "",
        "localhost",
        &format!("localhost:{port}"),
        "127.0.0.1",
        &format!("evil.example:{port}"),
        &format!("127.0.0.1.:{port}"),
    ] {
        assert_eq!(code(&[("Host", host)]), 403, "host {host:?}");
        assert_eq!(served.asked("GET", "/", &[("Host", host)], "").0, 403, "host {host:?}");
    }
    for origin in [
        "",
        "null",
        "http://evil.example",
        &format!("http://localhost:{port}"),
        &format!("https://127.0.0.1:{port}"),
        "http://127.0.0.1",
    ] {
        assert_eq!(code(&[("Origin", origin)]), 403, "origin {origin:?}");
    }
    let mut almost = served.token.clone();
    let last = if almost.pop() == Some('0') { '1' } else { '0' };
    almost.push(last);
    for token in [
        "",
        "0",
        &almost,
        &format!("{}0", served.token),
        &served.token.to_uppercase().replace(char::is_numeric, "x"),
    ] {
        let (code, head, body) = served.asked("POST", "/machine", &[("X-Zdatum-Token", token)], "{}");
        assert_eq!(code, 403, "token {token:?}");
        assert!(!body.contains(&served.token) && !head.contains(&served.token));
    }
    // What another page would have to ask for first is not granted.
    let (code, head, _) = served.asked(
        "OPTIONS",
        "/bench",
        &[("X-Zdatum-Token", ""), ("Access-Control-Request-Method", "POST")],
        "",
    );
    assert_eq!(code, 403);
    assert!(!head.to_ascii_lowercase().contains("access-control"), "{head}");
    assert_eq!(served.asked("GET", "/bench", &[], "").0, 405);
    assert_eq!(served.asked("PUT", "/", &[], "").0, 405);
}

#[test]
fn no_path_is_ever_a_file() {
    let served = Served::new(&[]);
    for path in [
        "/../../etc/passwd",
        "/%2e%2e/%2e%2e/etc/passwd",
        "/index.html",
        "//",
        "/bench/",
        "/bench?x",
        "/.",
        "*",
        "http://127.0.0.1/",
    ] {
        for method in ["GET", "POST"] {
            let (code, _, body) = served.asked(method, path, &[], "{}");
            assert!((400..405).contains(&code), "{method} {path}: {code}");
            assert!(!body.contains("root:"), "{body}");
        }
    }
}

#[test]
fn malformed_requests_are_refused_and_the_next_is_answered() {
    let served = Served::new(&[]);
    let host = &served.host;
    for (bytes, expected) in [
        ("nonsense\r\n\r\n".to_owned(), 400),
        ("\u{0}\u{1}\u{2}\r\n\r\n".to_owned(), 400),
        (format!("GET / HTTP/1.0\r\nHost: {host}\r\n\r\n"), 505),
        (format!("GET / HTTP/1.1\r\nHost: {host}\r\nHost: {host}\r\n\r\n"), 400),
        (format!("POST /bench HTTP/1.1\r\nHost: {host}\r\n\r\n"), 411),
        (format!("POST /bench HTTP/1.1\r\nHost: {host}\r\nTransfer-Encoding: chunked\r\n\r\n0\r\n\r\n"), 501),
        (
            format!(
                "POST /bench HTTP/1.1\r\nHost: {host}\r\nContent-Length: 5\r\nContent-Length: 6\r\n\r\nhello"
            ),
            400,
        ),
        (format!("GET / HTTP/1.1\r\nHost: {host}\r\nA: {}\r\n\r\n", "a".repeat(20_000)), 431),
        (format!("GET / HTTP/1.1\r\nHost: {host}\r\n{}\r\n", "A: b\r\n".repeat(100)), 431),
        (String::new(), 0),
    ] {
        let mut stream = served.connect();
        let _ = stream.write_all(bytes.as_bytes());
        if expected == 0 {
            let _ = stream.shutdown(std::net::Shutdown::Write);
        }
        let shown: String = bytes.chars().take(60).collect();
        assert_eq!(received(&mut stream).0, expected, "{shown:?}");
    }
    for body in ["{", "{\"unknown\":1}", "{\"settings\":{\"plate\":\"x\"}}", "null", "\u{fffd}"] {
        let (code, _, text) = served.asked("POST", "/bench", &[], body);
        assert_eq!(code, 400, "{body}: {text}");
        assert!(text.contains("\"error\""), "{text}");
    }
    for (settings, cycles) in [
        (json!({"nonsense": 1}), 1_000),
        (json!({"touches": -3}), 1_000),
        (json!({"plate": 1e300}), 1_000),
        (json!({}), 100_001),
        (json!({}), 0),
    ] {
        let (code, answer) = served.post("/bench", &json!({ "settings": settings, "cycles": cycles }));
        assert_eq!(code, 400, "{settings} {cycles}: {answer}");
    }
    assert_eq!(served.post("/machine", &json!({})).0, 200);
}

#[test]
fn uploads_end_at_four_mebibytes() {
    let served = Served::new(&[]);
    let most = 4 << 20;
    let (code, _, body) = served.asked("POST", "/land", &[("Content-Length", &(most + 1).to_string())], "");
    assert_eq!(code, 413, "{body}");
    assert!(body.contains("4 MiB"));
    // Just as much is read, and then found to be no log.
    let frame = json!({ "log": { "name": "a.csv", "text": "" } }).to_string().len();
    let (code, answer) =
        served.post("/land", &json!({ "log": { "name": "a.csv", "text": "z".repeat(most - frame) } }));
    assert_eq!(code, 400);
    assert!(answer["error"]["title"].is_string(), "{answer}");
    // Nobody without a token gets that far.
    let (code, _, _) =
        served.asked("POST", "/land", &[("X-Zdatum-Token", ""), ("Content-Length", "1000000")], "");
    assert_eq!(code, 403);
}

#[test]
fn slow_clients_are_ended_and_keep_nobody_out() {
    let served = Served::new(&[]);
    let begun = Instant::now();
    // More than there are places, none of which finishes asking.
    let mut slow: Vec<TcpStream> = (0..100).map(|_| served.connect()).collect();
    for stream in &mut slow {
        let _ = stream.write_all(b"GET / HTTP/1.1\r\nHost: ");
    }
    assert_eq!(served.post("/machine", &json!({})).0, 200);
    // One byte now and then wins no time.
    let mut last = slow.pop().expect("a client");
    last.set_read_timeout(Some(Duration::from_millis(200))).expect("a timeout");
    while begun.elapsed() < Duration::from_secs(30) && last.write_all(b"a").is_ok() {
        // An answer, or the end of the connection; a read that times out goes on.
        if last.read(&mut [0]).is_ok() {
            break;
        }
    }
    assert!(begun.elapsed() < Duration::from_secs(30), "never ended");
    assert_eq!(served.post("/machine", &json!({})).0, 200);
}

#[test]
fn a_newer_computation_takes_the_place_of_the_older() {
    let served = Served::new(&[]);
    // A machine with so many touches and cycles that the older is still at it.
    let heavy = json!({ "settings": { "touches": 16 }, "cycles": 100_000 });
    let ask = || served.post("/bench", &heavy);
    let codes = std::thread::scope(|scope| {
        let all: Vec<_> = (0..6).map(|_| scope.spawn(ask)).collect();
        all.into_iter().map(|one| one.join().expect("no panic").0).collect::<Vec<_>>()
    });
    assert!(codes.iter().all(|code| [200, 409].contains(code)), "{codes:?}");
    assert!(codes.contains(&200) && codes.contains(&409), "{codes:?}");
    assert_eq!(served.post("/cancel", &json!({})).0, 200);
    assert_eq!(served.post("/bench", &json!({ "cycles": 1_000 })).0, 200);
}

#[test]
fn the_bench_answers_with_what_was_set() {
    let served = Served::new(&["--machine", &demo(MACHINE)]);
    let (code, own) = served.post("/bench", &json!({ "cycles": 20_000 }));
    assert_eq!(code, 200, "{own}");
    assert!(own["cycles"].as_u64().is_some_and(|cycles| (1..=20_000).contains(&cycles)));
    for part in ["in-short", "error", "budget", "methods", "refused"] {
        let html = own["parts"][part].as_str().expect("a part");
        assert!(
            html.starts_with("<section") && !html.contains("<script") && !html.contains(" style="),
            "{part}"
        );
    }
    let (_, noisy) =
        served.post("/bench", &json!({ "settings": { "plate": 12, "within": 10 }, "cycles": 20_000 }));
    assert_ne!(own["parts"]["error"], noisy["parts"]["error"]);
    assert!(noisy["says"].as_str().is_some_and(|says| says.contains("±10.0 µm")), "{noisy}");
    let text = std::fs::read_to_string(demo(MACHINE)).expect("the demo");
    let (before, rest) = text.split_once("[pooled]").expect("a study");
    let (_, after) = rest.split_once("[noise]").expect("noise");
    let machine = json!({ "name": "m.toml", "text": format!("{before}[noise]{after}") });
    let (code, bad) = served.post("/bench", &json!({ "machine": machine, "settings": { "touches": 1 } }));
    assert_eq!(code, 400);
    assert!(bad["error"]["title"].as_str().is_some_and(|title| title.contains("bad setup")), "{bad}");
}

#[test]
fn a_dropped_log_lands_as_it_does_on_the_command_line() {
    let served = Served::new(&[]);
    let (code, landed) = served.post("/land", &json!({ "log": upload(LOG) }));
    assert_eq!(code, 200, "{landed}");
    assert_eq!(landed["says"], "9 cycles, 0 refused; the newest landing is +0.9451 ± 0.0122 mm.");
    let html = landed["parts"]["landing"].as_str().expect("sections");
    assert!(html.contains("id=\"touches\"") && html.contains("G10 L2 P1 Z0.9451"));
    // With another machine file dropped as well, by that one.
    let text = std::fs::read_to_string(demo(MACHINE))
        .expect("the demo")
        .replace("trip_depth = 0.482", "trip_depth = 0.492");
    let machine = json!({ "name": "<b>.toml", "text": text });
    let (_, other) = served.post("/land", &json!({ "log": upload(LOG), "machine": machine }));
    assert!(other["says"].as_str().is_some_and(|says| says.contains("+0.9351")), "{}", other["says"]);
    // What is wrong is named with its line; nothing is shown.
    let log = json!({ "name": "bad.csv", "text": "station,z\ntip,0.5\ntip,high\n" });
    let (code, bad) = served.post("/land", &json!({ "log": log }));
    assert_eq!(code, 400);
    assert_eq!(
        (&bad["error"]["place"]["file"], &bad["error"]["place"]["line"]),
        (&json!("bad.csv"), &json!(3)),
        "{bad}"
    );
    assert_eq!(served.post("/land", &json!({})).0, 400);
    let (code, bad) =
        served.post("/machine", &json!({ "machine": { "name": "m.toml", "text": "nonsense" } }));
    assert_eq!(code, 400);
    assert_eq!(bad["error"]["place"]["file"], "m.toml");
}

#[test]
fn the_history_is_browsed_and_left_as_it_was() {
    let folder = Folder::new();
    let path = folder.path("h.sqlite");
    let history = path.to_str().expect("UTF-8");
    let (log, machine) = (demo(LOG), demo(MACHINE));
    let keep = ["land", &log, "--machine", &machine, "--keep", "--history", history];
    assert_eq!(run(&keep).code, Some(0));
    let before = std::fs::read(folder.path("h.sqlite")).expect("a history");
    let served = Served::new(&["--history", history]);
    assert_eq!(served.post("/machine", &json!({})).1["has_history"], true);
    let (code, all) = served.post("/history", &json!({}));
    assert_eq!(code, 200, "{all}");
    let html = all["parts"]["history"].as_str().expect("sections");
    for needed in ["No alarm active", "id=\"plates\"", "data-entry=\"9\"", "slate"] {
        assert!(html.contains(needed), "{needed} in {html}");
    }
    let (code, one) = served.post("/entry", &json!({ "entry": 9 }));
    assert_eq!(code, 200, "{one}");
    assert!(one["parts"]["entry"].as_str().is_some_and(|html| html.contains("+0.9451")), "{one}");
    assert_eq!(served.post("/entry", &json!({ "entry": 99 })).0, 400);
    assert_eq!(std::fs::read(folder.path("h.sqlite")).expect("a history"), before);
    assert_eq!(Served::new(&[]).post("/history", &json!({})).0, 404);
}
