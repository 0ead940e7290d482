//! What the first directory of a TIFF says of its entries (TIFF 6.0, section 2; BigTIFF with counts of 64 bits), looked at before a reader
//! makes room for as many values as they claim to have.

/// Tags from here on are private ones, which nothing needs: let them claim what they like.
const PRIVATE: u64 = 0x8000;

/// Whether all values that the entries tell of could lie in the file. What can't be followed is left to the reader.
pub(super) fn lie_in(bytes: &[u8]) -> bool {
    all(bytes, &mut |tag, size| tag >= PRIVATE || size.is_some_and(|s| s <= bytes.len() as u64)).unwrap_or(true)
}

/// Whether something holds of every entry's tag and its values' bytes, none where that overflows; none where there is no directory.
fn all(bytes: &[u8], hold: &mut dyn FnMut(u64, Option<u64>) -> bool) -> Option<bool> {
    let little = bytes.starts_with(b"II");
    let number = |at: u64, long: usize| {
        let part = bytes.get(usize::try_from(at).ok()?..)?.get(..long)?;
        let add = |n: u64, b: &u8| n << 8 | u64::from(*b);
        Some(if little { part.iter().rev().fold(0, add) } else { part.iter().fold(0, add) })
    };
    // Places of the directory's own place and of its entries' counts; bytes of a place, of how many entries there are, of an entry.
    let (place, long, many, entry) = if number(2, 2)? == 43 { (8, 8, 8, 20) } else { (4, 4, 2, 12) };
    let start = number(place, long)?;
    let first = start.checked_add(many as u64)?;
    for k in 0..number(start, many)? {
        let at = k.checked_mul(entry).and_then(|a| a.checked_add(first))?;
        let (tag, kind, count) = (number(at, 2)?, number(at + 2, 2)?, number(at + 4, long)?);
        if !hold(tag, count.checked_mul(bytes_of(kind))) {
            return Some(false);
        }
    }
    Some(true)
}

/// Bytes of a value by its type (TIFF 6.0, page 15; BigTIFF adds 16 to 18).
fn bytes_of(kind: u64) -> u64 {
    match kind {
        3 | 8 => 2,
        4 | 9 | 11 | 13 => 4,
        5 | 10 | 12 | 16..=18 => 8,
        _ => 1,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A directory with one entry.
    fn file(little: bool, big: bool, tag: u16, kind: u16, count: u64) -> Vec<u8> {
        let mut out = if little { b"II".to_vec() } else { b"MM".to_vec() };
        let mut put = |v: u64, long: usize| {
            let all = if little { v.to_le_bytes().to_vec() } else { v.to_be_bytes().to_vec() };
            out.extend(if little { &all[..long] } else { &all[8 - long..] });
        };
        if big {
            [(43, 2), (8, 2), (0, 2), (16, 8), (1, 8)].into_iter().for_each(|(v, long)| put(v, long));
        } else {
            [(42, 2), (8, 4), (1, 2)].into_iter().for_each(|(v, long)| put(v, long));
        }
        put(u64::from(tag), 2);
        put(u64::from(kind), 2);
        put(count, if big { 8 } else { 4 });
        put(0, 8);
        out
    }

    #[test]
    fn entries_that_claim_more_than_the_file_holds_are_told() {
        const STRIPS: u16 = 273;
        for (little, big) in [(true, false), (false, false), (true, true), (false, true)] {
            assert!(lie_in(&file(little, big, STRIPS, 4, 6)));
            assert!(!lie_in(&file(little, big, STRIPS, 4, 1000)));
            assert!(lie_in(&file(little, big, 0x927C, 7, 1000)), "a maker's notes");
        }
        assert!(!lie_in(&file(true, true, STRIPS, 16, u64::MAX)));
        for k in 0..18 {
            assert!(lie_in(&file(true, false, STRIPS, 4, 6)[..k]), "cut short at {k}");
        }
    }
}
