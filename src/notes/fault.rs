//! What is wrong in a file that a person writes, and in which line.

use std::fmt;

/// A fault of a TOML file: one line of words with the number of the line it is about.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub struct Fault {
    /// Line, counted from 1.
    pub line: usize,
    /// What is wrong and what to write instead.
    pub words: String,
}

/// Longest message, characters: with the file's name before it, it still fits in one line of talk.
const LONGEST: usize = 220;

impl Fault {
    /// A fault at a byte of `text`.
    pub fn at(text: &str, byte: usize, words: impl Into<String>) -> Self {
        let before = text.as_bytes().get(..byte.min(text.len())).unwrap_or_default();
        let line = 1 + before.iter().filter(|b| **b == b'\n').count();
        let words: String = words.into();
        let flat = words.split_whitespace().collect::<Vec<_>>().join(" ");
        let mut cut: String = flat.chars().take(LONGEST).collect();
        if cut.len() < flat.len() {
            cut.push('…');
        }
        Self { line, words: cut }
    }

    /// What the reader of TOML complained of.
    pub fn of_toml(text: &str, e: &toml::de::Error) -> Self {
        Self::at(text, e.span().map_or(0, |s| s.start), e.message())
    }
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "line {}: {}", self.line, self.words)
    }
}
