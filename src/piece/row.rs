//! Edges in a row on one side of a seam, as they are sewn: which way each runs, and where the notches lie along them.
//!
//! Of half a piece an edge stands for the one on the other side too, and one that ends at the fold goes on there as its mirror image. Asked for by that one's name it is its mirror image: its corners' names
//! have left and right changed round, and it runs the other way.

use super::Line;
use super::halves::swapped;
use super::layer::{Layer, alike};
use super::pairs::{place, sideless};
use super::walk::Walk;
use crate::notes::EdgeName;
use kurbo::BezPath;

/// One edge in a row of edges.
#[derive(Clone, Debug)]
pub struct Part<'a> {
    /// Name of its piece.
    pub piece: &'a str,
    /// The piece's lines.
    pub layer: &'a Layer,
    /// Number of the edge; `None` for a seam within the piece, which has no corners of its own.
    pub edge: Option<usize>,
    /// Its line.
    pub path: &'a BezPath,
    /// Length that pleats and gathers take up before it is sewn, mm.
    pub taken_up: f64,
    /// From where to where, clockwise, darts lie open that are closed first, mm, one after the other.
    pub open: Vec<[f64; 2]>,
    /// Notches by their distance along the edge as it runs clockwise, mm.
    pub notches: Vec<f64>,
    /// Of half a piece an edge that stands for its mirror image.
    pub mirrored: bool,
}

/// Edges that follow one another on one side of a seam.
#[derive(Clone, Debug)]
pub struct Row<'a> {
    /// Each with whether it is walked backwards: against the clock as its piece is seen, its mirror image where it stands for that.
    pub(super) parts: Vec<(Part<'a>, bool)>,
}

/// One end of a row: a corner of a piece, the corner the row's last edge has there.
#[derive(Clone, Copy, Debug)]
pub(super) struct End<'a> {
    pub piece: &'a str,
    pub layer: &'a Layer,
    pub corner: usize,
    /// The corner that this one is beyond the fold.
    pub mirrored: bool,
}

/// Names of the corners where an edge starts and ends.
type Names = [Option<String>; 2];

/// How well two corners' names say that they lie together.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Link {
    /// They say nothing of it.
    None = 0,
    /// They are the same place, at the side of one piece and at the left or right of the other.
    Place = 1,
    /// They are the same but for left and right.
    Sideless = 2,
    /// They are the same.
    Same = 3,
}

impl Link {
    fn of(a: &Option<String>, b: &Option<String>) -> Self {
        match (a, b) {
            (Some(a), Some(b)) if numbered(a) || numbered(b) => Self::None,
            (Some(a), Some(b)) if alike(a, b) => Self::Same,
            (Some(a), Some(b)) if alike(&sideless(a), &sideless(b)) => Self::Sideless,
            (Some(a), Some(b)) if !place(a).is_empty() && alike(&place(a), &place(b)) => Self::Place,
            _ => Self::None,
        }
    }
}

impl<'a> Row<'a> {
    /// A row from its edges in order, each of the stretches that it is sewn of. Every edge is turned so that its end is the next one's start, as
    /// their corners' names tell; without such names they stay clockwise. Two edges that meet at both their ends, as two armholes do at
    /// shoulder and underarm, make a row either way: both are given, the one first that starts at an underarm, for there a cap is set in first.
    pub fn ways(edges: &[Vec<Part<'a>>]) -> Vec<Self> {
        let tried = [false, true].map(|turned| Self::tried(edges, turned));
        let best = tried[0].1.max(tried[1].1);
        // A single edge, or edges whose names say nothing.
        if best == 0 {
            return tried.into_iter().take(1).map(|t| t.0).collect();
        }
        let mut out: Vec<Self> = tried.into_iter().filter(|t| t.1 == best).map(|t| t.0).collect();
        let under = |r: &Self| r.ends()[0].is_some_and(|e| e.name().to_lowercase().contains("underarm"));
        out.sort_by_key(|r| !under(r));
        out
    }

    /// The row whose first edge runs one way or the other, and how well each edge goes on from the one before.
    fn tried(edges: &[Vec<Part<'a>>], first: bool) -> (Self, usize) {
        let (mut parts, mut links): (Vec<(Part<'a>, bool)>, usize) = (Vec::new(), 0);
        let mut end: Option<Option<String>> = None;
        for edge in edges {
            let names = outer(edge);
            let turned = end.as_ref().map_or(first, |end| {
                let link = names.each_ref().map(|n| Link::of(end, n));
                links += link[0].max(link[1]) as usize;
                link[1] > link[0]
            });
            end = Some(names[usize::from(!turned)].clone());
            let own = edge.iter().map(|p| (p.clone(), turned));
            if turned { parts.extend(own.rev()) } else { parts.extend(own) }
        }
        (Self { parts }, links)
    }

    /// Length as sewn, mm.
    pub fn length(&self) -> f64 {
        self.parts.iter().map(|(p, _)| p.length()).sum()
    }

    /// Piece and name of each of its edges.
    pub(super) fn edges(&self) -> impl Iterator<Item = (&'a str, &'a str)> {
        self.parts.iter().filter_map(|(p, _)| Some((p.piece, p.layer.edges[p.edge?].name.as_str())))
    }

    /// Whether pleats or gathers take up some of it: how much lies before a place along it is then not known.
    pub(super) fn full(&self) -> bool {
        self.parts.iter().any(|(p, _)| p.taken_up > 0.0)
    }

    /// Whether an edge of it is sewn with its mirror image beyond the fold.
    pub(super) fn folded(&self) -> bool {
        let same = |a: &Part, b: &Part| alike(a.piece, b.piece) && a.edge == b.edge && a.mirrored != b.mirrored;
        self.parts.windows(2).any(|w| same(&w[0].0, &w[1].0))
    }

    /// Where along the row one piece follows another, mm.
    pub(super) fn stops(&self) -> Vec<f64> {
        let mut out = Vec::new();
        let mut far = 0.0;
        for pair in self.parts.windows(2) {
            far += pair[0].0.length();
            if !alike(pair[0].0.piece, pair[1].0.piece) {
                out.push(far);
            }
        }
        out
    }

    /// Piece and edge at a place along the row, and how far along the edge as it runs clockwise, mm.
    pub(super) fn at(&self, s: f64) -> Option<(&'a str, &'a str, f64)> {
        let mut before = 0.0;
        for (k, (p, turned)) in self.parts.iter().enumerate() {
            let long = p.length();
            if s <= before + long || k + 1 == self.parts.len() {
                let far = (s - before).clamp(0.0, long);
                return Some((p.piece, &p.layer.edges[p.edge?].name, p.own(if *turned { long - far } else { far })));
            }
            before += long;
        }
        None
    }

    /// Notches along the row, mm.
    pub(super) fn notches(&self) -> Vec<f64> {
        let mut out = Vec::new();
        let mut before = 0.0;
        for (p, turned) in &self.parts {
            let long = p.length();
            let mut own: Vec<f64> = p.all_notches().into_iter().map(|n| if *turned { long - n } else { n }).collect();
            own.sort_by(f64::total_cmp);
            out.extend(own.iter().map(|n| before + n));
            before += long;
        }
        out
    }

    pub(super) fn ends(&self) -> [Option<End<'a>>; 2] {
        let end = |part: Option<&(Part<'a>, bool)>, last: bool| {
            let (p, turned) = part?;
            let n = p.layer.corners.len();
            let edge = p.edge.filter(|_| n > 0)?;
            let at_end = *turned != last;
            // A mirror image runs the other way.
            let corner = if at_end != p.mirrored { (edge + 1) % n } else { edge };
            Some(End { piece: p.piece, layer: p.layer, corner, mirrored: p.mirrored })
        };
        [end(self.parts.first(), false), end(self.parts.last(), true)]
    }

    /// Sum of the squares of its ends' errors, mm².
    pub(super) fn doubt(&self) -> f64 {
        self.ends().iter().flatten().filter_map(|e| e.layer.corners[e.corner].error).map(|e| e * e).sum()
    }
}

/// Names of the corners where an edge of several stretches starts and ends.
fn outer(edge: &[Part]) -> Names {
    let of = |part: Option<&Part>, end: usize| part.and_then(|p| p.corner_names()[end].clone());
    [of(edge.first(), 0), of(edge.last(), 1)]
}

impl<'a> Part<'a> {
    /// An edge, or else a seam within, of a piece by its name.
    pub fn named(piece: &'a str, layer: &'a Layer, name: &str) -> Option<Self> {
        let part = |edge, path| Self { piece, layer, edge, path, taken_up: 0.0, open: Vec::new(), notches: Vec::new(), mirrored: false };
        let edge = layer.edge(name).map(|k| part(Some(k), &layer.edges[k].path));
        edge.or_else(|| layer.inner.iter().find(|i| alike(&i.name, name)).map(|i| part(None, &i.path)))
    }

    /// Length as sewn, mm.
    pub fn length(&self) -> f64 {
        let darts: f64 = self.open.iter().map(|[a, b]| b - a).sum();
        (Walk::of(self.path).length() - self.taken_up - darts).max(0.0)
    }

    /// How far along the edge as it lies a place along it as sewn, clockwise, is, mm: before a dart that lies open there.
    fn own(&self, s: f64) -> f64 {
        let sewn = if self.mirrored { self.length() - s } else { s };
        self.open.iter().fold(sewn, |far, [a, b]| if far > *a { far + b - a } else { far })
    }

    /// How far along it as sewn, clockwise, a place on the edge as it lies is, mm.
    fn sewn(&self, far: f64) -> f64 {
        let closed: f64 = self.open.iter().map(|[a, b]| (far.min(*b) - a).max(0.0)).sum();
        let sewn = (far - closed).clamp(0.0, self.length());
        if self.mirrored { self.length() - sewn } else { sewn }
    }

    /// Notches along it, clockwise, mm.
    fn all_notches(&self) -> Vec<f64> {
        self.notches.iter().map(|n| self.sewn(*n)).collect()
    }

    /// Names of the corners it runs between, clockwise.
    fn corner_names(&self) -> Names {
        let n = self.layer.corners.len();
        let name = |past: usize| self.layer.corners.get((self.edge? + past) % n.max(1)).map(|c| c.name.clone());
        if self.mirrored { [name(1), name(0)].map(|n| n.map(|n| swapped(&n))) } else { [name(0), name(1)] }
    }
}

impl End<'_> {
    pub fn name(&self) -> String {
        self.called(&self.layer.corners[self.corner].name)
    }

    /// What a corner or edge here is called, on its side of the piece.
    pub fn called(&self, name: &str) -> String {
        if self.mirrored { swapped(name) } else { name.to_owned() }
    }

    /// Whether it is the corner of a name; of half a piece, the one beyond the fold too where no end has the name itself.
    pub fn is(&self, corner: &EdgeName, beyond: bool) -> bool {
        let name = self.name();
        let half = || self.layer.edges.iter().any(|e| e.line == Line::Fold);
        alike(self.piece, &corner.piece) && (alike(&name, &corner.edge) || beyond && half() && alike(&swapped(&name), &corner.edge))
    }

    /// Words of its name without left and right, and front and back of its piece: the underarm of a front is a sleeve's front underarm.
    pub fn facing(&self) -> Vec<String> {
        let words = |t: &str| t.to_lowercase().split(|c: char| !c.is_alphanumeric()).map(str::to_owned).collect::<Vec<_>>();
        let faces = words(self.piece).into_iter().filter(|w| w == "front" || w == "back");
        let mut out: Vec<String> = words(&sideless(&self.name())).into_iter().chain(faces).filter(|w| !w.is_empty()).collect();
        out.sort();
        out.dedup();
        out
    }

    /// The other edge at this corner, `own` being one of the two.
    pub fn other(&self, own: usize) -> usize {
        let n = self.layer.edges.len();
        if own == self.corner { (self.corner + n - 1) % n } else { self.corner }
    }
}

/// A name that tracing gave for want of another says nothing.
pub(super) fn numbered(name: &str) -> bool {
    name.strip_prefix("corner ").is_some_and(|n| n.bytes().all(|b| b.is_ascii_digit()))
}
