//! Whole files only: written under a passing name in the same folder, then renamed.

use super::WriteError;
use std::fs;
use std::io::Write;
use std::path::Path;

/// Writes `bytes` to `path` so that the file is either the old one or the whole new one.
///
/// # Errors
/// The folder could not be written to; the passing file is taken away again.
pub fn write_whole(path: &Path, bytes: &[u8]) -> Result<(), WriteError> {
    let fail = |source| WriteError::Io { path: path.display().to_string(), source };
    let name = path.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
    let passing = path.with_file_name(format!(".{name}.{}.part", std::process::id()));
    let write = || {
        let mut file = fs::File::create(&passing)?;
        file.write_all(bytes)?;
        // Else a power cut after the renaming may leave an empty file under the good name.
        file.sync_data()?;
        fs::rename(&passing, path)
    };
    write().map_err(|e| {
        // The first failure is the one worth telling.
        let _ = fs::remove_file(&passing);
        fail(e)
    })
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
}
