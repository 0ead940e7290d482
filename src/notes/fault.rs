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

/// The line in which a byte stands, counted from 1.
pub(super) fn line_at(text: &str, byte: usize) -> usize {
    let before = text.as_bytes().get(..byte.min(text.len())).unwrap_or_default();
    1 + before.iter().filter(|b| **b == b'\n').count()
}

impl Fault {
    /// A fault at a byte of `text`.
    pub fn at(text: &str, byte: usize, words: impl Into<String>) -> Self {
        let line = line_at(text, byte);
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
        Self::at(text, e.span().map_or(0, |s| s.start), plainly(e.message()))
    }
}

/// What the reader of TOML says, in words for people who write notes and no programs.
fn plainly(message: &str) -> String {
    let words = message.replace('`', "\"");
    let list = |words: &str| words.trim_start_matches("one of ").replace(" or ", ", ").replace('"', "");
    if let Some((name, known)) = words.strip_prefix("unknown field ").and_then(|w| w.split_once(", expected ")) {
        return format!("there is no {name} here; there may be {}", list(known));
    }
    if let Some((name, known)) = words.strip_prefix("unknown variant ").and_then(|w| w.split_once(", expected ")) {
        return format!("{name} is none of the words that may stand here: {}", list(known));
    }
    if let Some(name) = words.strip_prefix("missing field ") {
        return format!("{name} is missing");
    }
    if words == "duplicate key" {
        return "the same name stands here twice; keep one".to_owned();
    }
    // Kinds of numbers as programs know them.
    let whole = ["u8", "u32", "u64", "usize"].iter().find_map(|kind| words.strip_suffix(&format!("expected {kind}")));
    whole.map_or(words.clone(), |before| format!("{before}expected a whole number, 0 or more"))
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "line {}: {}", self.line, self.words)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_readers_words_are_made_plain() {
        let cases = [
            ("unknown field `fragil`, expected one of `name`, `fragile`", "there is no \"fragil\" here; there may be name, fragile"),
            ("unknown field `on`, expected `at` or `edge`", "there is no \"on\" here; there may be at, edge"),
            (
                "unknown variant `slevee`, expected one of `body front`, `sleeve`",
                "\"slevee\" is none of the words that may stand here: body front, sleeve",
            ),
            ("missing field `name`", "\"name\" is missing"),
            ("duplicate key", "the same name stands here twice; keep one"),
            ("invalid value: integer `-1`, expected u32", "invalid value: integer \"-1\", expected a whole number, 0 or more"),
            ("invalid length 1, expected a list of two", "invalid length 1, expected a list of two"),
        ];
        for (said, plain) in cases {
            assert_eq!(plainly(said), plain);
        }
    }
}
