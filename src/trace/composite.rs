//! The outline of a piece put together from different lines: the rim here, a seam or a fold within the cloth there.
//!
//! An edge that the notes call a seam or a fold and that runs inside the cloth cuts the piece in two. The side that holds the other
//! named corners is kept (the larger where they say nothing), and the edge takes the place of the rim between its corners. Edges that
//! share a corner within the cloth are joined there first.

use super::error::TraceError;
use super::laid::{NotesError, Places};
use super::order::in_order;
use super::tracing::Line;
use super::wanted::Wanted;
use super::weld::{self, Cut};
use crate::length::{Mm, Px};
use crate::notes::{self, EdgeNotes};
use crate::path::{SeamPath, SeamPoint};
use crate::proof::Proof;
use crate::seam;
use crate::solve::median;
use kurbo::{BezPath, Shape as _};

/// Places of the straight joins that are held against the cloth.
const LOOKS: usize = 24;
/// Part of them that must lie within the cloth for an edge to run inside it.
const INSIDE: f64 = 0.6;
/// What lies nearer to the rim than this, mm, or than this part of the joins' length, may be the rim itself.
const AT_RIM: f64 = 8.0;
const AT_RIM_SHARE: f64 = 0.12;
/// A line whose points are known no better than this, mm, was not found: where there is none the cloth's own unevenness gives half a
/// millimetre, seams a quarter at most.
const VAGUE: f64 = 0.4;
/// Nor was one of which more than this part does not stand out from the cloth beside it. (Seams drawn at most a fifth, lines over
/// bare cloth a quarter and more but for 3 in 40.)
const UNSEEN: f64 = 0.3;
/// Nor one that turns sharply more often than this: it goes from one thread of the cloth to the next.
const KINKS: usize = 1;
/// A turn is sharp that changes the direction by more than this, radians, from so many mm before to so many after.
const SHARP: (f64, f64) = (0.8, 8.0);
/// A line that keeps within this of the rim, mm, over more than this part of its way has run to the rim for want of one of its own.
const RAN_TO_RIM: (f64, f64) = (3.0, 0.25);

/// Why an outline could not be put together.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum CompositeError {
    /// Nothing like a line runs there.
    #[error(
        "no {line} can be seen between \"{from}\" and \"{to}\"; give the edge places it runs through, or line = \"rim\" if it is the outer edge"
    )]
    NotFound {
        /// What was sought.
        line: &'static str,
        /// The corner it starts at.
        from: String,
        /// The corner it ends at.
        to: String,
    },
    /// It ends within the cloth.
    #[error(
        "the {line} from \"{from}\" to \"{to}\" does not cut the piece in two: it ends {off:.0} mm from the outer edge at \"{at}\"; put that corner on the edge, or name the edge that goes on from it"
    )]
    CutsNothing {
        /// What was followed.
        line: &'static str,
        /// The corner it starts at.
        from: String,
        /// The corner it ends at.
        to: String,
        /// The corner it ends at within the cloth.
        at: String,
        /// How far that is from the outline, mm.
        off: f64,
    },
}

/// Which line a point of an outline is of, where it is put together from several.
pub(super) type Kinds = Vec<Line>;

/// An outline with what it is put together from.
#[derive(Clone, Debug)]
pub(super) struct Composite {
    pub outer: SeamPath,
    /// One for each point.
    pub kinds: Kinds,
    /// Where the lines meet, by the names of the corners there.
    pub joints: Vec<(String, Mm)>,
}

/// One edge of the notes that may run inside the cloth.
pub(super) struct Within<'a> {
    pub note: &'a EdgeNotes,
    pub line: Line,
    /// Its two corners and the places between them.
    pub px: Vec<Px>,
    pub at: Vec<Mm>,
}

impl Within<'_> {
    /// The word for its line.
    pub fn word(&self) -> &'static str {
        if self.line == Line::Fold { "fold" } else { "seam" }
    }
}

/// How the notes say that an edge is seen.
pub(super) fn line(note: &EdgeNotes) -> Option<Line> {
    note.line.map(|l| match l {
        notes::Line::Rim => Line::Rim,
        notes::Line::Seam => Line::Seam,
        notes::Line::Fold => Line::Fold,
    })
}

/// The edges of the notes that are seams or folds, with their places.
pub(super) fn asked<'a>(places: &Places, wanted: &'a Wanted) -> Result<Vec<Within<'a>>, NotesError> {
    let mut out = Vec::new();
    for note in &wanted.notes.edges {
        let Some(line) = line(note).filter(|l| *l != Line::Rim) else { continue };
        let mut px = vec![places.corner(wanted, &note.from)?];
        for place in &note.through {
            px.push(places.px("an edge", place)?);
        }
        px.push(places.corner(wanted, &note.to)?);
        let at: Vec<Mm> = px.iter().filter_map(|p| places.view.to_mm(*p, places.height)).collect();
        if at.len() == px.len() {
            let order = in_order(&at);
            let (px, at) = order.iter().map(|k| (px[*k], at[*k])).unzip();
            out.push(Within { note, line, px, at });
        }
    }
    Ok(out)
}

/// The outline of a piece, `whole`, with the edges in it that run inside the cloth.
pub(super) fn put_together(
    mut whole: Composite,
    asked: &[&Within],
    others: &[(String, Mm)],
    places: &Places,
    settings: &seam::Settings,
    proof: &mut Proof,
) -> Result<Composite, TraceError> {
    let within: Vec<&&Within> = asked.iter().filter(|a| inside(&whole.outer, &a.at)).collect();
    let mut cuts = Vec::new();
    for edge in within {
        let settings = seam::Settings { fold: edge.line == Line::Fold, ..settings.clone() };
        let rims = std::slice::from_ref(&whole.outer);
        let path = seam::between(places.shot, places.view, &edge.px, places.height, rims, &settings, proof)?;
        let mut errors: Vec<f64> = path.points.iter().map(|p| p.error).collect();
        let vague = median(&mut errors).unwrap_or(f64::INFINITY);
        proof.figure("seam", &format!("{} to {}: error mm", edge.note.from, edge.note.to), vague);
        let part = |of: &dyn Fn(&&SeamPoint) -> bool| path.points.iter().filter(of).count() as f64 / path.points.len().max(1) as f64;
        let unseen = part(&|p| p.flags.unseen);
        proof.figure("seam", &format!("{} to {}: part not seen", edge.note.from, edge.note.to), unseen);
        let near = |p: &&SeamPoint| whole.outer.points.iter().any(|q| q.at.distance(p.at) < RAN_TO_RIM.0);
        if vague > VAGUE || unseen > UNSEEN || kinks(&path) > KINKS || part(&near) > RAN_TO_RIM.1 {
            let (from, to) = (edge.note.from.clone(), edge.note.to.clone());
            return Err(CompositeError::NotFound { line: edge.word(), from, to }.into());
        }
        cuts.push(Cut::of(edge, path));
    }
    for cut in weld::chains(cuts, &whole.outer) {
        whole = cut.across(&whole, others)?;
    }
    Ok(whole)
}

/// How often a line turns sharply.
fn kinks(path: &SeamPath) -> usize {
    let at: Vec<Mm> = path.points.iter().map(|p| p.at).collect();
    let reach = |k: usize| at.iter().skip(k).position(|p| p.distance(at[k]) > SHARP.1).map(|n| k + n);
    let (mut kinks, mut k) = (0, 0);
    while k < at.len() {
        // From k to the place half way and on to the end of two such lengths.
        let Some(middle) = reach(k) else { break };
        let Some(end) = reach(middle) else { break };
        let (before, after) = (at[middle] - at[k], at[end] - at[middle]);
        let sharp = before.perp(&after).atan2(before.dot(&after)).abs() > SHARP.0;
        kinks += usize::from(sharp);
        k = if sharp { middle } else { k + 1 };
    }
    kinks
}

/// Whether the joins of an edge's places run inside the cloth and not along its rim.
fn inside(rim: &SeamPath, joins: &[Mm]) -> bool {
    let polygon = polygon(rim);
    let length: f64 = joins.windows(2).map(|w| w[0].distance(w[1])).sum();
    let clear = AT_RIM.min(AT_RIM_SHARE * length);
    let looks: Vec<Mm> = (1..LOOKS).filter_map(|k| along(joins, length * k as f64 / LOOKS as f64)).collect();
    let holds = |p: &&Mm| polygon.contains((p.x, p.y).into()) && rim.points.iter().all(|q| q.at.distance(**p) > clear);
    looks.iter().filter(holds).count() as f64 >= INSIDE * looks.len() as f64
}

/// The place at a distance along straight joins.
fn along(joins: &[Mm], mut s: f64) -> Option<Mm> {
    for w in joins.windows(2) {
        let leg = w[0].distance(w[1]);
        if s <= leg && leg > 0.0 {
            return Some(w[0] + (w[1] - w[0]) * (s / leg));
        }
        s -= leg;
    }
    joins.last().copied()
}

/// A closed line as a polygon.
pub(super) fn polygon(line: &SeamPath) -> BezPath {
    let mut polygon = BezPath::new();
    for (k, p) in line.points.iter().enumerate() {
        if k == 0 { polygon.move_to((p.at.x, p.at.y)) } else { polygon.line_to((p.at.x, p.at.y)) }
    }
    polygon.close_path();
    polygon
}
