//! `.ruboff/calls.json`: the calls that made an archive, kept in it, so that its pictures are found again and traced as they were.

use super::Terms;
use crate::write::{RecordError, WriteError, known, write_whole};
use serde::{Deserialize, Serialize};
use std::path::{Component, Path, PathBuf};

const FORMAT: &str = "ruboff-calls";
const VERSION: u32 = 1;
/// Where they are kept, below the archive's root.
const PLACE: [&str; 2] = [".ruboff", "calls.json"];
/// Calls that are kept: of an archive fed picture by picture the latest.
const MOST: usize = 2000;

/// A call.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct KeptCall {
    /// Pictures and folders it named; from the archive's root where they lie on the way, so that both may be moved together.
    pub pictures: Vec<PathBuf>,
    /// What it asked of them.
    pub terms: Terms,
}

#[derive(Serialize, Deserialize)]
struct File {
    format: String,
    version: u32,
    /// Where the archive lay.
    root: PathBuf,
    /// The newest last.
    calls: Vec<KeptCall>,
}

/// The calls that made the archive below `root`, the newest last, with their pictures as they are found from here; none where it keeps no word of them.
///
/// # Errors
/// The file is damaged, or of a later version.
pub fn kept_calls(root: &Path) -> Result<Vec<KeptCall>, RecordError> {
    Ok(open(root)?.map_or_else(Vec::new, |file| file.calls.into_iter().map(|c| from_here(root, &file.root, c)).collect()))
}

/// Keeps a call with the archive below `root`. One that asks anything of the same pictures is replaced.
///
/// # Errors
/// The file can't be written.
pub fn keep_call(root: &Path, pictures: &[PathBuf], terms: &Terms) -> Result<(), WriteError> {
    let absolute = |p: &Path| std::path::absolute(p).unwrap_or_else(|_| p.to_path_buf());
    let home = absolute(root);
    let pictures: Vec<PathBuf> = pictures.iter().map(|p| from(&home, &absolute(p))).collect();
    let own = |p: &PathBuf| from(&home, &absolute(p));
    let sheet = if Path::new(&terms.sheet).is_file() {
        from(&home, &absolute(Path::new(&terms.sheet))).to_string_lossy().into_owned()
    } else {
        terms.sheet.clone()
    };
    let terms = Terms {
        sheet,
        notes: terms.notes.as_ref().map(own),
        lens: terms.lens.as_ref().map(own),
        bare: terms.bare.as_ref().map(own),
        ..terms.clone()
    };
    // What can't be read any more is no loss that should keep a run from going on.
    let mut calls = open(root).ok().flatten().map_or_else(Vec::new, |f| f.calls);
    let call = KeptCall { pictures, terms };
    if calls.last() == Some(&call) {
        return Ok(());
    }
    calls.retain(|c| c.pictures != call.pictures);
    calls.push(call);
    calls.drain(..calls.len().saturating_sub(MOST));
    let file = File { format: FORMAT.into(), version: VERSION, root: home, calls };
    let mut text = serde_json::to_string_pretty(&file).unwrap_or_default();
    text.push('\n');
    let place = root.join(PLACE[0]);
    let at = place.join(PLACE[1]);
    std::fs::create_dir_all(&place).map_err(|source| WriteError::Io { path: at.display().to_string(), source })?;
    write_whole(&at, text.as_bytes())
}

fn open(root: &Path) -> Result<Option<File>, RecordError> {
    let Ok(text) = std::fs::read_to_string(root.join(PLACE[0]).join(PLACE[1])) else { return Ok(None) };
    known(&text, FORMAT, VERSION)?;
    Ok(Some(serde_json::from_str(&text)?))
}

/// A path as seen from a folder, both absolute: up to what they share and down again. As it is where they share nothing but the root.
fn from(home: &Path, path: &Path) -> PathBuf {
    let plain = |p: &Path| p.components().all(|c| !matches!(c, Component::ParentDir | Component::CurDir));
    let (a, b): (Vec<_>, Vec<_>) = (home.components().collect(), path.components().collect());
    let shared = a.iter().zip(&b).take_while(|(x, y)| x == y).count();
    if shared < 2 || !plain(home) || !plain(path) {
        return path.to_path_buf();
    }
    std::iter::repeat_n(Component::ParentDir, a.len() - shared).chain(b[shared..].iter().copied()).collect()
}

/// A call with its paths as they are found from here: where the archive lies now, else where it lay.
fn from_here(root: &Path, before: &Path, call: KeptCall) -> KeptCall {
    let found = |p: PathBuf| {
        let here = root.join(&p);
        if here.exists() { here } else { before.join(&p) }
    };
    let KeptCall { pictures, terms } = call;
    // A kind or a name of a sheet is no file.
    let sheet = Some(found(PathBuf::from(&terms.sheet))).filter(|f| f.is_file()).map_or(terms.sheet, |f| f.to_string_lossy().into_owned());
    let terms = Terms { sheet, notes: terms.notes.map(found), lens: terms.lens.map(found), ..terms };
    KeptCall { pictures: pictures.into_iter().map(found).collect(), terms }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pictures_are_found_again_where_both_were_moved() {
        let dir = tempfile::tempdir().expect("a folder");
        let old = dir.path().join("old");
        std::fs::create_dir_all(old.join("traced")).expect("made");
        std::fs::create_dir_all(old.join("wardrobe")).expect("made");
        let terms = Terms { pitch: "1 in".parse().ok(), ..Terms::default() };
        keep_call(&old.join("traced"), &[old.join("wardrobe")], &Terms::default()).expect("kept");
        keep_call(&old.join("traced"), &[old.join("wardrobe")], &terms).expect("kept");
        let new = dir.path().join("new");
        std::fs::rename(&old, &new).expect("moved");
        let calls = kept_calls(&new.join("traced")).expect("read");
        assert_eq!(calls.len(), 1);
        assert_eq!(calls[0].terms, terms);
        assert!(calls[0].pictures[0].is_dir());
        assert!(kept_calls(dir.path()).expect("none").is_empty());
        std::fs::write(new.join("traced/.ruboff/calls.json"), "{").expect("spoilt");
        assert!(kept_calls(&new.join("traced")).is_err());
    }
}
