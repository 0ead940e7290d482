//! What is off between two edges that are sewn together, shared out between their pieces: one a little longer, the other a little shorter,
//! and the notches with them, so that every section between two of them comes out as long on either side. Half a piece stands for both its
//! sides, so that what is off on either is shared at once: seams of one edge are shared together.

use super::draft::{Change, Piece};
use super::evenly::{Wanted, evenly};
use super::halves::swapped;
use super::layer::{Layer, alike};
use super::share::slid;
use super::truing::{Joined, NotWalked, Verdict, ends_at_fold, is_both_sides};
use super::walk::Walk;
use super::{How, Line};
use crate::notes::{EdgeName, Notes};
use kurbo::Point;

/// Differences up to this are shared, mm (1/4 in: what the trade tolerates in flat widths; propercloth.com, accepted tolerances); a
/// larger one is a mistake to be found.
const SHARED: f64 = 6.35;
/// A length that changes by less is not told, mm.
const TOLD: f64 = 0.05;

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
    /// Whether it is of half a piece, and so on either side of it.
    pub both_sides: bool,
    /// The corner that slid along it.
    pub corner: String,
    /// How far, mm.
    pub corner_moved: f64,
    /// How far the notch that moved furthest did, mm; `None` where the edge has none.
    pub notch_moved: Option<f64>,
    /// Other edges of the piece that came out longer or shorter for it, with their lengths before and after, mm.
    pub others: Vec<(String, [f64; 2])>,
    /// Of a whole piece the edge on its other side that did not change by as much, or of an edge across its middle the corner at the end that stayed, so that
    /// both sides are no longer alike.
    pub other_side: Option<String>,
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
    /// Other seams of the same edges stand against it.
    #[error("{sides}: {off:.1} mm stay, for with them the other seams of the same edges can't all be true")]
    Against {
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

/// Shares what is off in every join of the notes that is off; other joins of the same edges stay as they are. `walked` are the joins as they were
/// walked, in the order of the notes.
pub fn shared(notes: &Notes, pieces: &mut [&mut Piece], walked: &[Result<Joined, NotWalked>]) -> Vec<Result<SharedOut, NotShared>> {
    let mut all = Seams::of(notes, pieces, walked);
    let mut moved: Vec<Option<EdgeMoved>> = vec![None; all.edges.len()];
    for group in all.groups() {
        if let Err(why) = all.share(pieces, &group, &mut moved) {
            let wanted = |k: &&usize| all.seams[**k].told == Told::Wanted;
            group.iter().filter(wanted).copied().collect::<Vec<_>>().into_iter().for_each(|k| all.seams[k].told = why);
        }
    }
    let on_one_side: Vec<Option<String>> = moved.iter().map(|m| other_side(pieces, m.as_ref()?, &moved)).collect();
    moved.iter_mut().zip(on_one_side).for_each(|(m, other)| m.iter_mut().for_each(|m| m.other_side.clone_from(&other)));
    all.seams.iter().filter_map(|s| s.told(&moved)).collect()
}

/// The edge on the other side of a whole piece, where it did not change by as much as one did; of an edge across its middle, which gives at one end, the corner
/// at the other.
fn other_side(pieces: &[&mut Piece], one: &EdgeMoved, all: &[Option<EdgeMoved>]) -> Option<String> {
    let other = swapped(&one.edge);
    let piece = pieces.iter().find(|p| alike(&p.name, &one.piece)).filter(|_| !one.both_sides)?;
    if other == one.edge {
        let corner = swapped(&one.corner);
        return (one.by.abs() > TOLD && corner != one.corner && piece.drafted().corner(&corner).is_some()).then_some(corner);
    }
    let theirs = all.iter().flatten().find(|m| alike(&m.piece, &one.piece) && alike(&m.edge, &other));
    let apart = (one.by - theirs.map_or(0.0, |m| m.by)).abs();
    (apart > TOLD && !piece.edges_of(&other).0.is_empty()).then_some(other)
}

/// What is to become of a seam.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Told {
    /// It is as it should be and stays so.
    True,
    /// It is off and shared.
    Wanted,
    TooMuch,
    Several,
    Against,
    Fixed,
}

/// A seam with its two edges.
struct Seam {
    sides: [String; 2],
    told: Told,
    /// First less second, less the ease, mm.
    off: f64,
    ease: f64,
    same_way: bool,
    /// Nothing where one side is several edges, or lies within its piece.
    edges: Option<[Use; 2]>,
}

/// An edge in a seam.
#[derive(Clone, Copy)]
struct Use {
    edge: usize,
    /// How often it is sewn there: twice where it ends at the fold.
    times: f64,
    /// Whether it stands for its mirror image.
    mirrored: bool,
}

/// All seams, and the edges in them, each once.
struct Seams {
    seams: Vec<Seam>,
    edges: Vec<Along>,
}

impl Seams {
    fn of(notes: &Notes, pieces: &[&mut Piece], walked: &[Result<Joined, NotWalked>]) -> Self {
        let mut out = Self { seams: Vec::new(), edges: Vec::new() };
        for (join, joined) in notes.joins.iter().zip(walked) {
            let Ok(joined) = joined else { continue };
            let [a, b] = &join.edges;
            // A cap is told first, wherever the notes name it.
            let sign = if joined.sides[0] == a.to_string() { 1.0 } else { -1.0 };
            let off = sign * joined.off();
            let single = if let ([x], [y]) = (a.0.as_slice(), b.0.as_slice()) { Some([x, y]) } else { None };
            let edges = single.and_then(|[x, y]| Some([out.used(notes, pieces, x)?, out.used(notes, pieces, y)?]));
            let told = match joined.verdict {
                Verdict::Off if off.abs() > SHARED => Told::TooMuch,
                Verdict::Off if single.is_none() => Told::Several,
                Verdict::Off if edges.is_none() => Told::Fixed,
                Verdict::Off => Told::Wanted,
                _ => Told::True,
            };
            let (ease, same_way) = (sign * joined.ease.value, joined.walked.same_way);
            out.seams.push(Seam { sides: [a.to_string(), b.to_string()], told, off, ease, same_way, edges });
        }
        out
    }

    fn used(&mut self, notes: &Notes, pieces: &[&mut Piece], name: &EdgeName) -> Option<Use> {
        let own = Along::of(notes, pieces, name)?;
        let piece = &pieces[own.number];
        let times = if own.folded { 2.0 } else { 1.0 };
        let mirrored = piece.stands_for(&name.edge);
        let there = self.edges.iter().position(|e| e.number == own.number && alike(&e.stretch, &own.stretch));
        let edge = there.unwrap_or_else(|| {
            self.edges.push(own);
            self.edges.len() - 1
        });
        Some(Use { edge, times, mirrored })
    }

    /// Numbers of seams that have edges in common, where one of them is to be shared.
    fn groups(&self) -> Vec<Vec<usize>> {
        let mut left: Vec<usize> = (0..self.seams.len()).filter(|&k| self.seams[k].edges.is_some()).collect();
        let mut out = Vec::new();
        while let Some(first) = left.first().copied() {
            let mut group = vec![first];
            left.remove(0);
            while let Some(at) = left.iter().position(|&k| group.iter().any(|&g| self.touch(g, k))) {
                group.push(left.remove(at));
            }
            group.sort_unstable();
            out.push(group);
        }
        out.retain(|g| g.iter().any(|&k| self.seams[k].told == Told::Wanted));
        out
    }

    fn touch(&self, a: usize, b: usize) -> bool {
        let numbers = |k: usize| self.seams[k].edges.iter().flatten().map(|u| u.edge).collect::<Vec<_>>();
        numbers(a).iter().any(|e| numbers(b).contains(e))
    }

    /// Shares what is off in a group of seams.
    fn share(&self, pieces: &mut [&mut Piece], group: &[usize], moved: &mut [Option<EdgeMoved>]) -> Result<(), Told> {
        let wanted = |k: &usize| {
            let s = &self.seams[*k];
            let by = if s.told == Told::Wanted { -s.off } else { 0.0 };
            s.edges.map(|e| Wanted { edges: e.map(|u| (u.edge, u.times)), by })
        };
        let all: Vec<Wanted> = group.iter().filter_map(wanted).collect();
        let by = evenly(self.edges.len(), &all).ok_or(Told::Against)?;
        let own: Vec<usize> = (0..self.edges.len()).filter(|&e| all.iter().any(|w| w.edges.iter().any(|u| u.0 == e))).collect();
        // All or none.
        if own.iter().any(|&e| self.edges[e].slid(pieces, by[e]).is_none()) {
            return Err(Told::Fixed);
        }
        let places = self.places(group, &own);
        for (i, &e) in own.iter().enumerate() {
            // Anew for each: several may be of one piece.
            moved[e] = self.edges[e].settle(pieces, by[e], places.as_ref().map(|p| p[i].as_slice()));
        }
        Ok(())
    }

    /// Where the notches of a group's edges lie, clockwise along each, when every section between two of them is shared by itself; nothing where the
    /// edges have not equally many, or a section is off by more than is shared.
    fn places(&self, group: &[usize], own: &[usize]) -> Option<Vec<Vec<f64>>> {
        let edges: Vec<&Along> = own.iter().map(|&e| &self.edges[e]).collect();
        let notches = edges.first()?.notches.len();
        if notches == 0 || edges.iter().any(|e| e.notches.len() != notches || !e.whole) {
            return None;
        }
        let many = notches + 1;
        let long: Vec<Vec<f64>> = edges.iter().map(|e| e.sections()).collect();
        let mut wanted = Vec::new();
        for s in group.iter().map(|&k| &self.seams[k]) {
            let Some([p, q]) = s.edges else { continue };
            let at = |u: Use| own.iter().position(|&e| e == u.edge);
            let (a, b) = (at(p)?, at(q)?);
            for k in 0..many {
                // Walked along the first as it runs; a mirror image runs backwards along its own edge.
                let number = |backwards: bool| if backwards { many - 1 - k } else { k };
                let (i, j) = (number(p.mirrored), number(q.mirrored == s.same_way));
                let off = long[a][i] - long[b][j] - s.ease * long[b][j] / edges[b].long.max(1e-9);
                let by = if s.told == Told::Wanted { -off } else { 0.0 };
                if by.abs() > SHARED {
                    return None;
                }
                wanted.push(Wanted { edges: [(a * many + i, 1.0), (b * many + j, 1.0)], by });
            }
        }
        let by = evenly(edges.len() * many, &wanted)?;
        let place = |e: usize| {
            let mut far = 0.0;
            let stops = (0..notches).map(|i| {
                far += long[e][i] + by[e * many + i];
                far
            });
            stops.collect()
        };
        Some((0..edges.len()).map(place).collect())
    }
}

impl Seam {
    fn told(&self, moved: &[Option<EdgeMoved>]) -> Option<Result<SharedOut, NotShared>> {
        let (sides, off) = (format!("{} to {}", self.sides[0], self.sides[1]), self.off.abs());
        Some(match self.told {
            Told::True => return None,
            Told::TooMuch => Err(NotShared::TooMuch { sides, off }),
            Told::Several => Err(NotShared::Several { sides, off }),
            Told::Against => Err(NotShared::Against { sides, off }),
            Told::Fixed => Err(NotShared::Fixed { sides }),
            Told::Wanted => {
                let of = |k: usize| self.edges.and_then(|e| moved[e[k].edge].clone());
                match of(0).zip(of(1)) {
                    Some((a, b)) => Ok(SharedOut { sides: self.sides.clone(), off, moved: [a, b] }),
                    None => Err(NotShared::Fixed { sides }),
                }
            }
        })
    }
}

/// An edge of a piece before it takes its share.
struct Along {
    number: usize,
    piece: String,
    edge: String,
    /// The stretch of it that gives, as it is named.
    stretch: String,
    /// Whether it is sewn with its mirror image, for it ends at the fold.
    folded: bool,
    /// Whether it is of half a piece.
    half: bool,
    /// Whether it is sewn as it lies: no fullness parts or lengthens it, and it does not end at the fold.
    whole: bool,
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
        let k = piece.giving(edge)?;
        let stretch = layer.edges[k].name.clone();
        let mut notches: Vec<(usize, f64)> =
            piece.notches.iter().enumerate().filter(|(_, n)| alike(&n.edge, &stretch)).map(|(i, n)| (i, n.at)).collect();
        notches.sort_by(|a, b| a.1.total_cmp(&b.1));
        let folded = is_both_sides(notes, &piece.name, edge) && stretches.iter().any(|&k| ends_at_fold(layer, k).is_some());
        let open = stretches.iter().any(|&k| !piece.open_along(k).is_empty());
        let whole = stretches.len() == 1 && taken_up == 0.0 && !open && !folded;
        let half = layer.edges.iter().any(|e| e.line == Line::Fold);
        let edge = if piece.stands_for(edge) { swapped(edge) } else { edge.clone() };
        Some(Self { number, piece: piece.name.clone(), edge, folded, half, whole, long: layer.edges[k].length(), stretch, notches })
    }

    /// Lengths between its ends and notches, clockwise, mm.
    fn sections(&self) -> Vec<f64> {
        let stops: Vec<f64> = std::iter::once(0.0).chain(self.notches.iter().map(|n| n.1)).chain([self.long]).collect();
        stops.windows(2).map(|w| w[1] - w[0]).collect()
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
        let others = piece.drafted().edges.iter().zip(&layer.edges).filter(|(p, _)| !alike(&p.name, &self.stretch));
        let others = others.map(|(p, q)| (p.name.clone(), [p.length(), q.length()])).filter(|(_, [p, q])| (p - q).abs() > TOLD).collect();
        let what = format!("{} of {} {by:+.2} mm, its corner {corner} moved {corner_moved:.2} mm", self.edge, self.piece);
        piece.reshape(layer, Change::new(what, How::Chosen));
        for ((i, _), at) in self.notches.iter().zip(places.into_iter().flatten()) {
            piece.notches[*i].at = *at;
        }
        let notch_moved = self.placed(piece).iter().zip(&before).map(|(p, q)| p.distance(*q)).max_by(f64::total_cmp);
        let (piece, edge, both_sides) = (self.piece.clone(), self.edge.clone(), self.half);
        Some(EdgeMoved { piece, edge, by, both_sides, corner, corner_moved, notch_moved, others, other_side: None })
    }

    fn placed(&self, piece: &Piece) -> Vec<Point> {
        let layer = piece.drafted();
        let Some(k) = layer.edge(&self.stretch) else { return Vec::new() };
        let walk = Walk::of(&layer.edges[k].path);
        self.notches.iter().map(|(i, _)| walk.at(piece.notches[*i].at)).collect()
    }
}
