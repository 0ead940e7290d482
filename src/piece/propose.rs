//! Names for corners and edges proposed from the shape: a proposal, which a person's names overrule.

use super::circular::{Circular, Ring};
use super::fitting::{Geometry, Lay, order, side_after};
use super::layer::{Layer, alike};
use super::shapes::{SHAPES, Shape};
use crate::notes::{PieceKind, Up};

/// What is known of a piece before its shape is looked at.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct AsSeen<'a> {
    /// Its name, which often says what it is: `left front`, `back`, `under sleeve`.
    pub name: &'a str,
    /// What the notes say it is.
    pub kind: Option<PieceKind>,
    /// Which side of the garment is up.
    pub up: Option<Up>,
    /// Whether the cloth is seen from its wrong side.
    pub wrong_side_up: bool,
    /// Whether the garment has a skirt, so that its body ends at the waist.
    pub waisted: bool,
}

/// What a piece looks like.
#[derive(Clone, Debug, PartialEq)]
pub struct Proposal {
    /// What it is taken for.
    pub kind: PieceKind,
    /// A name for each of its corners; none for one that the shape does not have.
    pub corners: Vec<Option<String>>,
    /// A name for each of its edges.
    pub edges: Vec<String>,
    /// How badly the shape fits, 0 for perfectly.
    pub misfit: f64,
}

/// A shape that fits worse is not proposed.
const FITS: f64 = 0.3;
/// Without a word of what it is, fewer corners tell nothing: four are a pocket, a cuff, a band, a gore.
const TELLING: usize = 5;
/// Without a word of what it is, the next best kind must fit worse by this factor.
const CLEARLY: f64 = 2.0;
/// Names for a piece by its shape; `None` when it looks like nothing that is known, or like several things.
pub fn proposed(layer: &Layer, seen: &AsSeen) -> Option<Proposal> {
    let wanted = seen.kind.or_else(|| kind_by_name(seen.name));
    if wanted == Some(PieceKind::SkirtPanel)
        && let Some(round) = of_a_circle(layer, seen)
    {
        return Some(round);
    }
    let geometry = Geometry::of(layer)?;
    let mut found: Vec<(&Shape, Lay, bool)> = Vec::new();
    for shape in SHAPES.iter().filter(|s| wanted.map_or(s.corners.len() >= TELLING, |kind| s.kind == kind)) {
        for mirrored in [false, true].into_iter().filter(|m| !m || shape.either_hand) {
            let lay = geometry.lay(shape, mirrored).filter(|lay| !shape.even() || geometry.even(shape, lay));
            found.extend(lay.map(|lay| (shape, lay, mirrored)));
        }
    }
    found.sort_by(|a, b| a.1.misfit.total_cmp(&b.1.misfit));
    let (shape, lay, mirrored) = found.first().filter(|f| f.1.misfit <= FITS)?;
    if wanted.is_none() {
        // Front and back of a body, or of a leg, are one shape to look at: which is up must tell.
        let same = |k: PieceKind| k == shape.kind || twin(k) == Some(shape.kind);
        if found.iter().any(|f| !same(f.0.kind) && f.1.misfit < CLEARLY * lay.misfit.max(0.02)) {
            return None;
        }
    }
    let kind = match (wanted, twin(shape.kind), seen.up) {
        (None, Some(_), None) => return None,
        (None, Some(twin), Some(up)) if is_back(shape.kind) != (up == Up::Back) => twin,
        _ => shape.kind,
    };
    Some(named(layer, shape, kind, lay, *mirrored, seen))
}

/// Names for a skirt that is cut from part of a circle or all of it.
fn of_a_circle(layer: &Layer, seen: &AsSeen) -> Option<Proposal> {
    if Ring::of(layer).is_some() {
        return Some(Proposal { kind: PieceKind::SkirtPanel, corners: Vec::new(), edges: vec!["hem".into()], misfit: 0.0 });
    }
    let shape = SHAPES.iter().find(|s| s.kind == PieceKind::SkirtPanel)?;
    Circular::of(layer).map(|c| named(layer, shape, shape.kind, &c.lay(), false, seen))
}

/// What a piece is by its own name.
pub(super) fn kind_by_name(name: &str) -> Option<PieceKind> {
    let low = name.to_lowercase();
    let words: Vec<&str> = low.split(|c: char| !c.is_alphabetic()).collect();
    let has = |w: &str| words.iter().any(|word| *word == w || word.strip_suffix('s') == Some(w));
    let whole = PieceKind::ALL.into_iter().find(|k| k.word().split(' ').all(has));
    let part = || match () {
        () if has("sleeve") => Some(PieceKind::Sleeve),
        () if has("gore") || has("skirt") => Some(PieceKind::SkirtPanel),
        () if has("leg") || has("trouser") => None,
        () if has("front") => Some(PieceKind::BodyFront),
        () if has("back") => Some(PieceKind::BodyBack),
        () => None,
    };
    whole.or_else(part)
}

/// The kind that looks alike from the other side.
fn twin(kind: PieceKind) -> Option<PieceKind> {
    match kind {
        PieceKind::BodyFront => Some(PieceKind::BodyBack),
        PieceKind::BodyBack => Some(PieceKind::BodyFront),
        PieceKind::TrouserFront => Some(PieceKind::TrouserBack),
        PieceKind::TrouserBack => Some(PieceKind::TrouserFront),
        _ => None,
    }
}

fn is_back(kind: PieceKind) -> bool {
    matches!(kind, PieceKind::BodyBack | PieceKind::TrouserBack)
}

/// The names of a shape on the corners and edges it was laid on.
fn named(layer: &Layer, shape: &Shape, kind: PieceKind, lay: &Lay, mirrored: bool, seen: &AsSeen) -> Proposal {
    let (n, k) = (layer.corners.len(), lay.corners.len());
    let order = order(k, mirrored);
    // Seen from outside with the front up, the wearer's left lies right on the page; the back, or the wrong side, turns it round.
    let back = seen.up.map_or(is_back(kind), |up| up == Up::Back);
    let right_is_left = back == seen.wrong_side_up;
    let sided = |name: &str| {
        let [right, left] = if right_is_left { ["left", "right"] } else { ["right", "left"] };
        let name = name.replace('>', right).replace('<', left);
        if seen.waisted && matches!(kind, PieceKind::BodyFront | PieceKind::BodyBack) { name.replace("hem", "waist") } else { name }
    };
    let mut corners = vec![None; n];
    let mut edges = vec![String::new(); n];
    for i in 0..k {
        let (from, to) = (lay.corners[i], lay.corners[(i + 1) % k]);
        corners[from] = Some(sided(shape.corners[order[i]].0));
        let name = sided(shape.sides[side_after(&order, i, mirrored)].name);
        let long = (to + n - from - 1) % n + 1;
        for step in 0..long {
            edges[(from + step) % n] = if long == 1 { name.clone() } else { format!("{name} {}", step + 1) };
        }
    }
    Proposal { kind, corners, edges, misfit: lay.misfit }
}

/// Which names of a layer stand there only because something must.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct ByShape {
    /// For each corner, whether its name was proposed.
    pub corners: Vec<bool>,
    /// For each edge.
    pub edges: Vec<bool>,
}

impl Proposal {
    /// Gives a layer the proposed names wherever a person gave none, and says where.
    pub fn apply(&self, layer: &mut Layer) -> ByShape {
        let (mut by, ends) = (ByShape::default(), named_ends(layer));
        let held: Vec<String> = layer.corners.iter().map(|c| c.name.clone()).collect();
        for (corner, name) in layer.corners.iter_mut().zip(&self.corners) {
            let name = name.as_ref().filter(|name| numbered(&corner.name, "corner") && held.iter().all(|h| !alike(h, name)));
            by.corners.push(name.is_some());
            name.into_iter().for_each(|name| corner.name.clone_from(name));
        }
        let held: Vec<String> = layer.edges.iter().map(|e| e.name.clone()).collect();
        for ((edge, name), plain) in layer.edges.iter_mut().zip(&self.edges).zip(ends) {
            let free = (numbered(&edge.name, "edge") || plain == Some(edge.name.clone())) && held.iter().all(|h| !alike(h, name));
            by.edges.push(free);
            if free {
                edge.name.clone_from(name);
            }
        }
        by
    }
}

/// What edges are called whose two corners a person named, and not the edge itself.
fn named_ends(layer: &Layer) -> Vec<Option<String>> {
    let n = layer.corners.len();
    (0..layer.edges.len()).map(|k| (n > 0).then(|| format!("{} to {}", layer.corners[k].name, layer.corners[(k + 1) % n].name))).collect()
}

/// Whether a name is only the word and a number.
fn numbered(name: &str, word: &str) -> bool {
    name.strip_prefix(word).is_some_and(|rest| rest.trim().parse::<u32>().is_ok())
}

#[cfg(test)]
mod tests {
    use super::super::How;
    use super::super::layer::{Corner, Edge, Line};
    use super::*;
    use crate::length::Mm;
    use kurbo::{Affine, BezPath, Point};

    /// Corners clockwise as seen, each with how far the edge after it stands out from its chord in the middle, as a share of it.
    fn drawn(corners: &[(f64, f64, f64)]) -> Layer {
        let at = |k: usize| Point::new(corners[k % corners.len()].0, corners[k % corners.len()].1);
        let edge = |k: usize| {
            let (a, b, bow) = (at(k), at(k + 1), corners[k].2);
            let out = kurbo::Vec2::new((b - a).y, -(b - a).x) * (bow * 4.0 / 3.0);
            let mut path = BezPath::new();
            path.move_to(a);
            path.curve_to(a.lerp(b, 0.25) + out, a.lerp(b, 0.75) + out, b);
            Edge { name: format!("edge {}", k + 1), path, line: Line::Rim, how: How::Seen, bound: Some(0.1) }
        };
        let corner = |k: usize| Corner { name: format!("corner {}", k + 1), at: Mm::new(at(k).x, at(k).y), error: Some(0.1) };
        Layer {
            corners: (0..corners.len()).map(corner).collect(),
            edges: (0..corners.len()).map(edge).collect(),
            inner: Vec::new(),
            holes: Vec::new(),
        }
    }

    /// A shirt front of size 40 or so, in mm, invented.
    fn front() -> Layer {
        drawn(&[
            (-85.0, 0.0, -0.35),
            (85.0, 0.0, 0.0),
            (225.0, 45.0, -0.22),
            (265.0, 260.0, -0.02),
            (255.0, 640.0, 0.03),
            (-255.0, 640.0, -0.02),
            (-265.0, 260.0, -0.22),
            (-225.0, 45.0, 0.0),
        ])
    }

    fn edges(layer: &Layer, seen: &AsSeen) -> Vec<String> {
        proposed(layer, seen).map(|p| p.edges).unwrap_or_default()
    }

    #[test]
    fn pieces_are_recognised_however_they_lie() {
        let body = ["neckline", "shoulder left", "armhole left", "side left", "hem", "side right", "armhole right", "shoulder right"];
        let half = drawn(&[
            (80.0, 0.0, 0.0),
            (205.0, 40.0, -0.2),
            (255.0, 250.0, 0.0),
            (240.0, 560.0, 0.0),
            (0.0, 600.0, 0.0),
            (0.0, 210.0, -0.1),
        ]);
        let sleeve = drawn(&[(0.0, 150.0, 0.45), (380.0, 150.0, 0.0), (320.0, 580.0, 0.0), (60.0, 580.0, 0.0)]);
        let leg = drawn(&[(95.0, 0.0, 0.0), (290.0, 5.0, 0.03), (270.0, 1050.0, 0.0), (60.0, 1050.0, 0.0), (10.0, 270.0, -0.15)]);
        let yoke = drawn(&[
            (-80.0, 0.0, -0.2),
            (80.0, 0.0, 0.0),
            (230.0, 50.0, -0.02),
            (235.0, 150.0, 0.0),
            (-235.0, 150.0, -0.02),
            (-230.0, 50.0, 0.0),
        ]);
        let cases: [(&str, Layer, Vec<&str>); 5] = [
            ("front", front(), body.to_vec()),
            ("left front", half, vec!["shoulder", "armhole", "side", "hem", "centre", "neckline"]),
            ("sleeve", sleeve, vec!["cap", "underarm seam left", "end", "underarm seam right"]),
            ("trouser front", leg, vec!["waist", "outside leg", "hem", "inside leg", "rise"]),
            ("yoke", yoke, vec!["neckline", "shoulder right", "armhole right", "yoke seam", "armhole left", "shoulder left"]),
        ];
        for (name, layer, want) in cases {
            let up = if name == "yoke" { Up::Back } else { Up::Front };
            for degrees in [0.0, 70.0, 140.0, 210.0, 290.0] {
                let turned = layer.mapped(Affine::rotate(f64::to_radians(degrees)));
                assert_eq!(edges(&turned, &AsSeen { name, up: Some(up), ..AsSeen::default() }), want, "{name} at {degrees}°");
            }
        }
    }

    /// Left and right are the wearer's: of a back, and of a wrong side, they lie the other way round on the page.
    #[test]
    fn sides_are_the_wearers() {
        let side =
            |up, wrong_side_up| edges(&front(), &AsSeen { name: "body", up: Some(up), wrong_side_up, ..AsSeen::default() })[3].clone();
        assert_eq!(side(Up::Front, false), "side left");
        assert_eq!(side(Up::Front, true), "side right");
        assert_eq!(side(Up::Back, false), "side right");
        assert_eq!(side(Up::Back, true), "side left");
    }

    /// The other front of the pair is the mirror image, with the same names in the other order.
    #[test]
    fn the_other_of_a_pair_is_its_mirror() {
        let half = drawn(&[
            (80.0, 0.0, 0.0),
            (205.0, 40.0, -0.2),
            (255.0, 250.0, 0.0),
            (240.0, 560.0, 0.0),
            (0.0, 600.0, 0.0),
            (0.0, 210.0, -0.1),
        ]);
        let other = half.mapped(Affine::scale_non_uniform(-1.0, 1.0));
        let mut names = edges(&other, &AsSeen { name: "right front", ..AsSeen::default() });
        let start = names.iter().position(|n| n == "neckline").expect("a neckline");
        names.rotate_left(start);
        assert_eq!(names, ["neckline", "centre", "hem", "side", "armhole", "shoulder"]);
    }

    #[test]
    fn what_could_be_anything_has_no_names() {
        let square = drawn(&[(0.0, 0.0, 0.0), (150.0, 0.0, 0.0), (150.0, 170.0, 0.0), (0.0, 170.0, 0.0)]);
        assert_eq!(proposed(&square, &AsSeen::default()), None);
        assert_eq!(edges(&square, &AsSeen { name: "pocket", ..AsSeen::default() })[0], "opening");
        // A front as such and a back look alike; which is up must tell.
        assert_eq!(proposed(&front(), &AsSeen::default()), None);
        assert_eq!(proposed(&front(), &AsSeen { up: Some(Up::Back), ..AsSeen::default() }).map(|p| p.kind), Some(PieceKind::BodyBack));
        // A star is no piece whatever it is called.
        let star: Vec<(f64, f64, f64)> = (0..10)
            .map(|k| (f64::from(k).mul_add(std::f64::consts::PI / 5.0, 0.3), if k % 2 == 0 { 100.0 } else { 40.0 }))
            .map(|(angle, far)| (far * angle.cos(), far * angle.sin(), 0.0))
            .collect();
        assert_eq!(proposed(&drawn(&star), &AsSeen { name: "front", ..AsSeen::default() }), None);
    }

    /// A tuck or a nick adds corners; the pattern of the rest is still seen, and a stretch in several edges is numbered.
    #[test]
    fn corners_too_many_are_left_over() {
        let mut layer = front();
        let hem = 4;
        layer.corners.insert(hem + 1, Corner { name: "corner 9".into(), at: Mm::new(0.0, 655.0), error: None });
        let part = |a: Point, b: Point| Edge {
            path: BezPath::from_vec(vec![kurbo::PathEl::MoveTo(a), kurbo::PathEl::LineTo(b)]),
            ..layer.edges[hem].clone()
        };
        let (a, b, c) = (Point::new(255.0, 640.0), Point::new(0.0, 655.0), Point::new(-255.0, 640.0));
        let parts = [part(a, b), part(b, c)];
        layer.edges.splice(hem..=hem, parts);
        let names = edges(&layer, &AsSeen { name: "front", ..AsSeen::default() });
        assert_eq!(names[3..7], ["side left", "hem 1", "hem 2", "side right"]);
    }

    /// A shirt back below its yoke is symmetrical, and no half of anything, however it lies.
    #[test]
    fn a_back_under_a_yoke_is_whole() {
        let back = drawn(&[
            (-205.0, 0.0, 0.0),
            (205.0, 0.0, -0.16),
            (270.0, 205.0, 0.0),
            (265.0, 655.0, 0.02),
            (-265.0, 655.0, 0.0),
            (-270.0, 205.0, -0.16),
        ]);
        let want = ["yoke seam", "armhole right", "side right", "hem", "side left", "armhole left"];
        for turn in [0.0, 0.3, -1.2] {
            for seen in [
                AsSeen { kind: Some(PieceKind::BodyBack), ..AsSeen::default() },
                AsSeen { name: "back", ..AsSeen::default() },
                AsSeen { up: Some(Up::Back), ..AsSeen::default() },
            ] {
                assert_eq!(edges(&back.mapped(Affine::rotate(turn)), &seen), want, "{seen:?}");
            }
        }
    }

    #[test]
    fn a_persons_names_stand() {
        let mut layer = front();
        layer.corners[3].name = "underarm left".into();
        layer.corners[4].name = "hem corner".into();
        layer.edges[3].name = "underarm left to hem corner".into();
        layer.edges[4].name = "lower edge".into();
        layer.edges[0].name = "side right".into();
        let by = proposed(&layer, &AsSeen { name: "front", ..AsSeen::default() }).expect("a front").apply(&mut layer);
        let names: Vec<&str> = layer.edges.iter().map(|e| e.name.as_str()).collect();
        // An edge called after its ends takes the proposal; the name a person gave elsewhere is not given twice.
        assert_eq!(
            names,
            ["side right", "shoulder left", "armhole left", "side left", "lower edge", "edge 6", "armhole right", "shoulder right"]
        );
        assert_eq!(by.edges, [false, true, true, true, false, false, true, true]);
        assert_eq!((layer.corners[4].name.as_str(), by.corners[4]), ("hem corner", false));
        assert_eq!((layer.corners[2].name.as_str(), by.corners[2]), ("shoulder tip left", true));
    }
}
