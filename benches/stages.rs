//! How long each stage takes on a phone's picture of 12 megapixels, one of 48 and a scan of A3 at 300 dpi (17 megapixels), beside the bare
//! decoding of the same JPEG as the floor: `cargo bench --bench stages`, one stage: `-- d_cloth`; one core: `RAYON_NUM_THREADS=1` before it.
//!
//! The pictures are drawn once and kept in `target/bench`.
#![allow(missing_docs, clippy::print_stderr)]

#[path = "../tests/render/mod.rs"]
mod render;

use divan::Bencher;
use render::timed::{self, HEIGHT, Timed};
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

/// What is measured on, as `render::timed` names them.
const PICTURES: [&str; 3] = ["phone-12mp", "phone-48mp", "scan-300dpi"];

fn main() {
    PICTURES.iter().for_each(|name| drop(timed(name).file(&kept())));
    divan::main();
}

fn kept() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("target/bench")
}

fn timed(name: &str) -> Timed {
    timed::named(name).expect("a picture of this name")
}

fn bytes(name: &str) -> Vec<u8> {
    std::fs::read(timed(name).file(&kept())).expect("the picture is there")
}

fn shot(name: &str) -> Shot {
    Shot::decode(&bytes(name), &Limits::default()).expect("the picture is good")
}

/// The floor: nothing but pixels out of the JPEG.
#[divan::bench(sample_count = 10, args = PICTURES)]
fn a_bare_decode(bencher: Bencher, name: &str) {
    let bytes = bytes(name);
    bencher.bench_local(|| image::load_from_memory(&bytes).expect("the picture is good"));
}

#[divan::bench(sample_count = 10, args = PICTURES)]
fn b_shot(bencher: Bencher, name: &str) {
    let bytes = bytes(name);
    bencher.bench_local(|| Shot::decode(&bytes, &Limits::default()).expect("the picture is good"));
}

/// A grey level reduced by four, as the coarse searches want it, of a picture of which none was asked for before.
#[divan::bench(sample_count = 10, args = PICTURES)]
fn b_shot_gray_level(bencher: Bencher, name: &str) {
    let shot = shot(name);
    bencher.with_inputs(|| shot.clone()).bench_local_refs(|shot| shot.gray(4).data.len());
}

/// The same in colours.
#[divan::bench(sample_count = 10, args = PICTURES)]
fn b_shot_colour_level(bencher: Bencher, name: &str) {
    let shot = shot(name);
    bencher.with_inputs(|| shot.clone()).bench_local_refs(|shot| shot.level(4).rgb.len());
}

fn sheet(name: &str) -> SheetProfile {
    let pitch = if timed(name).pitch == 10.0 { "centimetre-lines" } else { "inch-lines" };
    SheetProfile::named(pitch).expect("built in")
}

fn lattice(shot: &Shot, sheet: &SheetProfile) -> Lattice {
    grid::find(shot, sheet, &grid::Settings::default(), &mut Proof::off()).expect("a sheet")
}

/// The lattice, told what is ruled.
#[divan::bench(sample_count = 10, args = PICTURES)]
fn c_grid(bencher: Bencher, name: &str) {
    let (shot, sheet) = (shot(name), sheet(name));
    bencher.bench_local(|| lattice(&shot, &sheet));
}

/// The lattice, left to tell the kind of sheet itself.
#[divan::bench(sample_count = 10, args = PICTURES)]
fn c_grid_of_any_kind(bencher: Bencher, name: &str) {
    let (shot, sheet) = (shot(name), SheetProfile { kind: None, ..sheet(name) });
    bencher.bench_local(|| lattice(&shot, &sheet));
}

/// What the stages before the one that is timed gave.
struct Before {
    shot: Shot,
    lattice: Lattice,
    solved: Solved,
}

impl Before {
    fn of(name: &str) -> Self {
        let shot = shot(name);
        let lattice = lattice(&shot, &sheet(name));
        let solved = Self::solve(&shot, &lattice);
        Self { shot, lattice, solved }
    }

    fn solve(shot: &Shot, lattice: &Lattice) -> Solved {
        view::solve(lattice, (shot.width, shot.height), &shot.tags, &view::Settings::default(), &mut Proof::off()).expect("a view")
    }

    fn cloth(&self) -> Cloth {
        let settings = cloth::Settings { height: HEIGHT, ..cloth::Settings::default() };
        cloth::find(&self.shot, &self.lattice, &self.solved.view, &settings, &mut Proof::off()).expect("a piece")
    }

    fn rim(&self, cloth: &Cloth) -> SeamPath {
        let (marks, rough) = (Marks::of(&self.lattice), &cloth.regions[0].rim);
        seam::rim(&self.shot, &self.solved.view, &marks, rough, HEIGHT, &seam::Settings::default(), &mut Proof::off()).expect("a rim")
    }
}

#[divan::bench(sample_count = 10, args = PICTURES)]
fn d_view(bencher: Bencher, name: &str) {
    let Before { shot, lattice, .. } = Before::of(name);
    bencher.bench_local(|| Before::solve(&shot, &lattice));
}

#[divan::bench(sample_count = 10, args = PICTURES)]
fn e_cloth(bencher: Bencher, name: &str) {
    let before = Before::of(name);
    bencher.bench_local(|| before.cloth());
}

#[divan::bench(sample_count = 10, args = PICTURES)]
fn f_seam(bencher: Bencher, name: &str) {
    let before = Before::of(name);
    let cloth = before.cloth();
    bencher.bench_local(|| before.rim(&cloth));
}

#[divan::bench(sample_count = 10, args = PICTURES)]
fn g_outline(bencher: Bencher, name: &str) {
    let before = Before::of(name);
    let rim = before.rim(&before.cloth());
    let settings = outline::Settings::default();
    bencher.bench_local(|| {
        let corners = outline::corners(&rim, &Hints::default());
        outline::assemble(&rim, &corners, &settings).expect("an outline")
    });
}

/// All stages from pixels to a tracing: those above, and what `trace` makes of them (bounds, doubts, creases).
#[divan::bench(sample_count = 10, args = PICTURES)]
fn h_trace(bencher: Bencher, name: &str) {
    let (shot, sheet) = (shot(name), sheet(name));
    let wanted = || Wanted { thickness: Some(HEIGHT), ..Wanted::new(sheet.clone()) };
    bencher
        .with_inputs(|| Session::new(shot.clone(), wanted()))
        .bench_local_values(|mut session| session.run(&mut Proof::off()).expect("traced"));
}

/// Record, drawing and evidence picture in memory.
#[divan::bench(sample_count = 10, args = PICTURES)]
fn i_write(bencher: Bencher, name: &str) {
    let wanted = Wanted { thickness: Some(HEIGHT), ..Wanted::new(sheet(name)) };
    let mut session = Session::new(shot(name), wanted);
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
#[divan::bench(sample_count = 10, args = PICTURES)]
fn j_whole_run(bencher: Bencher, name: &str) {
    let (timed, out) = (timed(name), kept().join("out"));
    let picture = timed.file(&kept());
    let run = || {
        let mut program = Command::new(env!("CARGO_BIN_EXE_ruboff"));
        // Without --anew every run but the first would find nothing to do.
        program.arg("trace").arg(&picture).args(timed.told()).args(["--anew", "--out"]).arg(&out).output().expect("the program starts")
    };
    let first = run();
    if !first.status.success() {
        eprintln!("not traced: {}", String::from_utf8_lossy(&first.stderr));
    }
    bencher.bench_local(run);
}

/// The program's start: `--help`.
#[divan::bench(sample_count = 50)]
fn k_start() {
    Command::new(env!("CARGO_BIN_EXE_ruboff")).arg("--help").output().expect("the program starts");
}
