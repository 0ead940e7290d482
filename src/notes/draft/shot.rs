//! Changes to what the notes say of one picture.

use super::table::{List, Tab, copied, text_of};
use super::{Draft, Word, tenth};
use crate::length::Px;
use crate::notes::{Belongs, Fault, MarkName, Place};
use std::path::Path;
use toml_edit::{Array, ArrayOfTables, DocumentMut, InlineTable, Item, TableLike, Value};

impl Draft {
    /// Gives each of the `pictures` a table of its own where the notes have only one table that names none and so stands for all of them.
    /// Nothing happens when that is one picture, or the notes name theirs.
    ///
    /// # Errors
    /// The notes are laid out in a way that can't be changed here.
    pub fn share_out(&mut self, pictures: &[String]) -> Result<(), Fault> {
        let [first, rest @ ..] = pictures else { return Ok(()) };
        if rest.is_empty() {
            return Ok(());
        }
        self.change(|document| {
            let Some(item) = document.get_mut("shot") else { return Some(()) };
            let list = List::of(item)?;
            if list.len() != 1 || list.place(names_none).is_none() {
                return Some(());
            }
            match list {
                List::Lines(all) => {
                    let whole = all.get(0)?.clone();
                    all.get_mut(0)?.insert("picture", toml_edit::value(first.as_str()));
                    for picture in rest {
                        let mut copy = copied(&whole);
                        copy.insert("picture", toml_edit::value(picture.as_str()));
                        all.push(copy);
                    }
                }
                List::Inline(all) => {
                    let whole = all.get(0)?.as_inline_table()?.clone();
                    all.get_mut(0)?.as_inline_table_mut()?.insert("picture", first.as_str().into());
                    for picture in rest {
                        let mut copy = whole.clone();
                        copy.insert("picture", picture.as_str().into());
                        all.push(copy);
                    }
                }
            }
            Some(())
        })
    }

    /// Sets a key of a picture's table (`thickness`, `sheet` …), or takes it away; the picture is added when it is not there yet.
    ///
    /// # Errors
    /// The key is none of a picture's, or its value can't be meant.
    pub fn set_shot(&mut self, picture: &str, key: &str, word: Option<Word>) -> Result<(), Fault> {
        self.change(|document| {
            if word.is_none() && known(document, picture).is_none() {
                return Some(());
            }
            own(document, picture)?.put_or_drop(key, word.map(Word::value));
            Some(())
        })
    }

    /// Puts the corner `name` of `picture` at a place; picture and corner are added when they are not there yet. Of a picture that is
    /// joined with others its pixels are told as its own.
    ///
    /// # Errors
    /// The place is no place (not finite numbers).
    pub fn set_corner(&mut self, picture: &str, name: &str, at: Place) -> Result<(), Fault> {
        self.change(|document| {
            let shot = own(document, picture)?;
            let joined = joined_first(shot.like()).map(|first| first != picture);
            let list = shot.list("corner")?;
            let mut corner = match list.place(|t| text_of(t, "name") == Some(name)) {
                Some(n) => list.at(n)?,
                None => {
                    let mut new = list.add()?;
                    new.put("name", name.into());
                    new
                }
            };
            let in_px = matches!(at, Place::Px(_));
            place(&mut corner, at);
            match joined {
                Some(true) if in_px => corner.put("picture", picture.into()),
                Some(_) => corner.put_or_drop("picture", None),
                None => {}
            }
            Some(())
        })
    }

    /// Says whether the outline only bends at the corner `name` of `picture` (`round`), or the corner lies at its very place (`exact`);
    /// nothing happens when there is none.
    ///
    /// # Errors
    /// It can't be both.
    pub fn set_corner_is(&mut self, picture: &str, name: &str, round: bool, exact: bool) -> Result<(), Fault> {
        self.change(|document| {
            let Some(list) = known(document, picture).and_then(|s| s.known_list("corner")) else { return Some(()) };
            if let Some(mut corner) = list.place(|t| text_of(t, "name") == Some(name)).and_then(|n| list.at(n)) {
                corner.put_or_drop("round", round.then(|| true.into()));
                corner.put_or_drop("exact", exact.then(|| true.into()));
            }
            Some(())
        })
    }

    /// Calls a corner of a picture otherwise, also where its edges name it, and the picture's piece and the joins do.
    ///
    /// # Errors
    /// Another corner has that name, or it is no name.
    pub fn rename_corner(&mut self, picture: &str, from: &str, to: &str) -> Result<(), Fault> {
        self.change(|document| {
            let Some(mut shot) = known(document, picture) else { return Some(()) };
            let piece = text_of(shot.like(), "piece").map(str::to_owned);
            for (list, keys) in [("corner", &["name"][..]), ("edge", &["from", "to"])] {
                each(shot.like_mut().get_mut(list), &mut |t| keys.iter().for_each(|key| reword(t.get_mut(key), from, to)));
            }
            if let Some(piece) = piece {
                super::piece::corner_renamed(document, &piece, from, to);
            }
            Some(())
        })
    }

    /// Takes the corner `name` of `picture` away; nothing happens when there is none.
    ///
    /// # Errors
    /// An edge still names it.
    pub fn remove_corner(&mut self, picture: &str, name: &str) -> Result<(), Fault> {
        self.remove_from(picture, "corner", |list| list.place(|t| text_of(t, "name") == Some(name)))
    }

    /// Adds a place through which the rim of a picture passes.
    ///
    /// # Errors
    /// The place is no place.
    pub fn add_through(&mut self, picture: &str, at: Place) -> Result<(), Fault> {
        self.change(|document| {
            place(&mut own(document, picture)?.list("through")?.add()?, at);
            Some(())
        })
    }

    /// Takes the through-point at a place of the reader's list away; nothing happens when there is none.
    ///
    /// # Errors
    /// None is expected.
    pub fn remove_through(&mut self, picture: &str, n: usize) -> Result<(), Fault> {
        self.remove_from(picture, "through", |list| (n < list.len()).then_some(n))
    }

    /// Adds a seam within the piece, from pixel to pixel.
    ///
    /// # Errors
    /// Fewer than two places, or one that is no place.
    pub fn add_inner(&mut self, picture: &str, name: Option<&str>, through: &[Px]) -> Result<(), Fault> {
        self.change(|document| {
            let mut inner = own(document, picture)?.list("inner")?.add()?;
            if let Some(name) = name {
                inner.put("name", name.into());
            }
            inner.put("px", pixels(through));
            Some(())
        })
    }

    /// Takes the seam within at a place of the reader's list away; nothing happens when there is none.
    ///
    /// # Errors
    /// None is expected.
    pub fn remove_inner(&mut self, picture: &str, n: usize) -> Result<(), Fault> {
        self.remove_from(picture, "inner", |list| (n < list.len()).then_some(n))
    }

    /// Adds a region that belongs to a piece, or doesn't.
    ///
    /// # Errors
    /// Fewer than three places, or a border that crosses itself.
    pub fn add_region(&mut self, picture: &str, is: Belongs, border: &[Px]) -> Result<(), Fault> {
        let word = match is {
            Belongs::Kept => "kept",
            Belongs::LeftOut => "left out",
        };
        self.change(|document| {
            let mut region = own(document, picture)?.list("region")?.add()?;
            region.put("is", word.into());
            region.put("px", pixels(border));
            Some(())
        })
    }

    /// Takes the region at a place of the reader's list away; nothing happens when there is none.
    ///
    /// # Errors
    /// None is expected.
    pub fn remove_region(&mut self, picture: &str, n: usize) -> Result<(), Fault> {
        self.remove_from(picture, "region", |list| (n < list.len()).then_some(n))
    }

    /// Sets a key of the edge between two corners, in either order (`name`, `line`, `is`, `shape`), or takes it away. The edge is
    /// added when it is not there yet, and taken away when nothing is said of it any more.
    ///
    /// # Errors
    /// A corner of that name is not there, or the value is none of the key's.
    pub fn set_edge(&mut self, picture: &str, ends: [&str; 2], key: &str, word: Option<&str>) -> Result<(), Fault> {
        let joins = |t: &dyn TableLike| {
            let own = [text_of(t, "from"), text_of(t, "to")];
            own == [Some(ends[0]), Some(ends[1])] || own == [Some(ends[1]), Some(ends[0])]
        };
        if word.is_none() {
            self.change(|document| {
                let Some(list) = known(document, picture).and_then(|s| s.known_list("edge")) else { return Some(()) };
                if let Some(mut edge) = list.place(joins).and_then(|n| list.at(n)) {
                    edge.put_or_drop(key, None);
                }
                Some(())
            })?;
            let bare = |t: &dyn TableLike| joins(t) && t.iter().all(|(key, _)| ["from", "to"].contains(&key));
            return self.remove_from(picture, "edge", |list| list.place(bare));
        }
        self.change(|document| {
            let list = own(document, picture)?.list("edge")?;
            let mut edge = match list.place(joins) {
                Some(n) => list.at(n)?,
                None => {
                    let mut new = list.add()?;
                    new.put("from", ends[0].into());
                    new.put("to", ends[1].into());
                    new
                }
            };
            edge.put_or_drop(key, word.map(Value::from));
            Some(())
        })
    }

    /// Takes one table of a list of a picture's away, and the list with its last one.
    fn remove_from(&mut self, picture: &str, key: &str, which: impl Fn(&List) -> Option<usize>) -> Result<(), Fault> {
        self.change(|document| {
            let Some(mut list) = known(document, picture).and_then(|s| s.known_list(key)) else { return Some(()) };
            let Some(n) = which(&list) else { return Some(()) };
            let apart = list.remove(n)?;
            if list.len() == 0
                && let Some(mut shot) = known(document, picture)
            {
                shot.like_mut().remove(key);
            }
            super::keep_apart(document, &apart);
            Some(())
        })
    }
}

/// Whether a table of a picture names none.
fn names_none(shot: &dyn TableLike) -> bool {
    shot.get("picture").is_none() && shot.get("pictures").and_then(Item::as_array).is_none_or(Array::is_empty)
}

/// The first of several pictures that a table joins.
fn joined_first(shot: &dyn TableLike) -> Option<&str> {
    shot.get("pictures").and_then(Item::as_array).and_then(|all| all.get(0)).and_then(Value::as_str)
}

/// Which table is that of a picture: the one that names it, alone or among others, or the only one when that names none.
fn place_of(list: &List, picture: &str) -> Option<usize> {
    let is = |name: &str| Path::new(name).file_name() == Path::new(picture).file_name();
    let names = |shot: &dyn TableLike| {
        let several = shot.get("pictures").and_then(Item::as_array);
        shot.get("picture").and_then(Item::as_str).is_some_and(is)
            || several.is_some_and(|all| all.iter().filter_map(Value::as_str).any(is))
    };
    let only = || (list.len() == 1).then(|| list.place(names_none)).flatten();
    list.place(names).or_else(only)
}

/// The table of a picture, where there is one.
fn known<'a>(document: &'a mut DocumentMut, picture: &str) -> Option<Tab<'a>> {
    let list = document.get_mut("shot").and_then(List::of)?;
    place_of(&list, picture).and_then(|n| list.at(n))
}

/// The table of a picture, added when it is not there yet.
fn own<'a>(document: &'a mut DocumentMut, picture: &str) -> Option<Tab<'a>> {
    let list = List::of(document.entry("shot").or_insert_with(|| Item::ArrayOfTables(ArrayOfTables::new())))?;
    match place_of(&list, picture) {
        Some(n) => list.at(n),
        None => {
            let mut new = list.add()?;
            new.put("picture", picture.into());
            Some(new)
        }
    }
}

/// Puts a table at a place, said in one way only.
fn place(table: &mut Tab, at: Place) {
    let (key, value): (_, Value) = match at {
        Place::Px(Px { x, y }) => ("px", Array::from_iter([x, y].map(tenth)).into()),
        Place::Mm(xy) => ("mm", Array::from_iter(xy.map(|v| format!("{:.1} mm", v.mm()))).into()),
        Place::Mark(MarkName::Name(name)) => ("mark", name.into()),
        Place::Mark(MarkName::Number(n)) => ("mark", i64::try_from(n).unwrap_or(i64::MAX).into()),
    };
    ["px", "mm", "mark"].iter().filter(|k| **k != key).for_each(|k| table.put_or_drop(k, None));
    table.put(key, value);
}

/// A list of pixels, to a tenth of one.
fn pixels(places: &[Px]) -> Value {
    let each = places.iter().map(|p| Value::from(Array::from_iter([p.x, p.y].map(tenth))));
    Value::Array(each.collect())
}

/// Every table of a list, in either layout.
pub(super) fn each(list: Option<&mut Item>, work: &mut dyn FnMut(&mut dyn TableLike)) {
    match list {
        Some(Item::ArrayOfTables(all)) => all.iter_mut().for_each(|t| work(t)),
        Some(Item::Value(Value::Array(all))) => {
            all.iter_mut().filter_map(Value::as_inline_table_mut).for_each(|t: &mut InlineTable| work(t));
        }
        _ => {}
    }
}

/// Sets a text where it is the old one.
pub(super) fn reword(item: Option<&mut Item>, from: &str, to: &str) {
    if let Some(value) = item.and_then(Item::as_value_mut) {
        reword_value(value, from, to);
    }
}

/// The same of a value, also within lists.
pub(super) fn reword_value(value: &mut Value, from: &str, to: &str) {
    match value {
        Value::String(text) if text.value().trim() == from => {
            let decor = value.decor().clone();
            *value = to.into();
            *value.decor_mut() = decor;
        }
        Value::Array(all) => all.iter_mut().for_each(|v| reword_value(v, from, to)),
        _ => {}
    }
}
