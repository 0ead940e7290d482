//! What is photographed and with what: a scene is also the exact truth about its picture.

use super::camera::Camera;
use super::cloth::Piece;
use super::curve::{Curve, Point, area};
use super::light::{Light, Sensor};
use super::sheet::{Rgb, Sheet, srgb};
use super::under::Under;

/// Everything in front of a camera, and the camera.
#[derive(Clone, Debug, PartialEq)]
pub struct Scene {
    pub camera: Camera,
    /// The sheet whose axes all millimetres are in.
    pub sheet: Sheet,
    /// Other sheets, which lie below it.
    pub more_sheets: Vec<Sheet>,
    /// Tissue or film between sheet and pieces.
    pub under: Option<Under>,
    pub pieces: Vec<Piece>,
    /// Everyday things on the sheet: a weight, a pencil.
    pub things: Vec<Thing>,
    pub table: Rgb,
    pub light: Light,
    pub sensor: Sensor,
    pub seed: u64,
}

/// Something that is no cloth.
#[derive(Clone, Debug, PartialEq)]
pub struct Thing {
    pub outline: Curve,
    pub height: f64,
    pub colour: Rgb,
}

/// An upright picture, three sRGB bytes a pixel.
#[derive(Clone, Debug, PartialEq)]
pub struct Picture {
    pub size: [usize; 2],
    pub rgb: Vec<u8>,
}

impl Scene {
    pub fn new(camera: Camera, sheet: Sheet, pieces: Vec<Piece>) -> Self {
        let table = srgb(122, 88, 58);
        let (light, sensor) = (Light::soft(), Sensor::good());
        Self { camera, sheet, more_sheets: vec![], under: None, pieces, things: vec![], table, light, sensor, seed: 1 }
    }

    pub fn draw(&self) -> Picture {
        super::draw::draw(self)
    }

    /// Where a point of the piece's edge is seen, px.
    pub fn edge_px(&self, piece: &Piece, at: Point) -> Point {
        self.camera.project(at, piece.thickness)
    }
}

impl Piece {
    /// Area of the cloth, mm², to about 1e-6 of itself.
    pub fn area(&self) -> f64 {
        std::iter::once(&self.outline).chain(&self.holes).map(|c| area(&c.points(0.05))).sum()
    }
}

impl Picture {
    pub fn pixel(&self, x: usize, y: usize) -> [u8; 3] {
        let k = (y * self.size[0] + x) * 3;
        [self.rgb[k], self.rgb[k + 1], self.rgb[k + 2]]
    }
}
