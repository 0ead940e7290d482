//! Every file of the archive with its hash, in the lines that `b3sum --check` reads, and which tracing took the place of which.

use super::super::archive::{Archive, Outcome};
use super::super::tree::{Earlier, joined, walk};
use super::CatalogueError;
use super::place::{COPIES, Place};
use crate::write::table_line;
use rayon::prelude::*;
use std::fs::File;
use std::path::Path;

/// Writes `hashes.txt` and `supersedes.csv`. Paths are those from the archive's root, or of published copies from the catalogue's.
pub(super) fn write(root: &Path, archive: &Archive, place: &Place, published: bool) -> Result<(), CatalogueError> {
    let (top, before) = if published { (place.at(COPIES), format!("{COPIES}/")) } else { (root.to_path_buf(), String::new()) };
    let fail = |source| CatalogueError::Io { path: top.display().to_string(), source };
    std::fs::create_dir_all(&top).map_err(fail)?;
    let (folders, _) = walk(&top, Earlier::Taken, &|_, _| None).map_err(fail)?;
    let mut files: Vec<String> = folders.iter().flat_map(|f| f.files.iter().map(|n| joined(&f.path, n))).collect();
    files.sort_unstable();
    let lines: Vec<String> = files.par_iter().filter_map(|file| Some(line(&hash(&top.join(file))?, &format!("{before}{file}")))).collect();
    place.put("hashes.txt", lines.concat().as_bytes())?;
    place.put("supersedes.csv", supersedes(archive).as_bytes())
}

/// A file's hash; none where it went away or can't be read.
fn hash(file: &Path) -> Option<String> {
    let mut hasher = blake3::Hasher::new();
    hasher.update_reader(File::open(file).ok()?).ok()?;
    Some(hasher.finalize().to_hex().to_string())
}

/// Names with a line break or a backslash are written as `b3sum` writes them: escaped, the line led by a backslash.
fn line(hash: &str, path: &str) -> String {
    if path.contains(['\\', '\n', '\r']) {
        format!("\\{hash}  {}\n", path.replace('\\', "\\\\").replace('\n', "\\n").replace('\r', "\\r"))
    } else {
        format!("{hash}  {path}\n")
    }
}

fn supersedes(archive: &Archive) -> String {
    let mut text = String::new();
    table_line(&mut text, &["tracing", "takes the place of", "blake3 of its picture", "differs by mm", "words"].map(str::to_owned));
    for (_, p) in archive.pictures() {
        let Outcome::Traced(f) = &p.result else { continue };
        for r in &f.replaces {
            let differs = r.differs_mm.map(|d| format!("{d:.2}")).unwrap_or_default();
            table_line(
                &mut text,
                &[joined(&p.path, "outline.json"), joined(&p.path, &r.outline), r.blake3.clone(), differs, r.say.clone()],
            );
        }
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_are_those_of_b3sum() {
        assert_eq!(line("ab", "a b.txt"), "ab  a b.txt\n");
        assert_eq!(line("ab", "a\\b\n"), "\\ab  a\\\\b\\n\n");
    }
}
