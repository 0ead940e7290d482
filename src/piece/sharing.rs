//! What is off between two edges that are sewn together, shared out between their pieces: one a little longer, the other a little shorter,
//! and the notches with them, so that every section between two of them comes out as long on either side.

use super::How;
use super::draft::{Change, Piece};
use super::layer::{Layer, alike};
use super::share::slid;
use super::truing::{Joined, NotWalked, Verdict, ends_at_fold, on_fold};
use super::walk::Walk;
use crate::notes::{EdgeName, Join, Notes};
use kurbo::Point;

/// Differences up to this are shared, mm (1/4 in: what the trade tolerates in flat widths; propercloth.com, accepted tolerances); a
/// larger one is a mistake to be found.
const SHARED: f64 = 6.35;

/// A difference that was shared.
#[derive(Clone, Debug, PartialEq)]
pub struct SharedOut {
    /// Both sides as the notes write them.
    pub sides: [String; 2],
    /// What was off, mm.
    pub off: f64,
    /// What moved on either side.
    pub moved: [EdgeMoved; 2],
}

/// An edge that took its share.
#[derive(Clone, Debug, PartialEq)]
pub struct EdgeMoved {
    /// Its piece.
    pub piece: String,
    /// The edge.
    pub edge: String,
    /// How much longer it became, mm.
    pub by: f64,
    /// The corner that slid along it.
    pub corner: String,
    /// How far, mm.
    pub corner_moved: f64,
    /// How far the notch that moved furthest did, mm; `None` where the edge has none.
    pub notch_moved: Option<f64>,
}

/// Why a difference was not shared.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum NotShared {
    /// It is more than is shared.
    #[error("{sides}: {off:.1} mm is too much to share; look for the mistake first")]
    TooMuch {
        /// Both sides.
        sides: String,
        /// What is off, mm.
        off: f64,
    },
    /// A side is put together from several edges.
    #[error("{sides}: only single edges are shared; {off:.1} mm stay")]
    Several {
        /// Both sides.
        sides: String,
        /// What is off, mm.
        off: f64,
    },
    /// An edge can't be made longer or shorter.
    #[error("{sides}: an edge is too short, or lies within its piece; nothing was shared")]
    Fixed {
        /// Both sides.
        sides: String,
    },
}

/// Shares what is off in every join of the notes that is off. `walked` are the joins as they were walked, in the order of the notes.
pub fn shared(notes: &Notes, pieces: &mut [&mut Piece], walked: &[Result<Joined, NotWalked>]) -> Vec<Result<SharedOut, NotShared>> {
    let off = |j: &Joined| j.verdict == Verdict::Off;
    let all = notes.joins.iter().zip(walked).filter_map(|(join, told)| Some((join, told.as_ref().ok().filter(|j| off(j))?)));
    all.map(|(join, j)| one(notes, pieces, join, j)).collect()
}

fn one(notes: &Notes, pieces: &mut [&mut Piece], join: &Join, walked: &Joined) -> Result<SharedOut, NotShared> {
    let [a, b] = &join.edges;
    let sides = format!("{a} to {b}");
    // A cap is told first, wherever the notes name it.
    let sign = if walked.sides[0] == a.to_string() { 1.0 } else { -1.0 };
    let off = sign * walked.off();
    if off.abs() > SHARED {
        return Err(NotShared::TooMuch { sides, off: off.abs() });
    }
    let ([x], [y]) = (a.0.as_slice(), b.0.as_slice()) else { return Err(NotShared::Several { sides, off: off.abs() }) };
    let before = [Along::of(notes, pieces, x), Along::of(notes, pieces, y)];
    let [Some(p), Some(q)] = before else { return Err(NotShared::Fixed { sides }) };
    // Of an edge that ends at the fold there are two.
    let by = [-off / 2.0 / p.times, off / 2.0 / q.times];
    // Both or neither.
    if p.slid(pieces, by[0]).and(q.slid(pieces, by[1])).is_none() {
        return Err(NotShared::Fixed { sides });
    }
    let places = sections(&p, &q, walked.walked.same_way, sign * walked.ease.value);
    let mut moved = [(&p, by[0]), (&q, by[1])].into_iter().enumerate().map(|(k, (own, by))| {
        // Anew for the second: both may be of one piece.
        own.settle(pieces, by, places.as_ref().map(|p| p[k].as_slice()))
    });
    let (Some(Some(first)), Some(Some(second))) = (moved.next(), moved.next()) else { return Err(NotShared::Fixed { sides }) };
    let moved = [first, second];
    Ok(SharedOut { sides: [a.to_string(), b.to_string()], off: off.abs(), moved })
}

/// An edge of a piece before it takes its share.
struct Along {
    number: usize,
    piece: String,
    edge: String,
    /// The stretch of it that gives, as it is named.
    stretch: String,
    /// Whether it is sewn as it lies: no fullness parts or lengthens it, and it does not end at the fold.
    whole: bool,
    /// How many of it there are: two of what ends at the fold.
    times: f64,
    long: f64,
    /// Numbers of its notches among the piece's, with how far along they are, clockwise.
    notches: Vec<(usize, f64)>,
}

impl Along {
    fn of(notes: &Notes, pieces: &[&mut Piece], EdgeName { piece, edge }: &EdgeName) -> Option<Self> {
        let number = pieces.iter().position(|p| alike(&p.name, piece))?;
        let piece = &pieces[number];
        let layer = piece.drafted();
        let (stretches, taken_up) = piece.edges_of(edge);
        let n = layer.corners.len().max(1);
        let hem = |c: usize| layer.corners.get(c % n).is_some_and(|c| c.name.to_lowercase().contains("hem"));
        // Of an edge that a dart parts the stretch that reaches the hem gives, else the last.
        let k = stretches.iter().copied().find(|&k| hem(k) || hem(k + 1)).or_else(|| stretches.last().copied())?;
        let stretch = layer.edges[k].name.clone();
        let mut notches: Vec<(usize, f64)> =
            piece.notches.iter().enumerate().filter(|(_, n)| alike(&n.edge, &stretch)).map(|(i, n)| (i, n.at)).collect();
        notches.sort_by(|a, b| a.1.total_cmp(&b.1));
        let folded = on_fold(notes, &piece.name) && ends_at_fold(layer, k).is_some();
        let whole = stretches.len() == 1 && taken_up == 0.0 && !folded;
        let times = if folded { 2.0 } else { 1.0 };
        Some(Self { number, piece: piece.name.clone(), edge: edge.clone(), whole, times, long: layer.edges[k].length(), stretch, notches })
    }

    /// The lines with it longer, the corner that slid, and how far.
    fn slid(&self, pieces: &[&mut Piece], by: f64) -> Option<(Layer, String, f64)> {
        let layer = pieces[self.number].drafted();
        let slid = slid(layer, layer.edge(&self.stretch)?, by).ok()?;
        Some((slid.layer, slid.corner, slid.moved))
    }

    /// Drafts the edge longer, with its notches at the places told, else where they were by their share of it.
    fn settle(&self, pieces: &mut [&mut Piece], by: f64, places: Option<&[f64]>) -> Option<EdgeMoved> {
        let (layer, corner, corner_moved) = self.slid(pieces, by)?;
        let piece = &mut *pieces[self.number];
        let before = self.placed(piece);
        let what = format!("{} of {} {by:+.2} mm, its corner {corner} moved {corner_moved:.2} mm", self.edge, self.piece);
        piece.reshape(layer, Change::new(what, How::Chosen));
        for ((i, _), at) in self.notches.iter().zip(places.into_iter().flatten()) {
            piece.notches[*i].at = *at;
        }
        let notch_moved = self.placed(piece).iter().zip(&before).map(|(p, q)| p.distance(*q)).max_by(f64::total_cmp);
        Some(EdgeMoved { piece: self.piece.clone(), edge: self.edge.clone(), by, corner, corner_moved, notch_moved })
    }

    fn placed(&self, piece: &Piece) -> Vec<Point> {
        let layer = piece.drafted();
        let Some(k) = layer.edge(&self.stretch) else { return Vec::new() };
        let walk = Walk::of(&layer.edges[k].path);
        self.notches.iter().map(|(i, _)| walk.at(piece.notches[*i].at)).collect()
    }
}

/// Where the notches of both edges lie, clockwise along each, when every section gives half of what it is off; nothing where the edges have not
/// equally many, or a section is off by more than is shared.
fn sections(a: &Along, b: &Along, same_way: bool, ease: f64) -> Option<[Vec<f64>; 2]> {
    if a.notches.is_empty() || a.notches.len() != b.notches.len() || !(a.whole && b.whole) {
        return None;
    }
    let stops = |own: &Along, turned: bool| {
        let mut at: Vec<f64> = own.notches.iter().map(|n| if turned { own.long - n.1 } else { n.1 }).collect();
        at.sort_by(f64::total_cmp);
        at.push(own.long);
        at
    };
    let (p, q) = (stops(a, false), stops(b, !same_way));
    let (mut before, mut sum) = ([0.0; 2], [0.0; 2]);
    let mut out = [Vec::new(), Vec::new()];
    for (s, t) in p.iter().zip(&q) {
        let long = [s - before[0], t - before[1]];
        let off = long[0] - long[1] - ease * long[1] / b.long.max(1e-9);
        if off.abs() > SHARED {
            return None;
        }
        before = [*s, *t];
        sum = [sum[0] + long[0] - off / 2.0, sum[1] + long[1] + off / 2.0];
        out.iter_mut().zip(sum).for_each(|(o, s)| o.push(s));
    }
    let [_, whole] = [out[0].pop()?, out[1].pop()?];
    if !same_way {
        out[1] = out[1].iter().rev().map(|s| whole - s).collect();
    }
    Some(out)
}
