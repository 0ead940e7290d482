//! In which line of its file a thing stands, so that what only the pictures show to be wrong is told with it too.

use super::fault::line_at;
use std::fmt;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// A line, counted from 1; nothing where the notes come from no file. It says nothing of the thing itself: two are always alike.
#[derive(Clone, Copy, Debug, Default)]
pub struct InLine(usize);

impl InLine {
    /// The line's number.
    pub fn number(self) -> Option<usize> {
        (self.0 > 0).then_some(self.0)
    }
}

impl PartialEq for InLine {
    fn eq(&self, _: &Self) -> bool {
        true
    }
}

impl fmt::Display for InLine {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.number().map_or(Ok(()), |n| write!(f, " (line {n} of the notes)"))
    }
}

/// The lines of what is said of a piece.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct PieceLines {
    /// Its table.
    pub table: InLine,
    /// `from`, of a facing or a lining.
    pub from: InLine,
    /// `along` of a facing.
    pub along: InLine,
    /// `width` of a facing.
    pub width: InLine,
    /// `cut`.
    pub cut: InLine,
    /// `fold`.
    pub fold: InLine,
    /// `allowance`.
    pub allowance: InLine,
    /// `centre`.
    pub centre: InLine,
    /// `along` of its grain.
    pub grain: InLine,
    /// Each dart.
    pub darts: Vec<InLine>,
    /// Each pleat.
    pub pleats: Vec<InLine>,
    /// Each gather.
    pub gathers: Vec<InLine>,
    /// Each notch.
    pub notches: Vec<InLine>,
    /// Each placement mark.
    pub marks: Vec<InLine>,
}

impl PieceLines {
    /// Forgets all of them, each thing still with one of its own.
    pub(super) fn forget(&mut self) {
        let Self { table, from, along, width, cut, fold, allowance, centre, grain, darts, pleats, gathers, notches, marks } = self;
        let each = [darts, pleats, gathers, notches, marks].into_iter().flatten();
        each.chain([table, from, along, width, cut, fold, allowance, centre, grain]).for_each(|line| *line = InLine::default());
    }

    /// The line of a number of a list.
    pub fn of(list: &[InLine], k: usize) -> InLine {
        list.get(k).copied().unwrap_or_default()
    }
}

/// A file by where its values stand.
pub(super) struct Places<'a> {
    text: &'a str,
    table: Option<Spanned<DeTable<'a>>>,
}

impl<'a> Places<'a> {
    pub fn of(text: &'a str) -> Self {
        Self { text, table: DeTable::parse(text).ok() }
    }

    /// The value of keys one within the other.
    fn value(&self, keys: &[&str]) -> Option<&Spanned<DeValue<'a>>> {
        let (first, rest) = keys.split_first()?;
        let value = self.table.as_ref()?.get_ref().get(*first)?;
        rest.iter().try_fold(value, |value, key| value.get_ref().as_table()?.get(*key))
    }

    /// The byte at which that starts.
    pub fn byte(&self, keys: &[&str]) -> Option<usize> {
        Some(self.value(keys)?.span().start)
    }

    pub fn line(&self, keys: &[&str]) -> InLine {
        self.byte(keys).map_or(InLine(0), |byte| InLine(line_at(self.text, byte)))
    }

    /// The lines of a list's tables.
    pub fn each(&self, keys: &[&str]) -> Vec<InLine> {
        match self.value(keys).map(Spanned::get_ref) {
            Some(DeValue::Array(all)) => all.iter().map(|v| InLine(line_at(self.text, v.span().start))).collect(),
            _ => Vec::new(),
        }
    }

    /// All of a piece's.
    pub fn piece(&self, name: &str) -> PieceLines {
        let of = |key: &str| self.line(&["piece", name, key]);
        let each = |key: &str| self.each(&["piece", name, key]);
        PieceLines {
            table: self.line(&["piece", name]),
            from: of("from"),
            along: of("along"),
            width: of("width"),
            cut: of("cut"),
            fold: of("fold"),
            allowance: of("allowance"),
            centre: of("centre"),
            grain: self.line(&["piece", name, "grain", "along"]),
            darts: each("dart"),
            pleats: each("pleat"),
            gathers: each("gather"),
            notches: each("notch"),
            marks: each("mark"),
        }
    }
}
