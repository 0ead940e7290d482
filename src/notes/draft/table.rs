//! Tables and lists of a document in either of the two layouts that people use: `[[shot]]` with its own lines, and `shot = [{ … }]`.

use toml_edit::{Array, ArrayOfTables, InlineTable, Item, RawString, Table, TableLike, Value};

/// A table in either layout.
pub(super) enum Tab<'a> {
    Lines(&'a mut Table),
    Inline(&'a mut InlineTable),
}

impl<'a> Tab<'a> {
    /// The table that an item is.
    pub fn of(item: &'a mut Item) -> Option<Self> {
        match item {
            Item::Table(table) => Some(Self::Lines(table)),
            Item::Value(Value::InlineTable(table)) => Some(Self::Inline(table)),
            _ => None,
        }
    }

    pub fn like(&self) -> &dyn TableLike {
        match self {
            Self::Lines(table) => *table,
            Self::Inline(table) => *table,
        }
    }

    pub fn like_mut(&mut self) -> &mut dyn TableLike {
        match self {
            Self::Lines(table) => *table,
            Self::Inline(table) => *table,
        }
    }

    /// The list below a key, begun in this table's own layout when it is not there yet.
    pub fn list(self, key: &str) -> Option<List<'a>> {
        let item = match self {
            Self::Lines(table) => table.entry(key).or_insert_with(|| Item::ArrayOfTables(ArrayOfTables::new())),
            Self::Inline(table) => {
                if table.get(key).is_none() {
                    table.insert(key, Array::new().into());
                }
                return table.get_mut(key).and_then(Value::as_array_mut).map(List::Inline);
            }
        };
        List::of(item)
    }

    /// The list below a key, where there is one.
    pub fn known_list(self, key: &str) -> Option<List<'a>> {
        match self {
            Self::Lines(table) => table.get_mut(key).and_then(List::of),
            Self::Inline(table) => table.get_mut(key).and_then(Value::as_array_mut).map(List::Inline),
        }
    }

    /// The table below a key, begun in this table's own layout when it is not there yet. `bare` ones only hold others and have no line.
    pub fn table(self, key: &str, bare: bool) -> Option<Tab<'a>> {
        match self {
            Self::Lines(table) => {
                let new = || {
                    let mut table = Table::new();
                    table.set_implicit(bare);
                    Item::Table(table)
                };
                Tab::of(table.entry(key).or_insert_with(new))
            }
            Self::Inline(table) => {
                if table.get(key).is_none() {
                    table.insert(key, InlineTable::new().into());
                }
                table.get_mut(key).and_then(Value::as_inline_table_mut).map(Tab::Inline)
            }
        }
    }

    /// Sets a value and keeps the comment that stands behind the old one.
    pub fn put(&mut self, key: &str, mut value: Value) {
        let table = self.like_mut();
        match table.get_mut(key) {
            Some(Item::Value(old)) => {
                *value.decor_mut() = old.decor().clone();
                *old = value;
            }
            _ => drop(table.insert(key, Item::Value(value))),
        }
    }

    /// Sets a value, or takes it away.
    pub fn put_or_drop(&mut self, key: &str, value: Option<Value>) {
        match value {
            Some(value) => self.put(key, value),
            None => drop(self.like_mut().remove(key)),
        }
    }
}

/// A list of tables in either layout.
pub(super) enum List<'a> {
    Lines(&'a mut ArrayOfTables),
    Inline(&'a mut Array),
}

impl<'a> List<'a> {
    /// The list that an item is.
    pub fn of(item: &'a mut Item) -> Option<Self> {
        match item {
            Item::ArrayOfTables(all) => Some(Self::Lines(all)),
            Item::Value(Value::Array(all)) => Some(Self::Inline(all)),
            _ => None,
        }
    }

    pub fn len(&self) -> usize {
        match self {
            Self::Lines(all) => all.len(),
            Self::Inline(all) => all.len(),
        }
    }

    /// The table at a place.
    pub fn at(self, n: usize) -> Option<Tab<'a>> {
        match self {
            Self::Lines(all) => all.get_mut(n).map(Tab::Lines),
            Self::Inline(all) => all.get_mut(n).and_then(Value::as_inline_table_mut).map(Tab::Inline),
        }
    }

    /// The first table of which something holds.
    pub fn place(&self, holds: impl Fn(&dyn TableLike) -> bool) -> Option<usize> {
        match self {
            Self::Lines(all) => all.iter().position(|t| holds(t)),
            Self::Inline(all) => all.iter().position(|v| v.as_inline_table().is_some_and(|t| holds(t))),
        }
    }

    /// A new table at the end.
    pub fn add(self) -> Option<Tab<'a>> {
        match self {
            Self::Lines(all) => {
                all.push(Table::new());
                let last = all.len() - 1;
                all.get_mut(last).map(Tab::Lines)
            }
            Self::Inline(all) => {
                all.push(InlineTable::new());
                let last = all.len() - 1;
                all.get_mut(last).and_then(Value::as_inline_table_mut).map(Tab::Inline)
            }
        }
    }

    /// Takes a table away and gives what was written before it and is set apart from it by an empty line.
    pub fn remove(&mut self, n: usize) -> Option<String> {
        match self {
            Self::Lines(all) => {
                let mut apart = String::new();
                all.get(n)?;
                gather_apart(&all.remove(n), &mut apart);
                if let Some(next) = all.get_mut(n).filter(|_| !apart.is_empty()) {
                    let whole = format!("{apart}{}", text(next.decor().prefix()));
                    next.decor_mut().set_prefix(whole);
                    apart.clear();
                }
                Some(apart)
            }
            Self::Inline(all) => {
                (n < all.len()).then(|| all.remove(n))?;
                Some(String::new())
            }
        }
    }
}

/// Blanks and comments; line breaks are made the file's own when it is written.
fn text(raw: Option<&RawString>) -> String {
    raw.and_then(RawString::as_str).unwrap_or_default().replace("\r\n", "\n")
}

/// Comments before a table and those in it that an empty line sets apart from what follows them: they tell of more than it.
pub(super) fn gather_apart(table: &Table, out: &mut String) {
    let prefix = text(table.decor().prefix());
    if let Some((above, _)) = prefix.rsplit_once("\n\n")
        && above.contains('#')
    {
        out.push_str(above);
        out.push_str("\n\n");
    }
    for (_, item) in table {
        match item {
            Item::Table(inner) => gather_apart(inner, out),
            Item::ArrayOfTables(all) => all.iter().for_each(|t| gather_apart(t, out)),
            _ => {}
        }
    }
}

/// A copy of a table that stands behind all others: its lines have no place of their own yet, and comments before it stay with the first.
pub(super) fn copied(table: &Table) -> Table {
    let mut copy = table.clone();
    loosened(&mut copy);
    copy.decor_mut().set_prefix("\n");
    copy
}

fn loosened(table: &mut Table) {
    table.set_position(None);
    for (_, item) in table.iter_mut() {
        match item {
            Item::Table(inner) => loosened(inner),
            Item::ArrayOfTables(all) => all.iter_mut().for_each(loosened),
            _ => {}
        }
    }
}

/// The text below a key, without blanks around it: as the reader takes it.
pub(super) fn text_of<'a>(table: &'a dyn TableLike, key: &str) -> Option<&'a str> {
    table.get(key).and_then(Item::as_str).map(str::trim)
}
