//! Flat measures between the trade's points: chest 1 in below the armhole, across the front and back 5 in below the high shoulder
//! point, biceps 1 in below the underarm, hem straight across, length from the high shoulder point (published measuring guides of
//! makers; the waist at the narrowest, thigh and knee as the chest: common practice, no source).
//!
//! Each with how far it may be out: what both of its ends may be, and what the sheet's own scale may add.

use super::circular::{Circular, Ring};
use super::draft::LiesOpen;
use super::halved::halved;
use super::kinds::{band, body, leg, panel, sleeve};
use super::layer::Layer;
use super::ruler::Ruler;
use super::welded::called_one;
use crate::length::Mm;
use crate::notes::PieceKind;
use nalgebra::Vector2;

/// A length between two trade points.
#[derive(Clone, Debug, PartialEq)]
pub struct Measure {
    /// What it is called in the trade.
    pub name: &'static str,
    /// Of which side of the wearer, where there are two.
    pub side: Option<&'static str>,
    /// Its length, mm.
    pub length: f64,
    /// 95 %: how far that may be out, mm; `None` where an edge it ends at was not measured.
    pub bound: Option<f64>,
    /// Where it was taken.
    pub taken: Taken,
    /// Whether the garment is as wide again on its other side: all round it is about twice this.
    pub half_round: bool,
    /// What darts that lay open took up along it, mm: it is measured with those closed, as it lay it was so much longer.
    pub closed: f64,
    /// How far the same measure differs between layings of the piece, mm; `None` when it was laid once.
    pub laid: Option<f64>,
}

/// Where a measure was taken.
#[derive(Clone, Debug, PartialEq)]
pub enum Taken {
    /// Straight from one place to another.
    Straight([Mm; 2]),
    /// Along edges that follow one another, by their numbers.
    Along(Vec<usize>),
    /// Round a hole, by its number.
    Hole(usize),
}

/// What measures are taken on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Measured<'a> {
    /// The lines, with the trade's names.
    pub layer: &'a Layer,
    /// What the piece is.
    pub kind: PieceKind,
    /// Share of a length that the sheet's own scale may be out by (95 %).
    pub scale: f64,
    /// Of half a piece the edge that lies on the fold.
    pub fold: Option<&'a str>,
    /// Darts that lie open in its edges.
    pub open: &'a [LiesOpen],
}

/// What stands behind the name of a width that is twice what was measured on half a piece.
pub(super) const DOUBLED: &str = ", doubled";
/// Widths of half a body, what they are called doubled, and whether that is half of the way round.
const HALVED: [(&str, &str, bool); 5] = [
    ("half chest", "chest, doubled", true),
    ("half waist", "waist, doubled", true),
    ("half hem sweep", "hem sweep, doubled", true),
    ("half across front", "across front, doubled", false),
    ("half across back", "across back, doubled", false),
];

/// What flat measures are called.
const KNOWN: [&str; 33] = [
    "chest",
    "waist",
    "hem sweep",
    "across shoulders",
    "across front",
    "across back",
    "neck width",
    "neck depth",
    "centre length",
    "length",
    "side length",
    "shoulder",
    "armhole",
    "armhole below yoke",
    "sleeve length",
    "cap height",
    "underarm length",
    "biceps",
    "sleeve opening",
    "thigh",
    "knee",
    "leg opening",
    "inside leg",
    "outside leg",
    "front rise",
    "back rise",
    "height",
    "width",
    "half chest",
    "half waist",
    "half hem sweep",
    "half across front",
    "half across back",
];

/// The name of a measure as all have it.
pub(super) fn known(name: &str) -> Option<&'static str> {
    KNOWN.iter().copied().find(|own| *own == name)
}

/// Whether a reading's words name a measure, wherever it may be taken.
pub(crate) fn is_measure(what: &str) -> bool {
    KNOWN.iter().any(|name| ["left", "right"].into_iter().any(|side| super::taped::names(what, name, Some(side))))
}

impl Measured<'_> {
    /// All measures that its corners and edges allow, in the order in which they are told. Widths of half a piece are told doubled too.
    pub fn all(&self) -> Vec<Measure> {
        let of_body = matches!(self.kind, PieceKind::BodyFront | PieceKind::BodyBack);
        if let Some(fold) = self.fold.filter(|_| !of_body && self.layer.corner("end fold").is_none()) {
            let half = halved(self, fold);
            if !half.is_empty() {
                return half;
            }
        }
        if let Some(circular) = self.circular() {
            return circular.measures(self.layer, self.scale).into_iter().map(|m| self.closed(m)).collect();
        }
        if let Some(ring) = Ring::of(self.layer).filter(|_| self.kind == PieceKind::SkirtPanel) {
            return ring.measures(self.layer, self.scale);
        }
        let half = self.fold.filter(|_| of_body).and_then(|fold| half_named(self.layer, fold));
        let Some(ruler) = Ruler::of(half.as_ref().unwrap_or(self.layer), self.scale) else { return Vec::new() };
        let mut out = Vec::new();
        match self.kind {
            PieceKind::BodyFront | PieceKind::BodyBack => body(&ruler, self.kind, &mut out),
            PieceKind::Sleeve => sleeve(&ruler, &mut out),
            PieceKind::TrouserFront | PieceKind::TrouserBack => leg(&ruler, self.kind, &mut out),
            PieceKind::SkirtPanel => panel(&ruler, &mut out),
            PieceKind::Collar | PieceKind::Cuff | PieceKind::Pocket | PieceKind::Waistband | PieceKind::Yoke => band(&ruler, &mut out),
        }
        let out: Vec<Measure> = out.into_iter().map(|m| self.closed(m)).collect();
        if half.is_some() { out.into_iter().flat_map(with_doubled).collect() } else { out }
    }

    /// The direction from the top of the piece to its bottom, of length 1, when its corners' names tell it.
    pub fn down(&self) -> Option<Vector2<f64>> {
        self.circular().map(|c| c.down()).or_else(|| Ruler::of(self.layer, self.scale).map(|r| r.line.along))
    }

    /// How it is part of a circle, when it is a skirt's.
    fn circular(&self) -> Option<Circular> {
        (self.kind == PieceKind::SkirtPanel).then(|| Circular::of(self.layer)).flatten()
    }
}

/// Half a body with the trade's names at its fold, whatever they were: its ends are the neck and the hem at the centre.
fn half_named(layer: &Layer, fold: &str) -> Option<Layer> {
    let n = layer.corners.len();
    let k = layer.edge(fold).filter(|_| n > 2)?;
    let shoulder = ["neck", "shoulder tip"].into_iter().find_map(|name| layer.corner(name))?;
    let far = |c: usize| layer.corners[c % n].at.distance(layer.corners[shoulder].at);
    let top_first = far(k) < far(k + 1);
    let (top, bottom) = if top_first { (k, (k + 1) % n) } else { ((k + 1) % n, k) };
    // The edge from there to the side, with all its stretches.
    let one = |a: usize, b: usize| called_one(layer, a % n, b % n);
    let more = (1..n).take_while(|j| if top_first { one(k + 1, k + 1 + j) } else { one(k + n - 1, k + 2 * n - 1 - j) }).count();
    let side = if top_first { (k + 2 + more) % n } else { (k + 2 * n - 1 - more) % n };
    let mut out = layer.clone();
    out.edges[k].name = "centre".into();
    out.corners[top].name = "neck centre".into();
    out.corners[bottom].name = "hem centre".into();
    // A half that ends at its armhole has no side.
    if out.corners[side].name != "underarm" {
        out.corners[side].name = "hem side".into();
    }
    Some(out)
}

/// A measure of half a body, and after a width the same doubled.
fn with_doubled(measure: Measure) -> Vec<Measure> {
    let doubled = HALVED.iter().find(|(half, ..)| *half == measure.name).map(|&(_, name, half_round)| {
        let bound = measure.bound.map(|b| 2.0 * b);
        Measure { name, length: 2.0 * measure.length, closed: 2.0 * measure.closed, bound, half_round, ..measure.clone() }
    });
    std::iter::once(measure).chain(doubled).collect()
}

#[cfg(test)]
mod tests {
    use super::super::How;
    use super::super::layer::{Corner, Edge, Line};
    use super::*;
    use kurbo::{Affine, BezPath, PathEl, Point};

    /// Straight edges through named corners; the edges' names and bounds beside them.
    fn drawn(corners: &[(&str, f64, f64, &str)]) -> Layer {
        let at = |k: usize| Point::new(corners[k % corners.len()].1, corners[k % corners.len()].2);
        let edge = |k: usize| Edge {
            name: corners[k].3.into(),
            path: BezPath::from_vec(vec![PathEl::MoveTo(at(k)), PathEl::LineTo(at(k + 1))]),
            line: Line::Rim,
            how: How::Seen,
            bound: Some(0.2),
        };
        let corner = |k: usize| Corner { name: corners[k].0.into(), at: Mm::new(at(k).x, at(k).y), error: Some(0.1) };
        let n = corners.len();
        Layer { corners: (0..n).map(corner).collect(), edges: (0..n).map(edge).collect(), inner: Vec::new(), holes: Vec::new() }
    }

    fn front() -> Layer {
        drawn(&[
            ("neck left", 80.0, 0.0, "shoulder left"),
            ("shoulder tip left", 220.0, 50.0, "armhole left"),
            ("underarm left", 260.0, 250.0, "side left"),
            ("", 230.0, 400.0, "side left below"),
            ("hem left", 250.0, 600.0, "hem"),
            ("hem right", -250.0, 600.0, "side right below"),
            ("", -230.0, 400.0, "side right"),
            ("underarm right", -260.0, 250.0, "armhole right"),
            ("shoulder tip right", -220.0, 50.0, "shoulder right"),
            ("neck right", -80.0, 0.0, "neckline"),
            ("neck centre front", 0.0, 90.0, "neckline 2"),
        ])
    }

    fn measures(layer: &Layer, kind: PieceKind) -> Vec<Measure> {
        Measured { layer, kind, scale: 0.001, fold: None, open: &[] }.all()
    }

    fn length(all: &[Measure], name: &str) -> f64 {
        all.iter().find(|m| m.name == name).unwrap_or_else(|| panic!("no {name}")).length
    }

    /// By hand: 1 in below the armhole each side has come in by 30 / 150 of 25.4 mm; across the front 127 mm down the armholes are at
    /// 220 + 40 x 77 / 200; the rest is read off the drawing or Pythagoras. However the piece lies.
    #[test]
    fn a_front() {
        for degrees in [0.0, 33.0, 160.0, -90.0] {
            let all = measures(&front().mapped(Affine::rotate(f64::to_radians(degrees))), PieceKind::BodyFront);
            let want = [
                ("chest", 2.0 * (260.0 - 30.0 * 25.4 / 150.0)),
                ("waist", 460.0),
                ("hem sweep", 500.0),
                ("across shoulders", 440.0),
                ("across front", 2.0 * (220.0 + 40.0 * 77.0 / 200.0)),
                ("neck width", 160.0),
                ("neck depth", 90.0),
                ("centre length", 510.0),
                ("length", 600.0),
                ("shoulder", 140f64.hypot(50.0)),
                ("armhole", 40f64.hypot(200.0)),
                ("side length", 30f64.hypot(150.0)),
            ];
            for (name, length_mm) in want {
                // The waist is looked for every 2 mm, where the sides come in by 0.4.
                let within = if name == "waist" { 0.5 } else { 1e-6 };
                assert!((length(&all, name) - length_mm).abs() < within, "{name} at {degrees}°: {}", length(&all, name));
            }
            let chest = all.iter().find(|m| m.name == "chest").expect("a chest");
            assert!(chest.half_round && (chest.bound.expect("a bound") - (0.4 + 0.001 * chest.length)).abs() < 1e-9);
            let shoulders: Vec<_> = all.iter().filter(|m| m.name == "shoulder").map(|m| m.side).collect();
            assert_eq!(shoulders, [Some("left"), Some("right")]);
        }
    }

    /// The same front on its fold, whatever the corners there are called and whichever half it is: lengths as of the whole, widths halved and doubled.
    #[test]
    fn half_a_front_is_measured_and_its_widths_doubled() {
        let half = drawn(&[
            ("neck", 80.0, 0.0, "shoulder"),
            ("shoulder tip", 220.0, 50.0, "armhole"),
            ("underarm", 260.0, 250.0, "side"),
            ("waist side", 250.0, 600.0, "waist"),
            ("waist at fold", 0.0, 600.0, "centre front"),
            ("neck at fold", 0.0, 90.0, "neckline"),
        ]);
        // A corner that nobody named, as the peak of a dart's mouth has one, parts the waist in two stretches.
        let parted = drawn(&[
            ("neck", 80.0, 0.0, "shoulder"),
            ("shoulder tip", 220.0, 50.0, "armhole"),
            ("underarm", 260.0, 250.0, "side"),
            ("waist side", 250.0, 600.0, "waist"),
            ("corner 5", 120.0, 600.0, "waist 2"),
            ("waist at fold", 0.0, 600.0, "centre front"),
            ("neck at fold", 0.0, 90.0, "neckline"),
        ]);
        for layer in [half.clone(), half.mapped(Affine::FLIP_X), parted.clone(), parted.mapped(Affine::FLIP_X)] {
            let all = Measured { layer: &layer, kind: PieceKind::BodyFront, scale: 0.001, fold: Some("centre front"), open: &[] }.all();
            let chest = 2.0 * (260.0 - 10.0 * 25.4 / 350.0);
            let want = [
                ("half chest", chest / 2.0),
                ("chest, doubled", chest),
                ("waist, doubled", 500.0),
                ("across front, doubled", 2.0 * (220.0 + 40.0 * 77.0 / 200.0)),
                ("centre length", 510.0),
                ("length", 600.0),
                ("shoulder", 140f64.hypot(50.0)),
                ("armhole", 40f64.hypot(200.0)),
                ("side length", 10f64.hypot(350.0)),
            ];
            for (name, length_mm) in want {
                assert!((length(&all, name) - length_mm).abs() < 1e-6, "{name}: {}", length(&all, name));
            }
            let of = |name: &str| all.iter().find(|m| m.name == name).and_then(|m| m.bound).expect("a bound");
            assert!((of("chest, doubled") - 2.0 * of("half chest")).abs() < 1e-9);
            assert!(measures(&layer, PieceKind::BodyFront).is_empty());
        }
    }

    #[test]
    fn a_sleeve_a_leg_and_a_panel() {
        let sleeve = drawn(&[
            ("underarm left", 0.0, 150.0, "cap"),
            ("", 190.0, 0.0, "cap 2"),
            ("underarm right", 380.0, 150.0, "underarm seam right"),
            ("end right", 320.0, 580.0, "end"),
            ("end left", 60.0, 580.0, "underarm seam left"),
        ]);
        let all = measures(&sleeve, PieceKind::Sleeve);
        assert!((length(&all, "biceps") - (380.0 - 2.0 * 60.0 * 25.4 / 430.0)).abs() < 1e-6);
        assert!((length(&all, "sleeve length") - 580.0).abs() < 1e-6 && (length(&all, "cap height") - 150.0).abs() < 1e-6);
        assert!(
            (length(&all, "sleeve opening") - 260.0).abs() < 1e-6 && (length(&all, "underarm length") - 60f64.hypot(430.0)).abs() < 1e-6
        );
        let leg = drawn(&[
            ("waist centre", 90.0, 0.0, "waist"),
            ("waist side", 290.0, 0.0, "outside leg"),
            ("hem side", 290.0, 1050.0, "hem"),
            ("hem inside", 90.0, 1050.0, "inside leg"),
            ("crotch", 10.0, 250.0, "rise"),
        ]);
        let all = measures(&leg, PieceKind::TrouserBack);
        assert!((length(&all, "thigh") - (280.0 - 80.0 * 25.4 / 800.0)).abs() < 1e-6, "{}", length(&all, "thigh"));
        assert!((length(&all, "knee") - 240.0).abs() < 1e-6 && (length(&all, "back rise") - 80f64.hypot(250.0)).abs() < 1e-6);
        let panel = drawn(&[
            ("waist left", -100.0, 0.0, "waist"),
            ("waist right", 100.0, 0.0, "side right"),
            ("hem right", 180.0, 600.0, "hem"),
            ("hem left", -180.0, 600.0, "side left"),
        ]);
        let all = measures(&panel, PieceKind::SkirtPanel);
        assert!((length(&all, "centre length") - 600.0).abs() < 1e-6 && (length(&all, "hem sweep") - 360.0).abs() < 1e-6);
    }

    /// A panel's waist that is hollowed by 6 mm has a dart of 20 mm open in it: 180 of its 200 mm from corner to corner; the hem has none.
    #[test]
    fn a_dart_that_lies_open_is_closed() {
        let panel = drawn(&[
            ("waist left", -100.0, 0.0, "waist"),
            ("", 0.0, 6.0, "waist 2"),
            ("waist right", 100.0, 0.0, "side right"),
            ("hem right", 180.0, 600.0, "hem"),
            ("hem left", -180.0, 600.0, "side left"),
        ]);
        let open = [LiesOpen { stretch: "Waist 2".into(), legs: [30.0, 50.0] }];
        let all = Measured { layer: &panel, kind: PieceKind::SkirtPanel, scale: 0.0, fold: None, open: &open }.all();
        let waist = all.iter().find(|m| m.name == "waist").expect("a waist");
        assert!((waist.length - 180.0).abs() < 1e-9 && (waist.closed - 20.0).abs() < 1e-9, "{waist:?}");
        // Its corners are known to 0.2 mm each, both legs to a quarter.
        assert!((waist.bound.expect("a bound") - 0.9).abs() < 1e-9, "{waist:?}");
        assert!((length(&all, "hem sweep") - 360.0).abs() < 1e-9);
    }

    /// Whatever corners are there, what can't be measured is left out and nothing else.
    #[test]
    fn what_is_not_there_is_not_measured() {
        let all = measures(&drawn(&[("a", 0.0, 0.0, "x"), ("b", 100.0, 0.0, "y"), ("c", 0.0, 80.0, "z")]), PieceKind::BodyFront);
        assert!(all.is_empty());
        let mut layer = front();
        layer.corners[1].name = "tip".into();
        layer.edges[2].bound = None;
        let all = measures(&layer, PieceKind::BodyFront);
        assert!(all.iter().all(|m| m.name != "across shoulders"));
        assert_eq!(all.iter().find(|m| m.name == "chest").expect("a chest").bound, None);
    }
}
