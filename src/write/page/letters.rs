//! The letters of all printed pages: DejaVu Sans (free licence beside it), which holds Latin, Greek and Cyrillic and more, or a font that is given.

use super::font::Font;
use ttf_parser::{Face, GlyphId};
use unicode_normalization::UnicodeNormalization;

/// DejaVu Sans 2.37.
static FONT: &[u8] = include_bytes!("../font/DejaVuSans.ttf");
/// Its name in files.
const NAME: &str = "DejaVuSans";

/// The font, ready to be measured.
pub(in crate::write) struct Letters<'f> {
    face: Face<'f>,
    data: &'f [u8],
    name: &'f str,
    em: f64,
}

/// A name that can't be printed as it is written.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum LettersError {
    /// The font has not got them.
    #[error(
        "\"{text}\" holds letters that the font has not ({letters}): name a font that has them with --font, or give it a name in Latin, Greek or \
         Cyrillic for the pattern"
    )]
    Missing {
        /// The text.
        text: String,
        /// The letters.
        letters: String,
    },
    /// They run from right to left, or change with their neighbours.
    #[error(
        "\"{text}\" holds letters that run from right to left, or join or stack ({letters}), which can't be printed right here with any font: \
         give it a name in other letters for the pattern"
    )]
    Shaped {
        /// The text.
        text: String,
        /// The letters.
        letters: String,
    },
}

/// Scripts that run from right to left, or whose letters change with their neighbours or stack: setting them glyph by glyph
/// would be wrong, so they are refused (Unicode 15, blocks).
const SHAPED: [std::ops::RangeInclusive<u32>; 15] = [
    0x0300..=0x036F,   // marks that found no composed letter
    0x0590..=0x08FF,   // Hebrew, Arabic, Syriac, Thaana, N'Ko
    0x0900..=0x109F,   // the scripts of India, Thai, Lao, Tibetan, Burmese
    0x1100..=0x11FF,   // parts of Korean syllables that found no whole one
    0x1780..=0x18AF,   // Khmer, Mongolian
    0x1A00..=0x1CFF,   // Southeast Asian
    0x200B..=0x200F,   // joiners and direction marks
    0x2028..=0x202E,   // more of them
    0x2060..=0x206F,   // and more
    0xA800..=0xABFF,   // India and Southeast Asia again, parts of Korean syllables
    0xD7B0..=0xD7FF,   // more parts
    0xFB1D..=0xFEFF,   // presentation forms
    0x10800..=0x11FFF, // older scripts from right to left, and more of India
    0x16100..=0x16FFF, // more that stack
    0x1E800..=0x1EFFF, // more from right to left
];

/// A text as it is written on a pattern: accents composed with their letters, anything that breaks or steers lines a space.
pub(in crate::write) fn composed(text: &str) -> String {
    let spaced: String = text.nfc().map(|c| if c.is_control() || c.is_whitespace() { ' ' } else { c }).collect();
    spaced.split(' ').filter(|w| !w.is_empty()).collect::<Vec<_>>().join(" ")
}

impl Letters<'static> {
    /// The font that comes with the program.
    ///
    /// # Panics
    /// Never: the font is part of the program, and a test reads it.
    #[allow(clippy::missing_panics_doc, clippy::expect_used)]
    pub fn new() -> Self {
        let face = Face::parse(FONT, 0).expect("the font that is part of the program");
        let em = f64::from(face.units_per_em());
        Self { face, data: FONT, name: NAME, em }
    }
}

impl<'f> Letters<'f> {
    /// Those of a font, or of the one that comes with the program.
    pub fn of(font: Option<&'f Font>) -> Self {
        let own = font.and_then(|f| {
            let face = Face::parse(f.data(), 0).ok()?;
            let em = f64::from(face.units_per_em());
            Some(Self { face, data: f.data(), name: f.name(), em })
        });
        match own {
            Some(own) => own,
            None => Letters::new(),
        }
    }

    pub fn face(&self) -> &Face<'f> {
        &self.face
    }

    /// The font's file.
    pub fn data(&self) -> &'f [u8] {
        self.data
    }

    /// Its name in files.
    pub fn name(&self) -> &'f str {
        self.name
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
        // Letters that another font will show are taken to be as wide as high.
        let own = |c: char| self.face.glyph_index(c).and_then(|g| self.face.glyph_hor_advance(g));
        let advance = |c: char| own(c).map_or(self.em, f64::from);
        text.chars().map(advance).sum::<f64>() * size / self.em
    }

    /// Whether a text can be set in this font.
    ///
    /// # Errors
    /// Letters the font has not, or that can't be set one by one.
    pub fn check(&self, text: &str) -> Result<(), LettersError> {
        let list = |wrong: &dyn Fn(char) -> bool| {
            let mut letters: Vec<char> = text.chars().filter(|c| *c != ' ' && wrong(*c)).collect();
            letters.sort_unstable();
            letters.dedup();
            (!letters.is_empty()).then(|| letters.iter().take(6).map(char::to_string).collect::<Vec<_>>().join(" "))
        };
        let short = || text.chars().take(60).collect();
        if let Some(letters) = list(&|c| SHAPED.iter().any(|r| r.contains(&u32::from(c)))) {
            return Err(LettersError::Shaped { text: short(), letters });
        }
        list(&|c| self.face.glyph_index(c).is_none()).map_or(Ok(()), |letters| Err(LettersError::Missing { text: short(), letters }))
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
        let text = composed("Mie\u{301}\nłowy \"żupan\"/2");
        assert_eq!(text, "Mié łowy \"żupan\"/2");
        assert!(letters.check(&text).is_ok() && letters.check("Ἀθηνᾶ, пальто").is_ok());
        let e = letters.check("着物").expect_err("not in the font");
        assert!(matches!(&e, LettersError::Missing { letters, .. } if letters == "物 着"), "{e}");
        // The last one turns the direction of what follows.
        for name in ["قميص", "חולצה", "เสื้อ", "कुर्ता", "q\u{301}", "tab\u{202e}ard"] {
            let e = letters.check(name).expect_err(name);
            assert!(matches!(e, LettersError::Shaped { .. }) && e.to_string().contains(name), "{e}");
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
