//! Which pictures there are and where each result goes.

use super::tree::PAGES_MARK;
use crate::shot::Glance;
use std::collections::{BTreeMap, BTreeSet};
use std::io::ErrorKind;
use std::path::{Path, PathBuf};

/// Files that a run leaves beside an outline.
const RESULTS: [&str; 6] = ["outline.json", "outline.svg", "points.csv", "evidence.jpg", "thumbnail.jpg", "failed.json"];
/// Files that a garment's folder or an archive's root holds beside pictures.
const BESIDE: [&str; 8] =
    ["garment.toml", "garment.json", "drafted.json", "measures.csv", "review.json", "report.html", "report.csv", "readme.txt"];

/// Pictures to make one tracing of.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Job {
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

    /// All its pictures, the first one first.
    pub fn pictures(&self) -> impl Iterator<Item = &PathBuf> {
        std::iter::once(&self.picture).chain(&self.more)
    }
}

/// A file or folder that no tracing is made of.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LeftOut {
    /// Where it is.
    pub path: PathBuf,
    /// Why, in words that follow its name.
    pub why: String,
    /// Whether something may be lost by it, so that the run is not whole.
    pub lost: bool,
}

/// What the folders and files named hold.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Listing {
    /// Pictures, in the order of their names.
    pub jobs: Vec<Job>,
    /// What is no picture, or can't be looked at.
    pub left_out: Vec<LeftOut>,
}

/// Why pictures can't be listed.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum ListError {
    /// A folder that was named can't be read.
    #[error("cannot list the folder {folder}")]
    Folder {
        /// Which one.
        folder: String,
        /// What the system said.
        source: std::io::Error,
    },
    /// Two pictures have one place for their results.
    #[error("{one} and {other} would both be written to {folder}; trace the folder above both, or one at a time")]
    OnePlace {
        /// A picture.
        one: String,
        /// Another.
        other: String,
        /// The place.
        folder: String,
    },
}

impl ListError {
    fn folder(folder: &Path, source: std::io::Error) -> Self {
        Self::Folder { folder: folder.display().to_string(), source }
    }
}

/// Lists the pictures named, folders opened and mirrored below `out`; equal stems keep their ending. Hidden files, earlier results and
/// `out` itself are passed over. What a file is, its first bytes say: one that is no picture is left out and told.
///
/// # Errors
/// A folder that was named cannot be listed; one further down is left out and told. A picture that is not there is found out when it is
/// opened.
pub fn list(given: &[PathBuf], out: &Path) -> Result<Listing, ListError> {
    let results = std::fs::canonicalize(out).ok();
    let mut found = Walk { root: PathBuf::new(), results, seen: BTreeSet::new(), pictures: Vec::new(), left_out: Vec::new() };
    for path in given {
        if path.is_dir() {
            found.root = std::fs::canonicalize(path).map_err(|e| ListError::folder(path, e))?;
            found.folder(path, out).map_err(|e| ListError::folder(path, e))?;
        } else {
            found.pictures.push((path.clone(), out.to_path_buf(), false));
        }
    }
    let mut stems: BTreeMap<PathBuf, usize> = BTreeMap::new();
    for (picture, parent, _) in &found.pictures {
        *stems.entry(parent.join(picture.file_stem().unwrap_or_default())).or_default() += 1;
    }
    let job = |(picture, parent, from_folder): (PathBuf, PathBuf, bool)| {
        let by_stem = parent.join(picture.file_stem().unwrap_or_default());
        let folder = if stems[&by_stem] > 1 { parent.join(picture.file_name().unwrap_or_default()) } else { by_stem };
        let below = parent.strip_prefix(out).unwrap_or(Path::new("")).to_path_buf();
        Job { picture, more: Vec::new(), folder, from_folder, below }
    };
    Ok(Listing { jobs: found.pictures.into_iter().map(job).collect(), left_out: found.left_out })
}

/// All pictures as one job, named after the first.
pub fn as_one(mut jobs: Vec<Job>) -> Vec<Job> {
    if jobs.len() > 1 {
        let more = jobs.split_off(1).into_iter().map(|j| j.picture);
        jobs[0].more.extend(more);
    }
    jobs
}

/// Without the pictures that others name as those of their bare sheet, by `bare`, and that no garment is in.
pub fn without_bare(mut jobs: Vec<Job>, bare: impl Fn(&Job) -> Option<PathBuf>) -> Vec<Job> {
    let whole = |path: &Path| std::fs::canonicalize(path).unwrap_or_else(|_| path.to_path_buf());
    let all: BTreeSet<PathBuf> = jobs.iter().filter_map(&bare).map(|b| whole(&b)).collect();
    if !all.is_empty() {
        jobs.retain(|job| !all.contains(&whole(&job.picture)));
    }
    jobs
}

/// Pictures that belong together become one job: `together` gives, for a picture, the names of all of them in their order, its own among
/// them, or none. The job stands where the first of them stood.
pub fn grouped(jobs: Vec<Job>, together: impl Fn(&Job) -> Vec<String>) -> Vec<Job> {
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
pub fn apart(jobs: &[Job]) -> Result<(), ListError> {
    let mut taken: BTreeMap<&Path, &Path> = BTreeMap::new();
    for job in jobs {
        if let Some(other) = taken.insert(&job.folder, &job.picture).filter(|o| *o != job.picture) {
            return Err(ListError::OnePlace {
                one: other.display().to_string(),
                other: job.picture.display().to_string(),
                folder: job.folder.display().to_string(),
            });
        }
    }
    Ok(())
}

/// Whether a folder could be made there, found out without making it: a call that fails leaves nothing behind.
///
/// # Errors
/// What stands in the way.
pub fn place_for(folder: &Path) -> std::io::Result<()> {
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
pub fn pictures_in(folder: &Path) -> Result<Vec<String>, ListError> {
    let entries = std::fs::read_dir(folder).and_then(Iterator::collect::<Result<Vec<_>, _>>);
    let entries = entries.map_err(|e| ListError::folder(folder, e))?;
    let pictures = entries.iter().filter(|e| !e.path().is_dir() && !is_result(&e.path()) && Glance::kind(&e.path()).is_ok());
    let mut names: Vec<String> = pictures.map(|e| e.file_name().to_string_lossy().into_owned()).filter(|n| !n.starts_with('.')).collect();
    names.sort();
    Ok(names)
}

/// Whether a file is one that an earlier run wrote: results may lie in the folder of the pictures.
fn is_result(path: &Path) -> bool {
    let name = path.file_name().unwrap_or_default().to_string_lossy().to_lowercase();
    let beside = |other: &str| path.with_file_name(other).is_file();
    BESIDE.contains(&name.as_str()) || RESULTS.contains(&name.as_str()) && (beside("outline.json") || beside("failed.json"))
}

/// Whether a file holds the notes of a picture that lies beside it.
fn is_notes(path: &Path) -> bool {
    path.extension().is_some_and(|e| e == "toml") && path.with_extension("").is_file()
}

/// Folders being walked.
struct Walk {
    /// The folder that was named, links resolved.
    root: PathBuf,
    /// Where results go, links resolved; none when it is not there yet.
    results: Option<PathBuf>,
    /// Folders that were opened, links resolved: a link to one above would never end.
    seen: BTreeSet<PathBuf>,
    pictures: Vec<(PathBuf, PathBuf, bool)>,
    left_out: Vec<LeftOut>,
}

impl Walk {
    fn folder(&mut self, folder: &Path, out: &Path) -> std::io::Result<()> {
        let own = std::fs::canonicalize(folder)?;
        if !self.seen.insert(own) {
            return Ok(());
        }
        let mut entries = std::fs::read_dir(folder)?.collect::<Result<Vec<_>, _>>()?;
        entries.sort_by_key(std::fs::DirEntry::file_name);
        for entry in entries.iter().filter(|e| !e.file_name().to_string_lossy().starts_with('.')) {
            self.entry(entry.path(), &out.join(entry.file_name()), out);
        }
        let notes = folder.join("garment.toml");
        if notes.is_file() && !self.pictures.iter().any(|(picture, ..)| picture.parent() == Some(folder)) {
            self.leave(notes, "tells of a garment of which no picture lies beside it", false);
        }
        Ok(())
    }

    /// One file or folder; results of a folder go to `inside`, those of a picture below `out`.
    fn entry(&mut self, path: PathBuf, inside: &Path, out: &Path) {
        if path.is_symlink() {
            match std::fs::canonicalize(&path) {
                Ok(target) if target.starts_with(&self.root) => {}
                Ok(_) => return self.leave(path, "is a link out of the folder that was given; name its target itself", true),
                Err(_) => return self.leave(path, "is a link to nothing", true),
            }
        }
        if path.is_dir() {
            let results = self.results.is_some() && std::fs::canonicalize(&path).ok() == self.results;
            // An archive that is traced into its own pictures' folder is both.
            // Pages that were made of an archive hold nothing to trace.
            let pages = path.join(PAGES_MARK).is_file();
            if results || pages || path.file_name().is_some_and(|n| n == "earlier") && is_result(&path.with_file_name("outline.json")) {
                return;
            }
            if let Err(e) = self.folder(&path, inside) {
                let why =
                    if e.kind() == ErrorKind::PermissionDenied { "may not be opened; change its permissions" } else { "can't be read" };
                self.leave(path, why, true);
            }
            return;
        }
        if is_result(&path) || is_notes(&path) {
            return;
        }
        match Glance::kind(&path) {
            Ok(()) => self.pictures.push((path, out.to_path_buf(), true)),
            Err(why) => self.leave(path, &why, false),
        }
    }

    fn leave(&mut self, path: PathBuf, why: &str, lost: bool) {
        self.left_out.push(LeftOut { path, why: why.to_owned(), lost });
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const PNG: &[u8] = b"\x89PNG\r\n\x1a\n and no more";

    fn folder(files: &[&str]) -> tempfile::TempDir {
        let dir = tempfile::tempdir().expect("a folder");
        for file in files {
            let path = dir.path().join(file);
            std::fs::create_dir_all(path.parent().expect("a parent")).expect("made");
            let text = path.extension().is_some_and(|e| e == "txt" || e == "toml" || e == "json");
            std::fs::write(path, if text { b"words" } else { PNG }).expect("written");
        }
        dir
    }

    fn listed(dir: &Path, out: &str) -> Listing {
        list(&[dir.to_path_buf()], Path::new(out)).expect("listed")
    }

    #[test]
    fn folders_are_mirrored_and_equal_stems_keep_their_ending() {
        let dir =
            folder(&["b.jpg", "a.PNG", "a.tif", "notes.txt", ".hidden.jpg", "coat/sleeve.webp", "coat/ärmel links", "coat/garment.toml"]);
        let found = list(&[dir.path().to_path_buf(), PathBuf::from("gone.jpg")], Path::new("out")).expect("listed");
        let folders: Vec<_> = found.jobs.iter().map(|j| j.folder.display().to_string()).collect();
        assert_eq!(folders, ["out/a.PNG", "out/a.tif", "out/b", "out/coat/sleeve", "out/coat/ärmel links", "out/gone"]);
        let left: Vec<_> = found.left_out.iter().map(|l| (l.path.file_name().expect("a name").to_string_lossy(), l.lost)).collect();
        assert_eq!(left, [("notes.txt".into(), false)]);
    }

    #[test]
    fn two_pictures_of_one_name_are_refused_and_results_are_no_pictures() {
        let both = [PathBuf::from("one/front.jpg"), PathBuf::from("two/front.jpg")];
        let said = apart(&list(&both, Path::new("out")).expect("listed").jobs).expect_err("one would be lost").to_string();
        assert!(said.contains("one/front.jpg and two/front.jpg"), "{said}");
        let files = [
            "front.jpg",
            "front/evidence.jpg",
            "front/outline.json",
            "front/earlier/1/evidence.jpg",
            "back/evidence.jpg",
            "front/review.json",
            "review.json",
        ];
        let dir = folder(&files);
        let names: Vec<String> = listed(dir.path(), "out").jobs.iter().map(Job::name).collect();
        assert_eq!(names, ["back/evidence.jpg", "front.jpg"]);
        // Nor are pages that were made of them.
        std::fs::write(dir.path().join("back").join(PAGES_MARK), "").expect("written");
        let names: Vec<String> = listed(dir.path(), "out").jobs.iter().map(Job::name).collect();
        assert_eq!(names, ["front.jpg"]);
        // Results that lie within the folder are not walked again.
        let inside = dir.path().join("back");
        let names: Vec<String> =
            list(&[dir.path().to_path_buf()], &inside).expect("listed").jobs.iter().map(|j| j.folder.display().to_string()).collect();
        assert_eq!(names, [inside.join("front").display().to_string()]);
    }

    #[cfg(unix)]
    #[test]
    fn links_out_of_the_folder_and_rings_of_links_are_not_followed() {
        use std::os::unix::fs::symlink;
        let other = folder(&["secret.jpg"]);
        let dir = folder(&["a.jpg", "coat/b.jpg"]);
        symlink(other.path().join("secret.jpg"), dir.path().join("c.jpg")).expect("linked");
        symlink(other.path(), dir.path().join("d")).expect("linked");
        symlink(dir.path(), dir.path().join("coat/up")).expect("linked");
        symlink("nowhere", dir.path().join("e.jpg")).expect("linked");
        symlink("a.jpg", dir.path().join("f.jpg")).expect("linked");
        std::fs::create_dir(dir.path().join("hat")).expect("made");
        std::fs::write(dir.path().join("hat/garment.toml"), b"").expect("written");
        let found = listed(dir.path(), "out");
        let names: Vec<String> = found.jobs.iter().map(Job::name).collect();
        assert_eq!(names, ["a.jpg", "coat/b.jpg", "f.jpg"]);
        assert!(found.left_out.iter().any(|l| l.path.ends_with("hat/garment.toml") && l.why.contains("no picture") && !l.lost));
        assert_eq!(found.left_out.iter().filter(|l| l.lost).count(), 3);
    }
}
