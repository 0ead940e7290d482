//! A page to print and to fill in by hand.

use super::{FIELDS, Guides, UnknownKind};
use std::fmt::Write;

/// Letters in a line: a printed page in a typewriter face.
const WIDE: usize = 92;
/// Width of the column of names on the record sheet.
const NAMES: usize = 18;

impl Guides {
    /// The laying guide and the blank record sheet of a kind of garment, plain text in lines of 92 letters.
    ///
    /// # Errors
    /// There is no such kind.
    pub fn page(&self, kind: &str, fragile: bool) -> Result<String, UnknownKind> {
        let kind = self.of(kind)?;
        let mut page = Page::default();
        page.title(&format!("{} ({})", kind.name.to_uppercase(), kind.says));
        page.head("Before you touch it");
        self.caution.iter().filter(|c| BEFORE.contains(&c.about.as_str())).for_each(|c| page.item(&c.words));
        page.text("A conservator or safety officer who knows the object decides, and local rules come first.");
        if fragile {
            page.head("It is fragile");
            self.fragile.iter().for_each(|words| page.item(words));
        }
        page.head("Laying and picture");
        let touches = |words: &&String| !fragile || !FRAGILE_NOT.iter().any(|w| words.contains(w));
        self.lay.iter().filter(touches).for_each(|words| page.item(words));
        page.head(if fragile { "Pieces to find, each as it lies by itself" } else { "Pieces to find, and how to lay each" });
        for piece in kind.pieces.iter().filter_map(|p| self.piece(p)) {
            if fragile { page.box_item(&piece.name) } else { page.box_item(&format!("{}: {}", piece.name, piece.lay)) }
        }
        page.head(if fragile { "To look for, only where it shows by itself" } else { "To look for inside" });
        kind.inside.iter().for_each(|words| page.box_item(words));
        page.title("RECORD");
        FIELDS.iter().for_each(|(key, what)| page.blank(&key.replace('_', " "), what));
        page.blank("stretch", "along and across the grain, of 10 cm how much more: lengthwise, crosswise");
        page.blank("remarks", "anything else");
        page.head(if fragile { "Measures: from the pictures, no tape" } else { "By tape, lying flat, without pulling; say mm or inches" });
        self.tape_list(kind).iter().for_each(|(name, how)| page.blank(name, how));
        page.head("Each picture");
        for what in ["file", "piece", "sheet and squares", "height of the edge", "side: outside or inside out", "up: front or back"] {
            page.blank(what, "");
        }
        page.head("Before a copy is made");
        self.caution.iter().filter(|c| !BEFORE.contains(&c.about.as_str())).for_each(|c| page.item(&format!("{}: {}", c.about, c.words)));
        page.head("Where the cautions come from");
        self.caution.iter().for_each(|c| page.item(&format!("{}: {}.", c.about, c.source)));
        Ok(page.text)
    }
}

/// Cautions for the hand that lays the garment; the others are for its copy.
const BEFORE: [&str; 4] = ["hazards", "mould", "handling", "fragile cloth"];
/// Words of the general advice that must not be followed with a fragile garment.
const FRAGILE_NOT: [&str; 2] = ["Smooth it", "laid anew"];

#[derive(Default)]
struct Page {
    text: String,
}

impl Page {
    fn title(&mut self, words: &str) {
        let gap = if self.text.is_empty() { "" } else { "\n" };
        let _ = writeln!(self.text, "{gap}{words}\n{}", "=".repeat(words.chars().count()));
    }

    fn head(&mut self, words: &str) {
        let _ = writeln!(self.text, "\n{words}\n{}", "-".repeat(words.chars().count()));
    }

    fn item(&mut self, words: &str) {
        self.wrapped("- ", words);
    }

    fn box_item(&mut self, words: &str) {
        self.wrapped("[ ] ", words);
    }

    fn text(&mut self, words: &str) {
        self.wrapped("", words);
    }

    /// A name, room to write, and below it what belongs there.
    fn blank(&mut self, name: &str, what: &str) {
        let name = format!("{name:NAMES$} ");
        let room = "_".repeat(WIDE - name.chars().count());
        let _ = writeln!(self.text, "{name}{room}");
        if !what.is_empty() {
            self.wrapped(&" ".repeat(NAMES + 1), what);
        }
    }

    /// Words after a sign, in lines that start below the first word.
    fn wrapped(&mut self, sign: &str, words: &str) {
        let indent = " ".repeat(sign.chars().count());
        let (mut line, mut started) = (sign.to_owned(), false);
        for word in words.split_whitespace() {
            if started && line.chars().count() + 1 + word.chars().count() > WIDE {
                let _ = writeln!(self.text, "{line}");
                line = format!("{indent}{word}");
            } else {
                if started {
                    line.push(' ');
                }
                line.push_str(word);
            }
            started = true;
        }
        let _ = writeln!(self.text, "{line}");
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_kind_fits_its_page() {
        let guides = Guides::built_in();
        for (kind, _) in guides.kinds() {
            for fragile in [false, true] {
                let page = guides.page(kind, fragile).expect("known");
                page.lines().for_each(|l| assert!(l.chars().count() <= WIDE, "{l}"));
                assert!(page.contains("RECORD") && page.contains("conservator"), "{kind}");
            }
        }
        assert!(guides.page("moon suit", false).expect_err("unknown").to_string().contains("trousers"));
    }

    /// Nothing that a fragile garment must be spared is advised for it.
    #[test]
    fn a_fragile_garment_is_left_alone() {
        let page = Guides::built_in().page("Coat ", true).expect("known");
        for touch in ["Smooth it", "laid anew", "Turned over", "smoothed", "Unbuttoned", "a hand can feel"] {
            assert!(!page.contains(touch), "{touch}: {page}");
        }
        assert!(page.contains("no tape") && page.contains("Acid-free tissue"));
    }
}
