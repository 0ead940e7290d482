//! Before any picture: how garments of a kind are laid, what to measure and to look for, and the blank record.
//!
//! | module | does |
//! |---|---|
//! | `guides.toml` | the kinds, pieces, measures and cautions in plain words |
//! | `print` | a kind's laying guide and record sheet as a page of text |
//! | `blank` | the same fields as a `garment.toml` to fill in |

mod blank;
mod print;

use super::{PieceKind, Up};
use serde::Deserialize;
use std::collections::BTreeMap;

/// All that is known of laying and recording garments.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Guides {
    /// What holds for every garment.
    lay: Vec<String>,
    /// What holds instead and besides for a fragile one.
    fragile: Vec<String>,
    /// Measures by name, and how each is taken.
    measure: BTreeMap<String, String>,
    piece: Vec<PieceGuide>,
    kind: Vec<KindGuide>,
    caution: Vec<Caution>,
}

/// How a piece is laid and measured.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
struct PieceGuide {
    name: String,
    kind: Option<PieceKind>,
    lay: String,
    measure: Vec<String>,
}

/// What a kind of garment consists of.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
struct KindGuide {
    name: String,
    says: String,
    pieces: Vec<String>,
    inside: Vec<String>,
}

/// A usual caution and who gives it.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
struct Caution {
    about: String,
    words: String,
    source: String,
}

/// What a blank record is asked for.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Asked {
    /// Kind of garment, one of [`Guides::kinds`]; none when nobody said.
    pub kind: Option<String>,
    /// Whether the garment is fragile.
    pub fragile: bool,
    /// File names of pictures that are there already.
    pub pictures: Vec<String>,
}

/// No such kind of garment.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("there is no guide for `{asked}`; say one of {kinds}")]
pub struct UnknownKind {
    /// What was asked for.
    pub asked: String,
    /// Those there are.
    pub kinds: String,
}

impl Guides {
    /// The guides that come with the program.
    pub fn built_in() -> Self {
        toml::from_str(include_str!("guides.toml")).expect("a test reads the same words")
    }

    /// Kinds of garments, each with what else it is called.
    pub fn kinds(&self) -> impl Iterator<Item = (&str, &str)> {
        self.kind.iter().map(|k| (k.name.as_str(), k.says.as_str()))
    }

    /// The words of a caution by what it is about, and where they come from.
    pub fn caution(&self, about: &str) -> Option<(&str, &str)> {
        self.caution.iter().find(|c| c.about == about).map(|c| (c.words.as_str(), c.source.as_str()))
    }

    /// Names of all measures.
    pub fn measures(&self) -> impl Iterator<Item = &str> {
        self.measure.keys().map(String::as_str)
    }

    fn of(&self, kind: &str) -> Result<&KindGuide, UnknownKind> {
        let asked = kind.trim().to_lowercase();
        let all = || self.kind.iter().map(|k| k.name.as_str()).collect::<Vec<_>>().join(", ");
        self.kind.iter().find(|k| k.name == asked).ok_or_else(|| UnknownKind { asked, kinds: all() })
    }

    fn piece(&self, name: &str) -> Option<&PieceGuide> {
        self.piece.iter().find(|p| p.name == name)
    }

    /// What a tape should say of a kind of garment, each once, with how it is taken.
    fn tape_list(&self, kind: &KindGuide) -> Vec<(&str, &str)> {
        let mut out: Vec<(&str, &str)> = Vec::new();
        for name in kind.pieces.iter().filter_map(|p| self.piece(p)).flat_map(|p| &p.measure) {
            if let Some((name, how)) = self.measure.get_key_value(name)
                && out.iter().all(|(n, _)| n != name)
            {
                out.push((name, how));
            }
        }
        out
    }
}

/// The record of the garment itself: the key in the notes, and what belongs there.
const FIELDS: [(&str, &str); 27] = [
    ("name", "what it is called"),
    ("number", "object or stock number"),
    ("accession", "accession number"),
    ("maker", "who made it, label"),
    ("date", "when it was made, in words"),
    ("date_earliest", "not before: 1905, or 1905-03, or 1905-03-01"),
    ("date_latest", "not after"),
    ("date_certainty", "certain, probable or possible"),
    ("place", "where it was made"),
    ("materials", "cloth, lining, fastenings"),
    ("size", "size as labelled"),
    ("condition", "state, repairs, losses, before it is handled"),
    ("condition_after", "state after it was handled"),
    ("alterations", "what was altered or repaired later"),
    ("hazards", "what it may carry: dust, mould, arsenic, lead, mercury, pesticides"),
    ("provenance", "where it came from"),
    ("holder", "who holds it"),
    ("storage", "where it is kept; never published"),
    ("laid", "how it was laid and supported"),
    ("laid_by", "who laid it"),
    ("grain_by", "how the grain was identified: selvedge, a thread followed"),
    ("not_recorded", "what was not recorded, and why"),
    ("recorded_by", "who took this record"),
    ("recorded_on", "on which day"),
    ("credit", "the line that goes with every use"),
    ("rights", "who may use the record, and how"),
    ("access", "who permitted it, and who may see the garment"),
];

/// What a file's name tells of its picture: the piece, and which side of the garment is up.
fn told_by_name(file: &str, guides: &Guides) -> (Option<String>, Option<Up>) {
    let stem = file.rsplit_once('.').map_or(file, |(stem, _)| stem).to_lowercase();
    let words: Vec<&str> = stem.split(|c: char| !c.is_alphabetic()).filter(|w| !w.is_empty()).collect();
    let known = |w: &&str| guides.piece.iter().any(|p| p.name.split(' ').any(|part| part == *w));
    let piece = words.iter().any(known).then(|| words.join(" "));
    let up = match (words.contains(&"front"), words.contains(&"back")) {
        (true, false) => Some(Up::Front),
        (false, true) => Some(Up::Back),
        _ => None,
    };
    (piece, up)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_name_in_the_guides_is_explained() {
        let guides = Guides::built_in();
        for kind in &guides.kind {
            assert!(!kind.inside.is_empty() && !guides.tape_list(kind).is_empty(), "{}", kind.name);
            kind.pieces.iter().for_each(|p| assert!(guides.piece(p).is_some(), "{}: {p}", kind.name));
        }
        for piece in &guides.piece {
            piece.measure.iter().for_each(|m| assert!(guides.measure.contains_key(m), "{}: {m}", piece.name));
        }
        let used = |m: &String| guides.piece.iter().any(|p| p.measure.contains(m));
        guides.measure.keys().for_each(|m| assert!(used(m) || *m == "length", "{m} is measured nowhere"));
    }

    /// Each caution with the words that carry it. R-SAFE-1 and -2: ICOM Costume Committee, Hawks & Makos; -3: Canadian Conservation
    /// Institute, Notes 13/15; -4, -5: Clothes Tell Stories; -6: FADGI 2016; -7: ASTM F1816; -8: EN 14682; -9: 16 CFR 1501.3(d);
    /// -10: 16 CFR 1615, 1616; -11: Regulation (EU) 2016/425; -12: Star Athletica v. Varsity Brands; -13: UK and EU design right.
    #[test]
    fn cautions_are_all_there() {
        let guides = Guides::built_in();
        let all =
            guides.caution.iter().map(|c| format!("{} {}", c.words, c.source)).chain(guides.fragile.clone()).collect::<Vec<_>>().join(" ");
        let held = [
            ("R-SAFE-1", "mercury"),
            ("R-SAFE-1", "not vapours"),
            ("R-SAFE-2", "conservator or safety officer"),
            ("R-SAFE-3", "65 %"),
            ("R-SAFE-4", "never worn"),
            ("R-SAFE-4", "whole movement"),
            ("R-SAFE-5", "Acid-free tissue"),
            ("R-SAFE-5", "very thin pins"),
            ("R-SAFE-6", "2 °C"),
            ("R-SAFE-7", "75 mm"),
            ("R-SAFE-8", "up to 7 years"),
            ("R-SAFE-9", "exempts clothing"),
            ("R-SAFE-10", "flame tests"),
            ("R-SAFE-11", "no protective performance"),
            ("R-SAFE-12", "print or ornament"),
            ("R-SAFE-13", "EU unregistered design"),
            ("R-SAFE-15", "only draws"),
        ];
        held.iter().for_each(|(id, words)| assert!(all.contains(words), "{id}: {words}"));
    }

    #[test]
    fn names_of_pictures_tell_what_they_can() {
        let guides = Guides::built_in();
        let told = |file| told_by_name(file, &guides);
        assert_eq!(told("left-front.jpg"), (Some("left front".into()), Some(Up::Front)));
        assert_eq!(told("Sleeve_2.tif"), (Some("sleeve".into()), None));
        assert_eq!(told("front and back.png"), (Some("front and back".into()), None));
        assert_eq!(told("IMG_1234.JPG"), (None, None));
    }
}
