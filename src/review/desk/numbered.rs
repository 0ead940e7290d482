//! Pieces that go by a number alone and get another one by a correction: what the notes tell of them goes along.

use crate::trace::is_number;
use crate::write::{PieceRecord, path_from_text};
use kurbo::{BezPath, Point, Shape};

/// A piece of more than this many times another's area, or of less than its part, is another one.
const LIKE: f64 = 1.5;

/// How well a piece after the correction fits one before it, the less the better; none where it does not.
type Rank<'a> = dyn Fn(&Lying, &Lying) -> Option<f64> + 'a;

/// A piece as it lies.
struct Lying {
    path: BezPath,
    area: f64,
    middle: Point,
}

impl Lying {
    fn of(piece: &PieceRecord) -> Option<Self> {
        let path = path_from_text(&piece.outline).ok()?;
        Some(Self { area: path.area().abs(), middle: path.bounding_box().center(), path })
    }

    fn holds(&self, other: &Self) -> bool {
        self.path.contains(other.middle)
    }
}

/// Pieces that went by a number and go by another name now, with that name; none where the piece is no more. The same piece is one that
/// lies where it lay and is about as large; of one that was parted it is the largest part.
pub(super) fn renumbered(before: &[PieceRecord], after: &[PieceRecord]) -> Vec<(String, Option<String>)> {
    let lying = |all: &[PieceRecord]| all.iter().map(Lying::of).collect::<Vec<_>>();
    let (old, new) = (lying(before), lying(after));
    let mut found: Vec<Option<usize>> = vec![None; before.len()];
    let there = |a: &Lying, b: &Lying| a.holds(b) || b.holds(a);
    let as_large = |a: &Lying, b: &Lying| (1.0 / LIKE..LIKE).contains(&(a.area / b.area));
    // First what is alike, the nearest before others; then parts, the largest before others.
    let alike = |a: &Lying, b: &Lying| (there(a, b) && as_large(a, b)).then(|| a.middle.distance(b.middle));
    let part = |a: &Lying, b: &Lying| there(a, b).then_some(-b.area);
    let rounds: [&Rank; 2] = [&alike, &part];
    for rank in rounds {
        let mut pairs: Vec<(f64, usize, usize)> = Vec::new();
        for (i, a) in old.iter().enumerate() {
            for (j, b) in new.iter().enumerate() {
                if let (Some(a), Some(b)) = (a, b)
                    && let Some(rank) = rank(a, b)
                {
                    pairs.push((rank, i, j));
                }
            }
        }
        pairs.sort_by(|p, q| p.0.total_cmp(&q.0));
        for (_, i, j) in pairs {
            if found[i].is_none() && !found.contains(&Some(j)) {
                found[i] = Some(j);
            }
        }
    }
    let named =
        before.iter().zip(found).filter(|(p, _)| is_number(&p.name)).map(|(p, j)| (p.name.clone(), j.map(|j| after[j].name.clone())));
    named.filter(|(old, new)| new.as_ref() != Some(old)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::write::Record;

    /// Squares at places along a line, by their names.
    fn squares(all: &[(&str, f64, f64)]) -> Vec<PieceRecord> {
        let record = Record::from_text(include_str!("../../../tests/golden/outline.json")).expect("the golden record");
        let square = |(name, x, wide): &(&str, f64, f64)| {
            let mut piece = record.pieces[0].clone();
            piece.name = (*name).into();
            piece.outline = format!("M {x} 0 L {} 0 L {} 100 L {x} 100 Z", x + wide, x + wide);
            piece
        };
        all.iter().map(square).collect()
    }

    #[test]
    fn a_piece_is_known_by_where_it_lies() {
        let before = squares(&[("piece 1", 0.0, 100.0), ("piece 2", 150.0, 80.0), ("piece 3", 300.0, 60.0)]);
        let dropped = squares(&[("piece 1", 150.5, 80.0), ("piece 2", 300.0, 60.0)]);
        let name = |n: &str| Some(n.to_owned());
        let one = |old: &str, new: Option<String>| (old.to_owned(), new);
        assert_eq!(renumbered(&before, &dropped), [one("piece 1", None), one("piece 2", name("piece 1")), one("piece 3", name("piece 2"))]);
        assert_eq!(renumbered(&before, &before), []);
        // Parted: the larger part is the piece; the others move on.
        let parted = squares(&[("piece 1", 0.0, 40.0), ("piece 2", 41.0, 59.0), ("piece 3", 150.0, 80.0), ("piece 4", 300.0, 60.0)]);
        let new = [one("piece 1", name("piece 2")), one("piece 2", name("piece 3")), one("piece 3", name("piece 4"))];
        assert_eq!(renumbered(&before, &parted), new);
        // A person's own names are left alone.
        assert_eq!(renumbered(&squares(&[("front", 0.0, 100.0)]), &squares(&[("piece 1", 0.0, 100.0)])), []);
        assert_eq!(renumbered(&squares(&[("piece 1", 0.0, 100.0)]), &squares(&[("front", 0.0, 100.0)])), [one("piece 1", name("front"))]);
    }
}
