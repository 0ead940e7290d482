//! Tape readings held against what was measured in pictures.

use super::layer::alike;
use super::measures::{DOUBLED, Measure};
use crate::length::Length;
use crate::notes::Tape;

/// A tape reading beside the same measure by the picture.
#[derive(Clone, Debug, PartialEq)]
pub struct Compared<'a> {
    /// The reading.
    pub tape: &'a Tape,
    /// What it is held against, by its number; of left and right, both; none where that is a sum over two pieces.
    pub measures: Vec<usize>,
    /// What the tape would read flat, mm.
    pub taped: f64,
    /// Whether darts that lay open were closed for that.
    pub closed: bool,
    /// What the picture says, mm: the mean of left and right where the tape does not say which.
    pub seen: f64,
    /// How far below and above the tape's reading the trade lets a garment be, mm.
    pub tolerance: [f64; 2],
    /// Whether the two differ by more than that and what the picture may be out by.
    pub disagrees: bool,
}

impl Compared<'_> {
    /// How much more the picture says than the tape, mm.
    pub fn off(&self) -> f64 {
        self.seen - self.taped
    }
}

const fn inches(v: f64) -> f64 {
    Length::from_inches(v).mm()
}

/// Tolerances of flat measures as a shirtmaker publishes them (propercloth.com, accepted tolerances): chest, waist, bottom, yoke and
/// sleeve length 1/4 in, sleeve width 3/16, centre length 3/8, collar and cuff 1/4 over and 1/8 under, jacket biceps and opening
/// 1/8; of others its usual quarter of an inch is taken.
fn tolerance(name: &str, piece: &str) -> [f64; 2] {
    let band = ["collar", "cuff"].iter().any(|w| piece.to_lowercase().contains(w)) && name == "width";
    match name {
        _ if band => [inches(0.125), inches(0.25)],
        "biceps" => [inches(3.0 / 16.0); 2],
        "sleeve opening" => [inches(0.125); 2],
        "centre length" | "length" => [inches(0.375); 2],
        _ => [inches(0.25); 2],
    }
}

/// Whether a reading's words name a measure, with or without its side; the doubled width of a half is the width itself.
pub(crate) fn names(what: &str, measure: &str, side: Option<&str>) -> bool {
    let own = measure.strip_suffix(DOUBLED).unwrap_or(measure);
    alike(what, measure) || alike(what, own) || side.is_some_and(|side| alike(what, &format!("{own} {side}")))
}

/// Every reading that belongs to a piece and to one of its measures, with both.
pub fn compared<'a>(piece: &str, measures: &[Measure], tapes: &'a [Tape]) -> Vec<Compared<'a>> {
    let own = tapes.iter().filter(|t| t.piece.as_deref().is_none_or(|p| alike(p, piece)));
    own.filter_map(|tape| {
        let called = |m: &Measure| names(&tape.what, m.name, m.side);
        let found: Vec<usize> = (0..measures.len()).filter(|&k| called(&measures[k])).collect();
        let first = measures.get(*found.first()?)?;
        let n = found.len() as f64;
        let seen = found.iter().map(|&k| measures[k].length).sum::<f64>() / n;
        // A measure without a bound claims nothing: the tape can't disagree with it by less than the tolerance.
        let bound = found.iter().filter_map(|&k| measures[k].bound).fold(0.0, f64::max);
        let taped = tape.reading.mm() / if tape.round && first.half_round { 2.0 } else { 1.0 };
        let tolerance = tolerance(first.name, piece);
        let off = seen - taped;
        let disagrees = off > tolerance[1] + bound || -off > tolerance[0] + bound;
        let closed = found.iter().any(|&k| measures[k].closed > 0.0);
        Some(Compared { tape, measures: found, taped, closed, seen, tolerance, disagrees })
    })
    .collect()
}

/// Widths that run round a leg, over its front and its back.
const ROUND_A_LEG: [&str; 3] = ["thigh", "knee", "leg opening"];

/// Every reading that was held all round a leg, of no piece in particular, with the sum of what the leg's front and back have of it: a back is wider than its
/// front, so that neither is half of it.
pub fn compared_round<'a>([front, back]: [&[Measure]; 2], tapes: &'a [Tape]) -> Vec<Compared<'a>> {
    let round = tapes.iter().filter(|t| t.round && t.piece.is_none());
    round
        .filter_map(|tape| {
            let name = ROUND_A_LEG.into_iter().find(|name| names(&tape.what, name, None))?;
            let of = |all: &[Measure]| all.iter().find(|m| m.name == name).map(|m| (m.length, m.bound.unwrap_or_default()));
            let ((a, near), (b, far)) = (of(front)?, of(back)?);
            let (seen, bound, taped, tolerance) = (a + b, near + far, tape.reading.mm(), tolerance(name, "").map(|t| 2.0 * t));
            let disagrees = seen - taped > tolerance[1] + bound || taped - seen > tolerance[0] + bound;
            Some(Compared { tape, measures: Vec::new(), taped, closed: false, seen, tolerance, disagrees })
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::super::Taken;
    use super::*;
    use crate::length::Mm;
    use crate::notes::InLine;

    fn measure(name: &'static str, side: Option<&'static str>, length: f64) -> Measure {
        Measure {
            name,
            side,
            length,
            bound: Some(0.5),
            taken: Taken::Straight([Mm::default(); 2]),
            half_round: name == "chest",
            laid: None,
            closed: 0.0,
        }
    }

    fn tape(what: &str, mm: f64, round: bool) -> Tape {
        Tape {
            what: what.into(),
            reading: Length::from_mm(mm),
            piece: None,
            round,
            by: None,
            on: None,
            remarks: None,
            line: InLine::default(),
        }
    }

    /// A quarter of an inch is 6.35 mm, on top of the half millimetre that the picture may be out by.
    #[test]
    fn beyond_the_trades_tolerance_is_a_doubt() {
        let measures = [measure("chest", None, 500.0), measure("shoulder", Some("left"), 140.0), measure("shoulder", Some("right"), 144.0)];
        let disagrees = |what, mm, round| {
            let tapes = [tape(what, mm, round)];
            let found = compared("front", &measures, &tapes);
            assert_eq!(found.len(), 1, "{what}");
            found[0].disagrees
        };
        assert!(!disagrees("chest", 506.8, false) && disagrees("chest", 506.9, false));
        assert!(!disagrees("Chest", 1000.0, true) && disagrees("chest", 1020.0, true));
        assert!(
            !disagrees("shoulder", 142.0, false) && disagrees("shoulder left", 147.0, false) && !disagrees("shoulder right", 147.0, false)
        );
        let half = [measure("half chest", None, 250.0), Measure { half_round: true, ..measure("chest, doubled", None, 500.0) }];
        let chest = [tape("chest", 1001.0, true)];
        let found = compared("front", &half, &chest);
        assert!(found.len() == 1 && found[0].measures == [1] && !found[0].disagrees, "{found:?}");
        assert!(compared("front", &measures, &[tape("hip", 500.0, false)]).is_empty());
        let of_back = [Tape { piece: Some("back".into()), ..tape("chest", 500.0, false) }];
        assert!(compared("front", &measures, &of_back).is_empty());
    }

    /// Of a leg's two pieces: 260 and 300 mm are 560 all round, not twice either; half an inch all round is a quarter flat.
    #[test]
    fn a_thigh_all_round_is_front_and_back() {
        let [front, back] = [260.0, 300.0].map(|long| [measure("thigh", None, long)]);
        let disagrees = |mm| compared_round([&front, &back], &[tape("thigh", mm, true)])[0].disagrees;
        assert!(!disagrees(560.0) && !disagrees(573.6) && disagrees(573.8) && disagrees(520.0) && disagrees(600.0));
        assert!(compared_round([&front, &back], &[tape("thigh", 280.0, false), tape("chest", 900.0, true)]).is_empty());
    }

    /// R-TRD-20: collar 1/4 in over, 1/8 under; sleeve width 3/16; centre length 3/8.
    #[test]
    fn published_tolerances() {
        assert_eq!(tolerance("width", "collar"), [3.175, 6.35]);
        assert_eq!(tolerance("biceps", "sleeve"), [4.7625; 2]);
        assert_eq!(tolerance("centre length", "front"), [9.525; 2]);
        assert_eq!(tolerance("chest", "front"), [6.35; 2]);
    }
}
