//! Outlines put together from different lines: the rim here, a seam within the cloth or a fold there, as the notes say.

// Figures are shown when a test fails or with --nocapture.
#![allow(clippy::print_stdout)]

mod judge;
mod render;

use judge::{compare, complaint, outline, trace};
use render::camera::{Camera, Stand};
use render::cloth::{Fabric, Piece};
use render::curve::Point;
use render::file::{self, Written};
use render::scene::Scene;
use render::shapes::{self, Figure, around};
use render::sheet::{Sheet, srgb};
use serde_json::Value;
use std::process::Output;

/// A top with its sleeves, the bodice in it, and a folder with its picture.
struct Desk {
    folder: tempfile::TempDir,
    scene: Scene,
    body: Piece,
}

impl Desk {
    fn new() -> Self {
        let (whole, body, seams) = shapes::top(&mut Figure::varied(2, 0.04));
        let fabric = Fabric::plain(srgb(112, 62, 92));
        let laid = |p: Piece| p.laid(3.0, [4.0, -6.0]);
        let top = seams.into_iter().fold(Piece::new("top", &whole, fabric.clone(), 1.5), Piece::with_seam);
        let stand = Stand { film_mm: 26.0, tilt: 8.0, side: 60.0, roll: 2.0 };
        let top = laid(top);
        let camera = Camera::framing([2016, 1512], stand, &around([&top.outline], 40.0), 0.96).with_slack(0.995, [3.0, -2.0]);
        let scene = Scene::new(camera, Sheet::lines(25.4, [1100.0, 900.0]), vec![top]);
        let folder = tempfile::tempdir().expect("a folder");
        std::fs::write(folder.path().join("top.jpg"), file::jpeg(&scene.draw(), &Written::phone(26))).expect("written");
        Self { folder, scene, body: laid(Piece::new("body", &body, fabric, 1.5)) }
    }

    fn run(&self, notes: &str) -> Output {
        std::fs::write(self.folder.path().join("garment.toml"), notes).expect("written");
        let (picture, out) = (self.folder.path().join("top.jpg"), self.folder.path().join("out"));
        let mut words = vec![picture.into_os_string(), "--out".into(), out.into_os_string()];
        words.extend(["--sheet", "lines", "--pitch", "1in", "--thickness", "1.5mm"].map(Into::into));
        if let Some(dir) = std::env::var_os("RUBOFF_WORKINGS") {
            words.extend(["--workings".into(), dir]);
        }
        trace(words)
    }

    fn traced(&self, notes: &str) -> Value {
        let output = self.run(notes);
        assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
        if let Some(dir) = std::env::var_os("RUBOFF_WORKINGS") {
            std::fs::copy(self.folder.path().join("out/top/evidence.jpg"), std::path::Path::new(&dir).join("evidence.jpg"))
                .expect("copied");
        }
        outline(&self.folder.path().join("out"), "top")
    }

    fn refused(&self, notes: &str, word: &str) {
        let text = complaint(&self.run(notes));
        println!("{}", text.trim_end());
        assert!(text.contains(word), "no {word:?} in: {text}");
    }

    /// A corner of the notes, some pixels off as a hand points.
    fn corner(&self, name: &str, at: Point, off: Point) -> String {
        let [x, y] = self.scene.camera.project(at, 1.5);
        format!("[[shot.corner]]\nname = \"{name}\"\npx = [{:.1}, {:.1}]\n", x + off[0], y + off[1])
    }

    /// The notes' corners: both ends of both armholes, the neck, the hem, and one of a cuff.
    fn corners(&self) -> String {
        let seams = &self.scene.pieces[0].seams;
        let body = self.body.outline.corners();
        let hem = body.iter().copied().max_by(|a, b| a[1].total_cmp(&b[1])).expect("a corner");
        let end = |k: usize| seams[k].line.stretches[0].end();
        [
            self.corner("shoulder a", seams[0].line.start, [2.0, -2.0]),
            self.corner("underarm a", end(0), [-2.0, 3.0]),
            self.corner("underarm b", seams[1].line.start, [3.0, 1.0]),
            self.corner("shoulder b", end(1), [-1.0, -3.0]),
            self.corner("hem", hem, [1.0, 1.0]),
        ]
        .concat()
    }
}

const EDGES: &str = "[[shot.edge]]\nname = \"armhole a\"\nfrom = \"shoulder a\"\nto = \"underarm a\"\nline = \"seam\"\n\
     [[shot.edge]]\nname = \"armhole b\"\nfrom = \"underarm b\"\nto = \"shoulder b\"\nline = \"seam\"\n";

fn edge<'a>(given: &'a Value, name: &str) -> &'a Value {
    let edges = given["pieces"][0]["edges"].as_array().expect("edges");
    edges.iter().find(|e| e["name"] == name).unwrap_or_else(|| panic!("no edge {name}: {edges:?}"))
}

/// The sleeves are left out by the seams that cut them off, and nothing of what they leave is lost.
#[test]
fn a_bodice_is_rim_and_armhole_seams() {
    let desk = Desk::new();
    let notes = format!("[[shot]]\npiece = \"body\"\n{}{EDGES}", desk.corners());
    let given = desk.traced(&notes);
    let f = compare(&given["pieces"][0], &desk.body);
    println!(
        "p95 {:.3} max {:.3} bias {:+.3} mm, corners {:.2}/{:.2} mm, {} false, area {:+.2} %, bound held {:.3}",
        f.laid.p95(),
        f.laid.max(),
        f.laid.bias,
        f.median_corner,
        f.worst_corner,
        f.false_corners,
        f.area * 100.0,
        f.held
    );
    assert!(f.laid.p95() <= 0.4 && f.laid.max() <= 1.2 && f.laid.bias.abs() <= 0.1);
    assert!(f.worst_corner <= 1.0 && f.false_corners == 0, "corners");
    assert!(f.area.abs() < 0.003 && f.held >= 0.9);
    for name in ["armhole a", "armhole b"] {
        let e = edge(&given, name);
        assert_eq!((e["line"].as_str(), e["found"].as_str()), (Some("seam"), Some("picture")));
        assert!(e["bound_mm"].as_f64().is_some_and(|b| b > 0.0 && b < 1.0) && e["along"].as_array().is_some_and(|a| a.len() > 20));
    }
    let rims = given["pieces"][0]["edges"].as_array().expect("edges").iter().filter(|e| e["line"] == "rim").count();
    assert!(rims >= 6, "{rims} edges are rim");
    let names: Vec<&str> = given["pieces"][0]["corners"].as_array().expect("corners").iter().filter_map(|c| c["name"].as_str()).collect();
    assert!(["shoulder a", "underarm a", "underarm b", "shoulder b", "hem"].iter().all(|n| names.contains(n)), "{names:?}");
}

/// The side that holds the other named corner is kept: a corner at the cuff asks for the sleeve. A folded edge at the rim is the rim.
#[test]
fn the_other_corner_says_which_side_is_wanted() {
    let desk = Desk::new();
    let seams = &desk.scene.pieces[0].seams;
    let end = seams[0].line.stretches[0].end();
    // The corner of the whole farthest to the right is one of the cuff's.
    let whole = desk.scene.pieces[0].outline.corners();
    let cuff = whole.iter().copied().max_by(|a, b| a[0].total_cmp(&b[0])).expect("a corner");
    let notes = format!(
        "[[shot]]\n{}{}{}[[shot.edge]]\nfrom = \"underarm\"\nto = \"tip\"\nline = \"seam\"\n[[shot.edge]]\nfrom = \"tip\"\nto = \"cuff\"\nline = \"fold\"\n",
        desk.corner("tip", seams[0].line.start, [1.0, 1.0]),
        desk.corner("underarm", end, [1.0, 1.0]),
        desk.corner("cuff", cuff, [0.0, 0.0])
    );
    let given = desk.traced(&notes);
    let area = given["pieces"][0]["area_mm2"].as_f64().expect("an area");
    let sleeve = (desk.scene.pieces[0].area() - desk.body.area()) / 2.0;
    assert!((area / sleeve - 1.0).abs() < 0.01, "{area} of {sleeve}");
    assert_eq!(edge(&given, "tip to cuff")["line"], "fold");
    assert_eq!(edge(&given, "underarm to tip")["line"], "seam");
}

#[test]
fn seams_that_are_not_there_or_cut_nothing_are_refused() {
    let desk = Desk::new();
    let corners = desk.corners();
    let wrong = |from: &str, to: &str| format!("[[shot]]\n{corners}[[shot.edge]]\nfrom = \"{from}\"\nto = \"{to}\"\nline = \"seam\"\n");
    desk.refused(&wrong("shoulder a", "hem"), "no seam can be seen");
    desk.refused(&wrong("shoulder a", "elbow"), "no corner of this picture is called");
    let seam = &desk.scene.pieces[0].seams[0];
    let half = seam.line.points(1.0);
    let notes = format!(
        "[[shot]]\n{corners}{}[[shot.edge]]\nfrom = \"shoulder a\"\nto = \"half way\"\nline = \"seam\"\n",
        desk.corner("half way", half[half.len() / 2], [0.0, 0.0])
    );
    desk.refused(&notes, "does not cut the piece in two");
}
