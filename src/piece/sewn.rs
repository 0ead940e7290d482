//! Edges that are sewn together, laid against each other and walked: lengths, notches, and the line across the seam.
//!
//! As in the workroom, both are walked on the line that was found, from the corner where they meet, section by section between
//! notches. Nothing is altered here.

use super::layer::alike;
use super::pairs::{place, sideless};
use super::row::{End, Row, numbered};
use super::walk::Walk;
use crate::notes::EdgeName;
use kurbo::{BezPath, Vec2};
use nalgebra::{SMatrix, SVector};

/// How the pieces' other edges run across the seam at one end of it.
#[derive(Clone, Debug, PartialEq)]
pub struct Across {
    /// The corner of the first piece there.
    pub corner: String,
    /// The two edges that run on across the seam.
    pub edges: [String; 2],
    /// Both pieces' angles within, added up, less 180°: 0 runs on smoothly; less, and the cloth stands out in a point, more, and it has a dent.
    pub bend_deg: f64,
    /// What that is known to, degrees (95 %): by the errors of the corners, and by how much a parabola through the same places would turn it.
    pub known_to_deg: f64,
}

impl Across {
    /// What the lines make across the seam, where they do not run on.
    pub fn makes(&self) -> &'static str {
        if self.bend_deg < 0.0 { "point" } else { "dent" }
    }
}

/// A stretch between two notches.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Section {
    /// Its length on either side, mm.
    pub lengths: [f64; 2],
}

/// Two rows walked against each other.
#[derive(Clone, Debug, PartialEq)]
pub struct Walked {
    /// Length of either side as sewn, mm.
    pub lengths: [f64; 2],
    /// What the difference of the lengths is known to, mm (95 %), from the errors of the corners alone.
    pub known_to: f64,
    /// Between notches, when both sides have equally many and no pleats or gathers lie along them; else the whole.
    pub sections: Vec<Section>,
    /// How many notches either side has.
    pub notches: [usize; 2],
    /// At both ends of the seam, where both pieces have another edge there.
    pub across: Vec<Across>,
    /// Whether the corners' names (or the notes) say which ends meet; else edges are taken to run against each other.
    pub ends_known: bool,
    /// Whether the second row was walked the way it runs, else backwards.
    pub same_way: bool,
}

/// Why `meet` of a join can't be followed.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum MeetError {
    /// A corner that is no end of a side.
    #[error("meet names {corner}, where neither side ends as it is sewn; they end at {ends}")]
    NoEnd {
        /// The corner.
        corner: String,
        /// Corners where the sides end.
        ends: String,
    },
    /// A corner that is both.
    #[error("meet names {corner}, which is at both ends of its side; give those corners names of their own")]
    BothEnds {
        /// The corner.
        corner: String,
    },
}

/// Where the direction of an edge at its corner is taken, mm from the corner.
const LOOKED: (f64, f64) = (3.0, 15.0);
/// Two standard errors hold 95 %.
const SURE: f64 = 1.96;

impl End<'_> {
    /// The angle within the piece at this corner, and what it is known to, degrees.
    fn within(&self) -> (f64, f64) {
        let n = self.layer.edges.len();
        let (before, p) = leaving(&self.layer.edges[(self.corner + n - 1) % n].path, true);
        let (after, q) = leaving(&self.layer.edges[self.corner].path, false);
        // The corner's error turns either edge about its far end.
        let turn = SURE * std::f64::consts::SQRT_2 * self.layer.corners[self.corner].error.unwrap_or(0.0) / LOOKED.1;
        let before = -before;
        (180.0 - before.cross(after).atan2(before.dot(after)).to_degrees(), turn.to_degrees() + p + q)
    }
}

/// The direction in which an edge leaves its start (or its end, walked backwards): that of the cubic through what lies from
/// 3 to 15 mm from the corner. The very end of a traced curve is carried on from there, and its own tangent tells little. A cubic follows
/// a neck that bends ever more tightly towards its shoulder (to a radius of 18 mm) within 1.5°, where a parabola is 6° out.
/// Also by how much a parabola's direction differs, degrees.
fn leaving(path: &BezPath, from_end: bool) -> (Vec2, f64) {
    let walk = Walk::of(path);
    let long = walk.length();
    let at = |s: f64| walk.at(if from_end { long - s } else { s });
    let reach = LOOKED.1.min(long / 2.0);
    let near = LOOKED.0.min(reach / 4.0);
    let rows: Vec<(f64, Vec2)> = (0..=12).map(|k| near + (reach - near) * f64::from(k) / 12.0).map(|s| (s, at(s).to_vec2())).collect();
    match (slope::<4>(&rows), slope::<3>(&rows)) {
        (Some(cubic), Some(parabola)) => (cubic, cubic.cross(parabola).atan2(cubic.dot(parabola)).to_degrees().abs()),
        _ => (walk.along(if from_end { long } else { 0.0 }) * if from_end { -1.0 } else { 1.0 }, 0.0),
    }
}

/// Direction at nothing of the polynomial with `N` terms through places by their distance along (least squares).
fn slope<const N: usize>(rows: &[(f64, Vec2)]) -> Option<Vec2> {
    let mut normal = SMatrix::<f64, N, N>::zeros();
    let (mut x, mut y) = (SVector::<f64, N>::zeros(), SVector::<f64, N>::zeros());
    for (s, p) in rows {
        let row = SVector::<f64, N>::from_fn(|i, _| s.powi(i as i32));
        normal += row * row.transpose();
        x += row * p.x;
        y += row * p.y;
    }
    let solver = normal.cholesky()?;
    Some(Vec2::new(solver.solve(&x)[1], solver.solve(&y)[1]))
}

/// Walks the second row along the first. `meet` are two corners that lie together, where the names don't tell.
///
/// # Errors
/// `meet` names a corner at which neither row ends, or both ends of one.
pub fn walked(first: &Row, second: &Row, meet: Option<&[EdgeName; 2]>) -> Result<Walked, MeetError> {
    let (a, b) = (first.ends(), second.ends());
    let (same, ends_known) = direction(&a, &b, meet)?;
    let lengths = [first.length(), second.length()];
    let mut notches = [first.notches(), second.notches()];
    if !same {
        notches[1] = notches[1].iter().rev().map(|n| lengths[1] - n).collect();
    }
    let sections = match (notches[0].len(), notches[1].len()) {
        (n, m) if n == m && !first.full() && !second.full() => {
            let stretches = |k: usize| {
                let stops: Vec<f64> = std::iter::once(0.0).chain(notches[k].iter().copied()).chain([lengths[k]]).collect();
                stops.windows(2).map(|w| w[1] - w[0]).collect::<Vec<_>>()
            };
            stretches(0).into_iter().zip(stretches(1)).map(|(p, q)| Section { lengths: [p, q] }).collect()
        }
        _ => vec![Section { lengths }],
    };
    let b = if same { b } else { [b[1], b[0]] };
    let own = |row: &Row, last: bool| if last { row.parts.last() } else { row.parts.first() }.and_then(|(p, _)| p.edge);
    let across = (0..2)
        .filter_map(|k| {
            let (p, q) = (a[k]?, b[k]?);
            let edges = [p.layer.edges.get(p.other(own(first, k == 1)?))?, q.layer.edges.get(q.other(own(second, (k == 1) == same)?))?];
            let ((a, da), (b, db)) = (p.within(), q.within());
            let edges = [p.called(&edges[0].name), q.called(&edges[1].name)];
            Some(Across { corner: p.name(), edges, bend_deg: a + b - 180.0, known_to_deg: da + db })
        })
        .collect();
    Ok(Walked {
        lengths,
        known_to: SURE * (first.doubt() + second.doubt()).sqrt(),
        sections,
        notches: [notches[0].len(), notches[1].len()],
        across,
        ends_known,
        same_way: same,
    })
}

/// The ends of a row.
type Ends<'a> = [Option<End<'a>>; 2];

/// Whether the second row runs the same way as the first, and whether that is known: a person says which corners lie together, or their names
/// do, else those without left and right, else those with front and back of their pieces, else those without the word side; last, the ends
/// whose names have more words in common. Rows of which nothing is known run against each other.
pub(super) fn direction(a: &Ends, b: &Ends, meet: Option<&[EdgeName; 2]>) -> Result<(bool, bool), MeetError> {
    if let Some(meet) = meet {
        return Ok((met(a, b, meet)?, true));
    }
    let numbered = |e: &End| numbered(&e.layer.corners[e.corner].name);
    // Left and right don't tell ends apart, but a cap's underarm and an armhole's are one place.
    let level = |level: usize, p: &End, q: &End| match level {
        0 => alike(&p.name(), &q.name()),
        1 => alike(&sideless(&p.name()), &sideless(&q.name())),
        2 => p.facing() == q.facing(),
        _ => !place(&p.name()).is_empty() && alike(&place(&p.name()), &place(&q.name())),
    };
    for k in 0..4 {
        let one = |p: &Option<End>, q: &Option<End>| p.zip(*q).is_some_and(|(p, q)| !numbered(&p) && level(k, &p, &q));
        match (one(&a[0], &b[0]) || one(&a[1], &b[1]), one(&a[0], &b[1]) || one(&a[1], &b[0])) {
            (true, false) => return Ok((true, true)),
            (false, true) => return Ok((false, true)),
            _ => {}
        }
    }
    let shared =
        |p: &Option<End>, q: &Option<End>| p.zip(*q).filter(|(p, q)| !numbered(p) && !numbered(q)).map_or(0, |(p, q)| words_shared(&p, &q));
    let (same, against) = (shared(&a[0], &b[0]) + shared(&a[1], &b[1]), shared(&a[0], &b[1]) + shared(&a[1], &b[0]));
    Ok((same > against, same != against))
}

/// How many words the names of two ends have in common, left, right and side apart: `hem side` and `hem corner` are both at the hem.
fn words_shared(p: &End, q: &End) -> usize {
    let words = |e: &End| place(&e.name()).to_lowercase().split_whitespace().map(str::to_owned).collect::<Vec<_>>();
    let others = words(q);
    words(p).iter().filter(|w| others.contains(w)).count()
}

/// Whether rows run the same way when two corners lie together, whichever of them the notes name first.
fn met(a: &Ends, b: &Ends, meet: &[EdgeName; 2]) -> Result<bool, MeetError> {
    let number = |ends: &Ends, corner: &EdgeName| {
        let at = |beyond: bool| (0..2).filter(|&k| ends[k].is_some_and(|e| e.is(corner, beyond))).collect::<Vec<_>>();
        let own = at(false);
        match if own.is_empty() { at(true) } else { own }[..] {
            [k] => Ok(k),
            [] => Err(MeetError::NoEnd { corner: corner.to_string(), ends: list(a.iter().chain(b)) }),
            _ => Err(MeetError::BothEnds { corner: corner.to_string() }),
        }
    };
    let [m, n] = meet;
    let straight = number(a, m).and_then(|i| Ok(i == number(b, n)?));
    straight.or_else(|e| number(a, n).and_then(|i| Ok(i == number(b, m)?)).map_err(|_| e))
}

/// Corners at ends, as the notes name them.
fn list<'a>(ends: impl Iterator<Item = &'a Option<End<'a>>>) -> String {
    let all: Vec<String> = ends.flatten().map(|e| format!("\"{}: {}\"", e.piece, e.name())).collect();
    if all.is_empty() { "no corners, for they lie within their pieces".into() } else { all.join(", ") }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// On a circle of 40 mm, tighter than any neck, the direction at the end is the tangent's within 0.6°, also when the first
    /// 2 mm are bent off by 0.3 mm as the end of a traced curve may be.
    #[test]
    fn the_direction_at_a_corner_is_that_of_the_line_beyond_it() {
        let arc = kurbo::Arc::new((0.0, 0.0), (40.0, 40.0), 0.0, 1.5, 0.0);
        let mut path = BezPath::new();
        path.move_to((40.0, 0.0));
        arc.append_iter(1e-6).for_each(|el| path.push(el));
        let off = |p: &BezPath, end: bool, tangent: Vec2| {
            leaving(p, end).0.cross(tangent).atan2(leaving(p, end).0.dot(tangent)).to_degrees().abs()
        };
        assert!(off(&path, false, Vec2::new(0.0, 1.0)) < 0.6, "{}", off(&path, false, Vec2::new(0.0, 1.0)));
        let last = Vec2::new(1.5f64.sin(), -1.5f64.cos());
        assert!(off(&path, true, last) < 0.6, "{}", off(&path, true, last));
        let mut bent = BezPath::new();
        bent.move_to((40.3, 0.0));
        let rest = Walk::of(&path).part(2.0, 60.0);
        bent.line_to(Walk::of(&path).at(2.0));
        bent.extend(rest.elements().iter().skip(1).copied());
        assert!(off(&bent, false, Vec2::new(0.0, 1.0)) < 1.2, "{}", off(&bent, false, Vec2::new(0.0, 1.0)));
    }
}
