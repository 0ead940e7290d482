//! Pieces, edges and corners that go by another name: wherever the notes tell of them.

use super::Draft;
use super::shot::{each, reword};
use super::table::{List, Tab, gather_apart, text_of};
use crate::notes::{EdgeIs, EdgeName, Fault, alike};
use toml_edit::{DocumentMut, Item, Key, TableLike, Value};

/// The new one for a name, where it has one.
type New<'a> = &'a mut dyn FnMut(&str) -> Option<String>;

/// Pieces by their names so far, each with its new name, or none where there is no such piece any more.
type Pieces<'a> = &'a [(String, Option<String>)];

impl Draft {
    /// Calls an edge of a piece otherwise: what the piece's table says of it (notches, places, fullness, fold, grain, allowances), facings
    /// along it, joins, changes after a toile, and other pictures of the piece.
    ///
    /// # Errors
    /// The new name can't stand where the old one did.
    pub fn rename_edge(&mut self, piece: &str, from: &str, to: &str) -> Result<(), Fault> {
        if from == to {
            return Ok(());
        }
        let mut new = |name: &str| alike(name, from).then(|| to.to_owned());
        self.change(|document| {
            let mut edge = |t: &mut dyn TableLike| reword(t.get_mut("name"), from, to);
            each(document.get_mut("shot"), &mut |shot| {
                if text_of(shot, "piece").is_some_and(|p| alike(p, piece)) {
                    each(shot.get_mut("edge"), &mut edge);
                }
            });
            each_edge(document, piece, &mut new)
        })
    }

    /// Whether anything that is said of a piece names one of its edges so; what is said of the pictures does not count.
    pub fn names_edge(&self, piece: &str, edge: &str) -> bool {
        let mut found = false;
        let mut look = |name: &str| {
            found |= alike(name, edge);
            None
        };
        let _ = each_edge(&mut self.document.clone(), piece, &mut look);
        found
    }

    /// Calls a corner otherwise in what the notes say of a piece: its table, joins, changes after a toile.
    ///
    /// # Errors
    /// The new name can't stand where the old one did.
    pub fn rename_corner_of(&mut self, piece: &str, from: &str, to: &str) -> Result<(), Fault> {
        self.change(|document| {
            super::piece::corner_renamed(document, piece, from, to);
            Some(())
        })
    }

    /// Whether a table, a tape reading, a join or a change names a piece so; what is said of the pictures does not count.
    pub fn names_piece(&self, piece: &str) -> bool {
        let (mut draft, gone) = (self.clone(), [(piece.to_owned(), None)]);
        draft.rename_pieces(&gone).is_err() || draft.text() != self.text()
    }

    /// Gives pieces other names, all at once, so that two may change theirs: their tables, tape readings, joins, changes and what is taken
    /// from them. What is said of a piece that is no more goes. The names that pictures give are left as they are.
    ///
    /// # Errors
    /// Two pieces would have one table.
    pub fn rename_pieces(&mut self, pieces: Pieces) -> Result<(), Fault> {
        let told = self.notes()?.pieces;
        let new = |name: &str| pieces.iter().find(|(old, _)| alike(old, name)).map(|(_, new)| new.as_deref());
        for (_, to) in pieces.iter().filter(|(old, _)| told.keys().any(|k| alike(k, old))) {
            let Some(to) = to else { continue };
            if told.keys().any(|k| alike(k, to) && new(k).is_none()) {
                let words = format!("the notes tell of a piece \"{to}\" already; put what they say of both together by hand");
                return Err(Fault::at("", 0, words));
            }
        }
        self.change(|document| {
            let gone = |name: &str| new(name) == Some(None);
            let kept = |name: &str| new(name).flatten().map(str::to_owned);
            let edge = |name: EdgeName| kept(&name.piece).map(|piece| EdgeName { piece, ..name });
            let mut apart = String::new();
            for key in ["tape", "change"] {
                without(document, key, &|t| text_of(t, "piece").is_some_and(gone), &mut apart)?;
                each(document.get_mut(key), &mut |t| reword_by(t.get_mut("piece"), &mut |name| kept(name)));
            }
            without(
                document,
                "join",
                &|t| ["edges", "meet"].iter().any(|k| named_in(t.get(k)).iter().any(|e| gone(&e.piece))),
                &mut apart,
            )?;
            for key in ["edges", "meet"] {
                each(document.get_mut("join"), &mut |t| sides_by(t.get_mut(key), &edge));
            }
            tables(document, &gone, &kept, &mut apart)?;
            super::keep_apart(document, &apart);
            Some(())
        })
    }
}

/// The tables of pieces: without those of pieces that are no more, under their new names.
fn tables(
    document: &mut DocumentMut,
    gone: &dyn Fn(&str) -> bool,
    kept: &dyn Fn(&str) -> Option<String>,
    apart: &mut String,
) -> Option<()> {
    let Some(mut pieces) = document.get_mut("piece").and_then(Tab::of) else { return Some(()) };
    let of_gone = |(key, item): (&str, &Item)| {
        // A facing or a lining is nothing without the piece it is taken from.
        let from = item.as_table_like().and_then(|t| text_of(t, "from")).is_some_and(gone);
        (gone(key.trim()) || from).then(|| key.to_owned())
    };
    for key in pieces.like().iter().filter_map(of_gone).collect::<Vec<_>>() {
        if let Some(Item::Table(table)) = pieces.like_mut().remove(&key) {
            gather_apart(&table, apart);
        }
    }
    for (_, item) in pieces.like_mut().iter_mut() {
        if let Some(table) = item.as_table_like_mut() {
            reword_by(table.get_mut("from"), &mut |name| kept(name));
        }
    }
    rekey(pieces, &mut |key| kept(key))?;
    if document.get("piece").and_then(Item::as_table_like).is_some_and(TableLike::is_empty) {
        document.remove("piece");
    }
    Some(())
}

/// Takes the tables of a list away of which something holds, and the list with its last one.
fn without(document: &mut DocumentMut, key: &str, holds: &dyn Fn(&dyn TableLike) -> bool, apart: &mut String) -> Option<()> {
    let Some(mut list) = document.get_mut(key).and_then(List::of) else { return Some(()) };
    while let Some(n) = list.place(holds) {
        apart.push_str(&list.remove(n)?);
    }
    if list.len() == 0 {
        document.remove(key);
    }
    Some(())
}

/// Every name of an edge of a piece that is not said of a picture.
fn each_edge(document: &mut DocumentMut, piece: &str, new: New) -> Option<()> {
    if let Some(pieces) = document.get_mut("piece").and_then(Item::as_table_like_mut) {
        for (key, item) in pieces.iter_mut() {
            let own = alike(key.get(), piece);
            let Some(mut tab) = Tab::of(item) else { continue };
            if own {
                edges_in(tab.like_mut(), "", new);
                if let Some(allowance) = tab.like_mut().get_mut("allowance").and_then(Tab::of) {
                    // Those of all edges, and of what an edge is, are of no edge alone.
                    let word = |key: &str| key == "all" || EdgeIs::ALL.iter().any(|is| is.word() == key);
                    rekey(allowance, &mut |key| if word(key) { None } else { new(key) })?;
                }
            }
            if text_of(tab.like(), "from").is_some_and(|from| alike(from, piece)) {
                reword_by(tab.like_mut().get_mut("along"), new);
            }
        }
    }
    each(document.get_mut("change"), &mut |t| {
        if text_of(t, "piece").is_some_and(|p| alike(p, piece)) {
            reword_by(t.get_mut("edge"), new);
        }
    });
    let mut joined = |t: &mut dyn TableLike| {
        let sides = t.get("edges").map(|e| named_in(Some(e))).unwrap_or_default();
        let renamed: Vec<(EdgeName, String)> =
            sides.into_iter().filter(|e| alike(&e.piece, piece)).filter_map(|e| new(&e.edge).map(|n| (e, n))).collect();
        let edge = |name: EdgeName| renamed.iter().find(|(e, _)| *e == name).map(|(_, n)| EdgeName { edge: n.clone(), ..name.clone() });
        sides_by(t.get_mut("edges"), &edge);
    };
    each(document.get_mut("join"), &mut joined);
    Some(())
}

/// The names of edges below a table of a piece; `within` is the key it stands under, nothing for the piece itself.
fn edges_in(table: &mut dyn TableLike, within: &str, new: New) {
    for (key, item) in table.iter_mut() {
        let key = key.get().to_owned();
        let names = match key.as_str() {
            "edge" | "gives" => true,
            "fold" => within.is_empty(),
            "along" => within == "grain" && item.as_str().is_some_and(|t| t.trim() != "centre"),
            _ => false,
        };
        if names && item.is_str() {
            reword_by(Some(item), new);
        }
        match item {
            Item::ArrayOfTables(all) => all.iter_mut().for_each(|t| edges_in(t, &key, new)),
            Item::Table(inner) => edges_in(inner, &key, new),
            Item::Value(value) => edges_within(value, &key, new),
            Item::None => {}
        }
    }
}

fn edges_within(value: &mut Value, key: &str, new: New) {
    match value {
        Value::InlineTable(inner) => edges_in(inner, key, new),
        Value::Array(all) => all.iter_mut().for_each(|v| edges_within(v, key, new)),
        _ => {}
    }
}

/// The edges that the sides of a join name.
fn named_in(item: Option<&Item>) -> Vec<EdgeName> {
    let sides = item.and_then(Item::as_array).into_iter().flatten().filter_map(Value::as_str);
    sides.flat_map(|side| side.split('+')).filter_map(|name| EdgeName::from_text(name).ok()).collect()
}

/// Rewords the edges that the sides of a join name.
fn sides_by(item: Option<&mut Item>, new: &dyn Fn(EdgeName) -> Option<EdgeName>) {
    reword_by(item, &mut |side| {
        let names: Vec<EdgeName> = side.split('+').map(EdgeName::from_text).collect::<Result<_, _>>().ok()?;
        let renamed: Vec<Option<EdgeName>> = names.iter().cloned().map(new).collect();
        renamed.iter().any(Option::is_some).then(|| {
            let all = renamed.into_iter().zip(names).map(|(new, old)| new.unwrap_or(old).to_string());
            all.collect::<Vec<_>>().join(" + ")
        })
    });
}

/// Sets texts, also within lists, that have a new one; the comments behind them stay.
fn reword_by(item: Option<&mut Item>, new: New) {
    if let Some(value) = item.and_then(Item::as_value_mut) {
        reword_within(value, new);
    }
}

fn reword_within(value: &mut Value, new: New) {
    match value {
        Value::String(text) => {
            if let Some(name) = new(text.value().trim()) {
                let decor = value.decor().clone();
                *value = name.into();
                *value.decor_mut() = decor;
            }
        }
        Value::Array(all) => all.iter_mut().for_each(|v| reword_within(v, new)),
        _ => {}
    }
}

/// Gives keys of a table other names, in their places; none where two would be one.
fn rekey(table: Tab, new: New) -> Option<()> {
    let keys: Vec<(String, Option<String>)> = table.like().iter().map(|(k, _)| (k.to_owned(), new(k.trim()))).collect();
    if keys.iter().all(|(old, new)| new.as_ref().is_none_or(|n| n == old)) {
        return Some(());
    }
    let called = |old: &Key, new: Option<String>| {
        new.map_or_else(
            || old.clone(),
            |name| Key::new(name).with_leaf_decor(old.leaf_decor().clone()).with_dotted_decor(old.dotted_decor().clone()),
        )
    };
    match table {
        Tab::Lines(table) => {
            let all: Vec<(Key, Item)> =
                keys.into_iter().map(|(old, new)| table.remove_entry(&old).map(|(k, i)| (called(&k, new), i))).collect::<Option<_>>()?;
            for (key, item) in all {
                if table.contains_key(key.get()) {
                    return None;
                }
                table.insert_formatted(&key, item);
            }
        }
        Tab::Inline(table) => {
            let all: Vec<(Key, Value)> =
                keys.into_iter().map(|(old, new)| table.remove_entry(&old).map(|(k, v)| (called(&k, new), v))).collect::<Option<_>>()?;
            for (key, value) in all {
                if table.contains_key(key.get()) {
                    return None;
                }
                table.insert_formatted(&key, value);
            }
        }
    }
    Some(())
}
