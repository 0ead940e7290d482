//! What all pages share. Names come from people and from files, so everything is escaped where it stands (maud does that), paths in links
//! are encoded, and a policy in each page lets nothing in from outside (Content Security Policy Level 3, W3C).

use super::tree::joined;
use crate::write::{WriteError, write_whole};
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use maud::{DOCTYPE, Markup, PreEscaped, html};
use sha2::{Digest, Sha256};
use std::fmt::Write;
use std::path::Path;

/// Colours and letters of all pages.
pub(super) const STYLE: &str = include_str!("page.css");

/// A page's own parts.
pub(super) struct Parts<'a> {
    pub title: &'a str,
    /// Beside [`STYLE`].
    pub style: &'a str,
    pub script: Option<&'a str>,
    pub body: Markup,
}

/// The whole page. Style and script are let in by their hashes alone, pictures where they stand in the page or lie beside it.
pub(super) fn page(parts: Parts<'_>) -> String {
    let style = format!("{STYLE}{}", parts.style);
    let scripts = parts.script.map_or_else(|| "'none'".to_owned(), hashed);
    let policy = format!(
        "default-src 'none'; img-src data: 'self' file:; style-src {}; script-src {scripts}; base-uri 'none'; form-action 'none'",
        hashed(&style)
    );
    let whole = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta http-equiv="Content-Security-Policy" content=(policy);
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="referrer" content="no-referrer";
                title { (parts.title) }
                style { (PreEscaped(&style)) }
            }
            body {
                (parts.body)
                @if let Some(script) = parts.script { script { (PreEscaped(script)) } }
            }
        }
    };
    let mut text = whole.into_string();
    text.push('\n');
    text
}

/// A text's hash as a policy has it.
fn hashed(text: &str) -> String {
    format!("'sha256-{}'", STANDARD.encode(Sha256::digest(text.as_bytes())))
}

/// A link to a file by its path from the page. Begins with a dot, so that no name is taken for a scheme (RFC 3986, 4.2), and keeps
/// only unreserved letters (2.3).
pub(super) fn link(path: &str) -> String {
    let mut out = String::from("./");
    for byte in path.bytes() {
        if byte.is_ascii_alphanumeric() || b"-._~/".contains(&byte) {
            out.push(char::from(byte));
        } else {
            let _ = write!(out, "%{byte:02X}");
        }
    }
    out
}

/// A link to a file in a folder.
pub(super) fn link_in(folder: &str, file: &str) -> String {
    link(&joined(folder, file))
}

/// A count with its noun.
pub(super) fn count(n: usize, one: &str, many: &str) -> String {
    if n == 1 { format!("1 {one}") } else { format!("{n} {many}") }
}

/// A length as pages have it: no more digits than it is worth.
pub(super) fn mm(v: f64) -> String {
    if v.abs() < 9.95 { format!("{v:.2} mm") } else { format!("{v:.0} mm") }
}

/// Writes a file unless it is there already with the same content. Says whether it wrote.
///
/// # Errors
/// The file can't be written.
pub(super) fn write_changed(path: &Path, bytes: &[u8]) -> Result<bool, WriteError> {
    let same = std::fs::metadata(path).is_ok_and(|m| m.len() == bytes.len() as u64) && std::fs::read(path).is_ok_and(|b| b == bytes);
    if same {
        return Ok(false);
    }
    write_whole(path, bytes).map(|()| true)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn links_carry_any_name() {
        assert_eq!(link("a b/Größe #1?.svg"), "./a%20b/Gr%C3%B6%C3%9Fe%20%231%3F.svg");
        assert_eq!(link("javascript:alert(1)"), "./javascript%3Aalert%281%29");
    }

    #[test]
    fn a_page_lets_nothing_in_from_outside() {
        let text = page(Parts { title: "</title><script>x", style: "", script: Some("let a = 1 < 2;"), body: html! { p { "<b>" } } });
        assert!(text.contains("&lt;/title&gt;&lt;script&gt;x") && text.contains("&lt;b&gt;") && text.contains("let a = 1 < 2;"));
        assert_eq!(text.matches("<script>").count(), 1);
        assert!(text.contains("default-src 'none'") && !text.contains("http:") && !text.contains("https:"));
    }

    /// FIPS 180-4's example "abc" (NIST), in base64.
    #[test]
    fn hashes_are_the_standards() {
        assert_eq!(hashed("abc"), "'sha256-ungWv48Bz+pBQUDeXa4iI7ADYaOWF3qctBD/YfIAFa0='");
    }
}
