//! Answers the browsers of this machine, and nobody else.
//!
//! A page of some other site can have a browser ask here under a name of its own, and would then read the answer. So only
//! who asks for this machine by its own name is answered.

use std::io::{self, Read, Write};
use std::net::{Ipv4Addr, TcpListener, TcpStream};
use std::sync::Arc;
use std::thread;
use std::time::Duration;

use httparse::{EMPTY_HEADER, Request, Status};
use serde_json::json;

use super::super::Failure;
use super::super::files::reason;
use super::desk::Desk;

/// Nobody needs longer to ask, or to take what is given.
const PATIENCE: Duration = Duration::from_secs(10);

/// No question is longer, in bytes, or has more headers.
const LONGEST: usize = 16 << 10;
const MOST_HEADERS: usize = 100;

/// Goes with every answer: it is not kept, not taken for something else, and not shown within another site.
const ALWAYS: &str = "Cache-Control: no-store\r\nX-Content-Type-Options: nosniff\r\n\
    Content-Security-Policy: frame-ancestors 'none'\r\nCross-Origin-Resource-Policy: same-origin\r\nConnection: close\r\n";

/// Takes the port on the loopback address; 0 is any that is free.
pub(super) fn listen(port: u16) -> Result<TcpListener, Failure> {
    TcpListener::bind((Ipv4Addr::LOCALHOST, port)).map_err(|error| {
        Failure(match error.kind() {
            io::ErrorKind::AddrInUse => format!(
                "port {port} is in use by another program; give another, or leave --port out for one that is free"
            ),
            io::ErrorKind::PermissionDenied => format!(
                "port {port} is kept for the system; give one above 1023, or leave --port out for one that is free"
            ),
            _ => format!("port {port} cannot be used: {}", reason(&error)),
        })
    })
}

/// Answers from now on, every caller in a thread of its own, so that one who dawdles keeps no other waiting. Gives the
/// address to ask at.
pub(super) fn serve(listener: TcpListener, desk: &Arc<Desk>) -> Result<String, Failure> {
    let cannot = |error: io::Error| Failure(format!("nobody can be answered: {}", reason(&error)));
    let port = listener.local_addr().map_err(cannot)?.port();
    let desk = Arc::clone(desk);
    thread::Builder::new()
        .spawn(move || {
            loop {
                let Ok((caller, _)) = listener.accept() else {
                    // Too many callers; some will have gone in a moment.
                    thread::sleep(Duration::from_millis(50));
                    continue;
                };
                let desk = Arc::clone(&desk);
                // A caller who goes away, or for whom there is no thread, is no fault of anybody's.
                let _ = thread::Builder::new().spawn(move || attend(caller, port, &desk));
            }
        })
        .map_err(cannot)?;
    Ok(format!("http://127.0.0.1:{port}/"))
}

/// Hears one question and answers it.
fn attend(mut caller: TcpStream, port: u16, desk: &Desk) -> io::Result<()> {
    caller.set_read_timeout(Some(PATIENCE))?;
    caller.set_write_timeout(Some(PATIENCE))?;
    let question = heard(&mut caller)?;
    let mut headers = [EMPTY_HEADER; MOST_HEADERS];
    let mut request = Request::new(&mut headers);
    let complete = matches!(request.parse(&question), Ok(Status::Complete(_)));
    let answer = if complete { answer(&request, port, desk) } else { Answer::plain("400 Bad Request", "") };
    let Answer { status, kind, body } = answer;
    let length = body.len();
    write!(
        caller,
        "HTTP/1.1 {status}\r\nContent-Type: {kind}; charset=utf-8\r\nContent-Length: {length}\r\n{ALWAYS}\r\n"
    )?;
    if request.method != Some("HEAD") {
        caller.write_all(body.as_bytes())?;
    }
    caller.flush()
}

/// The head of a question, up to its empty line, or as much of it as came or is heard at all.
fn heard(caller: &mut impl Read) -> io::Result<Vec<u8>> {
    let mut question = Vec::new();
    let mut piece = [0; 1024];
    while question.len() < LONGEST && !question.windows(4).any(|four| four == b"\r\n\r\n") {
        match caller.read(&mut piece)? {
            0 => break,
            read => question.extend(piece.iter().take(read)),
        }
    }
    Ok(question)
}

/// What is given to a question.
struct Answer {
    status: &'static str,
    kind: &'static str,
    body: String,
}

impl Answer {
    fn plain(status: &'static str, body: &str) -> Self {
        Self { status, kind: "text/plain", body: format!("{body}\n") }
    }
}

fn answer(request: &Request, port: u16, desk: &Desk) -> Answer {
    if !by_name(request, port) {
        let only = format!("Only http://127.0.0.1:{port}/ and http://localhost:{port}/ are answered.");
        return Answer::plain("403 Forbidden", &only);
    }
    if !matches!(request.method, Some("GET" | "HEAD")) {
        return Answer::plain("405 Method Not Allowed", "The page can only be looked at.");
    }
    let path = request.path.and_then(|path| path.split('?').next());
    let state = desk.state();
    match path {
        Some("/") => Answer { status: "200 OK", kind: "text/html", body: state.served.html.clone() },
        Some("/state") => {
            let told = json!({ "mark": state.served.mark, "busy": state.busy });
            Answer { status: "200 OK", kind: "application/json", body: told.to_string() }
        }
        _ => Answer::plain("404 Not Found", "Nothing is here; the page is at /."),
    }
}

/// Whether this machine is asked for by its own name, and by one only.
fn by_name(request: &Request, port: u16) -> bool {
    let mut hosts = request.headers.iter().filter(|header| header.name.eq_ignore_ascii_case("host"));
    let (Some(host), None) = (hosts.next(), hosts.next()) else { return false };
    // Where the port is the usual one of the web, browsers leave it out.
    ["127.0.0.1", "localhost"].iter().any(|name| {
        let with_port = format!("{name}:{port}");
        host.value.eq_ignore_ascii_case(with_port.as_bytes())
            || (port == 80 && host.value.eq_ignore_ascii_case(name.as_bytes()))
    })
}
