//! Pleats, tucks and gathers drawn on their piece: which line is folded onto which, how far they are stitched down, from where to where cloth
//! is drawn together.
//!
//! A pleat is two lines, and an arrow from the one that is folded to the one it is laid on; a box pleat is folded outwards on both sides of what is
//! seen of it, an inverted one inwards until both folds meet (common practice, no source). One that lies closed is one line, its arrow as long as it is deep.

use super::bench::Pins;
use super::drafting::Draft;
use super::layer::{Layer, Line, ends, point};
use super::shrinking::Larger;
use super::sides::left_lies_right;
use super::walk::Walk;
use crate::length::Length;
use crate::notes::{Gather, GatheredBy, Laid, Pleat};
use kurbo::{BezPath, PathEl, Point, Shape, Vec2};

/// How far into the piece the lines of a pleat are drawn where nobody noted how far it is stitched down, mm.
const DRAWN: f64 = 50.0;
/// How far marks at the ends of gathers reach in, mm.
const TICK: f64 = 10.0;
/// Places nearer to one another than this, mm, make no line.
const SHORT: f64 = 1.0;
/// An arrow's head, mm.
const HEAD: f64 = 4.0;

/// Lines of pleats, tucks or gathers.
#[derive(Clone, Debug, PartialEq)]
pub struct FullnessDrawn {
    /// Its name.
    pub name: String,
    /// The edge that it takes up, of a piece laid open that on its own half.
    pub edge: String,
    /// What is to be done with it, in the trade's words.
    pub words: String,
    /// Lines along which it is folded or laid, arrows from the first to the second; marks where gathers start and end.
    pub lines: Vec<BezPath>,
}

/// All pleats and gathers that the notes tell of a piece, where they lie on its lines as drafted.
pub(super) fn drawn(draft: &Draft) -> Vec<FullnessDrawn> {
    let Some(notes) = &draft.notes else { return Vec::new() };
    let layer = draft.piece.drafted();
    let pleats = notes
        .pleats
        .iter()
        .zip(&draft.pins.folds)
        .enumerate()
        .filter_map(|(k, (p, folds))| pleat(draft, layer, p, (folds, draft.pins.pivots.get(k).map_or(&[][..], Vec::as_slice))));
    let gathers = notes.gathers.iter().zip(&draft.pins.gathers).filter_map(|(g, ends)| gather(draft, layer, g, *ends));
    pleats.chain(gathers).collect()
}

fn pleat(draft: &Draft, layer: &Layer, pleat: &Pleat, (folds, pivots): (&[[Option<Point>; 2]], &[Option<Point>])) -> Option<FullnessDrawn> {
    let mut deep = pleat.depth.mm();
    let mut long = pleat.stitched_down.map_or(DRAWN, |l| l.mm());
    let toward = pleat.laid.and_then(|laid| toward(draft, laid));
    let mut lines = Vec::new();
    for (k, fold) in folds.iter().enumerate() {
        let [Some(a), Some(b)] = *fold else { continue };
        let into = inward(draft, layer, &pleat.edge, a, b)?;
        let drawn = |noted: Length, way: Vec2| Larger::drawn(draft.larger, noted, &straight(a, a + way));
        deep = drawn(pleat.depth, into.turn_90());
        long = pleat.stitched_down.map_or(DRAWN, |l| drawn(l, into));
        // Where what it takes up runs out to nothing its lines meet there.
        let pivot = pivots.get(k).copied().flatten();
        let line =
            |from: Point| straight(from, pivot.map_or(from + into * long, |to| from + (to - from) * (long / from.distance(to)).min(1.0)));
        if a.distance(b) < 1e-6 {
            // It lies closed, as it was found.
            lines.push(line(a));
            let across = into.turn_90();
            let half = across * (deep / 2.0);
            let moves: Vec<[Point; 2]> = match pleat.laid {
                Some(Laid::Box) => vec![[a, a + half], [a, a - half]],
                Some(Laid::Inverted) => vec![[a + half, a], [a - half, a]],
                _ => match &toward {
                    Some(way) if across.dot(way(a)) > 0.0 => vec![[a - half, a + half]],
                    Some(_) => vec![[a + half, a - half]],
                    None => vec![],
                },
            };
            lines.extend(moves.iter().map(|[from, to]| arrow(*from + into * (long / 2.0), *to + into * (long / 2.0))));
            continue;
        }
        let (across, middle) = ((b - a) / a.distance(b), a.midpoint(b));
        let half = deep / 2.0;
        // From where each fold is made to where it is laid.
        let moves: Vec<[Point; 2]> = match pleat.laid {
            Some(Laid::Box) => vec![[a + across * half, a - across * half], [b - across * half, b + across * half]],
            Some(Laid::Inverted) => vec![[a, middle], [b, middle]],
            _ => match &toward {
                Some(way) if across.dot(way(middle)) > 0.0 => vec![[a, b]],
                Some(_) => vec![[b, a]],
                None => vec![],
            },
        };
        let mut stops: Vec<Point> = if moves.is_empty() { vec![a, b] } else { moves.iter().flatten().copied().collect() };
        stops.dedup_by(|p, q| p.distance(*q) < 1e-6);
        lines.extend(stops.into_iter().map(line));
        lines.extend(moves.iter().map(|[from, to]| arrow(*from + into * (long / 2.0), *to + into * (long / 2.0))));
    }
    let count = folds.len();
    let each = format!("{deep:.1} mm deep");
    let many = if count == 1 { format!("1 pleat {each}") } else { format!("{count} pleats, each {each}") };
    let laid = pleat.laid.map_or(", which way is not recorded".to_owned(), |l| format!(", {}", laid_word(l)));
    let closed = if folds.iter().any(|f| matches!(f, [Some(a), Some(b)] if a.distance(*b) < 1e-6)) { ", lies folded" } else { "" };
    let down = pleat.stitched_down.map_or(String::new(), |_| format!(", stitched down {long:.1} mm"));
    (!lines.is_empty()).then(|| FullnessDrawn {
        name: pleat.name.clone(),
        edge: pleat.edge.clone(),
        words: format!("{many}{laid}{down}{closed}"),
        lines,
    })
}

fn laid_word(laid: Laid) -> &'static str {
    match laid {
        Laid::Left => "laid to the wearer's left",
        Laid::Right => "laid to the wearer's right",
        Laid::Up => "laid up",
        Laid::Down => "laid down",
        Laid::ToCentre => "laid to the centre",
        Laid::ToSide => "laid to the side",
        Laid::Box => "box",
        Laid::Inverted => "inverted",
    }
}

/// A way on the page that may differ from place to place.
type Way = Box<dyn Fn(Point) -> Vec2>;

/// The way on the page in which a pleat is laid; nothing for box and inverted ones, and for left and right where nothing tells which is which.
fn toward(draft: &Draft, laid: Laid) -> Option<Way> {
    let layer = draft.piece.drafted();
    let right = || left_lies_right(layer, draft.kind.map(|k| k.value), draft.up);
    let still = |x: f64, y: f64| -> Option<Way> { Some(Box::new(move |_| Vec2::new(x, y))) };
    let centre = Centre::of(layer, &draft.pins);
    match laid {
        Laid::Up => still(0.0, -1.0),
        Laid::Down => still(0.0, 1.0),
        Laid::Left => right().and_then(|right| still(if right { 1.0 } else { -1.0 }, 0.0)),
        Laid::Right => right().and_then(|right| still(if right { -1.0 } else { 1.0 }, 0.0)),
        Laid::ToCentre => Some(Box::new(move |p| centre.from(p))),
        Laid::ToSide => Some(Box::new(move |p| -centre.from(p))),
        Laid::Box | Laid::Inverted => None,
    }
}

/// The centre line of a piece: its fold, an edge of that name, the centre that the notes mark, corners of that name, or else upright through the middle of its width.
#[derive(Clone, Copy)]
pub(super) struct Centre {
    at: Point,
    /// Along it, of length 1.
    way: Vec2,
}

impl Centre {
    pub fn of(layer: &Layer, pins: &Pins) -> Self {
        let upright = |at: Point| Self { at, way: Vec2::new(0.0, 1.0) };
        let through =
            |a: Point, b: Point| if a.distance(b) < SHORT { upright(a.midpoint(b)) } else { Self { at: a, way: (b - a).normalize() } };
        let named = |name: &str| name.to_lowercase().split(|c: char| !c.is_alphabetic()).any(|w| w == "centre");
        let fold = layer.edges.iter().find(|e| e.line == Line::Fold);
        if let Some((a, b)) = fold.or_else(|| layer.edges.iter().find(|e| named(&e.name))).and_then(|e| ends(&e.path)) {
            return through(a, b);
        }
        if let [Some(a), Some(b)] = pins.centre {
            return through(a, b);
        }
        let corners: Vec<Point> = layer.corners.iter().filter(|c| named(&c.name)).map(|c| point(c.at)).collect();
        match corners[..] {
            [] => upright(layer.outline().bounding_box().center()),
            [only] => upright(only),
            [a, .., b] => through(a, b),
        }
    }

    /// From a place straight to it.
    pub fn from(&self, p: Point) -> Vec2 {
        self.at + self.way * (p - self.at).dot(self.way) - p
    }
}

/// Straight into the piece: across a pleat that was opened, else off its edge.
fn inward(draft: &Draft, layer: &Layer, edge: &str, a: Point, b: Point) -> Option<Vec2> {
    let (edges, _) = draft.piece.edges_of(edge);
    let on = |k: &usize| {
        let walk = Walk::of(&layer.edges[*k].path);
        let (far, off) = walk.nearest(a.midpoint(b));
        (off, walk.along(far).turn_90())
    };
    let (_, into) = edges.iter().map(on).min_by(|p, q| p.0.total_cmp(&q.0))?;
    if a.distance(b) < 1e-6 {
        return Some(into);
    }
    let across = ((b - a) / a.distance(b)).turn_90();
    Some(if across.dot(into) < 0.0 { -across } else { across })
}

fn gather(draft: &Draft, layer: &Layer, gather: &Gather, ends: Option<[Option<Point>; 2]>) -> Option<FullnessDrawn> {
    let word = match gather.by {
        GatheredBy::Gathers => "gathered",
        GatheredBy::Smocking => "smocked",
        GatheredBy::Elastic => "drawn up by elastic",
        GatheredBy::Ease => "eased",
    };
    let edge = draft.piece.edges_of(&gather.edge).0.into_iter().flat_map(|k| layer.edges[k].path.elements().iter().copied()).collect();
    let taken = match ends {
        Some([Some(a), Some(b)]) => Walk::of(&edge).between([a, b]),
        _ => edge,
    };
    let to = gather.sewn.map_or(String::new(), |l| format!(" to {:.1} mm", Larger::drawn(draft.larger, l, &taken)));
    // Elastic is no cloth that shrinks.
    let elastic = gather.relaxed.map_or(String::new(), |l| format!(", cut {:.1} mm long, relaxed", l.mm()));
    let lines = match ends {
        // All of its edge: nothing to mark.
        None => Vec::new(),
        Some(ends) => {
            let [Some(a), Some(b)] = ends else { return None };
            [a, b].iter().filter_map(|p| Some(straight(*p, *p + inward(draft, layer, &gather.edge, *p, *p)? * TICK))).collect()
        }
    };
    Some(FullnessDrawn { name: gather.name.clone(), edge: gather.edge.clone(), words: format!("{word}{to}{elastic}"), lines })
}

fn straight(a: Point, b: Point) -> BezPath {
    BezPath::from_vec(vec![PathEl::MoveTo(a), PathEl::LineTo(b)])
}

/// A line with a head at its end, in one stroke.
fn arrow(from: Point, to: Point) -> BezPath {
    let mut path = straight(from, to);
    let back = (from - to) / from.distance(to).max(1e-9) * HEAD.min(from.distance(to));
    for p in [to + back + back.turn_90() / 2.0, to, to + back - back.turn_90() / 2.0] {
        path.line_to(p);
    }
    path
}
