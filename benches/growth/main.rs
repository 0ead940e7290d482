//! How time and memory of a whole tracing grow with pixels, nodes of the sheet and pieces: `cargo bench --bench growth`.
//!
//! Each picture is drawn once (`target/bench`), then traced by the program, its start and its writing included, on one thread; the least
//! of several runs' processor time counts, for what else the machine does only adds. Writes the table and the graph that DEVELOPERS.md
//! refers to, `benches/growth.md` and `benches/growth.svg`, and prints the table. Takes three minutes and more.

#![allow(missing_docs, clippy::print_stdout, clippy::print_stderr)]

mod fit;
mod graph;
#[path = "../../tests/render/mod.rs"]
mod render;

use fit::Fit;
use render::timed::{self, Timed};
use serde_json::Value;
use std::fmt::Write;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use wait4::Wait4;

/// Runs of which the quickest counts.
const RUNS: usize = 5;

/// What grows by less than this is called flat: an exponent of it says nothing.
const FLAT: f64 = 1.25;

/// One thing that grows, and all the rest stays.
struct Family {
    title: &'static str,
    /// What its amount is counted in.
    unit: &'static str,
    pictures: &'static [&'static str],
    amount: fn(&Timed) -> f64,
}

const FAMILIES: [Family; 4] = [
    Family {
        title: "One bodice, more pixels",
        unit: "megapixels",
        pictures: &["phone-1mp", "phone-2mp", "phone-4mp", "phone-8mp", "phone-12mp", "phone-24mp", "phone-48mp"],
        amount: |t| t.scene.camera.size.iter().product::<usize>() as f64 / 1e6,
    },
    Family {
        title: "12 MP, lines closer together",
        unit: "nodes in view",
        pictures: &["ruled-100mm", "ruled-50mm", "ruled-25mm", "ruled-15mm", "ruled-10mm", "ruled-7mm", "ruled-5mm"],
        amount: |t| t.nodes() as f64,
    },
    Family {
        title: "12 MP full, more and smaller",
        unit: "pieces",
        pictures: &["filling-1", "filling-2", "filling-5", "filling-10", "filling-20", "filling-50"],
        amount: |t| t.scene.pieces.len() as f64,
    },
    Family {
        title: "12 MP, more of one size",
        unit: "pieces",
        pictures: &["alike-1", "alike-2", "alike-5", "alike-10", "alike-20", "alike-50"],
        amount: |t| t.scene.pieces.len() as f64,
    },
];

/// A picture measured.
#[derive(Clone, Copy)]
pub struct Point {
    pub amount: f64,
    /// Seconds of one processor.
    pub seconds: f64,
    /// Most memory held, MB.
    pub megabytes: f64,
}

/// A family measured.
pub struct Curve {
    pub title: &'static str,
    pub unit: &'static str,
    pub points: Vec<Point>,
    pub time: Fit,
    pub memory: Fit,
}

fn kept() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("target/bench")
}

/// The picture's file. It is drawn by another process: on Linux a child begins with the most memory its parent ever held.
fn picture(name: &str) -> PathBuf {
    let file = kept().join(format!("{name}.jpg"));
    if !file.exists() {
        let me = std::env::current_exe().expect("this program has a path");
        assert!(Command::new(me).args(["draw", name]).status().expect("this program starts").success(), "{name} could not be drawn");
    }
    file
}

/// Traces a picture: seconds and megabytes; nothing where it was not traced, or not all of its pieces.
fn trace(timed: &Timed) -> Option<(f64, f64)> {
    let (out, picture) = (kept().join("growth"), picture(&timed.name));
    let mut program = Command::new(env!("CARGO_BIN_EXE_ruboff"));
    program.env("RAYON_NUM_THREADS", "1").env("RUBOFF_LENSES", "no such folder").env("RUBOFF_PRINTS", "no such folder");
    program.arg("trace").arg(picture).args(timed.told()).args(["--jobs", "1", "--anew", "--out"]).arg(&out);
    let used = program.stdout(Stdio::null()).stderr(Stdio::null()).spawn().expect("the program starts").wait4().expect("it ends");
    let record = used.status.success().then(|| std::fs::read_to_string(out.join(&timed.name).join("outline.json")).expect("a record"))?;
    let record: Value = serde_json::from_str(&record).expect("JSON");
    let pieces = record["pieces"].as_array().map_or(0, Vec::len);
    (pieces == timed.scene.pieces.len()).then(|| ((used.rusage.utime + used.rusage.stime).as_secs_f64(), used.rusage.maxrss as f64 / 1e6))
}

fn measure(family: &Family) -> Curve {
    let mut points = Vec::new();
    for name in family.pictures {
        let timed = timed::named(name).expect("a picture of this name");
        let runs: Vec<_> = (0..RUNS).filter_map(|_| trace(&timed)).collect();
        if runs.is_empty() {
            eprintln!("{name}: not traced whole, left out");
            continue;
        }
        let least = |of: fn(&(f64, f64)) -> f64| runs.iter().map(of).fold(f64::INFINITY, f64::min);
        let point = Point { amount: (family.amount)(&timed), seconds: least(|r| r.0), megabytes: least(|r| r.1) };
        eprintln!("{name}: {:.1} {}, {:.3} s, {:.0} MB", point.amount, family.unit, point.seconds, point.megabytes);
        points.push(point);
    }
    let of = |value: fn(&Point) -> f64| Fit::of(&points.iter().map(|p| (p.amount, value(p))).collect::<Vec<_>>());
    let (time, memory) = (of(|p| p.seconds), of(|p| p.megabytes));
    Curve { title: family.title, unit: family.unit, points, time, memory }
}

fn table(curves: &[Curve]) -> String {
    let mut text = String::from(
        "# How time and memory grow\n\nWritten by `cargo bench --bench growth`: a whole run of the program on rendered pictures, one thread. `exponent` is p of the best a + b·xᵖ, \
         `over a line` how far the last value lies over a constant and a line laid through all of them.\n\n![Time and memory against pixels, nodes and pieces](growth.svg)\n",
    );
    for curve in curves {
        let _ = write!(text, "\n## {}\n\n| {} | CPU s | MB |\n|---:|---:|---:|\n", curve.title, curve.unit);
        for p in &curve.points {
            let digits = usize::from(p.amount.fract() > 0.0);
            let _ = writeln!(text, "| {:.digits$} | {:.2} | {:.0} |", p.amount, p.seconds, p.megabytes);
        }
        for (what, unit, fit) in [("Time", "s", &curve.time), ("Memory", "MB", &curve.memory)] {
            let _ = if fit.grows < FLAT {
                write!(text, "\n{what}: flat, the most {:.2} times the least.\n", fit.grows)
            } else {
                let (constant, slope, over) = (short(fit.constant), short(fit.slope), 100.0 * (fit.last_over_line - 1.0));
                write!(
                    text,
                    "\n{what}: {constant} {unit} and {slope} {unit} for each, exponent {:.2}, over a line {over:+.0} %.\n",
                    fit.exponent
                )
            };
        }
    }
    text
}

/// Three digits that count.
fn short(value: f64) -> String {
    let digits = (2.0 - value.abs().max(1e-9).log10().floor()).clamp(0.0, 9.0) as usize;
    format!("{value:.digits$}")
}

fn main() {
    let words: Vec<String> = std::env::args().skip(1).collect();
    if let [draw, name] = words.as_slice()
        && draw == "draw"
    {
        timed::named(name).expect("a picture of this name").file(&kept());
        return;
    }
    let curves: Vec<Curve> = FAMILIES.iter().map(measure).collect();
    let text = table(&curves);
    println!("{text}");
    let home = Path::new(env!("CARGO_MANIFEST_DIR")).join("benches");
    std::fs::write(home.join("growth.md"), text).expect("written");
    std::fs::write(home.join("growth.svg"), graph::svg(&curves)).expect("written");
}
