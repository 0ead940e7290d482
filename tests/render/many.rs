//! Scenes by lot: any garment, cloth, sheet, lens and light a patient person might bring, from a seed.

use super::camera::{Camera, Stand};
use super::cloth::{Fabric, Piece, Weave};
use super::light::{Light, Sensor};
use super::random::Random;
use super::scene::Scene;
use super::shapes::{self, Figure, around};
use super::sheet::{Rgb, Sheet, srgb};

/// A scene and what a person would tell the program about it.
#[derive(Clone, Debug)]
pub struct Lot {
    pub name: String,
    pub scene: Scene,
    /// Word for the kind of sheet.
    pub kind: &'static str,
    pub pitch: f64,
    pub film_mm: u16,
    /// Whether the cloth is hard to see: near the sheet's colour, or patterned near its pitch.
    pub hard: bool,
}

/// The scene number `seed`, of about `megapixels`.
pub fn lot(seed: u64, megapixels: f64) -> Lot {
    let mut random = Random::new(seed.wrapping_mul(0x5851_f42d));
    let (kind, pitch, mut sheet) = sheet(&mut random);
    let dark = kind == "mat";
    let (cloth, fabric, hard) = fabric(&mut random, dark, pitch);
    let (shape, mut piece) = piece(&mut random, fabric);
    piece.thickness = random.between(0.8, 4.5);
    let turn = random.between(0.0, 360.0);
    piece = piece.laid(turn, [random.between(-10.0, 10.0), random.between(-10.0, 10.0)]);
    let tall = (megapixels * 1e6 * 0.75).sqrt();
    let size = [(tall / 0.75).round() as usize, tall.round() as usize];
    let film_mm = random.pick(&[24, 26, 26, 28, 35]);
    let tilt = random.between(0.0, 26.0);
    let stand = Stand { film_mm: f64::from(film_mm), tilt, side: random.between(0.0, 360.0), roll: random.between(0.0, 360.0) };
    let margin = random.between(35.0, 80.0);
    let k1 = random.between(-0.09, 0.06);
    let camera = Camera::framing(size, stand, &around([&piece.outline], margin), 0.93)
        .with_slack(random.between(0.985, 1.015), [random.between(-7.0, 7.0), random.between(-7.0, 7.0)])
        .with_lens(k1, random.between(-0.3, 0.1) * k1, random.between(-4e-4, 4e-4), random.between(-4e-4, 4e-4));
    // Beyond the picture the sheet goes on, or the table shows on one side.
    let over = random.between(90.0, 260.0);
    let [a, _, b, _] = around([&piece.outline], over);
    sheet.span = [[a[0] + 7.3, a[1] - 4.1], [b[0] - 2.9, b[1] + 5.7]];
    let light = light(&mut random);
    let sensor = Sensor {
        blur: random.between(0.7, 1.3),
        dark_noise: random.between(0.0005, 0.002) as f32,
        shot_noise: random.between(0.003, 0.011) as f32,
    };
    let name = format!("{seed:03} {shape} {cloth} on {kind} {pitch:.1}, tilt {tilt:.0}");
    Lot { name, scene: Scene { light, sensor, seed, ..Scene::new(camera, sheet, vec![piece]) }, kind, pitch, film_mm, hard }
}

fn sheet(random: &mut Random) -> (&'static str, f64, Sheet) {
    let size = [900.0, 900.0];
    match random.below(7) {
        0 | 1 => ("lines", 25.4, Sheet::lines(25.4, size)),
        2 => ("lines", 10.0, Sheet::heavy_lines(10.0, 5, size)),
        3 => ("dots", 25.4, Sheet::dots(25.4, size)),
        4 => ("crosses", 25.4, Sheet::crosses(25.4, size)),
        5 => ("checker", 20.0, Sheet::checker(20.0, size)),
        _ => ("mat", 10.0, Sheet::mat(10.0, 5, size)),
    }
}

/// A dye that a shirt may have, with its name.
const DYES: [(&str, [u8; 3]); 9] = [
    ("purple", [110, 56, 96]),
    ("rust", [150, 70, 40]),
    ("navy", [28, 36, 66]),
    ("moss", [74, 88, 50]),
    ("black", [22, 22, 24]),
    ("mustard", [196, 150, 50]),
    ("pink", [220, 150, 160]),
    ("teal", [40, 110, 116]),
    ("white", [238, 237, 232]),
];

fn fabric(random: &mut Random, dark_sheet: bool, pitch: f64) -> (String, Fabric, bool) {
    let (mut name, mut dye) = random.pick(&DYES);
    if dark_sheet && name == "teal" {
        (name, dye) = DYES[0];
    }
    let colour = |[r, g, b]: [u8; 3]| srgb(r, g, b);
    let second: Rgb = if name == "white" { srgb(150, 60, 60) } else { srgb(232, 226, 214) };
    let plain = Fabric {
        grain: random.between(-8.0, 8.0),
        rough: random.between(0.03, 0.1) as f32,
        folds: random.between(0.02, 0.1) as f32,
        rim: random.between(0.03, 0.2) as f32,
        seed: random.bits(),
        ..Fabric::plain(colour(dye))
    };
    let (weave, what) = match random.below(9) {
        0 => (Weave::Gingham { period: random.between(6.0, 16.0) }, "gingham"),
        1 => (Weave::Stripes { period: random.between(8.0, 30.0), width: 0.25 }, "stripes"),
        2 => (Weave::Rib { period: random.between(2.5, 5.0) }, "rib"),
        3 | 4 => (Weave::Twill, "twill"),
        _ => (Weave::Plain, "plain"),
    };
    let near = matches!(weave, Weave::Gingham { period } | Weave::Stripes { period, .. } if period > pitch * 0.6);
    let hard = near || matches!(weave, Weave::Gingham { .. }) || (name == "white") != dark_sheet && name == "white";
    (format!("{name} {what}"), plain.with(weave, second), hard)
}

fn piece(random: &mut Random, fabric: Fabric) -> (&'static str, Piece) {
    const NAMES: [&str; 9] = ["bodice", "sleeve", "collar", "pocket", "yoke", "gore", "round", "gusset", "waistcoat"];
    let mut figure = Figure::varied(random.bits(), 0.12);
    let k = random.below(NAMES.len() + 1);
    let (name, mut piece) = if k == NAMES.len() {
        let (outline, neck) = shapes::tabard(&mut figure);
        ("tabard", Piece::new("tabard", &outline, fabric, 1.0).with_hole(&neck))
    } else {
        (NAMES[k], Piece::new(NAMES[k], &shapes::ALL[k](&mut figure), fabric, 1.0))
    };
    if random.chance(0.5) {
        piece = piece.with_topstitch(random.between(3.0, 14.0), random.pick(&[srgb(220, 210, 190), srgb(60, 50, 50)]));
    }
    (name, piece)
}

fn light(random: &mut Random) -> Light {
    let from = random.between(0.0, 360.0);
    let level = random.between(0.55, 0.95) as f32;
    let warm = random.between(0.78, 1.0) as f32;
    let base = if random.chance(0.3) { Light::lamp() } else { Light::soft() };
    Light {
        from,
        level,
        tint: [1.0, 0.5 + 0.5 * warm, warm],
        falls_off: random.between(0.0, 0.45) as f32,
        vignette: random.between(0.0, 0.3) as f32,
        shadow: base.shadow * random.between(0.5, 1.2) as f32,
        contact: random.between(0.15, 0.4) as f32,
        contact_mm: random.between(0.5, 1.3),
        ..base
    }
}
