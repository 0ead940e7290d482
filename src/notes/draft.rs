//! Changes to a `garment.toml` that leave the person's comments, order and layout as they were.

use super::{Fault, MarkName, Notes, Place};
use crate::length::Px;
use std::io;
use std::path::Path;
use toml_edit::{Array, ArrayOfTables, DocumentMut, Item, Table, TableLike, Value};

/// The text of a `garment.toml` that is being changed.
#[derive(Clone, Debug)]
pub struct Draft {
    document: DocumentMut,
    /// What it was taken up from, as long as nothing has changed: the document keeps no carriage returns and no byte order mark.
    untouched: Option<String>,
    ending: &'static str,
    mark: &'static str,
}

/// Some editors put it before a text.
const BYTE_ORDER_MARK: &str = "\u{feff}";

impl Draft {
    /// Takes a text up for changes.
    ///
    /// # Errors
    /// As [`Notes::from_text`]: only good notes are changed.
    pub fn from_text(text: &str) -> Result<Self, Fault> {
        Notes::from_text(text)?;
        let document = text.parse().map_err(|e: toml_edit::TomlError| Fault::at(text, e.span().map_or(0, |s| s.start), e.message()))?;
        let ending = if text.contains("\r\n") { "\r\n" } else { "\n" };
        let mark = if text.starts_with(BYTE_ORDER_MARK) { BYTE_ORDER_MARK } else { "" };
        Ok(Self { document, untouched: Some(text.to_owned()), ending, mark })
    }

    /// Sets a text of `[garment]`, or takes it away.
    ///
    /// # Errors
    /// The key is none of the garment's.
    pub fn set_garment(&mut self, key: &str, words: Option<&str>) -> Result<(), Fault> {
        self.change(|document| {
            let garment = document.entry("garment").or_insert_with(|| Item::Table(Table::new())).as_table_like_mut()?;
            match words {
                Some(words) => put(garment, key, words.into()),
                None => drop(garment.remove(key)),
            }
            Some(())
        })
    }

    /// Puts the corner `name` of `picture` at a place; picture and corner are added when they are not there yet.
    ///
    /// # Errors
    /// The place is no place (not finite numbers).
    pub fn set_corner(&mut self, picture: &str, name: &str, at: Place) -> Result<(), Fault> {
        let (key, value): (_, Value) = match at {
            Place::Px(Px { x, y }) => ("px", Array::from_iter([x, y].map(tenth)).into()),
            Place::Mm(xy) => ("mm", Array::from_iter(xy.map(|v| format!("{v:.1}"))).into()),
            Place::Mark(MarkName::Name(name)) => ("mark", name.into()),
            Place::Mark(MarkName::Number(n)) => ("mark", i64::try_from(n).unwrap_or(i64::MAX).into()),
        };
        self.change(|document| {
            let shots = document.entry("shot").or_insert_with(|| Item::ArrayOfTables(ArrayOfTables::new()));
            let shot = entry(shots, "picture", picture)?;
            let corners = shot.entry("corner").or_insert_with(|| Item::ArrayOfTables(ArrayOfTables::new()));
            let corner = entry(corners, "name", name)?;
            ["px", "mm", "mark"].iter().filter(|k| **k != key).for_each(|k| drop(corner.remove(k)));
            put(corner, key, value);
            Some(())
        })
    }

    /// Takes the corner `name` of `picture` away; nothing happens when there is none.
    ///
    /// # Errors
    /// An edge still names it.
    pub fn remove_corner(&mut self, picture: &str, name: &str) -> Result<(), Fault> {
        self.change(|document| {
            let corners = document.get_mut("shot").and_then(|s| find(s, "picture", picture)).and_then(|s| s.get_mut("corner"));
            match corners {
                Some(Item::ArrayOfTables(all)) => all.retain(|t| text_of(t, "name") != Some(name)),
                Some(Item::Value(Value::Array(all))) => {
                    all.retain(|v| v.as_inline_table().and_then(|t| text_of(t, "name")) != Some(name));
                }
                _ => {}
            }
            Some(())
        })
    }

    /// What the text says now.
    ///
    /// # Errors
    /// As [`Notes::from_text`]; not expected after a successful change.
    pub fn notes(&self) -> Result<Notes, Fault> {
        Notes::from_text(&self.text())
    }

    /// The text as it is now.
    pub fn text(&self) -> String {
        match &self.untouched {
            Some(text) => text.clone(),
            None => format!("{}{}", self.mark, self.document).replace('\n', self.ending),
        }
    }

    /// Writes the text beside `path` and then puts it in its place, so that no half-written file is ever seen.
    ///
    /// # Errors
    /// The folder or the file can't be written.
    pub fn save(&self, path: &Path) -> io::Result<()> {
        let mut aside = path.as_os_str().to_owned();
        aside.push(".part");
        std::fs::write(&aside, self.text())?;
        std::fs::rename(&aside, path).inspect_err(|_| drop(std::fs::remove_file(&aside)))
    }

    /// Tries a change on a copy and keeps it when the notes are still good.
    fn change(&mut self, change: impl FnOnce(&mut DocumentMut) -> Option<()>) -> Result<(), Fault> {
        let mut document = self.document.clone();
        if change(&mut document).is_none() {
            return Err(Fault::at("", 0, "the notes are laid out in a way that can't be changed here; edit them by hand"));
        }
        let text = document.to_string();
        if text != self.document.to_string() {
            Notes::from_text(&text)?;
            self.document = document;
            self.untouched = None;
        }
        Ok(())
    }
}

/// To a tenth of a pixel, without the noise of binary fractions.
fn tenth(v: f64) -> f64 {
    (v * 10.0).round() / 10.0
}

/// Sets a value and keeps the comment that stands behind the old one.
fn put(table: &mut dyn TableLike, key: &str, mut value: Value) {
    match table.get_mut(key) {
        Some(Item::Value(old)) => {
            *value.decor_mut() = old.decor().clone();
            *old = value;
        }
        _ => drop(table.insert(key, Item::Value(value))),
    }
}

fn text_of<'a>(table: &'a dyn TableLike, key: &str) -> Option<&'a str> {
    table.get(key).and_then(Item::as_str).map(str::trim)
}

/// The table of a list whose `key` is `name`.
fn find<'a>(list: &'a mut Item, key: &str, name: &str) -> Option<&'a mut dyn TableLike> {
    match list {
        Item::ArrayOfTables(all) => all.iter_mut().find(|t| text_of(*t, key) == Some(name)).map(|t| t as &mut dyn TableLike),
        Item::Value(Value::Array(all)) => {
            all.iter_mut().filter_map(Value::as_inline_table_mut).find(|t| text_of(*t, key) == Some(name)).map(|t| t as &mut dyn TableLike)
        }
        _ => None,
    }
}

/// The same, added at the end of the list when it is not there yet.
fn entry<'a>(list: &'a mut Item, key: &str, name: &str) -> Option<&'a mut dyn TableLike> {
    if find(list, key, name).is_none() {
        match list {
            Item::ArrayOfTables(all) => {
                let mut table = Table::new();
                table.insert(key, toml_edit::value(name));
                all.push(table);
            }
            Item::Value(Value::Array(all)) => {
                let mut table = toml_edit::InlineTable::new();
                table.insert(key, name.into());
                all.push(table);
            }
            _ => return None,
        }
    }
    find(list, key, name)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::length::Length;
    use proptest::prelude::*;

    const NOTES: &str = "# mine\n[garment]\nname = \"Top\"   # the blue one\n\n# by the window\n[[shot]]\npicture = \"a.jpg\"\n[[shot.corner]] # first\n\
         name = \"neck\"\npx = [1, 2] # rough\n\n[[shot.edge]]\nfrom = \"neck\"\nto = \"neck\"\n";

    fn draft(text: &str) -> Draft {
        Draft::from_text(text).unwrap_or_else(|e| panic!("{e}"))
    }

    #[test]
    fn a_corner_moves_and_all_else_stays() {
        let mut d = draft(NOTES);
        d.set_corner("a.jpg", "neck", Place::Px(Px::new(10.04, 20.0))).expect("good");
        assert_eq!(d.text(), NOTES.replace("[1, 2]", "[10.0, 20.0]"));
        d.set_garment("name", Some("Blouse")).expect("good");
        assert!(d.text().contains("name = \"Blouse\"   # the blue one"));
    }

    #[test]
    fn corners_and_pictures_are_added() {
        let mut d = draft(NOTES);
        d.set_corner("a.jpg", "hem", Place::Px(Px::new(5.0, 6.0))).expect("good");
        d.set_corner("b.jpg", "cuff", Place::Mm([Length::from_mm(312.0), Length::from_mm(455.25)])).expect("good");
        let notes = d.notes().expect("good");
        assert_eq!(notes.shots[0].corners.len(), 2);
        assert_eq!(notes.shots[1].picture.as_deref(), Some("b.jpg"));
        assert!(d.text().starts_with(NOTES.split("[[shot.edge]]").next().expect("head")), "{}", d.text());
        let mut empty = draft("");
        empty.set_corner("c.jpg", "tip", Place::Px(Px::new(1.0, 1.0))).expect("good");
        assert_eq!(empty.notes().expect("good").shots[0].corners[0].name, "tip");
    }

    #[test]
    fn inline_lists_are_changed_too() {
        let text = "shot = [{ picture = \"a.jpg\", corner = [{ name = \"x\", px = [1, 1] }] }] # all in one\n";
        let mut d = draft(text);
        d.set_corner("a.jpg", "x", Place::Px(Px::new(2.0, 2.0))).expect("good");
        d.set_corner("a.jpg", "y", Place::Px(Px::new(3.0, 3.0))).expect("good");
        assert_eq!(d.notes().expect("good").shots[0].corners.len(), 2);
        assert!(d.text().contains("# all in one"));
        d.remove_corner("a.jpg", "x").expect("good");
        assert_eq!(d.notes().expect("good").shots[0].corners[0].name, "y");
    }

    #[test]
    fn what_would_spoil_the_notes_is_not_done() {
        let mut d = draft(NOTES);
        assert!(d.remove_corner("a.jpg", "neck").is_err(), "an edge names it");
        assert!(d.set_corner("a.jpg", "neck", Place::Px(Px::new(f64::NAN, 0.0))).is_err());
        assert!(d.set_garment("colour of the moon", Some("x")).is_err());
        assert_eq!(d.text(), NOTES);
    }

    #[test]
    fn saved_whole() {
        let dir = tempfile::tempdir().expect("a folder");
        let path = dir.path().join("garment.toml");
        draft(NOTES).save(&path).expect("written");
        assert_eq!(std::fs::read_to_string(&path).expect("read"), NOTES);
        assert_eq!(std::fs::read_dir(dir.path()).expect("listed").count(), 1);
    }

    /// Blocks of notes, each good by itself, as people lay them out.
    const BLOCKS: [&str; 8] = [
        "[garment]\nname='Top'   # the blue one\nfragile   =false\n",
        "[[shot]]\npicture = \"a.jpg\"\n  [[shot.corner]]\n  name = \"neck\"\n  px = [ 1,2 ,]\n[[shot.edge]]\nfrom = \"neck\"\nto = \"neck\"\n",
        "[[shot]]\nmarks = [{ are = \"stickers\", names = [\n  \"a\", # first\n  \"b\",\n] }]\n",
        "[piece.front]\ncut = \"2, mirrored\"\nallowance = {all=\"6 mm\", \"hem\" = \"25mm\"}\n",
        "[[piece.back.dart]]\nname = \"\"\"waist\"\"\"\nlegs = [\"m\"]\npoint = { px = [4, 9] }\n",
        "[piece.\"left sleeve\".grain]\nalong = \"centre\"\n",
        "[[join]]\nedges = [\"front: side\", 'back: side']\n",
        "[[tape]]\nwhat = \"chest\"\nreading = \"19 \\u00bd in\"\n",
    ];

    proptest! {
        /// Any of the blocks in any order, with comments, blank lines, tabs and either line break between: not a byte is lost.
        #[test]
        fn nothing_changed_is_byte_for_byte_the_same(
            order in Just((0..8usize).collect::<Vec<_>>()).prop_shuffle(),
            taken in 0..=8usize,
            between in prop::collection::vec("(#[ -~é…]{0,20}|[ \\t]{0,4})\n{1,3}", 9),
            dos in any::<bool>(),
        ) {
            let mut text = String::new();
            for (k, block) in order.into_iter().take(taken).enumerate() {
                text.push_str(&between[k]);
                text.push_str(BLOCKS[block]);
            }
            text.push_str(between[8].trim_end());
            let text = if dos { text.replace('\n', "\r\n") } else { text };
            let mut kept = draft(&text);
            prop_assert_eq!(kept.text(), text.clone());
            prop_assert!(kept.set_garment("colour of the moon", Some("x")).is_err());
            kept.remove_corner("a.jpg", "not there").expect("nothing to do");
            prop_assert_eq!(kept.text(), text);
        }
    }

    #[test]
    fn line_breaks_and_the_byte_order_mark_outlast_a_change() {
        let text = format!("\u{feff}{}", NOTES.replace('\n', "\r\n"));
        let mut d = draft(&text);
        assert_eq!(d.text(), text);
        d.set_garment("name", Some("Blouse")).expect("good");
        assert_eq!(d.text(), text.replace("\"Top\"", "\"Blouse\""));
    }

    #[test]
    fn dotted_keys_stay() {
        let text = "garment.more.role = \"ghost\"\n# end";
        assert_eq!(draft(text).text(), text);
    }
}
