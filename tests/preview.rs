//! The page as a browser is given it: anew after every save, with the words of the command line while the job is broken,
//! and to this machine only.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may stop at what it did not expect")]

use std::fs;
use std::io::{BufRead, BufReader, Read, Write};
use std::net::{Ipv4Addr, TcpListener, TcpStream};
use std::path::Path;
use std::process::{Child, Command, Output, Stdio};
use std::thread;
use std::time::{Duration, Instant};

use tempfile::TempDir;

/// Whatever is waited for comes within this on the slowest of machines, or not at all.
const LONG: Duration = Duration::from_secs(120);

fn job(title: &str) -> String {
    format!(
        "\
job: {{title: {title}}}
devices:
  G1: {{type: dc-supply, volts: 12 V, amps: 1 A}}
  H1: {{type: siren, volts: 12 V, amps: 0.1 A}}
cables:
  W1: {{type: twin-0.75, length: 1 m, cores: {{red: [G1.V+, H1.V+], black: [G1.V-, H1.V-]}}}}
"
    )
}

/// A job that cannot be used, for a reason with a line and a cure.
fn broken() -> String {
    job("Broken").replace("siren", "sirn")
}

fn folder(name: &str, text: &str) -> TempDir {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join(name), text).unwrap();
    folder
}

fn program() -> Command {
    Command::new(env!("CARGO_BIN_EXE_bellwire"))
}

fn run(folder: &Path, args: &[&str]) -> Output {
    program().current_dir(folder).args(args).output().unwrap()
}

/// A preview that runs, ended when it is dropped.
struct Preview {
    child: Child,
    port: u16,
    said: String,
}

impl Preview {
    fn of(folder: &Path, job: &str) -> Self {
        Self::with(folder, &[job])
    }

    fn with(folder: &Path, args: &[&str]) -> Self {
        let mut child = program()
            .current_dir(folder)
            .arg("preview")
            .args(args)
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let mut said = String::new();
        BufReader::new(child.stdout.take().unwrap()).read_line(&mut said).unwrap();
        let port = said.split("http://127.0.0.1:").nth(1).and_then(|rest| rest.split('/').next());
        let port = port.unwrap_or_else(|| panic!("no address in {said:?}")).parse().unwrap();
        Self { child, port, said }
    }

    /// The whole answer to a question, head and all.
    fn asked(&self, question: &str) -> String {
        let mut stream = TcpStream::connect((Ipv4Addr::LOCALHOST, self.port)).unwrap();
        stream.set_read_timeout(Some(LONG)).unwrap();
        stream.write_all(question.as_bytes()).unwrap();
        let mut answer = String::new();
        stream.read_to_string(&mut answer).unwrap();
        answer
    }

    fn get(&self, path: &str) -> String {
        self.asked(&format!("GET {path} HTTP/1.1\r\nHost: 127.0.0.1:{}\r\n\r\n", self.port))
    }

    fn status(&self, question: &str) -> u16 {
        let answer = self.asked(&question.replace("PORT", &self.port.to_string()));
        answer.split(' ').nth(1).unwrap().parse().unwrap()
    }

    /// The page once it says all of that.
    fn until(&self, words: &[&str]) -> String {
        let begin = Instant::now();
        loop {
            let page = self.get("/");
            if words.iter().all(|words| page.contains(words)) {
                return page;
            }
            assert!(begin.elapsed() < LONG, "{words:?} never came: {}", &page[..page.len().min(4000)]);
            thread::sleep(Duration::from_millis(50));
        }
    }
}

impl Drop for Preview {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// Text as it stands in a page.
fn escaped(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;").replace('"', "&quot;")
}

fn mark(page: &str) -> &str {
    page.split("data-mark=\"").nth(1).unwrap().split('"').next().unwrap()
}

const FIRST: &str = "<h1>First</h1>";
const SECOND: &str = "<h1>Second</h1>";

#[test]
fn the_page_follows_the_file_through_good_and_bad() {
    let at = folder("siren.yaml", &job("First"));
    let file = at.path().join("siren.yaml");
    let preview = Preview::of(at.path(), "siren.yaml");
    assert!(preview.said.starts_with("siren.yaml is shown at http://127.0.0.1:"), "{}", preview.said);

    // What the command line lists stands above the page, and the page is the one that `pack` writes.
    let first = preview.until(&[FIRST]);
    let listed = run(at.path(), &["check", "siren.yaml"]).stdout;
    assert!(first.contains(&escaped(std::str::from_utf8(&listed).unwrap())), "the findings are not there");
    assert!(run(at.path(), &["pack", "siren.yaml", "-o", "written.html"]).status.success());
    let written = fs::read_to_string(at.path().join("written.html")).unwrap();
    let body = written.split("<body>").nth(1).unwrap().split("</body>").next().unwrap();
    assert!(first.contains(body), "the page is not the one that pack writes");
    for served_only in ["data-mark", "/state", "connect-src", "preview"] {
        assert!(first.contains(served_only), "{served_only} is not in the page that is served");
        assert!(!written.contains(served_only), "{served_only} is in the page that is written");
    }
    assert!(preview.get("/state").contains(mark(&first)), "the page would open anew for ever");

    fs::write(&file, job("Second")).unwrap();
    let second = preview.until(&[SECOND]);
    assert_ne!(mark(&second), mark(&first));
    assert!(!second.contains(FIRST));

    // The same words as at the prompt, with line, column and cure, above the page from before.
    fs::write(&file, broken()).unwrap();
    let refused = run(at.path(), &["draw", "siren.yaml", "-o", "never.svg"]);
    assert_eq!(refused.status.code(), Some(2));
    let why = escaped(std::str::from_utf8(&refused.stderr).unwrap().trim_end());
    assert!(why.contains("siren.yaml:4:14") && why.contains("fix:"), "{why}");
    let still = preview.until(&[&why, "id=\"unusable\""]);
    assert!(still.contains(SECOND) && still.contains("<title>Unusable: Second</title>"));
    assert_ne!(mark(&still), mark(&second));

    fs::write(&file, job("Second")).unwrap();
    let mended = preview.until(&[SECOND, "<summary>siren.yaml: "]);
    assert!(!mended.contains("id=\"unusable\""));
    assert_eq!(mark(&mended), mark(&second), "the same page has the same mark");
    drop(preview);
    assert_eq!(fs::read_dir(at.path()).unwrap().count(), 2, "preview wrote something");
}

#[test]
fn a_file_that_is_replaced_or_vanishes_is_followed() {
    let at = folder("siren.yaml", &job("First"));
    let file = at.path().join("siren.yaml");
    let preview = Preview::of(at.path(), "siren.yaml");
    preview.until(&[FIRST]);

    // As many editors save: another file takes its place.
    fs::write(at.path().join("siren.yaml.new"), job("Second")).unwrap();
    fs::rename(at.path().join("siren.yaml.new"), &file).unwrap();
    preview.until(&[SECOND]);

    fs::remove_file(&file).unwrap();
    preview.until(&["bellwire: siren.yaml: there is no such file", SECOND]);
    fs::write(&file, job("Third")).unwrap();
    preview.until(&["<h1>Third</h1>", "<summary>siren.yaml: "]);
}

#[test]
fn a_folder_that_vanishes_and_returns_is_followed() {
    let at = folder("other", "");
    let inner = at.path().join("job");
    fs::create_dir(&inner).unwrap();
    fs::write(inner.join("siren.yaml"), job("First")).unwrap();
    let preview = Preview::of(at.path(), "job/siren.yaml");
    preview.until(&[FIRST]);
    fs::remove_dir_all(&inner).unwrap();
    preview.until(&["id=\"unusable\""]);
    fs::create_dir(&inner).unwrap();
    fs::write(inner.join("siren.yaml"), job("Second")).unwrap();
    preview.until(&[SECOND, "<summary>job/siren.yaml: "]);
}

#[test]
fn a_company_file_is_followed_too_even_one_that_is_missing() {
    let text = format!("use: [parts/sounders.yaml]\n{}", job("First").replace("siren,", "our-siren,"));
    let at = folder("siren.yaml", &text);
    fs::create_dir(at.path().join("parts")).unwrap();
    let preview = Preview::of(at.path(), "siren.yaml");
    // A job that is broken from the beginning has no page below the reason.
    let first = preview.until(&["id=\"unusable\"", "parts/sounders.yaml"]);
    assert!(!first.contains("<h1>"));
    let sheet = |name: &str| {
        format!(
            "data_sheets: {{our-siren: {{name: {name}, terminals: [V+, V-], loads: {{L: {{plus: V+, minus: V-}}}}}}}}\n"
        )
    };
    let parts = at.path().join("parts/sounders.yaml");
    fs::write(&parts, sheet("Loud horn")).unwrap();
    preview.until(&[FIRST, "Loud horn"]);
    fs::write(&parts, sheet("Deep horn")).unwrap();
    preview.until(&[FIRST, "Deep horn"]);
}

#[cfg(unix)]
#[test]
fn a_job_behind_a_link_is_followed_at_both_ends() {
    let at = folder("real.yaml", &job("First"));
    let links = tempfile::tempdir().unwrap();
    let link = links.path().join("siren.yaml");
    std::os::unix::fs::symlink(at.path().join("real.yaml"), &link).unwrap();
    let preview = Preview::of(links.path(), "siren.yaml");
    preview.until(&[FIRST]);
    fs::write(at.path().join("real.yaml"), job("Second")).unwrap();
    preview.until(&[SECOND]);
    fs::write(at.path().join("other.yaml"), job("Third")).unwrap();
    fs::remove_file(&link).unwrap();
    std::os::unix::fs::symlink(at.path().join("other.yaml"), &link).unwrap();
    preview.until(&["<h1>Third</h1>"]);
}

#[test]
fn several_ask_at_once_and_one_who_dawdles_keeps_nobody_waiting() {
    let at = folder("siren.yaml", &job("First"));
    let preview = Preview::of(at.path(), "siren.yaml");
    let page = preview.until(&[FIRST]);
    let dawdlers: Vec<TcpStream> = (0..20)
        .map(|_| {
            let mut stream = TcpStream::connect((Ipv4Addr::LOCALHOST, preview.port)).unwrap();
            stream.write_all(b"GET / HT").unwrap();
            stream
        })
        .collect();
    thread::scope(|scope| {
        let askers: Vec<_> = (0..8).map(|_| scope.spawn(|| preview.get("/"))).collect();
        for asker in askers {
            assert_eq!(asker.join().unwrap(), page);
        }
    });
    drop(dawdlers);
    // Callers who hang up without hearing the answer, and nonsense, do no harm.
    for question in
        ["GET / HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n", "\0\u{7f}\r\n\r\n", "", "GET / HTTP/1.1\r\nHost"]
    {
        for _ in 0..50 {
            let mut stream = TcpStream::connect((Ipv4Addr::LOCALHOST, preview.port)).unwrap();
            let _ = stream.write_all(question.as_bytes());
        }
    }
    assert_eq!(preview.get("/"), page);
}

#[test]
fn only_this_machine_under_its_own_name_is_answered() {
    let at = folder("siren.yaml", &job("First"));
    let preview = Preview::of(at.path(), "siren.yaml");
    preview.until(&[FIRST]);
    for (question, status) in [
        ("GET / HTTP/1.1\r\nHost: 127.0.0.1:PORT\r\n\r\n", 200),
        ("GET / HTTP/1.1\r\nhost: LocalHost:PORT\r\n\r\n", 200),
        ("GET /?again HTTP/1.1\r\nHost: localhost:PORT\r\n\r\n", 200),
        ("HEAD / HTTP/1.1\r\nHost: localhost:PORT\r\n\r\n", 200),
        ("GET / HTTP/1.1\r\nHost: shed.example:PORT\r\n\r\n", 403),
        ("GET /state HTTP/1.1\r\nHost: shed.example:PORT\r\n\r\n", 403),
        ("GET / HTTP/1.1\r\nHost: 127.0.0.1.shed.example:PORT\r\n\r\n", 403),
        ("GET / HTTP/1.1\r\nHost: localhost\r\n\r\n", 403),
        ("GET / HTTP/1.1\r\nHost: localhost:PORT\r\nHost: shed.example:PORT\r\n\r\n", 403),
        ("GET / HTTP/1.0\r\n\r\n", 403),
        ("GET /siren.yaml HTTP/1.1\r\nHost: localhost:PORT\r\n\r\n", 404),
        ("GET /../siren.yaml HTTP/1.1\r\nHost: localhost:PORT\r\n\r\n", 404),
        ("GET http://localhost:PORT/ HTTP/1.1\r\nHost: localhost:PORT\r\n\r\n", 404),
        ("DELETE / HTTP/1.1\r\nHost: localhost:PORT\r\n\r\n", 405),
        ("nonsense\r\n\r\n", 400),
    ] {
        assert_eq!(preview.status(question), status, "{question}");
    }
    let head = preview.asked(&format!("HEAD / HTTP/1.1\r\nHost: localhost:{}\r\n\r\n", preview.port));
    assert!(head.ends_with("\r\n\r\n"), "HEAD gives no body");
    assert!(preview.get("/").contains("frame-ancestors 'none'"));
    // Bound to one address of the machine, not to all.
    if cfg!(target_os = "linux") {
        TcpListener::bind((Ipv4Addr::new(127, 0, 0, 2), preview.port))
            .expect("the port is taken elsewhere too");
    }
}

#[test]
fn what_cannot_be_previewed_is_told_at_once() {
    let at = folder("siren.yaml", &job("First"));
    let taken = TcpListener::bind((Ipv4Addr::LOCALHOST, 0)).unwrap();
    let port = taken.local_addr().unwrap().port().to_string();
    for (args, words) in [
        (&["preview", "-"][..], "standard input cannot be saved again"),
        (&["preview", "absent.yaml"], "absent.yaml: there is no such file"),
        (&["preview", "."], "this is a folder"),
        (&["preview", "siren.yaml", "--port", &port], "is in use by another program"),
        (&["preview", "siren.yaml", "--port", "70000"], "70000"),
    ] {
        let output = run(at.path(), args);
        let said = String::from_utf8(output.stderr).unwrap();
        assert_eq!(output.status.code(), Some(2), "{args:?}: {said}");
        assert!(said.contains(words), "{args:?}: {said}");
    }
}

#[test]
fn the_port_that_is_asked_for_is_taken() {
    let at = folder("siren.yaml", &job("First"));
    // One that was free a moment ago; should another program take it meanwhile, the next is tried.
    for _ in 0..20 {
        let free = TcpListener::bind((Ipv4Addr::LOCALHOST, 0)).unwrap().local_addr().unwrap().port();
        let output = program()
            .current_dir(at.path())
            .args(["preview", "siren.yaml", "--port", &free.to_string()])
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn();
        let mut child = output.unwrap();
        let mut said = String::new();
        BufReader::new(child.stdout.take().unwrap()).read_line(&mut said).unwrap();
        let _ = child.kill();
        let _ = child.wait();
        if !said.is_empty() {
            assert!(said.contains(&format!("http://127.0.0.1:{free}/")), "{said}");
            return;
        }
    }
    panic!("no free port in twenty");
}

#[cfg(unix)]
#[test]
fn ctrl_c_ends_it() {
    use std::os::unix::process::ExitStatusExt;
    let at = folder("siren.yaml", &job("First"));
    let mut preview = Preview::of(at.path(), "siren.yaml");
    preview.until(&[FIRST]);
    let id = preview.child.id().to_string();
    assert!(Command::new("kill").args(["-INT", &id]).status().unwrap().success());
    assert_eq!(preview.child.wait().unwrap().signal(), Some(2));
    assert_eq!(fs::read_dir(at.path()).unwrap().count(), 1, "something was left behind");
}
