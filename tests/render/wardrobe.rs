//! The demo: three garments that a small, invented theatre records for a remake.

use super::camera::{Camera, Stand};
use super::cloth::{Fabric, Piece, Weave};
use super::curve::Curve;
use super::file::{self, Written};
use super::light::{Light, Sensor};
use super::scene::Scene;
use super::shapes::{self, Figure, ellipse};
use super::sheet::{Sheet, srgb};

/// Columns and rows of each picture: small enough for a repository, large enough for half a millimetre.
const SIZE: [usize; 2] = [1920, 1440];

/// The film-equivalent focal length all three are taken with, mm.
const FILM_MM: u16 = 26;

/// File below `examples/wardrobe`, and the scene in it.
pub fn all() -> [(&'static str, Scene); 3] {
    [("millers-waistcoat/left-front.jpg", waistcoat()), ("ferrywomans-bodice/front.jpg", bodice()), ("heralds-tabard/front.jpg", tabard())]
}

/// The scene's picture as the file in the repository.
pub fn jpeg(scene: &Scene) -> Vec<u8> {
    file::jpeg(&scene.draw(), &Written { quality: 84, model: Some("Drawn for the demo".into()), ..Written::phone(FILM_MM) })
}

fn photo(piece: Piece, sheet: Sheet, stand: Stand, light: Light, seed: u64) -> Scene {
    let around = shapes::around([&piece.outline], 34.0);
    let camera = Camera::framing(SIZE, stand, &around, 0.97).with_slack(1.012, [6.0, -4.0]).with_lens(0.021, -0.012, 0.0002, -0.0003);
    let sensor = Sensor { blur: 0.75, dark_noise: 0.0008, shot_noise: 0.0035 };
    Scene { light, sensor, seed, ..Scene::new(camera, sheet, vec![piece]) }
}

/// A miller's waistcoat, left front: brown wool on paper ruled in inches.
fn waistcoat() -> Scene {
    let outline = shapes::waistcoat(&mut Figure::varied(11, 0.03));
    let fabric = Fabric { folds: 0.08, seed: 21, ..Fabric::plain(srgb(74, 56, 44)).with(Weave::Twill, srgb(132, 108, 84)) };
    let mut piece = Piece::new("left front", &outline, fabric, 2.5).with_topstitch(6.0, srgb(170, 150, 120));
    let welt = Curve::from([-10.0, 118.0]).line([72.0, 104.0]).line([75.0, 121.0]).line([-7.0, 135.0]).close();
    piece = piece.with_sewn_on(&welt, srgb(84, 66, 52));
    for k in 0..5 {
        let button = ellipse(7.5, 7.5).laid(0.0, [-106.0, -6.0 + 52.0 * k as f64]);
        piece = piece.with_sewn_on(&button, srgb(38, 30, 26));
    }
    let stand = Stand { film_mm: f64::from(FILM_MM), tilt: 11.0, side: 250.0, roll: 92.0 };
    photo(piece.laid(-4.0, [12.0, 8.0]), Sheet::lines(25.4, [900.0, 760.0]), stand, Light::soft(), 5)
}

/// A ferrywoman's bodice, front: madder-red linen on dotted paper.
fn bodice() -> Scene {
    let outline = shapes::bodice(&mut Figure::varied(12, 0.04));
    let fabric = Fabric { folds: 0.09, rough: 0.09, seed: 33, ..Fabric::plain(srgb(148, 52, 44)) };
    let seam = |side: f64| {
        Curve::from([side * 196.0, -95.0])
            .cubic([side * 128.0, -70.0], [side * 108.0, 20.0], [side * 116.0, 120.0])
            .line([side * 112.0, 286.0])
    };
    let piece =
        Piece::new("front", &outline, fabric, 1.5).with_seam(seam(1.0)).with_seam(seam(-1.0)).with_topstitch(9.0, srgb(196, 120, 96));
    let stand = Stand { film_mm: f64::from(FILM_MM), tilt: 16.0, side: 70.0, roll: -87.0 };
    let light = Light { from: 300.0, tint: [0.97, 0.99, 1.0], ..Light::soft() };
    photo(piece.laid(3.0, [-20.0, 14.0]), Sheet::dots(25.4, [880.0, 900.0]), stand, light, 6)
}

/// A herald's tabard with its neck opening: striped cotton on ruled paper with heavier lines.
fn tabard() -> Scene {
    let (outline, neck) = shapes::tabard(&mut Figure::varied(13, 0.03));
    let fabric = Fabric {
        folds: 0.05,
        seed: 44,
        ..Fabric::plain(srgb(226, 214, 184)).with(Weave::Stripes { period: 34.0, width: 0.3 }, srgb(58, 84, 142))
    };
    let piece = Piece::new("front", &outline, fabric, 2.0).with_hole(&neck).with_topstitch(8.0, srgb(120, 110, 96));
    let stand = Stand { film_mm: f64::from(FILM_MM), tilt: 8.0, side: 20.0, roll: 84.0 };
    let light = Light { from: 160.0, tint: [1.0, 0.95, 0.86], ..Light::soft() };
    photo(piece.laid(2.0, [5.0, -9.0]), Sheet::heavy_lines(25.4, 4, [900.0, 760.0]), stand, light, 7)
}
