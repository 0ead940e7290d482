//! The cards of all records, kept in a file that is only a cache.
//!
//! The file is lines of JSON: a head, then a line for each folder with its names, when they last changed, and the card of the record in it with
//! that file's size and time. A folder or record that is as it was is not read again; everything else is, and the file is written anew. Missing,
//! damaged or of another version it is made from the records; where the archive can't be written to it is done without.

use super::archive::ArchiveError;
use super::card::{Card, of_garment, of_picture};
use super::gather::{garment, picture};
use super::tree::{Earlier, Folder, stamp, walk};
use crate::write::write_whole;
use rayon::prelude::*;
use serde::{Deserialize, Serialize};
use std::collections::{HashMap, HashSet};
use std::path::{Component, Path, PathBuf};
use std::time::{SystemTime, UNIX_EPOCH};

const FORMAT: &str = "ruboff-find";
/// Raised whenever cards hold something else.
const VERSION: u32 = 2;
/// What changed so shortly before the file was written may have changed again with the same time: file systems count in hundredths
/// of a second, some in two whole ones.
const UNSURE_NS: i64 = 2_000_000_000;
/// Records that a folder may hold, in the order in which they count.
const RECORDS: [&str; 3] = ["garment.json", "failed.json", "outline.json"];

#[derive(Serialize, Deserialize)]
struct Head {
    format: String,
    version: u32,
    made_by: String,
    /// When it was written, ns since 1970.
    written: i64,
    /// Of all that follows.
    blake3: String,
}

#[derive(Clone, Serialize, Deserialize)]
struct Line {
    path: String,
    stamp: i64,
    files: Vec<String>,
    folders: Vec<String>,
    #[serde(skip_serializing_if = "Option::is_none", default)]
    record: Option<Kept>,
}

impl Line {
    /// Whether it is a picture's folder in a garment's, of which nothing is searched: whatever happens to it shows in the folder above.
    fn of_a_garment(&self) -> bool {
        self.record.is_none() && self.folders.is_empty() && self.files.iter().any(|f| RECORDS[1..].contains(&f.as_str()))
    }
}

#[derive(Clone, Serialize, Deserialize)]
struct Kept {
    size: u64,
    stamp: i64,
    card: Card,
}

/// The cards of an archive.
#[derive(Debug, Default)]
pub struct Cards {
    /// In the order of their paths.
    pub cards: Vec<Card>,
    /// How many records were read for it; the others stood in the file.
    pub read: usize,
    /// Whether the file could be kept.
    pub kept: bool,
}

impl Cards {
    /// Numbers that more than one garment has.
    pub fn twice(&self) -> HashSet<&str> {
        let mut seen = HashSet::new();
        self.cards.iter().filter(|c| !c.loose && c.unread.is_none()).map(|c| c.id.as_str()).filter(|id| !seen.insert(*id)).collect()
    }
}

/// Where the cache of an archive lies.
pub fn place(root: &Path) -> PathBuf {
    root.join(".ruboff").join("find.jsonl")
}

/// The cards of all records below `root`, from the cache where that still holds; with `anew` from the records alone.
///
/// # Errors
/// The archive's folder can't be read. What can't be read below it has a card that says so.
pub fn cards(root: &Path, anew: bool) -> Result<Cards, ArchiveError> {
    let before = if anew { None } else { cached(root) };
    let sure = before.as_ref().map_or(i64::MIN, |b| b.written.saturating_sub(UNSURE_NS));
    let lines: HashMap<&str, &Line> = before.iter().flat_map(|b| &b.lines).map(|l| (l.path.as_str(), l)).collect();
    let written = SystemTime::now().duration_since(UNIX_EPOCH).ok().and_then(|d| i64::try_from(d.as_nanos()).ok()).unwrap_or(0);
    let known = |path: &str, stamp: Option<i64>| {
        let line = lines.get(path).filter(|l| stamp.map_or_else(|| l.of_a_garment(), |s| l.stamp == s) && l.stamp < sure)?;
        Some(Folder { path: line.path.clone(), stamp: line.stamp, files: line.files.clone(), folders: line.folders.clone() })
    };
    let fail = |source| ArchiveError::Root { path: root.display().to_string(), source };
    let (folders, _) = walk(root, Earlier::Left, &known).map_err(fail)?;
    let garments: HashSet<&str> = folders.iter().filter(|f| f.has(RECORDS[0])).map(|f| f.path.as_str()).collect();
    let found: Vec<(Line, bool)> =
        folders.par_iter().map(|f| line(root, f, &garments, lines.get(f.path.as_str()).copied(), sure)).collect();
    let read = found.iter().filter(|(_, fresh)| *fresh).count();
    let listed: Vec<&Line> = found.iter().map(|(l, _)| l).collect();
    let relisted = listed.len() != lines.len()
        || listed.iter().any(|l| lines.get(l.path.as_str()).is_none_or(|o| o.stamp != l.stamp || o.stamp >= sure));
    // A folder that is no archive is left as it is.
    let archive = listed.iter().any(|l| l.record.is_some());
    let kept = !archive || !(read > 0 || relisted) || keep(root, &listed, written);
    let mut cards: Vec<Card> = found.into_iter().filter_map(|(l, _)| l.record.map(|r| Card { path: l.path, ..r.card })).collect();
    cards.sort_by(|a, b| a.path.cmp(&b.path));
    Ok(Cards { cards, read, kept })
}

/// A folder's line, and whether its record was read for it.
fn line(root: &Path, folder: &Folder, garments: &HashSet<&str>, before: Option<&Line>, sure: i64) -> (Line, bool) {
    let bare =
        Line { path: folder.path.clone(), stamp: folder.stamp, files: folder.files.clone(), folders: folder.folders.clone(), record: None };
    let Some(name) = RECORDS.into_iter().find(|r| folder.has(r)) else { return (bare, false) };
    if name != RECORDS[0] && within(&folder.path, garments) {
        return (bare, false);
    }
    let at = root.join(&folder.path);
    // A record that is gone, or not ours to look at, has a card that says so.
    let (size, changed) = std::fs::metadata(at.join(name)).map_or((0, i64::MAX), |m| (m.len(), stamp(&m)));
    let same = |k: &&Kept| k.size == size && k.stamp == changed && changed < sure;
    if let Some(kept) = before.filter(|l| l.stamp == folder.stamp).and_then(|l| l.record.as_ref()).filter(same) {
        return (Line { record: Some(kept.clone()), ..bare }, false);
    }
    let card = if name == RECORDS[0] {
        let (whole, failed) = garment(&at, folder.clone());
        of_garment(&whole, &failed)
    } else {
        picture(&at, folder.clone()).map(|p| of_picture(&p)).unwrap_or_default()
    };
    (Line { record: Some(Kept { size, stamp: changed, card }), ..bare }, true)
}

/// Whether a folder lies in a garment's.
fn within(path: &str, garments: &HashSet<&str>) -> bool {
    garments.contains("") || path.match_indices('/').any(|(k, _)| garments.contains(&path[..k]))
}

/// What the cache says, when it is whole and of this version.
struct Before {
    written: i64,
    lines: Vec<Line>,
}

fn cached(root: &Path) -> Option<Before> {
    let text = std::fs::read_to_string(place(root)).ok()?;
    let (head, body) = text.split_once('\n')?;
    let head: Head = serde_json::from_str(head).ok()?;
    let ours = head.format == FORMAT && head.version == VERSION && head.made_by == env!("CARGO_PKG_VERSION");
    if !ours || blake3::hash(body.as_bytes()).to_hex().as_str() != head.blake3 {
        return None;
    }
    let lines = body.par_lines().map(|l| serde_json::from_str(l).ok().filter(plain_names)).collect::<Option<Vec<Line>>>()?;
    Some(Before { written: head.written, lines })
}

/// A cache that names what no folder can hold was not written here, and leads nowhere.
fn plain_names(line: &Line) -> bool {
    let plain = |name: &String| {
        let mut parts = Path::new(name).components();
        matches!(parts.next(), Some(Component::Normal(_))) && parts.next().is_none()
    };
    line.files.iter().chain(&line.folders).all(plain)
}

/// Writes the cache; false where the archive can't be written to.
fn keep(root: &Path, lines: &[&Line], written: i64) -> bool {
    let body: Vec<String> = lines.par_iter().map(|l| serde_json::to_string(l).unwrap_or_default() + "\n").collect();
    let body = body.concat();
    let blake3 = blake3::hash(body.as_bytes()).to_hex().to_string();
    let head = Head { format: FORMAT.into(), version: VERSION, made_by: env!("CARGO_PKG_VERSION").into(), written, blake3 };
    let text = serde_json::to_string(&head).unwrap_or_default() + "\n" + &body;
    let place = place(root);
    place.parent().is_some_and(|p| std::fs::create_dir_all(p).is_ok()) && write_whole(&place, text.as_bytes()).is_ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    const OUTLINE: &str = include_str!("../../tests/golden/outline.json");
    const GARMENT: &str = include_str!("../../tests/golden/garment.json");

    fn lay(root: &Path, file: &str, text: &str) {
        let at = root.join(file);
        std::fs::create_dir_all(at.parent().expect("a folder")).expect("made");
        std::fs::write(at, text).expect("written");
    }

    /// Sets back all times below a folder, so that nothing in it changed just now.
    fn age(folder: &Path) {
        let old = SystemTime::now() - std::time::Duration::from_secs(60);
        for entry in std::fs::read_dir(folder).expect("listed").flatten() {
            if entry.path().is_dir() {
                age(&entry.path());
            }
            std::fs::File::open(entry.path()).expect("open").set_modified(old).expect("set");
        }
        std::fs::File::open(folder).expect("open").set_modified(old).expect("set");
    }

    fn archive() -> tempfile::TempDir {
        let dir = tempfile::tempdir().expect("a folder");
        lay(dir.path(), "coat/garment.json", GARMENT);
        lay(dir.path(), "coat/front/outline.json", OUTLINE);
        lay(dir.path(), "scans/pocket/outline.json", OUTLINE);
        age(dir.path());
        dir
    }

    fn names(cards: &Cards) -> Vec<&str> {
        cards.cards.iter().map(|c| c.path.as_str()).collect()
    }

    #[test]
    fn what_did_not_change_is_not_read_again() {
        let dir = archive();
        let first = cards(dir.path(), false).expect("read");
        assert_eq!((names(&first), first.read, first.kept), (vec!["coat", "scans/pocket"], 2, true));
        // Making the cache's own folder changed the root's list; after that all is as it was.
        age(dir.path());
        let _ = cards(dir.path(), false).expect("read");
        let second = cards(dir.path(), false).expect("read");
        assert_eq!((second.read, &second.cards), (0, &first.cards));
        // Without its garment's record a picture is loose.
        let record = dir.path().join("coat/garment.json");
        std::fs::remove_file(&record).expect("gone");
        assert_eq!(names(&cards(dir.path(), false).expect("read")), ["coat/front", "scans/pocket"]);
        std::fs::write(&record, GARMENT).expect("back");
        assert_eq!(names(&cards(dir.path(), false).expect("read")), ["coat", "scans/pocket"]);
        assert_eq!(cards(dir.path(), true).expect("read").read, 2);
    }

    #[test]
    fn new_changed_and_taken_away_records_are_seen() {
        let dir = archive();
        let _ = cards(dir.path(), false).expect("read");
        lay(dir.path(), "coat/garment.json", &GARMENT.replacen("\"id\": \"", "\"id\": \"other-", 1));
        lay(dir.path(), "hat/garment.json", GARMENT);
        std::fs::remove_dir_all(dir.path().join("scans")).expect("gone");
        let now = cards(dir.path(), false).expect("read");
        assert_eq!((names(&now), now.read), (vec!["coat", "hat"], 2));
        assert!(now.cards[0].id.starts_with("other-"));
        // A record rewritten where it stands, with as many letters and at once.
        let text = std::fs::read_to_string(dir.path().join("hat/garment.json")).expect("read");
        std::fs::write(dir.path().join("hat/garment.json"), text.replacen("\"id\": \"", "\"id\": \"x", 1).replacen("  ", " ", 1))
            .expect("written");
        assert!(cards(dir.path(), false).expect("read").cards[1].id.starts_with('x'));
    }

    #[test]
    fn a_spoilt_cache_is_made_anew() {
        let dir = archive();
        let first = cards(dir.path(), false).expect("read");
        age(dir.path());
        let whole = std::fs::read_to_string(place(dir.path())).expect("read");
        let spoilt = [
            whole[..whole.len() / 2].to_owned(),
            whole.replacen("coat", "boat", 1),
            String::new(),
            "\u{0}".repeat(500),
            whole.replacen("\"version\":2", "\"version\":3", 1),
        ];
        for text in spoilt {
            std::fs::write(place(dir.path()), &text).expect("written");
            let now = cards(dir.path(), false).expect("read");
            assert_eq!((now.read, &now.cards), (2, &first.cards), "{}", &text[..text.len().min(60)]);
        }
    }

    #[test]
    fn a_damaged_record_has_a_card_that_says_so() {
        let dir = archive();
        lay(dir.path(), "coat/garment.json", "{");
        let now = cards(dir.path(), false).expect("read");
        assert!(now.cards[0].unread.as_ref().is_some_and(|s| s.contains("damaged")));
        assert_eq!(now.cards[0].id, "coat");
    }

    #[test]
    fn two_of_one_number_are_told() {
        let dir = archive();
        lay(dir.path(), "hat/garment.json", GARMENT);
        assert_eq!(cards(dir.path(), false).expect("read").twice().len(), 1);
    }
}
