//! The front's neckline of a top that lies closed: cloth against the garment's own inside, told by its two ends.

// Figures are shown when a test fails or with --nocapture.
#![allow(clippy::print_stdout)]

mod judge;
mod render;

use judge::{compare, outline, trace};
use render::camera::{Camera, Stand};
use render::cloth::{Fabric, Piece};
use render::curve::Point;
use render::file::{self, Written};
use render::scene::Scene;
use render::shapes::{self, Figure, around};
use render::sheet::{Rgb, Sheet, srgb};

/// A closed top of these colours, outside and inside, on a sheet; its front alone, and the middle and ends (right, left) of the front's neckline.
fn closed(colour: Rgb, inside: Rgb) -> (Scene, Piece, [Point; 3]) {
    let (whole, front, shows) = shapes::closed_top(&mut Figure::varied(3, 0.05));
    let laid = |p: Piece| p.laid(3.0, [4.0, -6.0]);
    let top = laid(Piece::new("top", &whole, Fabric::plain(colour), 1.5).with_sewn_on(&shows, inside));
    let front = laid(Piece::new("front", &front, Fabric::plain(colour), 1.5));
    let stand = Stand { film_mm: 26.0, tilt: 8.0, side: 60.0, roll: 2.0 };
    let camera = Camera::framing([2016, 1512], stand, &around([&top.outline], 40.0), 0.96).with_slack(0.995, [3.0, -2.0]);
    let ends = [front.outline.start, front.outline.stretches[0].end(), front.outline.stretches[front.outline.stretches.len() - 2].end()];
    (Scene::new(camera, Sheet::lines(25.4, [1100.0, 900.0]), vec![top]), front, ends)
}

/// Such a front traced by its neckline's ends, some pixels off as a hand points.
fn front(name: &str, colour: Rgb, inside: Rgb) -> judge::Figures {
    let (scene, front, ends) = closed(colour, inside);
    let folder = tempfile::tempdir().expect("a folder");
    std::fs::write(folder.path().join("top.jpg"), file::jpeg(&scene.draw(), &Written::phone(26))).expect("written");
    let corner = |name: &str, at, off: [f64; 2]| {
        let [x, y] = scene.camera.project(at, 1.5);
        format!("[[shot.corner]]\nname = \"{name}\"\npx = [{:.1}, {:.1}]\n", x + off[0], y + off[1])
    };
    let middle = {
        let [x, y] = scene.camera.project(ends[0], 1.5);
        format!("px = [[{:.1}, {:.1}]]\n", x + 2.0, y - 2.0)
    };
    let hem = front.outline.corners().into_iter().max_by(|a, b| a[1].total_cmp(&b[1])).expect("a corner");
    let notes = format!(
        "[[shot]]\npiece = \"front\"\n{}{}{}[[shot.edge]]\nname = \"neckline\"\nfrom = \"neck left\"\nto = \"neck right\"\nline = \"seam\"\n{middle}",
        corner("neck left", ends[2], [2.0, -2.0]),
        corner("neck right", ends[1], [-2.0, 2.0]),
        corner("hem", hem, [1.0, 1.0]),
    );
    std::fs::write(folder.path().join("garment.toml"), notes).expect("written");
    let (picture, out) = (folder.path().join("top.jpg"), folder.path().join("out"));
    if let Some(to) = std::env::var_os("RUBOFF_KEEP") {
        let to = std::path::Path::new(&to).join(name);
        std::fs::create_dir_all(&to).expect("a folder");
        for file in ["top.jpg", "garment.toml"] {
            std::fs::copy(folder.path().join(file), to.join(file)).expect("kept");
        }
    }
    let mut words = vec![picture.into_os_string(), "--out".into(), out.clone().into_os_string()];
    words.extend(["--sheet", "lines", "--pitch", "1in", "--thickness", "1.5mm"].map(Into::into));
    let output = trace(words);
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let f = compare(&outline(&out, "top")["pieces"][0], &front);
    println!(
        "{name}: p95 {:.3} max {:.3} bias {:+.3} mm, corners {:.2}/{:.2} mm, {} false, bound held {:.3}",
        f.laid.p95(),
        f.laid.max(),
        f.laid.bias,
        f.median_corner,
        f.worst_corner,
        f.false_corners,
        f.held
    );
    f
}

#[test]
fn the_fronts_own_neckline_is_followed() {
    let mut all = Vec::new();
    for (name, colour, inside) in [
        ("plum", srgb(112, 62, 92), srgb(70, 38, 58)),
        ("navy, lined in white", srgb(34, 42, 66), srgb(228, 226, 220)),
        ("sand", srgb(196, 178, 150), srgb(160, 142, 116)),
    ] {
        let f = front(name, colour, inside);
        all.push((name, f));
    }
    for (name, f) in all {
        assert!(f.laid.p95() <= 0.4 && f.laid.max() <= 1.2 && f.laid.bias.abs() <= 0.1, "{name}");
        assert!(f.worst_corner <= 1.2, "{name}: corners");
    }
}

/// Its two ends are enough for the line itself, however deep it is.
#[test]
fn two_ends_find_a_deep_neckline() {
    for (colour, inside) in [(srgb(112, 62, 92), srgb(70, 38, 58)), (srgb(34, 42, 66), srgb(228, 226, 220))] {
        let (scene, front, ends) = closed(colour, inside);
        let folder = tempfile::tempdir().expect("a folder");
        let (picture, out) = (folder.path().join("top.jpg"), folder.path().join("out"));
        std::fs::write(&picture, file::jpeg(&scene.draw(), &Written::phone(26))).expect("written");
        let [right, left] = [(ends[1], [-2.0, 2.0]), (ends[2], [2.0, -2.0])].map(|(at, off)| {
            let [x, y] = scene.camera.project(at, 1.5);
            format!("{:.1},{:.1}", x + off[0], y + off[1])
        });
        let mut words = vec![picture.into_os_string(), "--out".into(), out.clone().into_os_string()];
        let told = format!("{left} {right}");
        words.extend(["--sheet", "lines", "--pitch", "1in", "--thickness", "1.5mm", "--inner", &told].map(Into::into));
        let output = trace(words);
        assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
        let found = outline(&out, "top")["pieces"][0]["inner"][0]["length_mm"].as_f64().expect("a length");
        // From end to end along the front's outline: its first stretch and its last.
        let way: Vec<Point> = front.outline.points(0.5);
        let near = |to: Point| (0..way.len()).min_by(|a, b| off(way[*a], to).total_cmp(&off(way[*b], to))).expect("a point");
        let length = |part: &[Point]| part.windows(2).map(|w| off(w[0], w[1])).sum::<f64>();
        let truth = length(&way[..=near(ends[1])]) + length(&way[near(ends[2])..]);
        println!("{found:.1} of {truth:.1} mm");
        assert!((found / truth - 1.0).abs() < 0.02, "{found:.1} of {truth:.1} mm");
    }
}

fn off(a: Point, b: Point) -> f64 {
    (a[0] - b[0]).hypot(a[1] - b[1])
}
