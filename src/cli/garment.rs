//! A garment's records on disk: its notes, and the outlines below a folder, as pieces.

use crate::notes::{Notes, ShotNotes};
use crate::piece::{Change, How, Layer, Piece, alike, seam_line};
use crate::write::{Record, as_found};
use anyhow::{Context, anyhow, bail};
use kurbo::Affine;
use std::path::{Path, PathBuf};

/// Folders below the one named that are looked through.
const DEPTH: usize = 5;
/// Longest file read, bytes: a record of fifty pieces is a few hundred kilobytes.
const LONGEST: u64 = 64 << 20;

/// What is known of a garment.
pub(super) struct Known {
    pub notes: Notes,
    pub pieces: Vec<Piece>,
    pub outlines: usize,
}

/// Reads the notes and every outline of a garment.
///
/// # Errors
/// No notes, no outlines, two of one name, files that are no records.
pub(super) fn open(place: &Path, notes: Option<&Path>, outlines: Option<&Path>) -> anyhow::Result<Known> {
    let about = std::fs::metadata(place).with_context(|| format!("cannot read {}", place.display()))?;
    let folder = if about.is_dir() { place } else { place.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new(".")) };
    let file = notes.map_or_else(|| if about.is_dir() { folder.join("garment.toml") } else { place.to_path_buf() }, Path::to_path_buf);
    if !file.is_file() {
        bail!("there are no garment notes at {}; write a garment.toml with [[join]] entries, or name it with --notes", file.display());
    }
    let notes = Notes::from_text(&text(&file)?).with_context(|| format!("the notes {}", file.display()))?;
    let root = outlines.unwrap_or(folder);
    let mut files = Vec::new();
    search(root, DEPTH, &mut files)?;
    if files.is_empty() {
        bail!("there is no outline.json in {} or below; trace the pictures first, or name that folder with --outlines", root.display());
    }
    let mut pieces: Vec<(Piece, PathBuf)> = Vec::new();
    for file in &files {
        let record = Record::from_text(&text(file)?).with_context(|| file.display().to_string())?;
        let shot = shot(&notes, &record);
        if shot.is_none() && notes.shots.iter().any(|s| s.picture.is_some()) {
            // Another garment's picture in the same folder.
            continue;
        }
        for piece in &record.pieces {
            let lines = as_found(piece).with_context(|| file.display().to_string())?;
            let said = shot.and_then(|s| s.piece.clone()).filter(|_| record.pieces.len() == 1);
            let name = said.unwrap_or_else(|| piece.name.clone());
            if let Some((_, other)) = pieces.iter().find(|(p, _)| alike(&p.name, &name)) {
                bail!(
                    "two outlines are called \"{name}\": {} and {}; give each shot its own piece in the notes",
                    other.display(),
                    file.display()
                );
            }
            let piece = drafted(name, lines, shot).with_context(|| file.display().to_string())?;
            pieces.push((piece, file.clone()));
        }
    }
    if pieces.is_empty() {
        bail!("none of the {} outlines in {} is of a picture that the notes name; check [[shot]] picture", files.len(), root.display());
    }
    Ok(Known { notes, pieces: pieces.into_iter().map(|p| p.0).collect(), outlines: files.len() })
}

/// The piece as the wearer shows it, on the line it was sewn along: moved in from what was seen where the notes say how far,
/// and mirrored once when it was seen from its wrong side.
fn drafted(name: String, lines: Layer, shot: Option<&ShotNotes>) -> anyhow::Result<Piece> {
    let told = |k: usize| {
        let n = lines.corners.len();
        let [a, b] = [k, (k + 1) % n.max(1)].map(|c| lines.corners.get(c).map(|c| c.name.as_str()));
        shot?.edges.iter().find(|e| a.zip(b).is_some_and(|(a, b)| e.joins(a, b)))
    };
    let edges = 0..lines.edges.len();
    let inside: Vec<f64> = edges.clone().map(|k| told(k).and_then(|e| e.true_seam).map_or(0.0, |l| l.mm())).collect();
    let assumed: Vec<usize> = edges.filter(|&k| told(k).is_some_and(|e| e.assumed)).collect();
    let mut piece = Piece::new(name, lines.clone());
    let change = |what: &str| Change { what: what.into(), how: How::Noted, by: None, on: None };
    if inside.iter().any(|w| *w != 0.0) {
        let seam = seam_line(&lines, &inside, How::Noted).with_context(|| format!("the true seam of {}", piece.name))?;
        piece.redraft(seam, change("edges moved from what was seen to the true seam, as the notes say"));
    }
    if !assumed.is_empty() {
        let mut lines = piece.drafted().clone();
        assumed.iter().for_each(|&k| lines.edges[k].how = How::Assumed);
        piece.redraft(lines, change("edges that nobody measured marked as assumed"));
    }
    if shot.and_then(ShotNotes::wrong_side_up) == Some(true) {
        let mirrored = piece.drafted().mapped(Affine::FLIP_X);
        piece.redraft(mirrored, change("mirrored, for it was seen from its wrong side"));
    }
    Ok(piece)
}

fn shot<'a>(notes: &'a Notes, record: &Record) -> Option<&'a ShotNotes> {
    let own = |s: &&ShotNotes| {
        let name = s.picture.as_deref().map(|p| Path::new(p).file_name());
        name.is_some_and(|n| record.pictures.iter().any(|p| Path::new(&p.file).file_name() == n))
    };
    let only = || notes.shots.first().filter(|s| notes.shots.len() == 1 && s.picture.is_none());
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
