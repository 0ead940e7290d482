//! A session redoes from the stage a change touches, and comes to the same as if it had been asked so at once.

mod render;

use render::camera::{Camera, Stand};
use render::cloth::{Fabric, Piece};
use render::scene::Scene;
use render::shapes::{self, Figure, around};
use render::sheet::{Sheet, srgb};
use ruboff::length::{Length, Px};
use ruboff::notes::{CornerNotes, Place, ShotNotes};
use ruboff::proof::Proof;
use ruboff::sheet::SheetProfile;
use ruboff::shot::Shot;
use ruboff::trace::{Session, Tracing, Wanted};
use ruboff::write::{Record, svg};

fn shot() -> Shot {
    let piece = Piece::new("pocket", &shapes::pocket(&mut Figure::varied(3, 0.05)), Fabric::plain(srgb(70, 40, 90)), 2.0);
    let stand = Stand { film_mm: 26.0, tilt: 9.0, side: 40.0, roll: 2.0 };
    let camera = Camera::framing([900, 700], stand, &around([&piece.outline], 45.0), 0.96);
    let picture = Scene::new(camera, Sheet::lines(10.0, [500.0, 400.0]), vec![piece]).draw();
    Shot::from_rgb(picture.size[0], picture.size[1], picture.rgb)
}

fn wanted(thickness: f64) -> Wanted {
    let sheet = SheetProfile::from_words("lines", Some(Length::from_mm(10.0))).expect("a kind and a pitch");
    Wanted { thickness: Some(thickness), ..Wanted::new(sheet) }
}

fn text(tracing: &Tracing) -> String {
    Record::of(tracing, serde_json::Map::new(), Vec::new()).to_text() + &svg(tracing)
}

#[test]
fn another_thickness_comes_to_the_same_as_a_fresh_run() {
    let mut session = Session::new(shot(), wanted(0.0));
    let flat = session.run(&mut Proof::off()).expect("traced");
    session.want(wanted(2.0));
    let redone = session.run(&mut Proof::off()).expect("traced again");
    let fresh = Session::new(shot(), wanted(2.0)).run(&mut Proof::off()).expect("traced afresh");
    assert_ne!(text(&flat), text(&redone));
    assert_eq!(text(&redone), text(&fresh));
}

#[test]
fn a_name_touches_nothing_but_names() {
    let mut session = Session::new(shot(), wanted(2.0));
    let before = session.run(&mut Proof::off()).expect("traced");
    let corner = before.pieces[0].outline.corners[1].at;
    let seen: Px = before.view.to_px(corner, 2.0);
    let named =
        CornerNotes { name: "mouth".into(), at: Place::Px(Px::new(seen.x + 3.0, seen.y - 2.0)), round: false, exact: false, picture: None };
    let notes = ShotNotes { piece: Some("patch pocket".into()), corners: vec![named], ..ShotNotes::default() };
    session.want(Wanted { notes, ..wanted(2.0) });
    let after = session.run(&mut Proof::off()).expect("traced again");
    assert_eq!(after.pieces[0].name, "patch pocket");
    assert_eq!(after.pieces[0].corner_names[1], "mouth");
    assert_eq!(after.pieces[0].outline.path, before.pieces[0].outline.path);
}

#[test]
fn workings_hold_a_check_picture_and_a_time_for_every_stage() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut proof = Proof::into_dir(folder.path());
    Session::new(shot(), wanted(2.0)).run(&mut proof).expect("traced");
    proof.finish().expect("written");
    for name in ["grid-nodes", "view-residuals", "cloth-regions", "seam-lines", "outline-deviations"] {
        let picture = image::open(folder.path().join(format!("{name}.png"))).expect("a check picture").to_rgb8();
        let first = *picture.get_pixel(0, 0);
        assert!(picture.pixels().any(|p| *p != first), "{name} shows nothing");
    }
    let figures = std::fs::read_to_string(folder.path().join("figures.json")).expect("figures");
    let figures: serde_json::Value = serde_json::from_str(&figures).expect("JSON");
    for stage in ["grid", "view", "cloth", "seam", "outline"] {
        assert!(figures[stage]["time_ms"].as_f64().is_some_and(|t| t > 0.0), "no time for {stage}");
    }
}

/// A pitch that was measured to 0.02 % costs a tenth of the usual 0.2 %, and is no doubt any more; the shape is the same.
#[test]
fn a_measured_sheet_costs_less() {
    let mut session = Session::new(shot(), wanted(2.0));
    let printed = session.run(&mut Proof::off()).expect("traced");
    let sheet = SheetProfile { measured: Some("steel rule, 40 squares".into()), pitch_error: [2e-4; 2], ..wanted(2.0).sheet };
    session.want(Wanted { sheet, ..wanted(2.0) });
    let measured = session.run(&mut Proof::off()).expect("traced again");
    let doubted = |t: &Tracing| t.doubts.iter().any(|d| d.code() == "pitch-not-measured");
    assert!(doubted(&printed) && !doubted(&measured));
    let (a, b) = (printed.budget.worst, measured.budget.worst);
    assert!((a.sheet / b.sheet - 10.0).abs() < 1e-9, "{} {}", a.sheet, b.sheet);
    // The farthest place of a pocket of 185 mm is 100 to 130 mm from its middle: 0.2 % of that, 95 %.
    assert!((0.35..0.55).contains(&a.sheet), "{}", a.sheet);
    assert_eq!((a.edge, a.grid, printed.pieces[0].bound), (b.edge, b.grid, measured.pieces[0].bound));
    let m = printed.budget.median;
    assert!(m.sheet < a.sheet && m.edge <= a.edge && m.thickness <= a.thickness && m.grid > 0.0);
}
