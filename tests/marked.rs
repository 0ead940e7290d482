//! From a picture with marks and notes to the outline: marks neither dent the rim nor become pieces or holes, their names go to
//! corners, and what the notes say of regions, places and edges is obeyed.

// Figures are shown when a test fails or with --nocapture.
#![allow(clippy::print_stdout)]

mod judge;
mod render;

use judge::{Figures, compare, complaint, nothing_written, outline, trace};
use render::camera::{Camera, Stand};
use render::cloth::{Fabric, Piece};
use render::curve::{Curve, Point};
use render::file::{self, Written};
use render::scene::{Scene, Thing};
use render::shapes::{self, Figure, around, disc, pointer};
use render::sheet::{Sheet, srgb};
use serde_json::Value;
use std::path::PathBuf;
use std::process::Output;

const RED: [u8; 3] = [206, 32, 44];

fn scene(piece: Piece) -> Scene {
    let stand = Stand { film_mm: 26.0, tilt: 14.0, side: 60.0, roll: 4.0 };
    let camera = Camera::framing([1632, 1224], stand, &around([&piece.outline], 60.0), 0.96)
        .with_slack(0.993, [4.0, -3.0])
        .with_lens(-0.035, 0.012, 0.0002, -0.0002);
    Scene::new(camera, Sheet::lines(25.4, [1000.0, 900.0]), vec![piece])
}

fn pocket() -> Piece {
    Piece::new("pocket", &shapes::pocket(&mut Figure::varied(2, 0.08)), Fabric::plain(srgb(70, 80, 120)), 1.5)
}

fn bodice() -> Piece {
    Piece::new("front", &shapes::bodice(&mut Figure::varied(2, 0.08)), Fabric::plain(srgb(70, 80, 120)), 1.5)
}

fn sticker(piece: Piece, at: Point, across: f64) -> Piece {
    piece.with_sewn_on(&disc(at, across), srgb(RED[0], RED[1], RED[2]))
}

fn thing(scene: &mut Scene, outline: Curve, height: f64, c: [u8; 3]) {
    scene.things.push(Thing { outline, height, colour: srgb(c[0], c[1], c[2]) });
}

/// A picture with its notes in a folder of their own.
struct Desk {
    folder: tempfile::TempDir,
    scene: Scene,
}

impl Desk {
    fn new(scene: Scene) -> Self {
        let folder = tempfile::tempdir().expect("a folder");
        std::fs::write(folder.path().join("shot.jpg"), file::jpeg(&scene.draw(), &Written::phone(26))).expect("written");
        Self { folder, scene }
    }

    fn out(&self) -> PathBuf {
        self.folder.path().join("out")
    }

    fn run(&self, notes: &str, more: &[&str]) -> Output {
        std::fs::write(self.folder.path().join("garment.toml"), notes).expect("written");
        let picture = self.folder.path().join("shot.jpg");
        let thickness = format!("{}mm", self.scene.pieces[0].thickness);
        let mut words = vec![picture.into_os_string(), "--out".into(), self.out().into_os_string()];
        words.extend(["--sheet", "lines", "--pitch", "1in", "--thickness", &thickness].iter().chain(more).map(Into::into));
        if let Some(dir) = std::env::var_os("RUBOFF_WORKINGS") {
            words.extend(["--workings".into(), dir]);
        }
        trace(words)
    }

    fn traced(&self, notes: &str, more: &[&str]) -> (Value, String) {
        let output = self.run(notes, more);
        let talk = String::from_utf8_lossy(&output.stderr).into_owned();
        assert!(output.status.success(), "{talk}");
        (outline(&self.out(), "shot"), talk)
    }

    fn refused(&self, notes: &str, more: &[&str], word: &str) {
        let _ = std::fs::remove_dir_all(self.out());
        let text = complaint(&self.run(notes, more));
        println!("{}", text.trim_end());
        assert!(text.contains(word), "no {word:?} in: {text}");
        assert!(nothing_written(&self.out()));
    }

    fn px(&self, at: Point) -> Point {
        self.scene.camera.project(at, self.scene.pieces[0].thickness)
    }
}

fn measured(given: &Value, truth: &Piece) -> Figures {
    let pieces = given["pieces"].as_array().expect("pieces");
    assert_eq!(pieces.len(), 1, "one piece");
    assert_eq!(pieces[0]["holes"].as_array().map(Vec::len), Some(truth.holes.len()), "holes");
    let f = compare(&pieces[0], truth);
    println!(
        "p95 {:.3} max {:.3} bias {:+.3} mm, corners {:.2}/{:.2} mm, {} false, bound held {:.3}",
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

fn names<'a>(list: &'a Value, key: &str) -> Vec<&'a str> {
    list.as_array().map(|l| l.iter().filter_map(|v| v[key].as_str()).collect()).unwrap_or_default()
}

fn codes(given: &Value) -> Vec<&str> {
    names(&given["doubts"], "code")
}

/// Stickers on two corners, across the rim, within the cloth and on the sheet.
#[test]
fn stickers_leave_the_outline_as_it_is() {
    let clean = bodice();
    let corners = clean.outline.corners();
    let mut piece = clean.clone();
    for at in [corners[0], corners[2], [0.0, 40.0], [60.0, -30.0]] {
        piece = sticker(piece, at, 8.0);
    }
    // Across a side, half over the sheet.
    let side = clean.outline.points(1.0).into_iter().min_by(|a, b| (a[1] - 150.0).abs().total_cmp(&(b[1] - 150.0).abs())).expect("a side");
    piece = sticker(piece, side, 8.0);
    let mut scene = scene(piece);
    let [x, y] = around([&clean.outline], 25.0)[0];
    thing(&mut scene, disc([x, y + 60.0], 8.0), 0.1, RED);
    let desk = Desk::new(scene);
    let notes = "[[shot]]\n[[shot.marks]]\nare = \"stickers\"\ncounted = \"rows\"\n";
    let (given, talk) = desk.traced(notes, &[]);
    assert!(talk.contains("6 stickers found, 5 on the cloth"), "{talk}");
    let marks = given["marks"].as_array().expect("marks");
    assert_eq!(marks.iter().filter(|m| m["on"] == "sheet").count(), 1);
    let f = measured(&given, &clean);
    assert!(f.laid.p95() <= 0.2 && f.laid.max() <= 0.6 && f.laid.bias.abs() <= 0.05);
    assert!(f.worst_corner <= 0.8 && f.false_corners == 0, "corners");
    assert!(f.held >= 0.93, "bounds");
}

#[test]
fn marks_give_their_names_and_places() {
    let clean = pocket();
    let corners = clean.outline.corners();
    let [seam_top, seam_end] = [[10.0, -40.0], [5.0, 55.0]];
    let seam = Curve::from(seam_top).cubic([18.0, -10.0], [16.0, 20.0], seam_end);
    let mut piece = clean.clone().with_seam(seam);
    // At the corners, and where the seam begins and ends.
    for at in corners.iter().copied().chain([seam_top, seam_end]) {
        piece = sticker(piece, at, 6.0);
    }
    let desk = Desk::new(scene(piece));
    let (count, first) = (corners.len() + 2, "[[shot]]\npiece = \"pocket\"\n");
    let list: Vec<String> = (0..count).map(|k| format!("\"m{}\"", k + 1)).collect();
    let marks = format!("{first}[[shot.marks]]\nare = \"stickers\"\nnames = [{}]\n", list.join(", "));
    let (given, _) = desk.traced(&marks, &[]);
    let named = names(&given["marks"], "name");
    assert_eq!(named.len(), count);
    // Every corner lies under a mark and has its name.
    let corner_names = names(&given["pieces"][0]["corners"], "name");
    assert!(corner_names.iter().all(|n| named.contains(n)), "{corner_names:?}");
    let number = |at: Point| {
        let seen = desk.px(at);
        let off = |m: &Value| (m["px"][0].as_f64().expect("px") - seen[0]).hypot(m["px"][1].as_f64().expect("px") - seen[1]);
        let all = given["marks"].as_array().expect("marks");
        (0..all.len()).min_by(|a, b| off(&all[*a]).total_cmp(&off(&all[*b]))).expect("a mark") + 1
    };
    let (a, b) = (number(seam_top), number(seam_end));
    let notes = format!(
        "{marks}[[shot.inner]]\nname = \"welt\"\nmark = [\"m{a}\", {b}]\n[[shot.corner]]\nname = \"mouth\"\nmark = {}\n",
        number(corners[0])
    );
    let (given, _) = desk.traced(&notes, &[]);
    let inner = &given["pieces"][0]["inner"][0];
    assert_eq!(inner["name"], "welt");
    let length = inner["length_mm"].as_f64().expect("a length");
    assert!((length - 97.5).abs() < 2.5, "{length}");
    assert!(names(&given["pieces"][0]["corners"], "name").contains(&"mouth"));
    desk.refused(&notes.replace(&format!("\"m{count}\""), &format!("\"m{count}\", \"one too many\"")), &[], "but");
    desk.refused(&format!("{notes}[[shot.through]]\nmark = 40\n"), &[], "mark 40");
    desk.refused(&marks.replace("[[shot]]", "[garment]\nfragile = true\n[[shot]]"), &[], "fragile");
    desk.refused("[garment]\nfragile = true\n", &["--marks", "stickers"], "fragile");
}

/// A fragile piece: nothing touches it; slips of paper beside it point at its corners and give them their names.
#[test]
fn pointers_show_corners_of_a_fragile_piece() {
    let piece = pocket();
    let corners = piece.outline.corners();
    let mut scene = scene(piece.clone());
    for c in &corners {
        let out = c[1].atan2(c[0]);
        let tip = [c[0] + 5.0 * out.cos(), c[1] + 5.0 * out.sin()];
        thing(&mut scene, pointer(tip, out.to_degrees() + 180.0, 36.0, 11.0), 0.1, [0, 120, 200]);
    }
    let desk = Desk::new(scene);
    let list: Vec<String> = (0..corners.len()).map(|k| format!("\"p{k}\"")).collect();
    let notes = format!("[garment]\nfragile = true\n[[shot]]\n[[shot.marks]]\nare = \"pointers\"\nnames = [{}]\n", list.join(", "));
    let (given, talk) = desk.traced(&notes, &[]);
    assert!(talk.contains("pointers found, 0 on the cloth"), "{talk}");
    let named = names(&given["pieces"][0]["corners"], "name");
    assert!(named.iter().all(|n| n.starts_with('p')), "{named:?}");
    let f = measured(&given, &piece);
    assert!(f.laid.p95() <= 0.2 && f.worst_corner <= 0.6 && f.false_corners == 0);
}

/// A price tag sticks out of the piece: left out, the rim runs along the border of the region, which is told as laid down by hand.
#[test]
fn a_region_left_out_is_cut_off_by_its_border() {
    let clean = pocket();
    let [_, [right, _], _, _] = around([&clean.outline], 0.0);
    let mut scene = scene(clean.clone());
    let tag = Curve::from([right - 12.0, -30.0]).line([right + 45.0, -30.0]).line([right + 45.0, 6.0]).line([right - 12.0, 6.0]).close();
    scene.pieces[0] = scene.pieces[0].clone().with_sewn_on(&tag.clockwise(true), srgb(70, 80, 120));
    let desk = Desk::new(scene);
    let (with_tag, _) = desk.traced("[[shot]]\n", &[]);
    let area = |v: &Value| v["pieces"][0]["area_mm2"].as_f64().expect("an area");
    assert!(area(&with_tag) > clean.area() + 1200.0, "the tag is cloth to the program");
    let border: Vec<String> = [[right, -60.0], [right + 70.0, -60.0], [right + 70.0, 40.0], [right, 40.0]]
        .iter()
        .map(|p| desk.px(*p))
        .map(|p| format!("[{:.1}, {:.1}]", p[0], p[1]))
        .collect();
    let notes = format!("[[shot]]\n[[shot.region]]\nis = \"left out\"\npx = [{}]\n", border.join(", "));
    let (given, _) = desk.traced(&notes, &[]);
    println!("area {:.0} of {:.0}, with the tag {:.0}", area(&given), clean.area(), area(&with_tag));
    assert!((area(&given) / clean.area() - 1.0).abs() < 0.006);
    assert!(names(&given["pieces"][0]["edges"], "found").contains(&"hand"));
}

/// Nobody sticks a sticker over the very corner: one 8 mm beside it, along the edge and on the cloth, is still that corner's.
#[test]
fn a_sticker_beside_a_corner_shows_that_corner() {
    let clean = bodice();
    let corners = clean.outline.corners();
    let mut along = clean.outline.points(1.0).into_iter();
    let off = |p: &Point| (p[0] - corners[2][0]).hypot(p[1] - corners[2][1]);
    let beside = along.rfind(|p| (8.0..10.0).contains(&off(p))).expect("a place beside the corner");
    let desk = Desk::new(scene(sticker(clean.clone(), beside, 6.0)));
    let notes = "[[shot]]\n[[shot.marks]]\nare = \"stickers\"\nnames = [\"a\"]\n[[shot.corner]]\nname = \"marked\"\nmark = \"a\"\n";
    let (given, _) = desk.traced(notes, &[]);
    let f = measured(&given, &clean);
    assert!(f.worst_corner <= 0.8 && f.false_corners == 0, "corners");
    assert!(names(&given["pieces"][0]["corners"], "name").contains(&"marked"));
}

/// A seam asked for on the bare sheet is left out and told; a region can't be kept and left out.
#[test]
fn what_the_notes_ask_for_in_the_wrong_place_is_told() {
    let piece = pocket();
    let [_, [right, _], _, _] = around([&piece.outline], 0.0);
    let desk = Desk::new(scene(piece));
    let px = |p: Point| desk.px(p).map(|v| format!("{v:.1}")).join(", ");
    let bare = [[right + 25.0, -40.0], [right + 25.0, 40.0]].map(px);
    let (given, talk) = desk.traced(&format!("[[shot]]\n[[shot.inner]]\nname = \"welt\"\npx = [[{}], [{}]]\n", bare[0], bare[1]), &[]);
    assert!(codes(&given).contains(&"seam-off-cloth") && talk.contains("welt was asked for where no piece lies"), "{talk}");
    assert_eq!(given["pieces"][0]["inner"].as_array().map(Vec::len), Some(0));
    let region = |is: &str, by: f64| {
        let border = [[-20.0 + by, -20.0], [20.0 + by, -20.0], [20.0 + by, 20.0]].map(px).map(|p| format!("[{p}]")).join(", ");
        format!("[[shot.region]]\nis = \"{is}\"\npx = [{border}]\n")
    };
    desk.refused(&format!("[[shot]]\n{}{}", region("kept", 0.0), region("left out", 1.0)), &[], "that it is kept and that it is left out");
}

/// An armhole that is said to be straight is drawn so, with a doubt; an edge between corners that are no neighbours is a doubt.
#[test]
fn an_edge_said_to_be_straight_is_drawn_with_a_ruler() {
    let piece = bodice();
    let corners = piece.outline.corners();
    let desk = Desk::new(scene(piece));
    let corner = |k: usize| {
        let p = desk.px(corners[k]);
        format!("[[shot.corner]]\nname = \"c{k}\"\npx = [{:.1}, {:.1}]\n", p[0], p[1])
    };
    let edge = |a: usize, b: usize| format!("[[shot.edge]]\nname = \"armhole\"\nfrom = \"c{a}\"\nto = \"c{b}\"\nshape = \"straight\"\n");
    let three = format!("[[shot]]\n{}{}{}", corner(1), corner(2), corner(4));
    let (given, _) = desk.traced(&(three.clone() + &edge(2, 1)), &[]);
    let edges = given["pieces"][0]["edges"].as_array().expect("edges");
    let armhole = edges.iter().find(|e| e["name"] == "armhole").expect("the armhole");
    assert_eq!(armhole["shape"], "straight");
    assert!(codes(&given).contains(&"not-straight"));
    let (given, _) = desk.traced(&(three + &edge(1, 4)), &[]);
    assert!(codes(&given).contains(&"edge-not-there"));
}

/// The rim is said to pass through a place two millimetres out, a corner to be round.
#[test]
fn places_and_corners_are_as_the_notes_say() {
    let piece = pocket();
    let corners = piece.outline.corners();
    let desk = Desk::new(scene(piece));
    let (free, _) = desk.traced("[[shot]]\n", &[]);
    let px = |p: Point| format!("px = [{:.1}, {:.1}]", p[0], p[1]);
    // Above the middle of the mouth.
    let top = corners.iter().map(|c| c[1]).fold(f64::INFINITY, f64::min);
    let through = [8.0, top - 2.5];
    let notes = format!("[[shot]]\n[[shot.through]]\n{}\n", px(desk.px(through)));
    let (given, _) = desk.traced(&notes, &[]);
    let track = |v: &Value| judge::path(&v["pieces"][0]["outline"]).points(0.5);
    let was = render::lay::Track::new(track(&free));
    let moved = track(&given).iter().map(|p| was.distance(*p)).fold(0.0, f64::max);
    println!("moved by {moved:.2} mm, {:?}", codes(&given));
    assert!((1.5..3.2).contains(&moved) && !codes(&given).contains(&"passed-by"), "the rim passes through the place");
    let all = free["pieces"][0]["corners"].as_array().map_or(0, Vec::len);
    assert!(all >= corners.len());
    let round = format!("[[shot]]\n[[shot.corner]]\nname = \"bend\"\n{}\nround = true\n", px(desk.px(corners[0])));
    let (given, _) = desk.traced(&round, &[]);
    assert_eq!(given["pieces"][0]["corners"].as_array().map(Vec::len), Some(all - 1), "one corner less");
    desk.refused("[[shot]]\n[[shot.through]]\npx = [9000, 10]\n", &[], "outside the picture");
    desk.refused("[[shot]]\n[[shot.region]]\nis = \"kept\"\npx = [[1, 1], [9, 9], [9, 1], [1, 9]]\n", &[], "crosses itself");
    let far = "[[shot]]\n[[shot.through]]\npx = [40, 40]\n";
    assert!(codes(&desk.traced(far, &[]).0).contains(&"passed-by"));
    let nowhere = "[[shot]]\n[[shot.corner]]\nname = \"bend\"\npx = [40, 40]\nround = true\n";
    assert!(!codes(&given).contains(&"corner-nowhere") && codes(&desk.traced(nowhere, &[]).0).contains(&"corner-nowhere"));
}

/// However far off a clean edge a place is given, up to where it was hardly meant, the outline passes there and comes back to the edge within
/// some centimetres.
#[test]
fn a_place_off_a_clean_edge_is_passed() {
    let piece = pocket();
    let top = piece.outline.corners().iter().map(|c| c[1]).fold(f64::INFINITY, f64::min);
    let desk = Desk::new(scene(piece));
    let (free, _) = desk.traced("[[shot]]\n", &[]);
    let track = |v: &Value| render::lay::Track::new(judge::path(&v["pieces"][0]["outline"]).points(0.5));
    let was = track(&free);
    for off in [1.6, 2.5, 3.5, 4.5, 5.5, 6.5, 7.5] {
        for side in [-1.0, 1.0] {
            let place = [8.0, top + side * off];
            let p = desk.px(place);
            let (given, _) = desk.traced(&format!("[[shot]]\n[[shot.through]]\npx = [{:.1}, {:.1}]\n", p[0], p[1]), &[]);
            let bent = judge::path(&given["pieces"][0]["outline"]).points(0.5);
            // The scene's places and the outline's lie on sheets of their own: what moved is told by the free outline.
            let moved = bent.iter().map(|p| was.distance(*p)).fold(0.0, f64::max);
            assert!((moved - off).abs() < 0.9, "{:.1} mm off: moved by {moved:.2} mm, {:?}", side * off, codes(&given));
            assert!(!codes(&given).contains(&"passed-by"), "{:.1} mm off", side * off);
        }
    }
}
