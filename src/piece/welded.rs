//! Edges that corners part and whose names say that they are one (`neckline` and `neckline 2`, `neckline left` and `neckline right`), taken as one while
//! a piece is spread, and parted again.

use super::layer::{Corner, Edge, Layer, alike, joined, mm, point};
use super::pairs::sideless;
use super::walk::Walk;
use kurbo::Point;

/// Lines of which some edges that follow one another are taken as one, which comes first.
#[derive(Clone, Debug)]
pub(super) struct Welded {
    pub layer: Layer,
    /// The edges it was made of, each with the corner it starts at.
    parts: Vec<(Corner, Edge)>,
    /// Number of the first of them before.
    first: usize,
}

impl Welded {
    /// Lines with an edge and its neighbours of the same name, left, right and numbers apart, as one; nothing where no neighbour is called so.
    pub fn of(layer: &Layer, edge: usize) -> Option<Self> {
        let n = layer.edges.len();
        if layer.corners.len() != n {
            return None;
        }
        let one = |k: usize| called_one(layer, k % n, edge) && layer.edges[k % n].line == layer.edges[edge].line;
        let back = (1..n).take_while(|j| one(edge + n - j)).count();
        let on = (1..n).take_while(|j| one(edge + j)).count();
        let count = back + on + 1;
        if count == 1 || count + 1 >= n {
            return None;
        }
        let first = (edge + n - back) % n;
        let parts: Vec<(Corner, Edge)> =
            (0..count).map(|j| (first + j) % n).map(|k| (layer.corners[k].clone(), layer.edges[k].clone())).collect();
        let mut path = joined(parts.iter().map(|p| &p.1.path));
        path.pop();
        let mut out = Layer { inner: layer.inner.clone(), holes: layer.holes.clone(), ..Layer::default() };
        out.corners.push(parts[0].0.clone());
        out.edges.push(Edge { path, ..parts[0].1.clone() });
        for k in (count..n).map(|j| (first + j) % n) {
            out.corners.push(layer.corners[k].clone());
            out.edges.push(layer.edges[k].clone());
        }
        out.check().ok()?;
        Some(Self { layer: out, parts, first })
    }

    /// The number that an edge has now.
    pub fn number(&self, before: usize) -> usize {
        let (count, n) = (self.parts.len(), self.layer.edges.len() + self.parts.len() - 1);
        ((before + n - self.first) % n + 1).saturating_sub(count)
    }

    /// How far along the one edge the corners lie that part it, mm.
    pub fn corners(&self) -> Vec<f64> {
        let mut far = 0.0;
        let long = |p: &(Corner, Edge)| Walk::of(&p.1.path).length();
        self.parts[1..]
            .iter()
            .zip(&self.parts)
            .map(|(_, before)| {
                far += long(before);
                far
            })
            .collect()
    }

    /// Lines that were spread, parted again where `carried` takes the corners.
    pub fn parted(&self, spread: &Layer, carried: impl Fn(Point) -> Point) -> Layer {
        let whole = Walk::of(&spread.edges[0].path);
        let inner = self.parts[1..].iter().map(|(c, _)| whole.nearest(carried(point(c.at))).0);
        let stops: Vec<f64> = std::iter::once(0.0).chain(inner).chain([whole.length()]).collect();
        let mut out = Layer { inner: spread.inner.clone(), holes: spread.holes.clone(), ..Layer::default() };
        for (k, (corner, edge)) in self.parts.iter().enumerate() {
            let at = if k == 0 { spread.corners[0].at } else { mm(whole.at(stops[k])) };
            out.corners.push(Corner { at, ..corner.clone() });
            out.edges.push(Edge { path: whole.part(stops[k], stops[k + 1]), how: spread.edges[0].how, ..edge.clone() });
        }
        out.corners.extend(spread.corners[1..].iter().cloned());
        out.edges.extend(spread.edges[1..].iter().cloned());
        out
    }
}

/// Whether the names of two edges say that they are one: left, right and numbers apart.
pub(super) fn called_one(layer: &Layer, a: usize, b: usize) -> bool {
    alike(&bare(&layer.edges[a].name), &bare(&layer.edges[b].name))
}

/// A name without left, right and a number at its end.
fn bare(name: &str) -> String {
    let words = sideless(name);
    match words.rsplit_once(' ') {
        // An edge that nobody named has no name but a number.
        Some((own, number)) if !alike(own, "edge") && number.bytes().all(|b| b.is_ascii_digit()) => own.to_owned(),
        _ => words,
    }
}
