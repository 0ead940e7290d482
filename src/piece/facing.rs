//! A facing: the strip along some edges of a piece. Where open darts part them, or darts lie open in them, they are folded shut first, as a cutter folds the
//! pattern before the facing is traced off it (common practice, no source).

use super::bench::REACH;
use super::drafting::Draft;
use super::layer::{Corner, Edge, Layer, Line, ends, joined, mm, point};
use super::walk::Walk;
use super::{How, seam_line};
use kurbo::{Affine, BezPath, Point, Shape};

/// A stretch of an edge shorter than this is none, mm: a dart beside a corner.
const NONE: f64 = 0.01;

/// Inner lines of a facing lie within their piece but for this, mm.
const WITHIN: f64 = 1.0;

/// What is wrong with a facing: the edges that it lies along, or its width.
pub(super) enum Wrong {
    Along(String),
    Width(String),
}

/// What lies within `width` of edges that follow one another, between the edges beside them; and whether darts were shut for it.
pub(super) fn facing(of: &Draft, along: &[String], width: f64) -> Result<(Layer, bool), Wrong> {
    let (layer, run) = followed(of, along).map_err(Wrong::Along)?;
    let were_shut = layer != *of.piece.drafted();
    let n = layer.edges.len();
    let inside: Vec<f64> = (0..n).map(|k| if run.contains(&k) { width } else { 0.0 }).collect();
    let no_room = || {
        let b = of.piece.drafted().outline().bounding_box();
        let (name, run) = (&of.piece.name, along.join(", "));
        let (wide, high) = (b.width(), b.height());
        Wrong::Width(format!(
            "a strip {width:.0} mm wide along {run} does not lie within {name}, which is {wide:.0} x {high:.0} mm; look at width"
        ))
    };
    let moved = seam_line(&layer, &inside, How::Chosen).map_err(|_| no_room())?;
    let (first, last) = (run[0], run[run.len() - 1]);
    let (before, after) = ((first + n - 1) % n, (last + 1) % n);
    let end = |k: usize, last: bool| ends(&moved.edges[k].path).map_or(Point::ZERO, |e| if last { e.1 } else { e.0 });
    let mut out = Layer::default();
    let mut put = |corner: Corner, edge: Edge| {
        out.corners.push(corner);
        out.edges.push(edge);
    };
    for &k in &run {
        put(layer.corners[k].clone(), layer.edges[k].clone());
    }
    // Down the edge after, back along the inner line, up the edge before.
    let part = |k: usize, from_start: bool, to: Point| {
        let walk = Walk::of(&layer.edges[k].path);
        let (far, _) = walk.nearest(to);
        let path = if from_start { walk.part(0.0, far) } else { walk.part(far, walk.length()) };
        Edge { path, ..layer.edges[k].clone() }
    };
    let corner = |name: &str, at: Point| Corner { name: name.into(), at: mm(at), error: None };
    let (down, up) = (part(after, true, end(last, true)), part(before, false, end(first, false)));
    put(layer.corners[after].clone(), down.clone());
    let mut from = ends(&down.path).map_or(Point::ZERO, |e| e.1);
    let to = ends(&up.path).map_or(Point::ZERO, |e| e.0);
    for (i, &k) in run.iter().rev().enumerate() {
        let name = inner_edge(run.len(), i + 1);
        let path = pinned(&moved.edges[k].path.reverse_subpaths(), from, (i + 1 == run.len()).then_some(to));
        let next = ends(&path).map_or(to, |e| e.1);
        put(corner(&name, from), Edge { name, path, line: Line::Rim, how: How::Chosen, bound: None });
        from = next;
    }
    put(corner("inner corner", to), up);
    let outline = of.piece.drafted().outline();
    let rim = Walk::of(&outline);
    let within = |p: Point| outline.contains(p) || rim.nearest(p).1 < WITHIN;
    let inner = out.edges.iter().skip(run.len() + 1).take(run.len()).map(|e| Walk::of(&e.path));
    // Folded shut, a piece does not lie on itself as it lies open.
    let leaves = !were_shut && inner.into_iter().any(|w| w.steps(5.0).into_iter().any(|s| !within(w.at(s))));
    if leaves || out.check().is_err() {
        return Err(no_room());
    }
    Ok((out, were_shut))
}

/// What an inner edge of a facing is called, of so many, counted from 1.
pub(super) fn inner_edge(of: usize, k: usize) -> String {
    if of == 1 { "inner edge".to_owned() } else { format!("inner edge {k}") }
}

/// A path with its ends laid on places they miss by a rounding.
fn pinned(path: &BezPath, start: Point, end: Option<Point>) -> BezPath {
    let by = |p: Point| ends(path).map_or(kurbo::Vec2::ZERO, |e| p - e.0);
    let last = ends(path).map_or(kurbo::Vec2::ZERO, |e| end.map_or(kurbo::Vec2::ZERO, |p| p - e.1));
    super::share::displaced(path, by(start), last)
}

/// Lines in which the edges follow one another, and their numbers there.
fn followed(of: &Draft, along: &[String]) -> Result<(Layer, Vec<usize>), String> {
    let drafted = of.piece.drafted();
    // The name that each edge is asked for by.
    let mut asked: Vec<Option<&str>> = vec![None; drafted.edges.len()];
    for name in along {
        let own = of.piece.edges_of(name).0;
        if own.is_empty() {
            return Err(format!("there is no edge called \"{name}\""));
        }
        own.into_iter().for_each(|k| asked[k] = Some(name));
    }
    let (layer, asked) = parted(of, &asked);
    let n = layer.edges.len();
    let count = asked.iter().flatten().count();
    let firsts: Vec<usize> = (0..n).filter(|&k| asked[k].is_some() && asked[(k + n - 1) % n].is_none()).collect();
    let Some(&one) = firsts.first() else { return Err("it would go all round; leave an edge out".into()) };
    let run: Vec<usize> = (0..n).map(|k| (one + k) % n).take_while(|&k| asked[k].is_some()).collect();
    if run.len() == count {
        return Ok((layer, run));
    }
    firsts.into_iter().find_map(|first| shut(of, &layer, &asked, first)).ok_or_else(|| "its edges do not follow one another".into())
}

/// The lines with the edges asked for parted at the legs of darts that lie open in them: a mouth is no stretch of its edge.
fn parted<'a>(of: &Draft, asked: &[Option<&'a str>]) -> (Layer, Vec<Option<&'a str>>) {
    let drafted = of.piece.drafted();
    let (mut out, mut names) = (Layer { corners: Vec::new(), edges: Vec::new(), ..drafted.clone() }, Vec::new());
    for (k, edge) in drafted.edges.iter().enumerate() {
        let open = if asked[k].is_some() { of.piece.open_along(k) } else { Vec::new() };
        if open.is_empty() {
            out.corners.push(drafted.corners[k].clone());
            out.edges.push(edge.clone());
            names.push(asked[k]);
            continue;
        }
        let walk = Walk::of(&edge.path);
        let stops: Vec<f64> = std::iter::once(0.0).chain(open.into_iter().flatten()).chain([walk.length()]).collect();
        for (i, w) in stops.windows(2).enumerate().filter(|(_, w)| w[1] - w[0] > NONE) {
            let corner = Corner { name: "dart".into(), at: mm(walk.at(w[0])), error: None };
            out.corners.push(if w[0] < NONE { drafted.corners[k].clone() } else { corner });
            out.edges.push(Edge { path: walk.part(w[0], w[1]), ..edge.clone() });
            names.push(asked[k].filter(|_| i % 2 == 0));
        }
    }
    (out, names)
}

/// The stretches from one on, with the edges beside them and darts between them folded shut: what comes after a dart is turned about its point. What
/// lies across is a straight line, for with its darts shut the piece does not lie flat. Nothing where something else lies between.
fn shut(of: &Draft, layer: &Layer, asked: &[Option<&str>], first: usize) -> Option<(Layer, Vec<usize>)> {
    let n = layer.edges.len();
    let before = (first + n - 1) % n;
    let mut out = Layer { corners: vec![layer.corners[before].clone()], edges: vec![layer.edges[before].clone()], ..Layer::default() };
    let (mut turn, mut last, mut names, mut turns) = (Affine::IDENTITY, first, Vec::new(), Vec::new());
    for k in (0..n).map(|k| (first + k) % n).filter(|&k| asked[k].is_some()) {
        let edge = &layer.edges[k];
        if k != first && (last + 1) % n != k {
            turn *= closing(of, ends(&layer.edges[last].path)?.1, ends(&edge.path)?.0)?;
        }
        let path = turn * edge.path.clone();
        turns.push((edge.length(), turn));
        if names.last() == Some(&asked[k]) {
            // Stretches of one edge are one again.
            let own = out.edges.last_mut()?;
            let mut both = joined([&own.path, &path]);
            both.pop();
            own.path = both;
        } else {
            let corner = Corner { at: mm(turn * point(layer.corners[k].at)), ..layer.corners[k].clone() };
            out.corners.push(corner);
            out.edges.push(Edge { name: asked[k]?.to_owned(), path, ..edge.clone() });
            names.push(asked[k]);
        }
        last = k;
    }
    let after = (last + 1) % n;
    let path = turn * layer.edges[after].path.clone();
    let (start, end) = ends(&path)?;
    out.corners.push(Corner { at: mm(start), ..layer.corners[after].clone() });
    out.edges.push(Edge { path, ..layer.edges[after].clone() });
    let across = BezPath::from_vec(vec![kurbo::PathEl::MoveTo(end), kurbo::PathEl::LineTo(point(layer.corners[before].at))]);
    out.corners.push(Corner { name: "across".into(), at: mm(end), error: None });
    out.edges.push(Edge { name: "across".into(), path: across, line: Line::Rim, how: How::Chosen, bound: None });
    // The stretch beside the fold lies as it does on the piece, so that the fold does; else the one in the middle, and so does the grain there.
    let fold = |k: usize| layer.edges[k].line == Line::Fold;
    let all = turns.iter().map(|t| t.0).sum::<f64>();
    let half = if fold(before) { 0.0 } else { all * if fold(after) { 1.0 } else { 0.5 } };
    let mut far = 0.0;
    let middle = turns.iter().find_map(|(long, turn)| {
        far += long;
        (far >= half - NONE).then_some(*turn)
    })?;
    let out = out.mapped(middle.inverse());
    (after != before && out.check().is_ok()).then(|| (out, (1..=names.len()).collect()))
}

/// The turn about a dart's point that lays the second end of its mouth on the first; nothing where no dart lies between them. Of one that lies open a person
/// placed the legs, beside the line.
fn closing(of: &Draft, from: Point, to: Point) -> Option<Affine> {
    let off = |legs: &[Option<Point>], p: Point| legs.iter().flatten().map(|leg| leg.distance(p)).fold(f64::INFINITY, f64::min);
    let darts = of.pins.legs.iter().zip(&of.pins.points).filter_map(|(legs, points)| {
        let off = off(legs, from).max(off(legs, to));
        Some((off, points[0]?)).filter(|d| d.0 < REACH)
    });
    let (_, point) = darts.min_by(|a, b| a.0.total_cmp(&b.0))?;
    let (a, b) = (from - point, to - point);
    Some(Affine::rotate_about(b.cross(a).atan2(b.dot(a)), point))
}
