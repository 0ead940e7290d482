//! Tracings of pictures that are not there any more: moved, renamed or taken away. They are told, and left to a person.

use super::listing::Job;
use super::tree::{Earlier, walk};
use std::collections::BTreeSet;
use std::io;
use std::path::Path;

/// Ends of the names of folders that hold what was made of several tracings.
const MADE: [&str; 2] = ["-mean", "-put-together"];

/// Folders of an archive, below its root, that hold a tracing of none of the pictures of these jobs.
///
/// # Errors
/// The root can't be listed.
pub fn left_behind<'a>(root: &Path, jobs: impl Iterator<Item = &'a Job>) -> io::Result<Vec<String>> {
    let own: BTreeSet<String> = jobs.map(|j| below(root, &j.folder)).collect();
    let (folders, _) = walk(root, Earlier::Left, &|_, _| None)?;
    let traced = folders.into_iter().filter(|f| f.has("outline.json") || f.has("failed.json")).map(|f| f.path);
    Ok(traced.filter(|path| !own.contains(path) && !MADE.iter().any(|end| path.ends_with(end))).collect())
}

/// A folder below the root, `/` between.
fn below(root: &Path, folder: &Path) -> String {
    let parts = folder.strip_prefix(root).unwrap_or(folder).components();
    parts.map(|c| c.as_os_str().to_string_lossy().into_owned()).collect::<Vec<_>>().join("/")
}

#[cfg(test)]
mod tests {
    use super::super::list;
    use super::*;
    use std::path::PathBuf;

    #[test]
    fn what_no_picture_answers_to_is_told() {
        let dir = tempfile::tempdir().expect("a folder");
        for name in ["coat/front", "coat/front/earlier/1", "coat/back", "hat", "coat/front-mean"] {
            std::fs::create_dir_all(dir.path().join(name)).expect("made");
            std::fs::write(dir.path().join(name).join("outline.json"), b"{}").expect("written");
        }
        let jobs = list(&[PathBuf::from("back.jpg")], &dir.path().join("coat")).expect("listed").jobs;
        assert_eq!(left_behind(dir.path(), jobs.iter()).expect("listed"), ["coat/front", "hat"]);
    }
}
