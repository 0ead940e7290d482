//! What is asked of an archive: words, measures, years.

use super::card::Card;
use super::words::folded;
use crate::length::Length;

/// How near a single length is meant: a quarter of an inch, what shirtmakers allow a chest to differ by, mm.
const NEAR: f64 = 6.35;

/// A question; a record must answer to all of it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Asked {
    words: Vec<String>,
    maker: Option<String>,
    kind: Option<String>,
    number: Option<String>,
    /// Measures within bounds.
    pub measures: Vec<MeasureAsked>,
    /// Made in this year or later.
    pub from: Option<i32>,
    /// Made in this year or before.
    pub to: Option<i32>,
}

/// A measure within bounds, mm.
#[derive(Clone, Debug, PartialEq)]
pub struct MeasureAsked {
    name: Vec<String>,
    least: f64,
    most: f64,
}

impl Asked {
    /// A question for words, each of which must stand somewhere in the record.
    pub fn words(words: &[String]) -> Self {
        Self { words: words.iter().map(|w| folded(w)).filter(|w| !w.is_empty()).collect(), ..Self::default() }
    }

    /// Narrowed to a maker, a kind of garment and a number, each a part of what is recorded.
    #[must_use]
    pub fn by(self, maker: Option<&str>, kind: Option<&str>, number: Option<&str>) -> Self {
        Self { maker: maker.map(folded), kind: kind.map(folded), number: number.map(folded), ..self }
    }

    /// Whether a record answers to all of it.
    pub fn fits(&self, card: &Card) -> bool {
        let part = |asked: &Option<String>, told: &[&Option<String>]| {
            asked.as_ref().is_none_or(|a| told.iter().any(|t| t.as_ref().is_some_and(|t| folded(t).contains(a.as_str()))))
        };
        self.words.iter().all(|w| card.words.contains(w.as_str()))
            && part(&self.maker, &[&card.maker])
            && part(&self.kind, &[&card.kind])
            && part(&self.number, &[&card.number, &card.accession, &Some(card.id.clone())])
            && self.in_years(card)
            && self.measures.iter().all(|m| card.measures.iter().any(|c| m.fits(c.what.as_str(), c.mm)))
    }

    fn in_years(&self, card: &Card) -> bool {
        if self.from.is_none() && self.to.is_none() {
            return true;
        }
        card.years.is_some_and(|[first, last]| self.from.is_none_or(|f| last >= f) && self.to.is_none_or(|t| first <= t))
    }
}

impl MeasureAsked {
    /// Reads `chest 480..520mm`, `chest ..20 in`, `sleeve length 58cm..`, or `waist 400 mm`, which means within a quarter of an inch.
    ///
    /// # Errors
    /// No name, no unit, no length, or bounds the wrong way round; in words for a person.
    pub fn from_text(text: &str) -> Result<Self, String> {
        // What phones and word processors make of two dots.
        let text = &text.replace('…', "..");
        let help = "write a measure as \"chest 480..520mm\", \"chest ..20in\", \"chest 480mm..\" or \"chest 500mm\"";
        let starts = |(k, c): &(usize, char)| (c.is_ascii_digit() || *c == '.') && text[..*k].ends_with(char::is_whitespace);
        let at = text.char_indices().find(starts).map(|(k, _)| k).ok_or(format!("`{text}` has no name with a length after it; {help}"))?;
        let (name, range) = (folded(&text[..at]), text[at..].trim());
        // A width of half a piece may be asked for as it is told, "chest, doubled".
        let words = name.split([' ', ',']).filter(|w| !w.is_empty() && *w != "doubled");
        let name: Vec<String> = words.map(str::to_owned).collect();
        if name.is_empty() {
            return Err(format!("`{text}` names no measure; {help}"));
        }
        let length = |t: &str| Length::positive(t).map(Length::mm).map_err(|e| format!("{e}; {help}"));
        let (least, most) = match range.split_once("..") {
            None => length(range).map(|mm| (mm - NEAR, mm + NEAR))?,
            Some((a, b)) => {
                let (a, b) = (a.trim(), b.trim());
                // One unit after the second length holds for both.
                let unit = b.trim_start_matches(|c: char| c.is_ascii_digit() || ". /-".contains(c));
                let bare = !a.is_empty() && a.chars().all(|c| c.is_ascii_digit() || ". /-".contains(c));
                let a = if bare { format!("{a} {unit}") } else { a.to_owned() };
                let least = if a.is_empty() { 0.0 } else { length(&a)? };
                (least, if b.is_empty() { f64::INFINITY } else { length(b)? })
            }
        };
        if least > most || (range == "..") {
            return Err(format!("`{text}` holds nothing: the first length is the smaller one; {help}"));
        }
        Ok(Self { name, least, most })
    }

    /// Whether a measure, by its folded piece, name and side, is the one meant and within bounds.
    pub fn fits(&self, what: &str, mm: f64) -> bool {
        // A thousandth of a millimetre is what records are rounded to, and no bound is typed finer.
        (self.least - 0.001..=self.most + 0.001).contains(&mm) && self.names(what)
    }

    /// `what` is "piece|name|side": all words asked for are among them, and all of the name's are asked for.
    fn names(&self, what: &str) -> bool {
        let mut parts = what.split('|');
        let (piece, name, side) = (parts.next().unwrap_or_default(), parts.next().unwrap_or_default(), parts.next().unwrap_or_default());
        let within = |w: &String| [piece, name, side].iter().any(|p| p.split(' ').any(|t| t == w));
        self.name.iter().all(within) && name.split(' ').all(|t| self.name.iter().any(|w| w == t))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn bounds(text: &str) -> (f64, f64) {
        let m = MeasureAsked::from_text(text).unwrap_or_else(|e| panic!("{e}"));
        (m.least, m.most)
    }

    /// As a width of half a piece is told, and as it is meant.
    #[test]
    fn a_doubled_width_is_the_width() {
        let asked = MeasureAsked::from_text("chest, doubled 940mm").unwrap_or_else(|e| panic!("{e}"));
        assert!(asked.fits("front|chest|", 943.0) && !asked.fits("front|half chest|", 943.0));
    }

    #[test]
    fn ranges_in_any_unit() {
        assert_eq!(bounds("chest 480..520mm"), (480.0, 520.0));
        assert_eq!(bounds("chest 48 cm .. 520 mm"), (480.0, 520.0));
        // 19 1/2 in are 495.3 mm: an inch is 25.4 mm (international yard and pound agreement, 1959).
        let (least, most) = bounds("Sleeve Length 18..19 1/2 in");
        assert!((least - 457.2).abs() < 1e-9 && (most - 495.3).abs() < 1e-9);
        assert_eq!(bounds("chest ..500mm"), (0.0, 500.0));
        assert_eq!(bounds("chest 480.5mm..").1, f64::INFINITY);
        let (least, most) = bounds("chest 500mm");
        assert!((least - 493.65).abs() < 1e-9 && (most - 506.35).abs() < 1e-9);
    }

    #[test]
    fn what_is_no_measure_is_told() {
        for text in ["chest", "480..520mm", "chest 480..520", "chest 520..480mm", "chest ..", "chest 480..x", "", "chest 4 5 6 mm"] {
            let said = MeasureAsked::from_text(text).expect_err(text);
            assert!(said.contains("write a measure"), "{said}");
        }
    }

    #[test]
    fn measures_are_meant_by_their_whole_name() {
        let m = |text: &str| MeasureAsked::from_text(text).expect("good");
        assert!(m("chest 480..520mm").fits("front|chest|", 500.0));
        assert!(!m("chest 480..520mm").fits("front|chest depth|", 500.0));
        assert!(m("front chest 480..520mm").fits("front|chest|", 480.0));
        assert!(!m("back chest 480..520mm").fits("front|chest|", 480.0));
        assert!(m("side seam left 1..2mm").fits("front|side seam|left", 1.5));
        assert!(!m("chest 480..520mm").fits("front|chest|", 520.1));
    }
}
