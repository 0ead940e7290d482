//! Cloth: the pieces that lie on the sheet, and what their fabric looks like from near.

use super::curve::{Curve, Point, add, cross, dot, length, scaled, sub};
use super::random::{NORMAL, Random, cloudiness};
use super::sheet::Rgb;

/// How a fabric is made.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Weave {
    /// One colour, fine threads both ways.
    Plain,
    /// Diagonal ridges, two colours of yarn as in denim.
    Twill,
    /// Two colours in checks `period` mm apart.
    Gingham { period: f64 },
    /// Two colours in stripes `period` mm apart, the second over a share `width`.
    Stripes { period: f64, width: f64 },
    /// Knitted ribs `period` mm apart.
    Rib { period: f64 },
}

#[derive(Clone, Debug, PartialEq)]
pub struct Fabric {
    pub weave: Weave,
    pub colour: Rgb,
    pub second: Rgb,
    /// Turn of the threads on the sheet, degrees.
    pub grain: f64,
    /// Unevenness of the yarn, a share of the colour.
    pub rough: f32,
    /// Depth of soft folds in the lie of the cloth, a share of the light.
    pub folds: f32,
    /// Darkening where the edge rolls down to the sheet, a share of the light.
    pub rim: f32,
    pub seed: u64,
}

impl Fabric {
    pub fn plain(colour: Rgb) -> Self {
        Self { weave: Weave::Plain, colour, second: colour, grain: 3.0, rough: 0.06, folds: 0.06, rim: 0.12, seed: 1 }
    }

    pub fn with(self, weave: Weave, second: Rgb) -> Self {
        Self { weave, second, ..self }
    }
}

/// A line of stitches in a contrasting thread.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Topstitch {
    /// Distance inside the outer edge, mm.
    pub inside: f64,
    pub colour: Rgb,
}

/// A line within a piece, darkest in its middle.
#[derive(Clone, Debug, PartialEq)]
pub struct Valley {
    pub line: Curve,
    /// Of the dark strip before it is softened, mm.
    pub width: f64,
}

/// One piece of cloth, where it lies on the sheet.
#[derive(Clone, Debug, PartialEq)]
pub struct Piece {
    pub name: String,
    /// Outer edge in sheet mm, clockwise as seen.
    pub outline: Curve,
    pub holes: Vec<Curve>,
    /// Seams within the piece: dark valleys.
    pub seams: Vec<Valley>,
    pub fabric: Fabric,
    /// Height of the visible edge above the sheet, mm.
    pub thickness: f64,
    pub topstitch: Option<Topstitch>,
    /// Flat things sewn on: buttons, welts, patches, each with its colour.
    pub sewn_on: Vec<(Curve, Rgb)>,
    /// How far the cloth ends off the drawn outline, mm (standard deviation), and the length over which that is alike, mm.
    pub fray: Option<[f64; 2]>,
    /// Creases, besides the fabric's own soft folds.
    pub creases: Vec<Fold>,
    /// An edge that curls.
    pub roll: Option<Roll>,
}

/// A part of the outer edge that lies in a roll: from the place nearest to one point clockwise to that nearest to the other.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Roll {
    pub from: Point,
    pub to: Point,
    /// Thickness of the roll, mm.
    pub thick: f64,
    /// Where the light comes from, degrees clockwise from the sheet's right, and its part beside that from all sides.
    pub light: f64,
    pub share: f32,
}

impl Piece {
    pub fn new(name: &str, outline: &Curve, fabric: Fabric, thickness: f64) -> Self {
        let outline = outline.clockwise(true);
        Self {
            name: name.into(),
            outline,
            holes: vec![],
            seams: vec![],
            fabric,
            thickness,
            topstitch: None,
            sewn_on: vec![],
            fray: None,
            creases: vec![],
            roll: None,
        }
    }

    pub fn with_hole(mut self, hole: &Curve) -> Self {
        self.holes.push(hole.clockwise(false));
        self
    }

    /// A seam within the piece.
    pub fn with_seam(self, seam: Curve) -> Self {
        self.with_valley(seam, 0.6)
    }

    /// A line within the piece, dark over `width` mm.
    pub fn with_valley(mut self, line: Curve, width: f64) -> Self {
        self.seams.push(Valley { line, width });
        self
    }

    /// A frayed edge: `rms` mm off the drawn one, alike over `alike` mm.
    pub fn frayed(mut self, rms: f64, alike: f64) -> Self {
        self.fray = Some([rms, alike]);
        self
    }

    pub fn with_crease(mut self, crease: Fold) -> Self {
        self.creases.push(crease);
        self
    }

    pub fn rolled(mut self, roll: Roll) -> Self {
        self.roll = Some(roll);
        self
    }

    /// Where the cloth ends: the outline as drawn, or frayed about it.
    pub fn cloth_ends(&self) -> Vec<Point> {
        const STEP: f64 = 0.25;
        let Some([rms, alike]) = self.fray else { return self.outline.points(0.5) };
        let points = self.outline.even_points(STEP);
        let n = points.len();
        let mut random = Random::new(self.fabric.seed ^ 0xf4a7);
        let white: Vec<f64> = (0..n).map(|_| f64::from(random.pick(&NORMAL))).collect();
        // Two boxes after one another make a triangle about as wide as the edge is alike.
        let reach = (0.5 * alike / STEP).round().max(1.0) as usize;
        let boxed = |v: &[f64]| -> Vec<f64> { (0..n).map(|k| (0..=2 * reach).map(|j| v[(k + n + j - reach) % n]).sum()).collect() };
        let smooth = boxed(&boxed(&white));
        let size = (smooth.iter().map(|v| v * v).sum::<f64>() / n as f64).sqrt();
        let off = |k: usize| {
            let along = sub(points[(k + 1) % n], points[(k + n - 1) % n]);
            add(points[k], scaled([-along[1], along[0]], rms * smooth[k] / (size * length(along))))
        };
        (0..n).map(off).collect()
    }

    pub fn with_sewn_on(mut self, outline: &Curve, colour: Rgb) -> Self {
        self.sewn_on.push((outline.clockwise(true), colour));
        self
    }

    pub fn with_topstitch(mut self, inside: f64, colour: Rgb) -> Self {
        self.topstitch = Some(Topstitch { inside, colour });
        self
    }

    /// The same piece turned about the origin, then moved.
    pub fn laid(mut self, degrees: f64, by: Point) -> Self {
        self.outline = self.outline.laid(degrees, by);
        let sewn_on = self.sewn_on.iter_mut().map(|s| &mut s.0);
        let seams = self.seams.iter_mut().map(|s| &mut s.line);
        for c in self.holes.iter_mut().chain(seams).chain(sewn_on) {
            *c = c.laid(degrees, by);
        }
        self.fabric.grain += degrees;
        self
    }

    /// Stitches as small bars: where the line at a distance inside the edge comes no nearer to any other edge.
    pub fn stitches(&self) -> Vec<Vec<Point>> {
        let Some(t) = self.topstitch else { return vec![] };
        let rims: Vec<Vec<Point>> = std::iter::once(&self.outline).chain(&self.holes).map(|c| c.even_points(1.0)).collect();
        let near = |p: Point| rims.iter().flatten().any(|q| length(sub(p, *q)) < t.inside - 0.2);
        let mut bars = Vec::new();
        for rim in &rims {
            let n = rim.len();
            let inner = |k: usize| {
                let along = sub(rim[(k + 1) % n], rim[(k + n - 1) % n]);
                // Clockwise as seen: the cloth lies to the right of the way.
                add(rim[k], scaled([-along[1], along[0]], t.inside / length(along)))
            };
            // Three mm a stitch, two of them thread.
            for k in (0..n.saturating_sub(2)).step_by(3) {
                let (a, b) = (inner(k), inner(k + 2));
                let long = length(sub(b, a));
                if near(a) || near(b) || !(0.3..4.0).contains(&long) {
                    continue;
                }
                let side = scaled([-(b[1] - a[1]), b[0] - a[0]], 0.22 / long);
                bars.push(vec![sub(a, side), sub(b, side), add(b, side), add(a, side)]);
            }
        }
        bars
    }
}

/// One fold: bright on one flank, dark on the other, along a line.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Fold {
    pub at: Point,
    /// Direction, of length 1.
    pub along: Point,
    pub half_width: f64,
    pub half_length: f64,
    /// About how much of the light is lost or won.
    pub depth: f32,
}

/// A fabric ready to be looked at.
#[derive(Clone, Debug)]
pub struct Surface {
    fabric: Fabric,
    axis: Point,
    folds: Vec<Fold>,
    thread: Rgb,
    /// Places along a rolled edge, each with its direction out of the cloth.
    roll: Option<(Roll, Vec<[Point; 2]>)>,
}

impl Surface {
    pub fn of(piece: &Piece) -> Self {
        let fabric = piece.fabric.clone();
        let (s, c) = fabric.grain.to_radians().sin_cos();
        let rim = piece.outline.even_points(10.0);
        let mut random = Random::new(fabric.seed ^ 0xf01d);
        let folds = (0..5).map(|_| {
            let (a, b) = (random.pick(&rim), random.pick(&rim));
            let angle = random.between(0.0, 3.1);
            Fold {
                at: [0.5 * (a[0] + b[0]), 0.5 * (a[1] + b[1])],
                along: [angle.cos(), angle.sin()],
                half_width: random.between(4.0, 14.0),
                half_length: random.between(30.0, 120.0),
                depth: fabric.folds * random.between(0.5, 1.5) as f32,
            }
        });
        Self {
            folds: folds.chain(piece.creases.iter().copied()).collect(),
            axis: [c, s],
            roll: piece.roll.map(|r| (r, rolled(piece, r))),
            thread: piece.topstitch.map_or([0.0; 3], |t| t.colour),
            fabric,
        }
    }

    /// Darkening towards the edge, a share of the light.
    pub fn rim(&self) -> f32 {
        self.fabric.rim
    }

    /// Colour of the topstitch's thread.
    pub fn thread(&self) -> Rgb {
        self.thread
    }

    /// Light the cloth gives back at a point, seen in pixels `grain` mm wide.
    pub fn colour(&self, p: Point, grain: f64) -> Rgb {
        let f = &self.fabric;
        let (u, v) = (dot(p, self.axis), cross(self.axis, p));
        let (share, relief) = match f.weave {
            Weave::Plain => (0.0, thread(u, 0.7, grain) * thread(v, 0.7, grain) * 0.08),
            Weave::Twill => (0.35 + 0.3 * thread(u + v, 1.1, grain), thread(u - 0.4 * v, 2.0, grain) * 0.06),
            Weave::Gingham { period } => (0.5 * (stripe(u, period, 0.5, grain) + stripe(v, period, 0.5, grain)), 0.0),
            Weave::Stripes { period, width } => (stripe(u, period, width, grain), 0.0),
            Weave::Rib { period } => (0.0, thread(u, period, grain) * 0.35),
        };
        let uneven =
            cloudiness(f.seed, u * 0.25, v, 1.1) + cloudiness(f.seed ^ 7, u, v * 0.25, 1.3) + 0.7 * cloudiness(f.seed ^ 9, u, v, 40.0);
        let light = (1.0 + relief + f.rough * uneven) * self.lie(p) * self.curl(p);
        std::array::from_fn(|k| (f.colour[k] + (f.second[k] - f.colour[k]) * share) * light)
    }

    /// Shading of the rolled edge: a cylinder under light from one side at half the height of the sky, and the shadow where it lies on.
    fn curl(&self, p: Point) -> f32 {
        let Some((roll, rim)) = &self.roll else { return 1.0 };
        let reach = roll.thick + 3.0;
        let near = rim.iter().map(|[at, out]| (length(sub(p, *at)), out)).min_by(|a, b| a.0.total_cmp(&b.0));
        let Some((s, out)) = near.filter(|n| n.0 < reach) else { return 1.0 };
        let x = 2.0 * s / roll.thick - 1.0;
        let (sine, cosine) = roll.light.to_radians().sin_cos();
        let flank = if s < roll.thick { (1.0 - x * x).max(0.0).sqrt() - x * dot(*out, [cosine, sine]) } else { 1.0 };
        let lit = 1.0 - roll.share + roll.share * flank.max(0.0) as f32;
        lit * (1.0 - 0.4 * (-0.5 * ((s - roll.thick) / 0.8).powi(2)).exp() as f32)
    }

    /// Shading of the soft folds: bright on one flank, dark on the other.
    fn lie(&self, p: Point) -> f32 {
        let mut light = 1.0;
        for fold in &self.folds {
            let d = sub(p, fold.at);
            let (across, along) = (cross(fold.along, d) / fold.half_width, dot(fold.along, d) / fold.half_length);
            let far = across * across + along * along;
            if far < 9.0 {
                light += fold.depth * 2.3 * across as f32 * (-far as f32).exp();
            }
        }
        light
    }
}

/// Places half a millimetre apart along a rolled edge, and which way is out.
fn rolled(piece: &Piece, roll: Roll) -> Vec<[Point; 2]> {
    let rim = piece.outline.even_points(0.5);
    let n = rim.len();
    let [from, to] = [roll.from, roll.to].map(|p| super::curve::nearest(&rim, p));
    let place = |k: usize| {
        let along = sub(rim[(k + 1) % n], rim[(k + n - 1) % n]);
        [rim[k % n], scaled([along[1], -along[0]], 1.0 / length(along))]
    };
    (0..(to + n - from) % n).map(|k| place((from + k) % n)).collect()
}

/// A wave of the given period, flattened as far as pixels of `grain` mm blur it.
fn thread(x: f64, period: f64, grain: f64) -> f32 {
    let blur = std::f64::consts::PI * grain / period;
    if blur > 3.0 { 0.0 } else { ((std::f64::consts::TAU * x / period).sin() * (-blur * blur / 3.0).exp()) as f32 }
}

/// 1 on a stripe that takes a share `width` of each period, 0 beside it; averaged over pixels of `grain` mm.
fn stripe(x: f64, period: f64, width: f64, grain: f64) -> f32 {
    let (t, half) = (x / period, 0.5 * grain / period);
    // Integral of the stripe from 0 to t.
    let sum = |t: f64| t.floor() * width + (t - t.floor()).min(width);
    ((sum(t + half) - sum(t - half)) / (2.0 * half).max(1e-9)) as f32
}
