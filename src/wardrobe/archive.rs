//! An archive read back: what a run left below a folder, as garments with their pictures, and pictures that belong to none.
//!
//! Nothing that lies there stops the reading: a record that is damaged, too large, newer than this program or just being written makes
//! an entry that says so.

use super::gather::{Entry, entry, gathered, picture};
use super::tree::{Earlier, Folder, look, stamp, walk};
use rayon::prelude::*;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::path::Path;

/// Why an archive can't be read at all.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum ArchiveError {
    /// Its folder.
    #[error("cannot read the archive {path}; name the folder that `ruboff trace --out` wrote")]
    Root {
        /// The folder.
        path: String,
        /// What the system said.
        source: std::io::Error,
    },
}

/// Records of an archive as they were read, to be read again only when they change.
#[derive(Debug, Default)]
pub struct Kept {
    entries: BTreeMap<String, (Stamps, Entry)>,
}

/// Names in a folder, and size and time of the records among them.
type Stamps = (Vec<String>, Vec<Option<(i64, u64)>>);

/// Files of a folder that an entry is read from.
const RECORDS: [&str; 3] = ["garment.json", "failed.json", "outline.json"];

fn stamps(root: &Path, folder: &Folder) -> Stamps {
    let at = root.join(&folder.path);
    let of = |name: &str| std::fs::metadata(at.join(name)).ok().map(|m| (stamp(&m), m.len()));
    (folder.files.clone(), RECORDS.iter().filter(|r| folder.has(r)).map(|r| of(r)).collect())
}

/// What lies below a folder. Garments and pictures stand in the order of their paths.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Archive {
    /// Garments: folders with a `garment.json`.
    pub garments: Vec<Garment>,
    /// Pictures in no garment's folder.
    pub loose: Vec<Picture>,
    /// What was passed by, and why.
    pub skipped: Vec<Skipped>,
}

/// Something in the archive's folder that was passed by.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Skipped {
    /// From the root.
    pub path: String,
    /// Why, in words that follow its name.
    pub say: String,
}

/// A garment's record.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Garment {
    /// Its folder from the root, `/` between; empty for the root itself.
    pub path: String,
    /// What it is called in the record; where that can't be read, its folder's name.
    pub id: String,
    /// Its own table.
    pub told: Vec<Said>,
    /// Its pieces.
    pub pieces: Vec<ThePiece>,
    /// Tape readings.
    pub tape: Vec<Taped>,
    /// Doubts about the garment as a whole.
    pub doubts: Vec<Doubted>,
    /// Pictures of it.
    pub pictures: Vec<Picture>,
    /// Names of the files in its folder.
    pub files: Vec<String>,
    /// Why its record can't be read, in words that follow the file's name.
    pub unread: Option<String>,
}

/// A picture and what came of it.
#[derive(Clone, Debug, PartialEq)]
pub struct Picture {
    /// Its folder of results, from the root; none was made of some that failed.
    pub path: String,
    /// File names of the picture, or of several that were joined; empty where the record can't be read.
    pub of: Vec<String>,
    /// What came of it.
    pub result: Outcome,
    /// Names of the files in its folder.
    pub files: Vec<String>,
}

/// What came of a picture.
#[derive(Clone, Debug, PartialEq)]
pub enum Outcome {
    /// It was traced.
    Traced(Box<Figures>),
    /// It could not be traced, and why.
    Failed(String),
    /// Its record can't be read, and why, in words that follow the file's name.
    Unread(String),
}

/// What a tracing says of itself. Lengths in mm.
#[derive(Clone, Debug, Default, PartialEq)]
#[allow(missing_docs)] // named as in the record
pub struct Figures {
    /// What the worst edge may be out by.
    pub out_mm: Option<f64>,
    /// What the edge may be out by at its worst place.
    pub worst_place_mm: f64,
    /// Whether the frame cuts a piece off.
    pub cut_off: bool,
    /// At its coarsest place.
    pub px_per_mm: Option<f64>,
    pub tilt_deg: Option<f64>,
    /// Share of the sheet's nodes in view that were found.
    pub coverage: f64,
    pub sheet: String,
    pub kind: String,
    pub blake3: Vec<String>,
    pub pieces: Vec<String>,
    /// The edge that may be out the most, with its piece where there are several.
    pub worst_edge: Option<String>,
    /// A hash of the outlines of all pieces: whether they changed.
    pub outline: String,
    pub laid: Option<String>,
    pub laid_mm: Option<f64>,
    pub derived: Option<String>,
    pub doubts: Vec<Doubted>,
    pub replaces: Vec<Replaced>,
}

/// A doubt.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct Doubted {
    pub code: String,
    pub say: String,
    /// Where, sheet mm, when it has a place.
    #[serde(default, rename = "where", skip_serializing_if = "Option::is_none")]
    pub place: Option<[f64; 2]>,
}

/// An older tracing that this one took the place of.
#[derive(Clone, Debug, PartialEq, Deserialize)]
pub struct Replaced {
    /// Where it lies, from the new one's folder.
    pub outline: String,
    /// The picture it was taken from.
    #[serde(default)]
    pub blake3: String,
    /// How far the two lie apart.
    #[serde(default)]
    pub differs_mm: Option<f64>,
    /// What is said of it.
    #[serde(default)]
    pub say: String,
}

/// A word of the garment's own table.
#[derive(Clone, Debug, PartialEq)]
#[allow(missing_docs)]
pub struct Said {
    pub key: String,
    pub words: String,
    pub how: String,
    pub by: Option<String>,
    pub on: Option<String>,
}

/// A piece of a garment.
#[derive(Clone, Debug, PartialEq)]
#[allow(missing_docs)]
pub struct ThePiece {
    pub name: String,
    pub kind: Option<String>,
    pub laid: Option<String>,
    pub laid_mm: Option<f64>,
    pub measures: Vec<Measured>,
}

/// A flat measure.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[allow(missing_docs)]
pub struct Measured {
    pub name: String,
    #[serde(default)]
    pub side: Option<String>,
    pub mm: f64,
    pub inches: String,
    #[serde(default)]
    pub bound_mm: Option<f64>,
    #[serde(default)]
    pub half_round: bool,
    #[serde(default)]
    pub darts_closed_mm: Option<f64>,
    #[serde(default)]
    pub laid_mm: Option<f64>,
}

/// A tape reading.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[allow(missing_docs)]
pub struct Taped {
    pub what: String,
    #[serde(default)]
    pub piece: Option<String>,
    pub mm: f64,
    pub inches: String,
    #[serde(default)]
    pub round: bool,
}

impl Garment {
    /// What its table says under a key.
    pub fn word(&self, key: &str) -> Option<&str> {
        self.told.iter().find(|s| s.key == key).map(|s| s.words.as_str()).filter(|w| !w.trim().is_empty())
    }

    /// What a person calls it: its name, else its id.
    pub fn title(&self) -> &str {
        self.word("name").unwrap_or(&self.id)
    }

    /// The number it is known by: accession, else object or stock number.
    pub fn number(&self) -> Option<&str> {
        self.word("accession").or_else(|| self.word("number"))
    }
}

impl Picture {
    /// What to call it: its file, or its folder where that can't be known.
    pub fn title(&self) -> String {
        if self.of.is_empty() { self.path.rsplit('/').next().unwrap_or_default().to_owned() } else { self.of.join(" + ") }
    }

    /// The folder that its own lies in, which tells pictures of one name apart; none at the root.
    pub fn home(&self) -> Option<&str> {
        self.path.rsplit_once('/').map(|(home, _)| home)
    }

    /// Whether a file lies in its folder.
    pub fn has(&self, file: &str) -> bool {
        self.files.iter().any(|f| f == file)
    }
}

impl Archive {
    /// Reads what lies below `root`.
    ///
    /// # Errors
    /// The folder itself can't be read.
    pub fn read(root: &Path) -> Result<Self, ArchiveError> {
        let fail = |source| ArchiveError::Root { path: root.display().to_string(), source };
        let (folders, skipped) = walk(root, Earlier::Left, &|_, _| None).map_err(fail)?;
        let entries: Vec<Entry> = folders.into_par_iter().filter_map(|folder| entry(root, folder)).collect();
        Ok(gathered(entries, skipped))
    }

    /// The same again: records whose files are as they were are not read anew.
    ///
    /// # Errors
    /// The folder itself can't be read.
    pub fn read_again(root: &Path, kept: &mut Kept) -> Result<Self, ArchiveError> {
        let fail = |source| ArchiveError::Root { path: root.display().to_string(), source };
        let (folders, skipped) = walk(root, Earlier::Left, &|_, _| None).map_err(fail)?;
        let found: Vec<(String, Option<(Stamps, Entry)>)> = folders
            .into_par_iter()
            .map(|folder| {
                let (path, now) = (folder.path.clone(), stamps(root, &folder));
                if let Some((before, entry)) = kept.entries.get(&path).filter(|(before, _)| *before == now) {
                    return (path, Some((before.clone(), entry.clone())));
                }
                (path, entry(root, folder).map(|e| (now, e)))
            })
            .collect();
        let entries = found.iter().filter_map(|(_, e)| e.as_ref().map(|(_, e)| e.clone())).collect();
        kept.entries = found.into_iter().filter_map(|(path, e)| e.map(|e| (path, e))).collect();
        Ok(gathered(entries, skipped))
    }

    /// One picture read again; none where its folder is not there or holds no record.
    pub fn picture_again(root: &Path, path: &str) -> Option<Picture> {
        let root = root.canonicalize().ok()?;
        let folder = look(&root, path, &|_, _| None, &mut Vec::new()).ok()?;
        picture(&root.join(path), folder)
    }

    /// All pictures, each with the garment it is of.
    pub fn pictures(&self) -> impl Iterator<Item = (Option<&Garment>, &Picture)> {
        let of = self.garments.iter().flat_map(|g| g.pictures.iter().map(move |p| (Some(g), p)));
        of.chain(self.loose.iter().map(|p| (None, p)))
    }

    /// Numbers that more than one garment has, with the folders of each.
    pub fn twice(&self) -> Vec<(String, Vec<&str>)> {
        let mut by: BTreeMap<&str, Vec<&str>> = BTreeMap::new();
        self.garments.iter().filter(|g| g.unread.is_none()).for_each(|g| by.entry(&g.id).or_default().push(&g.path));
        by.into_iter().filter(|(_, paths)| paths.len() > 1).map(|(id, paths)| (id.to_owned(), paths)).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::super::gather::STANDS;
    use super::*;

    const OUTLINE: &str = include_str!("../../tests/golden/outline.json");
    const GARMENT: &str = include_str!("../../tests/golden/garment.json");

    fn lay(root: &Path, file: &str, text: &str) {
        let at = root.join(file);
        std::fs::create_dir_all(at.parent().expect("a folder")).expect("made");
        std::fs::write(at, text).expect("written");
    }

    #[test]
    fn garments_have_their_pictures_and_others_are_loose() {
        let dir = tempfile::tempdir().expect("a folder");
        lay(dir.path(), "coat/garment.json", GARMENT);
        lay(dir.path(), "coat/front/outline.json", OUTLINE);
        lay(dir.path(), "coat/front/evidence.jpg", "");
        lay(dir.path(), "coat-2/back/outline.json", OUTLINE);
        lay(
            dir.path(),
            "scans/box 1/pocket/failed.json",
            r#"{"format":"ruboff-failed","version":1,"picture":{"file":"pocket.png","blake3":null},"say":"is too dark","made_by":{}}"#,
        );
        let archive = Archive::read(dir.path()).expect("read");
        assert_eq!(archive.garments.len(), 1);
        let coat = &archive.garments[0];
        assert!(coat.pictures.iter().any(|p| p.path == "coat/front" && p.has("evidence.jpg")));
        assert_eq!(archive.loose.iter().map(|p| p.path.as_str()).collect::<Vec<_>>(), ["coat-2/back", "scans/box 1/pocket"]);
        assert_eq!(archive.loose[1].result, Outcome::Failed("is too dark".into()));
        lay(dir.path(), "scans/box 1/pocket/outline.json", OUTLINE);
        let archive = Archive::read(dir.path()).expect("read");
        assert_eq!(archive.loose[1].result, Outcome::Failed(format!("Is too dark. {STANDS}")));
    }

    #[test]
    fn spoilt_records_are_entries_that_say_so() {
        let dir = tempfile::tempdir().expect("a folder");
        lay(dir.path(), "coat/garment.json", &GARMENT[..GARMENT.len() / 2]);
        lay(dir.path(), "coat/front/outline.json", "\u{0}\u{1}");
        lay(dir.path(), "hat/garment.json", GARMENT);
        lay(dir.path(), "cap/garment.json", GARMENT);
        let archive = Archive::read(dir.path()).expect("read");
        assert!(archive.garments[1].unread.as_ref().is_some_and(|s| s.contains("damaged")));
        assert!(matches!(&archive.garments[1].pictures[0].result, Outcome::Unread(_)));
        let twice = archive.twice();
        assert_eq!((twice.len(), twice[0].1.as_slice()), (1, ["cap", "hat"].as_slice()));
        assert!(Archive::read(&dir.path().join("nowhere")).is_err());
    }
}
