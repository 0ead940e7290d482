//! Measures of a piece that lay folded and was pictured from both its faces: each face's own widths are told as those of that face, and what runs
//! all round, a trouser leg's thigh or a sleeve's biceps, as the sum of both (common practice, no source). A back is wider than its front, so
//! that twice the one would be neither.

use super::measures::{DOUBLED, Measure, known};
use crate::notes::{PieceKind, Up};

/// What a face is called.
fn word(up: Up) -> &'static str {
    match up {
        Up::Front => "front",
        Up::Back => "back",
    }
}

/// What kind of piece one face of it is: of a leg or a body the front or the back.
pub fn kind_of_face(kind: PieceKind, up: Up) -> PieceKind {
    match (kind, up) {
        (PieceKind::TrouserFront | PieceKind::TrouserBack, Up::Front) => PieceKind::TrouserFront,
        (PieceKind::TrouserFront | PieceKind::TrouserBack, Up::Back) => PieceKind::TrouserBack,
        (PieceKind::BodyFront | PieceKind::BodyBack, Up::Front) => PieceKind::BodyFront,
        (PieceKind::BodyFront | PieceKind::BodyBack, Up::Back) => PieceKind::BodyBack,
        (other, _) => other,
    }
}

/// Measures of one face as those of that face; nothing of it is doubled, since the other one was seen.
pub fn of_face(measures: Vec<Measure>, up: Up) -> Vec<Measure> {
    let own = measures.into_iter().filter(|m| !m.name.ends_with(DOUBLED));
    own.map(|m| Measure { side: m.side.or(Some(word(up))), ..m }).collect()
}

/// Measures of a face, each half of a width followed by its sum with the other face's.
pub fn with_sums(own: Vec<Measure>, other: &[Measure]) -> Vec<Measure> {
    let sum = |m: &Measure| {
        let name = known(m.name.strip_prefix("half ")?)?;
        let theirs = other.iter().find(|o| o.name == m.name)?;
        let bound = m.bound.zip(theirs.bound).map(|(a, b)| a + b);
        let closed = m.closed + theirs.closed;
        Some(Measure { name, side: None, length: m.length + theirs.length, bound, half_round: false, closed, ..m.clone() })
    };
    own.into_iter().flat_map(|m| [sum(&m), Some(m)].into_iter().rev().flatten()).collect()
}

#[cfg(test)]
mod tests {
    use super::super::Taken;
    use super::*;
    use crate::length::Mm;

    fn measure(name: &'static str, length: f64) -> Measure {
        let taken = Taken::Straight([Mm::default(); 2]);
        Measure { name, side: None, length, bound: Some(0.5), taken, half_round: name.starts_with("half"), laid: None, closed: 0.0 }
    }

    /// A leg whose back is 24 mm wider than its front: 260 + 284 mm all round, neither 520 nor 568; each rise is its own face's.
    #[test]
    fn a_leg_is_as_wide_as_both_its_faces() {
        let front = of_face(vec![measure("half thigh", 260.0), measure("thigh, doubled", 520.0), measure("front rise", 226.0)], Up::Front);
        let back = of_face(vec![measure("half thigh", 284.0), measure("thigh, doubled", 568.0), measure("back rise", 256.0)], Up::Back);
        let told: Vec<_> = with_sums(front, &back).into_iter().map(|m| (m.name, m.side, m.length, m.bound, m.half_round)).collect();
        let want = [
            ("half thigh", Some("front"), 260.0, Some(0.5), true),
            ("thigh", None, 544.0, Some(1.0), false),
            ("front rise", Some("front"), 226.0, Some(0.5), false),
        ];
        assert_eq!(told, want);
        assert_eq!(kind_of_face(PieceKind::TrouserFront, Up::Back), PieceKind::TrouserBack);
        assert_eq!(kind_of_face(PieceKind::Sleeve, Up::Back), PieceKind::Sleeve);
    }
}
