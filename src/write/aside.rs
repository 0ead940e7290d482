//! Whole files only: written under a passing name in the same folder, put on the disk, then renamed.

use super::WriteError;
use std::fs::{self, File};
use std::io::{self, Write};
use std::path::{Path, PathBuf};

/// Writes `bytes` to `path` so that the file is either the old one or the whole new one.
///
/// # Errors
/// The folder could not be written to; the passing file is taken away again.
pub fn write_whole(path: &Path, bytes: &[u8]) -> Result<(), WriteError> {
    write_together(&[(path, bytes)])
}

/// Writes several files that belong together: all are on the disk before the first gets its name, and they get them in this order, so
/// that where the last one is new, all are.
///
/// # Errors
/// One could not be written; the passing files are taken away again.
pub fn write_together(files: &[(&Path, &[u8])]) -> Result<(), WriteError> {
    let passing: Vec<PathBuf> = files.iter().map(|(path, _)| passing(path)).collect();
    let written = aside(files, &passing)
        .and_then(|()| files.iter().zip(&passing).try_for_each(|((path, _), aside)| fs::rename(aside, path).map_err(|e| fault(path, e))));
    if written.is_err() {
        // The first failure is the one worth telling.
        passing.iter().for_each(|p| drop(fs::remove_file(p)));
    }
    written
}

fn passing(path: &Path) -> PathBuf {
    let name = path.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
    path.with_file_name(format!(".{name}.{}.part", std::process::id()))
}

fn fault(path: &Path, source: io::Error) -> WriteError {
    WriteError::Io { path: path.display().to_string(), source }
}

/// Writes each under its passing name and waits for the disk, for all at once: without that a power cut after the renaming may leave an
/// empty file under the good name.
fn aside(files: &[(&Path, &[u8])], passing: &[PathBuf]) -> Result<(), WriteError> {
    let open: Vec<File> = files
        .iter()
        .zip(passing)
        .map(|((path, bytes), aside)| {
            let write = || File::create(aside).and_then(|mut file| file.write_all(bytes).map(|()| file));
            write().map_err(|e| fault(path, e))
        })
        .collect::<Result<_, _>>()?;
    let synced: Vec<io::Result<()>> = match open.as_slice() {
        [one] => vec![one.sync_data()],
        many => std::thread::scope(|scope| {
            let waiting: Vec<_> = many.iter().map(|file| scope.spawn(|| file.sync_data())).collect();
            waiting.into_iter().map(|w| w.join().unwrap_or_else(|_| Err(io::ErrorKind::Other.into()))).collect()
        }),
    };
    synced.into_iter().zip(files).try_for_each(|(done, (path, _))| done.map_err(|e| fault(path, e)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_that_cannot_be_written_leaves_nothing() {
        let dir = tempfile::tempdir().expect("a folder");
        let there = dir.path().join("a.json");
        write_whole(&there, b"{}").expect("written");
        assert_eq!(fs::read(&there).expect("read"), b"{}");
        assert!(write_whole(&dir.path().join("none/b.json"), b"{}").is_err());
        assert_eq!(fs::read_dir(dir.path()).expect("listed").count(), 1);
    }

    #[test]
    fn of_several_all_or_none() {
        let dir = tempfile::tempdir().expect("a folder");
        let [one, two, lost] = ["one", "two", "none/three"].map(|n| dir.path().join(n));
        assert!(write_together(&[(&one, b"1"), (&two, b"2"), (&lost, b"3")]).is_err());
        assert_eq!(fs::read_dir(dir.path()).expect("listed").count(), 0);
        write_together(&[(&one, b"1"), (&two, b"2")]).expect("written");
        assert_eq!((fs::read(&one).expect("read"), fs::read(&two).expect("read")), (b"1".to_vec(), b"2".to_vec()));
    }
}
