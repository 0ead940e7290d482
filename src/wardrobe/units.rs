//! Pictures that are worked on together: those of one garment, or one alone. A unit can be done on any machine, and twice without harm.

use super::listing::Job;
use std::path::{Path, PathBuf};

/// A unit of work.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Unit {
    /// What it is called: where its results go, below the archive's root, with `/` between folders.
    pub id: String,
    /// The notes of the garment it is; none for a picture alone.
    pub notes: Option<PathBuf>,
    /// Folder of the garment's record, or of the picture's results.
    pub home: PathBuf,
    /// Its pictures.
    pub jobs: Vec<Job>,
}

/// Parts pictures into units, in their order: those found in a folder and told of by the same notes are one garment; a picture that was
/// named itself is alone, since it is no whole garment.
pub fn units(jobs: Vec<Job>, out: &Path, notes: impl Fn(&Job) -> Option<PathBuf>) -> Vec<Unit> {
    let mut all: Vec<Unit> = Vec::new();
    for job in jobs {
        let file = if job.from_folder { notes(&job) } else { None };
        if let Some(unit) = file.as_ref().and_then(|f| all.iter_mut().find(|u| u.notes.as_ref() == Some(f))) {
            unit.jobs.push(job);
            continue;
        }
        let home = if file.is_some() { job.folder.parent().unwrap_or(Path::new("")).to_path_buf() } else { job.folder.clone() };
        all.push(Unit { id: id(&home, out), notes: file, home, jobs: vec![job] });
    }
    all
}

/// A folder below the root, named alike on every system; `.` for the root itself.
fn id(folder: &Path, root: &Path) -> String {
    let below = folder.strip_prefix(root).unwrap_or(folder);
    let parts: Vec<_> = below.components().map(|c| c.as_os_str().to_string_lossy().into_owned()).collect();
    if parts.is_empty() { ".".into() } else { parts.join("/") }
}

#[cfg(test)]
mod tests {
    use super::super::list;
    use super::*;

    #[test]
    fn garments_are_one_unit_and_loose_pictures_one_each() {
        let dir = tempfile::tempdir().expect("a folder");
        for file in ["coat/front.jpg", "coat/back.jpg", "loose/a.jpg", "loose/b.jpg", "named.jpg"] {
            let path = dir.path().join(file);
            std::fs::create_dir_all(path.parent().expect("a parent")).expect("made");
            std::fs::write(path, b"\xFF\xD8\xFF").expect("written");
        }
        let given = [dir.path().join("coat"), dir.path().join("loose"), dir.path().join("named.jpg")];
        let out = Path::new("archive/of/it");
        let jobs = list(&given, out).expect("listed").jobs;
        let all = units(jobs, out, |j| j.picture.to_string_lossy().contains("coat").then(|| PathBuf::from("coat/garment.toml")));
        let told: Vec<_> = all.iter().map(|u| (u.id.as_str(), u.jobs.len(), u.notes.is_some())).collect();
        assert_eq!(told, [(".", 2, true), ("a", 1, false), ("b", 1, false), ("named", 1, false)]);
        let whole = list(&[dir.path().to_path_buf()], out).expect("listed").jobs;
        let ids: Vec<_> = units(whole, out, |_| None).into_iter().map(|u| u.id).collect();
        assert_eq!(ids, ["coat/back", "coat/front", "loose/a", "loose/b", "named"]);
    }
}
