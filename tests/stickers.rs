//! Marks laid by hand, on rendered pictures with known truth: found, none missed, none false, and where.
//!
//! (Common practice, no source: round stickers of 6 to 19 mm, pin heads of 3 to 5 mm, paper pointers some centimetres long.)

// Figures are shown when a test fails or with --nocapture.
#![allow(clippy::print_stdout)]

mod render;

use render::camera::{Camera, Stand};
use render::cloth::{Fabric, Piece, Weave};
use render::curve::{Curve, Point};
use render::file::{self, Written};
use render::light::Light;
use render::scene::{Scene, Thing};
use render::shapes::{self, Figure, around, disc, pointer};
use render::sheet::{Rgb, Sheet, srgb};
use ruboff::grid;
use ruboff::length::{Length, Px};
use ruboff::notes::{Counted, MarkColour, MarkKind, MarksNotes};
use ruboff::proof::Proof;
use ruboff::sheet::SheetProfile;
use ruboff::shot::{Limits, Shot};
use ruboff::sticker::{self, Mark};
use ruboff::view::{self, View};

const RED: [u8; 3] = [206, 32, 44];
const GREEN: [u8; 3] = [40, 160, 70];

fn colour(c: [u8; 3]) -> Rgb {
    srgb(c[0], c[1], c[2])
}

/// A scene with marks: where each truly is, and its height above the sheet.
struct Laid {
    scene: Scene,
    truth: Vec<(Point, f64)>,
}

impl Laid {
    fn new(size: [usize; 2], stand: Stand, sheet: Sheet, piece: Piece) -> Self {
        let camera = Camera::framing(size, stand, &around([&piece.outline], 60.0), 0.96)
            .with_slack(0.995, [4.0, -3.0])
            .with_lens(-0.04, 0.012, 0.0002, -0.0002);
        Self { scene: Scene::new(camera, sheet, vec![piece]), truth: Vec::new() }
    }

    /// A round mark on the cloth, also where it reaches over its edge.
    fn on_cloth(mut self, at: Point, across: f64, c: [u8; 3]) -> Self {
        self.scene.pieces[0] = self.scene.pieces[0].clone().with_sewn_on(&disc(at, across), colour(c));
        self.truth.push((at, self.scene.pieces[0].thickness));
        self
    }

    fn on_sheet(mut self, at: Point, across: f64, c: [u8; 3]) -> Self {
        self.thing(disc(at, across), 0.1, c);
        self.truth.push((at, 0.1));
        self
    }

    fn pointer(mut self, tip: Point, degrees: f64, length: f64, width: f64, c: [u8; 3]) -> Self {
        self.thing(pointer(tip, degrees, length, width), 0.1, c);
        self.truth.push((tip, 0.1));
        self
    }

    fn thing(&mut self, outline: Curve, height: f64, c: [u8; 3]) {
        self.scene.things.push(Thing { outline, height, colour: colour(c) });
    }

    /// What is found, with the view it was found by.
    fn find(&self, kind: &str, pitch: f64, asked: &MarksNotes) -> (Vec<Mark>, View) {
        let folder = tempfile::tempdir().expect("a folder");
        let file = folder.path().join("shot.jpg");
        std::fs::write(&file, file::jpeg(&self.scene.draw(), &Written::phone(26))).expect("written");
        let shot = Shot::open(&file, &Limits::default()).expect("a picture");
        let profile = SheetProfile::from_words(kind, Some(Length::from_mm(pitch))).expect("a sheet");
        let lattice = grid::find(&shot, &profile, &grid::Settings::default(), &mut Proof::off()).expect("a grid");
        let size = (shot.width, shot.height);
        let view = view::solve(&lattice, size, &shot.tags, &view::Settings::default(), &mut Proof::off()).expect("a view").view;
        let mut proof = match std::env::var_os("RUBOFF_WORKINGS") {
            Some(dir) => Proof::into_dir(dir.as_ref()),
            None => Proof::off(),
        };
        let start = std::time::Instant::now();
        let found = sticker::find(&shot, &lattice, &view, std::slice::from_ref(asked), &mut proof).remove(0);
        println!("{} marks in {:.0} ms", found.len(), start.elapsed().as_secs_f64() * 1e3);
        proof.finish().expect("written");
        (found, view)
    }

    /// Distances of what was found from what is there, mm, each at its height; none is missed or found where none is.
    fn misses(&self, kind: &str, pitch: f64, asked: &MarksNotes) -> Vec<f64> {
        let (found, view) = self.find(kind, pitch, asked);
        let mut misses: Vec<f64> = Vec::new();
        for (at, height) in &self.truth {
            let seen = Px::from(self.scene.camera.project(*at, *height));
            let place = |p: Px| view.to_mm(p, *height).expect("on the sheet");
            let miss = found.iter().map(|m| place(m.px).distance(place(seen))).fold(f64::INFINITY, f64::min);
            println!("  {at:.0?}: {miss:.3}");
            misses.push(miss);
        }
        assert_eq!(found.len(), self.truth.len(), "marks found: {:?}", found.iter().map(|m| (m.px, m.across)).collect::<Vec<_>>());
        misses.sort_by(f64::total_cmp);
        misses
    }
}

fn stand(tilt: f64, side: f64) -> Stand {
    Stand { film_mm: 26.0, tilt, side, roll: 93.0 }
}

fn asked(are: MarkKind) -> MarksNotes {
    MarksNotes { are, colour: None, counted: Counted::Clockwise, names: vec![] }
}

fn bodice(fabric: Fabric) -> Piece {
    Piece::new("front", &shapes::bodice(&mut Figure::varied(2, 0.08)), fabric, 1.5)
}

fn p95(misses: &[f64]) -> f64 {
    misses[(misses.len() - 1) * 95 / 100]
}

/// Corners, middle and the sheet beside: on each kind of ground a sticker may have about it.
fn with_stickers(mut laid: Laid, across: f64, c: [u8; 3]) -> Laid {
    let piece = laid.scene.pieces[0].clone();
    for corner in piece.outline.corners().iter().take(5) {
        laid = laid.on_cloth(*corner, across, c);
    }
    for at in [[0.0, 30.0], [60.0, -40.0], [-90.0, 120.0]] {
        laid = laid.on_cloth(at, across, c);
    }
    let [x, y] = around([&piece.outline], 22.0)[0];
    laid.on_sheet([x, y + 40.0], across, c).on_sheet([x + 5.0, -y - 80.0], across, c)
}

/// 2 megapixels, about 2 pixels to the millimetre.
const SMALL: [usize; 2] = [1632, 1224];
const CLEAR: [usize; 2] = [2592, 1944];

#[test]
fn stickers_on_plain_cloth_and_ruled_paper() {
    let sheet = Sheet::lines(25.4, [1000.0, 900.0]);
    let laid = with_stickers(Laid::new(SMALL, stand(14.0, 60.0), sheet, bodice(Fabric::plain(srgb(104, 60, 96)))), 8.0, RED);
    let misses = laid.misses("lines", 25.4, &asked(MarkKind::Stickers));
    assert!(p95(&misses) <= 0.1, "{misses:?}");
}

#[test]
fn stickers_on_gingham_and_a_sheet_of_coloured_dots() {
    let fabric = Fabric::plain(srgb(240, 240, 238)).with(Weave::Gingham { period: 9.0 }, srgb(60, 90, 150));
    let sheet = Sheet { ink: srgb(190, 40, 60), ..Sheet::dots(25.4, [1000.0, 900.0]) };
    let laid = with_stickers(Laid::new(SMALL, stand(9.0, 200.0), sheet, bodice(fabric)), 10.0, GREEN);
    let misses = laid.misses("dots", 25.4, &asked(MarkKind::Stickers));
    assert!(p95(&misses) <= 0.1, "{misses:?}");
}

#[test]
fn stickers_on_a_mat_seen_from_the_side_under_a_lamp() {
    let sheet = Sheet::mat(10.0, 5, [1000.0, 900.0]);
    let mut laid =
        with_stickers(Laid::new(CLEAR, stand(26.0, 140.0), sheet, bodice(Fabric::plain(srgb(226, 222, 210)))), 8.0, [236, 120, 20]);
    laid.scene.light = Light::lamp();
    let misses = laid.misses("mat", 10.0, &asked(MarkKind::Stickers));
    assert!(p95(&misses) <= 0.1, "{misses:?}");
}

/// A weight of the stickers' colour, black buttons, and print in a colour of its own that is no disc.
#[test]
fn weights_buttons_and_print_are_no_stickers() {
    let piece = bodice(Fabric::plain(srgb(70, 84, 110)))
        .with_sewn_on(&disc([0.0, -60.0], 11.0), srgb(20, 20, 22))
        .with_sewn_on(&disc([0.0, -20.0], 11.0), srgb(20, 20, 22));
    let mut laid = Laid::new(SMALL, stand(12.0, 10.0), Sheet::checker(20.0, [1000.0, 900.0]), piece);
    laid = with_stickers(laid, 8.0, [250, 214, 30]);
    let outline = laid.scene.pieces[0].outline.clone();
    let [x, y] = around([&outline], 30.0)[2];
    laid.thing(disc([x - 20.0, y - 40.0], 52.0), 8.0, [250, 214, 30]);
    for k in 0..5 {
        let at = [-60.0 + 30.0 * f64::from(k), 180.0];
        let leaf = shapes::ellipse(13.0, 3.0).laid(40.0 * f64::from(k), at);
        laid.scene.pieces[0] = laid.scene.pieces[0].clone().with_sewn_on(&leaf, colour(GREEN));
    }
    let misses = laid.misses("checker", 20.0, &asked(MarkKind::Stickers));
    assert!(p95(&misses) <= 0.1, "{misses:?}");
}

#[test]
fn red_stickers_among_green_ones() {
    let laid = Laid::new(SMALL, stand(12.0, 10.0), Sheet::lines(25.4, [1000.0, 900.0]), bodice(Fabric::plain(srgb(40, 44, 60))));
    let mut laid = with_stickers(laid, 8.0, RED);
    for at in [[20.0, 100.0], [-40.0, 60.0], [70.0, 70.0]] {
        laid.scene.pieces[0] = laid.scene.pieces[0].clone().with_sewn_on(&disc(at, 8.0), colour(GREEN));
    }
    let named = MarksNotes { names: (0..10).map(|k| format!("mark {k}")).collect(), ..asked(MarkKind::Stickers) };
    assert!(p95(&laid.misses("lines", 25.4, &named)) <= 0.1, "by their number");
    let red = MarksNotes { colour: Some(MarkColour::Red), ..asked(MarkKind::Stickers) };
    assert!(p95(&laid.misses("lines", 25.4, &red)) <= 0.1, "by their colour");
}

#[test]
fn pin_heads_on_twill() {
    let fabric = Fabric::plain(srgb(60, 74, 104)).with(Weave::Twill, srgb(130, 140, 160));
    let laid = Laid::new(CLEAR, stand(11.0, 300.0), Sheet::lines(25.4, [1000.0, 900.0]), bodice(fabric));
    let misses = with_stickers(laid, 4.0, [240, 220, 40]).misses("lines", 25.4, &asked(MarkKind::Pins));
    assert!(p95(&misses) <= 0.1, "{misses:?}");
}

#[test]
fn pointers_beside_a_fragile_piece() {
    let laid = Laid::new(CLEAR, stand(13.0, 250.0), Sheet::lines(25.4, [1100.0, 1000.0]), bodice(Fabric::plain(srgb(150, 140, 110))));
    let outline = laid.scene.pieces[0].outline.clone();
    let laid = outline.corners().iter().take(6).enumerate().fold(laid, |laid, (k, c)| {
        let out = c[1].atan2(c[0]);
        let tip = [c[0] + 4.0 * out.cos(), c[1] + 4.0 * out.sin()];
        laid.pointer(tip, out.to_degrees() + 180.0, 34.0 + 3.0 * k as f64, 11.0, [0, 120, 200])
    });
    let misses = laid.misses("lines", 25.4, &asked(MarkKind::Pointers));
    assert!(p95(&misses) <= 0.3, "{misses:?}");
    let (found, view) = laid.find("lines", 25.4, &asked(MarkKind::Pointers));
    let middle = view.middle().expect("a middle");
    for m in &found {
        let ahead = m.ahead.expect("a direction");
        assert!(ahead.dot(&(middle - m.at).normalize()) > 0.5, "points at the piece");
    }
}

#[test]
fn nothing_is_found_where_nothing_lies() {
    let fabric = Fabric::plain(srgb(240, 240, 238)).with(Weave::Gingham { period: 9.0 }, srgb(190, 40, 60));
    let laid = Laid::new(SMALL, stand(14.0, 60.0), Sheet::lines(25.4, [1000.0, 900.0]), bodice(fabric));
    for kind in [MarkKind::Stickers, MarkKind::Pins, MarkKind::Pointers] {
        assert!(laid.find("lines", 25.4, &asked(kind)).0.is_empty(), "{kind:?}");
    }
}
