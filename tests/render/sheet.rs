//! Ruled sheets: what is marked where, as polygons of the picture.

use super::camera::Camera;
use super::coverage::Shapes;
use super::curve::{Point, add, cross, length, lerp, sub};

/// Linear red, green, blue, 0 to 1.
pub type Rgb = [f32; 3];

/// The linear light of a colour given in sRGB bytes (IEC 61966-2-1).
pub fn srgb(r: u8, g: u8, b: u8) -> Rgb {
    [r, g, b].map(|v| {
        let v = f32::from(v) / 255.0;
        if v <= 0.04045 { v / 12.92 } else { ((v + 0.055) / 1.055).powf(2.4) }
    })
}

/// How a sheet is marked; the node (0, 0) lies at the sheet's origin.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Marks {
    None,
    /// Ruled both ways; every `heavy`-th line from the origin `heavy_width` wide (0: all alike).
    Lines {
        width: f64,
        heavy: usize,
        heavy_width: f64,
    },
    Dots {
        across: f64,
    },
    /// Upright crosses of two bars.
    Crosses {
        span: f64,
        width: f64,
    },
    Checker,
}

/// A long wave in the paper: a crest along a line, falling off to both sides like a Gaussian.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Buckle {
    /// A point of the crest, and its direction in degrees from the sheet's right.
    pub at: Point,
    pub degrees: f64,
    /// Height of the crest and its standard deviation across, mm.
    pub height: f64,
    pub width: f64,
}

impl Buckle {
    /// Height of the paper at a point, mm.
    pub fn height(&self, p: Point) -> f64 {
        let (s, c) = self.degrees.to_radians().sin_cos();
        let across = cross([c, s], sub(p, self.at)) / self.width;
        self.height * (-0.5 * across * across).exp()
    }
}

#[derive(Clone, Debug, PartialEq)]
pub struct Sheet {
    pub marks: Marks,
    /// Distance of neighbouring nodes along x and y, mm.
    pub pitch: Point,
    /// Top left and bottom right corner, mm.
    pub span: [Point; 2],
    pub ground: Rgb,
    pub ink: Rgb,
    /// How strongly the lighter lines cover the ground, 0 to 1.
    pub strength: f64,
    /// Unevenness of the paper, about this many per cent.
    pub grain: f32,
    /// Further marks in the sheet's ink (print, diagonals, scratches), as polygons.
    pub print: Vec<Vec<Point>>,
    /// The same, where they lie on lines that run across.
    pub print_across: Vec<Vec<Point>>,
    /// Where the paper stands up from the table.
    pub buckle: Option<Buckle>,
    /// Turn (degrees) and shift (mm) of this sheet on the table; the main sheet has none.
    pub laid: (f64, Point),
    /// How the print came out: across and down by these factors, and lines that run down lean to the right by so many degrees.
    pub printed: (Point, f64),
    /// Pages it is put together from; none where it is in one.
    pub pages: Vec<Page>,
}

/// A page of a sheet: the part of it that it shows, and where that was laid.
#[derive(Clone, Debug, PartialEq)]
pub struct Page {
    /// Top left and bottom right corner of its part, mm.
    pub part: [Point; 2],
    /// By how much it was moved, mm, and turned about the middle of its part, degrees.
    pub moved: Point,
    pub turned: f64,
}

impl Page {
    /// Where a point of the sheet that is on this page comes to lie.
    pub fn lay(&self, p: Point) -> Point {
        let middle = lerp(self.part[0], self.part[1], 0.5);
        let (d, (s, c)) = (sub(p, middle), self.turned.to_radians().sin_cos());
        add(add(middle, self.moved), [c * d[0] - s * d[1], s * d[0] + c * d[1]])
    }

    /// Its part of a polygon, laid.
    fn cut(&self, polygon: &[Point]) -> Vec<Point> {
        let [a, b] = self.part;
        within(polygon.to_vec(), &[a, [b[0], a[1]], b, [a[0], b[1]]]).into_iter().map(|p| self.lay(p)).collect()
    }

    pub fn holds(&self, p: Point) -> bool {
        (0..2).all(|k| (self.part[0][k]..self.part[1][k]).contains(&p[k]))
    }
}

impl Sheet {
    fn new(marks: Marks, pitch: f64, size: Point, ground: Rgb, ink: Rgb) -> Self {
        // The corner lies off the nodes, as on paper torn from a roll.
        let from = [-size[0] / 2.0 - 0.37 * pitch, -size[1] / 2.0 - 0.21 * pitch];
        Self::of(marks, pitch, [from, add(from, size)], ground, ink)
    }

    /// A sheet that spans this much.
    pub fn of(marks: Marks, pitch: f64, span: [Point; 2], ground: Rgb, ink: Rgb) -> Self {
        Self {
            marks,
            pitch: [pitch; 2],
            span,
            ground,
            ink,
            strength: 1.0,
            grain: 1.0,
            print: vec![],
            print_across: vec![],
            buckle: None,
            laid: (0.0, [0.0; 2]),
            printed: ([1.0; 2], 0.0),
            pages: vec![],
        }
    }

    pub fn lines(pitch: f64, size: Point) -> Self {
        let marks = Marks::Lines { width: 0.45, heavy: 0, heavy_width: 0.0 };
        Self::new(marks, pitch, size, srgb(240, 238, 232), srgb(96, 120, 170))
    }

    pub fn heavy_lines(pitch: f64, heavy: usize, size: Point) -> Self {
        let marks = Marks::Lines { width: 0.35, heavy, heavy_width: 0.8 };
        Self { strength: 0.7, ..Self::new(marks, pitch, size, srgb(240, 239, 233), srgb(90, 110, 120)) }
    }

    pub fn dots(pitch: f64, size: Point) -> Self {
        Self::new(Marks::Dots { across: 2.4 }, pitch, size, srgb(238, 237, 233), srgb(60, 62, 70))
    }

    pub fn crosses(pitch: f64, size: Point) -> Self {
        Self::new(Marks::Crosses { span: 6.0, width: 0.7 }, pitch, size, srgb(236, 232, 220), srgb(70, 60, 60))
    }

    pub fn checker(pitch: f64, size: Point) -> Self {
        Self::new(Marks::Checker, pitch, size, srgb(236, 236, 233), srgb(38, 38, 42))
    }

    pub fn mat(pitch: f64, heavy: usize, size: Point) -> Self {
        let marks = Marks::Lines { width: 0.4, heavy, heavy_width: 0.9 };
        Self { strength: 0.75, ..Self::new(marks, pitch, size, srgb(24, 72, 66), srgb(214, 206, 120)) }
    }

    pub fn blank(size: Point) -> Self {
        Self::new(Marks::None, 25.0, size, srgb(238, 237, 233), srgb(238, 237, 233))
    }

    fn place(&self, p: Point) -> Point {
        let ([x, y], lean) = (self.printed.0, self.printed.1.to_radians());
        let p = [x * p[0] + y * lean.sin() * p[1], y * lean.cos() * p[1]];
        let (s, c) = self.laid.0.to_radians().sin_cos();
        add([c * p[0] - s * p[1], s * p[0] + c * p[1]], self.laid.1)
    }

    /// Node numbers along one axis that lie on the sheet.
    fn nodes(&self, axis: usize) -> impl Iterator<Item = i64> + Clone + use<> {
        let (from, to) = (self.span[0][axis] / self.pitch[axis], self.span[1][axis] / self.pitch[axis]);
        from.ceil() as i64..=to.floor() as i64
    }

    fn node(&self, i: i64, j: i64) -> Point {
        [i as f64 * self.pitch[0], j as f64 * self.pitch[1]]
    }

    fn ring(&self, camera: &Camera, p: &[Point]) -> Vec<Point> {
        let placed = p.iter().map(|q| self.place(*q)).collect();
        let polygon = within(placed, &camera.surroundings());
        seen_at(camera, &polygon, |p| self.buckle.map_or(0.0, |b| b.height(p)))
    }

    /// Something printed, on whichever pages it falls.
    fn put(&self, set: &mut Shapes, camera: &Camera, polygon: &[Point], strength: f64) {
        if self.pages.is_empty() {
            set.push(self.ring(camera, polygon), strength);
        }
        for part in self.pages.iter().map(|p| p.cut(polygon)).filter(|p| p.len() > 2) {
            set.push(self.ring(camera, &part), strength);
        }
    }

    /// Where a point of the sheet as drawn lies in truth.
    pub fn lies(&self, p: Point) -> Point {
        self.place(self.pages.iter().find(|page| page.holds(p)).map_or(p, |page| page.lay(p)))
    }

    /// Where a point of the sheet is seen, px.
    pub fn see(&self, camera: &Camera, p: Point) -> Point {
        let p = self.lies(p);
        camera.project(p, self.buckle.map_or(0.0, |b| b.height(p)))
    }

    /// The sheet's own area as seen.
    pub fn paper(&self, camera: &Camera) -> Shapes {
        let [a, b] = self.span;
        let mut shapes = Shapes::default();
        shapes.push(self.ring(camera, &[a, [b[0], a[1]], b, [a[0], b[1]]]), 1.0);
        shapes
    }

    /// Its marks as seen: two sets, so that where one of each cross the ink does not count twice.
    pub fn ink(&self, camera: &Camera) -> [Shapes; 2] {
        let mut sets = [Shapes::default(), Shapes::default()];
        match self.marks {
            Marks::None => {}
            Marks::Lines { width, heavy, heavy_width } => {
                for (axis, set) in sets.iter_mut().enumerate() {
                    for k in self.nodes(axis) {
                        let strong = heavy > 0 && k.rem_euclid(heavy as i64) == 0;
                        let w = if strong { heavy_width } else { width };
                        self.put(set, camera, &self.bar(axis, k, w), if strong { 1.0 } else { self.strength });
                    }
                }
            }
            Marks::Dots { across } => self.at_nodes(camera, &mut sets[0], |k| {
                let (s, c) = (k as f64 * std::f64::consts::TAU / 32.0).sin_cos();
                // Area of the 32-cornered ring as that of the disc.
                let r = across / 2.0 * 1.003_221;
                (k < 32).then_some([r * c, r * s])
            }),
            Marks::Crosses { span, width } => {
                for (axis, set) in sets.iter_mut().enumerate() {
                    let half = if axis == 0 { [width / 2.0, span / 2.0] } else { [span / 2.0, width / 2.0] };
                    let corner = [[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]];
                    self.at_nodes(camera, set, |k| corner.get(k).map(|c| [c[0] * half[0], c[1] * half[1]]));
                }
            }
            Marks::Checker => {
                let [px, py] = self.pitch;
                for (i, j) in self.squares().filter(|(i, j)| (i + j) % 2 == 0) {
                    let a = self.node(i, j);
                    let square = [a, [a[0] + px, a[1]], [a[0] + px, a[1] + py], [a[0], a[1] + py]];
                    sets[0].push(self.ring(camera, &square), 1.0);
                }
            }
        }
        self.print.iter().for_each(|p| self.put(&mut sets[1], camera, p, 1.0));
        self.print_across.iter().for_each(|p| self.put(&mut sets[0], camera, p, 1.0));
        sets
    }

    fn squares(&self) -> impl Iterator<Item = (i64, i64)> + use<> {
        let (xs, ys) = (self.nodes(0), self.nodes(1));
        let last = (xs.clone().max().unwrap_or(0), ys.clone().max().unwrap_or(0));
        ys.flat_map(move |j| xs.clone().map(move |i| (i, j))).filter(move |(i, j)| *i < last.0 && *j < last.1)
    }

    /// Line number `k` across `axis`, over the whole sheet.
    fn bar(&self, axis: usize, k: i64, width: f64) -> [Point; 4] {
        let at = k as f64 * self.pitch[axis];
        let (lo, hi) = (at - width / 2.0, at + width / 2.0);
        let [a, b] = self.span;
        if axis == 0 { [[lo, a[1]], [hi, a[1]], [hi, b[1]], [lo, b[1]]] } else { [[a[0], lo], [b[0], lo], [b[0], hi], [a[0], hi]] }
    }

    fn at_nodes(&self, camera: &Camera, set: &mut Shapes, mark: impl Fn(usize) -> Option<Point>) {
        for j in self.nodes(1) {
            for i in self.nodes(0) {
                let at = self.node(i, j);
                let ring: Vec<Point> = (0..).map_while(&mark).map(|p| add(at, p)).collect();
                set.push(self.ring(camera, &ring), 1.0);
            }
        }
    }
}

/// The part of a polygon inside a convex one, both clockwise (Sutherland & Hodgman 1974).
fn within(mut polygon: Vec<Point>, clip: &[Point; 4]) -> Vec<Point> {
    for k in 0..4 {
        let (a, along) = (clip[k], sub(clip[(k + 1) % 4], clip[k]));
        let inside = |p: Point| cross(along, sub(p, a));
        if polygon.iter().all(|p| inside(*p) >= 0.0) {
            continue;
        }
        let mut kept = Vec::with_capacity(polygon.len() + 1);
        for (i, &p) in polygon.iter().enumerate() {
            let q = polygon[(i + 1) % polygon.len()];
            let (here, next) = (inside(p), inside(q));
            if here >= 0.0 {
                kept.push(p);
            }
            if (here >= 0.0) != (next >= 0.0) {
                kept.push(lerp(p, q, here / (here - next)));
            }
        }
        polygon = kept;
    }
    polygon
}

/// Longest step along a drawn line in the picture, px: a lens that bends by 10 % then strays 0.003 px from it.
const STEP_PX: f64 = 14.0;

/// A closed polygon at height `h` as the camera sees it, its sides parted so that the lens may bend them.
pub fn seen(camera: &Camera, polygon: &[Point], h: f64) -> Vec<Point> {
    seen_at(camera, polygon, |_| h)
}

/// The same where height differs from point to point.
fn seen_at(camera: &Camera, polygon: &[Point], h: impl Fn(Point) -> f64) -> Vec<Point> {
    let project = |p: Point| camera.project(p, h(p));
    let mut out = Vec::with_capacity(polygon.len() * 2);
    for (k, &a) in polygon.iter().enumerate() {
        let b = polygon[(k + 1) % polygon.len()];
        let (from, to) = (project(a), project(b));
        let n = (length(sub(to, from)) / STEP_PX).ceil().clamp(1.0, 4000.0) as usize;
        out.push(from);
        out.extend((1..n).map(|m| project(lerp(a, b, m as f64 / n as f64))));
    }
    out
}
