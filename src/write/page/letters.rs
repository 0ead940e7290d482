//! The letters of all printed pages: DejaVu Sans (free licence beside it), which holds Latin, Greek and Cyrillic and more.

use ttf_parser::{Face, GlyphId};
use unicode_normalization::UnicodeNormalization;

/// DejaVu Sans 2.37.
pub(super) static FONT: &[u8] = include_bytes!("../font/DejaVuSans.ttf");
/// Its name in files.
pub(super) const NAME: &str = "DejaVuSans";

/// The font, ready to be measured.
pub(in crate::write) struct Letters {
    face: Face<'static>,
    em: f64,
}

/// A name that can't be printed as it is written.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error(
    "\"{text}\" holds letters that can't be printed right here ({letters}); the font has Latin, Greek and Cyrillic and sets from left to right: \
     give it a name in those for the pattern"
)]
pub struct LettersError {
    /// The text.
    pub text: String,
    /// The letters that are missing, or that need shaping.
    pub letters: String,
}

/// Scripts that run from right to left, or whose letters change with their neighbours or stack: setting them glyph by glyph
/// would be wrong, so they are refused (Unicode 15, blocks).
const SHAPED: [std::ops::RangeInclusive<u32>; 7] = [
    0x0300..=0x036F, // marks that found no composed letter
    0x0590..=0x08FF, // Hebrew, Arabic, Syriac, Thaana, N'Ko
    0x0900..=0x109F, // the scripts of India, Thai, Lao, Tibetan, Burmese
    0x1780..=0x18AF, // Khmer, Mongolian
    0x1A00..=0x1CFF, // Southeast Asian
    0x200B..=0x200F, // joiners and direction marks
    0xFB1D..=0xFEFF, // presentation forms
];

impl Letters {
    /// The font that comes with the program.
    ///
    /// # Panics
    /// Never: the font is part of the program, and a test reads it.
    #[allow(clippy::missing_panics_doc, clippy::expect_used)]
    pub fn new() -> Self {
        let face = Face::parse(FONT, 0).expect("the font that is part of the program");
        let em = f64::from(face.units_per_em());
        Self { face, em }
    }

    pub fn face(&self) -> &Face<'static> {
        &self.face
    }

    /// Units of the font in the size of its letters.
    pub fn em(&self) -> f64 {
        self.em
    }

    /// The glyph of a letter, the font's sign for a missing one where it has none.
    pub fn glyph(&self, c: char) -> GlyphId {
        self.face.glyph_index(c).unwrap_or(GlyphId(0))
    }

    /// Length of a text, mm.
    pub fn width(&self, text: &str, size: f64) -> f64 {
        let advance = |c: char| f64::from(self.face.glyph_hor_advance(self.glyph(c)).unwrap_or(0));
        text.chars().map(advance).sum::<f64>() * size / self.em
    }

    /// The text as it is printed: accents composed with their letters, anything that breaks or steers lines a space.
    ///
    /// # Errors
    /// Letters the font has not, or that it can't set one by one.
    pub fn printable(&self, text: &str) -> Result<String, LettersError> {
        let spaced: String = text.nfc().map(|c| if c.is_control() || c.is_whitespace() { ' ' } else { c }).collect();
        let plain = spaced.split(' ').filter(|w| !w.is_empty()).collect::<Vec<_>>().join(" ");
        let wrong = |c: &char| SHAPED.iter().any(|r| r.contains(&u32::from(*c))) || (*c != ' ' && self.face.glyph_index(*c).is_none());
        let mut letters: Vec<char> = plain.chars().filter(wrong).collect();
        letters.sort_unstable();
        letters.dedup();
        if letters.is_empty() {
            return Ok(plain);
        }
        let letters = letters.iter().take(6).map(char::to_string).collect::<Vec<_>>().join(" ");
        let text = plain.chars().take(60).collect();
        Err(LettersError { text, letters })
    }

    /// Lines of a text that fit in a width; a word that doesn't is cut.
    pub fn wrapped(&self, text: &str, size: f64, wide: f64) -> Vec<String> {
        let mut out: Vec<String> = Vec::new();
        for word in text.split(' ') {
            let fits = |last: &&mut String| self.width(last, size) + self.width(word, size) + self.width(" ", size) <= wide;
            if let Some(last) = out.last_mut().filter(fits) {
                last.push(' ');
                last.push_str(word);
                continue;
            }
            let mut rest = word.to_owned();
            while self.width(&rest, size) > wide && rest.chars().count() > 1 {
                let mut head = String::new();
                for c in rest.chars() {
                    if !head.is_empty() && self.width(&head, size) + self.width(c.encode_utf8(&mut [0; 4]), size) > wide {
                        break;
                    }
                    head.push(c);
                }
                rest = rest[head.len()..].to_owned();
                out.push(head);
            }
            if !rest.is_empty() {
                out.push(rest);
            }
        }
        out
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn latin_greek_and_cyrillic_are_printed_and_others_told() {
        let letters = Letters::new();
        // A letter and its accent apart come out as one letter.
        assert_eq!(letters.printable("Mie\u{301}\nłowy \"żupan\"/2").expect("printable"), "Mié łowy \"żupan\"/2");
        assert!(letters.printable("Ἀθηνᾶ, пальто").is_ok());
        for name in ["着物", "قميص", "חולצה", "เสื้อ", "कुर्ता", "q\u{301}"] {
            let e = letters.printable(name).expect_err(name);
            assert!(e.to_string().contains(name), "{e}");
        }
    }

    /// The font's own table: 2048 units to the em, a space is 651 of them (read with fontTools 4.68, `hmtx`).
    #[test]
    fn widths_are_the_fonts() {
        let letters = Letters::new();
        assert!((letters.width("  ", 10.0) - 2.0 * 651.0 / 204.8).abs() < 1e-9);
    }

    #[test]
    fn lines_fit() {
        let letters = Letters::new();
        let lines = letters.wrapped("cut along this line donaudampfschifffahrtsgesellschaft", 3.0, 30.0);
        assert!(lines.len() >= 3 && lines.iter().all(|l| letters.width(l, 3.0) <= 30.0), "{lines:?}");
        assert_eq!(lines.concat().replace(' ', ""), "cutalongthislinedonaudampfschifffahrtsgesellschaft");
    }
}
