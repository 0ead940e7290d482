//! The straightened picture at the picture's own resolution, cut into tiles, and coarser levels of it.
//!
//! Nothing is kept: a tile is straightened when it is asked for. Pixel `j` of level `k` covers pixels `j·2ᵏ` to `(j+1)·2ᵏ − 1` of the finest
//! level, as if they had been averaged.

use crate::length::Mm;
use crate::shot::Shot;
use crate::straight::{Frame, mosaic};
use crate::view::{Model, View};
use crate::write::{Record, WriteError, as_jpeg, path_from_text};
use kurbo::Shape;
use serde::Serialize;

/// Sheet shown round all pieces, mm.
const MARGIN: f64 = 40.0;
/// The frame is widened to whole steps of so many mm, so that it stays where it is, and its tiles with it, when a corner is moved a little.
const STEP: f64 = 10.0;
/// The same for its scale, px/mm, which is the finest at any place of the outline.
const SCALE_STEP: f64 = 0.1;
/// Longest side of the finest level, px.
const LONGEST: usize = 16384;
/// Side of a tile, px.
const TILE: usize = 512;
/// JPEG quality: threads of cloth stay clear at one pixel to one.
const QUALITY: u8 = 88;

/// Why there is no tile.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum TileError {
    /// No such level, or a place beyond the picture.
    #[error("there is no tile {x}, {y} on level {z} of this picture; load the page anew")]
    None {
        /// Level.
        z: u32,
        /// Column.
        x: u32,
        /// Row.
        y: u32,
    },
    /// The encoder refused.
    #[error(transparent)]
    Coded(#[from] WriteError),
}

/// The levels of a straightened picture.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pyramid {
    frame: Frame,
    levels: u32,
}

/// As the page is told of it.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[allow(missing_docs)]
pub struct Levels {
    /// Sheet point at the centre of the finest level's first pixel.
    pub origin_mm: [f64; 2],
    pub px_per_mm: f64,
    pub width: usize,
    pub height: usize,
    pub tile: usize,
    pub levels: u32,
}

impl Pyramid {
    /// The one that shows all pieces of a record with some sheet round them; none where there is no piece.
    pub fn of(record: &Record) -> Option<Self> {
        let boxes = record.pieces.iter().filter_map(|p| path_from_text(&p.outline).ok()).map(|p| p.bounding_box());
        let (low, high) = (|v: f64| ((v - MARGIN) / STEP).floor() * STEP, |v: f64| ((v + MARGIN) / STEP).ceil() * STEP);
        let corners: Vec<Mm> = boxes.flat_map(|b| [Mm::new(low(b.x0), low(b.y0)), Mm::new(high(b.x1), high(b.y1))]).collect();
        let finest = record.views.iter().map(|v| v.px_per_mm[1]).filter(|r| r.is_finite() && *r > 0.0).reduce(f64::max)?;
        Some(Self::levelled(Frame::around(corners, 0.0, (finest / SCALE_STEP - 1e-6).ceil() * SCALE_STEP, LONGEST)?))
    }

    /// The one that shows a picture as it is, a pixel to the millimetre: of one that could not be traced.
    pub fn bare([width, height]: [usize; 2]) -> Self {
        Self::levelled(Frame { origin: Mm::default(), px_per_mm: 1.0, width: width.min(LONGEST), height: height.min(LONGEST) })
    }

    /// How a picture shown as it is is seen.
    pub fn bare_view([width, height]: [usize; 2]) -> View {
        View::known(Model::Scan { matrix: [1.0, 0.0, 0.0, 1.0, 0.0, 0.0] }, width, height)
    }

    fn levelled(frame: Frame) -> Self {
        let mut levels = 1;
        while frame.width.max(frame.height).div_ceil(1 << (levels - 1)) > TILE {
            levels += 1;
        }
        Self { frame, levels }
    }

    /// As the page is told of it.
    pub fn told(&self) -> Levels {
        let Frame { origin, px_per_mm, width, height } = self.frame;
        Levels { origin_mm: origin.into(), px_per_mm, width, height, tile: TILE, levels: self.levels }
    }

    /// The part of the sheet that a tile shows.
    fn part(&self, z: u32, x: u32, y: u32) -> Option<Frame> {
        let side = 1usize.checked_shl(z).filter(|_| z < self.levels)?;
        let (width, height) = (self.frame.width.div_ceil(side), self.frame.height.div_ceil(side));
        let (left, top) = ((x as usize).checked_mul(TILE)?, (y as usize).checked_mul(TILE)?);
        if left >= width || top >= height {
            return None;
        }
        // The centre of a coarse pixel lies between those of the fine ones it is made of.
        let centre = |first: usize| (first * side) as f64 + (side as f64 - 1.0) / 2.0;
        Some(Frame {
            origin: self.frame.to_mm(centre(left), centre(top)),
            px_per_mm: self.frame.px_per_mm / side as f64,
            width: TILE.min(width - left),
            height: TILE.min(height - top),
        })
    }

    /// A tile as JPEG, of what lies `height` mm above the sheet.
    ///
    /// # Errors
    /// There is no such tile.
    pub fn draw(&self, pictures: &[(&Shot, &View)], height: f64, z: u32, x: u32, y: u32) -> Result<Vec<u8>, TileError> {
        let part = self.part(z, x, y).ok_or(TileError::None { z, x, y })?;
        Ok(as_jpeg(&mosaic(pictures, &part, height), QUALITY)?)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::length::Px;
    use crate::view::Lens;
    use nalgebra::{Rotation3, Vector3};

    /// A picture of soft waves and its view, a tilted camera.
    fn picture() -> (Shot, View) {
        let lens = Lens { k1: -0.05, ..Lens::ideal(2000.0, Px::new(800.0, 600.0)) };
        let rotation = Rotation3::new(Vector3::new(0.15, -0.1, 0.2)).into_inner();
        let view = View::known(Model::Pinhole { lens, rotation, translation: Vector3::new(-60.0, -80.0, 500.0) }, 1600, 1200);
        let wave = |k: usize| {
            let (x, y) = ((k % 1600) as f64, (k / 1600) as f64);
            let v = |a: f64, b: f64| (128.0 + 60.0 * (x / a).sin() + 60.0 * (y / b).cos()) as u8;
            [v(17.0, 23.0), v(31.0, 13.0), v(41.0, 37.0)]
        };
        (Shot::from_rgb(1600, 1200, (0..1600 * 1200).flat_map(wave).collect()), view)
    }

    fn record() -> Record {
        Record::from_text(include_str!("../../tests/golden/outline.json")).expect("the golden record")
    }

    #[test]
    fn levels_halve_until_one_tile_holds_all() {
        let levels = Pyramid::of(&record()).expect("it has a piece").told();
        // 120 mm by 149.7 mm (the arc's highest place is three quarters of its handles' reach), with 40 mm round it, in whole centimetres, at
        // 4.2 px a millimetre.
        assert_eq!((levels.width, levels.height, levels.levels), (841, 967, 2));
        assert_eq!(levels.origin_mm, [-30.0, -20.0]);
        let mut none = record();
        none.pieces.clear();
        assert_eq!(Pyramid::of(&none), None);
        let mut fine = record();
        fine.views[0].px_per_mm = [200.0, 400.0];
        let huge = Pyramid::of(&fine).expect("a piece").told();
        assert!(huge.width.max(huge.height) <= LONGEST && huge.levels == 6, "{huge:?}");
    }

    #[test]
    fn a_little_mending_leaves_the_tiles_where_they_are() {
        let before = Pyramid::of(&record()).expect("a piece");
        let mut mended = record();
        mended.pieces[0].outline = mended.pieces[0].outline.replacen("M 10.0000", "M 10.3000", 1);
        mended.views[0].px_per_mm[1] -= 0.03;
        assert_ne!(mended.pieces[0].outline, record().pieces[0].outline);
        assert_eq!(Pyramid::of(&mended), Some(before));
    }

    /// Tiles laid side by side are the straightened whole, but for what JPEG loses.
    #[test]
    fn tiles_are_parts_of_the_straightened_whole() {
        let (shot, view) = picture();
        let pyramid = Pyramid::of(&record()).expect("a piece");
        let pictures = [(&shot, &view)];
        for z in 0..2u32 {
            let side = 1usize << z;
            let centre = (side as f64 - 1.0) / 2.0;
            let (width, height) = (pyramid.frame.width.div_ceil(side), pyramid.frame.height.div_ceil(side));
            let frame =
                Frame { origin: pyramid.frame.to_mm(centre, centre), px_per_mm: pyramid.frame.px_per_mm / side as f64, width, height };
            let whole = mosaic(&pictures, &frame, 1.5);
            let mut seen = 0;
            for (x, y) in (0..width.div_ceil(TILE)).flat_map(|x| (0..height.div_ceil(TILE)).map(move |y| (x, y))) {
                let part = pyramid.part(z, x as u32, y as u32).expect("within");
                let own = mosaic(&pictures, &part, 1.5);
                for (u, v, p) in own.enumerate_pixels() {
                    let q = whole.get_pixel((x * TILE) as u32 + u, (y * TILE) as u32 + v);
                    assert!(p.0.iter().zip(q.0).all(|(a, b)| a.abs_diff(b) <= 1), "level {z}, tile {x} {y}, {u} {v}: {p:?} {q:?}");
                }
                seen += own.width() * own.height();
                let coded = pyramid.draw(&pictures, 1.5, z, x as u32, y as u32).expect("coded");
                let back = image::load_from_memory(&coded).expect("a picture").into_rgb8();
                assert_eq!(back.dimensions(), own.dimensions());
                let off: u64 = back.as_raw().iter().zip(own.as_raw()).map(|(a, b)| u64::from(a.abs_diff(*b))).sum();
                assert!(off / (back.as_raw().len() as u64) < 6, "{off}");
            }
            assert_eq!(seen as usize, width * height);
        }
    }

    /// A coarse pixel is where the fine ones it is made of are.
    #[test]
    fn levels_lie_on_each_other() {
        let pyramid = Pyramid::of(&record()).expect("a piece");
        let (fine, coarse) = (pyramid.part(0, 0, 0).expect("there"), pyramid.part(1, 0, 0).expect("there"));
        assert!(coarse.to_mm(10.0, 7.0).distance(fine.to_mm(20.5, 14.5)) < 1e-9);
        for (z, x, y) in
            [(2, 0, 0), (0, 2, 0), (0, 0, 2), (1, 1, 0), (31, 0, 0), (32, 0, 0), (u32::MAX, u32::MAX, u32::MAX), (0, u32::MAX, 0)]
        {
            assert_eq!(pyramid.part(z, x, y), None);
        }
    }
}
