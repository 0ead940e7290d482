//! Where the pages go.

use super::super::page::{link, write_changed};
use super::super::tree::{PAGES_MARK, joined};
use super::{CatalogueError, Wanted};
use std::collections::BTreeSet;
use std::path::{Component, Path, PathBuf};
use std::sync::{Mutex, PoisonError};

/// Copies of the archive's files, beside published pages.
pub(super) const COPIES: &str = "files";

/// The folder of the pages.
pub(super) struct Place {
    out: PathBuf,
    /// From there to the archive's files, `/` between, ending in one.
    pub files: String,
    pub published: bool,
    /// What was written before, and what is now.
    before: BTreeSet<String>,
    now: Mutex<(BTreeSet<String>, usize)>,
}

impl Place {
    /// Makes the folder, or takes up one that pages were written to before.
    ///
    /// # Errors
    /// Something else lies there, or it lies round the archive.
    pub fn ready(root: &Path, wanted: &Wanted) -> Result<Self, CatalogueError> {
        let out = wanted.out.clone().unwrap_or_else(|| root.join(if wanted.published { "published" } else { "catalogue" }));
        let fail = |source| CatalogueError::Io { path: out.display().to_string(), source };
        let root = root.canonicalize().map_err(fail)?;
        let there = out.canonicalize().ok();
        if there.as_ref().is_some_and(|t| root.starts_with(t)) {
            return Err(CatalogueError::Around { path: out.display().to_string() });
        }
        let before = match std::fs::read_to_string(out.join(PAGES_MARK)) {
            Ok(list) => list.lines().filter(|l| ours(l)).map(str::to_owned).collect(),
            Err(_) if there.is_none() || std::fs::read_dir(&out).map_err(fail)?.next().is_none() => BTreeSet::new(),
            Err(_) => return Err(CatalogueError::Taken { path: out.display().to_string() }),
        };
        for folder in ["", "garments", "sheets"] {
            std::fs::create_dir_all(out.join(folder)).map_err(fail)?;
        }
        // First of all, so that a run that was killed can be taken up and nothing here is taken for the archive's.
        if before.is_empty() {
            write_changed(&out.join(PAGES_MARK), b"")?;
        }
        let files = if wanted.published { format!("{COPIES}/") } else { way(&out.canonicalize().map_err(fail)?, &root) };
        Ok(Self { out, files, published: wanted.published, before, now: Mutex::default() })
    }

    pub fn at(&self, file: &str) -> PathBuf {
        self.out.join(file)
    }

    /// Writes a file of the catalogue, by its path in it, unless it is the same.
    pub fn put(&self, file: &str, bytes: &[u8]) -> Result<(), CatalogueError> {
        let at = self.at(file);
        if let Some(folder) = at.parent() {
            std::fs::create_dir_all(folder).map_err(|source| CatalogueError::Io { path: folder.display().to_string(), source })?;
        }
        let changed = write_changed(&at, bytes)?;
        let mut now = self.now.lock().unwrap_or_else(PoisonError::into_inner);
        now.0.insert(file.to_owned());
        now.1 += usize::from(changed);
        Ok(())
    }

    /// Takes away what was written before and is not any more, and keeps the list of what is. Gives how many files changed.
    pub fn done(&self) -> Result<usize, CatalogueError> {
        let now = self.now.lock().unwrap_or_else(PoisonError::into_inner);
        let gone: Vec<&String> = self.before.difference(&now.0).collect();
        for file in &gone {
            // Somebody may have taken it away already.
            let _ = std::fs::remove_file(self.at(file));
        }
        let list: String = now.0.iter().map(|f| format!("{f}\n")).collect();
        write_changed(&self.at(PAGES_MARK), list.as_bytes())?;
        Ok(now.1 + gone.len())
    }

    /// A link to a file of the archive from a page that lies `up` ("" or "../") from the first one.
    pub fn link(&self, up: &str, folder: &str, file: &str) -> String {
        link(&format!("{up}{}{}", self.files, joined(folder, file)))
    }
}

/// Whether a line of the list names a file that can only lie in the catalogue.
fn ours(line: &str) -> bool {
    !line.is_empty() && Path::new(line).components().all(|c| matches!(c, Component::Normal(_)))
}

/// The way from one folder to another, both absolute.
fn way(from: &Path, to: &Path) -> String {
    let (a, b): (Vec<Component>, Vec<Component>) = (from.components().collect(), to.components().collect());
    let shared = a.iter().zip(&b).take_while(|(x, y)| x == y).count();
    let up = "../".repeat(a.len() - shared);
    let down: String = b[shared..].iter().map(|c| format!("{}/", c.as_os_str().to_string_lossy())).collect();
    up + &down
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ways_between_folders() {
        assert_eq!(way(Path::new("/a/b/catalogue"), Path::new("/a/b")), "../");
        assert_eq!(way(Path::new("/x/pages"), Path::new("/a/b")), "../../a/b/");
    }

    #[test]
    fn only_what_is_ours_is_taken_away() {
        let dir = tempfile::tempdir().expect("a folder");
        let wanted = Wanted::default();
        let first = Place::ready(dir.path(), &wanted).expect("ready");
        first.put("garments/a.html", b"a").expect("put");
        assert_eq!(first.done().expect("done"), 1);
        std::fs::write(first.at("note.txt"), "mine").expect("written");
        std::fs::write(dir.path().join("kept.txt"), "kept").expect("written");
        let mark = first.at(PAGES_MARK);
        let list = std::fs::read_to_string(&mark).expect("read");
        std::fs::write(&mark, format!("{list}../kept.txt\n")).expect("written");
        let second = Place::ready(dir.path(), &wanted).expect("ready");
        second.put("garments/b.html", b"b").expect("put");
        let _ = second.done().expect("done");
        assert!(!second.at("garments/a.html").exists() && second.at("garments/b.html").exists());
        assert!(second.at("note.txt").exists() && dir.path().join("kept.txt").exists());
    }

    #[test]
    fn folders_of_others_are_left_alone() {
        let dir = tempfile::tempdir().expect("a folder");
        let root = dir.path().join("archive");
        std::fs::create_dir(&root).expect("made");
        std::fs::create_dir(dir.path().join("letters")).expect("made");
        std::fs::write(dir.path().join("letters/one.txt"), "").expect("written");
        let to = |out: &str| Place::ready(&root, &Wanted { out: Some(dir.path().join(out)), published: false }).err();
        assert!(matches!(to("letters"), Some(CatalogueError::Taken { .. })));
        assert!(matches!(to("archive"), Some(CatalogueError::Around { .. })));
        assert!(matches!(to(""), Some(CatalogueError::Around { .. })));
        assert!(to("new").is_none());
    }
}
