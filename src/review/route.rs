//! From a request that was let in to its answer.

use super::asks::{Answer, Asks, Refusal};
use super::mend::Mend;
use super::opinion::Verdict;
use super::page;
use crate::length::Length;
use crate::notes::{InLine, Tape};
use serde::Deserialize;
use serde::de::DeserializeOwned;
use serde_json::{Value, json};
use std::collections::BTreeMap;
use std::time::Instant;

/// Longest text of a fault told of a body, characters.
const LONGEST: usize = 200;
/// Longest name or words in a body or an address, characters; notes have a bound of their own.
const WORDS: usize = 1024;

/// What goes back.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Reply {
    pub status: u16,
    pub kind: &'static str,
    /// May be kept for good: its address changes when it does.
    pub lasting: bool,
    pub body: Vec<u8>,
}

const JSON: &str = "application/json";
const JPEG: &str = "image/jpeg";

impl Reply {
    fn json(status: u16, value: &Value) -> Self {
        Self { status, kind: JSON, lasting: false, body: serde_json::to_vec(value).unwrap_or_default() }
    }

    /// A refusal, with what the tracing is now where that was the reason.
    pub fn refused(refusal: Refusal) -> Self {
        let mut told = json!({"say": refusal.say});
        if let Some(look) = refusal.look {
            told["look"] = look;
        }
        Self::json(refusal.status, &told)
    }
}

/// Answers a question.
pub(super) fn asked(desk: &impl Asks, name: &str, query: &str) -> Reply {
    if let Some((kind, bytes)) = page::file(name) {
        return Reply { status: 200, kind, lasting: false, body: bytes.to_vec() };
    }
    let jpeg = |bytes: Vec<u8>, lasting: bool| Reply { status: 200, kind: JPEG, lasting, body: bytes };
    let answer = |wanted: &[&str], work: &dyn Fn(&Query) -> Answer<Reply>| {
        Query::read(query, wanted).and_then(|q| work(&q)).unwrap_or_else(Reply::refused)
    };
    let ok = |value: Value| Reply::json(200, &value);
    match name {
        "queue" => answer(&["by"], &|q| Ok(ok(desk.queue(q.by())?))),
        "look" => answer(&["at", "by"], &|q| Ok(ok(desk.look(q.word("at")?, q.by())?))),
        "tile" => answer(&["at", "v", "z", "x", "y"], &|q| {
            let tile = desk.tile(q.word("at")?, q.number("z")?, [q.number("x")?, q.number("y")?])?;
            Ok(jpeg(tile, q.words.get("v").is_some_and(|v| !v.is_empty())))
        }),
        "thumbnail" => answer(&["at", "v"], &|q| Ok(jpeg(desk.thumbnail(q.word("at")?)?, false))),
        "residuals" => answer(&["at", "by", "v"], &|q| Ok(ok(desk.residuals(q.word("at")?)?))),
        "checks" => answer(&["at", "by", "v"], &|q| Ok(ok(desk.checks(q.word("at")?)?))),
        "mend" | "undo" | "opinion" | "tick" | "tape" => {
            Reply::refused(Refusal::new(405, format!("{name} is told with POST and not asked for")))
        }
        _ => Reply::refused(nothing()),
    }
}

/// Does what is told; the answer shows the tracing as it is then, and says how long that took.
pub(super) fn told(desk: &impl Asks, name: &str, body: &[u8]) -> Reply {
    let begun = Instant::now();
    let done = match name {
        "mend" => read(body).and_then(|t: MendTold| desk.mend(&t.at, &t.seen, &t.by, &t.mend)),
        "undo" => read(body).and_then(|t: UndoTold| desk.undo(&t.at, &t.seen, &t.by)),
        "opinion" => {
            read(body).and_then(|t: OpinionTold| desk.opinion(&t.at, &t.seen, &t.by, t.word, t.note.as_deref().unwrap_or_default()))
        }
        "tick" => read(body).and_then(|t: TickTold| desk.tick(&t.at, &t.by, &t.doubt, t.ticked)),
        "tape" => read(body).and_then(|t: TapeTold| {
            let tape = t.tape()?;
            desk.tape(&t.at, &t.seen, &t.by, &tape, &t.reading)
        }),
        "queue" | "look" | "tile" | "thumbnail" | "residuals" | "checks" => Err(Refusal::new(405, format!("{name} is asked for with GET"))),
        _ if page::file(name).is_some() => Err(Refusal::new(405, "the page is asked for with GET")),
        _ => Err(nothing()),
    };
    let shown = |look: Value| Reply::json(200, &json!({"look": look, "took_ms": begun.elapsed().as_millis() as u64}));
    done.map_or_else(Reply::refused, shown)
}

fn nothing() -> Refusal {
    Refusal::new(404, "there is nothing of that name here; load the page anew")
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct MendTold {
    at: String,
    seen: String,
    by: String,
    mend: Mend,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct UndoTold {
    at: String,
    seen: String,
    by: String,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct OpinionTold {
    at: String,
    seen: String,
    by: String,
    word: Option<Verdict>,
    #[serde(default)]
    note: Option<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct TickTold {
    at: String,
    by: String,
    doubt: String,
    ticked: bool,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct TapeTold {
    at: String,
    seen: String,
    by: String,
    what: String,
    #[serde(default)]
    piece: Option<String>,
    reading: String,
    #[serde(default)]
    round: bool,
}

impl TapeTold {
    /// The reading, with who took it and on which day.
    fn tape(&self) -> Answer<Tape> {
        let plain = |what: &str, text: &str| {
            let text = text.trim();
            let good = !text.is_empty() && text.chars().count() <= 80 && !text.chars().any(char::is_control);
            if good {
                Ok(text.to_owned())
            } else {
                Err(Refusal::new(422, format!("{what} has 1 to 80 characters in one line; write it again")))
            }
        };
        let reading: Length =
            self.reading.trim().parse().map_err(|e: crate::length::LengthError| Refusal::new(422, cut(&e.to_string())))?;
        if reading.mm() <= 0.0 {
            return Err(Refusal::new(422, "a tape reading is more than nothing, like 19 1/8 in or 486 mm"));
        }
        let today = time::OffsetDateTime::now_utc().date().to_string();
        Ok(Tape {
            what: plain("what was measured", &self.what)?,
            reading,
            piece: self.piece.as_deref().map(|p| plain("a piece's name", p)).transpose()?,
            round: self.round,
            by: Some(plain("your name", &self.by)?),
            on: Some(today),
            remarks: None,
            line: InLine::default(),
        })
    }
}

/// A body's JSON.
fn read<T: DeserializeOwned>(body: &[u8]) -> Answer<T> {
    serde_json::from_slice(body).map_err(|e| Refusal::new(400, cut(&format!("what the page sent can't be read: {e}"))))
}

fn cut(words: &str) -> String {
    let flat: String = words.split_whitespace().collect::<Vec<_>>().join(" ");
    flat.chars().filter(|c| !c.is_control()).take(LONGEST).collect()
}

/// What follows the question mark (URL Standard, application/x-www-form-urlencoded), each name once.
struct Query {
    words: BTreeMap<String, String>,
}

impl Query {
    fn read(text: &str, wanted: &[&str]) -> Answer<Self> {
        let bad = || Refusal::new(400, "the address asks for something in a way that is not known here; load the page anew");
        let mut words = BTreeMap::new();
        for part in text.split('&').filter(|p| !p.is_empty()) {
            let (name, value) = part.split_once('=').unwrap_or((part, ""));
            let (name, value) = (decoded(name).ok_or_else(bad)?, decoded(value).ok_or_else(bad)?);
            let fits = value.chars().count() <= WORDS && wanted.contains(&name.as_str());
            if !fits || words.insert(name, value).is_some() {
                return Err(bad());
            }
        }
        Ok(Self { words })
    }

    fn word(&self, name: &str) -> Answer<&str> {
        self.words
            .get(name)
            .map(String::as_str)
            .ok_or_else(|| Refusal::new(400, format!("the address does not say {name}; load the page anew")))
    }

    fn number(&self, name: &str) -> Answer<u32> {
        let word = self.word(name)?;
        let plain = !word.is_empty() && word.bytes().all(|b| b.is_ascii_digit());
        word.parse()
            .ok()
            .filter(|_| plain)
            .ok_or_else(|| Refusal::new(400, format!("{name} in the address is no number; load the page anew")))
    }

    /// The reviewer; nobody while no name was written.
    fn by(&self) -> &str {
        self.words.get("by").map_or("", String::as_str)
    }
}

/// A text with its escapes undone; none where they make no text.
fn decoded(text: &str) -> Option<String> {
    let mut bytes = Vec::with_capacity(text.len());
    let mut rest = text.bytes();
    while let Some(b) = rest.next() {
        bytes.push(match b {
            b'+' => b' ',
            b'%' => {
                let digit = |b: Option<u8>| b.and_then(|b| char::from(b).to_digit(16));
                (digit(rest.next())? * 16 + digit(rest.next())?) as u8
            }
            b => b,
        });
    }
    String::from_utf8(bytes).ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn escapes_are_undone_once() {
        assert_eq!(decoded("a%2Fb+c%C3%A4").as_deref(), Some("a/b cä"));
        assert_eq!(decoded("%252e").as_deref(), Some("%2e"));
        for bad in ["%", "%2", "%zz", "%ff", "%+1"] {
            assert_eq!(decoded(bad), None, "{bad}");
        }
    }

    #[test]
    fn only_what_is_known_is_asked_and_only_once() {
        let query = Query::read("at=coat%2Ffront&by=Pip", &["at", "by"]).unwrap_or_else(|r| panic!("{}", r.say));
        assert_eq!((query.word("at"), query.by()), (Ok("coat/front"), "Pip"));
        for bad in ["at=a&at=b", "file=x", "at=%ff", &format!("at={}", "x".repeat(1025))] {
            assert!(Query::read(bad, &["at", "by"]).is_err(), "{bad}");
        }
        let query = Query::read("z=-1&x=4294967296&y=+1", &["z", "x", "y"]).unwrap_or_else(|r| panic!("{}", r.say));
        assert!(["z", "x", "y", "w"].iter().all(|n| query.number(n).is_err()));
    }
}
