//! Where profiles are kept: of lenses, of measured prints.

use std::path::{Path, PathBuf};

/// A kind of profile that is kept.
#[derive(Clone, Copy, Debug)]
pub struct Kept {
    /// Names the folder of these profiles, instead of the user's own and the project's.
    pub variable: &'static str,
    /// Folder in the user's own.
    pub own: &'static str,
    /// Where a project keeps them, from the folder the command is run in.
    pub project: &'static str,
}

impl Kept {
    /// The folder a new profile is kept in: the one the environment names, else the user's own (XDG Base Directory
    /// Specification: `$XDG_DATA_HOME`, else `~/.local/share`). `None` when there is no home.
    pub fn own_folder(&self) -> Option<PathBuf> {
        let from = |name: &str| std::env::var_os(name).filter(|v| !v.is_empty()).map(PathBuf::from);
        let data = || from("XDG_DATA_HOME").filter(|p| p.is_absolute()).or_else(|| from("APPDATA"));
        let share = || data().or_else(|| from("HOME").map(|h| h.join(".local/share")));
        from(self.variable).or_else(|| share().map(|s| s.join("ruboff").join(self.own)))
    }

    /// All profiles at hand, by name within a folder.
    pub fn files(&self) -> Vec<PathBuf> {
        let project = std::env::var_os(self.variable).is_none().then(|| PathBuf::from(self.project));
        self.own_folder().into_iter().chain(project).flat_map(|folder| files(&folder)).collect()
    }
}

/// Profiles in a folder, by name; none when there is no such folder.
fn files(folder: &Path) -> Vec<PathBuf> {
    let Ok(list) = std::fs::read_dir(folder) else { return Vec::new() };
    let mut files: Vec<PathBuf> =
        list.filter_map(|e| Some(e.ok()?.path())).filter(|p| p.extension().is_some_and(|e| e.eq_ignore_ascii_case("toml"))).collect();
    files.sort();
    files
}
