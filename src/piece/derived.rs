//! Pieces that are derived from trued ones: facings along some of their edges, linings as the whole (common practice, no source).

use super::How;
use super::bench::Pins;
use super::draft::{Change, Piece};
use super::drafting::Draft;
use super::layer::{Corner, Edge, Layer, Line, alike, ends, mm};
use super::page::Laying;
use super::propose::ByShape;
use super::seam_line;
use super::walk::Walk;
use crate::notes::{Notes, PieceNotes};
use kurbo::{Affine, BezPath, Point};

/// Every piece of the notes that is derived from another, from that as it is drafted; or why that can't be.
pub fn derived(notes: &Notes, drafts: &[&Draft]) -> Vec<Result<Draft, String>> {
    let all = notes.pieces.iter().filter_map(|(name, own)| own.from.as_ref().map(|from| (name, own, from)));
    all.map(|(name, own, from)| {
        let of = drafts.iter().find(|d| alike(&d.piece.name, from));
        let of = of.ok_or_else(|| format!("{name} is to be derived from {from}, which was not traced"))?;
        one(name, own, of).map_err(|why| format!("{name} was not derived from {from}: {why}"))
    })
    .collect()
}

fn one(name: &str, own: &PieceNotes, of: &Draft) -> Result<Draft, String> {
    let (lines, what) = match (own.along.as_slice(), own.width) {
        ([], _) => (of.piece.drafted().clone(), format!("the lines of {} as drafted", of.piece.name)),
        (along, Some(width)) => {
            let what = format!("a strip of {:.1} mm along {} of {} as drafted", width.mm(), along.join(", "), of.piece.name);
            (facing(of.piece.drafted(), along, width.mm())?, what)
        }
        (_, None) => return Err("its width is not noted".into()),
    };
    let mut piece = Piece::new(name, lines.clone());
    piece.redraft(lines, Change::new(what, How::Chosen));
    let n = piece.found().edges.len();
    Ok(Draft {
        piece,
        pins: Pins::default(),
        kind: None,
        by_shape: ByShape { corners: vec![false; n], edges: vec![false; n] },
        edges: vec![None; n],
        // Marks and fullness are those of the piece it comes from.
        notes: Some(PieceNotes { darts: Vec::new(), notches: Vec::new(), marks: Vec::new(), ..own.clone() }),
        laying: Laying { by: Affine::IDENTITY, mirrored: false, turned_deg: 0.0, ..of.laying },
        names: Vec::new(),
        undone: Vec::new(),
    })
}

/// What lies within `width` of edges that follow one another, between the edges beside them.
fn facing(layer: &Layer, along: &[String], width: f64) -> Result<Layer, String> {
    let n = layer.edges.len();
    let numbers =
        along.iter().map(|a| layer.edge(a).ok_or_else(|| format!("there is no edge called \"{a}\""))).collect::<Result<Vec<_>, _>>()?;
    let within = |k: usize| numbers.contains(&k);
    let first = (0..n).find(|&k| within(k) && !within((k + n - 1) % n)).ok_or("it would go all round; leave an edge out")?;
    let run: Vec<usize> = (0..n).map(|k| (first + k) % n).take_while(|&k| within(k)).collect();
    if run.len() != numbers.len() {
        return Err("its edges do not follow one another".into());
    }
    let inside: Vec<f64> = (0..n).map(|k| if within(k) { width } else { 0.0 }).collect();
    let moved = seam_line(layer, &inside, How::Chosen).map_err(|e| e.to_string())?;
    let last = run[run.len() - 1];
    let (before, after) = ((first + n - 1) % n, (last + 1) % n);
    let end = |k: usize, last: bool| ends(&moved.edges[k].path).map_or(Point::ZERO, |e| if last { e.1 } else { e.0 });
    let mut out = Layer { corners: Vec::new(), edges: Vec::new(), inner: Vec::new(), holes: Vec::new() };
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
        let name = if run.len() == 1 { "inner edge".to_owned() } else { format!("inner edge {}", i + 1) };
        let path = pinned(&moved.edges[k].path.reverse_subpaths(), from, (i + 1 == run.len()).then_some(to));
        let next = ends(&path).map_or(to, |e| e.1);
        put(corner(&name, from), Edge { name, path, line: Line::Rim, how: How::Chosen, bound: None });
        from = next;
    }
    put(corner("inner corner", to), up);
    out.check().map_err(|e| e.to_string())?;
    Ok(out)
}

/// A path with its ends laid on places they miss by a rounding.
fn pinned(path: &BezPath, start: Point, end: Option<Point>) -> BezPath {
    let by = |p: Point| ends(path).map_or(kurbo::Vec2::ZERO, |e| p - e.0);
    let last = ends(path).map_or(kurbo::Vec2::ZERO, |e| end.map_or(kurbo::Vec2::ZERO, |p| p - e.1));
    super::share::displaced(path, by(start), last)
}
