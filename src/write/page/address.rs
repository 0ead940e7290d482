//! What pages that are joined are called.

/// Row and column of a page: `B3`.
pub(in crate::write) fn address(row: usize, column: usize) -> String {
    format!("{}{}", row_word(row), column + 1)
}

/// A row: A to Z, then AA, AB …
pub(in crate::write) fn row_word(row: usize) -> String {
    let letter = |k: usize| char::from(b'A' + (k % 26) as u8);
    if row < 26 { letter(row).to_string() } else { format!("{}{}", row_word(row / 26 - 1), letter(row)) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rows_are_lettered() {
        assert_eq!(address(0, 0), "A1");
        assert_eq!(address(25, 9), "Z10");
        assert_eq!(address(26, 0), "AA1");
        assert_eq!(address(52, 0), "BA1");
    }
}
