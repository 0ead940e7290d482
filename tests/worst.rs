//! The worst places of an outline are told in words where they stand out, and only there.

// Figures are shown when a test fails or with --nocapture.
#![allow(clippy::print_stdout)]

mod judge;
mod render;

use judge::{compare, outline, trace};
use render::camera::{Camera, Stand};
use render::cloth::{Fabric, Piece};
use render::curve::{Curve, Point, length, sub};
use render::file::{self, Written};
use render::scene::Scene;
use render::shapes::{self, Figure, around};
use render::sheet::{Sheet, srgb};
use serde_json::Value;

fn traced(piece: Piece) -> Value {
    let stand = Stand { film_mm: 26.0, tilt: 9.0, side: 60.0, roll: 3.0 };
    let camera = Camera::framing([1632, 1224], stand, &around([&piece.outline], 45.0), 0.96);
    let scene = Scene::new(camera, Sheet::lines(25.4, [1000.0, 900.0]), vec![piece]);
    let folder = tempfile::tempdir().expect("a folder");
    let (picture, out) = (folder.path().join("shot.jpg"), folder.path().join("out"));
    std::fs::write(&picture, file::jpeg(&scene.draw(), &Written::phone(26))).expect("written");
    let words = [picture.as_os_str(), "--out".as_ref(), out.as_os_str()].into_iter();
    let more = ["--sheet", "lines", "--pitch", "1in", "--thickness", "1.5mm"];
    let output = trace(words.chain(more.iter().map(|w| w.as_ref())));
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    outline(&out, "shot")
}

/// The places told: where, and the words.
fn told(given: &Value) -> Vec<(Point, &str)> {
    let doubts = given["doubts"].as_array().expect("doubts").iter().filter(|d| d["code"] == "edge-unsure");
    doubts.map(|d| ([0, 1].map(|k| d["where"][k].as_f64().expect("a place")), d["say"].as_str().expect("words"))).collect()
}

fn pocket(colour: [u8; 3]) -> Piece {
    let [r, g, b] = colour;
    Piece::new("pocket", &shapes::pocket(&mut Figure::varied(2, 0.08)), Fabric::plain(srgb(r, g, b)), 1.5)
}

#[test]
fn an_easy_picture_has_no_worst_place() {
    assert_eq!(told(&traced(pocket([70, 80, 120]))), []);
}

/// A patch of nearly the sheet's colour at the left-hand side: there the edge is hardly to be seen.
#[test]
fn a_pale_patch_at_the_edge_is_told() {
    let clean = pocket([70, 80, 120]);
    let corners = clean.outline.corners();
    let left = |p: &&Point| p[0] < 0.0;
    let top = corners.iter().filter(left).copied().min_by(|a, b| a[1].total_cmp(&b[1])).expect("a corner");
    let low = corners.iter().filter(left).copied().max_by(|a, b| a[1].total_cmp(&b[1])).expect("a corner");
    let on = |t: f64, inwards: f64| [top[0] + (low[0] - top[0]) * t + inwards, top[1] + (low[1] - top[1]) * t];
    let patch = Curve::from(on(0.4, 0.0)).line(on(0.4, 26.0)).line(on(0.75, 26.0)).line(on(0.75, 0.0)).close();
    let given = traced(clean.clone().with_sewn_on(&patch, srgb(232, 231, 226)));
    let f = compare(&given["pieces"][0], &clean);
    println!("p95 {:.3} max {:.3} mm, bound held {:.3}", f.laid.p95(), f.laid.max(), f.held_along);
    let told = told(&given);
    told.iter().for_each(|(at, say)| println!("{at:?}: {say}"));
    assert!((1..=3).contains(&told.len()));
    let middle = on(0.57, 0.0);
    for (at, say) in told {
        assert!(length(sub(f.laid.motion.apply(at), middle)) < 60.0, "{at:?} is not near {middle:?}");
        assert!(say.contains("on the left-hand edge, ") && say.contains(" mm ") && say.contains("er left-hand corner as seen"), "{say}");
        assert!(say.contains("because") && say.matches(". ").count() == 1, "{say}");
    }
}
