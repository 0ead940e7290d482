//! Lines within the cloth of many widths, told by their two ends: from a sharp crease to a wide channel.

// Figures are shown when a test fails or with --nocapture.
#![allow(clippy::print_stdout)]

mod judge;
mod render;

use judge::{outline, path, trace};
use render::camera::{Camera, Stand};
use render::cloth::{Fabric, Piece};
use render::curve::{Curve, Point};
use render::file::{self, Written};
use render::lay::Track;
use render::scene::Scene;
use render::shapes::{self, Figure, around};
use render::sheet::{Rgb, Sheet, srgb};

/// Widths of the dark strips before they are softened by three quarters of that, mm, and how far off 95 % of each line may be found.
/// The widest is six millimetres over all and has no place to a tenth of that.
const LINES: [(f64, f64); 5] = [(0.15, 0.4), (0.3, 0.4), (0.8, 0.4), (1.6, 0.4), (2.6, 0.6)];

/// A bodice with all the lines down its length.
fn bodice(colour: Rgb) -> Piece {
    let whole = shapes::bodice(&mut Figure::varied(4, 0.03));
    let line = |k: usize| {
        let x = -140.0 + 70.0 * k as f64;
        Curve::from([x, -10.0]).cubic([x + 9.0, 60.0], [x + 9.0, 120.0], [x - 4.0, 190.0])
    };
    let piece = Piece::new("front", &whole, Fabric::plain(colour), 1.5);
    LINES.iter().enumerate().fold(piece, |p, (k, (width, _))| p.with_valley(line(k), *width)).laid(3.0, [4.0, -6.0])
}

fn check(name: &str, colour: Rgb) {
    let front = bodice(colour);
    let stand = Stand { film_mm: 26.0, tilt: 8.0, side: 60.0, roll: 2.0 };
    let camera = Camera::framing([2448, 1836], stand, &around([&front.outline], 40.0), 0.96);
    let scene = Scene::new(camera, Sheet::lines(25.4, [1100.0, 900.0]), vec![front]);
    let folder = tempfile::tempdir().expect("a folder");
    let (picture, out) = (folder.path().join("front.jpg"), folder.path().join("out"));
    std::fs::write(&picture, file::jpeg(&scene.draw(), &Written::phone(26))).expect("written");
    let mut words = vec![picture.into_os_string(), "--out".into(), out.clone().into_os_string()];
    words.extend(["--pitch", "1in", "--thickness", "1.5mm"].map(Into::into));
    let lines: Vec<&Curve> = scene.pieces[0].seams.iter().map(|s| &s.line).collect();
    for line in &lines {
        let px = |p: Point, off: Point| {
            scene.camera.project(p, 1.5).iter().zip(off).map(|(v, o)| format!("{:.0}", v + o)).collect::<Vec<_>>().join(",")
        };
        words.extend(["--inner".into(), format!("{} {}", px(line.start, [2.0, -1.0]), px(line.stretches[0].end(), [-2.0, 2.0])).into()]);
    }
    let output = trace(words);
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let given = outline(&out, "front");
    let not_seen = given["doubts"].as_array().expect("doubts").iter().filter(|d| d["code"] == "seam-not-seen").count();
    let mut wrong = Vec::new();
    for (k, line) in lines.iter().enumerate() {
        let inner = &given["pieces"][0]["inner"][k];
        let track = Track::new(line.points(0.5));
        let found = path(&inner["path"]).even_points(1.0);
        let mut off: Vec<f64> = found.iter().map(|p| track.distance(*p)).collect();
        off.sort_by(f64::total_cmp);
        let (p95, bound) = (off[off.len() * 95 / 100], inner["bound_mm"].as_f64().expect("a bound"));
        println!("{name}, {} mm wide: 95 % within {p95:.3}, bound {bound:.2} mm", LINES[k].0);
        if p95 > LINES[k].1 || p95 > bound {
            wrong.push(LINES[k].0);
        }
    }
    assert!(wrong.is_empty() && not_seen == 0, "{name}: {wrong:?}, {not_seen} not seen");
}

#[test]
fn lines_of_every_width_are_followed() {
    check("plum", srgb(104, 60, 96));
    check("sand", srgb(206, 186, 158));
}
