//! The checking page's server under attack: whatever is sent to it, it lets in only its own page, reads and writes nothing beside the archive,
//! and goes on answering.

use ruboff::notes::Tape;
use ruboff::review::mend::Mend;
use ruboff::review::{Answer, Asks, Refusal, Token, Verdict, Wire, address, listen, serve};
use serde_json::{Value, json};
use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::process::{Child, Command, Stdio};
use std::sync::Arc;
use std::time::{Duration, Instant};

/// A desk with one tracing that tells what it was asked.
struct Desk;

fn known(at: &str) -> Answer<()> {
    if at == "coat/front" { Ok(()) } else { Err(Refusal::new(404, format!("there is no tracing {} here", at.len()))) }
}

impl Asks for Desk {
    fn queue(&self, by: &str) -> Answer<Value> {
        Ok(json!({"entries": [], "by": by}))
    }

    fn look(&self, at: &str, by: &str) -> Answer<Value> {
        match at {
            "panic" => panic!("a fault of the program"),
            "slow" => std::thread::sleep(Duration::from_millis(300)),
            _ => known(at)?,
        }
        Ok(json!({"at": at, "by": by}))
    }

    fn tile(&self, at: &str, level: u32, [x, y]: [u32; 2]) -> Answer<Vec<u8>> {
        known(at)?;
        Ok(format!("jpeg {level} {x} {y}").into_bytes())
    }

    fn thumbnail(&self, at: &str) -> Answer<Vec<u8>> {
        known(at)?;
        Ok(vec![0xff, 0xd8])
    }

    fn residuals(&self, at: &str) -> Answer<Value> {
        known(at)?;
        Ok(json!({"nodes": []}))
    }

    fn checks(&self, at: &str) -> Answer<Value> {
        known(at)?;
        Ok(json!({"measures": []}))
    }

    fn mend(&self, at: &str, seen: &str, by: &str, mend: &Mend) -> Answer<Value> {
        known(at)?;
        match seen {
            "old" => Err(Refusal { status: 409, say: "another tab changed this tracing first".into(), look: Some(json!({"at": at})) }),
            _ => Ok(json!({"by": by, "did": mend.words(None)})),
        }
    }

    fn undo(&self, at: &str, _: &str, _: &str) -> Answer<Value> {
        known(at)?;
        Ok(json!({}))
    }

    fn opinion(&self, at: &str, _: &str, _: &str, word: Option<Verdict>, note: &str) -> Answer<Value> {
        known(at)?;
        Ok(json!({"word": word, "note": note}))
    }

    fn tick(&self, at: &str, _: &str, doubt: &str, ticked: bool) -> Answer<Value> {
        known(at)?;
        Ok(json!({"doubt": doubt, "ticked": ticked}))
    }

    fn tape(&self, at: &str, _: &str, _: &str, tape: &Tape, _: &str) -> Answer<Value> {
        known(at)?;
        Ok(json!({"mm": tape.reading.mm()}))
    }
}

/// A server of its own for each test; it ends with the process.
struct Served {
    port: u16,
    token: String,
}

/// What came back.
#[derive(Debug)]
struct Reply {
    status: u16,
    head: String,
    body: Vec<u8>,
}

impl Reply {
    fn json(&self) -> Value {
        serde_json::from_slice(&self.body).unwrap_or_else(|e| panic!("{e}: {:?} {}", self.head, String::from_utf8_lossy(&self.body)))
    }

    fn has(&self, line: &str) -> bool {
        self.head.lines().any(|l| l.eq_ignore_ascii_case(line))
    }
}

impl Served {
    fn start() -> Self {
        let (listener, token) = (listen(0).expect("a port"), Token::new().expect("random"));
        let (port, text) = (listener.local_addr().expect("bound").port(), token.text().to_owned());
        assert_eq!(address(&listener, &token).expect("bound"), format!("http://127.0.0.1:{port}/{text}/"));
        std::thread::spawn(move || serve(Arc::new(Desk), listener, token).expect("served"));
        Self { port, token: text }
    }

    fn connect(&self) -> TcpStream {
        let stream = TcpStream::connect(("127.0.0.1", self.port)).expect("connected");
        stream.set_read_timeout(Some(Duration::from_secs(20))).expect("set");
        stream
    }

    /// Sends bytes as they are and reads until the server has answered once and closed, or says nothing more.
    fn raw(&self, bytes: &[u8]) -> Option<Reply> {
        let mut stream = self.connect();
        // A server that has heard enough may close before all is sent.
        let _ = stream.write_all(bytes);
        let _ = stream.flush();
        reply(&mut stream)
    }

    fn host(&self) -> String {
        format!("Host: 127.0.0.1:{}\r\n", self.port)
    }

    fn get(&self, name: &str) -> Reply {
        let line = format!("GET /{}/{name} HTTP/1.1\r\n{}Connection: close\r\n\r\n", self.token, self.host());
        self.raw(line.as_bytes()).expect("answered")
    }

    fn post(&self, name: &str, body: &str) -> Reply {
        let head = format!(
            "POST /{}/{name} HTTP/1.1\r\n{}Origin: http://127.0.0.1:{}\r\nContent-Type: application/json\r\nContent-Length: {}\r\nConnection: close\r\n\r\n",
            self.token,
            self.host(),
            self.port,
            body.len()
        );
        self.raw(format!("{head}{body}").as_bytes()).expect("answered")
    }

    /// That the page is still there, and how long that took.
    fn answers(&self) -> Duration {
        let begun = Instant::now();
        let page = self.get("");
        assert!(page.status == 200 && page.body.starts_with(b"<!"), "{page:?}");
        begun.elapsed()
    }
}

fn reply(stream: &mut TcpStream) -> Option<Reply> {
    let mut all = Vec::new();
    let mut part = [0; 65536];
    loop {
        let end = all.windows(4).position(|w| w == b"\r\n\r\n");
        if let Some(end) = end {
            let head = String::from_utf8_lossy(&all[..end]).into_owned();
            let long =
                head.lines().find_map(|l| l.to_lowercase().strip_prefix("content-length:").and_then(|n| n.trim().parse::<usize>().ok()));
            if all.len() >= end + 4 + long.unwrap_or(0) {
                let status = head.split(' ').nth(1).and_then(|s| s.parse().ok()).expect("a status");
                return Some(Reply { status, head, body: all[end + 4..].to_vec() });
            }
        }
        match stream.read(&mut part) {
            Ok(0) | Err(_) => return None,
            Ok(n) => all.extend_from_slice(&part[..n]),
        }
    }
}

#[test]
fn the_page_is_served_with_headers_that_keep_it_to_itself() {
    let served = Served::start();
    for (name, kind) in [
        ("", "text/html; charset=utf-8"),
        ("page.css", "text/css; charset=utf-8"),
        ("start.js", "text/javascript; charset=utf-8"),
        ("queue?by=Pip", "application/json"),
        ("tile?at=coat%2Ffront&v=ab&z=0&x=1&y=2", "image/jpeg"),
        ("nothing", "application/json"),
    ] {
        let got = served.get(name);
        assert_eq!(got.status, if name == "nothing" { 404 } else { 200 }, "{name}");
        for line in [
            &format!("content-type: {kind}"),
            "content-security-policy: default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob: data:; connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'",
            "x-content-type-options: nosniff",
            "referrer-policy: no-referrer",
            "cross-origin-resource-policy: same-origin",
        ] {
            assert!(got.has(line), "{name}: {line}\n{}", got.head);
        }
        assert_eq!(got.has("cache-control: private, max-age=31536000, immutable"), name.starts_with("tile"), "{name}");
        assert_eq!(got.has("cache-control: no-store"), !name.starts_with("tile"), "{name}");
    }
    let on = served.raw(format!("GET /{} HTTP/1.1\r\n{}\r\n", served.token, served.host()).as_bytes()).expect("answered");
    assert!(on.status == 308 && on.has(&format!("location: /{}/", served.token)));
    assert_eq!(served.get("look?at=coat%2Ffront&by=P+%C3%AF").json(), json!({"at": "coat/front", "by": "P ï"}));
    assert_eq!(served.get("tile?at=coat/front&v=ab&z=3&x=4&y=5").body, b"jpeg 3 4 5");
}

#[test]
fn only_the_page_itself_gets_in() {
    let served = Served::start();
    let (token, port) = (&served.token, served.port);
    let own = format!("Origin: http://127.0.0.1:{port}\r\n");
    let json = "Content-Type: application/json\r\n";
    let host = served.host();
    let wrong = "0".repeat(32);
    let body = "Content-Length: 2\r\n\r\n{}";
    for (say, request, status) in [
        ("no token", format!("GET / HTTP/1.1\r\n{host}\r\n"), 403),
        ("a wrong token", format!("GET /{wrong}/ HTTP/1.1\r\n{host}\r\n"), 403),
        ("a wrong token, telling", format!("POST /{wrong}/mend HTTP/1.1\r\n{host}{own}{json}{body}"), 403),
        ("a foreign host", format!("GET /{token}/ HTTP/1.1\r\nHost: evil.example:{port}\r\n\r\n"), 403),
        ("no host", format!("GET /{token}/ HTTP/1.1\r\n\r\n"), 403),
        ("two hosts", format!("GET /{token}/ HTTP/1.1\r\n{host}Host: evil.example\r\n\r\n"), 403),
        ("another port", format!("GET /{token}/ HTTP/1.1\r\nHost: 127.0.0.1:1\r\n\r\n"), 403),
        ("a whole address of elsewhere", format!("GET http://evil.example/{token}/ HTTP/1.1\r\n{host}\r\n"), 403),
        ("a foreign origin", format!("POST /{token}/mend HTTP/1.1\r\n{host}Origin: http://evil.example\r\n{json}{body}"), 403),
        ("no origin", format!("POST /{token}/mend HTTP/1.1\r\n{host}{json}{body}"), 403),
        ("an origin of nowhere", format!("POST /{token}/mend HTTP/1.1\r\n{host}Origin: null\r\n{json}{body}"), 403),
        ("another page", format!("GET /{token}/ HTTP/1.1\r\n{host}Sec-Fetch-Site: cross-site\r\n\r\n"), 403),
        ("a form", format!("POST /{token}/mend HTTP/1.1\r\n{host}{own}Content-Type: application/x-www-form-urlencoded\r\n{body}"), 415),
        ("no kind", format!("POST /{token}/mend HTTP/1.1\r\n{host}{own}{body}"), 415),
        ("a wrong method", format!("DELETE /{token}/mend HTTP/1.1\r\n{host}{own}\r\n"), 405),
        ("asking what is told", format!("GET /{token}/mend HTTP/1.1\r\n{host}\r\n"), 405),
        ("telling what is asked", format!("POST /{token}/look HTTP/1.1\r\n{host}{own}{json}{body}"), 405),
        ("too long an address", format!("GET /{token}/look?at={} HTTP/1.1\r\n{host}\r\n", "x".repeat(5000)), 414),
    ] {
        let got = served.raw(request.as_bytes()).unwrap_or_else(|| panic!("{say}: no answer"));
        assert_eq!(got.status, status, "{say}");
        let line = got.json()["say"].as_str().expect("a line").to_owned();
        assert!((15..=300).contains(&line.chars().count()) && !line.contains('\n'), "{say}: {line}");
        assert!(!got.head.contains("access-control"), "{say}");
    }
    served.answers();
}

#[test]
fn no_path_leads_anywhere_else() {
    let served = Served::start();
    for name in [
        "../Cargo.toml",
        "..%2fCargo.toml",
        "%2e%2e/Cargo.toml",
        "%2e%2e%2fCargo.toml",
        "..%5cCargo.toml",
        "/etc/passwd",
        "%2fetc%2fpasswd",
        "page.css/../../x",
        "page.css%00.js",
        "./page.css",
        ".ruboff",
        "file:///etc/passwd",
        "C:%5c",
        "page.css/",
        "PAGE.CSS",
        "index.html%20",
    ] {
        assert_eq!(served.get(name).status, 404, "{name}");
    }
    for at in [
        "..",
        "../..",
        "coat/../coat/front",
        "%2fetc",
        "coat%5cfront",
        "coat%2ffront%00",
        "coat%2ffront%2f",
        "",
        ".",
        "coat",
        "COAT/FRONT",
        "%252e%252e",
    ] {
        for what in ["look", "thumbnail", "residuals", "checks"] {
            assert_eq!(served.get(&format!("{what}?at={at}")).status, 404, "{what} {at}");
        }
        assert_eq!(served.get(&format!("tile?at={at}&v=1&z=0&x=0&y=0")).status, 404, "{at}");
    }
    for query in [
        "look",
        "look?at=%ff",
        "look?at=a&at=b",
        "look?at=coat/front&file=x",
        "look?%",
        "tile?at=coat/front&z=-1&x=0&y=0",
        "tile?at=coat/front&z=0&x=0",
        "tile?at=coat/front&z=99999999999&x=0&y=0",
    ] {
        assert_eq!(served.get(query).status, 400, "{query}");
    }
    served.answers();
}

#[test]
fn bodies_that_are_no_good_change_nothing() {
    let served = Served::start();
    let told = r#"{"at": "coat/front", "seen": "a", "by": "Pip", "mend": {"do": "through", "at": [1, 2]}}"#;
    let done = served.post("mend", told).json();
    assert_eq!(done["look"], json!({"by": "Pip", "did": "set a through-point"}));
    assert!(done["took_ms"].is_u64());
    let changed = served.post("mend", &told.replace("\"a\"", "\"old\""));
    assert!(changed.status == 409 && changed.json()["look"]["at"] == "coat/front");
    assert_eq!(
        served.post("opinion", r#"{"at": "coat/front", "seen": "a", "by": "Pip", "word": "retake", "note": "blurred"}"#).json()["look"]["word"],
        "retake"
    );
    assert_eq!(served.post("opinion", r#"{"at": "coat/front", "seen": "a", "by": "Pip", "word": null, "note": ""}"#).status, 200);
    assert_eq!(
        served
            .post(
                "tape",
                r#"{"at": "coat/front", "seen": "a", "by": "Pip", "what": "chest", "piece": null, "reading": "19 1/8 in", "round": false}"#
            )
            .json()["look"]["mm"],
        485.775
    );
    assert_eq!(served.post("tick", r#"{"at": "coat/front", "by": "Pip", "doubt": "ab", "ticked": true}"#).status, 200);
    let deep = format!("{}{}", "[".repeat(60_000), "]".repeat(60_000));
    let mended = |mend: &str| format!(r#"{{"at": "coat/front", "seen": "a", "by": "Pip", "mend": {mend}}}"#);
    for body in [
        "",
        "{",
        "[]",
        "null",
        "\u{0}",
        "{\"at\": \"coat/front\"}",
        &deep,
        &mended(&deep),
        &mended("{}"),
        &mended(r#"{"do": "erase"}"#),
        &mended(r#"{"do": "through", "at": [1, 2], "path": "/etc/passwd"}"#),
        &mended(r#"{"do": "through", "at": [1e999, 2]}"#),
        &mended(r#"{"do": "drop through", "n": -1}"#),
        &format!("{told}{told}"),
        &told.replace("\"by\"", "\"root\": 1, \"by\""),
    ] {
        let got = served.post("mend", body);
        assert_eq!(got.status, 400, "{}", &body[..body.len().min(120)]);
        assert!((15..=300).contains(&got.json()["say"].as_str().expect("a line").chars().count()));
    }
    for body in [
        r#"{"at":"coat/front","seen":"a","by":"Pip","what":"chest","reading":"19"}"#,
        r#"{"at":"coat/front","seen":"a","by":"","what":"chest","reading":"19 in"}"#,
        r#"{"at":"coat/front","seen":"a","by":"Pip","what":"a\nb","reading":"19 in"}"#,
        r#"{"at":"coat/front","seen":"a","by":"Pip","what":"chest","reading":"0 in"}"#,
    ] {
        assert_eq!(served.post("tape", body).status, 422, "{body}");
    }
    assert_eq!(served.post("opinion", r#"{"at": "coat/front", "seen": "a", "by": "Pip", "word": "perfect"}"#).status, 400);
    served.answers();
}

#[test]
fn bodies_too_large_are_refused_however_they_are_sent() {
    let served = Served::start();
    let long = "x".repeat(300 << 10);
    assert_eq!(served.post("mend", &long).status, 413);
    let head = |more: &str| {
        format!(
            "POST /{}/mend HTTP/1.1\r\n{}Origin: http://127.0.0.1:{}\r\nContent-Type: application/json\r\n{more}\r\n\r\n",
            served.token,
            served.host(),
            served.port
        )
    };
    // Without a length, a thousand bytes at a time.
    let mut chunked = head("Transfer-Encoding: chunked").into_bytes();
    for part in long.as_bytes().chunks(1000) {
        chunked.extend_from_slice(format!("{:x}\r\n", part.len()).as_bytes());
        chunked.extend_from_slice(part);
        chunked.extend_from_slice(b"\r\n");
    }
    chunked.extend_from_slice(b"0\r\n\r\n");
    assert_eq!(served.raw(&chunked).expect("answered").status, 413);
    // More than anybody has; nothing of it is sent.
    assert_eq!(served.raw(head("Content-Length: 4611686018427387904").as_bytes()).map_or(413, |r| r.status), 413);
    for bad in [
        head("Content-Length: 18446744073709551615"),
        head("Content-Length: -1"),
        head("Content-Length: 5\r\nContent-Length: 6"),
        head("Transfer-Encoding: chunked") + "zz\r\n",
    ] {
        assert!(served.raw(bad.as_bytes()).is_none_or(|r| (400..500).contains(&r.status)), "{bad}");
    }
    served.answers();
}

#[test]
fn what_is_no_request_ends_with_its_connection() {
    let served = Served::start();
    let huge = format!("GET /{}/ HTTP/1.1\r\n{}X: {}\r\n\r\n", served.token, served.host(), "y".repeat(1 << 20));
    let many = format!("GET /{}/ HTTP/1.1\r\n{}{}\r\n", served.token, served.host(), "X-A: b\r\n".repeat(500));
    for bytes in [
        &b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03"[..],
        b"GET\r\n\r\n",
        b"\0\0\0\0\r\n\r\n",
        b"PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n",
        b"GET / HTTP/9.9\r\nHost: x\r\n\r\n",
        huge.as_bytes(),
        many.as_bytes(),
    ] {
        assert!(served.raw(bytes).is_none_or(|r| (400..=505).contains(&r.status)));
    }
    // Sockets that are closed in the middle of everything.
    for k in 0..200 {
        let mut stream = served.connect();
        let text = format!("POST /{}/mend HTTP/1.1\r\n{}Content-Length: 99\r\n\r\n{{", served.token, served.host());
        let _ = stream.write_all(&text.as_bytes()[..(k * 7) % text.len()]);
    }
    served.answers();
}

#[test]
fn a_fault_of_the_program_is_told_and_ends_nothing_else() {
    let served = Served::start();
    for _ in 0..20 {
        let got = served.get("look?at=panic");
        assert!(got.status == 500 && got.json()["say"].as_str().is_some_and(|s| s.contains("went wrong")));
    }
    served.answers();
}

#[test]
fn a_thousand_connections_do_not_stop_the_page() {
    let served = Served::start();
    // One that the page keeps, as browsers do.
    let mut kept = served.connect();
    let again = format!("GET /{}/queue HTTP/1.1\r\n{}\r\n", served.token, served.host());
    let ask = |stream: &mut TcpStream| {
        stream.write_all(again.as_bytes()).expect("sent");
        assert_eq!(reply(stream).expect("answered").status, 200);
    };
    ask(&mut kept);
    let mut crowd = Vec::new();
    for k in 0..1000 {
        // Where the system gives no more to one process, fewer must do.
        let Ok(mut stream) = TcpStream::connect(("127.0.0.1", served.port)) else { break };
        let sent = match k % 4 {
            0 => String::new(),
            1 => format!("GET /{}/ HTTP/1.1\r\n{}", served.token, served.host()),
            2 => format!("POST /{}/mend HTTP/1.1\r\n{}Content-Length: 100000\r\n\r\n{{", served.token, served.host()),
            _ => format!("GET /{}/page.css HTTP/1.1\r\n{}\r\n", "0".repeat(32), served.host()),
        };
        let _ = stream.write_all(sent.as_bytes());
        crowd.push(stream);
        if k % 100 == 99 {
            ask(&mut kept);
            assert!(served.answers() < Duration::from_secs(2));
        }
    }
    assert!(crowd.len() > 600, "{}", crowd.len());
    // Slow ones that know the token and go on dribbling hold no thread either.
    let mut slow: Vec<TcpStream> = (0..100).map(|_| served.connect()).collect();
    let head = format!(
        "POST /{}/mend HTTP/1.1\r\n{}Origin: http://127.0.0.1:{}\r\nContent-Type: application/json\r\nContent-Length: 1000\r\n\r\n",
        served.token,
        served.host(),
        served.port
    );
    slow.iter_mut().for_each(|s| s.write_all(head.as_bytes()).expect("sent"));
    for _ in 0..3 {
        slow.iter_mut().for_each(|s| s.write_all(b" ").expect("sent"));
        assert!(served.answers() < Duration::from_secs(2));
    }
    ask(&mut kept);
}

#[test]
fn more_questions_than_threads_wait_their_turn() {
    let served = Served::start();
    std::thread::scope(|scope| {
        let asked: Vec<_> = (0..12).map(|_| scope.spawn(|| served.get("look?at=slow").status)).collect();
        assert!(asked.into_iter().all(|a| a.join().expect("no panic") == 200));
    });
}

/// `ruboff review` itself over a folder of records; it is ended with the test.
struct Program(Child);

impl Drop for Program {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

/// Every file below a folder with its bytes.
fn files(folder: &std::path::Path) -> Vec<(std::path::PathBuf, Vec<u8>)> {
    let mut out = Vec::new();
    for entry in std::fs::read_dir(folder).expect("listed").map(|e| e.expect("an entry").path()) {
        if entry.is_dir() {
            out.extend(files(&entry));
        } else {
            let bytes = std::fs::read(&entry).expect("read");
            out.push((entry, bytes));
        }
    }
    out.sort();
    out
}

/// Without a socket a connection is answered as with one, request after request.
#[test]
fn a_wire_answers_as_a_socket_does() {
    let token = Token::new().expect("random");
    let get = |name: &str| format!("GET /{}/{name} HTTP/1.1\r\nHost: localhost:8111\r\n\r\n", token.text());
    let both = get("queue?by=Pip") + &get("look?at=nowhere") + "GET / HT";
    let wire = Wire::new(Arc::new(Desk), 8111, token).expect("threads");
    let answered = String::from_utf8(wire.answers(both.as_bytes())).expect("text");
    assert!(answered.starts_with("HTTP/1.1 200 OK\r\n") && answered.contains("\"by\":\"Pip\""), "{answered}");
    assert!(answered.contains("HTTP/1.1 404 Not Found") && answered.matches("HTTP/1.1").count() == 2, "{answered}");
    assert!(wire.answers(b"").is_empty());
}

#[test]
fn the_program_gives_and_takes_nothing_beside_its_archive() {
    let dir = tempfile::tempdir().expect("a folder");
    let archive = dir.path().join("traced");
    let golden = include_str!("golden/outline.json");
    for at in ["box/pocket", "box/other"] {
        std::fs::create_dir_all(archive.join(at)).expect("made");
        std::fs::write(archive.join(at).join("outline.json"), golden).expect("written");
    }
    std::fs::write(archive.join("box/other/review.json"), "{ damaged").expect("written");
    std::fs::write(dir.path().join("secret.txt"), "secret").expect("written");
    let begun = Command::new(assert_cmd::cargo::cargo_bin("ruboff"))
        .arg("review")
        .arg(&archive)
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn();
    let mut program = Program(begun.expect("started"));
    let mut line = String::new();
    BufReader::new(program.0.stdout.take().expect("piped")).read_line(&mut line).expect("told");
    let parts: Vec<&str> = line.trim().strip_prefix("http://127.0.0.1:").expect("an address").split('/').collect();
    let served = Served { port: parts[0].parse().expect("a port"), token: parts[1].to_owned() };
    let before = files(dir.path());
    let queue = served.get("queue?by=Pip").json();
    assert_eq!(queue["entries"].as_array().map(Vec::len), Some(2));
    let look = served.get("look?at=box%2Fpocket&by=Pip").json();
    assert_eq!((look["record"]["format"].as_str(), look["mendable"].as_bool()), (Some("ruboff-outline"), Some(false)));
    let version = look["version"].as_str().expect("a version").to_owned();
    for at in ["..", "../secret.txt", "box", "box/pocket/..", "/etc", "box\\pocket", "box/pocket\0", "", "box/./pocket", "box//pocket"] {
        let escaped: String = at.bytes().map(|b| format!("%{b:02x}")).collect();
        for what in ["look", "thumbnail", "residuals", "checks"] {
            assert_eq!(served.get(&format!("{what}?at={escaped}")).status, 404, "{what} {at}");
        }
        let mend = json!({"at": at, "seen": version, "by": "Pip", "mend": {"do": "through", "at": [0, 0]}});
        let opinion = json!({"at": at, "seen": version, "by": "Pip", "word": "accepted", "note": ""});
        for (what, body) in [("mend", mend), ("opinion", opinion)] {
            let got = served.post(what, &body.to_string());
            assert_eq!(got.status, 404, "{what} {at}: {}", String::from_utf8_lossy(&got.body));
        }
    }
    // Its picture is not at hand, so nothing is mended; what is damaged is not written over.
    assert_eq!(
        served.post("mend", &format!(r#"{{"at":"box/pocket","seen":"{version}","by":"Pip","mend":{{"do":"drop through","n":0}}}}"#)).status,
        422
    );
    let opinion =
        |at: &str| served.post("opinion", &format!(r#"{{"at":"{at}","seen":"{version}","by":"Pip","word":"accepted","note":""}}"#));
    assert_eq!(opinion("box/other").status, 422);
    assert!(
        served.raw(format!("GET /{}/queue HTTP/1.1\r\n{}\r\n", "0".repeat(32), served.host()).as_bytes()).is_some_and(|r| r.status == 403)
    );
    let known = |all: Vec<(std::path::PathBuf, Vec<u8>)>| {
        all.into_iter().filter(|(p, _)| !p.to_string_lossy().contains(".ruboff")).collect::<Vec<_>>()
    };
    assert_eq!(known(files(dir.path())), known(before), "nothing was written");
    // The one thing that may be.
    let given = opinion("box/pocket");
    assert_eq!((given.status, given.json()["look"]["opinion"]["word"].as_str()), (200, Some("accepted")));
    assert!(archive.join("box/pocket/review.json").is_file());
}
