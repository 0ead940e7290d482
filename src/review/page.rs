//! The checking page's own files, which stand in the program: nothing is built by whoever installs it, and nothing is fetched from elsewhere.

const HTML: &str = "text/html; charset=utf-8";
const CSS: &str = "text/css; charset=utf-8";
const JS: &str = "text/javascript; charset=utf-8";

macro_rules! parts {
    ($($name:literal),+ $(,)?) => {
        &[$(($name, include_bytes!(concat!("page/", $name)))),+]
    };
}

/// Names and contents; the page itself first.
const PARTS: &[(&str, &[u8])] = parts![
    "index.html",
    "ahead.js",
    "ask.js",
    "build.js",
    "camera.js",
    "checks.js",
    "dialogs.js",
    "handles.js",
    "head.js",
    "hints.js",
    "keys.js",
    "layers.js",
    "lines.js",
    "looking.js",
    "loupe.js",
    "mend.js",
    "mending.js",
    "near.js",
    "opinions.js",
    "own.js",
    "page.css",
    "panel.css",
    "path.js",
    "places.js",
    "queue.css",
    "queue.js",
    "reviewer.js",
    "say.js",
    "scale_bar.js",
    "scales.js",
    "settings.js",
    "shapes.js",
    "stage.css",
    "stage.js",
    "start.js",
    "state.js",
    "tabs.js",
    "tiles.js",
    "tool_bar.js",
    "tools.js",
    "units.js",
    "words.js",
];

/// A file of the page by its name, with its media type; no name is the page itself.
pub fn file(name: &str) -> Option<(&'static str, &'static [u8])> {
    let name = if name.is_empty() { "index.html" } else { name };
    let (name, bytes) = PARTS.iter().find(|(known, _)| *known == name)?;
    let kind = match name.rsplit('.').next() {
        Some("css") => CSS,
        Some("js") => JS,
        _ => HTML,
    };
    Some((kind, bytes))
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;

    fn texts() -> impl Iterator<Item = (&'static str, &'static str)> {
        PARTS.iter().map(|(name, bytes)| (*name, std::str::from_utf8(bytes).expect("text")))
    }

    /// What stands between quotes after each `before`.
    fn quoted<'a>(text: &'a str, before: &str) -> Vec<&'a str> {
        text.split(before).skip(1).filter_map(|rest| rest.split('"').next()).collect()
    }

    #[test]
    fn every_file_of_the_folder_is_served() {
        let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("src/review/page");
        let there: BTreeSet<String> =
            std::fs::read_dir(folder).expect("a folder").map(|e| e.expect("an entry").file_name().to_string_lossy().into_owned()).collect();
        assert_eq!(there, PARTS.iter().map(|(name, _)| (*name).to_owned()).collect());
        assert_eq!(file("").expect("the page"), file("index.html").expect("the page"));
        assert_eq!(file("start.js").expect("a script").0, JS);
        assert!(file("../page.rs").is_none() && file("page").is_none());
    }

    #[test]
    fn every_part_named_is_there() {
        for (name, text) in texts() {
            let named: Vec<&str> = match name.rsplit('.').next() {
                Some("html") => [quoted(text, "<link rel=\"stylesheet\" href=\""), quoted(text, "src=\"")].concat(),
                Some("js") => quoted(text, " from \"./"),
                _ => Vec::new(),
            };
            assert!(named.iter().all(|n| file(n).is_some()), "{name} names {named:?}");
        }
    }

    /// Else the browser learns of each only from the one that imports it.
    #[test]
    fn every_script_is_asked_for_at_once() {
        let (_, page) = texts().next().expect("the page");
        let scripts = PARTS.iter().filter(|(name, _)| name.ends_with(".js") && *name != "start.js");
        for (name, _) in scripts {
            assert!(page.contains(&format!("<link rel=\"modulepreload\" href=\"{name}\">")), "{name} is not asked for");
        }
    }

    /// The page's policy refuses them all (Content Security Policy 3): addresses outside, scripts and styles in attributes. Names come
    /// from strangers, so nothing may be read as markup either.
    #[test]
    fn nothing_from_outside_and_no_markup_from_words() {
        for (name, text) in texts() {
            for word in [
                "http:",
                "https:",
                "innerHTML",
                "outerHTML",
                "insertAdjacentHTML",
                "document.write",
                "eval(",
                " style=",
                " onclick=",
                "@import",
                "url(",
            ] {
                assert!(!text.contains(word), "{name} has {word}");
            }
        }
    }
}
