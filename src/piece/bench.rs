//! A piece while it is drafted: its lines, the places that must keep up with them, what edges were called before, and what could not
//! be done.

use super::How;
use super::draft::{Change, Piece};
use super::layer::{Layer, alike, ends, point};
use super::walk::Walk;
use super::{allowance::outward, place};
use crate::length::Mm;
use crate::notes::{Garment, GrainAlong, PieceNotes, Pleat, Spot};
use kurbo::Point;

/// A place that the notes give on a piece lies on its edge within this, mm: a person points to a few px.
pub(super) const REACH: f64 = 5.0;

pub(super) struct Bench {
    pub piece: Piece,
    pub pins: Pins,
    /// Names that edges got here, each with that of the edge it came from.
    names: Vec<(String, String)>,
    /// What was asked for and not done.
    pub undone: Vec<String>,
    /// Darts and pleats that lie where none can, and are left out.
    pub refused: Vec<String>,
    by: Option<String>,
    on: Option<String>,
}

/// Places of the notes that move with the lines; `None` for one that can't be told, or went with the half that was not kept.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Pins {
    /// Where each dart's legs end.
    pub legs: Vec<Vec<Option<Point>>>,
    /// Each dart's point, and the other one.
    pub points: Vec<[Option<Point>; 2]>,
    /// From where to where pleats lie.
    pub pleats: Vec<[Option<Point>; 2]>,
    /// Where each single pleat lies on its edge: both sides of what it takes up, one place while it lies closed.
    pub folds: Vec<Vec<[Option<Point>; 2]>>,
    /// Where what each single pleat takes up runs out to nothing, once it is opened so.
    pub pivots: Vec<Vec<Option<Point>>>,
    /// From where to where each gather lies; nothing where it takes up its whole edge.
    pub gathers: Vec<Option<[Option<Point>; 2]>>,
    /// Placement marks.
    pub marks: Vec<Option<Point>>,
    /// Notches.
    pub notches: Vec<Option<Point>>,
    /// A marked centre.
    pub centre: [Option<Point>; 2],
    /// Two places along the line by which the grain was told: on one thread, or the ends of an edge.
    pub grain: [Option<Point>; 2],
}

impl Pins {
    /// Where the notes say they are among the lines as found.
    pub fn of(layer: &Layer, notes: Option<&PieceNotes>, at: &dyn Fn(&Spot) -> Option<Mm>) -> Self {
        let Some(notes) = notes else { return Self::default() };
        let pin = |spot: &Spot| at(spot).map(point);
        let on = |n: &crate::notes::Notch| {
            let on = crate::notes::OnEdge { edge: n.edge.clone(), at: n.at, from: n.from.clone() };
            let k = layer.edge(&n.edge).filter(|&k| n.at.mm() <= layer.edges[k].length())?;
            place(layer, &Spot::OnEdge(on)).filter(|_| k < layer.edges.len()).map(point)
        };
        Self {
            legs: notes.darts.iter().map(|d| d.legs.iter().map(pin).collect()).collect(),
            points: notes.darts.iter().map(|d| [pin(&d.point), d.other_point.as_ref().and_then(pin)]).collect(),
            pleats: notes.pleats.iter().map(|p| p.between.each_ref().map(pin)).collect(),
            folds: notes.pleats.iter().map(|p| closed(p, p.between.each_ref().map(pin))).collect(),
            pivots: notes.pleats.iter().map(|_| Vec::new()).collect(),
            gathers: notes.gathers.iter().map(|g| g.between.as_ref().map(|b| b.each_ref().map(pin))).collect(),
            marks: notes.marks.iter().map(|m| pin(&m.at)).collect(),
            notches: notes.notches.iter().map(on).collect(),
            centre: notes.centre.as_ref().map_or([None; 2], |c| c.each_ref().map(pin)),
            grain: match notes.grain.as_ref().map(|g| &g.along) {
                Some(GrainAlong::Spots(spots)) => spots.each_ref().map(pin),
                Some(GrainAlong::Edge(name)) => {
                    layer.edge(name).and_then(|k| ends(&layer.edges[k].path)).map_or([None; 2], |(a, b)| [Some(a), Some(b)])
                }
                Some(GrainAlong::Centre) | None => [None; 2],
            },
        }
    }

    /// Both legs' ends of each dart that lies open, or both sides of the widest place of one with two points.
    pub fn mouths(&self) -> Vec<Option<[Point; 2]>> {
        let both = |legs: &Vec<Option<Point>>| match legs[..] {
            [Some(a), Some(b)] => Some([a, b]),
            _ => None,
        };
        self.legs.iter().map(both).collect()
    }

    /// Moves all of them.
    pub fn carry(&mut self, by: impl Fn(Point) -> Option<Point>) {
        let legs = self.legs.iter_mut().flatten().chain(self.points.iter_mut().flatten());
        let folds = self.folds.iter_mut().flatten().flatten().chain(self.pivots.iter_mut().flatten());
        let fullness = self.pleats.iter_mut().flatten().chain(folds).chain(self.gathers.iter_mut().flatten().flatten());
        let all = legs.chain(fullness).chain(&mut self.marks).chain(&mut self.notches).chain(&mut self.centre).chain(&mut self.grain);
        all.for_each(|p| *p = p.and_then(&by));
    }
}

/// Where pleats lie between the first and the last place they take up, as shares of the way.
pub(super) fn shares(pleat: &Pleat, way: f64) -> Vec<f64> {
    let count = pleat.count.unwrap_or(1);
    let share = |i: f64| match pleat.spacing {
        Some(step) => i * step.mm() / way.max(1.0),
        None => (i + 0.5) / f64::from(count),
    };
    (0..count).map(|i| share(f64::from(i))).collect()
}

/// Where single pleats lie while they are closed.
pub(super) fn closed(pleat: &Pleat, between: [Option<Point>; 2]) -> Vec<[Option<Point>; 2]> {
    let [Some(a), Some(b)] = between else { return Vec::new() };
    shares(pleat, a.distance(b)).into_iter().map(|s| [Some(a.lerp(b, s)); 2]).collect()
}

impl Bench {
    pub fn new(piece: Piece, pins: Pins, garment: &Garment) -> Self {
        Self {
            piece,
            pins,
            names: Vec::new(),
            undone: Vec::new(),
            refused: Vec::new(),
            by: garment.recorded_by.clone(),
            on: garment.recorded_on.clone(),
        }
    }

    /// Drafts new lines; what a person noted or chose has that person's name and day, unless the change names others.
    pub fn redraft(&mut self, lines: Layer, change: Change) {
        let change = self.signed(change);
        self.piece.redraft(lines, change);
    }

    /// The same of lines of another size, which fullness shares in.
    pub fn resize(&mut self, lines: Layer, change: Change) {
        let change = self.signed(change);
        self.piece.resize(lines, change);
    }

    /// A change with who made the record and when, where nothing else is told.
    fn signed(&self, change: Change) -> Change {
        let told = matches!(change.how, How::Taped | How::Noted | How::Chosen);
        let by = change.by.or_else(|| self.by.clone().filter(|_| told));
        let on = change.on.or_else(|| self.on.clone().filter(|_| told));
        Change { by, on, ..change }
    }

    /// The name that an edge had among the lines as found.
    pub fn base<'a>(&'a self, name: &'a str) -> &'a str {
        self.names.iter().rev().find(|(own, _)| alike(own, name)).map_or(name, |(_, from)| from)
    }

    /// All edges that have other names than those they were found with.
    pub fn names(&self) -> Vec<(String, String)> {
        self.names.clone()
    }

    /// Gives an edge another name, or tells where a new one comes from.
    pub fn rename(&mut self, from: &str, to: &str) {
        let base = self.base(from).to_owned();
        self.names.push((to.to_owned(), base));
    }

    /// Tells what was not done.
    pub fn undone(&mut self, what: impl Into<String>) {
        self.undone.push(what.into());
    }

    /// The edge of the drafted lines that a place lies on: its number, how far along, and how far the place is off it, mm.
    pub fn nearest(&self, p: Point) -> Option<(usize, f64, f64)> {
        let edges = self.piece.drafted().edges.iter().enumerate();
        let all = edges.map(|(k, e)| {
            let (far, off) = Walk::of(&e.path).nearest(p);
            (k, far, off)
        });
        all.min_by(|a, b| a.2.total_cmp(&b.2))
    }

    /// The same among the edges that are sewn as the edge of a name.
    pub fn nearest_on(&self, edge: &str, p: Point) -> Option<(usize, f64)> {
        let (edges, _) = self.piece.edges_of(edge);
        let all = edges.into_iter().map(|k| (k, Walk::of(&self.piece.drafted().edges[k].path).nearest(p)));
        all.min_by(|a, b| a.1.1.total_cmp(&b.1.1)).map(|(k, (far, _))| (k, far))
    }

    /// Straight into the piece from a place on an edge.
    pub fn inward(&self, edge: usize, far: f64) -> kurbo::Vec2 {
        -outward(Walk::of(&self.piece.drafted().edges[edge].path).along(far))
    }
}
