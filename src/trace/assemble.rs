//! From found lines to the finished tracing: outlines, names, bounds, doubts and the budget.

use super::bound::{self, Bounds};
use super::budget::budget;
use super::composite;
use super::creases;
use super::error::TraceError;
use super::frayed;
use super::laid::{self, Places};
use super::lines::{Lines, PieceLines};
use super::names::{self, Named, Says};
use super::print::{self, Unknown};
use super::resolution;
use super::retake;
use super::rolled;
use super::seen::{Seen, seen};
use super::tracing::{EdgeFound, Found, InnerSeam, Line, OUTER, Picture, SheetFound, Traced, Tracing};
use super::wanted::Wanted;
use super::why::Look;
use super::worst;
use crate::cloth::Cloth;
use crate::grid::Lattice;
use crate::length::Mm;
use crate::notes::EdgeNotes;
use crate::outline::{self, Hints, Outline};
use crate::path::SeamPath;
use crate::proof::Doubt;
use crate::sheet::{MeasuredPrint, SheetKind};
use crate::shot::Shot;
use crate::view::{FocalFrom, Solved};
use kurbo::ParamCurveNearest;

/// Below this many pixels per mm the aim of 0.2 mm is out of reach.
const COARSE: f64 = 2.0;
/// Lower than this, mm, a height shifts nothing by a hundredth of a millimetre.
const FLAT: f64 = 0.05;
/// An edge counts as offset, not measured, when more than this share of it could not be seen.
const MOSTLY: f64 = 0.5;
/// And as laid down by a person from this share on: what somebody's hand settled must not pass for seen.
const LAID: f64 = 0.25;
/// An edge said to be straight is doubted when what was found lies farther off it than this (95 %), mm: the trade's sixteenth of an inch.
const BENT: f64 = 1.6;
/// An outline farther than this from a through-point passes it by, mm.
const PASSED_BY: f64 = 1.0;
/// A named place farther than this from the outline lies on a part that a seam cut off, mm.
const CUT_OFF: f64 = 15.0;

/// What all outlines of a picture share.
struct Scene<'a> {
    lattice: &'a Lattice,
    solved: &'a Solved,
    wanted: &'a Wanted,
    look: Look<'a>,
}

/// Draws the outlines and gathers everything that is told about them.
pub(super) fn tracing(
    lattice: &Lattice,
    solved: &Solved,
    cloth: &Cloth,
    lines: &Lines,
    places: &Places,
    wanted: &Wanted,
) -> Result<Tracing, TraceError> {
    let shot = places.shot;
    let look = Look { shot, view: &solved.view, height: wanted.height().0, light: &cloth.light };
    let scene = Scene { lattice, solved, wanted, look };
    let outer: Vec<&SeamPath> = lines.pieces.iter().map(|p| &p.outer).collect();
    let named = names::placed(&wanted.notes.corners, places, &outer)?;
    let (mut pieces, mut told) = (Vec::new(), laid::doubts(places.laid, wanted));
    for (k, piece) in lines.pieces.iter().enumerate() {
        let own: Vec<&Named> = named.iter().filter(|n| n.piece == k).collect();
        pieces.push(scene.piece(k, lines.pieces.len(), piece, &own, &mut told)?);
    }
    told.extend(passed_by(&lines.through, &pieces, wanted));
    told.extend(edges_not_there(&pieces, wanted));
    told.extend(nowhere(&named, lines));
    told.extend(lines.stitched_at.iter().map(|allowance| Doubt::StitchLineElsewhere { allowance: *allowance }));
    told.extend(lines.off_cloth.iter().map(|(seam, at)| Doubt::SeamOffCloth { seam: seam.clone(), at: *at }));
    let outlines: Vec<&Outline> = pieces.iter().map(|p: &Traced| &p.outline).collect();
    let unknown = Unknown::of(lattice, wanted).oblong(&solved.doubts);
    let budget = budget(&outlines, &solved.view, wanted.height_of_each(lines.pieces.len()), unknown);
    let print = print::of(lattice, wanted);
    let lens = wanted.lens.as_ref().filter(|_| solved.focal_from == Some(FocalFrom::LensProfile)).map(|l| &l.profile);
    let mut tracing = Tracing {
        picture: Picture::of(shot, &solved.view),
        sheet: SheetFound {
            kind: lattice.kind,
            number: lattice.code.map(|c| c.number),
            measured: print.map(MeasuredPrint::words),
            joined: solved.joined.clone(),
            pitch: lattice.pitch,
            nodes: solved.nodes,
            rms_px: solved.rms_px,
            coverage: solved.coverage,
            held_out: solved.held_out,
        },
        view: solved.view.clone(),
        focal_from: solved.focal_from,
        lens_profile: lens.map(|l| l.name.clone()),
        px_per_mm: solved.px_per_mm,
        thickness: wanted.height().0,
        more: Vec::new(),
        pieces,
        marks: places.laid.to_vec(),
        doubts: Vec::new(),
        budget,
        profiles: std::iter::once(wanted.sheet.blake3())
            .chain(lens.map(|l| l.blake3()))
            .chain(print.map(MeasuredPrint::blake3))
            .map(|b| format!("blake3 {b}"))
            .collect(),
    };
    told.extend(retake::burnt_out(shot, cloth, &solved.view, wanted.height().0));
    told.extend(worst::doubts(&tracing, lines, &scene.look));
    told.extend(frayed::doubts(&tracing.pieces));
    told.extend(creases::doubts(&tracing, lines, &scene.look));
    told.extend(rolled::doubts(&tracing, lines, &scene.look));
    tracing.doubts = scene.doubts(shot, &tracing, cloth);
    tracing.doubts.splice(0..0, told);
    Ok(tracing)
}

impl Scene<'_> {
    fn piece(&self, k: usize, of: usize, lines: &PieceLines, named: &[&Named], told: &mut Vec<Doubt>) -> Result<Traced, TraceError> {
        let own = on_outline(named, lines);
        let named: &[&Named] = &own.iter().collect::<Vec<_>>();
        let near = |n: &Named| lines_of(lines).flat_map(|l| &l.points).any(|p| p.at.distance(n.at) <= OFF);
        let saying = |says: Says| named.iter().filter(|n| n.says == says && near(n)).map(|n| n.at).collect();
        let hints =
            Hints { corners: saying(Says::Corner), marked: saying(Says::Marked), exact: saying(Says::Exact), round: saying(Says::Round) };
        let outline = draw(&lines.outer, &hints, self.ruled(named))?;
        let holes = lines.holes.iter().map(|h| draw(h, &Hints::default(), Vec::new())).collect::<Result<Vec<_>, _>>()?;
        let (height, height_error) = self.wanted.height_of_each(of);
        let corner_names = names::corners(&outline, named, &self.wanted.notes.corners);
        let seen = seen(&lines.outer, &lines.kinds, &outline);
        let rough = frayed::rough(&outline, &seen, &self.look);
        let Bounds { edges, whole } = bound::bounds(&outline, &self.solved.view, (height, height_error), &rough);
        let noted = self.noted(&outline, &corner_names);
        let names = names::edges(&outline, &corner_names, &self.wanted.notes.edges, named);
        told.extend(self.bent(&outline, &corner_names, &names, &seen));
        let edges = names
            .into_iter()
            .zip(edges)
            .zip(outline.edges.iter().zip(seen).zip(noted.into_iter().zip(rough)))
            .map(|((name, (bound, along)), ((edge, seen), (noted, rough)))| EdgeFound {
                name,
                rough: (rough > 0.0).then_some(rough),
                pictures: vec![0],
                line: match (edge.cut, seen.line) {
                    (true, _) => Line::Cut,
                    (_, Some(line)) if line != self.wanted.line => line,
                    _ => noted.unwrap_or(self.wanted.line),
                },
                bound: (!edge.cut).then_some(bound),
                along: if edge.cut { Vec::new() } else { along },
                found: match seen {
                    Seen { by_hand, .. } if by_hand > LAID => Found::Hand,
                    Seen { unseen, .. } if self.wanted.line == Line::Seam && unseen > MOSTLY => Found::Offset,
                    _ => Found::Picture,
                },
            })
            .collect();
        let inner = lines.inner.iter().map(|(name, seam)| self.inner(name, seam, of)).collect::<Result<Vec<_>, _>>()?;
        let whole = outline.edges.iter().all(|e| !e.cut).then_some(whole);
        let name = self.wanted.notes.piece.clone().filter(|_| of == 1).unwrap_or_else(|| format!("piece {}", k + 1));
        let found = lines.holes.iter().enumerate().map(|(k, h)| (format!("hole {}", k + 1), h.clone())).chain(lines.inner.iter().cloned());
        let points = std::iter::once((OUTER.to_owned(), lines.outer.clone())).chain(found).collect();
        Ok(Traced { name, outline, corner_names, edges, holes, inner, bound: whole, joined: None, points })
    }

    /// The seam or fold that the notes say an edge of the outline is.
    fn noted(&self, outline: &Outline, corners: &[String]) -> Vec<Option<Line>> {
        let name = |k: Option<usize>| k.and_then(|k| corners.get(k));
        let said = |e: &outline::Edge| {
            let (a, b) = (name(e.from)?, name(e.to)?);
            self.wanted.notes.edges.iter().find(|n| n.joins(a, b)).and_then(composite::line).filter(|l| *l != Line::Rim)
        };
        outline.edges.iter().map(said).collect()
    }

    /// The edges that were said to be straight, by the places of their ends.
    fn ruled(&self, named: &[&Named]) -> Vec<[Mm; 2]> {
        let at = |name: &str| named.iter().find(|n| n.name == name).map(|n| n.at);
        self.wanted.notes.edges.iter().filter(|e| e.straight).filter_map(|e| Some([at(&e.from)?, at(&e.to)?])).collect()
    }

    /// Edges drawn straight as was said, though what was found is not.
    fn bent(&self, outline: &Outline, corners: &[String], names: &[String], seen: &[Seen]) -> Vec<Doubt> {
        let told = |k: usize| {
            let e = &outline.edges[k];
            let (Some(a), Some(b)) = (e.from.and_then(|k| corners.get(k)), e.to.and_then(|k| corners.get(k))) else { return false };
            self.wanted.notes.edges.iter().any(|n| n.straight && n.joins(a, b))
        };
        let bent = (0..outline.edges.len()).filter(|&k| told(k) && seen[k].off > BENT);
        bent.map(|k| Doubt::NotStraight { edge: names[k].clone(), off: seen[k].off, at: outline.edges[k].middle() }).collect()
    }

    fn inner(&self, name: &str, seam: &SeamPath, of: usize) -> Result<InnerSeam, TraceError> {
        let drawn = draw(seam, &Hints::default(), Vec::new())?;
        let (height, height_error) = self.wanted.height_of_each(of);
        let bound = bound::bounds(&drawn, &self.solved.view, (height, height_error), &[]).whole;
        Ok(InnerSeam { name: name.to_owned(), path: drawn.path, bound })
    }

    fn doubts(&self, shot: &Shot, tracing: &Tracing, cloth: &Cloth) -> Vec<Doubt> {
        let mut doubts: Vec<Doubt> = self.lattice.doubts.iter().chain(&self.solved.doubts).chain(&cloth.doubts).cloned().collect();
        if self.wanted.height().0 < FLAT {
            // The focal length only enters where something stands above the sheet.
            doubts.retain(|d| !matches!(d, Doubt::FocalAssumed { .. }));
        }
        if self.wanted.thickness.is_none() && tracing.picture.photo {
            doubts.push(Doubt::ThicknessAssumed { height: self.wanted.height().0, cost: tracing.budget.worst.thickness });
        }
        doubts.extend(unusual(&tracing.pieces).filter(|_| !self.wanted.at.is_empty()));
        let reach = farthest(&tracing.pieces);
        for doubt in &mut doubts {
            if let Doubt::LensOrSheet { share, cost, .. } = doubt {
                *cost = share.abs() / 2.0 * reach;
            }
        }
        doubts.extend(resolution::mismatch(shot, self.lattice, self.solved, self.wanted));
        let measured = self.wanted.sheet.measured.is_some() || tracing.sheet.measured.is_some();
        if !measured && self.lattice.kind != SheetKind::Plain {
            let share = self.wanted.sheet.pitch_error.iter().fold(0.0, |a: f64, &b| a.max(b));
            doubts.push(Doubt::PitchNotMeasured { share, cost: tracing.budget.worst.sheet, number: tracing.sheet.number });
        }
        let places = tracing.pieces.iter().flat_map(|p| p.outline.corners.iter().map(|c| c.at).chain([p.middle()]));
        let coarsest = places.map(|at| (self.solved.view.px_per_mm(at), at)).min_by(|a, b| a.0.total_cmp(&b.0));
        if let Some((px_per_mm, at)) = coarsest.filter(|c| c.0 < COARSE) {
            doubts.push(Doubt::LowResolution { px_per_mm, at });
        }
        doubts
    }
}

/// Garments of people, and their parts, are longer than a coin purse and shorter than a train, mm (common practice, no source).
const USUAL: std::ops::RangeInclusive<f64> = 60.0..=3_000.0;

/// The doubt of pieces of which none has the size of something to wear.
fn unusual(pieces: &[Traced]) -> Option<Doubt> {
    let size = 2.0 * farthest(pieces);
    (size > 0.0 && !USUAL.contains(&size)).then_some(Doubt::UnitUnsure { away: None, size: Some(size) })
}

/// The farthest that an outline reaches from its own middle, mm.
fn farthest(pieces: &[Traced]) -> f64 {
    let reach = |p: &Traced| {
        let b = kurbo::Shape::bounding_box(&p.outline.path);
        b.width().hypot(b.height()) / 2.0
    };
    pieces.iter().map(reach).fold(0.0, f64::max)
}

/// The named places of a piece. Where lines meet, the corner is where they do; what lies on a part that a seam cut off is none of it.
fn on_outline(named: &[&Named], lines: &PieceLines) -> Vec<Named> {
    let mut out: Vec<Named> = named.iter().copied().cloned().collect();
    if !lines.joints.is_empty() {
        for n in &mut out {
            n.at = lines.joints.iter().find(|(name, _)| *name == n.name).map_or(n.at, |(_, at)| *at);
        }
        out.retain(|n| lines.outer.points.iter().any(|p| p.at.distance(n.at) < CUT_OFF));
    }
    out
}

/// A corner said to be round is looked for no farther from its place than this, mm.
const ROUND_OFF: f64 = 5.0;
/// And any other no farther than this: a person's hand is no worse.
const OFF: f64 = 25.0;

/// Through-points that no outline passes through.
fn passed_by(through: &[(Mm, f64)], pieces: &[Traced], wanted: &Wanted) -> Vec<Doubt> {
    let drawn = |at: Mm| {
        let all = pieces.iter().flat_map(|p| std::iter::once(&p.outline).chain(&p.holes)).flat_map(|o| o.path.segments());
        all.map(|s| s.nearest((at.x, at.y).into(), 0.01).distance_sq.sqrt()).fold(f64::INFINITY, f64::min)
    };
    // The stitch line that is drawn runs inside the rim that was led through them.
    let off = |&(at, rim): &(Mm, f64)| (at, if wanted.line == Line::Rim { drawn(at) } else { rim });
    through.iter().map(off).filter(|(_, off)| *off > PASSED_BY).map(|(at, off)| Doubt::PassedBy { off, at }).collect()
}

/// Corners that lie on no outline: nothing is made of them.
fn nowhere(named: &[Named], lines: &Lines) -> Vec<Doubt> {
    // Where a seam cuts a part off, corners may lie on what is left out.
    let off = |n: &Named| {
        let piece = lines.pieces.get(n.piece).filter(|p| p.joints.is_empty());
        piece.and_then(|p| lines_of(p).flat_map(|l| &l.points).map(|p| p.at.distance(n.at)).min_by(f64::total_cmp)).unwrap_or_default()
    };
    let far = named.iter().filter(|n| n.says != Says::Nothing).map(|n| (n, off(n)));
    let far = far.filter(|(n, off)| *off > if n.says == Says::Round { ROUND_OFF } else { OFF });
    far.map(|(n, off)| Doubt::CornerNowhere { corner: n.name.clone(), off, at: n.at }).collect()
}

/// The outline of a piece and its holes.
fn lines_of(piece: &PieceLines) -> impl Iterator<Item = &SeamPath> {
    std::iter::once(&piece.outer).chain(&piece.holes)
}

/// Edges whose corners lie on one outline with another named one between them either way; and those said to be straight whose corners are no
/// neighbours on any.
fn edges_not_there(pieces: &[Traced], wanted: &Wanted) -> Vec<Doubt> {
    let on = |p: &Traced, n: &EdgeNotes| [&n.from, &n.to].iter().all(|c| p.corner_names.contains(c));
    let told = |p: &Traced, n: &EdgeNotes| {
        let told = EdgeNotes::told(&wanted.notes.edges, &p.corner_names.iter().map(String::as_str).collect::<Vec<_>>());
        let own: Vec<usize> = told.into_iter().flatten().filter(|(e, _)| std::ptr::eq(*e, n)).map(|(_, stretch)| stretch).collect();
        if n.straight { own.len() == 1 } else { !own.is_empty() }
    };
    let there = |n: &EdgeNotes| pieces.iter().any(|p| told(p, n)) || !(n.straight || pieces.iter().any(|p| on(p, n)));
    let missing = wanted.notes.edges.iter().filter(|n| !there(n));
    missing.map(|n| Doubt::EdgeNotThere { from: n.from.clone(), to: n.to.clone() }).collect()
}

/// Corners and curves of a line.
pub(super) fn draw(line: &SeamPath, hints: &Hints, ruled: Vec<[Mm; 2]>) -> Result<Outline, TraceError> {
    let corners = outline::corners(line, hints);
    Ok(outline::assemble(line, &corners, &outline::Settings { ruled, ..outline::Settings::default() })?)
}
