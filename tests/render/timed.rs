//! Pictures that time and memory are measured on: a phone's and a flatbed's of any size, one sheet ruled wider and finer, more and more pieces.

use super::camera::{Camera, Stand};
use super::cloth::{Fabric, Piece};
use super::curve::{Curve, scaled};
use super::file::{self, Written};
use super::light::Light;
use super::scene::Scene;
use super::shapes::{self, Figure};
use super::sheet::{Sheet, srgb};
use std::path::{Path, PathBuf};

/// Height of the cloth's edge above the sheet, mm.
pub const HEIGHT: f64 = 2.0;

/// The film-equivalent focal length of the phone, mm.
const FILM_MM: u16 = 26;

/// What the sheet of pieces shows, mm: 4 by 3, as the picture.
const TRAY: [f64; 2] = [1000.0, 750.0];

/// A scene, how its picture is written, and what is told of its sheet.
#[derive(Clone, Debug)]
pub struct Timed {
    pub name: String,
    pub scene: Scene,
    pub written: Written,
    /// Distance of neighbouring lines, mm.
    pub pitch: f64,
}

impl Timed {
    pub fn jpeg(&self) -> Vec<u8> {
        file::jpeg(&self.scene.draw(), &self.written)
    }

    /// Its file in a folder, drawn when it is not there yet.
    pub fn file(&self, folder: &Path) -> PathBuf {
        let file = folder.join(format!("{}.jpg", self.name));
        if !file.exists() {
            std::fs::create_dir_all(folder).expect("the folder can be made");
            std::fs::write(&file, self.jpeg()).expect("the folder can be written to");
        }
        file
    }

    /// Nodes of the sheet in view, covered ones too.
    pub fn nodes(&self) -> usize {
        let [w, h] = self.scene.camera.size.map(|n| n as f64 - 1.0);
        let reach = (2000.0 / self.pitch) as i32;
        let seen = |i: i32, j: i32| self.scene.camera.project([f64::from(i) * self.pitch, f64::from(j) * self.pitch], 0.0);
        let inside = |[x, y]: [f64; 2]| (0.0..=w).contains(&x) && (0.0..=h).contains(&y);
        let span = self.scene.sheet.span;
        let on = |k: i32, axis: usize| (span[0][axis]..=span[1][axis]).contains(&(f64::from(k) * self.pitch));
        (-reach..=reach).filter(|i| on(*i, 0)).map(|i| (-reach..=reach).filter(|j| on(*j, 1) && inside(seen(i, *j))).count()).sum()
    }

    /// What the program is told beside the picture.
    pub fn told(&self) -> [String; 6] {
        let length = |mm: f64| format!("{mm}mm");
        ["--sheet".into(), "lines".into(), "--pitch".into(), length(self.pitch), "--thickness".into(), length(HEIGHT)]
    }
}

/// The picture of this name: `phone-12mp`, `ruled-10mm`, `scan-300dpi`, `filling-20`, `alike-20`, with any number.
pub fn named(name: &str) -> Option<Timed> {
    let (kind, number) = name.split_once('-')?;
    let number: f64 = number.trim_end_matches(|c: char| c.is_ascii_alphabetic()).parse().ok()?;
    let timed = match kind {
        "phone" => phone(number),
        "ruled" => ruled(number),
        "scan" => scan(number),
        "filling" => filling(number as usize),
        "alike" => alike(number as usize),
        _ => return None,
    };
    (timed.name == name).then_some(timed)
}

fn cloth() -> Fabric {
    Fabric::plain(srgb(104, 60, 96))
}

/// Columns and rows, 4 by 3; 12 megapixels are the 4032 by 3024 that phones have.
fn size(megapixels: f64) -> [usize; 2] {
    let part = (336.0 * (megapixels / 12.0).sqrt()).round() as usize;
    [12 * part, 9 * part]
}

fn photo(name: String, camera: Camera, pitch: f64, pieces: Vec<Piece>) -> Timed {
    let off = camera.size[0] as f64 / 4032.0;
    let camera = camera.with_slack(1.006, [9.0 * off, -7.0 * off]).with_lens(0.018, -0.009, 2e-4, -2e-4);
    let scene = Scene::new(camera, Sheet::lines(pitch, [1400.0, 1300.0]), pieces);
    Timed { name, scene, written: Written::phone(FILM_MM), pitch }
}

fn bodice(name: String, megapixels: f64, pitch: f64, margin: f64) -> Timed {
    let piece = Piece::new("front", &shapes::bodice(&mut Figure::plain()), cloth(), HEIGHT).with_topstitch(12.0, srgb(210, 200, 190));
    let stand = Stand { film_mm: f64::from(FILM_MM), tilt: 14.0, side: 60.0, roll: 93.0 };
    let around = shapes::around([&piece.outline], margin);
    photo(name, Camera::framing(size(megapixels), stand, &around, 0.96), pitch, vec![piece])
}

/// A bodice on paper ruled in inches, by a phone.
pub fn phone(megapixels: f64) -> Timed {
    bodice(format!("phone-{megapixels}mp"), megapixels, 25.4, 60.0)
}

/// The bodice at 12 megapixels with more paper round it, ruled at this pitch (mm).
pub fn ruled(pitch: f64) -> Timed {
    bodice(format!("ruled-{pitch}mm"), 12.0, pitch, 150.0)
}

/// A child's sleeve on paper ruled in centimetres, on an A3 flatbed (297 × 420 mm, ISO 216).
pub fn scan(dpi: f64) -> Timed {
    let outline = shapes::sleeve(&mut Figure::plain()).map(|p| scaled(p, 0.88)).laid(91.0, [0.0, 0.0]);
    let piece = Piece::new("sleeve", &outline, cloth(), HEIGHT).with_topstitch(8.0, srgb(210, 200, 190));
    let per = dpi / 25.4;
    let camera = Camera::flatbed([297.0, 420.0].map(|mm| (mm * per).round() as usize), [per; 2], 1.2, [0.0, 0.0]);
    let scene = Scene { light: Light::flatbed(), ..Scene::new(camera, Sheet::lines(10.0, [700.0, 700.0]), vec![piece]) };
    Timed { name: format!("scan-{dpi}dpi"), scene, written: Written::scanner(dpi), pitch: 10.0 }
}

/// The same tray of paper with this many pieces that fill it: the more, the smaller.
pub fn filling(count: usize) -> Timed {
    tray(format!("filling-{count}"), count, count)
}

/// The same tray of paper with this many pieces of one size, that of fifty which fill it.
pub fn alike(count: usize) -> Timed {
    tray(format!("alike-{count}"), count, 50)
}

/// `count` pockets on a tray parted for `room` of them, at 12 megapixels.
fn tray(name: String, count: usize, room: usize) -> Timed {
    let across = (room as f64 * TRAY[0] / TRAY[1]).sqrt().ceil();
    let down = (room as f64 / across).ceil();
    let cell = [TRAY[0] / across, TRAY[1] / down];
    let pocket = shapes::pocket(&mut Figure::plain());
    let [low, high] = shapes::extent(&pocket);
    let by = 0.66 * (cell[0] / (high[0] - low[0])).min(cell[1] / (high[1] - low[1]));
    let pieces = (0..count).map(|k| {
        let at = (k * room / count) as f64;
        let middle = [(at % across + 0.5) * cell[0] - TRAY[0] / 2.0, ((at / across).floor() + 0.5) * cell[1] - TRAY[1] / 2.0];
        let lying: Curve = pocket.map(|p| scaled(p, by)).laid(7.0 * (k % 5) as f64 - 14.0, middle);
        Piece::new(&format!("pocket {}", k + 1), &lying, cloth(), HEIGHT)
    });
    let pieces: Vec<Piece> = pieces.collect();
    let [x, y] = TRAY.map(|v| v / 2.0);
    let stand = Stand { film_mm: f64::from(FILM_MM), tilt: 8.0, side: 60.0, roll: 2.0 };
    let camera = Camera::framing(size(12.0), stand, &[[-x, -y], [x, -y], [x, y], [-x, y]], 1.0);
    photo(name, camera, 25.4, pieces)
}
