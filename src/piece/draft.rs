//! A piece in two layers: as found, which nothing overwrites, and as drafted, with a list of what was changed.

use super::How;
use super::halves::swapped;
use super::layer::{Layer, Line, alike};
use super::page::Down;
use crate::notes::NotchStyle;
use kurbo::BezPath;

/// What both halves of an edge are called once a piece is laid open about its fold, clockwise, either way round.
const FACES: [[&str; 2]; 4] = [["seen", "other"], ["other", "seen"], ["front", "back"], ["back", "front"]];

/// One change of the drafted layer.
#[derive(Clone, Debug, PartialEq)]
pub struct Change {
    /// What was done, in words with its figures.
    pub what: String,
    /// Whether it was chosen, noted, or assumed.
    pub how: How,
    /// Who did it.
    pub by: Option<String>,
    /// On which day.
    pub on: Option<String>,
    /// Why, where a person said so.
    pub why: Option<String>,
    /// The outline before and after, mm, where a person corrected it.
    pub outlines: Option<[BezPath; 2]>,
}

impl Change {
    /// A change of which nothing more is known.
    pub fn new(what: impl Into<String>, how: How) -> Self {
        Self { what: what.into(), how, by: None, on: None, why: None, outlines: None }
    }
}

/// An edge that opened fullness parts or lengthens, as it is sewn.
#[derive(Clone, Debug, PartialEq)]
pub struct AsSewn {
    /// What it was called before.
    pub edge: String,
    /// The edges that are left of it, clockwise.
    pub stretches: Vec<String>,
    /// What pleats and gathers take up before it is sewn, mm.
    pub taken_up: f64,
    /// Darts that lie open and are sewn shut first.
    pub open: Vec<LiesOpen>,
}

/// Where a dart lies open that no edge stands for: between its legs the edge runs on as it lay flat.
#[derive(Clone, Debug, PartialEq)]
pub struct LiesOpen {
    /// The stretch of its edge.
    pub stretch: String,
    /// How far along that its legs end, clockwise, mm.
    pub legs: [f64; 2],
}

/// An open dart's mouth is drawn in so many edges.
const MOUTH: usize = 2;

/// Numbers of the edges at the ends of darts that are open between the stretches of an edge, by the stretches' numbers in order.
pub(super) fn ends_between(layer: &Layer, stretches: &[usize]) -> Vec<usize> {
    let n = layer.edges.len();
    let between = stretches.windows(2).flat_map(|w| {
        let gap = (w[1] + n - w[0]) % n;
        (1..gap).filter(move |_| gap <= MOUTH + 1).map(move |k| (w[0] + k) % n)
    });
    between.collect()
}

/// The same by the stretches' names.
pub fn dart_ends(layer: &Layer, stretches: &[String]) -> Vec<usize> {
    ends_between(layer, &stretches.iter().filter_map(|s| layer.edge(s)).collect::<Vec<_>>())
}

/// A notch in an edge of a piece as drafted.
#[derive(Clone, Debug, PartialEq)]
pub struct NotchAt {
    /// The edge.
    pub edge: String,
    /// How far along it, clockwise, mm.
    pub at: f64,
    /// Single or double.
    pub count: u32,
    /// How it is cut.
    pub style: NotchStyle,
    /// Noted, or assumed where it was proposed.
    pub how: How,
    /// What it answers, where it was proposed for a seam.
    pub answers: Option<String>,
}

/// A pattern piece.
#[derive(Clone, Debug, PartialEq)]
pub struct Piece {
    /// Its name.
    pub name: String,
    found: Layer,
    drafted: Layer,
    changes: Vec<Change>,
    sewn: Vec<AsSewn>,
    down: Option<Down>,
    /// Notches in the edges as drafted.
    pub notches: Vec<NotchAt>,
}

impl Piece {
    /// A piece of which nothing has been changed yet.
    pub fn new(name: impl Into<String>, found: Layer) -> Self {
        Self { name: name.into(), drafted: found.clone(), found, changes: Vec::new(), sewn: Vec::new(), down: None, notches: Vec::new() }
    }

    /// A piece as a record keeps it: both its layers, its edges as they are sewn, and its notches. What was changed stays in the record.
    pub fn recorded(name: impl Into<String>, found: Layer, drafted: Layer, sewn: Vec<AsSewn>, notches: Vec<NotchAt>) -> Self {
        Self { name: name.into(), found, drafted, changes: Vec::new(), sewn, down: None, notches }
    }

    /// The piece as it was laid on its page.
    pub fn laid(self, down: Option<Down>) -> Self {
        Self { down, ..self }
    }

    /// What runs down its page; nothing where it was never laid on one, or nobody knows any more.
    pub fn down(&self) -> Option<Down> {
        self.down
    }

    /// Its lines as they were found.
    pub fn found(&self) -> &Layer {
        &self.found
    }

    /// Its lines as they are drafted.
    pub fn drafted(&self) -> &Layer {
        &self.drafted
    }

    /// What was changed, in order.
    pub fn changes(&self) -> &[Change] {
        &self.changes
    }

    /// Edges that opened fullness parts or lengthens.
    pub fn sewn(&self) -> &[AsSewn] {
        &self.sewn
    }

    /// Drafts new lines, and says what was changed.
    pub fn redraft(&mut self, lines: Layer, change: Change) {
        self.drafted = lines;
        self.changes.push(change);
    }

    /// The drafted lines with other words for how they are seen: nothing of them moves.
    pub(super) fn relined(&mut self, lines: Layer) {
        self.drafted = lines;
    }

    /// Drafts lines of the same edges, some longer or shorter: a notch keeps its share of its edge.
    pub(super) fn reshape(&mut self, lines: Layer, change: Change) {
        for notch in &mut self.notches {
            let long = |l: &Layer| l.edge(&notch.edge).map(|k| l.edges[k].length());
            if let (Some(before), Some(after)) = (long(&self.drafted), long(&lines)) {
                notch.at *= after / before;
            }
        }
        for open in self.sewn.iter_mut().flat_map(|s| &mut s.open) {
            let long = |l: &Layer| l.edge(&open.stretch).map(|k| l.edges[k].length());
            if let (Some(before), Some(after)) = (long(&self.drafted), long(&lines)) {
                open.legs = open.legs.map(|at| at * after / before);
            }
        }
        self.redraft(lines, change);
    }

    /// Drafts lines of another size: what fullness takes up of an edge keeps its share of it.
    pub(super) fn resize(&mut self, lines: Layer, change: Change) {
        for sewn in &mut self.sewn {
            let long = |l: &Layer| sewn.stretches.iter().filter_map(|n| l.edge(n)).map(|k| l.edges[k].length()).sum::<f64>();
            let (before, after) = (long(&self.drafted), long(&lines));
            if before > 0.0 {
                sewn.taken_up *= after / before;
            }
        }
        self.redraft(lines, change);
    }

    /// Notes what fullness does to an edge: `taken_up` more before it is sewn, and `parted`, the name of the edge after which one of a new
    /// name goes on.
    pub(super) fn sew(&mut self, edge: &str, taken_up: f64, parted: Option<(&str, &str)>) {
        let own = self.sewn_as(edge);
        own.taken_up += taken_up;
        if let Some((before, name)) = parted {
            let all = &mut own.stretches;
            let at = all.iter().position(|n| alike(n, before)).map_or(all.len(), |p| p + 1);
            all.insert(at, name.to_owned());
        }
    }

    /// Notes a dart that lies open in an edge, or in a stretch of one.
    pub(super) fn lies_open(&mut self, open: LiesOpen) {
        self.sewn_as(&open.stretch.clone()).open.push(open);
    }

    /// How an edge is sewn that an edge is, or is a stretch of; of one that nothing was done to, a new one.
    fn sewn_as(&mut self, edge: &str) -> &mut AsSewn {
        let own = self.sewn.iter().position(|s| alike(&s.edge, edge) || s.stretches.iter().any(|n| alike(n, edge)));
        let k = own.unwrap_or_else(|| {
            self.sewn.push(AsSewn { edge: edge.to_owned(), stretches: vec![edge.to_owned()], taken_up: 0.0, open: Vec::new() });
            self.sewn.len() - 1
        });
        &mut self.sewn[k]
    }

    /// Where darts lie open along a drafted edge, mm, from its start on.
    pub fn open_along(&self, edge: usize) -> Vec<[f64; 2]> {
        let name = &self.drafted.edges[edge].name;
        let own = self.sewn.iter().flat_map(|s| &s.open).filter(|o| alike(&o.stretch, name));
        let mut all: Vec<[f64; 2]> = own.map(|o| o.legs).collect();
        all.sort_by(|a, b| a[0].total_cmp(&b[0]));
        all
    }

    /// Numbers of the drafted edges at the ends of all open darts.
    pub(super) fn dart_ends(&self) -> Vec<usize> {
        self.sewn.iter().flat_map(|s| dart_ends(&self.drafted, &s.stretches)).collect()
    }

    /// Numbers of the drafted edges that are sewn as the edge of a name, clockwise, and what is taken up of them, mm. Of a half on the fold
    /// an edge stands for its mirror image too.
    pub fn edges_of(&self, name: &str) -> (Vec<usize>, f64) {
        if self.stands_for(name) { self.own_edges(&swapped(name)) } else { self.own_edges(name) }
    }

    /// The number of the stretch that gives when an edge is made longer: of one that a dart parts that which reaches the hem, else the last.
    pub(super) fn giving(&self, name: &str) -> Option<usize> {
        let (stretches, _) = self.edges_of(name);
        let n = self.drafted.corners.len().max(1);
        let hem = |c: usize| self.drafted.corners.get(c % n).is_some_and(|c| c.name.to_lowercase().contains("hem"));
        stretches.iter().copied().find(|&k| hem(k) || hem(k + 1)).or_else(|| stretches.last().copied())
    }

    /// Whether an edge of that name is the mirror image, beyond the fold, of one that the piece has.
    pub fn stands_for(&self, name: &str) -> bool {
        let half = || self.drafted.edges.iter().any(|e| e.line == Line::Fold);
        let has = |name: &str| !self.own_edges(name).0.is_empty();
        !has(name) && half() && has(&swapped(name))
    }

    /// The same of the halves that an edge has on either face of a piece laid open, where they meet at its fold: `cap` is `cap seen` and `cap other`.
    fn both_faces(&self, name: &str) -> Option<(Vec<usize>, f64)> {
        let n = self.drafted.edges.len().max(1);
        FACES.into_iter().find_map(|words| {
            let [(first, before), (second, after)] = words.map(|word| self.single(&format!("{name} {word}")));
            let meet = (first.last()? + 1) % n == *second.first()?;
            meet.then(|| (first.into_iter().chain(second).collect(), before + after))
        })
    }

    /// The same of what a corner parts that a person named, where its shape gave the parts one name and numbers: `neckline 1` and `neckline 2`.
    fn numbered(&self, name: &str) -> Option<(Vec<usize>, f64)> {
        let n = self.drafted.edges.len().max(1);
        let parts = (1..=n).map(|k| self.single(&format!("{name} {k}"))).take_while(|p| !p.0.is_empty());
        let mut parts: Vec<(Vec<usize>, f64)> = parts.collect();
        let follow = |parts: &[(Vec<usize>, f64)]| parts.windows(2).all(|w| w[0].0.last().map(|k| (k + 1) % n) == w[1].0.first().copied());
        if !follow(&parts) {
            parts.reverse();
        }
        (parts.len() > 1 && follow(&parts)).then(|| (parts.iter().flat_map(|p| p.0.clone()).collect(), parts.iter().map(|p| p.1).sum()))
    }

    fn own_edges(&self, name: &str) -> (Vec<usize>, f64) {
        let own = self.single(name);
        if own.0.is_empty() { self.both_faces(name).or_else(|| self.numbered(name)).unwrap_or(own) } else { own }
    }

    fn single(&self, name: &str) -> (Vec<usize>, f64) {
        match self.sewn.iter().find(|s| alike(&s.edge, name)) {
            Some(s) => (s.stretches.iter().filter_map(|n| self.drafted.edge(n)).collect(), s.taken_up),
            None => (self.drafted.edge(name).into_iter().collect::<Vec<_>>(), 0.0),
        }
    }
}
