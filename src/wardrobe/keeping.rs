//! What an archive keeps for the runs themselves, in a hidden folder of its root: locks, so that two runs share the work instead of
//! harming each other, and marks of the pictures being worked on, so that one at which a run died comes last in the next.
//!
//! Locks and marks outlive no run: the folder may be deleted whenever none goes on. Locks are the system's own and end with the process
//! that holds them, however it ends.

use std::fs::{File, TryLockError};
use std::io;
use std::path::{Path, PathBuf};

/// The folder in the archive's root.
const FOLDER: &str = ".ruboff";
/// Locks there are. Units that share one wait for each other, which costs little; one file for each unit would never end.
const LOCKS: u8 = 64;
/// Files of a unit that are written aside first.
const WRITTEN: [&str; 10] = [
    "outline.json",
    "outline.svg",
    "points.csv",
    "evidence.jpg",
    "thumbnail.jpg",
    "review.json",
    "failed.json",
    "garment.json",
    "garment.toml",
    "measures.csv",
];

/// The hidden folder of an archive.
#[derive(Clone, Debug)]
pub struct Keeping {
    folder: PathBuf,
}

/// A unit that nobody else works on while this lives.
#[derive(Debug)]
pub struct Held {
    /// Kept open for its lock; none where the file system knows no locks.
    _lock: Option<File>,
}

impl Keeping {
    /// The one of an archive; made when it is not there.
    ///
    /// # Errors
    /// It can't be made.
    pub fn at(root: &Path) -> io::Result<Self> {
        let folder = root.join(FOLDER);
        std::fs::create_dir_all(folder.join("locks"))?;
        std::fs::create_dir_all(folder.join("begun"))?;
        Ok(Self { folder })
    }

    /// Takes a unit, unless another run has it.
    pub fn hold(&self, id: &str) -> Option<Held> {
        let number = blake3::hash(id.as_bytes()).as_bytes()[0] % LOCKS;
        let file = File::options().create(true).truncate(false).write(true).open(self.folder.join("locks").join(number.to_string()));
        match file.map(|f| (f.try_lock(), f)) {
            Ok((Ok(()), file)) => Some(Held { _lock: Some(file) }),
            Ok((Err(TryLockError::WouldBlock), _)) => None,
            // Whole files and one writer at a time are all that is lost.
            Ok((Err(TryLockError::Error(_)), _)) | Err(_) => Some(Held { _lock: None }),
        }
    }

    fn mark(&self, folder: &Path) -> PathBuf {
        let name = blake3::hash(folder.to_string_lossy().as_bytes()).to_hex();
        self.folder.join("begun").join(&name[..16])
    }

    /// Marks that the picture with results in `folder` is being worked on.
    pub fn begin(&self, folder: &Path) {
        // Without the mark a run that dies here only starts with the same picture again.
        let _ = std::fs::write(self.mark(folder), folder.to_string_lossy().as_bytes());
    }

    /// Takes the mark away.
    pub fn end(&self, folder: &Path) {
        let _ = std::fs::remove_file(self.mark(folder));
    }

    /// Whether a run died while it worked on that picture. Only whoever holds its unit may ask.
    pub fn died(&self, folder: &Path) -> bool {
        self.mark(folder).exists()
    }
}

/// Takes away what a run that died had begun to write in a folder. Only whoever holds its unit may do so.
pub fn sweep(folder: &Path) {
    let Ok(list) = std::fs::read_dir(folder) else { return };
    for entry in list.filter_map(Result::ok) {
        let name = entry.file_name().to_string_lossy().into_owned();
        let own = |w: &str| {
            name.strip_prefix('.').and_then(|n| n.strip_prefix(w)).is_some_and(|rest| rest.starts_with('.') && rest.ends_with(".part"))
        };
        if WRITTEN.iter().any(|w| own(w)) {
            let _ = std::fs::remove_file(entry.path());
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_unit_is_held_by_one_and_free_again_afterwards() {
        let dir = tempfile::tempdir().expect("a folder");
        let (one, two) = (Keeping::at(dir.path()).expect("made"), Keeping::at(dir.path()).expect("there"));
        let held = one.hold("coat").expect("free");
        assert!(two.hold("coat").is_none());
        drop(held);
        assert!(two.hold("coat").is_some());
        assert!(!one.died(Path::new("out/coat/front")));
        one.begin(Path::new("out/coat/front"));
        assert!(two.died(Path::new("out/coat/front")) && !two.died(Path::new("out/coat/back")));
        two.end(Path::new("out/coat/front"));
        assert!(!one.died(Path::new("out/coat/front")));
    }

    #[test]
    fn only_what_was_being_written_is_swept() {
        let dir = tempfile::tempdir().expect("a folder");
        let files = [".outline.json.77.part", ".evidence.jpg.77.part", ".notes.part", "outline.json", ".report.html.77.part"];
        files.iter().for_each(|f| std::fs::write(dir.path().join(f), b"").expect("written"));
        sweep(dir.path());
        let mut left: Vec<_> = std::fs::read_dir(dir.path())
            .expect("listed")
            .map(|e| e.expect("an entry").file_name().to_string_lossy().into_owned())
            .collect();
        left.sort();
        assert_eq!(left, [".notes.part", ".report.html.77.part", "outline.json"]);
    }
}
