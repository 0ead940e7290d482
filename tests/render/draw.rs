//! From scene to pixels, in strips of rows: table, sheets, shadows, things, cloth, light, blur, noise, sRGB.

use super::cloth::Surface;
use super::coverage::Shapes;
use super::curve::{Curve, Point, add, length, scaled, sub};
use super::ground::{self, Back};
use super::light::blur;
use super::random::{NORMAL, Random, scramble};
use super::scene::{Picture, Scene};
use super::sheet::{Rgb, Sheet, seen};
use super::under::Under;
use rayon::prelude::*;

/// Rows drawn at a time, apart from the margins that blurring needs.
const STRIP: usize = 128;

/// Cells to a pixel along each side, so that blur acts before sampling; edges are exact in each.
const PARTS: usize = 2;

/// All that is seen, as polygons of the picture.
struct Plan<'a> {
    scene: &'a Scene,
    sheets: Vec<(&'a Sheet, Shapes, [Shapes; 2])>,
    under: Option<(&'a Under, Shapes)>,
    pieces: Vec<Lying>,
    things: Vec<(Rgb, Shapes, Shapes)>,
    /// Direction the light comes from, in the picture.
    light: [f32; 2],
    px_per_mm: f64,
}

/// One piece of cloth in the picture.
struct Lying {
    cloth: Shapes,
    /// Where it would be without height, and where its shadow falls.
    foot: Shapes,
    shadow: Shapes,
    stitches: Shapes,
    /// Dark strips, each with what softens it, mm.
    seams: Vec<(Shapes, f64)>,
    sewn_on: Vec<(Rgb, Shapes)>,
    surface: Surface,
}

/// The rows of a strip with its margins.
#[derive(Clone, Copy)]
struct Rows {
    width: usize,
    top: isize,
    count: usize,
}

/// Draws the scene as the camera sees it.
pub fn draw(scene: &Scene) -> Picture {
    let plan = Plan::of(scene);
    let [width, height] = scene.camera.size;
    let mut rgb = vec![0u8; width * height * 3];
    rgb.par_chunks_mut(width * 3 * STRIP).enumerate().for_each(|(k, out)| plan.strip(k * STRIP, out));
    Picture { size: [width, height], rgb }
}

impl<'a> Plan<'a> {
    fn of(scene: &'a Scene) -> Self {
        let camera = &scene.camera;
        let middle = camera.sheet(camera.size.map(|n| n as f64 / 2.0), 0.0);
        let (s, c) = scene.light.from.to_radians().sin_cos();
        let toward = sub(camera.project(add(middle, [c, s]), 0.0), camera.project(middle, 0.0));
        let light = scaled(toward, 1.0 / length(toward)).map(|v| v as f32);
        let sheets = scene.more_sheets.iter().chain([&scene.sheet]).map(|s| (s, s.paper(camera), s.ink(camera))).collect();
        let fall = scaled([c, s], -scene.light.reach);
        let pieces = scene.pieces.iter().map(|p| {
            let rims: Vec<Vec<Point>> = std::iter::once(p.cloth_ends()).chain(p.holes.iter().map(|c| c.points(0.5))).collect();
            let at = |h: f64, by: Point| {
                let mut shapes = Shapes::default();
                rims.iter().for_each(|c| shapes.push(seen(camera, &c.iter().map(|q| add(*q, by)).collect::<Vec<_>>(), h), 1.0));
                shapes
            };
            let h = p.thickness;
            let bars = |all: Vec<Vec<Point>>| {
                let mut shapes = Shapes::default();
                all.iter().for_each(|b| shapes.push(seen(camera, b, h), 1.0));
                shapes
            };
            Lying {
                cloth: at(h, [0.0; 2]),
                foot: at(0.0, [0.0; 2]),
                shadow: at(0.0, scaled(fall, h)),
                stitches: bars(p.stitches()),
                seams: p.seams.iter().map(|s| (bars(vec![ribbon(&s.line, s.width)]), 0.75 * s.width)).collect(),
                sewn_on: p.sewn_on.iter().map(|(c, colour)| (*colour, bars(vec![c.points(0.5)]))).collect(),
                surface: Surface::of(p),
            }
        });
        let things = scene.things.iter().map(|t| {
            let at = |h: f64, by: Point| {
                let mut shapes = Shapes::default();
                let ring: Vec<Point> = t.outline.clockwise(true).points(0.5).iter().map(|q| add(*q, by)).collect();
                shapes.push(seen(camera, &ring, h), 1.0);
                shapes
            };
            (t.colour, at(t.height, [0.0; 2]), at(0.0, scaled(fall, t.height)))
        });
        let under = scene.under.as_ref().map(|u| {
            let mut shapes = Shapes::default();
            shapes.push(seen(camera, &u.outline.clockwise(true).points(0.5), 0.0), 1.0);
            (u, shapes)
        });
        Self { sheets, under, pieces: pieces.collect(), things: things.collect(), light, px_per_mm: camera.px_per_mm(middle), scene }
    }

    fn strip(&self, top: usize, out: &mut [u8]) {
        let [width, _] = self.scene.camera.size;
        let margin = (4.0 * self.scene.sensor.blur).ceil() as usize + 1;
        let rows = Rows { width, top: top as isize - margin as isize, count: out.len() / (3 * width) + 2 * margin };
        let mut image = vec![[0f32; 3]; rows.count * width * PARTS * PARTS];
        let covers: Vec<Vec<f32>> = self.pieces.iter().map(|p| rows.cover(&p.cloth)).collect();
        self.ground(rows, &rows.bare(&covers), &mut image);
        self.under(rows, &rows.bare(&covers), &mut image);
        self.shade(rows, &mut image);
        for (colour, shapes, _) in &self.things {
            let cover = rows.cover(shapes);
            image.iter_mut().zip(cover).for_each(|(p, c)| mix(p, *colour, c));
        }
        for ((lying, piece), cover) in self.pieces.iter().zip(&self.scene.pieces).zip(&covers) {
            self.cloth(rows, lying, cover, piece.thickness, &mut image);
        }
        let mut image = blur(&image, width * PARTS, PARTS, self.scene.sensor.blur * PARTS as f64);
        self.lit(rows, &mut image);
        self.develop(top, &image[margin * width..], out);
    }

    /// Table and sheets, at the pixels that are bare.
    fn ground(&self, rows: Rows, bare: &[bool], image: &mut [Rgb]) {
        let (back, scene) = (Back::new(&self.scene.camera, 0.0, rows.top, rows.count), self.scene);
        let covers: Vec<Vec<f32>> = self.sheets.iter().map(|s| rows.cover(&s.1)).collect();
        let table = rows.bare(&covers);
        rows.each(|x, y, cells| {
            if bare[y * rows.width + x] && table[y * rows.width + x] {
                let light = ground::wood(scene.seed, back.at(x, y));
                cells.iter().for_each(|i| image[*i] = scene.table.map(|c| c * light));
            }
        });
        for (k, ((sheet, _, ink), cover)) in self.sheets.iter().zip(covers).enumerate() {
            let inks = [rows.cover(&ink[0]), rows.cover(&ink[1])];
            let seed = self.scene.seed ^ (0x9a9e + k as u64);
            rows.each(|x, y, cells| {
                if !bare[y * rows.width + x] || cells.iter().all(|i| cover[*i] <= 0.0) {
                    return;
                }
                let grain = 1.0 + sheet.grain * ground::paper(seed, back.at(x, y));
                for &i in cells {
                    let inked = 1.0 - (1.0 - inks[0][i]) * (1.0 - inks[1][i]);
                    let colour: Rgb = std::array::from_fn(|c| (sheet.ground[c] + (sheet.ink[c] - sheet.ground[c]) * inked) * grain);
                    mix(&mut image[i], colour, cover[i]);
                }
            });
        }
    }

    /// Tissue or film on all that, at the pixels that are bare.
    fn under(&self, rows: Rows, bare: &[bool], image: &mut [Rgb]) {
        let Some((under, shapes)) = &self.under else { return };
        let (cover, beside) = (rows.cover(shapes), rows.soft(shapes, self.px_per_mm));
        let back = Back::new(&self.scene.camera, 0.0, rows.top, rows.count);
        rows.each(|x, y, cells| {
            let k = y * rows.width + x;
            if !bare[k] || beside[k] <= 0.0 {
                return;
            }
            for &i in cells {
                let shadow = 1.0 - under.edge * beside[k] * (1.0 - cover[i]);
                let through = under.through(image[i], back.at(x, y));
                image[i] = image[i].map(|v| v * shadow);
                mix(&mut image[i], through, cover[i]);
            }
        });
    }

    /// Shadows of cloth and things on what lies below.
    fn shade(&self, rows: Rows, image: &mut [Rgb]) {
        let light = &self.scene.light;
        let mut darken = |shapes: &Shapes, mm: f64, depth: f32, hue: [f32; 3]| {
            if depth > 0.0 && rows.meets(shapes, mm * self.px_per_mm) {
                let mask = rows.soft(shapes, mm * self.px_per_mm);
                rows.each(|x, y, cells| {
                    let deep = depth * mask[y * rows.width + x];
                    cells.iter().for_each(|i| (0..3).for_each(|c| image[*i][c] *= 1.0 - deep * hue[c]));
                });
            }
        };
        for p in &self.pieces {
            darken(&p.shadow, light.softness, light.shadow, light.hue);
            darken(&p.foot, light.contact_mm, light.contact, [1.0; 3]);
        }
        for (_, _, shadow) in &self.things {
            darken(shadow, light.softness, light.shadow, light.hue);
        }
    }

    fn cloth(&self, rows: Rows, lying: &Lying, cover: &[f32], height: f64, image: &mut [Rgb]) {
        if !rows.meets(&lying.cloth, 0.0) {
            return;
        }
        let stitches = if lying.stitches.is_empty() { vec![] } else { rows.cover(&lying.stitches) };
        let rim = rows.soft(&lying.cloth, 0.6 * self.px_per_mm);
        let valleys: Vec<Vec<f32>> = lying.seams.iter().map(|(strip, soft)| rows.soft(strip, soft * self.px_per_mm)).collect();
        let back = Back::new(&self.scene.camera, height, rows.top, rows.count);
        let (fabric, grain) = (&lying.surface, 1.0 / self.px_per_mm);
        let (rolled, thread) = (fabric.rim(), fabric.thread());
        rows.each(|x, y, cells| {
            if cells.iter().all(|i| cover[*i] <= 0.0) {
                return;
            }
            let k = y * rows.width + x;
            let deep = valleys.iter().map(|v| 1.0 - 0.6 * v[k]).product::<f32>();
            let light = deep * (1.0 - 2.0 * rolled * (1.0 - rim[k]).min(0.5));
            let colour = fabric.colour(back.at(x, y), grain).map(|v| v * light);
            for &i in cells {
                let mut seen = colour;
                mix(&mut seen, thread, 0.8 * stitches.get(i).unwrap_or(&0.0));
                mix(&mut image[i], seen, cover[i]);
            }
        });
        for (colour, shapes) in &lying.sewn_on {
            let cover = rows.cover(shapes);
            image.iter_mut().zip(cover).for_each(|(p, c)| mix(p, *colour, c));
        }
    }

    fn lit(&self, rows: Rows, image: &mut [Rgb]) {
        let (light, size) = (&self.scene.light, self.scene.camera.size.map(|n| n as f32));
        for (y, row) in image.chunks_exact_mut(rows.width).enumerate() {
            for (x, p) in row.iter_mut().enumerate() {
                let l = light.at(x as f32, (y as isize + rows.top) as f32, size, self.light);
                (0..3).for_each(|c| p[c] *= l * light.tint[c]);
            }
        }
    }

    /// Noise, then sRGB bytes.
    fn develop(&self, top: usize, image: &[Rgb], out: &mut [u8]) {
        let sensor = &self.scene.sensor;
        let noisy = sensor.dark_noise > 0.0 || sensor.shot_noise > 0.0;
        let first = top * self.scene.camera.size[0];
        let seed = Random::new(self.scene.seed).bits();
        for (k, (p, bytes)) in image.iter().zip(out.chunks_exact_mut(3)).enumerate() {
            let h = scramble(seed ^ (first + k) as u64);
            for (c, byte) in bytes.iter_mut().enumerate() {
                let mut v = p[c];
                if noisy {
                    let sd = (sensor.dark_noise * sensor.dark_noise + sensor.shot_noise * sensor.shot_noise * v.max(0.0)).sqrt();
                    v += sd * NORMAL[(h >> (12 * c)) as usize & 4095];
                }
                *byte = encode(v);
            }
        }
    }
}

impl Rows {
    /// Coverage of the cells of these rows.
    fn cover(&self, shapes: &Shapes) -> Vec<f32> {
        shapes.cover(PARTS, self.width * PARTS, self.top, self.count * PARTS)
    }

    /// Pixels that none of these hides wholly: what is not seen need not be drawn.
    fn bare(&self, covers: &[Vec<f32>]) -> Vec<bool> {
        let mut bare = vec![true; self.width * self.count];
        self.each(|x, y, cells| bare[y * self.width + x] = !covers.iter().any(|c| cells.iter().all(|i| c[*i] >= 1.0)));
        bare
    }

    /// Coverage of whole pixels, blurred by `sigma` px.
    fn soft(&self, shapes: &Shapes, sigma: f64) -> Vec<f32> {
        let margin = (4.0 * sigma).ceil() as usize;
        let cover = shapes.cover(1, self.width, self.top - margin as isize, self.count + 2 * margin);
        let mask: Vec<[f32; 1]> = cover.into_iter().map(|v| [v]).collect();
        blur(&mask, self.width, 1, sigma)[margin * self.width..].iter().take(self.count * self.width).map(|v| v[0]).collect()
    }

    /// Whether shapes come within four `sigma` of these rows.
    fn meets(&self, shapes: &Shapes, sigma: f64) -> bool {
        let (top, end) = (self.top as f64 - 4.0 * sigma - 1.0, (self.top + self.count as isize) as f64 + 4.0 * sigma + 1.0);
        shapes.meet(top, end)
    }

    /// Calls `f` with column and row of each pixel and the indices of its cells.
    fn each(&self, mut f: impl FnMut(usize, usize, &[usize; PARTS * PARTS])) {
        let across = self.width * PARTS;
        for y in 0..self.count {
            for x in 0..self.width {
                let i = y * PARTS * across + x * PARTS;
                f(x, y, &std::array::from_fn(|k| i + k / PARTS * across + k % PARTS));
            }
        }
    }
}

/// Covers a share of what is there by a colour.
fn mix(under: &mut Rgb, colour: Rgb, share: f32) {
    (0..3).for_each(|c| under[c] += (colour[c] - under[c]) * share);
}

/// sRGB byte of linear light (IEC 61966-2-1), by a table of 4096 steps of its root.
fn encode(v: f32) -> u8 {
    static TABLE: std::sync::LazyLock<Vec<u8>> = std::sync::LazyLock::new(|| {
        let byte = |k: usize| {
            let v = (k as f64 / 8191.0).powi(2);
            let e = if v <= 0.003_130_8 { 12.92 * v } else { 1.055 * v.powf(1.0 / 2.4) - 0.055 };
            (255.0 * e).round() as u8
        };
        (0..8192).map(byte).collect()
    });
    TABLE[(v.clamp(0.0, 1.0).sqrt() * 8191.0 + 0.5) as usize]
}

/// A closed band of the given width along an open curve.
fn ribbon(curve: &Curve, width: f64) -> Vec<Point> {
    let p = curve.even_points(1.0);
    let n = p.len();
    let beside = |k: usize, by: f64| {
        let along = sub(p[(k + 1).min(n - 1)], p[k.saturating_sub(1)]);
        add(p[k], scaled([-along[1], along[0]], by / length(along)))
    };
    let ring: Vec<Point> = (0..n).map(|k| beside(k, -width / 2.0)).chain((0..n).rev().map(|k| beside(k, width / 2.0))).collect();
    ring
}
