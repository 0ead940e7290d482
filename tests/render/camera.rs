//! The renderer's own camera: a pinhole with a lens after Brown (1966), or a flatbed's plain map.
//!
//! Sheet axes: mm, x right, y down, z into the table, so a point at height h has z = -h. A point X is seen in
//! camera axes at `turn * (X - eye)`. Whole pixel numbers are pixel centres.

use super::curve::Point;

/// How a picture is taken.
#[derive(Clone, Debug, PartialEq)]
pub struct Camera {
    /// Columns and rows of the upright picture.
    pub size: [usize; 2],
    pub optics: Optics,
}

#[derive(Clone, Debug, PartialEq)]
pub enum Optics {
    Lens(Lens),
    /// px = [a b; c d] mm + [e, f], as a b c d e f; height does not matter.
    Flatbed([f64; 6]),
}

#[derive(Clone, Debug, PartialEq)]
pub struct Lens {
    /// Focal length, px.
    pub focal: f64,
    pub centre: Point,
    pub k1: f64,
    pub k2: f64,
    pub p1: f64,
    pub p2: f64,
    /// Rows of the rotation from sheet to camera axes.
    pub turn: [[f64; 3]; 3],
    /// Where the camera is, sheet axes, mm (z negative: above the sheet).
    pub eye: [f64; 3],
    /// Squared radius up to which the radial terms hold; beyond it (far outside the frame) they would fold the picture over.
    pub reach: f64,
}

/// How a camera is held.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stand {
    /// Focal length as on 24 × 36 mm film, mm.
    pub film_mm: f64,
    /// Angle between the line of sight and the plumb line, degrees.
    pub tilt: f64,
    /// The side it is tilted to, degrees clockwise from the sheet's right.
    pub side: f64,
    /// Turn of the picture about the line of sight, degrees.
    pub roll: f64,
}

/// Diagonal of a frame of 24 × 36 mm film, mm.
const FILM_DIAGONAL: f64 = 43.266_615;

/// Focal length in px for a film-equivalent one: both see the same angle over the diagonal.
pub fn focal_px(film_mm: f64, size: [usize; 2]) -> f64 {
    film_mm * (size[0] as f64).hypot(size[1] as f64) / FILM_DIAGONAL
}

impl Camera {
    /// A camera that looks at `middle` from the distance at which all `within` just lies in a share `fill` of the frame.
    pub fn framing(size: [usize; 2], stand: Stand, within: &[Point], fill: f64) -> Self {
        let n = within.len() as f64;
        let middle = within.iter().fold([0.0; 2], |m, p| [m[0] + p[0] / n, m[1] + p[1] / n]);
        let (mut near, mut far) = (50.0, 20_000.0);
        for _ in 0..60 {
            let d = 0.5 * (near + far);
            let camera = Self::at_distance(size, stand, middle, d);
            let fits = within.iter().all(|p| {
                let q = camera.project(*p, 0.0);
                (0..2).all(|k| (q[k] / (size[k] as f64 - 1.0) - 0.5).abs() < 0.5 * fill)
            });
            if fits { far = d } else { near = d }
        }
        Self::at_distance(size, stand, middle, far)
    }

    /// A camera without lens errors that looks at `middle` from `distance` mm.
    pub fn at_distance(size: [usize; 2], stand: Stand, middle: Point, distance: f64) -> Self {
        let (st, ct) = stand.tilt.to_radians().sin_cos();
        let (sa, ca) = stand.side.to_radians().sin_cos();
        let (sr, cr) = stand.roll.to_radians().sin_cos();
        // Tilt about the axis (-sin a, cos a, 0) (Rodrigues), then the turn about the line of sight.
        let (ax, ay, v) = (-sa, ca, 1.0 - ct);
        let tilt = [[ct + ax * ax * v, ax * ay * v, ay * st], [ax * ay * v, ct + ay * ay * v, -ax * st], [-ay * st, ax * st, ct]];
        let roll = [[cr, -sr, 0.0], [sr, cr, 0.0], [0.0, 0.0, 1.0]];
        let turn: [[f64; 3]; 3] = std::array::from_fn(|i| std::array::from_fn(|j| (0..3).map(|k| roll[i][k] * tilt[k][j]).sum()));
        let eye = std::array::from_fn(|k| [middle[0], middle[1], 0.0][k] - distance * turn[2][k]);
        let centre = size.map(|n| (n as f64 - 1.0) / 2.0);
        let focal = focal_px(stand.film_mm, size);
        Self { size, optics: Optics::Lens(Lens { focal, centre, k1: 0.0, k2: 0.0, p1: 0.0, p2: 0.0, turn, eye, reach: f64::MAX }) }
    }

    /// The same camera with a lens that bends.
    pub fn with_lens(mut self, k1: f64, k2: f64, p1: f64, p2: f64) -> Self {
        if let Optics::Lens(l) = &mut self.optics {
            (l.k1, l.k2, l.p1, l.p2) = (k1, k2, p1, p2);
            let slope = |r: f64| 1.0 + r * (3.0 * k1 + r * 5.0 * k2);
            l.reach = (1..400).map(|k| k as f64 * 0.01).find(|r| slope(*r) < 0.3).unwrap_or(f64::MAX);
        }
        self
    }

    /// The same camera with focal length (by a factor) and centre (px) a little off the nominal ones.
    pub fn with_slack(mut self, focal_by: f64, centre_by: Point) -> Self {
        if let Optics::Lens(l) = &mut self.optics {
            l.focal *= focal_by;
            l.centre = [l.centre[0] + centre_by[0], l.centre[1] + centre_by[1]];
        }
        self
    }

    /// A flatbed with its own pixels to the mm along x and y, the sheet turned by `degrees`, sheet point `at` in the picture's middle.
    pub fn flatbed(size: [usize; 2], px_per_mm: [f64; 2], degrees: f64, at: Point) -> Self {
        let (s, c) = degrees.to_radians().sin_cos();
        let m = [px_per_mm[0] * c, -px_per_mm[0] * s, px_per_mm[1] * s, px_per_mm[1] * c];
        let mid = size.map(|n| (n as f64 - 1.0) / 2.0);
        let shift = [mid[0] - m[0] * at[0] - m[1] * at[1], mid[1] - m[2] * at[0] - m[3] * at[1]];
        Self { size, optics: Optics::Flatbed([m[0], m[1], m[2], m[3], shift[0], shift[1]]) }
    }

    /// Where the sheet point at height `h` above the sheet is seen, px.
    pub fn project(&self, at: Point, h: f64) -> Point {
        match &self.optics {
            Optics::Flatbed(m) => [m[0] * at[0] + m[1] * at[1] + m[4], m[2] * at[0] + m[3] * at[1] + m[5]],
            Optics::Lens(l) => {
                let d = [at[0] - l.eye[0], at[1] - l.eye[1], -h - l.eye[2]];
                let c: [f64; 3] = std::array::from_fn(|k| l.turn[k][0] * d[0] + l.turn[k][1] * d[1] + l.turn[k][2] * d[2]);
                let q = l.bend([c[0] / c[2], c[1] / c[2]]);
                [l.focal * q[0] + l.centre[0], l.focal * q[1] + l.centre[1]]
            }
        }
    }

    /// The point at height `h` that is seen at `px`.
    pub fn sheet(&self, px: Point, h: f64) -> Point {
        match &self.optics {
            Optics::Flatbed(m) => {
                let (det, p) = (m[0] * m[3] - m[1] * m[2], [px[0] - m[4], px[1] - m[5]]);
                [(m[3] * p[0] - m[1] * p[1]) / det, (m[0] * p[1] - m[2] * p[0]) / det]
            }
            Optics::Lens(l) => {
                let q = l.unbend([(px[0] - l.centre[0]) / l.focal, (px[1] - l.centre[1]) / l.focal]);
                let ray: [f64; 3] = std::array::from_fn(|k| l.turn[0][k] * q[0] + l.turn[1][k] * q[1] + l.turn[2][k]);
                let s = (-h - l.eye[2]) / ray[2];
                [l.eye[0] + s * ray[0], l.eye[1] + s * ray[1]]
            }
        }
    }

    /// Pixels to the mm at a sheet point: the mean of both axes.
    pub fn px_per_mm(&self, at: Point) -> f64 {
        let (p, q, r) = (self.project(at, 0.0), self.project([at[0] + 1.0, at[1]], 0.0), self.project([at[0], at[1] + 1.0], 0.0));
        0.5 * ((q[0] - p[0]).hypot(q[1] - p[1]) + (r[0] - p[0]).hypot(r[1] - p[1]))
    }

    /// The part of the sheet's plane in view and a little round it, clockwise from the top left; what lies further off, perhaps
    /// behind the camera, is left undrawn.
    pub fn surroundings(&self) -> [Point; 4] {
        let [w, h] = self.size.map(|n| n as f64);
        let beyond = |x: f64, y: f64| self.sheet([w * (0.5 + 0.56 * x), h * (0.5 + 0.56 * y)], 0.0);
        [beyond(-1.0, -1.0), beyond(1.0, -1.0), beyond(1.0, 1.0), beyond(-1.0, 1.0)]
    }
}

impl Lens {
    fn bend(&self, [x, y]: Point) -> Point {
        let r = x * x + y * y;
        let s = r.min(self.reach);
        let d = 1.0 + s * (self.k1 + s * self.k2);
        [x * d + 2.0 * self.p1 * x * y + self.p2 * (r + 2.0 * x * x), y * d + self.p1 * (r + 2.0 * y * y) + 2.0 * self.p2 * x * y]
    }

    /// Undoes `bend` by fixed-point steps; the lenses here bend by a few per cent, so thirty steps reach rounding.
    fn unbend(&self, to: Point) -> Point {
        let mut q = to;
        for _ in 0..30 {
            let b = self.bend(q);
            q = [q[0] + to[0] - b[0], q[1] + to[1] - b[1]];
        }
        q
    }
}
