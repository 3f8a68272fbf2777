//! Any bytes as a request to the page's server, over a socket of its own.

use std::io::Write;
use std::net::{Shutdown, TcpListener, TcpStream};
use std::time::{Duration, Instant};

use zdatum_sim::page::Token;
use zdatum_sim::page::access::check;
use zdatum_sim::page::http::Request;

pub(crate) fn take(bytes: &[u8]) {
    let listener = TcpListener::bind("127.0.0.1:0").expect("a port");
    let own = listener.local_addr().expect("its address");
    let mut client = TcpStream::connect(own).expect("connected");
    let (mut server, _) = listener.accept().expect("accepted");
    // More than the socket holds would wait for a reader.
    let _ = client.write_all(bytes.get(..bytes.len().min(16_384)).unwrap_or_default());
    let _ = client.shutdown(Shutdown::Write);
    let until = Instant::now() + Duration::from_secs(2);
    let Ok((request, begun)) = Request::read(&mut server, until) else { return };
    let token = Token::random().expect("random numbers");
    assert!(check(&request, own, &token).is_err(), "nobody knows the token");
    let _ = request.header("content-length");
    drop(begun);
}
