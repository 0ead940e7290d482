//! The order of the modules: each sees only those above it, and what draws curves sees no pixel.

use std::fs;
use std::path::{Path, PathBuf};

/// The modules in the order of the work. A module may use those above it and itself.
const ORDER: [&str; 20] = [
    "length", "solve", "path", "proof", "notes", "sheet", "shot", "grid", "view", "straight", "sticker", "cloth", "seam", "outline",
    "piece", "trace", "write", "wardrobe", "review", "cli",
];

/// These never see a pixel: nothing from `shot` to `seam` for them.
const BLIND: [&str; 2] = ["outline", "piece"];

fn place(module: &str) -> Option<usize> {
    ORDER.iter().position(|m| *m == module)
}

fn sources(dir: &Path, out: &mut Vec<PathBuf>) {
    let mut entries: Vec<_> = fs::read_dir(dir).expect("a folder of sources").map(|e| e.expect("an entry").path()).collect();
    entries.sort();
    for path in entries {
        if path.is_dir() {
            sources(&path, out);
        } else if path.extension().is_some_and(|e| e == "rs") {
            out.push(path);
        }
    }
}

/// The text without comments and string literals, so that only code counts.
fn code_only(text: &str) -> String {
    let (mut out, mut rest) = (String::new(), text);
    while let Some(at) = rest.find(['/', '"', '\'']) {
        out.push_str(&rest[..at]);
        rest = &rest[at..];
        let skip = if rest.starts_with("//") {
            rest.find('\n').unwrap_or(rest.len())
        } else if rest.starts_with("/*") {
            rest.find("*/").map_or(rest.len(), |k| k + 2)
        } else if rest.starts_with('"') && out.ends_with("r#") {
            rest.find("\"#").map_or(rest.len(), |k| k + 2)
        } else if rest.starts_with('"') {
            end_of_string(rest)
        } else if rest.starts_with("'\"'") {
            3
        } else if let Some(escaped) = rest.strip_prefix("'\\") {
            escaped.find('\'').map_or(rest.len(), |k| k + 3)
        } else {
            out.push_str(&rest[..1]);
            1
        };
        rest = &rest[skip..];
    }
    out + rest
}

fn end_of_string(text: &str) -> usize {
    let mut escaped = false;
    for (k, c) in text.char_indices().skip(1) {
        match c {
            '"' if !escaped => return k + 1,
            '\\' => escaped = !escaped,
            _ => escaped = false,
        }
    }
    text.len()
}

/// Every module named after `crate::` in `code`, also in a list: `use crate::{length::Px, solve}`.
fn named(code: &str) -> Vec<String> {
    let word = |t: &str| t.trim_start().chars().take_while(|c| c.is_alphanumeric() || *c == '_').collect::<String>();
    let mut out = Vec::new();
    for (at, _) in code.match_indices("crate::") {
        let rest = &code[at + 7..];
        if !rest.starts_with('{') {
            out.push(word(rest));
            continue;
        }
        let mut depth = 0;
        for (k, c) in rest.char_indices() {
            match c {
                '{' => depth += 1,
                '}' => depth -= 1,
                _ => {}
            }
            if depth == 1 && (c == '{' || c == ',') {
                out.push(word(&rest[k + 1..]));
            }
            if depth == 0 {
                break;
            }
        }
    }
    out.retain(|m| !m.is_empty());
    out
}

/// What is wrong with `user` using `used`, if anything.
fn fault(user: &str, used: &str) -> Option<String> {
    let (Some(a), Some(b)) = (place(user), place(used)) else {
        return Some(format!("`{used}` (or `{user}`) has no place in the order of modules"));
    };
    let pixels = place("shot")..=place("seam");
    if b > a {
        Some(format!("`{user}` may not use `{used}`, which stands below it"))
    } else if BLIND.contains(&user) && pixels.contains(&Some(b)) {
        Some(format!("`{user}` never sees a pixel, so it may not use `{used}`"))
    } else {
        None
    }
}

#[test]
fn each_module_sees_only_those_above_it() {
    let src = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut files = Vec::new();
    sources(&src, &mut files);
    let (mut faults, mut seen) = (Vec::new(), 0);
    for file in files {
        let inside = file.strip_prefix(&src).expect("below src");
        let first = inside.components().next().expect("a name").as_os_str().to_string_lossy().into_owned();
        let user = first.trim_end_matches(".rs");
        if matches!(user, "lib" | "main") {
            continue;
        }
        if place(user).is_none() {
            faults.push(format!("{}: `{user}` has no place in the order of modules", inside.display()));
        }
        for used in named(&code_only(&fs::read_to_string(&file).expect("readable"))) {
            seen += 1;
            if let Some(words) = fault(user, &used) {
                faults.push(format!("{}: {words}", inside.display()));
            }
        }
    }
    assert!(seen > 0, "no use of any module was found: the reading of sources is broken");
    assert!(faults.is_empty(), "{}", faults.join("\n"));
}

#[test]
fn every_module_of_the_library_has_a_place() {
    let lib = fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("src/lib.rs")).expect("readable");
    for line in code_only(&lib).lines() {
        if let Some(name) = line.trim().trim_start_matches("pub ").strip_prefix("mod ") {
            assert!(place(name.trim_end_matches(';').trim()).is_some(), "{name} has no place in the order of modules");
        }
    }
}

/// The check itself can fail.
#[test]
fn faults_are_found() {
    let code = code_only("use crate::{length::{Mm, Px}, view}; // crate::cli\nlet s = \"crate::cli\"; let q = '\"'; crate::shot::Shot");
    assert_eq!(named(&code), ["length", "view", "shot"]);
    assert!(fault("grid", "view").is_some());
    assert!(fault("outline", "view").is_some());
    assert!(fault("piece", "seam").is_some());
    assert!(fault("view", "nowhere").is_some());
    assert!(fault("view", "grid").is_none());
    assert!(fault("outline", "path").is_none());
}
