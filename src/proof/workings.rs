//! Figures, times and check pictures of a run, written to a folder when one was asked for.

use image::RgbImage;
use std::io;
use std::path::{Path, PathBuf};
use std::time::Duration;

/// Collects what stages leave behind. With no folder it keeps nothing and pictures are never drawn.
#[derive(Debug, Default)]
pub struct Proof {
    dir: Option<PathBuf>,
    figures: Vec<(String, String, f64)>,
    failed: Option<io::Error>,
}

impl Proof {
    /// Keeps nothing.
    pub fn off() -> Self {
        Self::default()
    }

    /// Keeps figures and pictures for the folder `dir`, which must exist.
    pub fn into_dir(dir: &Path) -> Self {
        Self { dir: Some(dir.to_path_buf()), ..Self::default() }
    }

    /// Whether anything is kept.
    pub fn wanted(&self) -> bool {
        self.dir.is_some()
    }

    /// Notes one figure of a stage.
    pub fn figure(&mut self, stage: &str, name: &str, value: f64) {
        if self.wanted() {
            self.figures.push((stage.into(), name.into(), value));
        }
    }

    /// Notes how long a stage took, in milliseconds.
    pub fn time(&mut self, stage: &str, took: Duration) {
        self.figure(stage, "time_ms", took.as_secs_f64() * 1e3);
    }

    /// Writes a check picture `STAGE-NAME.png`; `draw` is called only when pictures are kept.
    pub fn picture(&mut self, stage: &str, name: &str, draw: impl FnOnce() -> RgbImage) {
        if let Some(dir) = &self.dir {
            let file = dir.join(format!("{stage}-{name}.png"));
            if let Err(e) = draw().save(&file) {
                self.failed.get_or_insert(io::Error::other(e));
            }
        }
    }

    /// Writes `figures.json` and reports the first thing that could not be written.
    ///
    /// # Errors
    /// The folder could not be written to.
    pub fn finish(self) -> io::Result<()> {
        let Some(dir) = self.dir else { return Ok(()) };
        if let Some(e) = self.failed {
            return Err(e);
        }
        let mut stages = serde_json::Map::new();
        for (stage, name, value) in self.figures {
            let of = stages.entry(stage).or_insert_with(|| serde_json::json!({}));
            of[name] = serde_json::json!(value);
        }
        std::fs::write(dir.join("figures.json"), serde_json::to_vec_pretty(&stages)?)
    }
}
