//! Cloth found on small sheets drawn here: holes, cloth over the sheet's edge, things, nothing at all. Common practice, no
//! source: sizes are those of a real sheet seen at 2 px to the millimetre.
#![allow(clippy::unwrap_used)]

use ruboff::cloth::{Cloth, ClothError, Settings, Side, find};
use ruboff::grid::{Lattice, Node};
use ruboff::length::{Mm, Px};
use ruboff::proof::{Doubt, Proof};
use ruboff::sheet::SheetKind;
use ruboff::shot::Shot;
use ruboff::view::{Model, View};

const W: usize = 1000;
const H: usize = 760;
const SCALE: f64 = 2.0;
const PITCH: f64 = 20.0;

/// What is drawn at a place in mm, as linear light, `None` where the sheet shows.
type Paint<'a> = &'a dyn Fn(f64, f64) -> Option<[f64; 3]>;

/// A sheet of the size given (mm, from the corner) on a brown table, light falling off, blue lines, noise, and cloth on it.
fn draw(sheet: [f64; 2], cloth: Paint) -> (Shot, Lattice, View) {
    let mut rgb = vec![0u8; W * H * 3];
    let mut seed = 1u64;
    let mut noise = || {
        seed = seed.wrapping_mul(6364136223846793005).wrapping_add(1442695040888963407);
        ((seed >> 33) as f64 / f64::from(1u32 << 31) - 0.5) * 0.02
    };
    for y in 0..H {
        for x in 0..W {
            let (u, v) = (x as f64 / SCALE, y as f64 / SCALE);
            let near = |t: f64| (t - (t / PITCH).round() * PITCH).abs();
            let light = 0.8 - 0.25 * u / 500.0 - 0.1 * v / 380.0;
            let bare = if u > sheet[0] || v > sheet[1] {
                [0.25, 0.12, 0.06]
            } else if near(u) < 0.4 || near(v) < 0.4 {
                [0.35, 0.45, 0.8]
            } else {
                [1.0, 0.97, 0.92]
            };
            for (k, v) in cloth(u, v).unwrap_or(bare).iter().enumerate() {
                let v = (v * light * (1.0 + noise())).clamp(0.0, 1.0);
                let s = if v <= 0.0031308 { 12.92 * v } else { 1.055 * v.powf(1.0 / 2.4) - 0.055 };
                rgb[(y * W + x) * 3 + k] = (s * 255.0).round() as u8;
            }
        }
    }
    let view = View::known(Model::Scan { matrix: [SCALE, 0.0, 0.0, SCALE, 0.0, 0.0] }, W, H);
    let mut nodes = Vec::new();
    for j in 1..(H as f64 / SCALE / PITCH) as i32 {
        for i in 1..(W as f64 / SCALE / PITCH) as i32 {
            let mm = Mm::new(f64::from(i) * PITCH, f64::from(j) * PITCH);
            if mm.x < sheet[0] && mm.y < sheet[1] && cloth(mm.x, mm.y).is_none() {
                nodes.push(Node { at: view.to_px(mm, 0.0), i, j, error: 0.1 });
            }
        }
    }
    let lattice = Lattice { kind: SheetKind::Lines, pitch: [PITCH; 2], nodes, mark_half_width: 0.4, ..Lattice::default() };
    (Shot::from_rgb(W, H, rgb), lattice, view)
}

fn look(sheet: [f64; 2], cloth: Paint, settings: Settings) -> Result<Cloth, ClothError> {
    let (shot, lattice, view) = draw(sheet, cloth);
    find(&shot, &lattice, &view, &settings, &mut Proof::off())
}

const WHOLE: [f64; 2] = [1e3, 1e3];
const RED: [f64; 3] = [0.45, 0.05, 0.08];

fn square(u: f64, v: f64, from: [f64; 2], to: [f64; 2]) -> bool {
    u >= from[0] && u <= to[0] && v >= from[1] && v <= to[1]
}

#[test]
fn a_hole_with_the_sheet_in_it_is_a_hole() {
    let cloth = |u: f64, v: f64| (square(u, v, [100.0, 80.0], [360.0, 300.0]) && (u - 230.0).hypot(v - 170.0) > 45.0).then_some(RED);
    let found = look(WHOLE, &cloth, Settings::default()).unwrap();
    assert_eq!(found.regions.len(), 1);
    let r = &found.regions[0];
    assert_eq!(r.holes.len(), 1);
    let want = 260.0 * 220.0 - std::f64::consts::PI * 45.0 * 45.0;
    assert!((r.area / want - 1.0).abs() < 0.01, "{} for {want}", r.area);
    for p in &r.holes[0] {
        assert!(((p.x - 460.0).hypot(p.y - 340.0) / SCALE - 45.0).abs() < 1.0, "{p:?}");
    }
    assert!(r.cut_by.is_empty() && found.doubts.is_empty());
}

#[test]
fn the_colour_of_the_sheet_itself_is_found_by_the_missing_lines() {
    // White cloth with a thin dark line at its rim, as contact with the sheet leaves one.
    let cloth = |u: f64, v: f64| {
        let r = (u - 240.0).hypot(v - 190.0);
        (r < 110.0).then_some(if r > 109.0 { [0.8, 0.78, 0.74] } else { [1.0, 0.97, 0.92] })
    };
    let found = look(WHOLE, &cloth, Settings::default()).unwrap();
    assert_eq!(found.regions.len(), 1);
    assert!(found.regions[0].holes.is_empty());
    for p in &found.regions[0].rim {
        assert!(((p.x - 480.0).hypot(p.y - 380.0) / SCALE - 110.0).abs() < 3.0, "{p:?}");
    }
}

#[test]
fn cloth_over_the_sheets_edge_is_followed_on_to_the_table() {
    let cloth = |u: f64, v: f64| square(u, v, [200.0, 90.0], [440.0, 260.0]).then_some(RED);
    let found = look([350.0, 1e3], &cloth, Settings::default()).unwrap();
    assert_eq!(found.regions.len(), 1);
    assert!((found.regions[0].area / (240.0 * 170.0) - 1.0).abs() < 0.02, "{}", found.regions[0].area);
    let place = found.doubts.iter().find(|d| matches!(d, Doubt::OverSheetEdge { .. })).and_then(Doubt::place).unwrap();
    assert!((340.0..=380.0).contains(&place.x) && (90.0..=260.0).contains(&place.y), "{place:?}");
}

#[test]
fn the_frame_cuts_and_partial_lets_it() {
    let cloth = |u: f64, v: f64| square(u, v, [250.0, 90.0], [600.0, 260.0]).then_some(RED);
    assert_eq!(look(WHOLE, &cloth, Settings::default()).unwrap_err(), ClothError::CutOff(vec![Side::Right]));
    let part = look(WHOLE, &cloth, Settings { partial: true, ..Settings::default() }).unwrap();
    assert_eq!(part.regions[0].cut_by, [Side::Right]);
}

#[test]
fn a_pencil_a_weight_and_nothing_are_no_garment() {
    let things = |u: f64, v: f64| {
        let pencil = square(u, v, [60.0, 200.0], [235.0, 207.0]);
        let weight = (18.0..=40.0).contains(&((u - 380.0).hypot(v - 120.0) * 2.0));
        (pencil || weight).then_some(if pencil { [0.8, 0.5, 0.05] } else { [0.2, 0.21, 0.22] })
    };
    assert_eq!(look(WHOLE, &things, Settings::default()).unwrap_err(), ClothError::Nothing);
    assert_eq!(look(WHOLE, &|_, _| None, Settings::default()).unwrap_err(), ClothError::Nothing);
    let asked = look(WHOLE, &things, Settings { pieces: Some(3), ..Settings::default() }).unwrap_err();
    assert!(matches!(asked, ClothError::Fewer { asked: 3, .. }), "{asked:?}");
}

#[test]
fn a_large_weight_is_left_out_beside_a_piece_and_a_band_alone_is_one() {
    let weight = |u: f64, v: f64| (20.0..=43.0).contains(&(u - 450.0).hypot(v - 330.0));
    let cloth = |u: f64, v: f64| (square(u, v, [60.0, 60.0], [330.0, 300.0]) || weight(u, v)).then_some(RED);
    let found = look(WHOLE, &cloth, Settings::default()).unwrap();
    assert_eq!((found.regions.len(), found.others.len()), (1, 1));
    let band = |u: f64, v: f64| square(u, v, [60.0, 60.0], [440.0, 90.0]).then_some(RED);
    assert_eq!(look(WHOLE, &band, Settings::default()).unwrap().regions.len(), 1);
}

#[test]
fn how_many_pieces_can_be_said() {
    let cloth = |u: f64, v: f64| {
        (square(u, v, [60.0, 60.0], [200.0, 300.0])
            || square(u, v, [260.0, 60.0], [330.0, 130.0])
            || square(u, v, [260.0, 200.0], [290.0, 225.0]))
        .then_some(RED)
    };
    let found = look(WHOLE, &cloth, Settings::default()).unwrap();
    assert_eq!((found.regions.len(), found.others.len()), (2, 1));
    assert!(found.doubts.iter().any(|d| matches!(d, Doubt::ThingsLeftOut { pieces: 2, things: 1, .. })));
    let all = look(WHOLE, &cloth, Settings { pieces: Some(3), ..Settings::default() }).unwrap();
    assert_eq!(all.regions.len(), 3);
    assert!(all.regions.is_sorted_by(|a, b| a.area >= b.area));
}

#[test]
fn the_light_of_the_bare_sheet_is_known_under_the_cloth() {
    let cloth = |u: f64, v: f64| square(u, v, [120.0, 80.0], [340.0, 300.0]).then_some(RED);
    let found = look(WHOLE, &cloth, Settings::default()).unwrap();
    let at = found.light.at(Px::new(460.0, 380.0));
    let light = 0.8 - 0.25 * 230.0 / 500.0 - 0.1 * 190.0 / 380.0;
    for (got, ground) in at.iter().zip([1.0, 0.97, 0.92]) {
        assert!((f64::from(*got) / (light * ground) - 1.0).abs() < 0.03, "{at:?}");
    }
}
