//! Several pictures of one garment on one sheet made one tracing.
//!
//! | step | file |
//! |---|---|
//! | grid, view, cloth and lines of each picture by itself, pieces cut off by the frame allowed | `session` |
//! | how the lattices lie on each other: a coded sheet says it, else what lies on the sheet must | `placing`, `place`, `content`, `overlap` |
//! | every view solved again in the one sheet's addresses; the union of what the pictures show orders the points | `union` |
//! | the lines merged in mm by their variance, and how far they disagree where several see them | `merge` |
//! | corners and curves once over the merged lines, bounds with each place's own pictures | `known` |

mod content;
mod error;
mod known;
mod merge;
mod moved;
mod overlap;
mod place;
mod placing;
mod union;

pub use error::JoinError;

use super::assemble::draw;
use super::names::{self, Named, Says};
use super::print::{self, Unknown};
use super::seen::{Seen, seen};
use super::session::{Session, Stages};
use super::tracing::{EdgeFound, Found, Further, Line, OUTER, SheetFound, Traced, Tracing};
use super::wanted::Wanted;
use crate::length::{Mm, Px};
use crate::notes::{CornerNotes, Place, ShotNotes};
use crate::outline::{Hints, Outline};
use crate::path::{SeamPath, SeamPoint};
use crate::proof::{Doubt, Proof};
use crate::sheet::{MeasuredPrint, SheetKind};
use crate::view::Model;
use known::Known;
use merge::{Merged, merge};
use nalgebra::Vector2;
pub(super) use place::Placement;
use placing::placements;
use std::collections::BTreeSet;
use union::union;

/// Pitches that differ by more than this, mm, are of two sheets.
const PITCH: f64 = 1e-6;
/// Two lines of one edge are doubted when they lie further apart (95 %) than this many of what their errors allow, and than this, mm.
const DOUBTED: (f64, f64) = (1.5, 0.3);
/// A hole's places in two pictures lie this near together, mm.
const ONE_HOLE: f64 = 10.0;

/// What is asked of the whole.
#[derive(Clone, Debug, Default)]
pub struct JoinWanted {
    /// How many pieces there are, when known.
    pub pieces: Option<usize>,
    /// Whether a piece that no picture shows whole is traced as far as it is in view.
    pub partial: bool,
    /// One thing seen in two pictures: their numbers and where, px. Settles by how many squares they lie apart.
    pub same: Vec<[(usize, Px); 2]>,
    /// What the notes say of the piece; places in pixels are of the picture that the corner names, else of the first.
    pub notes: ShotNotes,
}

/// Traces several pictures of one garment on one sheet as one. Their order counts: the first one's sheet axes are the whole's, unless
/// the sheet says its own.
///
/// # Errors
/// A stage of one picture fails, the pictures show different sheets or nothing in common, nothing tells how they lie together, or a piece
/// is cut off in all of them.
pub fn join(sessions: &mut [Session], wanted: &JoinWanted, proof: &mut Proof) -> Result<Tracing, JoinError> {
    if sessions.len() < 2 {
        return Err(JoinError::TooFew);
    }
    for k in 0..sessions.len() {
        if let Some(j) = (0..k).find(|&j| sessions[j].shot.blake3 == sessions[k].shot.blake3) {
            return Err(JoinError::Twice { first: name(&sessions[j]), second: name(&sessions[k]) });
        }
    }
    within(sessions, wanted)?;
    for session in sessions.iter_mut() {
        // All of them see one sheet: it is not another one for each lens.
        session.want(Wanted { partial: true, pieces: None, as_ruled: true, ..session.wanted.clone() });
        session.lines(proof).map_err(|why| JoinError::Picture { picture: name(session), why })?;
    }
    one_sheet(sessions)?;
    for (k, placement) in placements(sessions, wanted, proof)?.into_iter().enumerate() {
        if placement != Placement::default() {
            let session = &mut sessions[k];
            session.placed(placement, proof).map_err(|why| JoinError::Picture { picture: name(session), why })?;
        }
    }
    Whole::of(sessions, wanted).tracing()
}

fn name(session: &Session) -> String {
    session.shot.file.file_name().unwrap_or_default().to_string_lossy().into_owned()
}

/// Whether the places that are told lie in their pictures.
fn within(sessions: &[Session], wanted: &JoinWanted) -> Result<(), JoinError> {
    for &(k, px) in wanted.same.iter().flatten() {
        let Some(session) = sessions.get(k) else { continue };
        let size = [session.shot.width, session.shot.height];
        if !(0.0..size[0] as f64).contains(&px.x) || !(0.0..size[1] as f64).contains(&px.y) {
            return Err(JoinError::HintOutside { picture: name(session), at: [px.x, px.y], size });
        }
    }
    Ok(())
}

/// Whether all pictures can be of one sheet.
fn one_sheet(sessions: &[Session]) -> Result<(), JoinError> {
    let (first, rest) = (&sessions[0], &sessions[1..]);
    let sheet = |s: &Session| s.stages().map(|s| (s.lattice.kind, s.lattice.pitch, s.lattice.code));
    let Some((kind, pitch, code)) = sheet(first) else { return Err(JoinError::TooFew) };
    if kind == SheetKind::Plain {
        return Err(JoinError::NoRuling);
    }
    for other in rest {
        let Some((own, squares, number)) = sheet(other) else { return Err(JoinError::TooFew) };
        let pictures = || [name(first), name(other)];
        if number.map(|c| c.number) != code.map(|c| c.number) {
            return Err(JoinError::OtherNumber { pictures: pictures(), numbers: [code, number].map(|c| c.map(|c| c.number)) });
        }
        let turned = [squares[1], squares[0]];
        let alike = |a: [f64; 2]| (0..2).all(|k| (a[k] - pitch[k]).abs() < PITCH);
        if own != kind || !(alike(squares) || alike(turned)) {
            return Err(JoinError::OtherSheet { pictures: pictures(), kinds: [kind.word(), own.word()], pitches: [pitch[0], squares[0]] });
        }
    }
    Ok(())
}

/// All pictures in one sheet's axes.
struct Whole<'a> {
    sessions: &'a [Session],
    stages: Vec<Stages<'a>>,
    wanted: &'a JoinWanted,
}

impl<'a> Whole<'a> {
    fn of(sessions: &'a [Session], wanted: &'a JoinWanted) -> Self {
        Self { sessions, stages: sessions.iter().filter_map(Session::stages).collect(), wanted }
    }

    fn tracing(&self) -> Result<Tracing, JoinError> {
        let sizes: Vec<[usize; 2]> = self.sessions.iter().map(|s| [s.shot.width, s.shot.height]).collect();
        if let Some((pair, off)) = moved::moved(&self.stages, &sizes) {
            return Err(JoinError::Moved { pictures: pair.map(|k| name(&self.sessions[k])), off });
        }
        let outer: Vec<(usize, &SeamPath)> =
            self.stages.iter().enumerate().flat_map(|(k, s)| s.lines.pieces.iter().map(move |p| (k, &p.outer))).collect();
        let polygons: Vec<Vec<Mm>> = outer.iter().map(|(_, path)| path.points.iter().map(|p| p.at).collect()).collect();
        let mut rounds = union(&polygons);
        if let Some(asked) = self.wanted.pieces {
            if rounds.len() < asked {
                return Err(JoinError::Fewer { asked, found: rounds.len() });
            }
            rounds.truncate(asked);
        }
        let merged: Vec<Merged> = rounds.iter().map(|r| self.merged(r, &outer)).collect();
        if !self.wanted.partial
            && let Some(at) = merged.iter().find_map(|m| m.cut.get(m.cut.len() / 2))
        {
            return Err(self.parted(&merged).unwrap_or_else(|| self.cut_off(*at)));
        }
        let outers: Vec<&SeamPath> = merged.iter().map(|m| &m.path).collect();
        let named = self.named(&outers)?;
        let (mut pieces, mut doubts) = (Vec::new(), Vec::new());
        let mut known = Vec::new();
        for (k, own) in merged.iter().enumerate() {
            let named: Vec<&Named> = named.iter().filter(|n| n.piece == k).collect();
            let (piece, of) = self.piece(k, merged.len(), own, &named, &mut doubts)?;
            pieces.push(piece);
            known.push(of);
        }
        self.finished(pieces, &known, doubts)
    }

    /// The lines of all pictures along a rough one made one.
    fn merged(&self, round: &union::Round, lines: &[(usize, &SeamPath)]) -> Merged {
        let errors: Vec<_> = self.stages.iter().map(|s| move |p: &SeamPoint| view_error(s, p)).collect();
        let lines: Vec<merge::Line> =
            lines.iter().map(|&(picture, path)| merge::Line { path, picture, view_error: &errors[picture] }).collect();
        merge(round, &lines)
    }

    /// Two pictures each of which shows a part that is cut off and that no other sees: there is nothing between to join them by.
    fn parted(&self, merged: &[Merged]) -> Option<JoinError> {
        let alone = |m: &&Merged| {
            let pictures: BTreeSet<usize> = m.shares.iter().flatten().map(|s| s.0).collect();
            (!m.cut.is_empty() && pictures.len() == 1).then(|| pictures.first().copied()).flatten()
        };
        let parts: BTreeSet<usize> = merged.iter().filter_map(|m| alone(&m)).collect();
        let mut parts = parts.into_iter();
        let pictures = [parts.next()?, parts.next()?].map(|k| name(&self.sessions[k]));
        Some(JoinError::Parted { pictures })
    }

    /// The picture and the side of it at which a piece is cut off.
    fn cut_off(&self, at: Mm) -> JoinError {
        let all = self
            .stages
            .iter()
            .enumerate()
            .flat_map(|(k, s)| s.lines.pieces.iter().flat_map(move |p| p.outer.points.iter().map(move |p| (k, p))));
        let nearest = all.filter(|(_, p)| p.flags.cut).min_by(|a, b| a.1.at.distance(at).total_cmp(&b.1.at.distance(at)));
        let Some((k, point)) = nearest else { return JoinError::TooFew };
        let shot = &self.sessions[k].shot;
        let sides = [
            ("left", point.px.x),
            ("right", shot.width as f64 - 1.0 - point.px.x),
            ("top", point.px.y),
            ("bottom", shot.height as f64 - 1.0 - point.px.y),
        ];
        let side = sides.iter().min_by(|a, b| a.1.total_cmp(&b.1)).map_or("edge", |s| s.0);
        JoinError::CutOff { picture: name(&self.sessions[k]), side }
    }

    /// The named corners of the notes on the common sheet.
    fn named(&self, outers: &[&SeamPath]) -> Result<Vec<Named>, JoinError> {
        let far = |rim: &SeamPath, at: Mm| rim.points.iter().map(|p| p.at.distance(at)).fold(f64::INFINITY, f64::min);
        let mut out = Vec::new();
        for c in &self.wanted.notes.corners {
            let at = self.corner(c)?;
            let nearest = (0..outers.len()).min_by(|&a, &b| far(outers[a], at).total_cmp(&far(outers[b], at)));
            let says = if c.round { Says::Round } else { Says::Corner };
            out.extend(nearest.map(|piece| Named { piece, name: c.name.clone(), at, says }));
        }
        Ok(out)
    }

    fn corner(&self, corner: &CornerNotes) -> Result<Mm, JoinError> {
        let lost = || JoinError::CornerLost { corner: corner.name.clone() };
        let number = match &corner.picture {
            Some(file) => (0..self.sessions.len()).find(|&k| name(&self.sessions[k]) == *file).ok_or_else(lost)?,
            None => 0,
        };
        let s = &self.stages[number];
        match &corner.at {
            Place::Px(px) => s.solved.view.to_mm(*px, s.height).ok_or_else(lost),
            Place::Mm(xy) if s.lattice.code.is_some() => Ok(Mm::new(xy[0].mm(), xy[1].mm())),
            Place::Mm(_) | Place::Mark(_) => Err(lost()),
        }
    }

    fn piece(&self, k: usize, of: usize, own: &Merged, named: &[&Named], told: &mut Vec<Doubt>) -> Result<(Traced, Known), JoinError> {
        let notes = &self.wanted.notes;
        let saying = |says: Says| named.iter().filter(|n| n.says == says).map(|n| n.at).collect();
        let hints =
            Hints { corners: saying(Says::Corner), marked: saying(Says::Marked), exact: saying(Says::Exact), round: saying(Says::Round) };
        let at = |name: &str| named.iter().find(|n| n.name == name).map(|n| n.at);
        let ruled = notes.edges.iter().filter(|e| e.straight).filter_map(|e| Some([at(&e.from)?, at(&e.to)?])).collect();
        let outline = draw(&own.path, &hints, ruled).map_err(JoinError::Outline)?;
        let holes = self.holes(&outline)?;
        let corner_names = names::corners(&outline, named, &notes.corners);
        let seen = seen(&own.path, &[], &outline);
        let joined = own.agreement();
        let disagree = joined.apart > DOUBTED.1.max(DOUBTED.0 * joined.allowed);
        // By half of what two lines are apart the middle of them may be out.
        let known = Known::of(&outline, own, (&self.stages, of), if disagree { 0.5 * joined.apart } else { 0.0 });
        let names = names::edges(&outline, &corner_names, &notes.edges, named);
        let line = self.sessions[0].wanted.line;
        let edges: Vec<EdgeFound> = names
            .into_iter()
            .enumerate()
            .map(|(e, name)| {
                let cut = outline.edges[e].cut;
                EdgeFound {
                    name,
                    line: if cut { Line::Cut } else { line },
                    bound: (!cut).then_some(known.edges[e].0),
                    along: if cut { Vec::new() } else { known.edges[e].1.clone() },
                    found: found(&seen[e], line),
                    rough: None,
                    pictures: known.pictures[e].clone(),
                }
            })
            .collect();
        let whole = outline.edges.iter().all(|e| !e.cut).then_some(known.whole);
        let name = notes.piece.clone().filter(|_| of == 1).unwrap_or_else(|| format!("piece {}", k + 1));
        if disagree {
            told.push(Doubt::PicturesDisagree { piece: name.clone(), apart: joined.apart, allowed: joined.allowed, at: joined.at });
        }
        let piece = Traced {
            name,
            outline,
            corner_names,
            edges,
            holes,
            inner: Vec::new(),
            bound: whole,
            joined: Some(joined),
            points: vec![(OUTER.to_owned(), own.path.clone())],
        };
        Ok((piece, known))
    }

    /// Holes that lie whole in some picture and inside the piece, those of several pictures merged.
    fn holes(&self, outline: &Outline) -> Result<Vec<Outline>, JoinError> {
        let all =
            self.stages.iter().enumerate().flat_map(|(k, s)| s.lines.pieces.iter().flat_map(move |p| p.holes.iter().map(move |h| (k, h))));
        let whole: Vec<(usize, &SeamPath)> = all.filter(|(_, h)| h.points.iter().all(|p| !p.flags.cut)).collect();
        let middle = |h: &SeamPath| Mm::from(h.points.iter().map(|p| p.at.vector()).sum::<Vector2<f64>>() / h.points.len().max(1) as f64);
        let mut done: Vec<Mm> = Vec::new();
        let mut out = Vec::new();
        for (_, hole) in &whole {
            let at = middle(hole);
            if done.iter().any(|d| d.distance(at) < ONE_HOLE) || kurbo::Shape::winding(&outline.path, (at.x, at.y).into()) == 0 {
                continue;
            }
            done.push(at);
            let same: Vec<(usize, &SeamPath)> = whole.iter().filter(|(_, h)| middle(h).distance(at) < ONE_HOLE).copied().collect();
            let round = union::Round { points: hole.points.iter().map(|p| p.at).collect(), area: 0.0 };
            out.push(draw(&self.merged(&round, &same).path, &Hints::default(), Vec::new()).map_err(JoinError::Outline)?);
        }
        Ok(out)
    }

    fn finished(&self, pieces: Vec<Traced>, known: &[Known], mut told: Vec<Doubt>) -> Result<Tracing, JoinError> {
        let parts = self.sessions.iter().zip(&self.stages).map(|(session, s)| session.further(s));
        let mut all: Vec<Further> = parts.collect();
        if all.is_empty() {
            return Err(JoinError::TooFew);
        }
        let first = all.remove(0);
        let wanted = &self.sessions[0].wanted;
        let (lattice, unknown) = (self.stages[0].lattice, Unknown::of(self.stages[0].lattice, wanted));
        let budget = known::budget(&pieces, known, &self.stages, unknown);
        let mut profiles: Vec<String> = vec![format!("blake3 {}", wanted.sheet.blake3())];
        profiles.extend(print::of(lattice, wanted).map(|p| format!("blake3 {}", p.blake3())));
        profiles.extend(all.iter().chain([&first]).filter_map(|f| f.lens_blake3.as_ref()).map(|b| format!("blake3 {b}")));
        profiles.dedup();
        for s in &self.stages {
            for d in s.lattice.doubts.iter().chain(&s.solved.doubts).chain(&s.cloth.doubts) {
                if told.iter().all(|t| t.code() != d.code()) {
                    told.push(d.clone());
                }
            }
        }
        if wanted.thickness.is_none() && self.stages.iter().any(|s| matches!(s.solved.view.model, Model::Pinhole { .. })) {
            told.push(Doubt::ThicknessAssumed { height: wanted.height().0, cost: budget.worst.thickness });
        }
        if wanted.sheet.measured.is_none() && print::of(lattice, wanted).is_none() {
            let share = wanted.sheet.pitch_error.iter().fold(0.0, |a: f64, &b| a.max(b));
            told.push(Doubt::PitchNotMeasured { share, cost: budget.worst.sheet, number: lattice.code.map(|c| c.number) });
        }
        Ok(Tracing {
            picture: first.picture,
            sheet: self.sheet(),
            view: first.view,
            focal_from: first.focal_from,
            lens_profile: first.lens_profile,
            px_per_mm: first.px_per_mm,
            thickness: wanted.height().0,
            more: all,
            pieces,
            marks: Vec::new(),
            doubts: told,
            budget,
            profiles,
        })
    }

    /// The sheet by all pictures together.
    fn sheet(&self) -> SheetFound {
        let nodes: usize = self.stages.iter().map(|s| s.solved.nodes).sum();
        let square: f64 = self.stages.iter().map(|s| s.solved.rms_px.powi(2) * s.solved.nodes as f64).sum();
        let first = &self.stages[0];
        SheetFound {
            kind: first.lattice.kind,
            number: first.lattice.code.map(|c| c.number),
            measured: print::of(first.lattice, &self.sessions[0].wanted).map(MeasuredPrint::words),
            joined: self.stages.iter().find_map(|s| s.solved.joined.clone()),
            pitch: first.lattice.pitch,
            nodes,
            rms_px: (square / nodes.max(1) as f64).sqrt(),
            coverage: self.stages.iter().map(|s| s.solved.coverage).fold(1.0, f64::min),
            held_out: self.stages.iter().filter_map(|s| s.solved.held_out).max_by(|a, b| a.rms_mm.total_cmp(&b.rms_mm)),
        }
    }
}

/// Standard error of a point along its normal from lens and pose, mm.
fn view_error(s: &Stages, p: &SeamPoint) -> f64 {
    let error = s.solved.view.error_at(p.at, s.height);
    error.map_or(0.0, |c| (p.normal.transpose() * c * p.normal)[(0, 0)].max(0.0).sqrt())
}

fn found(seen: &Seen, line: Line) -> Found {
    match seen {
        Seen { unseen, .. } if line == Line::Seam && *unseen > 0.5 => Found::Offset,
        _ => Found::Picture,
    }
}
