//! `ruboff sheet`: what it draws, refuses and keeps. What other programs read in the files is checked in `tests/crosscheck`.

#[path = "support/pdf.rs"]
mod pdf;

use assert_cmd::Command;
use pdf::{Drawn, UNIT, boxes, contents, drawn};
use ruboff::length::Length;
use ruboff::sheet::{MeasuredPrint, Paper, SheetPages, SheetPlan};
use ruboff::write::sheet::{Ground, sheet_roll, sheet_svg, sheet_tiled};
use std::collections::BTreeSet;
use std::path::Path;

fn plan() -> SheetPlan {
    SheetPlan::new(1, Length::from_mm(25.0), [900.0, 1200.0].map(Length::from_mm)).expect("a sheet")
}

fn paper(name: &str) -> Paper {
    name.parse().expect("a paper")
}

fn verb(words: &[&str], dir: &Path) -> (i32, String, String) {
    let mut command = Command::cargo_bin("ruboff").expect("built");
    let out = command.current_dir(dir).env("RUBOFF_PRINTS", dir.join("prints")).arg("sheet").args(words).output().expect("run");
    let text = |b: &[u8]| String::from_utf8_lossy(b).into_owned();
    (out.status.code().unwrap_or(-1), text(&out.stdout), text(&out.stderr))
}

/// R-PAP-1 and -7: ISO 216 has A4 with 210 x 297 mm, 595.2755906 x 841.8897638 points and never 595 x 842, and A3 with 297 x 420 mm;
/// R-PAP-3 and -4: ANSI/ASME Y14.1 has A with 8.5 x 11 in and B with 11 x 17 in.
#[test]
fn pages_are_as_large_as_their_paper() {
    let papers = [
        ("a4", [595.275_590_6, 841.889_763_8]),
        ("a3", [841.889_763_8, 420.0 * UNIT]),
        ("letter", [612.0, 792.0]),
        ("tabloid", [792.0, 1224.0]),
    ];
    for (name, [w, h]) in papers {
        let print = sheet_tiled(&plan(), &paper(name), Ground::Tint).expect("pages");
        let all = boxes(&print.bytes);
        assert_eq!(all.len(), print.size[0] * print.size[1] + print.front);
        let near = |b: &[f64; 2], x: f64, y: f64| (b[0] - x).abs() < 1e-3 && (b[1] - y).abs() < 1e-3;
        assert!(all.iter().all(|b| near(b, w, h)) || all.iter().all(|b| near(b, h, w)), "{name}: {all:?}");
        assert_eq!(contents(&print.bytes).len(), all.len());
    }
}

/// R-PAP-5 and -6: rolls of 24, 36 and 42 in, and of 841 mm; R-PDF-1 to -4: units of 1/72 in, no page over 14 400 of them (5080 mm),
/// refused and never scaled, never `UserUnit`.
#[test]
fn a_roll_is_one_page_at_true_size_or_refused() {
    let dir = tempfile::tempdir().expect("a folder");
    for (width, units, squares) in [("24in", 1728.0, 23), ("36in", 2592.0, 35), ("42in", 3024.0, 36), ("841mm", 841.0 * UNIT, 32)] {
        let (code, _, said) = verb(&["--out", width, "--roll", width], dir.path());
        assert_eq!(code, 0, "{said}");
        let bytes = std::fs::read(dir.path().join(width).join("sheet-1-25mm-roll.pdf")).expect("a file");
        let all = boxes(&bytes);
        assert!(all.len() == 1 && (all[0][0] - units).abs() < 1e-2 && all[0][1] <= 14_400.0, "{all:?}");
        assert!(!bytes.windows(8).any(|w| w == b"UserUnit"));
        let content = &contents(&bytes)[0];
        assert!(content.starts_with("2.8346457 0 0 -2.8346457 0 "), "{}", content.lines().next().unwrap_or_default());
        let (across, down) = ruled(&drawn(content));
        assert_eq!((across.len(), down.len()), (squares + 1, 49), "as wide as the roll has room for");
        assert!((across[squares] - across[0] - 25.0 * squares as f64).abs() < 1e-3 && (down[48] - down[0] - 1200.0).abs() < 1e-3);
    }
    let tall = SheetPlan::new(1, Length::from_mm(60.0), [900.0, 5100.0].map(Length::from_mm)).expect("a sheet");
    let e = sheet_roll(&tall, 1066.8, Ground::Tint).expect_err("too long").to_string();
    assert!(e.contains("5080") && e.contains("never scaled"), "{e}");
    let e = sheet_roll(&plan(), 914.4, Ground::Tint).expect_err("too wide").to_string();
    assert!(e.contains("wider roll") && e.contains("914"), "{e}");
}

/// Places of the ruled lines of a page, those that run down and those that run across, mm; lines of 0.4 mm are drawn for nothing else.
fn ruled(all: &[Drawn]) -> (Vec<f64>, Vec<f64>) {
    let lines = all.iter().filter(|d| d.how == "S" && (d.width - 0.4).abs() < 1e-6 && d.points.len() == 2);
    let (mut x, mut y) = (Vec::new(), Vec::new());
    for d in lines {
        let [a, b] = [d.points[0], d.points[1]];
        if a[0] == b[0] { x.push(a[0]) } else { y.push(a[1]) }
    }
    (x, y)
}

/// Every page stands at its own place of the sheet: its lines at whole squares of it, its marks those of the code, nothing of the tint outside the margins.
#[test]
fn pages_hold_their_part_of_the_sheet() {
    let plan = SheetPlan::new(7, Length::from_mm(20.0), [600.0, 500.0].map(Length::from_mm)).expect("a sheet");
    let print = sheet_tiled(&plan, &paper("a4"), Ground::Tint).expect("pages");
    let (pages, size) = SheetPages::fewest([210.0, 297.0], 20.0, plan.squares).expect("pages");
    assert_eq!(pages.size(plan.squares), print.size);
    let mut seen = BTreeSet::new();
    for (n, content) in contents(&print.bytes).iter().skip(print.front).enumerate() {
        let (row, column) = (n / print.size[0], n % print.size[0]);
        let all = drawn(content);
        let (x, y) = ruled(&all);
        // The page's first line, and where on the page it stands, by the layout's own words: margin, strip, then from the cut to the line.
        let place = |k: usize, page: usize| match pages.axes[k].cut(page) {
            None => (0.0, 10.0 + 15.0),
            Some(cut) => (cut.floor() + 1.0, 10.0 + 4.0 + (cut.floor() + 1.0 - cut) * 20.0),
        };
        let ((i, left), (j, top)) = (place(0, column), place(1, row));
        for (k, x) in x.iter().enumerate() {
            assert!((x - left - 20.0 * k as f64).abs() < 1e-3, "page {n}: a line at {x}");
        }
        for (k, y) in y.iter().enumerate() {
            assert!((y - top - 20.0 * k as f64).abs() < 1e-3, "page {n}: a line at {y}");
        }
        let tint = all.iter().find(|d| d.how == "f" && d.fill.len() == 3).expect("a tint");
        let low = tint.points.iter().fold([f64::INFINITY; 2], |a, p| [a[0].min(p[0]), a[1].min(p[1])]);
        let high = tint.points.iter().fold([0.0f64; 2], |a, p| [a[0].max(p[0]), a[1].max(p[1])]);
        assert!(
            low[0] >= 10.0 - 1e-4 && low[1] >= 10.0 - 1e-4 && high[0] <= size[0] - 10.0 + 1e-4 && high[1] <= size[1] - 10.0 + 1e-4,
            "{low:?} {high:?}"
        );
        // A disc is a point and four curves of three each.
        let marks = all.iter().find(|d| d.how == "f" && d.points.len() > 12 && d.points.len() % 13 == 0).expect("marks");
        for disc in marks.points.chunks(13) {
            let middle = [0, 1]
                .map(|k| (disc.iter().map(|p| p[k]).fold(f64::INFINITY, f64::min) + disc.iter().map(|p| p[k]).fold(0.0, f64::max)) / 2.0);
            let at = [(middle[0] - left) / 20.0 + i, (middle[1] - top) / 20.0 + j];
            let twice = at.map(|v| (v * 2.0).round() as i64);
            assert!((0..2).all(|k| (at[k] * 2.0 - twice[k] as f64).abs() < 1e-3), "a mark at {at:?}");
            let own = [0, 1].map(|k| pages.axes[k].cut([column, row][k]).is_none_or(|c| at[k] > c));
            let before = [0, 1].map(|k| pages.axes[k].cut([column, row][k] + 1).is_none_or(|c| at[k] < c));
            if own == [true; 2] && before == [true; 2] {
                assert!(seen.insert(twice), "the mark at {at:?} lies on two pages");
            }
        }
    }
    let mut wanted = BTreeSet::new();
    let [wide, high] = plan.squares.map(|n| n as i32);
    for j in 0..=high {
        for i in 0..=wide {
            let twice = [2 * i64::from(i), 2 * i64::from(j)];
            if i < wide && plan.code.across(i, j) {
                wanted.insert([twice[0] + 1, twice[1]]);
            }
            if j < high && plan.code.down(i, j) {
                wanted.insert([twice[0], twice[1] + 1]);
            }
        }
    }
    assert_eq!(seen, wanted, "every mark lies on one page, and no other");
}

/// R-PRN-7: a 100 mm and a 4 in square, and the longest rulers there is room for.
#[test]
fn page_one_has_what_a_print_is_measured_by() {
    let print = sheet_tiled(&plan(), &paper("letter"), Ground::White).expect("pages");
    let first = drawn(&contents(&print.bytes)[0]);
    let side = |d: &Drawn, k: usize| {
        d.points.iter().map(|p| p[k]).fold(0.0, f64::max) - d.points.iter().map(|p| p[k]).fold(f64::INFINITY, f64::min)
    };
    for long in [100.0, 101.6] {
        assert!(first.iter().any(|d| d.how == "S" && (0..2).all(|k| (side(d, k) - long).abs() < 1e-3)), "a square of {long} mm");
    }
    let longest = |k: usize| first.iter().filter(|d| side(d, 1 - k) < 1e-6).map(|d| side(d, k)).fold(0.0, f64::max);
    let [w, h] = boxes(&print.bytes)[0].map(|v| v / UNIT);
    assert!(longest(0) > w - 60.0 && longest(1) > h - 60.0, "{} of {w}, {} of {h}", longest(0), longest(1));
}

#[test]
fn the_same_call_gives_the_same_bytes() {
    let dir = tempfile::tempdir().expect("a folder");
    let call = ["--paper", "a4", "--roll", "36in", "--svg", "--pitch", "1in", "--number", "12", "--size", "20x24in"];
    for out in ["one", "two"] {
        let (code, said, fault) = verb(&[&["--out", out][..], &call].concat(), dir.path());
        assert_eq!(code, 0, "{fault}");
        assert!(said.contains("sheet 12: squares of 1 in, 508 x 609.6 mm"), "{said}");
    }
    for file in ["sheet-12-1in-a4.pdf", "sheet-12-1in-roll.pdf", "sheet-12-1in.svg"] {
        let read = |out: &str| std::fs::read(dir.path().join(out).join(file)).expect(file);
        assert_eq!(read("one"), read("two"), "{file}");
    }
    let (code, said, fault) = verb(&["--out", "one", "--paper", "a4", "--pitch", "1in", "--number", "12"], dir.path());
    assert!(code == 2 && said.is_empty() && fault.contains("already there") && fault.contains("--force"), "{fault}");
    let (code, _, fault) =
        verb(&["--out", "one", "--paper", "a4", "--pitch", "1in", "--number", "12", "--force", "--ground", "white"], dir.path());
    assert!(code == 0 && fault.contains("white cloth"), "{fault}");
}

#[test]
fn a_drawing_is_in_millimetres() {
    let text = sheet_svg(&plan(), Ground::Tint);
    // 900 and 1200 mm of squares, 15.25 mm of ruler before and 9.25 mm of words after.
    assert!(text.contains("width=\"924.5000mm\"") && text.contains("viewBox=\"0 0 924.5000 "), "{}", &text[..300]);
    for id in ["ground", "lines", "marks", "rulers", "how-to-print"] {
        assert!(text.contains(&format!("<g id=\"{id}\">")), "{id}");
    }
    assert!(!sheet_svg(&plan(), Ground::White).contains("#c6cdd5"));
}

#[test]
fn calls_that_can_not_be_meant_write_nothing() {
    let dir = tempfile::tempdir().expect("a folder");
    for (words, said) in [
        (&["--out", "o"][..], "--paper"),
        (&["--paper", "a4"], "--out"),
        (&["--out", "o", "--paper", "a4", "--pitch", "26mm"], "25 mm, 30 mm"),
        (&["--out", "o", "--paper", "a4", "--number", "0"], "1 to 400"),
        (&["--out", "o", "--paper", "a4", "--size", "5x5m"], "6 to 99"),
        (&["--out", "o", "--paper", "a4", "--pitch", "100mm"], "larger paper"),
        (&["--out", "o", "--paper", "a5x"], "no paper"),
        (&["--out", "o", "--roll", "36in", "--size", "900x1200mm"], "wider roll"),
        (&["--out", "o", "--roll", "6m"], "5080"),
        (&["--measured"], "--across"),
        (&["--across", "899 mm", "--out", "o", "--svg"], "--measured"),
        (&["--measured", "--across", "875.7 mm", "--down", "1167.6 mm"], "Letter page fitted to A4"),
        (&["--measured", "--across", "899 mm", "--down", "1199 mm", "--diagonals", "1499"], "two diagonals"),
    ] {
        let (code, out, fault) = verb(words, dir.path());
        assert!(code == 2 && out.is_empty() && fault.contains(said), "{words:?}: {fault}");
        let line = fault.trim_end();
        assert!((15..=300).contains(&line.chars().count()) && !line.contains('\n'), "{line}");
    }
    assert_eq!(std::fs::read_dir(dir.path()).expect("listed").count(), 0);
}

#[test]
fn a_measured_print_is_kept_and_told() {
    let dir = tempfile::tempdir().expect("a folder");
    let call = [
        "--measured",
        "--number",
        "5",
        "--across",
        "899.2 mm",
        "--down",
        "1200.4 mm",
        "--diagonals",
        "1500.6 mm, 1498.9 mm",
        "--date",
        "1926-05-17",
        "--by",
        "E. Quill",
    ];
    let (code, said, fault) = verb(&call, dir.path());
    assert_eq!(code, 0, "{fault}");
    for words in ["-0.09 %", "proves 0.06 %", "may be used as it is", "out of square by +0.0", "too far right", "prints/sheet-5-25mm.toml"]
    {
        assert!(said.contains(words), "{words}: {said}");
    }
    let print = MeasuredPrint::open(&dir.path().join("prints/sheet-5-25mm.toml")).expect("a print");
    assert_eq!((print.code.number, print.measured_on.as_str(), print.by.as_deref()), (5, "1926-05-17", Some("E. Quill")));
    assert!((print.pitch()[0] - 25.0 * 899.2 / 900.0).abs() < 1e-4);
    let (code, _, fault) = verb(&call, dir.path());
    assert!(code == 2 && fault.contains("--number") && fault.contains("--force"), "{fault}");
    // Inches are read to 1/32.
    let (code, said, fault) =
        verb(&["--measured", "--pitch", "1in", "--size", "35x47in", "--across", "35 in", "--down", "46 15/16 in", "--json"], dir.path());
    assert_eq!(code, 0, "{fault}");
    let told: serde_json::Value = serde_json::from_str(&said).expect("a line of JSON");
    let error = told["scale_error"][0].as_f64().expect("a number");
    assert!((error - (1.0f64 / 32.0 / 35.0).hypot(0.0003)).abs() < 1e-9, "{told}");
}
