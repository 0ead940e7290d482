//! Where a piece is slashed to be spread: straight in from an edge, or, where another edge is as full, from share to share of both; and which edge
//! stays as it lies meanwhile.

use super::bench::Bench;
use super::correcting::lies_along;
use super::fullness::FullnessError;
use super::layer::{Edge, Layer, Line, ends};
use super::share::is_centre;
use super::walk::Walk;
use super::welded::Welded;
use kurbo::{ParamCurve, Point, Vec2};

/// An edge this much longer than straight, mm, is bent.
const BENT: f64 = 0.05;
/// A line across the piece that would lean from the page's upright by less than this, degrees, is laid upright: along the grain, as from a shoulder
/// (common practice, no source).
const LEANS: f64 = 30.0;
/// Edges of a panel whose two opposite ones are slashed from share to share.
const PANEL: usize = 4;
/// A slash shorter than this, mm, or that leaves its edge at less than this sine, has no room to be spread.
const SHORT: f64 = 10.0;
const SLANT: f64 = 0.2;

/// Where a piece is slashed, and how it is spread there.
#[derive(Clone, Debug)]
pub(super) struct Slashes {
    /// The edge, and how far along it the first and the last slash start, mm.
    pub own: usize,
    pub on: [f64; 2],
    /// The edge across, and how far along that they end, mm: the first one's further along, for edges run round the piece.
    pub across: usize,
    pub to: [f64; 2],
    /// Where the edge across is as full, which way, of length 1, what lies beyond a slash moves off without turning: a slash opens as wide at both its ends.
    pub away: Option<Vec2>,
    /// The edge that stays as it lies: the fold, or the centre.
    pub still: Option<usize>,
    /// The lines that all edges are numbered in, where the edge across is parted by corners.
    pub welded: Option<Welded>,
}

/// A slash before it is spread.
#[derive(Clone, Copy, Debug)]
pub(super) struct Foot {
    pub from: Point,
    pub to: Point,
    /// How far it runs straight off the edge, mm.
    pub deep: f64,
}

impl Slashes {
    /// The lines in which edges are numbered, from those that are drafted.
    pub fn layer<'a>(&'a self, drafted: &'a Layer) -> &'a Layer {
        self.welded.as_ref().map_or(drafted, |w| &w.layer)
    }

    /// How far along the edge across corners part it, mm.
    pub fn corners(&self) -> Vec<f64> {
        self.welded.as_ref().map_or_else(Vec::new, Welded::corners)
    }

    /// Lines that were spread, with all their corners.
    pub fn parted(&self, spread: Layer, carried: impl Fn(Point) -> Point) -> Layer {
        self.welded.as_ref().map_or_else(|| spread.clone(), |w| w.parted(&spread, carried))
    }

    fn ends(&self, layer: &Layer, share: f64) -> (Point, Point) {
        let lerp = |[a, b]: [f64; 2]| a + (b - a) * share;
        (Walk::of(&layer.edges[self.own].path).at(lerp(self.on)), Walk::of(&layer.edges[self.across].path).at(lerp(self.to)))
    }

    /// The slash at a share.
    pub fn foot(&self, layer: &Layer, share: f64) -> Result<Foot, FullnessError> {
        let (p, q) = self.ends(layer, share);
        let along = Walk::of(&layer.edges[self.own].path).along(self.on[0] + (self.on[1] - self.on[0]) * share);
        let deep = (p - q).turn_90().dot(along).abs();
        if p.distance(q) < SHORT || deep < SLANT * p.distance(q) {
            return Err(FullnessError::Shallow { x: p.x, y: p.y });
        }
        Ok(Foot { from: p, to: q, deep })
    }
}

/// The edge that stays as it lies and straight while a piece is spread: the fold, else the centre, as the notes mark it or by its name.
pub(super) fn still(bench: &Bench) -> Option<usize> {
    still_of(bench, bench.piece.drafted())
}

fn still_of(bench: &Bench, layer: &Layer) -> Option<usize> {
    let edges = &layer.edges;
    let fold = edges.iter().position(|e| e.line == Line::Fold);
    let marked = || edges.iter().position(|e| lies_along(e, bench.pins.centre) && !bent(e));
    fold.or_else(marked).or_else(|| edges.iter().position(|e| is_centre(e) && !bent(e)))
}

/// Where a panel of four edges is slashed that is to be as full at the edge across: from each share of the one to the same share of the other, as paper is
/// divided evenly at both (slash and spread; common practice, no source). With the shares, clockwise, and whether that is the other way round than the places.
/// Nothing of any other piece, of the fold or the centre itself, or where darts are open.
pub(super) fn proportional(
    bench: &Bench,
    edge: &str,
    [a, b]: [Point; 2],
    shares: &[f64],
    across: &str,
) -> Option<(Slashes, Vec<f64>, bool)> {
    let layer = bench.piece.drafted();
    let [own] = bench.piece.edges_of(edge).0[..] else { return None };
    let far = layer.edge(across)?;
    let opposite = layer.edges.len() == PANEL && (own + PANEL / 2) % PANEL == far;
    let still = still(bench);
    if !opposite || [own, far].iter().any(|k| still == Some(*k)) || bench.pins.mouths().iter().any(Option::is_some) {
        return None;
    }
    let ((_, from), (_, to)) = (bench.nearest_on(edge, a)?, bench.nearest_on(edge, b)?);
    let back = from > to;
    let on = if back { [to, from] } else { [from, to] };
    // Along a line across the page, or up it, as pieces of paper are laid to a guide line.
    let into = self::across(bench, edge, [a, b], shares.len(), Some(across)).ok()?;
    let walk = Walk::of(&layer.edges[own].path);
    let along = walk.at(on[1]) - walk.at(on[0]);
    let along = if along.hypot() < 1.0 { walk.along(on[0]) } else { along };
    let away = if into.turn_90().dot(along) < 0.0 { -into.turn_90() } else { into.turn_90() };
    let [long, wide] = [own, far].map(|k| layer.edges[k].length());
    let shares = if back { shares.iter().rev().map(|s| 1.0 - s).collect() } else { shares.to_vec() };
    Some((Slashes { own, on, across: far, to: on.map(|s| wide * (1.0 - s / long)), away: Some(away), still, welded: None }, shares, back))
}

/// Where the piece is slashed from an edge between two places to the edge across; the shares of the way at which it is, clockwise, and whether that is
/// the other way round than the places.
pub(super) fn slashes(bench: &Bench, edge: &str, [a, b]: [Point; 2], shares: &[f64]) -> Result<(Slashes, Vec<f64>, bool), String> {
    let into = across(bench, edge, [a, b], shares.len(), None)?;
    let layer = bench.piece.drafted();
    let on = |p: Point| bench.nearest_on(edge, p).ok_or_else(|| format!("there is no edge called \"{edge}\""));
    let ((own, from), (other, to)) = (on(a)?, on(b)?);
    if own != other {
        return Err(format!("{edge} is parted between its ends, by a dart or a corner; say across = \"…\", the edge that is as full"));
    }
    let back = from > to;
    let ([a, b], on) = if back { ([b, a], [to, from]) } else { ([a, b], [from, to]) };
    let hit = |p: Point, k: usize| hit(&layer.edges[k], p, into);
    let middle = Walk::of(&layer.edges[own].path).at(0.5 * (on[0] + on[1]));
    let others = (0..layer.edges.len()).filter(|k| *k != own).filter_map(|k| hit(middle, k).map(|(t, _)| (t, k)));
    let (_, far) = others.min_by(|p, q| p.0.total_cmp(&q.0)).ok_or_else(|| format!("nothing lies across from {edge} there"))?;
    // What a corner parts and is called one is one edge across.
    let welded = Welded::of(layer, far).filter(|w| w.number(own) != w.number(far));
    let (own, far) = welded.as_ref().map_or((own, far), |w| (w.number(own), w.number(far)));
    let layer = welded.as_ref().map_or(layer, |w| &w.layer);
    let hit = |p: Point, k: usize| self::hit(&layer.edges[k], p, into);
    let still = still_of(bench, layer);
    if let Some(k) = still.filter(|k| *k == own || *k == far) {
        return Err(bends(&layer.edges[k]));
    }
    let walk = Walk::of(&layer.edges[far].path);
    let place = |p: Point, beside: f64| hit(p, far).map_or(beside, |(_, q)| walk.nearest(q).0);
    // Where the edge across ends before, its end is as far as slashes go.
    let to = [place(a, walk.length()), place(b, 0.0)];
    if to[0] < to[1] {
        return Err(format!("{} does not lie across from all of it; say across = \"…\", the edge that is as full", layer.edges[far].name));
    }
    let shares = if back { shares.iter().rev().map(|s| 1.0 - s).collect() } else { shares.to_vec() };
    Ok((Slashes { own, on, across: far, to, away: None, still, welded }, shares, back))
}

/// Straight in from an edge between two places, up or down the page where that is near. Where another edge is to be as full: off the fold or the centre at
/// right angles, when it is one of the two; else down or across the page where straight in leads elsewhere.
pub(super) fn across(bench: &Bench, edge: &str, [a, b]: [Point; 2], count: usize, full: Option<&str>) -> Result<Vec2, String> {
    let (k, far) = bench.nearest_on(edge, a.midpoint(b)).ok_or_else(|| format!("there is no edge called \"{edge}\""))?;
    let way = bench.inward(k, far);
    let chord = (b - a).hypot();
    // Straight across from one end to the other, into the piece; up or down the page where that is near. A single pleat has one place.
    let across = match (chord >= 1.0, count) {
        (true, _) => ((b - a) / chord).turn_90(),
        (false, 1) => way,
        (false, _) => return Err("it starts and ends at one place".into()),
    };
    let mut into = if across.dot(way) < 0.0 { -across } else { across };
    if into.x.abs() < into.y.abs() * LEANS.to_radians().tan() {
        into = Vec2::new(0.0, into.y.signum());
    }
    let layer = bench.piece.drafted();
    let Some(full) = full.and_then(|name| layer.edge(name)) else { return Ok(into) };
    if let Some((p, q)) = still(bench).filter(|s| *s == k || *s == full).and_then(|s| ends(&layer.edges[s].path)) {
        let square = (q - p).normalize().turn_90();
        return Ok(if square.dot(way) < 0.0 { -square } else { square });
    }
    let from = Walk::of(&layer.edges[k].path).at(far);
    let ways = [into, Vec2::new(0.0, way.y.signum()), Vec2::new(way.x.signum(), 0.0)];
    let inward = |w: &Vec2| w.dot(way) > SLANT;
    Ok(ways.into_iter().filter(inward).find(|w| hit(&layer.edges[full], from, *w).is_some()).unwrap_or(into))
}

/// The fold and the centre must stay straight.
pub(super) fn stays_straight(lines: &Layer, still: Option<usize>) -> Result<(), String> {
    still.map(|k| &lines.edges[k]).filter(|e| bent(e)).map_or(Ok(()), |e| Err(bends(e)))
}

fn bends(fold: &Edge) -> String {
    if fold.line == Line::Fold {
        return format!(
            "it would bend {}, which is placed on the fold and stays straight; draw the piece whole, or open it by hand",
            fold.name
        );
    }
    format!(
        "it would bend {}, which is its centre and stays straight; say across = \"…\", the edge that is as full, or open it by hand",
        fold.name
    )
}

/// Whether an edge is longer than straight from end to end.
fn bent(edge: &Edge) -> bool {
    let walk = Walk::of(&edge.path);
    walk.length() - walk.at(0.0).distance(walk.at(walk.length())) > BENT
}

/// Where a line from a place meets an edge first, and how far on.
fn hit(edge: &Edge, from: Point, way: Vec2) -> Option<(f64, Point)> {
    let ray = kurbo::Line::new(from, from + way * 1e4);
    let hits = edge.path.segments().flat_map(|s| s.intersect_line(ray)).map(|h| h.line_t).filter(|t| *t > 1e-4);
    hits.min_by(f64::total_cmp).map(|t| (t, ray.eval(t)))
}
