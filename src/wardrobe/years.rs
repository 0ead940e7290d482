//! When a garment was made, as years to compare by.

/// First and last year it may be of.
pub(super) type Years = [i32; 2];

/// From the record's two ends where they are told, else from the years, decades and centuries in its words.
pub(super) fn years(earliest: Option<&str>, latest: Option<&str>, words: Option<&str>) -> Option<Years> {
    let year = |day: Option<&str>| day.and_then(|d| d.get(..4)).and_then(|y| y.parse::<i32>().ok());
    match (year(earliest), year(latest)) {
        (None, None) => words.and_then(in_words),
        (first, last) => Some([first.unwrap_or(i32::MIN), last.unwrap_or(i32::MAX)]),
    }
}

/// All years that a text names: `1911`, `1930s`, `1900s` (the century), `19th century`.
fn in_words(text: &str) -> Option<Years> {
    let tokens: Vec<&str> = text.split(|c: char| !c.is_alphanumeric()).filter(|t| !t.is_empty()).collect();
    let named = tokens.iter().enumerate().filter_map(|(k, token)| {
        let digits = token.bytes().take_while(u8::is_ascii_digit).count();
        let (number, rest) = token.split_at(digits);
        let n: i32 = number.parse().ok()?;
        match (digits, rest) {
            (4, "") if (1000..3000).contains(&n) => Some([n, n]),
            (4, "s") if (1000..3000).contains(&n) => Some([n, n + if n % 100 == 0 { 99 } else { 9 }]),
            (1 | 2, "st" | "nd" | "rd" | "th") if tokens.get(k + 1).is_some_and(|t| t.to_lowercase().starts_with("centur")) => {
                Some([(n - 1) * 100, n * 100 - 1])
            }
            _ => None,
        }
    });
    named.reduce(|a, b| [a[0].min(b[0]), a[1].max(b[1])])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn years_are_read_from_ends_and_from_words() {
        assert_eq!(years(Some("1905-03"), Some("1911"), Some("1700")), Some([1905, 1911]));
        assert_eq!(years(None, Some("1911"), None), Some([i32::MIN, 1911]));
        assert_eq!(years(None, None, Some("1930s, remade in the 1960s")), Some([1930, 1969]));
        assert_eq!(years(None, None, Some("late 18th century")), Some([1700, 1799]));
        assert_eq!(years(None, None, Some("about 1911, lot 42")), Some([1911, 1911]));
        assert_eq!(years(None, None, Some("old")), None);
        assert_eq!(years(Some("x"), None, None), None);
    }
}
