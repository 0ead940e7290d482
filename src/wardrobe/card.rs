//! What is searched of a record.

use super::archive::{Garment, Outcome, Picture};
use super::words::folded;
use super::years::{Years, years};
use serde::{Deserialize, Serialize};

/// What is searched of a record.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Card {
    /// Its folder, from the root.
    #[serde(skip)]
    pub path: String,
    /// What the record calls itself; of a loose picture its file.
    pub id: String,
    /// Whether it is a picture that belongs to no garment.
    pub loose: bool,
    /// As recorded.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub name: Option<String>,
    /// As recorded.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub number: Option<String>,
    /// As recorded.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub accession: Option<String>,
    /// As recorded.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub maker: Option<String>,
    /// As recorded.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub kind: Option<String>,
    /// As recorded, in words.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub date: Option<String>,
    /// First and last year it may be of.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub years: Option<Years>,
    /// All its words, folded.
    pub words: String,
    /// Flat measures, and tape readings; those taken all round by half.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub measures: Vec<CardMeasure>,
    /// Why the picture could not be traced.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub failed: Option<String>,
    /// Why the record can't be read.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub unread: Option<String>,
}

/// A measure of a card.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct CardMeasure {
    /// Folded: `piece|name|side`.
    pub what: String,
    /// As recorded.
    pub name: String,
    /// As the garment lies flat.
    pub mm: f64,
    /// Whether a tape said so.
    pub taped: bool,
}

/// The card of a garment, with its pictures that failed.
pub(super) fn of_garment(g: &Garment, failed: &[Picture]) -> Card {
    let own = |key: &str| g.word(key).map(str::to_owned);
    let said = g.told.iter().flat_map(|s| [s.key.strip_prefix("more: ").unwrap_or_default(), s.words.as_str()]);
    let pieces = g.pieces.iter().flat_map(|p| [p.name.as_str(), p.kind.as_deref().unwrap_or_default()]);
    let files = failed.iter().flat_map(|p| p.of.iter().map(String::as_str));
    let words: Vec<&str> = [g.id.as_str(), g.path.as_str()].into_iter().chain(said).chain(pieces).chain(files).collect();
    let seen = g.pieces.iter().flat_map(|p| {
        p.measures.iter().map(|m| CardMeasure {
            what: what(&p.name, &m.name, m.side.as_deref()),
            name: m.name.clone(),
            mm: m.mm,
            taped: false,
        })
    });
    let taped = g.tape.iter().map(|t| CardMeasure {
        what: what(t.piece.as_deref().unwrap_or_default(), &t.what, None),
        name: t.what.clone(),
        mm: if t.round { t.mm / 2.0 } else { t.mm },
        taped: true,
    });
    Card {
        id: g.id.clone(),
        name: own("name"),
        number: own("number"),
        accession: own("accession"),
        maker: own("maker"),
        kind: own("kind"),
        date: own("date"),
        years: years(g.word("date_earliest"), g.word("date_latest"), g.word("date")),
        words: folded(&words.join("\n")),
        measures: seen.chain(taped).collect(),
        unread: g.unread.clone(),
        ..Card::default()
    }
}

fn what(piece: &str, name: &str, side: Option<&str>) -> String {
    // Twice what was measured on half a piece is the width itself.
    let name = name.strip_suffix(", doubled").unwrap_or(name);
    let plain = |t: &str| folded(&t.replace('|', " "));
    format!("{}|{}|{}", plain(piece), plain(name), plain(side.unwrap_or_default()))
}

/// The card of a picture that is of no garment.
pub(super) fn of_picture(p: &Picture) -> Card {
    let (pieces, failed, unread) = match &p.result {
        Outcome::Traced(f) => (f.pieces.join("\n"), None, None),
        Outcome::Failed(say) => (String::new(), Some(say.clone()), None),
        Outcome::Unread(say) => (String::new(), None, Some(say.clone())),
    };
    Card { id: p.title(), loose: true, words: folded(&format!("{}\n{}\n{pieces}", p.path, p.title())), failed, unread, ..Card::default() }
}
