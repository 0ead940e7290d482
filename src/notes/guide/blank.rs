//! A first `garment.toml`, ready to fill in.

use super::{Asked, FIELDS, Guides, UnknownKind, told_by_name};
use crate::notes::Up;
use std::fmt::Write;

impl Guides {
    /// The text of a `garment.toml` with every line that a person may fill in behind a `#`; pictures that are there
    /// already have a table each.
    ///
    /// # Errors
    /// There is no such kind of garment.
    pub fn blank(&self, asked: &Asked) -> Result<String, UnknownKind> {
        let kind = asked.kind.as_deref().map(|k| self.of(k)).transpose()?;
        let mut t = String::from(
            "# What is known of the garment and no picture can say. Take the # away before each line you fill in; nothing is asked for.\n\
             # Lengths need a unit (\"6 mm\", \"1/4 in\"), percentages their sign. Left and right are the wearer's.\n\n[garment]\n",
        );
        match kind {
            Some(kind) => line(&mut t, &format!("kind = {}", quoted(&kind.name)), ""),
            None => line(&mut t, "#kind = \"\"", &self.kinds().map(|k| k.0).collect::<Vec<_>>().join(", ")),
        }
        FIELDS.iter().for_each(|(key, what)| line(&mut t, &format!("#{key} = \"\""), what));
        line(&mut t, "#remarks = \"\"", "");
        line(&mut t, if asked.fragile { "fragile = true" } else { "#fragile = true" }, "nothing may touch, turn, flatten or weight it");
        line(&mut t, "#child = true", "made for a child: ask for the local rules on cords and sleepwear before you copy it");
        line(&mut t, "#stretch = { lengthwise = \"\", crosswise = \"\" }", "of 10 cm how much more, like \"35 %\"");
        line(&mut t, "#shrinkage = { lengthwise = \"\", crosswise = \"\" }", "of the cloth for a copy, in the first wash");
        if asked.pictures.is_empty() {
            shot(&mut t, "#", "", None, None);
        }
        for picture in &asked.pictures {
            let (piece, up) = told_by_name(picture, self);
            shot(&mut t, "", picture, piece.as_deref(), up);
        }
        for piece in kind.iter().flat_map(|k| &k.pieces).filter_map(|p| self.piece(p)) {
            self.piece_lines(&mut t, &piece.name, piece.kind.map(|k| k.word()));
        }
        t.push_str("\n# Edges that are sewn together; ease is how much longer the first is.\n#[[join]]\n#edges = [\"\", \"\"]             # like [\"front: side left\", \"back: side left\"]\n#ease = \"\"\n");
        if !asked.fragile
            && let Some(kind) = kind
        {
            t.push_str("\n# What a tape says, lying flat, without pulling.\n");
            for (name, how) in self.tape_list(kind) {
                let _ = writeln!(t, "#[[tape]]");
                line(&mut t, &format!("#what = {}", quoted(name)), how);
                line(&mut t, "#reading = \"\"", "");
            }
        }
        Ok(t)
    }

    fn piece_lines(&self, t: &mut String, name: &str, kind: Option<&str>) {
        let _ = writeln!(t, "\n#[piece.{}]", if name.contains(' ') { quoted(name) } else { name.to_owned() });
        if let Some(kind) = kind {
            line(t, &format!("#kind = {}", quoted(kind)), "");
        }
        line(t, "#cut = \"\"", &format!("how many, and how: \"{}\", \"1, place on fold\"", EXAMPLE_CUT));
        line(t, "#cloth = \"\"", "outer cloth, lining, interfacing");
        line(t, "#allowance = { all = \"\", hem = \"\" }", "chosen for the copy");
        line(t, "#grain = { along = [\"\", \"\"] }", "two corners or marks on one thread or wale; or an edge, or \"centre\"");
    }
}

/// A way to cut most pieces.
const EXAMPLE_CUT: &str = "2, mirrored";
/// Where the words begin that explain a line.
const COLUMN: usize = 32;

/// A picture's table; `off` stands before lines that nothing is known for.
fn shot(t: &mut String, off: &str, picture: &str, piece: Option<&str>, up: Option<Up>) {
    let _ = writeln!(t, "\n{off}[[shot]]");
    line(t, &format!("{off}picture = {}", quoted(picture)), "");
    match piece {
        Some(piece) => line(t, &format!("piece = {}", quoted(piece)), "by the picture's name"),
        None => line(t, "#piece = \"\"", "front, back, sleeve …"),
    }
    match up {
        Some(up) => line(t, if up == Up::Front { "up = \"front\"" } else { "up = \"back\"" }, "by the picture's name"),
        None => line(t, "#up = \"front\"", "or \"back\""),
    }
    line(t, "#side = \"outside\"", "or \"inside out\"");
    line(t, "#sheet = \"\"", "lines, dots, crosses, checker, mat, a profile's name");
    line(t, "#pitch = \"\"", "one square of it, measured");
    line(t, "#thickness = \"\"", "height of the edge above the sheet");
    line(t, "#under = \"tissue\"", "what lies between");
    line(t, "#bare = \"\"", "a picture of the sheet taken before");
}

fn line(t: &mut String, words: &str, what: &str) {
    let _ = if what.is_empty() { writeln!(t, "{words}") } else { writeln!(t, "{words:COLUMN$} # {what}") };
}

/// A text as TOML writes it, whatever stands in it.
fn quoted(text: &str) -> String {
    toml::Value::String(text.to_owned()).to_string()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::length::Length;
    use crate::notes::{Cut, Notes};

    fn asked(kind: &str) -> Asked {
        Asked { kind: Some(kind.into()), ..Asked::default() }
    }

    #[test]
    fn blanks_are_good_notes() {
        let guides = Guides::built_in();
        for (kind, _) in guides.kinds() {
            let text = guides.blank(&asked(kind)).expect("known");
            let notes = Notes::from_text(&text).unwrap_or_else(|e| panic!("{kind}: {e}"));
            assert_eq!(notes.garment.kind.as_deref(), Some(kind));
            assert!(notes.shots.is_empty() && notes.pieces.is_empty() && notes.tapes.is_empty());
        }
        assert!(Cut::from_text(EXAMPLE_CUT).expect("good").mirrored);
    }

    /// With every line taken up and something of the right kind written in, the file is good: no key is misspelt.
    #[test]
    fn every_line_can_be_filled_in() {
        let guides = Guides::built_in();
        for (kind, _) in guides.kinds() {
            let text = guides.blank(&asked(kind)).expect("known");
            let filled: Vec<String> = text.lines().map(filled).collect();
            let notes = Notes::from_text(&filled.join("\n")).unwrap_or_else(|e| panic!("{kind}: {e}: {}", filled[e.line - 1]));
            assert_eq!(notes.tapes.len(), guides.tape_list(guides.of(kind).expect("known")).len());
            assert!(notes.tapes.iter().all(|t| t.reading == Length::from_mm(1.0)));
            assert_eq!((notes.shots.len(), notes.joins.len()), (1, 1));
        }
    }

    fn filled(line: &str) -> String {
        let line = line.strip_prefix('#').filter(|l| !l.starts_with(' ')).unwrap_or(line);
        let key = line.split('=').next().unwrap_or_default().trim();
        let value = match key {
            "date_earliest" | "date_latest" => "1911",
            "date_certainty" => "certain",
            "stretch" | "shrinkage" => "3 %",
            "cut" => "1",
            "edges" => "front: hem",
            _ if ["allowance", "pitch", "thickness", "reading", "ease"].contains(&key) => "1 mm",
            _ => "x",
        };
        // A join has two edges.
        let line = if key == "edges" { line.replacen("\"\"", "\"back: hem\"", 1) } else { line.to_owned() };
        line.replace("\"\"", &format!("\"{value}\""))
    }

    #[test]
    fn pictures_have_a_table_each() {
        let pictures = vec!["IMG 1.jpg".into(), "left-front.jpg".into(), "odd \"name\".png".into()];
        let text = Guides::built_in().blank(&Asked { kind: None, fragile: true, pictures: pictures.clone() }).expect("no kind");
        let notes = Notes::from_text(&text).unwrap_or_else(|e| panic!("{e}"));
        assert!(notes.garment.fragile);
        assert_eq!(notes.shots.iter().filter_map(|s| s.picture.clone()).collect::<Vec<_>>(), pictures);
        assert_eq!((notes.shots[1].piece.as_deref(), notes.shots[1].up), (Some("left front"), Some(Up::Front)));
        assert_eq!((notes.shots[0].piece.as_deref(), notes.shots[0].up), (None, None));
    }
}
