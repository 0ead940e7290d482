//! The folders below an archive's root.

use super::archive::Skipped;
use rayon::prelude::*;
use std::fs::Metadata;
use std::io;
use std::path::Path;
use std::time::UNIX_EPOCH;

/// Folders within folders that are followed: an archive has three or four, a loop of mounts has no end.
const DEEPEST: usize = 48;
/// A folder that holds it was made of an archive and is none itself.
pub(super) const PAGES_MARK: &str = ".ruboff-pages";
/// Tracings that others took the place of lie in a folder of this name beside them.
const EARLIER: &str = "earlier";

/// A folder as it was found.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Folder {
    /// From the root, `/` between; empty for the root itself.
    pub path: String,
    /// When its list of names last changed.
    pub stamp: i64,
    /// Names of its files and of its folders, each sorted.
    pub files: Vec<String>,
    pub folders: Vec<String>,
}

impl Folder {
    pub fn has(&self, file: &str) -> bool {
        self.files.binary_search_by(|f| f.as_str().cmp(file)).is_ok()
    }
}

/// When something last changed, in nanoseconds since 1970: to be compared for equality alone, since clocks are set.
pub(super) fn stamp(meta: &Metadata) -> i64 {
    let nanos = |d: std::time::Duration| i64::try_from(d.as_nanos()).unwrap_or(i64::MAX);
    meta.modified().map_or(0, |t| t.duration_since(UNIX_EPOCH).map_or_else(|e| -nanos(e.duration()), nanos))
}

/// Whether folders of tracings that others took the place of are listed too.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Earlier {
    Left,
    Taken,
}

/// A folder as it was found before, by its path and stamp; asked without a stamp first, for folders that need not be looked at.
pub(super) type Known<'a> = &'a (dyn Fn(&str, Option<i64>) -> Option<Folder> + Sync);

/// All folders below `root`, each before those in it, and what was passed by. A folder that is `known` is not listed anew.
///
/// # Errors
/// The root can't be listed.
pub(super) fn walk(root: &Path, earlier: Earlier, known: Known) -> io::Result<(Vec<Folder>, Vec<Skipped>)> {
    let root = root.canonicalize()?;
    let mut skipped = Vec::new();
    let top = look(&root, "", known, &mut skipped)?;
    let (folders, more) = descend(&root, top, 0, (earlier, known));
    skipped.extend(more);
    skipped.sort();
    Ok((folders, skipped))
}

fn descend(root: &Path, folder: Folder, depth: usize, (earlier, known): (Earlier, Known)) -> (Vec<Folder>, Vec<Skipped>) {
    if folder.has(PAGES_MARK) {
        return (Vec::new(), Vec::new());
    }
    let left = earlier == Earlier::Left && (folder.has("outline.json") || folder.has("failed.json"));
    let below: Vec<(Vec<Folder>, Vec<Skipped>)> = folder
        .folders
        .par_iter()
        .filter(|name| !(left && *name == EARLIER))
        .map(|name| {
            let path = joined(&folder.path, name);
            if depth >= DEEPEST {
                return (Vec::new(), vec![Skipped { path, say: format!("lies more than {DEEPEST} folders deep") }]);
            }
            let mut skipped = Vec::new();
            match look(root, &path, known, &mut skipped) {
                Ok(found) => {
                    let (folders, more) = descend(root, found, depth + 1, (earlier, known));
                    skipped.extend(more);
                    (folders, skipped)
                }
                // Taken away while we looked.
                Err(e) if e.kind() == io::ErrorKind::NotFound => (Vec::new(), skipped),
                Err(e) => (Vec::new(), vec![Skipped { path, say: format!("can't be read: {}", plain(&e)) }]),
            }
        })
        .collect();
    let (mut folders, mut skipped) = (vec![folder], Vec::new());
    for (found, passed) in below {
        folders.extend(found);
        skipped.extend(passed);
    }
    (folders, skipped)
}

/// A folder's names. Hidden ones are left out, except the mark of pages; so are links that lead out of the root, and linked folders.
pub(super) fn look(root: &Path, path: &str, known: Known, skipped: &mut Vec<Skipped>) -> io::Result<Folder> {
    if let Some(folder) = known(path, None) {
        return Ok(folder);
    }
    let at = root.join(path);
    // Asked before the list is made: what changes meanwhile has a later stamp and is seen the next time.
    let stamp = stamp(&std::fs::metadata(&at)?);
    if let Some(folder) = known(path, Some(stamp)) {
        return Ok(folder);
    }
    let (mut files, mut folders) = (Vec::new(), Vec::new());
    for entry in std::fs::read_dir(&at)? {
        let entry = entry?;
        let Ok(name) = entry.file_name().into_string() else {
            let shown = entry.file_name().to_string_lossy().into_owned();
            skipped.push(Skipped { path: joined(path, &shown), say: "has a name that is no text (UTF-8)".into() });
            continue;
        };
        if name.starts_with('.') && name != PAGES_MARK {
            continue;
        }
        let kind = entry.file_type()?;
        if kind.is_dir() {
            folders.push(name);
        } else if kind.is_file() {
            files.push(name);
        } else if kind.is_symlink() {
            let inside = entry.path().canonicalize().is_ok_and(|real| real.starts_with(root) && real.is_file());
            if inside {
                files.push(name);
            } else {
                skipped.push(Skipped {
                    path: joined(path, &name),
                    say: "is a link to a folder or out of the archive, and is not followed".into(),
                });
            }
        }
    }
    files.sort_unstable();
    folders.sort_unstable();
    Ok(Folder { path: path.to_owned(), stamp, files, folders })
}

/// A path within the archive.
pub(super) fn joined(folder: &str, name: &str) -> String {
    if folder.is_empty() { name.to_owned() } else { format!("{folder}/{name}") }
}

/// What the system said about a file or folder, in plain words.
pub(super) fn plain(error: &io::Error) -> String {
    match error.kind() {
        io::ErrorKind::PermissionDenied => "you are not allowed to".into(),
        io::ErrorKind::NotFound => "it is not there any more".into(),
        io::ErrorKind::InvalidData => "it is no text (UTF-8)".into(),
        _ => error.to_string(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn paths(root: &Path) -> (Vec<String>, Vec<String>) {
        let (folders, skipped) = walk(root, Earlier::Left, &|_, _| None).expect("listed");
        (folders.into_iter().map(|f| f.path).collect(), skipped.into_iter().map(|s| s.path).collect())
    }

    #[test]
    fn hidden_earlier_and_made_folders_are_passed_by() {
        let dir = tempfile::tempdir().expect("a folder");
        for f in [".ruboff", "coat/front/earlier/1", "coat/earlier", "catalogue/garments"] {
            std::fs::create_dir_all(dir.path().join(f)).expect("made");
        }
        std::fs::write(dir.path().join("coat/front/outline.json"), "{}").expect("written");
        std::fs::write(dir.path().join("catalogue").join(PAGES_MARK), "").expect("written");
        // A garment may well be called "earlier".
        assert_eq!(paths(dir.path()).0, ["", "coat", "coat/earlier", "coat/front"]);
        let (all, _) = walk(dir.path(), Earlier::Taken, &|_, _| None).expect("listed");
        assert_eq!(all.len(), 6, "{all:?}");
    }

    #[cfg(unix)]
    #[test]
    fn links_out_of_the_archive_are_told_and_not_followed() {
        let dir = tempfile::tempdir().expect("a folder");
        let root = dir.path().join("archive");
        std::fs::create_dir_all(root.join("coat")).expect("made");
        std::fs::write(dir.path().join("secret.json"), "{}").expect("written");
        std::fs::write(root.join("coat/real.json"), "{}").expect("written");
        let link = |to: &Path, from: &str| std::os::unix::fs::symlink(to, root.join(from)).expect("linked");
        link(&dir.path().join("secret.json"), "coat/garment.json");
        link(&root.join("coat/real.json"), "coat/inside.json");
        link(&root, "coat/loop");
        let (folders, skipped) = walk(&root, Earlier::Left, &|_, _| None).expect("listed");
        assert_eq!(folders[1].files, ["inside.json", "real.json"]);
        assert_eq!(skipped.iter().map(|s| s.path.as_str()).collect::<Vec<_>>(), ["coat/garment.json", "coat/loop"]);
    }

    #[test]
    fn what_is_known_is_not_listed_anew() {
        let dir = tempfile::tempdir().expect("a folder");
        std::fs::create_dir(dir.path().join("a")).expect("made");
        let (first, _) = walk(dir.path(), Earlier::Left, &|_, _| None).expect("listed");
        let told = |path: &str, stamp| {
            first.iter().find(|f| f.path == path && Some(f.stamp) == stamp).map(|f| Folder { files: vec!["told".into()], ..f.clone() })
        };
        let (second, _) = walk(dir.path(), Earlier::Left, &told).expect("listed");
        assert!(second.iter().all(|f| f.files == ["told"]));
    }
}
