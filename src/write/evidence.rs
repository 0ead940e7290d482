//! The evidence picture: the straightened photo, dimmed, with what was found drawn on it. A derivative, and it says so.

mod canvas;
mod labels;

use super::thumbnail::thumbnail;
use super::{GarmentPiece, WriteError};
use crate::length::{Length, Mm};
use crate::outline::Outline;
use crate::piece::Taken;
use crate::straight::Frame;
use crate::trace::{Line, Traced, Tracing};
use canvas::Canvas;
use image::{Rgb, RgbImage};
use jpeg_encoder::{ColorType, Encoder, SamplingFactor};
use kurbo::{BezPath, Point};
use labels::{Labels, Rank};

/// Colours told apart by people with any colour vision (Okabe & Ito 2008), and by weight besides.
const OUTER: Rgb<u8> = Rgb([230, 159, 0]);
const INNER: Rgb<u8> = Rgb([86, 180, 233]);
const FOLD: Rgb<u8> = Rgb([204, 121, 167]);
const CORNER: Rgb<u8> = Rgb([240, 228, 66]);
const MARK: Rgb<u8> = Rgb([0, 158, 115]);
const MEASURE: Rgb<u8> = Rgb([204, 121, 167]);
const DOUBT: Rgb<u8> = Rgb([213, 94, 0]);
const PALE: Rgb<u8> = Rgb([255, 255, 255]);
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
    let mut labels = Labels::default();
    for (k, piece) in tracing.pieces.iter().enumerate() {
        draw_piece(&mut sheet, &mut labels, piece, named.get(k));
    }
    for laid in &tracing.marks {
        let radius = if laid.mark.ahead.is_some() { 3.0 } else { 0.5 * laid.mark.across * frame.px_per_mm };
        let told = laid.name.as_ref().map_or_else(|| laid.number.to_string(), |n| format!("{} {n}", laid.number));
        ringed(&mut sheet, &mut labels, laid.at, radius + 1.5, MARK);
        labels.say(Rank::Mark, sheet.place(laid.at), (radius + 4.0, -10.0), &told, MARK);
    }
    for (k, doubt) in tracing.doubts.iter().enumerate() {
        if let Some(place) = doubt.place() {
            ringed(&mut sheet, &mut labels, place, 14.0, DOUBT);
            labels.say(Rank::Doubt, sheet.place(place), (16.0, 8.0), &format!("doubt {}: {}", k + 1, doubt.code()), DOUBT);
        }
    }
    let lost = match labels.draw(&mut sheet) {
        0 => String::new(),
        n => format!("; {n} names found no room"),
    };
    sheet.scale_bar();
    let joined = match tracing.more.len() {
        0 => String::new(),
        n => format!(" and {n} more, joined"),
    };
    sheet.caption(&format!("{}{joined}: straightened copy, not a master{lost}", tracing.picture.file));
    let (picture, small) = rayon::join(|| as_jpeg(&sheet.image, QUALITY), || thumbnail(&sheet.image));
    Ok(Evidence { picture: picture?, thumbnail: small? })
}

fn draw_piece(sheet: &mut Canvas, labels: &mut Labels, piece: &Traced, named: Option<&GarmentPiece>) {
    draw_outline(sheet, &piece.outline, &piece.edges.iter().map(|e| e.line).collect::<Vec<_>>());
    for hole in &piece.holes {
        draw_outline(sheet, hole, &[]);
    }
    for seam in &piece.inner {
        sheet.path(&seam.path, 2.0, INNER);
    }
    let names = named.map_or_else(|| plain_names(piece), names);
    named.iter().for_each(|p| draw_measures(sheet, labels, p));
    for (corner, name) in piece.outline.corners.iter().zip(&names.corners) {
        ringed(sheet, labels, corner.at, 5.0, CORNER);
        labels.say(Rank::Corner, sheet.place(corner.at), (8.0, -22.0), name, CORNER);
    }
    let long = named.map_or_else(Vec::new, lengths_along);
    for (k, (edge, name)) in piece.outline.edges.iter().zip(&names.edges).enumerate() {
        let long = long.get(k).copied().flatten().map_or(String::new(), |mm| format!(", {mm:.0} mm"));
        labels.say(Rank::Edge, sheet.place(edge.middle()), (6.0, 4.0), &format!("{name}{long}"), PALE);
    }
    labels.say(Rank::Piece, sheet.place(piece.middle()), (0.0, 0.0), &piece.name, PALE);
}

fn ringed(sheet: &mut Canvas, labels: &mut Labels, at: Mm, radius: f64, colour: Rgb<u8>) {
    sheet.ring(at, radius, colour);
    labels.ring(sheet.place(at), radius);
}

/// For each edge as found the length that was measured along it alone; they are measured as the piece is laid, which may turn their order round.
fn lengths_along(piece: &GarmentPiece) -> Vec<Option<f64>> {
    let found = piece.draft.piece.found();
    let laid = found.mapped(piece.draft.laying.by);
    let along =
        |name: &str| piece.measures.iter().find(|m| matches!(&m.taken, Taken::Along(k) if k.len() == 1 && laid.edges[k[0]].name == name));
    found.edges.iter().map(|e| along(&e.name).map(|m| m.length)).collect()
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
fn draw_measures(sheet: &mut Canvas, labels: &mut Labels, piece: &GarmentPiece) {
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
        let told = format!("{} {:.0} mm, {}", measure.name, measure.length, inches);
        labels.say(Rank::Measure, sheet.place(Mm::new(at.x, at.y)), (4.0, 2.0), &told, MEASURE);
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
