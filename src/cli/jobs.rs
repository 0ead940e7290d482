//! Which pictures to trace and where each result goes.

use anyhow::{Context, bail};
use std::collections::BTreeMap;
use std::io::ErrorKind;
use std::path::{Path, PathBuf};

/// Endings of files that may be pictures; what a file really is, its content tells.
const ENDINGS: [&str; 9] = ["jpg", "jpeg", "png", "tif", "tiff", "webp", "heic", "heif", "gif"];

/// One picture to trace.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Job {
    /// The picture.
    pub picture: PathBuf,
    /// Further pictures that are joined with it to one tracing.
    pub more: Vec<PathBuf>,
    /// Folder for its results.
    pub folder: PathBuf,
    /// Whether it was found in a folder that was given, and not named itself.
    pub from_folder: bool,
    /// Folders between the one that was given and the picture.
    below: PathBuf,
}

impl Job {
    /// What messages call the picture: its file name, below a folder that was given with the folders in between; all that was said of one that is not there.
    pub fn name(&self) -> String {
        if !self.from_folder && !self.picture.exists() {
            return self.picture.to_string_lossy().into_owned();
        }
        let name = Path::new(self.picture.file_name().unwrap_or(self.picture.as_os_str()));
        self.below.join(name).to_string_lossy().into_owned()
    }
}

/// Lists the pictures named, folders opened and mirrored below `out`; equal stems keep their ending.
///
/// # Errors
/// A folder that cannot be listed. A picture that is not there is found out when it is opened.
pub(super) fn list(given: &[PathBuf], out: &Path) -> anyhow::Result<Vec<Job>> {
    let mut found: Vec<(PathBuf, PathBuf, bool)> = Vec::new();
    for path in given {
        if path.is_dir() {
            let mut inside = Vec::new();
            walk(path, out, &mut inside)?;
            found.extend(inside.into_iter().map(|(picture, parent)| (picture, parent, true)));
        } else {
            found.push((path.clone(), out.to_path_buf(), false));
        }
    }
    let mut stems: BTreeMap<PathBuf, usize> = BTreeMap::new();
    for (picture, parent, _) in &found {
        *stems.entry(parent.join(picture.file_stem().unwrap_or_default())).or_default() += 1;
    }
    Ok(found
        .into_iter()
        .map(|(picture, parent, from_folder)| {
            let by_stem = parent.join(picture.file_stem().unwrap_or_default());
            let folder = if stems[&by_stem] > 1 { parent.join(picture.file_name().unwrap_or_default()) } else { by_stem };
            let below = parent.strip_prefix(out).unwrap_or(Path::new("")).to_path_buf();
            Job { picture, more: Vec::new(), folder, from_folder, below }
        })
        .collect())
}

/// All pictures as one job, named after the first.
pub(super) fn as_one(mut jobs: Vec<Job>) -> Vec<Job> {
    if jobs.len() > 1 {
        let more = jobs.split_off(1).into_iter().map(|j| j.picture);
        jobs[0].more.extend(more);
    }
    jobs
}

/// Pictures that belong together become one job: `together` gives, for a picture, the names of all of them in their order, its own among
/// them, or none. The job stands where the first of them stood.
pub(super) fn grouped(jobs: Vec<Job>, together: impl Fn(&Job) -> Vec<String>) -> Vec<Job> {
    let mut out: Vec<Job> = Vec::new();
    for mut job in jobs {
        let names = together(&job);
        if let Some((first, rest)) = names.split_first().filter(|(_, rest)| !rest.is_empty()) {
            let beside = |name: &String| job.picture.with_file_name(name);
            let (picture, more) = (beside(first), rest.iter().map(beside).collect());
            if out.iter().any(|j| j.picture == picture) {
                continue;
            }
            job.folder = job.folder.with_file_name(picture.file_stem().unwrap_or_default());
            (job.picture, job.more) = (picture, more);
        }
        out.push(job);
    }
    out
}

/// Sees that no result is written over another's.
///
/// # Errors
/// Two pictures whose results would go to one place.
pub(super) fn apart(jobs: &[Job]) -> anyhow::Result<()> {
    let mut taken: BTreeMap<&Path, &Path> = BTreeMap::new();
    for job in jobs {
        if let Some(other) = taken.insert(&job.folder, &job.picture).filter(|o| *o != job.picture) {
            let (a, b) = (other.display(), job.picture.display());
            bail!("{a} and {b} would both be written to {}; trace the folder above both, or one at a time", job.folder.display());
        }
    }
    Ok(())
}

/// Whether a folder could be made there, found out without making it: a call that fails leaves nothing behind.
///
/// # Errors
/// What stands in the way.
pub(super) fn place_for(folder: &Path) -> std::io::Result<()> {
    let standing = folder.ancestors().find(|a| a.exists()).unwrap_or(Path::new("."));
    let about = std::fs::metadata(standing)?;
    if !about.is_dir() {
        return Err(ErrorKind::NotADirectory.into());
    }
    if about.permissions().readonly() { Err(ErrorKind::PermissionDenied.into()) } else { Ok(()) }
}

/// Names of the pictures in a folder, in order; folders below it are not opened.
///
/// # Errors
/// The folder cannot be listed.
pub(super) fn pictures_in(folder: &Path) -> anyhow::Result<Vec<String>> {
    let entries = std::fs::read_dir(folder).and_then(Iterator::collect::<Result<Vec<_>, _>>);
    let entries = entries.with_context(|| format!("cannot list the folder {}", folder.display()))?;
    let pictures = entries.iter().filter(|e| !e.path().is_dir() && may_be_picture(&e.path()) && !is_evidence(&e.path()));
    let mut names: Vec<String> = pictures.map(|e| e.file_name().to_string_lossy().into_owned()).filter(|n| !n.starts_with('.')).collect();
    names.sort();
    Ok(names)
}

fn may_be_picture(path: &Path) -> bool {
    path.extension().is_some_and(|e| ENDINGS.contains(&e.to_string_lossy().to_lowercase().as_str()))
}

/// Whether a picture is one that an earlier tracing wrote: results may lie in the folder of the pictures.
fn is_evidence(path: &Path) -> bool {
    path.file_name().is_some_and(|n| n == "evidence.jpg") && path.with_file_name("outline.json").is_file()
}

fn walk(folder: &Path, out: &Path, found: &mut Vec<(PathBuf, PathBuf)>) -> anyhow::Result<()> {
    let list = std::fs::read_dir(folder).with_context(|| format!("cannot list the folder {}", folder.display()))?;
    let mut entries = list.collect::<Result<Vec<_>, _>>().with_context(|| format!("cannot list the folder {}", folder.display()))?;
    entries.sort_by_key(std::fs::DirEntry::file_name);
    for entry in entries {
        let path = entry.path();
        if entry.file_name().to_string_lossy().starts_with('.') {
            continue;
        }
        if path.is_dir() {
            walk(&path, &out.join(entry.file_name()), found)?;
        } else if may_be_picture(&path) && !is_evidence(&path) {
            found.push((path, out.to_path_buf()));
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn folders_are_mirrored_and_equal_stems_keep_their_ending() {
        let dir = tempfile::tempdir().expect("a folder");
        for file in ["b.jpg", "a.PNG", "a.tif", "notes.txt", ".hidden.jpg", "coat/sleeve.webp"] {
            let path = dir.path().join(file);
            std::fs::create_dir_all(path.parent().expect("a parent")).expect("made");
            std::fs::write(path, b"").expect("written");
        }
        let jobs = list(&[dir.path().to_path_buf(), PathBuf::from("gone.jpg")], Path::new("out")).expect("listed");
        let folders: Vec<_> = jobs.iter().map(|j| j.folder.display().to_string()).collect();
        assert_eq!(folders, ["out/a.PNG", "out/a.tif", "out/b", "out/coat/sleeve", "out/gone"]);
    }

    #[test]
    fn two_pictures_of_one_name_are_refused_and_evidence_is_no_picture() {
        let both = [PathBuf::from("one/front.jpg"), PathBuf::from("two/front.jpg")];
        let said = apart(&list(&both, Path::new("out")).expect("listed")).expect_err("one would be lost").to_string();
        assert!(said.contains("one/front.jpg and two/front.jpg"), "{said}");
        let dir = tempfile::tempdir().expect("a folder");
        for file in ["front.jpg", "front/evidence.jpg", "front/outline.json", "back/evidence.jpg"] {
            let path = dir.path().join(file);
            std::fs::create_dir_all(path.parent().expect("a parent")).expect("made");
            std::fs::write(path, b"").expect("written");
        }
        let jobs = list(&[dir.path().to_path_buf()], Path::new("out")).expect("listed");
        let names: Vec<String> = jobs.iter().map(Job::name).collect();
        assert_eq!(names, ["back/evidence.jpg", "front.jpg"]);
    }
}
