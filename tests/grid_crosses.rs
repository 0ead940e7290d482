//! Thin crosses an inch apart at two pixels to the millimetre: every arm is hardly wider than a pixel. Common practice, no source.

#[path = "render/mod.rs"]
mod render;

use render::camera::{Camera, Stand};
use render::cloth::{Fabric, Piece};
use render::scene::Scene;
use render::shapes::{self, Figure};
use render::sheet::{Sheet, srgb};
use ruboff::grid::{self, Settings};
use ruboff::proof::Proof;
use ruboff::sheet::{SheetKind, SheetProfile};
use ruboff::shot::Shot;

/// Each node lies where the renderer's own camera sees a node of the sheet, and steps of one address are steps of one pitch: a lattice of
/// each fourth cross is as regular, and wrong.
#[test]
fn thin_crosses_make_the_whole_lattice() {
    const PITCH: f64 = 25.4;
    let sheet = Sheet::crosses(PITCH, [620.0, 460.0]);
    let [a, b] = sheet.span;
    let stand = Stand { film_mm: 28.0, tilt: 3.0, side: 40.0, roll: 4.0 };
    let camera = Camera::framing([1220, 915], stand, &[a, [b[0], a[1]], b, [a[0], b[1]]], 0.97);
    let piece = Piece::new("pocket", &shapes::pocket(&mut Figure::plain()), Fabric::plain(srgb(40, 50, 90)), 1.0);
    let scene = Scene::new(camera, sheet, vec![piece]);
    let picture = scene.draw();
    let shot = Shot::from_rgb(picture.size[0], picture.size[1], picture.rgb);
    let kind = Some(SheetKind::Crosses);
    let profile = SheetProfile { name: "told".into(), kind, pitch: [PITCH; 2], heavy_every: None, measured: None, pitch_error: [0.002; 2] };
    let lattice = grid::find(&shot, &profile, &Settings::default(), &mut Proof::off()).expect("a lattice");
    assert!(lattice.nodes.len() > 200, "{} nodes", lattice.nodes.len());
    let all: Vec<([i32; 2], [f64; 2])> = (-20..=20)
        .flat_map(|j| (-20..=20).map(move |i| [i, j]))
        .map(|[i, j]| ([i, j], scene.camera.project([f64::from(i) * PITCH, f64::from(j) * PITCH], 0.0)))
        .collect();
    let mut shifts: Vec<[i32; 2]> = Vec::new();
    for node in &lattice.nodes {
        let off = |p: &[f64; 2]| (p[0] - node.at.x).hypot(p[1] - node.at.y);
        let (at, seen) = all.iter().min_by(|a, b| off(&a.1).total_cmp(&off(&b.1))).expect("nodes");
        assert!(off(seen) < 0.5, "{node:?} is seen {:.2} px off", off(seen));
        shifts.push([at[0] - node.i, at[1] - node.j]);
    }
    assert!(shifts.iter().all(|s| *s == shifts[0]), "addresses do not step with the sheet's nodes");
    // Drawn 6 mm across with bars of 0.7 mm, seen through half a millimetre of blur: what is known as ruling beside the cloth.
    let (half, reach) = (lattice.mark_half_width, lattice.mark_reach);
    assert!((0.3..0.6).contains(&half) && (2.7..3.4).contains(&reach), "arms {half:.2} by {reach:.2} mm");
}
