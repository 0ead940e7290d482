//! The evidence picture: the straightened photo, dimmed, with what was found drawn on it. A derivative, and it says so.

use super::thumbnail::thumbnail;
use super::{GarmentPiece, WriteError};
use crate::length::{Length, Mm};
use crate::outline::Outline;
use crate::piece::Taken;
use crate::straight::Frame;
use crate::trace::{Line, Traced, Tracing};
use ab_glyph::{FontRef, PxScale};
use image::{Rgb, RgbImage};
use imageproc::drawing::{draw_text_mut, text_size};
use jpeg_encoder::{ColorType, Encoder, SamplingFactor};
use kurbo::{BezPath, PathEl, Point};

/// DejaVu Sans 2.37 (free licence beside it): covers Latin, Greek and Cyrillic names.
static FONT: &[u8] = include_bytes!("font/DejaVuSans.ttf");

/// Colours told apart by people with any colour vision (Okabe & Ito 2008), and by weight besides.
const OUTER: Rgb<u8> = Rgb([230, 159, 0]);
const INNER: Rgb<u8> = Rgb([86, 180, 233]);
const FOLD: Rgb<u8> = Rgb([204, 121, 167]);
const CORNER: Rgb<u8> = Rgb([240, 228, 66]);
const MARK: Rgb<u8> = Rgb([0, 158, 115]);
const MEASURE: Rgb<u8> = Rgb([204, 121, 167]);
const DOUBT: Rgb<u8> = Rgb([213, 94, 0]);
const PALE: Rgb<u8> = Rgb([255, 255, 255]);
/// How much of the photo's light stays, so that the lines stand out.
const DIM: f32 = 0.55;
/// Fine enough that a drawn curve shows no corners, px.
const FLATNESS: f64 = 0.1;
/// Height of letters, px: legible when the picture fills a laptop's screen.
const LETTERS: f32 = 20.0;
/// Rows kept free for the caption and for the scale bar, px.
const STRIP: f64 = 40.0;
/// JPEG quality: lines stay clean, the file stays small.
const QUALITY: u8 = 88;

/// What was found, drawn on the straightened picture, as JPEG.
#[derive(Clone, Debug)]
pub struct Evidence {
    /// At full size.
    pub picture: Vec<u8>,
    /// Small.
    pub thumbnail: Vec<u8>,
}

/// Draws what was found on the straightened picture of `frame`. Pieces that were `named` and measured show the
/// names they got, with a question mark where the shape proposed them, and where their measures were taken.
///
/// # Errors
/// The encoder refused.
pub fn evidence(straightened: RgbImage, frame: Frame, tracing: &Tracing, named: &[GarmentPiece]) -> Result<Evidence, WriteError> {
    let mut sheet = Canvas::new(straightened, frame);
    for (k, piece) in tracing.pieces.iter().enumerate() {
        draw_outline(&mut sheet, &piece.outline, &piece.edges.iter().map(|e| e.line).collect::<Vec<_>>());
        for hole in &piece.holes {
            draw_outline(&mut sheet, hole, &[]);
        }
        for seam in &piece.inner {
            sheet.path(&seam.path, 2.0, INNER);
        }
        let names = named.get(k).map_or_else(|| plain_names(piece), names);
        named.get(k).iter().for_each(|p| draw_measures(&mut sheet, p));
        for (corner, name) in piece.outline.corners.iter().zip(&names.corners) {
            sheet.ring(corner.at, 5.0, CORNER);
            sheet.text(corner.at, (8.0, -22.0), name, CORNER);
        }
        for (edge, name) in piece.outline.edges.iter().zip(&names.edges) {
            sheet.text(edge.middle(), (6.0, 4.0), name, PALE);
        }
        sheet.text(piece.middle(), (0.0, 0.0), &piece.name, PALE);
    }
    for laid in &tracing.marks {
        let radius = if laid.mark.ahead.is_some() { 3.0 } else { 0.5 * laid.mark.across * sheet.frame.px_per_mm };
        sheet.ring(laid.at, radius + 1.5, MARK);
        let told = laid.name.as_ref().map_or_else(|| laid.number.to_string(), |n| format!("{} {n}", laid.number));
        sheet.text(laid.at, (radius + 4.0, -10.0), &told, MARK);
    }
    for (k, doubt) in tracing.doubts.iter().enumerate() {
        if let Some(place) = doubt.place() {
            sheet.ring(place, 14.0, DOUBT);
            sheet.text(place, (16.0, 8.0), &format!("doubt {}: {}", k + 1, doubt.code()), DOUBT);
        }
    }
    sheet.scale_bar();
    let joined = match tracing.more.len() {
        0 => String::new(),
        n => format!(" and {n} more, joined"),
    };
    sheet.caption(&format!("{}{joined}: straightened copy, not a master", tracing.picture.file));
    let (picture, small) = rayon::join(|| as_jpeg(&sheet.image, QUALITY), || thumbnail(&sheet.image));
    Ok(Evidence { picture: picture?, thumbnail: small? })
}

/// A picture as JPEG, colour at half the resolution as cameras keep it: a third less to code and to keep.
pub(crate) fn as_jpeg(image: &RgbImage, quality: u8) -> Result<Vec<u8>, WriteError> {
    let mut bytes = Vec::new();
    let mut encoder = Encoder::new(&mut bytes, quality);
    encoder.set_sampling_factor(SamplingFactor::F_2_2);
    let [width, height] = [image.width(), image.height()].map(|n| u16::try_from(n).unwrap_or(u16::MAX));
    encoder.encode(image.as_raw(), width, height, ColorType::Rgb)?;
    Ok(bytes)
}

/// What corners and edges are called in the picture.
struct Names {
    corners: Vec<String>,
    edges: Vec<String>,
}

fn plain_names(piece: &Traced) -> Names {
    Names { corners: piece.corner_names.clone(), edges: piece.edges.iter().map(|e| e.name.clone()).collect() }
}

/// The same of a piece that has names by its shape too.
fn names(piece: &GarmentPiece) -> Names {
    let marked = |name: &String, proposed: Option<&bool>| if proposed == Some(&true) { format!("{name}?") } else { name.clone() };
    let (by, found) = (&piece.draft.by_shape, piece.draft.piece.found());
    let corners = found.corners.iter().enumerate().map(|(k, c)| marked(&c.name, by.corners.get(k)));
    let edges = found.edges.iter().enumerate().map(|(k, e)| marked(&e.name, by.edges.get(k)));
    Names { corners: corners.collect(), edges: edges.collect() }
}

/// Measures that run straight, each with its length, where they lie on the sheet.
fn draw_measures(sheet: &mut Canvas, piece: &GarmentPiece) {
    let back = piece.draft.laying.by.inverse();
    for (k, measure) in piece.measures.iter().enumerate() {
        let Taken::Straight(ends) = &measure.taken else { continue };
        let [a, b] = ends.map(|p| back * Point::new(p.x, p.y));
        let mut path = BezPath::new();
        path.move_to(a);
        path.line_to(b);
        sheet.path(&path, 1.0, MEASURE);
        let inches = Length::from_mm(measure.length).sixteenths();
        // Lines that cross have their words at different places along them.
        let at = a.lerp(b, if k % 2 == 0 { 0.3 } else { 0.62 });
        sheet.text(Mm::new(at.x, at.y), (4.0, 2.0), &format!("{} {:.0} mm, {}", measure.name, measure.length, inches), MEASURE);
    }
}

fn draw_outline(sheet: &mut Canvas, outline: &Outline, lines: &[Line]) {
    for (k, edge) in outline.edges.iter().enumerate() {
        let colour = match lines.get(k) {
            Some(Line::Seam) => INNER,
            Some(Line::Fold) => FOLD,
            _ => OUTER,
        };
        let width = if edge.cut { 1.0 } else { 2.0 };
        sheet.path(&edge.path, width, colour);
    }
}

struct Canvas {
    image: RgbImage,
    frame: Frame,
    font: Option<FontRef<'static>>,
}

impl Canvas {
    fn new(mut image: RgbImage, frame: Frame) -> Self {
        let dimmed: [u8; 256] = std::array::from_fn(|v| (v as f32 * DIM) as u8);
        image.iter_mut().for_each(|v| *v = dimmed[usize::from(*v)]);
        Self { image, frame, font: FontRef::try_from_slice(FONT).ok() }
    }

    fn place(&self, p: Mm) -> Point {
        self.frame.to_place(p).into()
    }

    fn path(&mut self, path: &BezPath, width: f64, colour: Rgb<u8>) {
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
            self.stroke(width, colour, (a, b), |p| {
                let (d, ab) = (p - a, b - a);
                let t = if ab.hypot2() > 0.0 { (d.dot(ab) / ab.hypot2()).clamp(0.0, 1.0) } else { 0.0 };
                (d - ab * t).hypot()
            });
        }
    }

    fn ring(&mut self, at: Mm, radius: f64, colour: Rgb<u8>) {
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

    fn text(&mut self, at: Mm, shift: (f64, f64), text: &str, colour: Rgb<u8>) {
        let p = self.place(at);
        // A place outside the picture is told at its nearest border, clear of the caption and the scale bar.
        let y = (p.y + shift.1).clamp(STRIP, (f64::from(self.image.height()) - STRIP - f64::from(LETTERS)).max(STRIP));
        self.words(p.x + shift.0, y, text, colour);
    }

    fn words(&mut self, x: f64, y: f64, text: &str, colour: Rgb<u8>) {
        let Some(font) = &self.font else { return };
        let scale = PxScale::from(LETTERS);
        let (w, h) = text_size(scale, font, text);
        let fit = |v: f64, size: u32, all: u32| v.clamp(2.0, f64::from(all.saturating_sub(size + 3)).max(2.0)) as i32;
        let (x, y) = (fit(x, w, self.image.width()), fit(y, h, self.image.height()));
        // A dark rim keeps the words legible on pale cloth.
        for (dx, dy) in [(-1, 0), (1, 0), (0, -1), (0, 1)] {
            draw_text_mut(&mut self.image, Rgb([0, 0, 0]), x + dx, y + dy, scale, font, text);
        }
        draw_text_mut(&mut self.image, colour, x, y, scale, font, text);
    }

    /// A bar of 100 mm (or 10 mm where that would not fit) in the lower left corner.
    fn scale_bar(&mut self) {
        let room = f64::from(self.image.width()) * 0.6 / self.frame.px_per_mm;
        let mm = if room > 100.0 { 100.0 } else { 10.0 };
        let (x, y) = (12.0, f64::from(self.image.height()) - 14.0);
        let (a, b) = (Point::new(x, y), Point::new(x + mm * self.frame.px_per_mm, y));
        self.stroke(4.0, PALE, (a, b), |p| {
            let t = (p.x - a.x).clamp(0.0, b.x - a.x);
            (p - Point::new(a.x + t, y)).hypot()
        });
        self.words(x, y - 28.0, &format!("{mm} mm"), PALE);
    }

    fn caption(&mut self, text: &str) {
        self.words(12.0, 6.0, text, PALE);
    }
}
