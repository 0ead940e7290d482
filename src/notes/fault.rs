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
    if let Some((found, wanted)) = words.strip_prefix("invalid type: ").and_then(|w| w.split_once(", expected ")) {
        return format!("expected {}, not {}", kind(wanted), kind(found));
    }
    if let Some((many, wanted)) = words.strip_prefix("invalid length ").and_then(|w| w.split_once(", expected ")) {
        return format!("expected {}, not of {many}", kind(wanted));
    }
    match words.rsplit_once("expected ") {
        Some((before, wanted)) => format!("{before}expected {}", kind(wanted)),
        None => words,
    }
}

/// Kinds of values as programs know them, in words; what is none stays as it is.
fn kind(of: &str) -> String {
    const KINDS: [(&str, &str); 9] = [
        ("u8", "a whole number, 0 or more"),
        ("u32", "a whole number, 0 or more"),
        ("u64", "a whole number, 0 or more"),
        ("usize", "a whole number, 0 or more"),
        ("a boolean", "true or false, without quotes"),
        ("a string", "words in quotes"),
        ("a map", "a table in braces, like { all = \"10 mm\", hem = \"25 mm\" }"),
        ("map", "a table"),
        ("sequence", "a list"),
    ];
    if let Some((_, plain)) = KINDS.iter().find(|(own, _)| *own == of) {
        return (*plain).to_owned();
    }
    // Values stand in the message behind their kind.
    let bare = |of: &str| ["integer ", "floating point ", "boolean "].iter().find_map(|k| of.strip_prefix(k)).map(|v| v.replace('"', ""));
    of.strip_prefix("string ").map(str::to_owned).or_else(|| bare(of)).unwrap_or_else(|| of.to_owned())
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
            ("invalid length 1, expected a list of two", "expected a list of two, not of 1"),
            ("invalid type: string \"yes\", expected a boolean", "expected true or false, without quotes, not \"yes\""),
            ("invalid type: integer `20`, expected a percentage", "expected a percentage, not 20"),
            (
                "invalid type: string \"10 mm\", expected a map",
                "expected a table in braces, like { all = \"10 mm\", hem = \"25 mm\" }, not \"10 mm\"",
            ),
            ("unclosed table, expected `]`", "unclosed table, expected \"]\""),
        ];
        for (said, plain) in cases {
            assert_eq!(plainly(said), plain);
        }
    }
}
