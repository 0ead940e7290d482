//! A garment's records on disk as pieces with notes: the outlines below a folder drafted by its `garment.toml`, or a single record by itself.

use crate::notes::{Notes, ShotNotes, Spot};
use crate::piece::{Draft, Given, Layer, Piece, alike, derived, drafted};
use crate::wardrobe::{folded, right_side};
use crate::write::{DraftedRecord, GarmentRecord, Record, as_found, as_written, spot_at};
use anyhow::{Context, anyhow, bail};
use serde_json::Value;
use std::path::{Path, PathBuf};

/// Folders below the one named that are looked through.
const DEPTH: usize = 5;
/// Longest file read, bytes: a record of fifty pieces is a few hundred kilobytes.
const LONGEST: u64 = 64 << 20;

/// What is known of a garment.
pub(super) struct Known {
    pub notes: Notes,
    /// The notes as they were written, for a record; nothing where there are none.
    pub written: Value,
    /// The pieces, in the order of their outlines.
    pub pieces: Vec<Piece>,
    /// What they were read from, in words.
    pub from: String,
    /// What a person had better know of how they were read.
    pub said: Vec<String>,
}

/// Reads a garment: its notes with every outline, or a record that stands by itself.
///
/// # Errors
/// Neither notes nor a record, no outlines, files that are no records.
pub(super) fn open(place: &Path, notes: Option<&Path>, outlines: Option<&Path>) -> anyhow::Result<Known> {
    match record(place, outlines) {
        Some(file) => recorded(&file, notes),
        None => traced(place, notes, outlines),
    }
}

/// The record that a garment is read from: one that is named, or the one in a folder that has no notes of its own.
fn record(place: &Path, outlines: Option<&Path>) -> Option<PathBuf> {
    if place.is_file() {
        return place.extension().is_some_and(|e| e.eq_ignore_ascii_case("json")).then(|| place.to_path_buf());
    }
    let alone = outlines.is_none() && !place.join("garment.toml").exists();
    let each = ["garment.json", "outline.json", "drafted.json"].map(|n| place.join(n));
    each.into_iter().find(|f| alone && f.is_file())
}

/// What a record knows by itself. Notes that are named go before those it keeps.
fn recorded(file: &Path, notes: Option<&Path>) -> anyhow::Result<Known> {
    let text = text(file)?;
    let given = notes.map(noted).transpose()?;
    let format = serde_json::from_str::<Value>(&text).ok().and_then(|v| Some(v.get("format")?.as_str()?.to_owned()));
    let named = || file.display().to_string();
    let kept = |e: String| anyhow!("the notes that {} keeps can't be read: {e}", file.display());
    match format.as_deref() {
        Some("ruboff-garment") => {
            let record = GarmentRecord::from_text(&text).with_context(named)?;
            let (notes, written) = match given {
                Some(given) => given,
                None => (record.noted().map_err(kept)?, record.notes.as_written.clone()),
            };
            let said = missing(&record).map(|files| format!("{files} could not be traced: what is shown there is not in this record"));
            let pieces = record.recalled().with_context(named)?;
            Ok(Known { notes, written, pieces, from: "its record".into(), said: said.into_iter().collect() })
        }
        Some("ruboff-outline") => {
            let record = Record::from_text(&text).with_context(named)?;
            drafted_by(given.unwrap_or_default(), vec![(file.to_path_buf(), record)])
        }
        Some("ruboff-drafted") => {
            let record = DraftedRecord::from_text(&text).with_context(named)?;
            let pieces = record.recalled().with_context(named)?;
            let (notes, written) = match given {
                Some(given) => given,
                None => (record.noted().map_err(kept)?, record.notes.clone()),
            };
            Ok(Known { notes, written, pieces, from: "drafted lines".into(), said: Vec::new() })
        }
        _ => bail!("{} is no garment.json, outline.json or drafted.json; name one that ruboff wrote", file.display()),
    }
}

/// The pictures that a record misses, in words.
pub(super) fn missing(record: &GarmentRecord) -> Option<String> {
    let files = record.not_traced();
    (!files.is_empty()).then(|| files.join(", "))
}

/// Notes of a file, and as they are written there.
fn noted(file: &Path) -> anyhow::Result<(Notes, Value)> {
    let text = text(file)?;
    let notes = Notes::from_text(&text).with_context(|| format!("the notes {}", file.display()))?;
    Ok((notes, as_written(&text)))
}

/// Reads the notes and every outline of a garment.
fn traced(place: &Path, notes: Option<&Path>, outlines: Option<&Path>) -> anyhow::Result<Known> {
    let about = std::fs::metadata(place).with_context(|| format!("cannot read {}", place.display()))?;
    let folder = if about.is_dir() { place } else { place.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new(".")) };
    let file = notes.map_or_else(|| if about.is_dir() { folder.join("garment.toml") } else { place.to_path_buf() }, Path::to_path_buf);
    if !file.is_file() {
        bail!(
            "there are no garment notes at {}, and no garment.json; write a garment.toml with [[join]] entries, name it with --notes, or name the \
             record that trace wrote",
            file.display()
        );
    }
    let notes = noted(&file)?;
    let root = outlines.unwrap_or(folder);
    let mut files = Vec::new();
    search(root, DEPTH, &mut files)?;
    let own = folder.join("garment.json");
    if files.is_empty() && outlines.is_none() && own.is_file() {
        return recorded(&own, Some(&file));
    }
    if files.is_empty() {
        bail!("there is no outline.json in {} or below; trace the pictures first, or name that folder with --outlines", root.display());
    }
    let read = |file: PathBuf| {
        let record = Record::from_text(&text(&file)?).with_context(|| file.display().to_string())?;
        Ok((file, record))
    };
    let mut known = drafted_by(notes, files.into_iter().map(read).collect::<anyhow::Result<_>>()?)?;
    // A picture that failed in the last run may have an outline of a run before.
    let record = text(&root.join("garment.json")).ok().and_then(|t| GarmentRecord::from_text(&t).ok());
    let missing = record.and_then(|r| missing(&r));
    known.said.extend(missing.map(|files| format!("{files} could not be traced in the last run: an outline of it here is an earlier one")));
    Ok(known)
}

/// Pieces of outlines, drafted as notes ask.
fn drafted_by((notes, written): (Notes, Value), files: Vec<(PathBuf, Record)>) -> anyhow::Result<Known> {
    let mut seen: Vec<Outlined> = Vec::new();
    for (file, record) in &files {
        let shot = shot(&notes, record);
        if shot.is_none() && notes.shots.iter().any(|s| s.picture.is_some()) {
            // Another garment's picture in the same folder.
            continue;
        }
        let shot = shot.cloned().unwrap_or_default();
        for piece in &record.pieces {
            let lines = as_found(piece).with_context(|| file.display().to_string())?;
            let name = shot.piece.clone().filter(|_| record.pieces.len() == 1).unwrap_or_else(|| piece.name.clone());
            seen.push(Outlined { name, lines, shot: shot.clone(), record, file });
        }
    }
    let instead = stand_back(&mut seen);
    let (mut drafts, mut said) = drafts(&seen, &notes);
    said.extend(instead);
    if drafts.is_empty() {
        let first = files.first().map(|f| f.0.display().to_string()).unwrap_or_default();
        bail!("of {} outlines, such as {first}, none is of a picture that the notes name; check [[shot]] picture", files.len());
    }
    for made in derived(&notes, &drafts.iter().collect::<Vec<_>>()) {
        match made {
            Ok(draft) => {
                said.extend(draft.undone.iter().map(|what| format!("{}: {what}", draft.piece.name)));
                drafts.push(draft);
            }
            Err(e) => said.push(e.to_string()),
        }
    }
    let there = |name: &str| drafts.iter().any(|d| alike(&d.piece.name, name));
    let nowhere = notes.changes.iter().filter(|c| !there(&c.piece));
    said.extend(
        nowhere.map(|c| format!("the change of {} is of \"{}\", and no outline of such a piece was found{}", c.on.text(), c.piece, c.line)),
    );
    let from = if files.len() == 1 { "1 outline".to_owned() } else { format!("{} outlines", files.len()) };
    Ok(Known { notes, written, pieces: drafts.into_iter().map(|d| d.piece).collect(), from, said })
}

/// Where something was made of several layings of a piece, the layings stand back for it. Gives what is to be said of that.
fn stand_back(seen: &mut Vec<Outlined>) -> Vec<String> {
    let made = |o: &Outlined| o.record.pieces.first().and_then(|p| p.derived.clone());
    let names: Vec<(String, String)> = seen.iter().filter_map(|o| Some((o.name.clone(), made(o)?))).collect();
    let before = seen.len();
    seen.retain(|o| made(o).is_some() || names.iter().all(|(n, _)| !alike(n, &o.name)));
    let stood = before - seen.len();
    let said = names.iter().map(|(name, words)| format!("{name} is the {words}: its pictures' own outlines stand back for that"));
    if stood > 0 { said.collect() } else { Vec::new() }
}

/// An outline with the record it comes from.
struct Outlined<'a> {
    name: String,
    lines: Layer,
    shot: ShotNotes,
    record: &'a Record,
    file: &'a Path,
}

impl Outlined<'_> {
    fn draft(&self, notes: &Notes, other: Option<&Layer>) -> Draft {
        let place = |spot: &Spot| spot_at(self.record, spot);
        drafted(&Given { name: &self.name, lines: &self.lines, shot: &self.shot, notes, other, place: &place })
    }
}

/// Every outline drafted, and what is to be said of it.
fn drafts(seen: &[Outlined], notes: &Notes) -> (Vec<Draft>, Vec<String>) {
    let (mut drafts, mut said): (Vec<Draft>, Vec<String>) = (Vec::new(), Vec::new());
    for own in seen {
        let named = |d: &Draft, name: &str| alike(&d.piece.name, name);
        let another = seen.iter().find(|s| alike(&s.name, &own.name) && !std::ptr::eq(*s, own));
        let other =
            another.filter(|b| folded(notes, &own.name) && b.shot.up.is_some() && own.shot.up.is_some() && b.shot.up != own.shot.up);
        let held = drafts.iter().any(|d| named(d, &own.name));
        if held && other.is_some() {
            said.push(format!("{} shows the other face of {}, which is laid open with it", own.file.display(), own.name));
            continue;
        }
        let face = other.map(|b| right_side(&b.draft(notes, None)));
        let mut draft = own.draft(notes, face.as_ref());
        if held {
            // As the garment's record calls it.
            let name = (2..).map(|k| format!("{} ({k})", own.name)).find(|n| drafts.iter().all(|d| !named(d, n))).unwrap_or_default();
            said.push(format!("there is another outline of {} in {}; it is called \"{name}\" here", own.name, own.file.display()));
            draft.piece.name = name;
        }
        said.extend(draft.undone.iter().map(|what| format!("{}: {what}", draft.piece.name)));
        drafts.push(draft);
    }
    (drafts, said)
}

fn shot<'a>(notes: &'a Notes, record: &Record) -> Option<&'a ShotNotes> {
    let own = |s: &&ShotNotes| {
        let mut names = s.picture.iter().chain(s.pictures.first()).map(|p| Path::new(p).file_name());
        names.any(|n| record.pictures.iter().any(|p| Path::new(&p.file).file_name() == n))
    };
    let only = || notes.shots.first().filter(|s| notes.shots.len() == 1 && s.picture.is_none() && s.pictures.is_empty());
    notes.shots.iter().find(own).or_else(only)
}

fn text(file: &Path) -> anyhow::Result<String> {
    let about = std::fs::metadata(file).with_context(|| format!("cannot read {}", file.display()))?;
    if about.len() > LONGEST {
        return Err(anyhow!("{} is far too large for a record; name another file", file.display()));
    }
    std::fs::read_to_string(file).with_context(|| format!("cannot read {}", file.display()))
}

fn search(folder: &Path, depth: usize, out: &mut Vec<PathBuf>) -> anyhow::Result<()> {
    let all = std::fs::read_dir(folder).with_context(|| format!("cannot read the folder {}", folder.display()))?;
    let mut entries: Vec<PathBuf> = all.filter_map(Result::ok).map(|e| e.path()).collect();
    entries.sort();
    for path in entries {
        let name = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
        if path.is_dir() && !path.is_symlink() && !name.starts_with('.') && depth > 0 {
            search(&path, depth - 1, out)?;
        } else if name == "outline.json" && path.is_file() {
            out.push(path);
        }
    }
    Ok(())
}
