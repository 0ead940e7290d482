//! The picture that is drawn on: lines, rings and words on the dimmed copy.

use super::PALE;
use crate::length::Mm;
use crate::straight::Frame;
use ab_glyph::{FontRef, PxScale};
use image::{Rgb, RgbImage};
use imageproc::drawing::{draw_text_mut, text_size};
use kurbo::{BezPath, PathEl, Point};

/// DejaVu Sans 2.37 (free licence beside it): covers Latin, Greek and Cyrillic names.
static FONT: &[u8] = include_bytes!("../font/DejaVuSans.ttf");

/// How much of the photo's light stays, so that the lines stand out.
const DIM: f32 = 0.55;
/// Fine enough that a drawn curve shows no corners, px.
const FLATNESS: f64 = 0.1;
/// Height of letters, px: legible when the picture fills a laptop's screen.
pub(super) const LETTERS: f32 = 20.0;

/// The straightened picture while it is drawn on.
pub(super) struct Canvas {
    pub image: RgbImage,
    frame: Frame,
    font: Option<FontRef<'static>>,
}

impl Canvas {
    pub fn new(mut image: RgbImage, frame: Frame) -> Self {
        let dimmed: [u8; 256] = std::array::from_fn(|v| (v as f32 * DIM) as u8);
        image.iter_mut().for_each(|v| *v = dimmed[usize::from(*v)]);
        Self { image, frame, font: FontRef::try_from_slice(FONT).ok() }
    }

    pub fn place(&self, p: Mm) -> Point {
        self.frame.to_place(p).into()
    }

    pub fn path(&mut self, path: &BezPath, width: f64, colour: Rgb<u8>) {
        let mut at: Option<Point> = None;
        let mut lines = Vec::new();
        kurbo::flatten(path.iter(), FLATNESS / self.frame.px_per_mm, |el| match el {
            PathEl::MoveTo(p) => at = Some(p),
            PathEl::LineTo(p) => {
                lines.extend(at.map(|a| (a, p)));
                at = Some(p);
            }
            _ => {}
        });
        for (a, b) in lines {
            let (a, b) = (self.place(Mm::new(a.x, a.y)), self.place(Mm::new(b.x, b.y)));
            self.stroke(width, colour, (a, b), |p| from_line(p, a, b));
        }
    }

    pub fn ring(&mut self, at: Mm, radius: f64, colour: Rgb<u8>) {
        let c = self.place(at);
        let r = kurbo::Vec2::new(radius, radius);
        self.stroke(1.5, colour, (c - r, c + r), |p| ((p - c).hypot() - radius).abs());
    }

    /// Blends `colour` where `distance` is under half the width, soft over one pixel, inside the box of `span`.
    fn stroke(&mut self, width: f64, colour: Rgb<u8>, span: (Point, Point), distance: impl Fn(Point) -> f64) {
        let reach = width / 2.0 + 1.0;
        let (w, h) = (f64::from(self.image.width()), f64::from(self.image.height()));
        let lo = |a: f64, b: f64, m: f64| (a.min(b) - reach).floor().clamp(0.0, m) as u32;
        let hi = |a: f64, b: f64, m: f64| (a.max(b) + reach + 1.0).ceil().clamp(0.0, m) as u32;
        for y in lo(span.0.y, span.1.y, h)..hi(span.0.y, span.1.y, h) {
            for x in lo(span.0.x, span.1.x, w)..hi(span.0.x, span.1.x, w) {
                let cover = (width / 2.0 + 0.5 - distance(Point::new(f64::from(x), f64::from(y)))).clamp(0.0, 1.0);
                if cover > 0.0 {
                    let p = self.image.get_pixel_mut(x, y);
                    for k in 0..3 {
                        p.0[k] = (f64::from(p.0[k]) + (f64::from(colour.0[k]) - f64::from(p.0[k])) * cover) as u8;
                    }
                }
            }
        }
    }

    pub fn words(&mut self, x: f64, y: f64, text: &str, colour: Rgb<u8>) {
        let Some(font) = &self.font else { return };
        let scale = PxScale::from(LETTERS);
        let (x, y) = (x as i32, y as i32);
        // A dark rim keeps the words legible on pale cloth.
        for (dx, dy) in [(-1, 0), (1, 0), (0, -1), (0, 1)] {
            draw_text_mut(&mut self.image, Rgb([0, 0, 0]), x + dx, y + dy, scale, font, text);
        }
        draw_text_mut(&mut self.image, colour, x, y, scale, font, text);
    }

    /// Width and height of words, px, their dark rim among it.
    pub fn size(&self, text: &str) -> (f64, f64) {
        let Some(font) = &self.font else { return (0.0, 0.0) };
        let (w, h) = text_size(PxScale::from(LETTERS), font, text);
        (f64::from(w) + 2.0, f64::from(h) + 2.0)
    }

    /// A thin line from the place that words belong to.
    pub fn leader(&mut self, from: Point, to: Point, colour: Rgb<u8>) {
        self.stroke(1.0, colour, (from, to), |p| from_line(p, from, to));
    }

    /// A bar of 100 mm (or 10 mm where that would not fit) in the lower left corner.
    pub fn scale_bar(&mut self) {
        let room = f64::from(self.image.width()) * 0.6 / self.frame.px_per_mm;
        let mm = if room > 100.0 { 100.0 } else { 10.0 };
        let (x, y) = (12.0, f64::from(self.image.height()) - 14.0);
        let (a, b) = (Point::new(x, y), Point::new(x + mm * self.frame.px_per_mm, y));
        self.stroke(4.0, PALE, (a, b), |p| from_line(p, a, b));
        self.words(x, y - 28.0, &format!("{mm} mm"), PALE);
    }

    pub fn caption(&mut self, text: &str) {
        self.words(12.0, 6.0, text, PALE);
    }
}

/// Distance of a place from a line between two others.
fn from_line(p: Point, a: Point, b: Point) -> f64 {
    let (d, ab) = (p - a, b - a);
    let t = if ab.hypot2() > 0.0 { (d.dot(ab) / ab.hypot2()).clamp(0.0, 1.0) } else { 0.0 };
    (d - ab * t).hypot()
}
