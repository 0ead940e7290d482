//! Changes to a `garment.toml` that leave the person's comments, order and layout as they were.
//!
//! | file | holds |
//! |---|---|
//! | `shot` | what is said of a picture: its keys, corners, edges, hints |
//! | `piece` | centre and notches of a piece; tape readings |
//! | `renamed` | pieces, edges and corners under other names, wherever they are named |
//! | `table` | tables and lists in either of the two layouts of TOML |
//!
//! What is taken away takes its own comments along; a comment that an empty line sets apart tells of more and stays.

mod piece;
mod renamed;
mod shot;
mod table;
#[cfg(test)]
mod tests;

use super::{Fault, Notes};
use std::io;
use std::path::Path;
use toml_edit::{DocumentMut, Item, Table, Value};

/// What a key of a picture's table is set to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Word<'a> {
    /// Words, or a length with its unit.
    Text(&'a str),
    /// How many.
    Number(u32),
}

impl Word<'_> {
    fn value(self) -> Value {
        match self {
            Self::Text(text) => text.into(),
            Self::Number(n) => i64::from(n).into(),
        }
    }
}

/// The text of a `garment.toml` that is being changed.
#[derive(Clone, Debug)]
pub struct Draft {
    document: DocumentMut,
    /// What it was taken up from, as long as nothing has changed: the document keeps no carriage returns and no byte order mark.
    untouched: Option<String>,
    ending: &'static str,
    mark: &'static str,
}

/// Some editors put it before a text.
const BYTE_ORDER_MARK: &str = "\u{feff}";

impl Draft {
    /// Takes a text up for changes.
    ///
    /// # Errors
    /// As [`Notes::from_text`]: only good notes are changed.
    pub fn from_text(text: &str) -> Result<Self, Fault> {
        Notes::from_text(text)?;
        let document = text.parse().map_err(|e: toml_edit::TomlError| Fault::at(text, e.span().map_or(0, |s| s.start), e.message()))?;
        let ending = if text.contains("\r\n") { "\r\n" } else { "\n" };
        let mark = if text.starts_with(BYTE_ORDER_MARK) { BYTE_ORDER_MARK } else { "" };
        Ok(Self { document, untouched: Some(text.to_owned()), ending, mark })
    }

    /// Sets a text of `[garment]`, or takes it away.
    ///
    /// # Errors
    /// The key is none of the garment's.
    pub fn set_garment(&mut self, key: &str, words: Option<&str>) -> Result<(), Fault> {
        self.change(|document| {
            let mut garment = table::Tab::of(document.entry("garment").or_insert_with(|| Item::Table(Table::new())))?;
            garment.put_or_drop(key, words.map(Value::from));
            Some(())
        })
    }

    /// What the text says now.
    ///
    /// # Errors
    /// As [`Notes::from_text`]; not expected after a successful change.
    pub fn notes(&self) -> Result<Notes, Fault> {
        Notes::from_text(&self.text())
    }

    /// The text as it is now.
    pub fn text(&self) -> String {
        match &self.untouched {
            Some(text) => text.clone(),
            None => format!("{}{}", self.mark, self.document).replace('\n', self.ending),
        }
    }

    /// Writes the text beside `path` and then puts it in its place, so that no half-written file is ever seen.
    ///
    /// # Errors
    /// The folder or the file can't be written.
    pub fn save(&self, path: &Path) -> io::Result<()> {
        let mut aside = path.as_os_str().to_owned();
        aside.push(".part");
        std::fs::write(&aside, self.text())?;
        std::fs::rename(&aside, path).inspect_err(|_| drop(std::fs::remove_file(&aside)))
    }

    /// Tries a change on a copy and keeps it when the notes are still good.
    fn change(&mut self, change: impl FnOnce(&mut DocumentMut) -> Option<()>) -> Result<(), Fault> {
        let mut document = self.document.clone();
        if change(&mut document).is_none() {
            return Err(Fault::at("", 0, "the notes are laid out in a way that can't be changed here; edit them by hand"));
        }
        let text = document.to_string();
        if text != self.document.to_string() {
            Notes::from_text(&text)?;
            self.document = document;
            self.untouched = None;
        }
        Ok(())
    }
}

/// To a tenth of a pixel, without the noise of binary fractions.
fn tenth(v: f64) -> f64 {
    (v * 10.0).round() / 10.0
}

/// Puts comments that were set apart from something that was taken away at the end of the notes.
fn keep_apart(document: &mut DocumentMut, apart: &str) {
    if !apart.is_empty() {
        let end = document.trailing().as_str().unwrap_or_default().replace("\r\n", "\n");
        document.set_trailing(format!("{end}\n{}\n", apart.trim_matches('\n')));
    }
}
