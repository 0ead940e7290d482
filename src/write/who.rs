//! Who stands behind a value of the record, and when it was taken; the garment's own table and the tape readings, which are theirs.

use super::garment::{Source, TapeOf, Told};
use super::path_text::round;
use crate::notes::{Directions, Garment, Tape};
use crate::piece::How;
use serde_json::{Map, Value};

/// Who took the record, and when: what stands behind every noted value.
pub(super) struct Who {
    by: Option<String>,
    on: Option<String>,
}

impl Who {
    pub fn of(garment: &Garment) -> Self {
        Self { by: garment.recorded_by.clone(), on: garment.recorded_on.clone() }
    }

    /// A value known in some way; what was seen or assumed is the program's, whose version the record has.
    pub fn source(&self, how: How) -> Source {
        match how {
            How::Seen | How::Assumed => Source { how, by: None, on: None },
            How::Taped | How::Noted | How::Chosen => Source { how, by: self.by.clone(), on: self.on.clone() },
        }
    }

    pub fn told(&self, value: impl Into<Value>, how: How) -> Told {
        Told { value: value.into(), source: self.source(how) }
    }

    /// The garment's own table, each value told.
    pub fn garment(&self, g: &Garment) -> Map<String, Value> {
        let mut out = Map::new();
        let mut put = |key: &str, value: Value, how| {
            out.insert(key.to_owned(), serde_json::to_value(self.told(value, how)).unwrap_or_default());
        };
        let texts = [
            ("name", &g.name),
            ("kind", &g.kind),
            ("number", &g.number),
            ("accession", &g.accession),
            ("maker", &g.maker),
            ("date", &g.date),
            ("place", &g.place),
            ("materials", &g.materials),
            ("size", &g.size),
            ("condition", &g.condition),
            ("condition_after", &g.condition_after),
            ("alterations", &g.alterations),
            ("hazards", &g.hazards),
            ("provenance", &g.provenance),
            ("holder", &g.holder),
            ("storage", &g.storage),
            ("laid", &g.laid),
            ("laid_by", &g.laid_by),
            ("grain_by", &g.grain_by),
            ("not_recorded", &g.not_recorded),
            ("recorded_by", &g.recorded_by),
            ("recorded_on", &g.recorded_on),
            ("credit", &g.credit),
            ("rights", &g.rights),
            ("access", &g.access),
            ("remarks", &g.remarks),
        ];
        texts
            .into_iter()
            .filter_map(|(key, text)| text.clone().map(|t| (key, t)))
            .for_each(|(key, text)| put(key, text.into(), How::Noted));
        for (key, day) in [("date_earliest", &g.date_earliest), ("date_latest", &g.date_latest)] {
            day.iter().for_each(|d| put(key, d.text().into(), How::Noted));
        }
        g.date_certainty.iter().for_each(|c| put("date_certainty", c.word().into(), How::Noted));
        for (key, flag) in [("fragile", g.fragile), ("child", g.child)] {
            if flag {
                put(key, true.into(), How::Noted);
            }
        }
        directions("stretch", &g.stretch).for_each(|(key, share)| put(&key, share, How::Noted));
        directions("shrinkage", &g.shrinkage).for_each(|(key, share)| put(&key, share, How::Chosen));
        g.more.iter().for_each(|(key, text)| put(&format!("more: {key}"), text.clone().into(), How::Noted));
        out
    }

    /// A tape reading, held against nothing yet.
    pub fn tape(&self, t: &Tape) -> TapeOf {
        let source = Source { how: How::Taped, by: t.by.clone().or_else(|| self.by.clone()), on: t.on.clone().or_else(|| self.on.clone()) };
        TapeOf {
            what: t.what.clone(),
            piece: t.piece.clone(),
            mm: round(t.reading.mm()),
            inches: t.reading.sixteenths(),
            round: t.round,
            source,
            remarks: t.remarks.clone(),
            against: Vec::new(),
        }
    }
}

/// Shares along, across and on the bias, with a key each.
pub(super) fn directions<'a>(what: &'a str, d: &Directions) -> impl Iterator<Item = (String, Value)> + use<'a> {
    let all = [("lengthwise", d.lengthwise), ("crosswise", d.crosswise), ("on the bias", d.bias)];
    all.into_iter().filter_map(move |(way, p)| p.map(|p| (format!("{what} {way}"), p.to_string().into())))
}
