//! From folders to entries: the record in each, and pictures put to the garments they are of.

use super::archive::{Archive, Garment, Outcome, Picture, Skipped};
use super::fields::{FailedFields, GarmentFields, OutlineFields, read};
use super::tree::{Folder, joined};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// What a folder holds.
#[derive(Clone, Debug)]
pub(super) enum Entry {
    Garment(Box<Garment>, Vec<Picture>),
    Picture(Box<Picture>),
}

/// A folder's record; a garment's comes with its pictures that failed and may have no folder of their own.
pub(super) fn entry(root: &Path, folder: Folder) -> Option<Entry> {
    let at: PathBuf = root.join(&folder.path);
    if folder.has("garment.json") {
        let (garment, failed) = garment(&at, folder);
        return Some(Entry::Garment(Box::new(garment), failed));
    }
    picture(&at, folder).map(|p| Entry::Picture(Box::new(p)))
}

/// The garment in a folder, and pictures that its record says failed.
pub(super) fn garment(at: &Path, folder: Folder) -> (Garment, Vec<Picture>) {
    match read::<GarmentFields>(&at.join("garment.json")) {
        Ok(mut fields) => {
            let parts = fields.parts();
            let failed = fields.pictures.iter().filter(|p| p.result == "failed").map(|p| Picture {
                path: joined(&folder.path, p.file.rsplit_once('.').map_or(p.file.as_str(), |(stem, _)| stem)),
                of: vec![p.file.clone()],
                result: Outcome::Failed(p.say.clone().unwrap_or_else(|| "could not be traced".into())),
                files: Vec::new(),
            });
            let failed = failed.collect();
            let doubts = fields.doubts.into_iter().filter(|d| d.picture.is_none()).map(|d| d.doubt).collect();
            let (told, pieces, tape) = (parts.told, parts.pieces, parts.tape);
            let whole = Garment { path: folder.path, id: fields.id, told, pieces, tape, doubts, files: folder.files, ..Garment::default() };
            (whole, failed)
        }
        Err(say) => {
            let id = folder.path.rsplit('/').next().filter(|n| !n.is_empty()).unwrap_or("the whole archive").to_owned();
            (Garment { path: folder.path, id, files: folder.files, unread: Some(say), ..Garment::default() }, Vec::new())
        }
    }
}

/// What is said where a picture failed that was traced before.
pub(super) const STANDS: &str = "What was traced before still lies there.";

/// A message as a sentence.
pub(super) fn sentence(say: &str) -> String {
    let mut letters = say.trim().chars();
    let first: String = letters.next().map(|c| c.to_uppercase().collect()).unwrap_or_default();
    let text = format!("{first}{}", letters.as_str());
    if text.ends_with(['.', '!', '?']) { text } else { format!("{text}.") }
}

/// The picture whose results lie in a folder.
pub(super) fn picture(at: &Path, folder: Folder) -> Option<Picture> {
    let traced = folder.has("outline.json");
    let failed = folder.has("failed.json").then(|| read::<FailedFields>(&at.join("failed.json")));
    let (of, result) = match failed {
        // It was traced once; then picture, notes or settings changed, and it could not be traced any more.
        Some(Ok(fields)) if traced => (vec![fields.picture.file], Outcome::Failed(format!("{} {STANDS}", sentence(&fields.say)))),
        Some(Ok(fields)) => (vec![fields.picture.file], Outcome::Failed(fields.say)),
        Some(Err(say)) if !traced => (Vec::new(), Outcome::Unread(say)),
        _ if traced => match read::<OutlineFields>(&at.join("outline.json")) {
            Ok(fields) => {
                let (of, figures) = fields.into_parts();
                (of, Outcome::Traced(Box::new(figures)))
            }
            Err(say) => (Vec::new(), Outcome::Unread(say)),
        },
        _ => return None,
    };
    Some(Picture { path: folder.path, of, result, files: folder.files })
}

/// Pictures put to the nearest garment above them. `entries` stand in the order in which folders are walked: a folder before those in it.
pub(super) fn gathered(entries: Vec<Entry>, skipped: Vec<Skipped>) -> Archive {
    let mut archive = Archive { skipped, ..Archive::default() };
    let mut told: Vec<Vec<Picture>> = Vec::new();
    let mut places: BTreeMap<String, usize> = BTreeMap::new();
    for entry in entries {
        match entry {
            Entry::Garment(garment, failed) => {
                places.insert(garment.path.clone(), archive.garments.len());
                archive.garments.push(*garment);
                told.push(failed);
            }
            Entry::Picture(picture) => {
                let garment = above(&picture.path).find_map(|f| places.get(f)).copied();
                match garment {
                    Some(k) => archive.garments[k].pictures.push(*picture),
                    None => archive.loose.push(*picture),
                }
            }
        }
    }
    for (garment, failed) in archive.garments.iter_mut().zip(told) {
        let own = |p: &Picture| garment.pictures.iter().any(|q| q.path == p.path || p.of.iter().any(|f| q.of.contains(f)));
        let new: Vec<Picture> = failed.into_iter().filter(|p| !own(p)).collect();
        garment.pictures.extend(new);
    }
    archive.garments.sort_by(|a, b| a.path.cmp(&b.path));
    archive
}

/// The folders above one, the nearest first, down to the root.
fn above(path: &str) -> impl Iterator<Item = &str> {
    let ends = path.match_indices('/').map(|(k, _)| k).collect::<Vec<_>>();
    let root = if path.is_empty() { None } else { Some("") };
    ends.into_iter().rev().map(move |k| &path[..k]).chain(root)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn folders_above() {
        assert_eq!(above("a/b/c").collect::<Vec<_>>(), ["a/b", "a", ""]);
        assert_eq!(above("a").collect::<Vec<_>>(), [""]);
        assert_eq!(above("").count(), 0);
    }
}
