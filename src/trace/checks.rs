//! Check pictures of the stages that leave none of their own: nodes, what the view leaves, found lines, curves against points.
//!
//! They are drawn only when somebody asked for the workings. Blue, orange and vermilion are told apart by people with any
//! colour vision (Okabe & Ito 2008).

use super::lines::Lines;
use crate::grid::Lattice;
use crate::length::Mm;
use crate::outline::Outline;
use crate::path::{SeamPath, SeamPoint};
use crate::proof::Proof;
use crate::shot::{Shot, to_level};
use crate::straight::Frame;
use crate::view::Solved;
use image::{Rgb, RgbImage};
use imageproc::drawing::{draw_cross_mut, draw_line_segment_mut};
use kurbo::{BezPath, ParamCurveNearest, PathEl};

const BLUE: Rgb<u8> = Rgb([0, 114, 178]);
const ORANGE: Rgb<u8> = Rgb([230, 159, 0]);
const VERMILION: Rgb<u8> = Rgb([213, 94, 0]);
const DARK: Rgb<u8> = Rgb([40, 40, 40]);
/// Longest side of a check picture, px: fits a screen.
const LONGEST: usize = 1600;
/// How much what the view leaves is stretched: a tenth of a pixel becomes a line one can see.
const RESIDUALS_BY: f64 = 200.0;
/// How much the distance of points from the curve is stretched, for the same reason.
const DEVIATIONS_BY: f64 = 50.0;
/// Sheet shown round the curves, mm.
const MARGIN: f64 = 20.0;
/// Finest scale of the picture of curves, px per mm.
const FINEST: f64 = 4.0;
/// A point's standard error from which it is drawn as poorly known, mm: half of what plain cloth allows.
const POOR: f64 = 0.1;

/// The nodes found, on the picture.
pub(super) fn nodes(shot: &Shot, lattice: &Lattice, proof: &mut Proof) {
    proof.picture("grid", "nodes", || {
        let (mut picture, factor) = reduced(shot);
        for node in &lattice.nodes {
            let (x, y) = to_level(factor, node.at);
            let axis = node.i == 0 || node.j == 0;
            draw_cross_mut(&mut picture, if axis { VERMILION } else { BLUE }, x.round() as i32, y.round() as i32);
        }
        picture
    });
}

/// What the view leaves of each node, stretched.
pub(super) fn residuals(shot: &Shot, lattice: &Lattice, solved: &Solved, proof: &mut Proof) {
    proof.picture("view", "residuals", || {
        let (mut picture, factor) = reduced(shot);
        for node in &lattice.nodes {
            let place = lattice.place(f64::from(node.i), f64::from(node.j));
            let seen = solved.view.to_px(place, 0.0);
            let stretch = RESIDUALS_BY / factor as f64;
            let (x, y) = to_level(factor, node.at);
            let to = (x + (node.at.x - seen.x) * stretch, y + (node.at.y - seen.y) * stretch);
            segment(&mut picture, (x, y), to, ORANGE);
            draw_cross_mut(&mut picture, BLUE, x.round() as i32, y.round() as i32);
        }
        picture
    });
}

/// The lines found, on the picture, by how well each point is known.
pub(super) fn lines(shot: &Shot, lines: &Lines, proof: &mut Proof) {
    proof.picture("seam", "lines", || {
        let (mut picture, factor) = reduced(shot);
        for point in lines.pieces.iter().flat_map(all_of).flat_map(|path| &path.points) {
            let (x, y) = to_level(factor, point.px);
            if let Some(p) = picture.get_pixel_mut_checked(x.round() as u32, y.round() as u32) {
                *p = colour(point);
            }
        }
        picture
    });
}

/// The curves drawn, with the distance of each found point from them stretched.
pub(super) fn curves(outlines: &[&Outline], lines: &Lines, proof: &mut Proof) {
    let corners = outlines.iter().flat_map(|o| {
        let b = kurbo::Shape::bounding_box(&o.path);
        [Mm::new(b.x0, b.y0), Mm::new(b.x1, b.y1)]
    });
    let Some(frame) = Frame::around(corners, MARGIN, FINEST, LONGEST) else { return };
    proof.picture("outline", "deviations", || {
        let mut picture = RgbImage::from_pixel(frame.width as u32, frame.height as u32, Rgb([255; 3]));
        for (outline, piece) in outlines.iter().zip(&lines.pieces) {
            for point in &piece.outer.points {
                let off = distance(&outline.path, point) * DEVIATIONS_BY;
                let tip = Mm::new(point.at.x + point.normal.x * off, point.at.y + point.normal.y * off);
                segment(&mut picture, frame.to_place(point.at), frame.to_place(tip), colour(point));
            }
            polyline(&mut picture, &frame, &outline.path);
            for corner in &outline.corners {
                let (x, y) = frame.to_place(corner.at);
                draw_cross_mut(&mut picture, VERMILION, x.round() as i32, y.round() as i32);
            }
        }
        picture
    });
}

fn all_of(piece: &super::lines::PieceLines) -> impl Iterator<Item = &SeamPath> {
    std::iter::once(&piece.outer).chain(&piece.holes).chain(piece.inner.iter().map(|(_, seam)| seam))
}

fn colour(point: &SeamPoint) -> Rgb<u8> {
    match point {
        p if p.flags.unseen || p.flags.cut || p.flags.rival => VERMILION,
        p if p.error > POOR => ORANGE,
        _ => BLUE,
    }
}

/// How far a point lies outside the curve along its own normal, mm.
fn distance(path: &BezPath, point: &SeamPoint) -> f64 {
    let at = kurbo::Point::new(point.at.x, point.at.y);
    let nearest = path.segments().map(|s| (s.nearest(at, 1e-3), s)).min_by(|a, b| a.0.distance_sq.total_cmp(&b.0.distance_sq));
    nearest.map_or(0.0, |(n, s)| {
        let d = at - kurbo::ParamCurve::eval(&s, n.t);
        d.x * point.normal.x + d.y * point.normal.y
    })
}

fn polyline(picture: &mut RgbImage, frame: &Frame, path: &BezPath) {
    let mut last = None;
    kurbo::flatten(path.iter(), 0.1 / frame.px_per_mm, |el| {
        let (PathEl::MoveTo(p) | PathEl::LineTo(p)) = el else { return };
        let to = frame.to_place(Mm::new(p.x, p.y));
        if let (Some(from), PathEl::LineTo(_)) = (last, el) {
            segment(picture, from, to, DARK);
        }
        last = Some(to);
    });
}

fn segment(picture: &mut RgbImage, from: (f64, f64), to: (f64, f64), colour: Rgb<u8>) {
    draw_line_segment_mut(picture, (from.0 as f32, from.1 as f32), (to.0 as f32, to.1 as f32), colour);
}

/// The picture, pale and small enough for a screen, and by what it was reduced.
fn reduced(shot: &Shot) -> (RgbImage, usize) {
    let factor = shot.width.max(shot.height).div_ceil(LONGEST);
    let level = shot.gray(factor);
    let picture = RgbImage::from_fn(level.width as u32, level.height as u32, |x, y| {
        let light = level.data[y as usize * level.width + x as usize].clamp(0.0, 1.0).sqrt();
        Rgb([(90.0 + 165.0 * light) as u8; 3])
    });
    (picture, factor)
}
