//! Places of the notes once one half of a piece is kept, or the mean of both is drawn: on the line that is drawn, at the length that was given
//! along it, and of a piece that is drawn whole on both its halves, as the line is (common practice, no source).

use super::bench::{Bench, Pins, REACH, closed};
use super::centre::Centre;
use super::grain::place;
use super::halves::swapped;
use super::item::Item;
use super::layer::{Layer, alike, mm, point};
use super::misplaced::refused;
use super::walk::Walk;
use crate::notes::{OnEdge, PieceNotes, Spot};
use kurbo::Point;

/// A place this near to the centre, mm, belongs to both halves.
const AT_CENTRE: f64 = 0.5;
/// Darts, pleats, gathers and marks of both halves that lie within this of each other's mirror image, mm, are the same on either side: 1 in.
const SAME: f64 = 25.4;
/// The same of notches, several of which may lie along an edge: 1/4 in.
const SAME_NOTCH: f64 = 6.35;

/// How a half was kept.
pub(super) struct Kept<'a> {
    /// The lines before.
    pub before: &'a Layer,
    /// The centre line.
    pub line: &'a Centre,
    /// Whether the half that is drawn lies on the right of the page.
    pub right: bool,
    /// Whether it is the mean of both.
    pub mean: bool,
    /// Whether it is drawn by itself, on the fold; else it is mirrored for the other.
    pub on_fold: bool,
    /// What the halves on the left and on the right of the page are called.
    pub words: [&'static str; 2],
}

/// Brings the places of the notes to the lines as they are drafted now. Gives what is on the other half now too, by its name.
pub(super) fn settled(bench: &mut Bench, notes: &mut PieceNotes, kept: &Kept) -> Vec<String> {
    let all = Item::all(notes);
    let sides: Vec<(Item, Option<bool>)> = all.iter().map(|&item| (item, kept.side_of(bench, notes, item))).collect();
    let lines = bench.piece.drafted().clone();
    // Both halves are compared as they lie on the line that is drawn, whichever is kept.
    let was = bench.pins.clone();
    bench.pins.carry(|p| kept.on_mean(p, &lines));
    all.iter().for_each(|item| at_lengths(bench, notes, *item, kept.on_fold));
    let twins = kept.twins(notes, &bench.pins, &sides);
    if !kept.mean {
        bench.pins = was;
        bench.pins.carry(|p| kept.of_half(p));
    }
    for &(own, other) in &twins {
        kept.as_one(notes, &mut bench.pins, own, other);
    }
    if kept.on_fold {
        // One dart or notch on the half stands for both.
        let mut over: Vec<Item> = twins.iter().map(|t| t.1).collect();
        over.sort_by_key(|item| std::cmp::Reverse(item.number()));
        over.into_iter().for_each(|item| item.forget((notes, &mut bench.pins)));
        return Vec::new();
    }
    let edge = |name: &str| Some(swapped(name)).filter(|other| lines.edge(other).is_some()).unwrap_or_else(|| name.to_owned());
    let mut told = Vec::new();
    for (item, side) in sides {
        let Some(right) = side.filter(|_| !item.once(notes) && !twins.iter().any(|t| t.0 == item || t.1 == item)) else { continue };
        if !kept.mean && right != kept.right {
            let gone = item.places(&bench.pins).len();
            item.put(&mut bench.pins, &vec![None; gone]);
        } else if !refused(bench, item.name(notes)) {
            told.push(match item.edge(notes).filter(|_| item.name(notes).is_empty()) {
                Some(edge) => format!("a notch in {edge}"),
                None => item.name(notes).to_owned(),
            });
            let name = match swapped(item.name(notes)) {
                same if alike(&same, item.name(notes)) => format!("{same} {}", kept.words[usize::from(!right)]),
                other => other,
            };
            item.again((notes, &mut bench.pins), kept.line.mirror(), name, &edge);
        }
    }
    told
}

impl Kept<'_> {
    fn on_right(&self, p: Point) -> bool {
        self.line.distance(mm(p)) > 0.0
    }

    /// Whether something lies on the right half of the page; nothing where it lies on both, at the centre, or nowhere.
    fn side_of(&self, bench: &Bench, notes: &PieceNotes, item: Item) -> Option<bool> {
        let mut places: Vec<Point> = item.places(&bench.pins).into_iter().flatten().collect();
        // What takes up all of its edge lies where that does.
        if let Some(k) = item.edge(notes).filter(|_| places.is_empty()).and_then(|edge| self.before.edge(edge)) {
            let walk = Walk::of(&self.before.edges[k].path);
            places.extend([0.0, walk.length()].map(|far| walk.at(far)));
        }
        let far = |keep: fn(f64, f64) -> f64| places.iter().map(|p| self.line.distance(mm(*p))).reduce(keep);
        match (far(f64::min)?, far(f64::max)?) {
            (least, most) if least > -AT_CENTRE && most > AT_CENTRE => Some(true),
            (least, most) if most < AT_CENTRE && least < -AT_CENTRE => Some(false),
            _ => None,
        }
    }

    /// What is noted on both halves: each with the same on the other half, that of the half that is drawn first.
    fn twins(&self, notes: &PieceNotes, pins: &Pins, sides: &[(Item, Option<bool>)]) -> Vec<(Item, Item)> {
        let on = |right: bool| sides.iter().filter(move |s| s.1 == Some(right) && !s.0.once(notes)).map(|s| s.0);
        let mut pairs: Vec<(f64, Item, Item)> = Vec::new();
        for (a, b) in on(self.right).flat_map(|a| on(!self.right).filter(move |b| a.like(*b)).map(move |b| (a, b))) {
            let edges = a.edge(notes).zip(b.edge(notes)).is_none_or(|(p, q)| alike(&swapped(p), q));
            let named = !a.name(notes).is_empty() && alike(&swapped(a.name(notes)), b.name(notes)) && !alike(a.name(notes), b.name(notes));
            let within = if matches!(a, Item::Notch(_)) { SAME_NOTCH } else { SAME };
            match self.apart(pins, a, b) {
                _ if !edges => {}
                // Of both all of the edge.
                None if a.places(pins).is_empty() && b.places(pins).is_empty() => pairs.push((0.0, a, b)),
                Some((off, _)) if named || off < within => pairs.push((if named { 0.0 } else { off }, a, b)),
                _ => {}
            }
        }
        pairs.sort_by(|p, q| p.0.total_cmp(&q.0));
        let mut out: Vec<(Item, Item)> = Vec::new();
        for (_, a, b) in pairs {
            if out.iter().all(|t| t.0 != a && t.1 != b) {
                out.push((a, b));
            }
        }
        out
    }

    /// How far one thing lies from the mirror image of another in the mean, mm, and whether their places answer one another the other way round.
    fn apart(&self, pins: &Pins, a: Item, b: Item) -> Option<(f64, bool)> {
        let own = a.places(pins);
        let off = |theirs: Vec<Option<Point>>| {
            let both: Vec<(Point, Point)> = own.iter().zip(&theirs).filter_map(|(p, q)| p.zip(*q)).collect();
            let sum: f64 = both.iter().map(|(p, q)| p.distance(self.beyond(*q))).sum();
            (own.len() == theirs.len() && !both.is_empty()).then(|| sum / both.len() as f64)
        };
        let ways = [(off(b.places(pins)), false), (off(b.turned(pins)), true)];
        ways.into_iter().filter_map(|(off, turned)| Some((off?, turned))).min_by(|p, q| p.0.total_cmp(&q.0))
    }

    /// Where a place lies once one half is kept: of the other one it is gone where that is not drawn.
    fn of_half(&self, p: Point) -> Option<Point> {
        (self.on_right(p) == self.right || !self.on_fold || self.line.distance(mm(p)).abs() < AT_CENTRE).then_some(p)
    }

    /// Where a place lies once the mean of both is drawn: one on an edge on the line that is drawn, all of a piece on the fold on its half.
    fn on_mean(&self, p: Point, lines: &Layer) -> Option<Point> {
        let here = self.on_right(p) == self.right || !self.on_fold;
        let edge = self.before.edges.iter().map(|e| (Walk::of(&e.path).nearest(p).1, e)).min_by(|a, b| a.0.total_cmp(&b.0));
        let there = if here { p } else { self.line.mirror() * p };
        let line = edge.filter(|(off, _)| *off < REACH).and_then(|(_, e)| {
            let names = if here { [e.name.clone(), swapped(&e.name)] } else { [swapped(&e.name), e.name.clone()] };
            names.iter().find_map(|name| lines.edge(name))
        });
        Some(line.map_or(there, |k| {
            let walk = Walk::of(&lines.edges[k].path);
            walk.at(walk.nearest(there).0)
        }))
    }

    /// A place of the other half on the drawn one.
    fn beyond(&self, p: Point) -> Point {
        if self.on_fold { p } else { self.line.mirror() * p }
    }

    /// What is noted on both halves: the mean of both, or as on the half that is kept, and on the other its mirror image.
    fn as_one(&self, notes: &mut PieceNotes, pins: &mut Pins, own: Item, other: Item) {
        let mirror = self.line.mirror();
        let beyond = |p: &Option<Point>| p.map(|p| self.beyond(p));
        let off = |theirs: &[Option<Point>]| -> f64 {
            own.places(pins).iter().zip(theirs).filter_map(|(p, q)| Some(p.as_ref()?.distance(*q.as_ref()?))).sum()
        };
        let ways = [other.places(pins), other.turned(pins)].map(|w| w.iter().map(beyond).collect::<Vec<_>>());
        let turned = off(&ways[1]) < off(&ways[0]);
        if self.mean {
            let theirs = &ways[usize::from(turned)];
            let mean: Vec<Option<Point>> =
                own.places(pins).iter().zip(theirs).map(|(p, q)| Some(p.as_ref()?.midpoint(*q.as_ref()?)).or(*p).or(*q)).collect();
            own.put(pins, &mean);
        }
        own.share(other, notes, self.mean);
        let image = if turned { own.turned(pins) } else { own.places(pins) };
        other.put(pins, &image.iter().map(|p| p.map(|p| mirror * p)).collect::<Vec<_>>());
    }
}

/// Lays what the notes place at a length along an edge at that length along the line that is drawn.
fn at_lengths(bench: &mut Bench, notes: &PieceNotes, item: Item, on_fold: bool) {
    let told: Vec<Option<OnEdge>> = {
        let on = |spot: &Spot| if let Spot::OnEdge(on) = spot { Some(on.clone()) } else { None };
        match item {
            Item::Dart(k) => {
                let dart = &notes.darts[k];
                dart.legs.iter().map(on).chain([on(&dart.point), dart.other_point.as_ref().and_then(on)]).collect()
            }
            Item::Pleat(k) => notes.pleats[k].between.iter().map(on).collect(),
            Item::Gather(k) => notes.gathers[k].between.iter().flatten().map(on).collect(),
            Item::Mark(k) => vec![on(&notes.marks[k].at)],
            Item::Notch(k) => {
                let notch = &notes.notches[k];
                vec![Some(OnEdge { edge: notch.edge.clone(), at: notch.at, from: notch.from.clone() })]
            }
        }
    };
    if told.iter().all(Option::is_none) {
        return;
    }
    let mut places = item.places(&bench.pins);
    for (place, on) in places.iter_mut().zip(&told) {
        if let (Some(own), Some(on)) = (place.as_mut(), on) {
            *own = along(bench, on, on_fold).unwrap_or(*own);
        }
    }
    item.put(&mut bench.pins, &places);
    if let Item::Pleat(k) = item
        && !bench.pins.folds[k].is_empty()
    {
        bench.pins.folds[k] = closed(&notes.pleats[k], bench.pins.pleats[k]);
    }
}

/// A place by its distance along an edge, on the lines as drafted; of a half also where it lies on the mirror image of what is not drawn.
fn along(bench: &Bench, on: &OnEdge, on_fold: bool) -> Option<Point> {
    let (found, lines) = (bench.piece.found(), bench.piece.drafted());
    let start = || found.edge(&on.edge).and_then(|k| found.corners.get(k)).map(|c| c.name.clone());
    let from = on.from.clone().or_else(start)?;
    let own = (on.edge.clone(), from.clone());
    let other = on_fold.then(|| (swapped(&on.edge), swapped(&from)));
    std::iter::once(own).chain(other).find_map(|(edge, from)| {
        let long = lines.edges[lines.edge(&edge)?].length();
        let on = OnEdge { edge, at: on.at, from: Some(from) };
        place(lines, &Spot::OnEdge(on.clone())).filter(|_| on.at.mm() <= long).map(point)
    })
}
