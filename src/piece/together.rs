//! A piece put together from several layings: a crotch or a cap that won't lie flat together with the rest is laid by itself.
//!
//! The layings share two or more named points. Each is moved and turned, never sized, until those lie on each other (rigid least squares;
//! Umeyama 1991); what they still miss each other by is told. Each run of edges between named corners is taken from one laying and
//! brought to the corners it meets another's at.

use super::How;
use super::answering::numbered;
use super::layer::{Corner, Edge, Layer, LayerError, Line, alike, mm, point};
use crate::length::Mm;
use crate::proof::Doubt;
use crate::solve::{Similarity, TWO_SIDED};
use kurbo::{Affine, Point};
use nalgebra::Vector2;

/// Shared points nearer together than this, mm, fix no turn.
const APART: f64 = 30.0;

/// One laying and what is to be taken from it.
#[derive(Clone, Debug)]
pub struct LayingPart<'a> {
    /// Its lines.
    pub layer: &'a Layer,
    /// Named points of it besides its corners: marks on the cloth, each with its standard error, mm.
    pub marks: Vec<(String, Mm, f64)>,
    /// Edges taken from it whatever the others have.
    pub gives: Vec<String>,
}

/// A piece put together.
#[derive(Clone, Debug)]
pub struct Together {
    /// Its lines, on the first laying's page.
    pub layer: Layer,
    /// Which laying each edge is from, and its number there.
    pub from: Vec<(usize, usize)>,
    /// Lays each laying on the first's page.
    pub motions: Vec<Affine>,
    /// What shared points miss each other by.
    pub shared: Vec<Shared>,
}

/// A point that a laying shares with those before it.
#[derive(Clone, Debug, PartialEq)]
pub struct Shared {
    /// Its name.
    pub name: String,
    /// Number of the laying.
    pub laying: usize,
    /// Where it is, on the first laying's page.
    pub at: Mm,
    /// How far it lies from where those before it have it, mm.
    pub off: f64,
    /// What the errors of both allow (95 %), mm.
    pub allowed: f64,
}

impl Shared {
    /// The doubt that it misses those before it by more than the errors of both allow.
    pub fn doubt(&self) -> Option<Doubt> {
        let Self { off, allowed, at, .. } = *self;
        (off > allowed).then(|| Doubt::LayingsMiss { point: self.name.clone(), off, allowed, at })
    }
}

/// Why layings can't be put together.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum TogetherError {
    /// Nothing to put together.
    #[error("one laying alone can't be put together; trace two pictures or more of the piece, each with the points they share named")]
    TooFew,
    /// Too little in common.
    #[error(
        "picture {number} shares {points} named points, 30 mm apart or more, with those before it and needs two; name the same corners or marks in both"
    )]
    Loose {
        /// Its number, from 1.
        number: usize,
        /// How many it shares.
        points: usize,
    },
    /// There is no first corner.
    #[error("no corner is named; name corners in every laying's notes, those that are shared alike")]
    Nameless,
    /// No edge goes on.
    #[error("no laying has an edge from \"{corner}\" on to another named corner; name the corners at both its ends in one picture")]
    NoEdge {
        /// The corner.
        corner: String,
    },
    /// Two ways on.
    #[error(
        "from \"{corner}\" the layings go on to \"{one}\" and to \"{other}\"; say which edges a picture gives: gives = [\"…\"] in its [[shot]]"
    )]
    TwoWays {
        /// The corner.
        corner: String,
        /// A corner.
        one: String,
        /// Another.
        other: String,
    },
    /// An edge that was asked for is not there.
    #[error("picture {number} has no edge \"{edge}\" between named corners to give; it has {there}")]
    NoSuchEdge {
        /// Its number, from 1.
        number: usize,
        /// The edge.
        edge: String,
        /// Those there are.
        there: String,
    },
    /// They do not close.
    #[error(transparent)]
    Layer(#[from] LayerError),
}

/// Edges of one laying from a named corner to the next.
#[derive(Clone, Debug)]
struct Run {
    part: usize,
    from: String,
    to: String,
    edges: Vec<usize>,
    given: bool,
}

/// Puts a piece together.
///
/// # Errors
/// Too few layings or shared points, edges that do not follow one another round the piece.
pub fn put_together(parts: &[LayingPart]) -> Result<Together, TogetherError> {
    if parts.len() < 2 {
        return Err(TogetherError::TooFew);
    }
    let (motions, shared) = laid(parts)?;
    let mut runs: Vec<Run> = parts.iter().enumerate().flat_map(|(k, p)| runs(k, p)).collect();
    given(parts, &mut runs)?;
    let round = around(&runs)?;
    let (layer, from) = welded(parts, &motions, &round)?;
    Ok(Together { layer, from, motions: motions.iter().map(affine).collect(), shared })
}

/// A named point: where, and its standard error, mm.
type Named = (String, Vector2<f64>, f64);

fn points(part: &LayingPart) -> Vec<Named> {
    let bound = part.layer.edges.iter().filter_map(|e| e.bound).fold(0.0, f64::max) / TWO_SIDED;
    let corners = part.layer.corners.iter().filter(|c| !numbered(&c.name));
    let corners = corners.map(|c| (c.name.clone(), c.at.vector(), c.error.unwrap_or(0.0).max(bound)));
    let mut all: Vec<Named> = corners.collect();
    for (name, at, error) in &part.marks {
        if all.iter().all(|n| !alike(&n.0, name)) {
            all.push((name.clone(), at.vector(), error.max(bound)));
        }
    }
    all
}

/// Motions of all layings onto the first one's page, and what the points they share miss each other by.
fn laid(parts: &[LayingPart]) -> Result<(Vec<Similarity>, Vec<Shared>), TogetherError> {
    let still = Similarity { scale: 1.0, angle: 0.0, shift: Vector2::zeros() };
    let mut known: Vec<Named> = points(&parts[0]);
    let mut motions: Vec<Option<Similarity>> = vec![None; parts.len()];
    motions[0] = Some(still);
    let mut shared = Vec::new();
    // One may hang on another that comes later in the row.
    while let Some(next) = (0..parts.len()).filter(|&k| motions[k].is_none()).max_by_key(|&k| (common(&known, &parts[k]), parts.len() - k))
    {
        let own = points(&parts[next]);
        let pairs: Vec<(&Named, &Named)> = own.iter().filter_map(|o| Some((o, known.iter().find(|n| alike(&n.0, &o.0))?))).collect();
        let [from, to] = [0, 1].map(|side| pairs.iter().map(|p| if side == 0 { p.0.1 } else { p.1.1 }).collect::<Vec<_>>());
        let wide = from.iter().any(|p| (p - from[0]).norm() >= APART);
        let loose = || TogetherError::Loose { number: next + 1, points: if wide { pairs.len() } else { pairs.len().min(1) } };
        let motion = Similarity::rigid(&from, &to).filter(|_| wide).ok_or_else(loose)?;
        for (o, n) in &pairs {
            let at = motion.apply(o.1);
            let allowed = TWO_SIDED * o.2.hypot(n.2);
            shared.push(Shared { name: o.0.clone(), laying: next, at: Mm::from(at), off: (at - n.1).norm(), allowed });
        }
        let new = own.iter().filter(|o| known.iter().all(|n| !alike(&n.0, &o.0)));
        let new: Vec<Named> = new.map(|(name, at, error)| (name.clone(), motion.apply(*at), *error)).collect();
        known.extend(new);
        motions[next] = Some(motion);
    }
    Ok((motions.into_iter().map(|m| m.unwrap_or(still)).collect(), shared))
}

fn common(known: &[Named], part: &LayingPart) -> usize {
    points(part).iter().filter(|o| known.iter().any(|n| alike(&n.0, &o.0))).count()
}

/// Runs of edges between named corners, none along the picture's frame.
fn runs(number: usize, part: &LayingPart) -> Vec<Run> {
    let (corners, n) = (&part.layer.corners, part.layer.corners.len());
    let named: Vec<usize> = (0..n).filter(|&k| !numbered(&corners[k].name)).collect();
    let mut out = Vec::new();
    for (j, &a) in named.iter().enumerate() {
        let b = named[(j + 1) % named.len()];
        let count = if a == b { n } else { (b + n - a) % n };
        let edges: Vec<usize> = (0..count).map(|k| (a + k) % n).collect();
        if edges.iter().all(|&e| part.layer.edges[e].line != Line::Cut) {
            out.push(Run { part: number, from: corners[a].name.clone(), to: corners[b].name.clone(), edges, given: false });
        }
    }
    out
}

/// Marks the runs that the notes say are taken.
fn given(parts: &[LayingPart], runs: &mut [Run]) -> Result<(), TogetherError> {
    for (number, part) in parts.iter().enumerate() {
        for name in &part.gives {
            let called = |r: &Run| {
                let whole = format!("{} to {}", r.from, r.to);
                alike(&whole, name) || r.edges.iter().any(|&e| alike(&part.layer.edges[e].name, name))
            };
            let mut found = false;
            for run in runs.iter_mut().filter(|r| r.part == number) {
                if called(run) {
                    (run.given, found) = (true, true);
                }
            }
            if !found {
                let own: Vec<String> = runs.iter().filter(|r| r.part == number).map(|r| format!("\"{} to {}\"", r.from, r.to)).collect();
                let there = if own.is_empty() { "none".to_owned() } else { own.join(", ") };
                return Err(TogetherError::NoSuchEdge { number: number + 1, edge: name.clone(), there });
            }
        }
    }
    Ok(())
}

/// Runs that follow one another round the piece: what is given goes before what is there, the first laying before the next.
fn around(runs: &[Run]) -> Result<Vec<&Run>, TogetherError> {
    let start = &runs.iter().find(|r| r.given).or_else(|| runs.first()).ok_or(TogetherError::Nameless)?.from;
    let (mut at, mut out): (&str, Vec<&Run>) = (start, Vec::new());
    loop {
        let on: Vec<&Run> = runs.iter().filter(|r| alike(&r.from, at)).collect();
        let asked: Vec<&Run> = on.iter().copied().filter(|r| r.given).collect();
        let ways = if asked.is_empty() { on } else { asked };
        // Where only some corners are named, what lies between them is the rest of the piece, crumpled for all one knows.
        let fewest = ways.iter().map(|r| r.edges.len()).min();
        let ways: Vec<&Run> = ways.into_iter().filter(|r| Some(r.edges.len()) == fewest).collect();
        let Some(next) = ways.first() else { return Err(TogetherError::NoEdge { corner: at.to_owned() }) };
        if let Some(other) = ways.iter().find(|r| !alike(&r.to, &next.to)) {
            return Err(TogetherError::TwoWays { corner: at.to_owned(), one: next.to.clone(), other: other.to.clone() });
        }
        if out.iter().any(|r| alike(&r.from, at)) {
            // Round without coming back to the start: a corner is met twice.
            return Err(TogetherError::NoEdge { corner: at.to_owned() });
        }
        out.push(next);
        at = &next.to;
        if alike(at, start) {
            return Ok(out);
        }
    }
}

/// The runs brought to the corners where they meet, as one piece.
fn welded(parts: &[LayingPart], motions: &[Similarity], round: &[&Run]) -> Result<(Layer, Vec<(usize, usize)>), TogetherError> {
    let n = round.len();
    let corner = |r: &Run, end: bool| {
        let layer = parts[r.part].layer;
        let k = if end { (r.edges[r.edges.len() - 1] + 1) % layer.corners.len() } else { r.edges[0] };
        let at = motions[r.part].apply(layer.corners[k].at.vector());
        (at, layer.corners[k].error)
    };
    // Where run k starts, and the one before it ends.
    let joints: Vec<(Vector2<f64>, Option<f64>)> = (0..n)
        .map(|k| {
            let ((a, e), (b, f)) = (corner(round[(k + n - 1) % n], true), corner(round[k], false));
            let middle = (a + b) / 2.0;
            (middle, e.zip(f).map(|(e, f)| e.max(f).max((a - b).norm() / 2.0)))
        })
        .collect();
    let (mut layer, mut from) = (Layer::default(), Vec::new());
    for (k, run) in round.iter().enumerate() {
        let own = parts[run.part].layer;
        let ends = [corner(run, false).0, corner(run, true).0];
        let to = [joints[k].0, joints[(k + 1) % n].0];
        let bring = if run.edges.len() == own.edges.len() { None } else { Similarity::fit(&ends, &to) };
        let bring = bring.map_or(Affine::IDENTITY, |b| affine(&b)) * affine(&motions[run.part]);
        for (j, &e) in run.edges.iter().enumerate() {
            let at = if j == 0 { Mm::from(joints[k].0) } else { mm(bring * point(own.corners[e].at)) };
            let error = if j == 0 { joints[k].1 } else { own.corners[e].error };
            layer.corners.push(Corner { name: own.corners[e].name.clone(), at, error });
            layer.edges.push(Edge { path: bring * own.edges[e].path.clone(), how: How::Chosen, ..own.edges[e].clone() });
            from.push((run.part, e));
        }
    }
    renumbered(&mut layer);
    layer.check()?;
    Ok((layer, from))
}

/// Corners and edges that are only numbered are numbered anew: two layings have the same numbers.
fn renumbered(layer: &mut Layer) {
    for (k, c) in layer.corners.iter_mut().enumerate().filter(|(_, c)| numbered(&c.name)) {
        c.name = format!("corner {}", k + 1);
    }
    for (k, e) in layer.edges.iter_mut().enumerate() {
        if e.name.strip_prefix("edge ").is_some_and(|n| n.parse::<u32>().is_ok()) {
            e.name = format!("edge {}", k + 1);
        }
    }
}

fn affine(s: &Similarity) -> Affine {
    let (a, b) = (Vector2::new(s.angle.cos(), s.angle.sin()) * s.scale, s.shift);
    let shift = Point::new(b.x, b.y);
    Affine::new([a.x, a.y, -a.y, a.x, shift.x, shift.y])
}
