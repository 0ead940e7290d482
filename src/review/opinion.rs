//! What reviewers say of a tracing, and which doubts they ticked off: `review.json` beside `outline.json`.
//!
//! Whoever gives an opinion sees those of others only afterwards, with how far their outline lay from the one looked at.

use super::apart::apart;
use crate::length::Mm;
use crate::write::{Record, RecordError, WriteError, known, write_whole};
use serde::{Deserialize, Serialize};
use std::io::{ErrorKind, Read};
use std::path::Path;
use time::OffsetDateTime;

/// The file.
pub(super) const FILE: &str = "review.json";
const FORMAT: &str = "ruboff-review";
const VERSION: u32 = 1;
/// Largest file that is read, bytes: an opinion is a few thousand.
const LARGEST: u64 = 16 << 20;
/// Opinions and ticks that a tracing may have.
const MOST: usize = 2000;
/// Longest name of a reviewer and longest note, characters.
const NAME: usize = 80;
const NOTE: usize = 2000;

/// Why opinions can't be read or kept.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum OpinionError {
    /// The file is damaged, or of another version.
    #[error("{FILE} of this tracing can't be read, so nothing is written to it: {0}; put it right or move it away")]
    Damaged(String),
    /// The disk or the folder refused.
    #[error("{FILE} of this tracing can't be read")]
    Io(#[source] std::io::Error),
    /// It could not be written.
    #[error(transparent)]
    Write(#[from] WriteError),
    /// A name that is none.
    #[error("write your name first, 1 to {NAME} characters in one line: it is kept with your opinion")]
    Name,
    /// A note that is too long.
    #[error("a note has at most {NOTE} characters; write a shorter one")]
    Note,
    /// An opinion with a note that has none.
    #[error("say in the note what is to be known of this tracing, or accept it without one")]
    NoNote,
    /// Too many.
    #[error("this tracing has more than {MOST} opinions or ticks; move {FILE} away to begin anew")]
    Many,
}

/// What a reviewer says of a tracing.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Verdict {
    /// It is good.
    #[serde(rename = "accepted")]
    Accepted,
    /// It is good, and something is to be known of it.
    #[serde(rename = "accepted with a note")]
    WithNote,
    /// The picture is to be taken anew.
    #[serde(rename = "retake")]
    Retake,
}

/// A reviewer's opinion.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Opinion {
    /// The reviewer.
    pub by: String,
    /// When, UTC (ISO 8601).
    pub on: String,
    /// What.
    pub word: Verdict,
    /// What is to be known.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub note: String,
    /// The outlines of all pieces as they were then, path data.
    #[serde(default)]
    pub outline: String,
}

/// A doubt that was ticked off.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Tick {
    /// Which ([`doubt_id`]).
    pub id: String,
    /// By whom.
    pub by: String,
    /// When, UTC (ISO 8601).
    pub on: String,
}

/// The opinions of one tracing.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Opinions {
    format: String,
    version: u32,
    #[serde(default)]
    opinions: Vec<Opinion>,
    #[serde(default)]
    doubts: Vec<Tick>,
}

/// What one reviewer is told.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Told {
    /// Their own opinion.
    pub opinion: Option<ToldOpinion>,
    /// Those of others; none before their own is given.
    pub others: Vec<ToldOpinion>,
    /// How many others there are that are not told yet.
    pub others_hidden: usize,
}

/// An opinion as it is told.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[allow(missing_docs)]
pub struct ToldOpinion {
    pub by: String,
    pub on: String,
    pub word: Verdict,
    pub note: String,
    /// Whether the outline has changed since.
    pub stale: bool,
    /// 95 % of places of the outline looked at lay no further than this from the one that the reader looked at.
    pub differs_mm: Option<f64>,
    /// Where they lay farthest apart.
    #[serde(rename = "where")]
    pub place: Option<[f64; 2]>,
}

impl Default for Opinions {
    fn default() -> Self {
        Self { format: FORMAT.into(), version: VERSION, opinions: Vec::new(), doubts: Vec::new() }
    }
}

impl Opinions {
    /// Those in a tracing's folder; none where there is no file.
    ///
    /// # Errors
    /// The file is damaged, too large, or of a version that is not known here.
    pub fn open(folder: &Path) -> Result<Self, OpinionError> {
        let mut text = String::new();
        let read = std::fs::File::open(folder.join(FILE)).and_then(|f| f.take(LARGEST + 1).read_to_string(&mut text));
        match read {
            Err(e) if e.kind() == ErrorKind::NotFound => return Ok(Self::default()),
            Err(e) if e.kind() == ErrorKind::InvalidData => return Err(OpinionError::Damaged("it is no text (UTF-8)".into())),
            Err(e) => return Err(OpinionError::Io(e)),
            Ok(_) if text.len() as u64 > LARGEST => return Err(OpinionError::Damaged("it is too large".into())),
            Ok(_) => {}
        }
        known(&text, FORMAT, VERSION).map_err(|e| match e {
            RecordError::Json(e) => OpinionError::Damaged(format!("it is damaged at line {}", e.line())),
            other => OpinionError::Damaged(other.to_string()),
        })?;
        serde_json::from_str(&text).map_err(|e| OpinionError::Damaged(format!("it is damaged at line {}", e.line())))
    }

    /// Keeps them in a tracing's folder; the file is either the old one or the whole new one.
    ///
    /// # Errors
    /// The folder can't be written to.
    pub fn save(&self, folder: &Path) -> Result<(), OpinionError> {
        let mut text = serde_json::to_string_pretty(self).unwrap_or_default();
        text.push('\n');
        Ok(write_whole(&folder.join(FILE), text.as_bytes())?)
    }

    /// Takes a reviewer's opinion of the tracing as it is, in the place of their earlier one.
    ///
    /// # Errors
    /// No name, too long a note, or none where one was promised.
    pub fn give(&mut self, by: &str, word: Verdict, note: &str, record: Option<&Record>) -> Result<(), OpinionError> {
        let (by, note) = (reviewer(by)?, note.trim());
        if note.chars().count() > NOTE {
            return Err(OpinionError::Note);
        }
        if note.is_empty() && word == Verdict::WithNote {
            return Err(OpinionError::NoNote);
        }
        self.opinions.retain(|o| !same(&o.by, by));
        room(self.opinions.len())?;
        let outline = record.map_or_else(String::new, outlines);
        self.opinions.push(Opinion { by: by.into(), on: now(), word, note: note.into(), outline });
        Ok(())
    }

    /// Takes a reviewer's opinion back.
    pub fn withdraw(&mut self, by: &str) {
        self.opinions.retain(|o| !same(&o.by, by));
    }

    /// Ticks a doubt off, or takes the tick away.
    ///
    /// # Errors
    /// No name.
    pub fn tick(&mut self, by: &str, doubt: &str, ticked: bool) -> Result<(), OpinionError> {
        let by = reviewer(by)?;
        self.doubts.retain(|t| t.id != doubt || (ticked && same(&t.by, by)));
        if ticked && self.ticked(doubt).is_none() {
            room(self.doubts.len())?;
            self.doubts.push(Tick { id: doubt.into(), by: by.into(), on: now() });
        }
        Ok(())
    }

    /// Who ticked a doubt off, and when.
    pub fn ticked(&self, doubt: &str) -> Option<&Tick> {
        self.doubts.iter().find(|t| t.id == doubt)
    }

    /// A reviewer's own opinion.
    pub fn own(&self, by: &str) -> Option<&Opinion> {
        self.opinions.iter().find(|o| same(&o.by, by))
    }

    /// How many others gave one.
    pub fn others(&self, by: &str) -> usize {
        self.opinions.iter().filter(|o| !same(&o.by, by)).count()
    }

    /// What a reviewer is told: nothing of what others say before they have said something themselves.
    pub fn told(&self, by: &str, record: Option<&Record>) -> Told {
        let now = record.map_or_else(String::new, outlines);
        let told = |o: &Opinion, apart: Option<(f64, Mm)>| ToldOpinion {
            by: o.by.clone(),
            on: o.on.clone(),
            word: o.word,
            note: o.note.clone(),
            stale: o.outline != now,
            differs_mm: apart.map(|a| (a.0 * 1e3).round() / 1e3),
            place: apart.map(|a| [a.1.x, a.1.y]),
        };
        let Some(own) = self.own(by) else { return Told { others_hidden: self.opinions.len(), ..Told::default() } };
        let others = self.opinions.iter().filter(|o| !same(&o.by, by)).map(|o| told(o, apart(&o.outline, &own.outline)));
        Told { opinion: Some(told(own, None)), others: others.collect(), others_hidden: 0 }
    }
}

/// Whether two names are those of one person.
fn same(a: &str, b: &str) -> bool {
    a.trim().to_lowercase() == b.trim().to_lowercase()
}

fn reviewer(by: &str) -> Result<&str, OpinionError> {
    let by = by.trim();
    let good = !by.is_empty() && by.chars().count() <= NAME && !by.chars().any(char::is_control);
    if good { Ok(by) } else { Err(OpinionError::Name) }
}

fn room(there: usize) -> Result<(), OpinionError> {
    if there < MOST { Ok(()) } else { Err(OpinionError::Many) }
}

/// The time, UTC, to the second (ISO 8601).
fn now() -> String {
    let now = OffsetDateTime::now_utc();
    format!("{}T{:02}:{:02}:{:02}Z", now.date(), now.hour(), now.minute(), now.second())
}

/// The outlines of all pieces of a record, as one text.
pub fn outlines(record: &Record) -> String {
    record.pieces.iter().map(|p| p.outline.as_str()).collect::<Vec<_>>().join(" ")
}

/// What a doubt is known by: what it is about and where, to half a centimetre, whatever figures it tells; so that a tick stays when
/// something else is mended.
pub fn doubt_id(code: &str, place: Option<[f64; 2]>, say: &str) -> String {
    let words: String = say.chars().filter(|c| c.is_alphabetic()).collect();
    let place = place.map(|p| p.map(|v| (v / 5.0).round() as i64));
    blake3::hash(format!("{code}\n{place:?}\n{words}").as_bytes()).to_hex()[..12].to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn record() -> Record {
        Record::from_text(include_str!("../../tests/golden/outline.json")).expect("the golden record")
    }

    #[test]
    fn others_are_hidden_until_ones_own_opinion_is_given() {
        let mut all = Opinions::default();
        all.give("Pip", Verdict::Accepted, "", Some(&record())).expect("given");
        assert_eq!(all.told("Kit", Some(&record())), Told { others_hidden: 1, ..Told::default() });
        assert_eq!(all.told("", Some(&record())).others_hidden, 1);
        let mut moved = record();
        moved.pieces[0].outline = "M 10 20 L 130 20 L 130 120 C 130 186.2742 10 186.2742 10 120 Z".replace("130", "130.4");
        all.give(" Kit ", Verdict::WithNote, "hem frayed", Some(&moved)).expect("given");
        let told = all.told("kit", Some(&moved));
        assert_eq!((told.others.len(), told.others_hidden, told.opinion.as_ref().map(|o| o.stale)), (1, 0, Some(false)));
        assert!(told.others[0].stale);
        let differs = told.others[0].differs_mm.expect("both have outlines");
        assert!((0.35..=0.4).contains(&differs), "{differs}");
        assert!(told.others[0].place.is_some_and(|p| p[0] > 129.0));
        all.withdraw("KIT");
        assert_eq!(all.told("Kit", Some(&record())).others_hidden, 1);
    }

    #[test]
    fn an_opinion_takes_the_place_of_the_same_persons_earlier_one() {
        let mut all = Opinions::default();
        all.give("Pip", Verdict::Retake, "blurred", None).expect("given");
        all.give("pip", Verdict::Accepted, "", None).expect("given");
        assert_eq!((all.opinions.len(), all.own("Pip").map(|o| o.word), all.others("Kit")), (1, Some(Verdict::Accepted), 1));
        for by in ["", "  ", "a\nb", &"x".repeat(81)] {
            assert!(matches!(all.give(by, Verdict::Accepted, "", None), Err(OpinionError::Name)));
            assert!(matches!(all.tick(by, "x", true), Err(OpinionError::Name)));
        }
        assert!(matches!(all.give("Pip", Verdict::WithNote, " ", None), Err(OpinionError::NoNote)));
        assert!(matches!(all.give("Pip", Verdict::Retake, &"x".repeat(2001), None), Err(OpinionError::Note)));
        assert_eq!(all.own("Pip").map(|o| o.word), Some(Verdict::Accepted));
    }

    #[test]
    fn doubts_are_ticked_with_name_and_time() {
        let mut all = Opinions::default();
        let id = doubt_id("edge-unsure", Some([10.0, 20.0]), "The outline may be out by 1.2 mm on the left edge.");
        all.tick("Pip", &id, true).expect("ticked");
        let tick = all.ticked(&id).expect("it is").clone();
        // ISO 8601, UTC, as RFC 3339 writes it.
        assert!(tick.on.len() == 20 && tick.on.ends_with('Z') && tick.on.as_bytes()[10] == b'T', "{}", tick.on);
        assert_eq!(id, doubt_id("edge-unsure", Some([11.0, 19.0]), "The outline may be out by 1.3 mm on the left edge."));
        assert_ne!(id, doubt_id("edge-unsure", Some([11.0, 19.0]), "The outline may be out by 1.3 mm on the right edge."));
        all.tick("Kit", &id, false).expect("unticked");
        assert!(all.ticked(&id).is_none());
    }

    #[test]
    fn the_file_is_whole_or_told_to_be_damaged_and_never_written_over() {
        let dir = tempfile::tempdir().expect("a folder");
        assert_eq!(Opinions::open(dir.path()).expect("none yet"), Opinions::default());
        let mut all = Opinions::default();
        all.give("Pip", Verdict::Accepted, "", Some(&record())).expect("given");
        all.tick("Pip", "abc", true).expect("ticked");
        all.save(dir.path()).expect("kept");
        assert_eq!(Opinions::open(dir.path()).expect("read"), all);
        let text = std::fs::read_to_string(dir.path().join(FILE)).expect("read");
        for bad in [
            &text[..text.len() / 2],
            "",
            "[]",
            "{\"format\": \"ruboff-review\", \"version\": 2}",
            "{\"format\": \"ruboff-outline\", \"version\": 1}",
            "{\"format\": \"ruboff-review\", \"version\": 1, \"opinions\": 3}",
        ] {
            std::fs::write(dir.path().join(FILE), bad).expect("written");
            let said = Opinions::open(dir.path()).expect_err(bad).to_string();
            assert!(said.contains(FILE) && (15..=300).contains(&said.chars().count()), "{said}");
        }
        std::fs::write(dir.path().join(FILE), [0xff, 0xfe]).expect("written");
        assert!(Opinions::open(dir.path()).is_err());
    }
}
