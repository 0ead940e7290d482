//! Names of pieces, edges and corners as people write them: the same name comes in capitals, with a hyphen or with blanks.

/// Whether two names are the same but for capitals, blanks, hyphens and low lines.
pub fn alike(a: &str, b: &str) -> bool {
    let plain = |t: &str| {
        t.split(|c: char| c.is_whitespace() || c == '-' || c == '_').filter(|w| !w.is_empty()).collect::<Vec<_>>().join(" ").to_lowercase()
    };
    plain(a) == plain(b)
}
