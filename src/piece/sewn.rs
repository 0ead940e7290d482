//! Edges that are sewn together, laid against each other and walked: lengths, notches, and the line across the seam.
//!
//! As in the workroom, both are walked on the line that was found, from the corner where they meet, section by section between
//! notches. Nothing is altered here.

use super::halves::swapped;
use super::layer::{Layer, alike};
use super::pairs::sideless;
use super::walk::Walk;
use kurbo::{BezPath, Vec2};
use nalgebra::{SMatrix, SVector};

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
    /// Length taken up before it is sewn (open darts, pleats), mm.
    pub taken_up: f64,
    /// Notches by their distance along the edge as it runs clockwise, mm.
    pub notches: Vec<f64>,
    /// Of half a piece an edge that ends at the fold stands for its mirror image too: whether the fold is at its end, clockwise.
    pub folded: Option<bool>,
}

/// Edges that follow one another on one side of a seam.
#[derive(Clone, Debug)]
pub struct Row<'a> {
    parts: Vec<(Part<'a>, bool)>,
}

/// One end of a row: a corner of a piece, the corner the row's last edge has there.
#[derive(Clone, Copy, Debug)]
struct End<'a> {
    layer: &'a Layer,
    corner: usize,
    /// The corner that this one is beyond the fold.
    mirrored: bool,
}

/// How the pieces' other edges run across the seam at one end of it.
#[derive(Clone, Debug, PartialEq)]
pub struct Across {
    /// The corner of the first piece there.
    pub corner: String,
    /// The two edges that run on across the seam.
    pub edges: [String; 2],
    /// Both pieces' angles within, added up, less 180°: 0 runs on smoothly, more is a point, less a dent.
    pub bend_deg: f64,
    /// What that is known to, degrees (95 %): by the errors of the corners, and by how much a parabola through the same places would turn it.
    pub known_to_deg: f64,
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
    /// Between notches, when both sides have equally many; else the whole.
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

/// Where the direction of an edge at its corner is taken, mm from the corner.
const LOOKED: (f64, f64) = (3.0, 15.0);
/// Two standard errors hold 95 %.
const SURE: f64 = 1.96;

impl<'a> Row<'a> {
    /// A row from its edges in order. Each is turned so that its end is the next one's start, as their corners' names tell;
    /// without such names they stay clockwise.
    pub fn of(parts: Vec<Part<'a>>) -> Self {
        let mut row: Vec<(Part<'a>, bool)> = Vec::new();
        let names = |p: &Part| p.corner_names();
        for (k, part) in parts.iter().enumerate() {
            let turned = match (names(part), row.last()) {
                ([Some(_), Some(end)], Some((before, turned))) => {
                    let last = names(before)[usize::from(!*turned)].clone();
                    last.is_some_and(|l| alike(&l, &end))
                }
                ([Some(start), Some(_)], None) => {
                    let next = parts.get(k + 1).map(names);
                    next.is_some_and(|n| n.iter().flatten().any(|n| alike(n, &start)))
                }
                _ => false,
            };
            row.push((part.clone(), turned));
        }
        Self { parts: row }
    }

    /// Length as sewn, mm.
    pub fn length(&self) -> f64 {
        self.parts.iter().map(|(p, _)| p.length()).sum()
    }

    /// Whether an edge of it stands for its mirror image too.
    pub(super) fn folded(&self) -> bool {
        self.parts.iter().any(|(p, _)| p.folded.is_some())
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

    fn ends(&self) -> [Option<End<'a>>; 2] {
        let end = |part: Option<&(Part<'a>, bool)>, last: bool| {
            let (p, turned) = part?;
            let n = p.layer.corners.len();
            let edge = p.edge.filter(|_| n > 0)?;
            let at_end = *turned != last;
            // Beyond the fold lies the corner at the edge's other end once more.
            let own_end = p.folded.map_or(at_end, |fold_at_end| !fold_at_end);
            Some(End { layer: p.layer, corner: if own_end { (edge + 1) % n } else { edge }, mirrored: own_end != at_end })
        };
        [end(self.parts.first(), false), end(self.parts.last(), true)]
    }

    /// Sum of the squares of its ends' errors, mm².
    fn doubt(&self) -> f64 {
        self.ends().iter().flatten().filter_map(|e| e.layer.corners[e.corner].error).map(|e| e * e).sum()
    }
}

impl<'a> Part<'a> {
    /// An edge, or else a seam within, of a piece by its name.
    pub fn named(piece: &'a str, layer: &'a Layer, name: &str) -> Option<Self> {
        let part = |edge, path| Self { piece, layer, edge, path, taken_up: 0.0, notches: Vec::new(), folded: None };
        let edge = layer.edge(name).map(|k| part(Some(k), &layer.edges[k].path));
        edge.or_else(|| layer.inner.iter().find(|i| alike(&i.name, name)).map(|i| part(None, &i.path)))
    }

    /// Length as sewn, mm: both halves of what ends at the fold.
    pub fn length(&self) -> f64 {
        self.once() * if self.folded.is_some() { 2.0 } else { 1.0 }
    }

    /// Length of the edge itself as sewn, mm.
    fn once(&self) -> f64 {
        (Walk::of(self.path).length() - self.taken_up).max(0.0)
    }

    /// How far along the edge itself a place along all of it lies, clockwise, mm.
    fn own(&self, s: f64) -> f64 {
        let once = self.once();
        match self.folded {
            Some(true) => once - (once - s).abs(),
            Some(false) => (s - once).abs(),
            None => s,
        }
    }

    /// Notches along all of it, clockwise, mm.
    fn all_notches(&self) -> Vec<f64> {
        let once = self.once();
        let both = |n: f64| match self.folded {
            Some(true) => vec![n, 2.0 * once - n],
            Some(false) => vec![once - n, once + n],
            None => vec![n],
        };
        self.notches.iter().flat_map(|n| both(n.clamp(0.0, once))).collect()
    }

    /// Names of the corners it runs between, clockwise.
    fn corner_names(&self) -> [Option<String>; 2] {
        let n = self.layer.corners.len();
        let name = |past: usize| self.layer.corners.get((self.edge? + past) % n.max(1)).map(|c| c.name.clone());
        match self.folded {
            Some(true) => [name(0), name(0).map(|n| swapped(&n))],
            Some(false) => [name(1).map(|n| swapped(&n)), name(1)],
            None => [name(0), name(1)],
        }
    }
}

impl End<'_> {
    fn name(&self) -> String {
        let own = &self.layer.corners[self.corner].name;
        if self.mirrored { swapped(own) } else { own.clone() }
    }

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

    /// The other edge at this corner, `own` being one of the two.
    fn other(&self, own: usize) -> usize {
        let n = self.layer.edges.len();
        if own == self.corner { (self.corner + n - 1) % n } else { self.corner }
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

/// Walks the second row along the first. `meet` says which corners lie together, by name, where the names don't tell.
pub fn walked(first: &Row, second: &Row, meet: Option<(&str, &str)>) -> Walked {
    let (a, b) = (first.ends(), second.ends());
    let (same, ends_known) = direction(&a, &b, meet);
    let lengths = [first.length(), second.length()];
    let mut notches = [first.notches(), second.notches()];
    if !same {
        notches[1] = notches[1].iter().rev().map(|n| lengths[1] - n).collect();
    }
    let sections = match (notches[0].len(), notches[1].len()) {
        (n, m) if n == m => {
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
            let edges = edges.map(|e| e.name.clone());
            Some(Across { corner: p.name(), edges, bend_deg: a + b - 180.0, known_to_deg: da + db })
        })
        .collect();
    Walked {
        lengths,
        known_to: SURE * (first.doubt() + second.doubt()).sqrt(),
        sections,
        notches: [notches[0].len(), notches[1].len()],
        across,
        ends_known,
        same_way: same,
    }
}

/// Whether the second row runs the same way as the first, and whether that is known.
fn direction(a: &[Option<End>; 2], b: &[Option<End>; 2], meet: Option<(&str, &str)>) -> (bool, bool) {
    let is = |e: &Option<End>, name: &str| e.is_some_and(|e| alike(&e.name(), name));
    let together = |p: &Option<End>, q: &Option<End>| match (meet, p, q) {
        (Some((m, n)), ..) => is(p, m) && is(q, n),
        (None, Some(p), Some(q)) => alike(&p.name(), &q.name()) && !numbered(&p.name()),
        _ => false,
    };
    let sides = |p: &Option<End>, q: &Option<End>| match (p, q) {
        // Left and right don't tell ends apart, but a cap's underarm and an armhole's are one place.
        (Some(p), Some(q)) => alike(&sideless(&p.name()), &sideless(&q.name())) && !numbered(&p.name()),
        _ => false,
    };
    let along = |f: &dyn Fn(&Option<End>, &Option<End>) -> bool| (f(&a[0], &b[0]) || f(&a[1], &b[1]), f(&a[0], &b[1]) || f(&a[1], &b[0]));
    match along(&together) {
        (true, false) => (true, true),
        (false, true) => (false, true),
        _ if meet.is_none() => match along(&sides) {
            (true, false) => (true, true),
            (false, true) => (false, true),
            _ => (false, false),
        },
        _ => (false, false),
    }
}

/// A name that tracing gave for want of another says nothing.
fn numbered(name: &str) -> bool {
    name.strip_prefix("corner ").is_some_and(|n| n.bytes().all(|b| b.is_ascii_digit()))
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
