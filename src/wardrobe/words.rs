//! Words as they are compared: without regard to capitals and accents, in any script.

use unicode_normalization::UnicodeNormalization;

/// A text with capitals, accents and presentation forms taken away, and blanks alike (compatibility decomposition, Unicode Standard Annex 15).
/// Of the marks that decomposition parts from their letters only accents and points go: the vowel signs of Indic scripts are no accents.
pub(super) fn folded(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let mut blank = true;
    for c in text.nfkd().filter(|c| !accent(*c)).flat_map(char::to_lowercase) {
        if c.is_whitespace() || c.is_control() {
            if !blank {
                out.push(' ');
            }
            blank = true;
            continue;
        }
        blank = false;
        match c {
            'ß' => out.push_str("ss"),
            'æ' => out.push_str("ae"),
            'œ' => out.push_str("oe"),
            'ø' => out.push('o'),
            'đ' | 'ð' => out.push('d'),
            'ł' => out.push('l'),
            'þ' => out.push_str("th"),
            'ı' => out.push('i'),
            'ς' => out.push('σ'),
            // Typographic ones are typed as plain ones.
            '’' | '‘' | 'ʼ' => out.push('\''),
            '“' | '”' | '„' => out.push('"'),
            '‐' | '‑' | '–' | '—' => out.push('-'),
            c => out.push(c),
        }
    }
    out.truncate(out.trim_end().len());
    out
}

/// Marks that a person may leave out: accents of Latin, Greek and Cyrillic, points of Hebrew, vowel signs of Arabic; and marks of direction.
fn accent(c: char) -> bool {
    matches!(c,
        '\u{300}'..='\u{36f}' | '\u{1ab0}'..='\u{1aff}' | '\u{1dc0}'..='\u{1dff}' | '\u{20d0}'..='\u{20ff}' | '\u{fe20}'..='\u{fe2f}'
        | '\u{591}'..='\u{5c7}' | '\u{610}'..='\u{61a}' | '\u{64b}'..='\u{65f}' | '\u{670}'
        | '\u{ad}' | '\u{200b}'..='\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}' | '\u{feff}')
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn accents_and_capitals_do_not_count() {
        for (a, b) in [
            ("Élise’s  Workroom", "elise's workroom"),
            ("GRÖSSE", "größe"),
            ("Пальто Ёлка", "пальто елка"),
            ("ΧΙΤΏΝΑΣ", "χιτωνας"),
            ("ﬁchu", "FICHU"),
            ("שִׂמְלָה", "שמלה"),
            ("ｋｉｍｏｎｏ", "Kimono"),
            ("한복", "한복"),
        ] {
            assert_eq!(folded(a), folded(b), "{a} {b}");
        }
        assert_ne!(folded("कि"), folded("का"), "vowel signs are letters");
    }

    proptest! {
        #[test]
        fn folding_twice_is_folding_once(text in ".{0,40}") {
            let once = folded(&text);
            prop_assert_eq!(folded(&once), once);
        }
    }
}
