//! Names of pieces, edges and corners as people write them: the same name comes in capitals, with a hyphen or with blanks.

/// Whether two names are the same but for capitals, blanks, hyphens and low lines.
pub fn alike(a: &str, b: &str) -> bool {
    let plain = |t: &str| {
        t.split(|c: char| c.is_whitespace() || c == '-' || c == '_').filter(|w| !w.is_empty()).collect::<Vec<_>>().join(" ").to_lowercase()
    };
    plain(a) == plain(b)
}

/// Whether the name of a corner, an edge or a piece is one of the plain numbers given where a person gave none.
pub fn is_number(name: &str) -> bool {
    let number = |word: &str| name.strip_prefix(word).is_some_and(|n| !n.is_empty() && n.bytes().all(|b| b.is_ascii_digit()));
    name.is_empty() || ["corner ", "edge ", "piece "].into_iter().any(number)
}
