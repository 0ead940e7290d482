//! Names, checked; and corners that need one of their own.

use super::error::MendError;
use crate::notes::ShotNotes;
use crate::write::Record;

/// Longest name, characters.
pub(super) const LONGEST: usize = 80;

/// A name without blanks around it.
///
/// # Errors
/// It is empty, too long, or has a control character in it, or a sign that parts names in a join.
pub(super) fn name<'a>(what: &'static str, name: &'a str) -> Result<&'a str, MendError> {
    let name = name.trim();
    // Marks that turn the direction of letters round make one name look like another.
    let unseen =
        |c: char| c.is_control() || matches!(c, '\u{200e}' | '\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2066}'..='\u{2069}' | '\u{feff}');
    if name.is_empty() || name.chars().count() > LONGEST || name.chars().any(unseen) {
        return Err(MendError::Name { what });
    }
    // Joins write "front: side + front: hem".
    let signs: &[char] = match what {
        "a piece" => &['+', ':'],
        "an edge" | "a corner" => &['+'],
        _ => &[],
    };
    match signs.iter().find(|sign| name.contains(**sign)) {
        Some(sign) => Err(MendError::Sign { what, sign: *sign }),
        None => Ok(name),
    }
}

/// Sees that no corner or mark of the picture has a name yet.
///
/// # Errors
/// One has.
pub(super) fn free(notes: &ShotNotes, name: &str) -> Result<(), MendError> {
    let marks = notes.marks.iter().flat_map(|m| &m.names);
    if notes.corners.iter().map(|c| &c.name).chain(marks).any(|n| n == name) {
        return Err(MendError::Taken { what: "corner or mark of this picture", name: name.to_owned() });
    }
    Ok(())
}

/// Whether the notes name a corner so, or a mark that lies at it.
pub(super) fn noted(notes: &ShotNotes, name: &str) -> bool {
    notes.corners.iter().any(|c| c.name == name) || notes.marks.iter().flat_map(|m| &m.names).any(|n| n == name)
}

/// The name under which the notes can tell of a corner of the record: its own, unless another piece of the picture has a corner of that
/// name too, which only happens to plain numbers that no notes hold; then the next number that is free.
pub(super) fn own(record: &Record, notes: &ShotNotes, piece: usize, corner: usize) -> String {
    apart(record, notes, piece, corner, "")
}

/// The same, other than a name that was just given.
pub(super) fn apart(record: &Record, notes: &ShotNotes, piece: usize, corner: usize, given: &str) -> String {
    let all = || record.pieces.iter().flat_map(|p| &p.corners).map(|c| c.name.as_str());
    let name = record.pieces[piece].corners[corner].name.as_str();
    if noted(notes, name) || all().filter(|n| *n == name).count() == 1 {
        return name.to_owned();
    }
    let taken = |n: &String| n == given || noted(notes, n) || all().any(|c| c == n);
    (all().count() + 1..).map(|n| format!("corner {n}")).find(|n| !taken(n)).unwrap_or_default()
}
