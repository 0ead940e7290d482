//! A run over hundreds of pictures: whether both cores are busy, nothing is kept of pictures that are done, and a second run has nothing
//! to do. The most memory is told beside: it is that of the one or two pictures that need most, of which there are more among more.
//!
//! Takes many minutes, so it is asked for: `cargo test --release --test many_long -- --ignored --nocapture`. `RUBOFF_MANY` sets how many
//! pictures (500), `RUBOFF_SIZE` the megapixels of each (2), `RUBOFF_DRAWN` a folder that keeps the drawn ones for another time.
//! Reads what Linux tells of a process, and is passed over elsewhere.

// Its table is the point of it.
#![allow(clippy::print_stdout)]

mod render;

use rayon::prelude::*;
use render::file::{self, Written};
use render::many::lot;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

fn number<T: std::str::FromStr>(name: &str, otherwise: T) -> T {
    std::env::var(name).ok().and_then(|v| v.parse().ok()).unwrap_or(otherwise)
}

/// Draws pictures by lot, ten to a folder, each a garment of its own with what a person would note.
fn drawn(folder: &Path, count: u64) {
    let megapixels = number("RUBOFF_SIZE", 2.0);
    (0..count).into_par_iter().for_each(|seed| {
        let home = folder.join(format!("box {:02}/garment {seed:03}", seed / 10));
        let picture = home.join("front.jpg");
        if picture.is_file() {
            return;
        }
        let lot = lot(seed, megapixels);
        std::fs::create_dir_all(&home).expect("made");
        let notes = format!(
            "[garment]\nnumber = \"{seed}\"\n[[shot]]\npicture = \"front.jpg\"\nsheet = \"{}\"\npitch = \"{} mm\"\nthickness = \"{:.2} mm\"\n",
            lot.kind, lot.pitch, lot.scene.pieces[0].thickness
        );
        std::fs::write(home.join("garment.toml"), notes).expect("written");
        std::fs::write(&picture, file::jpeg(&lot.scene.draw(), &Written::phone(lot.film_mm))).expect("written");
    });
}

/// What a run took.
struct Took {
    wall: Duration,
    /// Seconds of processor time.
    processor: f64,
    /// Most memory, MB.
    peak: f64,
    /// Memory held half the time in its second quarter, and in its last, MB: what is kept from picture to picture shows there.
    held: [f64; 2],
    traced: usize,
    unchanged: usize,
}

fn run(folder: &Path, out: &Path, log: &Path) -> Took {
    let start = Instant::now();
    let mut child = std::process::Command::new(assert_cmd::cargo::cargo_bin!("ruboff"))
        .env("RUBOFF_LENSES", out.join("none"))
        .env("RUBOFF_PRINTS", out.join("none"))
        .args(["trace", "--json"])
        .arg(folder)
        .arg("--out")
        .arg(out)
        .stdout(std::fs::File::create(log).expect("a file"))
        .stderr(std::process::Stdio::null())
        .spawn()
        .expect("started");
    let (mut peak, mut processor, mut held) = (0.0_f64, 0.0, Vec::new());
    let about = PathBuf::from(format!("/proc/{}", child.id()));
    while child.try_wait().expect("a child").is_none() {
        let status = std::fs::read_to_string(about.join("status")).unwrap_or_default();
        let megabytes = |what: &str| {
            let line = status.lines().find_map(|l| l.strip_prefix(what)?.trim().strip_suffix("kB")?.trim().parse::<f64>().ok());
            line.unwrap_or(0.0) / 1000.0
        };
        peak = peak.max(megabytes("VmHWM:"));
        held.push(megabytes("VmRSS:"));
        // Fields 14 and 15 after the name in brackets, in hundredths of a second (proc(5)).
        let stat = std::fs::read_to_string(about.join("stat")).unwrap_or_default();
        let fields: Vec<f64> = stat.rsplit(") ").next().unwrap_or_default().split(' ').filter_map(|f| f.parse().ok()).collect();
        processor = fields.get(10..12).map_or(processor, |t| (t[0] + t[1]) / 100.0);
        std::thread::sleep(Duration::from_millis(10));
    }
    let quarter = held.len() / 4;
    let mut middle = |from: usize| {
        let part = &mut held[from..from + quarter.max(1)];
        part.sort_by(f64::total_cmp);
        part[part.len() / 2]
    };
    let held = [middle(quarter), middle(3 * quarter)];
    let text = std::fs::read_to_string(log).expect("read");
    let lines: Vec<serde_json::Value> = text.lines().map(|l| serde_json::from_str(l).expect("JSON")).collect();
    let of = |before: bool| lines.iter().filter(|l| l["picture"].is_string() && l["unchanged"] == before).count();
    Took { wall: start.elapsed(), processor, peak, held, traced: of(false), unchanged: of(true) }
}

#[test]
#[ignore = "many minutes: hundreds of pictures"]
fn both_cores_busy_memory_flat_and_nothing_done_twice() {
    if !Path::new("/proc/self/stat").is_file() {
        println!("no /proc here: passed over");
        return;
    }
    let many: u64 = number("RUBOFF_MANY", 500);
    let dir = tempfile::tempdir().expect("a folder");
    let kept = std::env::var_os("RUBOFF_DRAWN").map_or_else(|| dir.path().join("drawn"), PathBuf::from);
    let cores = std::thread::available_parallelism().map_or(1, usize::from);
    let of = |count: u64| {
        let folder = kept.join(count.to_string());
        drawn(&folder, count);
        let (out, log) = (dir.path().join(format!("out {count}")), dir.path().join("log"));
        let first = run(&folder, &out, &log);
        let busy = first.processor / first.wall.as_secs_f64() / cores as f64;
        let (wall, peak, [early, late]) = (first.wall.as_secs_f64(), first.peak, first.held);
        println!(
            "{count} pictures: {} traced in {wall:.1} s, {:.0} % of {cores} cores, {early:.0} MB early, {late:.0} late, {peak:.0} at most",
            first.traced,
            100.0 * busy
        );
        let second = run(&folder, &out, &log);
        println!("  again: {} unchanged, {} traced in {:.2} s", second.unchanged, second.traced, second.wall.as_secs_f64());
        assert_eq!((second.traced, second.unchanged), (0, first.traced));
        (first, busy, second)
    };
    of(50);
    let (all, busy, second) = of(many);
    assert!(busy > 0.9, "{busy}");
    assert!(all.held[1] < 1.1 * all.held[0], "{:?}", all.held);
    assert!(second.wall < Duration::from_secs(2), "{:?}", second.wall);
}
