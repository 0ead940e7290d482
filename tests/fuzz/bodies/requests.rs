//! Requests to the checking page: raw bytes as a connection sends them, to the desk of a small archive. Whatever they are, each answer is one
//! of ours, no answer is a fault of the program, nothing is written beside the archive, and what a correction makes of the notes is good.

use ruboff::length::{Mm, Px};
use ruboff::notes::{Draft, Tape};
use ruboff::review::mend::{Mend, Where};
use ruboff::review::{Answer, Asks, Desk, Refusal, Token, Verdict, Wire};
use ruboff::write::Record;
use serde_json::{Value, json};
use std::fs;
use std::path::Path;
use std::sync::{Arc, LazyLock};
use tempfile::TempDir;

const OUTLINE: &str = include_str!("../../golden/outline.json");
const GARMENT: &str = include_str!("../../golden/garment.json");
/// Stands in what is sent where the token goes, which is another one every time.
const TOKEN: &str = "0123456789abcdef0123456789abcdef";
const PORT: u16 = 8111;
/// Notes that corrections are written into.
const NOTES: &str = r#"# kept
[[shot]]
picture = "a.jpg"
piece = "front"
[[shot.corner]]
name = "neck"
px = [300, 330]
[[shot.inner]]
name = "dart"
px = [[310, 310], [340, 400]]
[[shot.region]]
is = "left out"
px = [[1, 1], [9, 1], [9, 9]]
[[shot.through]]
px = [600, 400]
[piece.front]
notch = [{ edge = "hem", at = "20 mm" }]
"#;

static SERVER: LazyLock<Server> = LazyLock::new(Server::start);

struct Server {
    /// What holds the archive and nothing else.
    folder: TempDir,
    token: String,
    wire: Wire<Bench>,
}

impl Server {
    fn start() -> Self {
        let folder = tempfile::tempdir().expect("a folder");
        let archive = folder.path().join("traced");
        fs::create_dir_all(archive.join("coat/front")).expect("made");
        fs::write(archive.join("coat/front/outline.json"), OUTLINE).expect("written");
        fs::write(archive.join("coat/garment.json"), GARMENT).expect("written");
        let (desk, token) = (Desk::open(&archive, None).expect("an archive"), Token::new().expect("random"));
        let text = token.text().to_owned();
        let record = Record::from_text(OUTLINE).expect("the golden record");
        let wire = Wire::new(Arc::new(Bench { desk, record }), PORT, token).expect("threads");
        Self { folder, token: text, wire }
    }
}

/// The desk, with corrections written into notes and not traced again, which would take a picture and half a second.
struct Bench {
    desk: Desk,
    record: Record,
}

impl Asks for Bench {
    fn queue(&self, by: &str) -> Answer<Value> {
        Asks::queue(&self.desk, by)
    }

    fn look(&self, at: &str, by: &str) -> Answer<Value> {
        Asks::look(&self.desk, at, by)
    }

    fn tile(&self, at: &str, level: u32, place: [u32; 2]) -> Answer<Vec<u8>> {
        Asks::tile(&self.desk, at, level, place)
    }

    fn thumbnail(&self, at: &str) -> Answer<Vec<u8>> {
        Asks::thumbnail(&self.desk, at)
    }

    fn residuals(&self, at: &str) -> Answer<Value> {
        Asks::residuals(&self.desk, at)
    }

    fn checks(&self, at: &str) -> Answer<Value> {
        Asks::checks(&self.desk, at)
    }

    fn mend(&self, _: &str, _: &str, _: &str, mend: &Mend) -> Answer<Value> {
        let mut draft = Draft::from_text(NOTES).expect("good notes");
        let shot = draft.notes().expect("good notes").shots.remove(0);
        // 3 px a millimetre, as in a picture of 4032 x 3024 px.
        let px = |at: Mm| Some(Px::new(300.0 + 3.0 * at.x, 300.0 + 3.0 * at.y)).filter(|p| p.is_finite());
        let all = ["a.jpg".to_owned()];
        let words = mend.words(Some(&self.record));
        match mend.write(&mut draft, &Where { picture: "a.jpg", all: &all, record: Some(&self.record), px: &px, notes: &shot }) {
            Ok(()) => {
                assert!(draft.notes().is_ok(), "{words}: {}", draft.text());
                assert!(draft.text().starts_with("# kept"), "{words}: {}", draft.text());
                Ok(json!({"did": words}))
            }
            Err(e) => {
                let say = e.to_string();
                assert!((10..=400).contains(&say.chars().count()) && !say.contains('\n'), "{say}");
                Err(Refusal::new(422, say))
            }
        }
    }

    fn undo(&self, at: &str, seen: &str, by: &str) -> Answer<Value> {
        Asks::undo(&self.desk, at, seen, by)
    }

    fn opinion(&self, at: &str, seen: &str, by: &str, word: Option<Verdict>, note: &str) -> Answer<Value> {
        Asks::opinion(&self.desk, at, seen, by, word, note)
    }

    fn tick(&self, at: &str, by: &str, doubt: &str, ticked: bool) -> Answer<Value> {
        Asks::tick(&self.desk, at, by, doubt, ticked)
    }

    fn tape(&self, _: &str, _: &str, _: &str, tape: &Tape, written: &str) -> Answer<Value> {
        let mut draft = Draft::from_text(NOTES).expect("good notes");
        draft.set_tape(tape, written).map_err(|e| Refusal::new(422, e.to_string()))?;
        assert_eq!(draft.notes().expect("good notes").tapes, std::slice::from_ref(tape));
        Ok(json!({"mm": tape.reading.mm()}))
    }
}

/// # Panics
/// A property does not hold.
pub fn read(bytes: &[u8]) {
    let server = &*SERVER;
    let answered = server.wire.answers(&replaced(bytes, server.token.as_bytes()));
    let mut rest = &answered[..];
    while !rest.is_empty() {
        rest = one(rest);
    }
    let beside = |folder: &Path| fs::read_dir(folder).expect("listed").count();
    assert_eq!(beside(server.folder.path()), 1, "nothing but the archive");
    // The archive as it was, for the next one: an opinion is the one thing that may have come.
    let coat = server.folder.path().join("traced/coat");
    let review = coat.join("front/review.json");
    if review.exists() {
        fs::remove_file(review).expect("taken away");
    }
    assert_eq!([beside(&coat), beside(&coat.join("front"))], [2, 1], "nothing but what was there");
}

/// Reads one answer; gives what follows.
fn one(answered: &[u8]) -> &[u8] {
    let end = answered.windows(4).position(|w| w == b"\r\n\r\n").expect("a head") + 4;
    let head = std::str::from_utf8(&answered[..end]).expect("a head is text");
    let status: u16 = head.strip_prefix("HTTP/1.").and_then(|h| h.get(2..5)).and_then(|s| s.parse().ok()).expect("a status");
    assert!(status != 500, "a fault of the program: {head}");
    let field = |name: &str| head.lines().find_map(|l| l.strip_prefix(name)?.strip_prefix(": "));
    let next = &answered[end..];
    // "Go on sending", before the answer itself; and an answer to HEAD, which tells a body's length without one (RFC 9110, 15.2.1 and 9.3.2).
    if status == 100 || next.starts_with(b"HTTP/1.") || next.is_empty() {
        return next;
    }
    let length: usize = field("content-length").and_then(|l| l.parse().ok()).expect("a length");
    let body = answered.get(end..end + length).expect("a whole body");
    // Hyper itself refuses what is no HTTP, without a body.
    if field("content-type") == Some("application/json") {
        let told: Value = serde_json::from_slice(body).expect("JSON");
        // An entry of which there is nothing to say has a null there.
        let said = told.get("say").filter(|say| !say.is_null());
        assert!(said.is_none_or(|say| say.as_str().is_some_and(|s| s.chars().count() <= 300 && !s.contains('\n'))), "{told}");
    }
    &answered[end + length..]
}

/// What is sent, with the token where its place is kept.
fn replaced(bytes: &[u8], token: &[u8]) -> Vec<u8> {
    let mut out = bytes.to_vec();
    let places: Vec<usize> = bytes.windows(TOKEN.len()).enumerate().filter(|(_, w)| *w == TOKEN.as_bytes()).map(|(k, _)| k).collect();
    places.into_iter().for_each(|k| out[k..k + token.len()].copy_from_slice(token));
    out
}
