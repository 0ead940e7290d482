//! How long each stage takes on a picture of 12 megapixels, beside the bare decoding of its JPEG as the floor:
//! `cargo bench --bench stages`; one core: `RAYON_NUM_THREADS=1 cargo bench --bench stages`; the picture of 48 megapixels:
//! `cargo bench --bench stages -- --include-ignored`.
//!
//! The pictures are drawn once and kept in `target/bench`.
#![allow(missing_docs, clippy::print_stderr)]

#[path = "../tests/render/mod.rs"]
mod render;

use divan::Bencher;
use render::camera::{Camera, Stand};
use render::cloth::{Fabric, Piece};
use render::file::{self, Written};
use render::scene::Scene;
use render::shapes::{self, Figure};
use render::sheet::{Sheet, srgb};
use ruboff::cloth::{self, Cloth};
use ruboff::grid::{self, Lattice};
use ruboff::length::Mm;
use ruboff::outline::{self, Hints};
use ruboff::path::SeamPath;
use ruboff::proof::Proof;
use ruboff::seam::{self, Marks};
use ruboff::sheet::SheetProfile;
use ruboff::shot::{Limits, Shot};
use ruboff::straight::{Frame, straighten};
use ruboff::trace::{Session, Wanted};
use ruboff::view::{self, Solved};
use ruboff::write;
use std::path::{Path, PathBuf};
use std::process::Command;

fn main() {
    picture(TWELVE);
    divan::main();
}

/// Height of the cloth's edge above the sheet, mm.
const HEIGHT: f64 = 2.0;
/// Columns of the picture; rows are three quarters of them.
const TWELVE: usize = 4032;
const FORTY_EIGHT: usize = 8064;

/// A bodice on ruled paper, taken with a phone; drawn when it is not there yet.
fn picture(columns: usize) -> PathBuf {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("target/bench");
    let file = folder.join(format!("bodice-{columns}.jpg"));
    if !file.exists() {
        let piece = Piece::new("front", &shapes::bodice(&mut Figure::plain()), Fabric::plain(srgb(104, 60, 96)), 2.0)
            .with_topstitch(12.0, srgb(210, 200, 190));
        let stand = Stand { film_mm: 26.0, tilt: 14.0, side: 60.0, roll: 93.0 };
        let around = shapes::around([&piece.outline], 60.0);
        let camera = Camera::framing([columns, columns * 3 / 4], stand, &around, 0.96)
            .with_slack(1.006, [9.0, -7.0])
            .with_lens(0.018, -0.009, 2e-4, -2e-4);
        let scene = Scene::new(camera, Sheet::lines(25.4, [1000.0, 900.0]), vec![piece]);
        std::fs::create_dir_all(&folder).expect("target can be written to");
        std::fs::write(&file, file::jpeg(&scene.draw(), &Written::phone(26))).expect("target can be written to");
    }
    file
}

fn bytes() -> Vec<u8> {
    std::fs::read(picture(TWELVE)).expect("the picture is there")
}

fn shot() -> Shot {
    Shot::decode(&bytes(), &Limits::default()).expect("the picture is good")
}

/// The floor: nothing but pixels out of the JPEG.
#[divan::bench(sample_count = 20)]
fn a_bare_decode(bencher: Bencher) {
    let bytes = bytes();
    bencher.bench_local(|| image::load_from_memory(&bytes).expect("the picture is good"));
}

#[divan::bench(sample_count = 20)]
fn b_shot(bencher: Bencher) {
    let bytes = bytes();
    bencher.bench_local(|| Shot::decode(&bytes, &Limits::default()).expect("the picture is good"));
}

/// A level reduced by two or four, as the coarse searches want it, of a picture of which none was asked for before.
#[divan::bench(sample_count = 20, args = [2, 4])]
fn c_gray(bencher: Bencher, factor: usize) {
    let shot = shot();
    bencher.with_inputs(|| shot.clone()).bench_local_refs(|shot| shot.gray(factor).data.len());
}

#[divan::bench(sample_count = 20, args = [2, 4])]
fn d_level(bencher: Bencher, factor: usize) {
    let shot = shot();
    bencher.with_inputs(|| shot.clone()).bench_local_refs(|shot| shot.level(factor).rgb.len());
}

fn sheet() -> SheetProfile {
    SheetProfile::named("inch-lines").expect("built in")
}

fn lattice(shot: &Shot) -> Lattice {
    grid::find(shot, &sheet(), &grid::Settings::default(), &mut Proof::off()).expect("a sheet")
}

fn solved(shot: &Shot, lattice: &Lattice) -> Solved {
    view::solve(lattice, (shot.width, shot.height), &shot.tags, &view::Settings::default(), &mut Proof::off()).expect("a view")
}

/// The lattice, told what is ruled.
#[divan::bench(sample_count = 10)]
fn e_grid(bencher: Bencher) {
    let shot = shot();
    bencher.bench_local(|| lattice(&shot));
}

/// The lattice, left to tell the kind of sheet itself.
#[divan::bench(sample_count = 10)]
fn f_grid_of_any_kind(bencher: Bencher) {
    let (shot, sheet) = (shot(), SheetProfile { kind: None, ..sheet() });
    bencher.bench_local(|| grid::find(&shot, &sheet, &grid::Settings::default(), &mut Proof::off()).expect("a sheet"));
}

#[divan::bench(sample_count = 20)]
fn g_view(bencher: Bencher) {
    let shot = shot();
    let lattice = lattice(&shot);
    bencher.bench_local(|| solved(&shot, &lattice));
}

fn cloth_of(shot: &Shot, lattice: &Lattice, solved: &Solved) -> Cloth {
    let settings = cloth::Settings { height: HEIGHT, ..cloth::Settings::default() };
    cloth::find(shot, lattice, &solved.view, &settings, &mut Proof::off()).expect("a piece")
}

#[divan::bench(sample_count = 10)]
fn h_cloth(bencher: Bencher) {
    let shot = shot();
    let lattice = lattice(&shot);
    let solved = solved(&shot, &lattice);
    bencher.bench_local(|| cloth_of(&shot, &lattice, &solved));
}

fn rim_of(shot: &Shot, lattice: &Lattice, solved: &Solved, cloth: &Cloth) -> SeamPath {
    let (marks, rough) = (Marks::of(lattice), &cloth.regions[0].rim);
    seam::rim(shot, &solved.view, &marks, rough, HEIGHT, &seam::Settings::default(), &mut Proof::off()).expect("a rim")
}

#[divan::bench(sample_count = 10)]
fn i_rim(bencher: Bencher) {
    let shot = shot();
    let lattice = lattice(&shot);
    let solved = solved(&shot, &lattice);
    let cloth = cloth_of(&shot, &lattice, &solved);
    bencher.bench_local(|| rim_of(&shot, &lattice, &solved, &cloth));
}

#[divan::bench(sample_count = 20)]
fn j_outline(bencher: Bencher) {
    let shot = shot();
    let lattice = lattice(&shot);
    let solved = solved(&shot, &lattice);
    let rim = rim_of(&shot, &lattice, &solved, &cloth_of(&shot, &lattice, &solved));
    let settings = outline::Settings::default();
    bencher.bench_local(|| {
        let corners = outline::corners(&rim, &Hints::default());
        outline::assemble(&rim, &corners, &settings).expect("an outline")
    });
}

/// Outline, drawing and evidence picture in memory.
#[divan::bench(sample_count = 10)]
fn k_write(bencher: Bencher) {
    let wanted = Wanted { thickness: Some(HEIGHT), ..Wanted::new(sheet()) };
    let mut session = Session::new(shot(), wanted);
    let tracing = session.run(&mut Proof::off()).expect("traced");
    let corners = tracing.extents().into_iter().flat_map(|b| [Mm::new(b.x0, b.y0), Mm::new(b.x1, b.y1)]);
    let frame = Frame::around(corners, 25.0, 8.0, 1600).expect("an extent");
    bencher.bench_local(|| {
        let straightened = straighten(&session.shot, &tracing.view, &frame, HEIGHT);
        let picture = write::evidence(straightened, frame, &tracing, &[]).expect("a picture").picture;
        let record = write::Record::of(&tracing, serde_json::Map::new(), Vec::new()).to_text();
        (picture, write::svg(&tracing), record)
    });
}

/// The program from picture to files, its start included.
fn whole(bencher: Bencher, columns: usize) {
    let picture = picture(columns);
    let out = Path::new(env!("CARGO_MANIFEST_DIR")).join("target/bench/out");
    let run = || {
        let words = ["--sheet", "lines", "--pitch", "1in", "--thickness", "2mm", "--out"];
        Command::new(env!("CARGO_BIN_EXE_ruboff")).arg("trace").arg(&picture).args(words).arg(&out).output().expect("the program starts")
    };
    let first = run();
    if !first.status.success() {
        eprintln!("not traced: {}", String::from_utf8_lossy(&first.stderr));
    }
    bencher.bench_local(run);
}

#[divan::bench(sample_count = 10)]
fn y_whole(bencher: Bencher) {
    whole(bencher, TWELVE);
}

#[divan::bench(sample_count = 3, ignore)]
fn z_whole_48_megapixels(bencher: Bencher) {
    whole(bencher, FORTY_EIGHT);
}
