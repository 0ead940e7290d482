//! Changes to what the notes say of pieces, and to tape readings.

use super::shot::{each, reword, reword_value};
use super::table::{List, Tab, text_of};
use super::{Draft, tenth};
use crate::notes::{Fault, Notch, NotchStyle, OnEdge, Spot, Tape, alike};
use toml_edit::{Array, ArrayOfTables, DocumentMut, InlineTable, Item, Table, TableLike, Value};

/// Keys of a piece, at whatever depth, whose texts are names of corners.
const CORNERS: [&str; 7] = ["centre", "legs", "point", "other_point", "between", "at", "along"];

impl Draft {
    /// Sets the two places on a piece's centre, or takes them away.
    ///
    /// # Errors
    /// A place is no place.
    pub fn set_centre(&mut self, piece: &str, spots: Option<&[Spot; 2]>) -> Result<(), Fault> {
        self.change(|document| {
            if spots.is_none() && known(document, piece).is_none() {
                return Some(());
            }
            let value = spots.map(|two| Value::Array(two.iter().map(spot).collect()));
            own(document, piece)?.put_or_drop("centre", value);
            Some(())
        })
    }

    /// Adds a notch to a piece.
    ///
    /// # Errors
    /// Its place can't be meant.
    pub fn add_notch(&mut self, piece: &str, notch: &Notch) -> Result<(), Fault> {
        self.change(|document| {
            let mut new = own(document, piece)?.list("notch")?.add()?;
            new.put("edge", notch.edge.as_str().into());
            new.put("at", notch.at.to_string().into());
            new.put_or_drop("from", notch.from.as_deref().map(Value::from));
            new.put_or_drop("count", notch.count.map(|n| i64::from(n).into()));
            let style = notch.style.map(|s| match s {
                NotchStyle::Slit => "slit",
                NotchStyle::V => "V",
            });
            new.put_or_drop("style", style.map(Value::from));
            new.put_or_drop("once", notch.once.then(|| true.into()));
            Some(())
        })
    }

    /// Takes the notch at a place of the reader's list away; nothing happens when there is none.
    ///
    /// # Errors
    /// None is expected.
    pub fn remove_notch(&mut self, piece: &str, n: usize) -> Result<(), Fault> {
        self.change(|document| {
            let Some(mut list) = known(document, piece).and_then(|p| p.known_list("notch")).filter(|l| n < l.len()) else {
                return Some(());
            };
            let apart = list.remove(n)?;
            if list.len() == 0
                && let Some(mut piece) = known(document, piece)
            {
                piece.like_mut().remove("notch");
            }
            super::keep_apart(document, &apart);
            Some(())
        })
    }

    /// Writes a tape reading down as it was `written`: in the place of an earlier one by the same person of the same thing on the same
    /// piece, all round or flat like it. Another person's stays beside it.
    ///
    /// # Errors
    /// The reading can't be meant.
    pub fn set_tape(&mut self, tape: &Tape, written: &str) -> Result<(), Fault> {
        let piece = tape.piece.as_deref();
        let same_words = |a: Option<&str>, b: Option<&str>| match (a, b) {
            (Some(a), Some(b)) => alike(a, b),
            (a, b) => a == b,
        };
        let same = |t: &dyn TableLike| {
            let round = t.get("round").and_then(Item::as_bool).unwrap_or(false);
            let own = [("what", Some(tape.what.as_str())), ("piece", piece), ("by", tape.by.as_deref())];
            own.iter().all(|(key, words)| same_words(text_of(t, key), *words)) && round == tape.round
        };
        self.change(|document| {
            let list = List::of(document.entry("tape").or_insert_with(|| Item::ArrayOfTables(ArrayOfTables::new())))?;
            let mut one = match list.place(same) {
                Some(n) => list.at(n)?,
                None => {
                    let mut new = list.add()?;
                    new.put("what", tape.what.trim().into());
                    if let Some(piece) = piece {
                        new.put("piece", piece.trim().into());
                    }
                    new
                }
            };
            one.put("reading", written.trim().into());
            if tape.round {
                one.put("round", true.into());
            }
            for (key, words) in [("by", &tape.by), ("on", &tape.on), ("remarks", &tape.remarks)] {
                if let Some(words) = words {
                    one.put(key, words.as_str().into());
                }
            }
            Some(())
        })
    }

    /// Takes the tape reading at a place of the reader's list away; nothing happens when there is none.
    ///
    /// # Errors
    /// None is expected.
    pub fn remove_tape(&mut self, n: usize) -> Result<(), Fault> {
        self.change(|document| {
            let Some(mut list) = document.get_mut("tape").and_then(List::of).filter(|l| n < l.len()) else { return Some(()) };
            let apart = list.remove(n)?;
            if list.len() == 0 {
                document.remove("tape");
            }
            super::keep_apart(document, &apart);
            Some(())
        })
    }
}

/// The table of a piece, where there is one.
fn known<'a>(document: &'a mut DocumentMut, piece: &str) -> Option<Tab<'a>> {
    let pieces = document.get_mut("piece").and_then(Item::as_table_like_mut)?;
    let key = written(pieces, piece);
    pieces.get_mut(&key).and_then(Tab::of)
}

/// The key under which a piece stands, as the notes write it.
fn written(pieces: &dyn TableLike, piece: &str) -> String {
    pieces.iter().map(|(key, _)| key).find(|key| alike(key, piece)).unwrap_or(piece).to_owned()
}

/// The table of a piece, added when it is not there yet.
fn own<'a>(document: &'a mut DocumentMut, piece: &str) -> Option<Tab<'a>> {
    let new = || {
        let mut pieces = Table::new();
        pieces.set_implicit(true);
        Item::Table(pieces)
    };
    let pieces = Tab::of(document.entry("piece").or_insert_with(new))?;
    let key = written(pieces.like(), piece);
    pieces.table(&key, false)
}

/// A place on a piece as it is written.
fn spot(spot: &Spot) -> Value {
    let mut table = InlineTable::new();
    match spot {
        Spot::Named(name) => return name.as_str().into(),
        Spot::Px(p) => drop(table.insert("px", Array::from_iter([p.x, p.y].map(tenth)).into())),
        Spot::Mm(xy) => drop(table.insert("mm", Array::from_iter(xy.map(|v| format!("{v:.1}"))).into())),
        Spot::OnEdge(OnEdge { edge, at, from }) => {
            table.insert("edge", edge.as_str().into());
            table.insert("at", at.to_string().into());
            if let Some(from) = from {
                table.insert("from", from.as_str().into());
            }
        }
    }
    table.into()
}

/// A corner of a piece has another name: wherever the piece's table and the joins go by it.
pub(super) fn corner_renamed(document: &mut DocumentMut, piece: &str, from: &str, to: &str) {
    if let Some(mut table) = known(document, piece) {
        followed(table.like_mut(), 0, from, to);
    }
    each(document.get_mut("change"), &mut |t| {
        if text_of(t, "piece").is_some_and(|p| alike(p, piece)) {
            reword(t.get_mut("corner"), from, to);
        }
    });
    let corner = |name: &str| format!("{piece}: {name}");
    match document.get_mut("join").and_then(List::of) {
        Some(List::Lines(all)) => all.iter_mut().for_each(|t| reword(t.get_mut("meet"), &corner(from), &corner(to))),
        Some(List::Inline(all)) => {
            let tables = all.iter_mut().filter_map(Value::as_inline_table_mut);
            tables.filter_map(|t| t.get_mut("meet")).for_each(|v| reword_value(v, &corner(from), &corner(to)));
        }
        None => {}
    }
}

/// Rewords the names of a corner below a table; `depth` tells the corner that a notch is measured from and the piece a facing comes from apart.
fn followed(table: &mut dyn TableLike, depth: usize, from: &str, to: &str) {
    for (key, item) in table.iter_mut() {
        if CORNERS.contains(&key.get()) || (key.get() == "from" && depth > 0) {
            reword(Some(item), from, to);
        }
        match item {
            Item::ArrayOfTables(all) => all.iter_mut().for_each(|t| followed(t, depth + 1, from, to)),
            Item::Table(inner) => followed(inner, depth + 1, from, to),
            Item::Value(value) => followed_within(value, depth + 1, from, to),
            Item::None => {}
        }
    }
}

fn followed_within(value: &mut Value, depth: usize, from: &str, to: &str) {
    match value {
        Value::InlineTable(inner) => followed(inner, depth, from, to),
        Value::Array(all) => all.iter_mut().for_each(|v| followed_within(v, depth, from, to)),
        _ => {}
    }
}
