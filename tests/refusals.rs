//! What can't be traced is refused in one plain line, quickly, and leaves nothing behind.

// Figures are shown when a test fails or with --nocapture.
#![allow(clippy::print_stdout)]

mod judge;
mod render;

use judge::{command, complaint, nothing_written, trace};
use render::camera::{Camera, Stand};
use render::cloth::{Fabric, Piece};
use render::file::{self, Written};
use render::light::Sensor;
use render::scene::Scene;
use render::shapes::{self, Figure, around};
use render::sheet::{Sheet, srgb};
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

/// A picture of 0.7 MP that is traced without complaint: a pocket on ruled paper.
fn good() -> Scene {
    let piece = Piece::new("pocket", &shapes::pocket(&mut Figure::plain()), Fabric::plain(srgb(90, 50, 80)), 1.5);
    let stand = Stand { film_mm: 26.0, tilt: 9.0, side: 40.0, roll: 4.0 };
    let camera = Camera::framing([1000, 750], stand, &around([&piece.outline], 60.0), 0.95);
    Scene::new(camera, Sheet::lines(25.4, [700.0, 600.0]), vec![piece])
}

fn jpeg(scene: &Scene) -> Vec<u8> {
    file::jpeg(&scene.draw(), &Written::phone(26))
}

/// A folder with one picture in it.
struct Table {
    folder: tempfile::TempDir,
}

impl Table {
    fn with(name: &str, bytes: &[u8]) -> (Self, PathBuf) {
        let folder = tempfile::tempdir().expect("a folder");
        let picture = folder.path().join(name);
        std::fs::write(&picture, bytes).expect("written");
        (Self { folder }, picture)
    }

    fn out(&self) -> PathBuf {
        self.folder.path().join("out")
    }
}

/// Traces one file that must be refused; the complaint must hold one of these words.
fn refused(name: &str, bytes: &[u8], more: &[&str], words: &[&str]) {
    let (table, picture) = Table::with(name, bytes);
    refused_at(&picture, &table.out(), more, words);
}

fn refused_at(picture: &Path, out: &Path, more: &[&str], words: &[&str]) {
    let begun = Instant::now();
    let output = trace([picture.as_os_str(), "--out".as_ref(), out.as_os_str()].into_iter().chain(more.iter().map(|w| w.as_ref())));
    let text = complaint(&output);
    println!("{}: {}", picture.file_name().unwrap_or_default().to_string_lossy(), text.trim_end());
    assert!(begun.elapsed() < Duration::from_secs(10), "took {:?}", begun.elapsed());
    assert!(nothing_written(out), "something was left at {}", out.display());
    let low = text.to_lowercase();
    assert!(words.iter().any(|w| low.contains(w)), "none of {words:?} in: {text}");
}

const TOLD: [&str; 4] = ["--sheet", "lines", "--pitch", "1in"];

#[test]
fn the_good_picture_is_traced() {
    let (table, picture) = Table::with("good.jpg", &jpeg(&good()));
    let output = trace([picture.as_os_str(), "--out".as_ref(), table.out().as_os_str(), "--pitch".as_ref(), "1in".as_ref()]);
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
}

#[test]
fn no_grid() {
    let scene = Scene { sheet: Sheet::blank([700.0, 600.0]), ..good() };
    refused("no-grid.jpg", &jpeg(&scene), &TOLD, &["line", "ruling", "ruled", "grid"]);
}

#[test]
fn blank_picture() {
    let rgb = vec![236u8; 800 * 600 * 3];
    refused("blank.png", &file::png(&render::scene::Picture { size: [800, 600], rgb }, None), &TOLD, &["ruled"]);
}

#[test]
fn blurred_beyond_use() {
    let scene = Scene { sensor: Sensor { blur: 14.0, ..Sensor::good() }, ..good() };
    refused("blurred.jpg", &jpeg(&scene), &TOLD, &["line", "ruling", "ruled", "grid", "blur", "sharp", "soft"]);
}

#[test]
fn nearly_black() {
    let mut scene = good();
    scene.light.level = 0.0015;
    refused("black.jpg", &jpeg(&scene), &TOLD, &["dark", "light", "black", "line"]);
}

#[test]
fn no_garment() {
    let scene = Scene { pieces: vec![], ..good() };
    refused("bare.jpg", &jpeg(&scene), &TOLD, &["garment", "cloth", "piece", "nothing"]);
}

/// Something the size of a leaf is not taken for a garment unasked.
#[test]
fn too_small_for_a_garment() {
    let leaf = Piece::new("leaf", &shapes::ellipse(14.0, 10.0), Fabric::plain(srgb(60, 90, 50)), 0.3);
    refused("leaf.jpg", &jpeg(&Scene { pieces: vec![leaf], ..good() }), &TOLD, &["--pieces 1"]);
}

/// A scan on a bare bed: what takes the place of a ruling is named.
#[test]
fn a_bare_bed() {
    let scene = Scene { sheet: Sheet::blank([700.0, 600.0]), ..good() };
    refused("bed.jpg", &jpeg(&scene), &["--pitch", "1in"], &["--trust-dpi"]);
    refused("bed.jpg", &jpeg(&scene), &["--pitch", "1in"], &["--at"]);
}

#[test]
fn wrong_kind_of_sheet() {
    refused("lines.jpg", &jpeg(&good()), &["--sheet", "checker", "--pitch", "1in"], &["checker", "sheet", "kind"]);
}

#[test]
fn a_pitch_that_no_camera_could_have_seen() {
    refused("lines.jpg", &jpeg(&good()), &["--sheet", "lines", "--pitch", "1mm"], &["1.0 mm", "away", "--pitch"]);
}

#[test]
fn two_sheets() {
    let mut scene = good();
    scene.sheet.span = [[-90.0, -300.0], [4.0, 300.0]];
    scene.more_sheets = vec![Sheet { laid: (23.0, [150.0, 20.0]), ..Sheet::lines(25.4, [500.0, 700.0]) }];
    refused("two-sheets.jpg", &jpeg(&scene), &TOLD, &["two", "sheet"]);
}

/// Filled squares half the pitch wide: a lattice by their centres, but no edge of cloth is told from theirs.
#[test]
fn separate_filled_squares() {
    let square = |x: f64, y: f64| [[x, y], [x + 20.0, y], [x + 20.0, y + 20.0], [x, y + 20.0]].to_vec();
    let all = (-6..6).flat_map(|j| (-8..8).map(move |i| square(40.0 * f64::from(i) + 7.0, 40.0 * f64::from(j) + 11.0))).collect();
    let mut scene = good();
    scene.sheet = Sheet { print: all, ink: srgb(40, 40, 45), ..Sheet::blank([700.0, 600.0]) };
    refused("squares.jpg", &jpeg(&scene), &["--pitch", "40mm"], &["filled squares"]);
}

#[test]
fn cut_by_the_frame() {
    let mut scene = good();
    scene.pieces[0] = scene.pieces[0].clone().laid(0.0, [-180.0, 0.0]);
    refused("cut.jpg", &jpeg(&scene), &TOLD, &["left"]);
}

#[test]
fn no_pitch() {
    refused("lines.jpg", &jpeg(&good()), &["--sheet", "lines"], &["pitch"]);
}

#[test]
fn not_pictures() {
    refused("empty.jpg", b"", &TOLD, &["empty"]);
    refused("letter.jpg", b"Dear wardrobe, the waistcoat came back from the cleaner.\n", &TOLD, &["picture", "jpeg"]);
    refused("one.png", &file::png(&render::scene::Picture { size: [1, 1], rgb: vec![0; 3] }, None), &TOLD, &["small", "pixel", "1"]);
    // GIF89a, one black pixel (Graphics Interchange Format, version 89a).
    let gif = b"GIF89a\x01\0\x01\0\x80\0\0\0\0\0\xff\xff\xff,\0\0\0\0\x01\0\x01\0\0\x02\x02D\x01\0;";
    refused("moving.gif", gif, &TOLD, &["gif"]);
    // The opening box of an HEIC file (ISO/IEC 14496-12 file type box, brand from ISO/IEC 23008-12).
    let heic = b"\0\0\0\x18ftypheic\0\0\0\0mif1heic\0\0\0\x08mdat";
    refused("phone.heic", heic, &TOLD, &["heic", "heif"]);
}

#[test]
fn broken_pictures() {
    let whole = jpeg(&good());
    refused("half.jpg", &whole[..whole.len() / 2], &TOLD, &["cut", "end", "incomplete", "truncated", "damaged"]);
    // A header that announces 100 000 × 100 000 pixels, 30 GB.
    let mut huge = Vec::new();
    let mut encoder = png::Encoder::new(&mut huge, 100_000, 100_000);
    encoder.set_color(png::ColorType::Rgb);
    drop(encoder.write_header().expect("a header in memory"));
    refused("huge.png", &huge, &TOLD, &["large", "pixel", "memory", "big"]);
}

#[test]
fn paths_that_lead_nowhere() {
    let (table, picture) = Table::with("good.jpg", &jpeg(&good()));
    let missing = table.folder.path().join("missing.jpg");
    refused_at(&missing, &table.out(), &TOLD, &["missing.jpg"]);
    // A file stands where the folder should be.
    let blocked = table.folder.path().join("out-is-a-file");
    std::fs::write(&blocked, "in the way").expect("written");
    let output = trace([picture.as_os_str(), "--out".as_ref(), blocked.as_os_str(), "--pitch".as_ref(), "1in".as_ref()]);
    complaint(&output);
    assert_eq!(output.status.code(), Some(2), "the call itself is wrong");
    assert_eq!(std::fs::read_to_string(&blocked).expect("still there"), "in the way");
}

#[test]
fn notes_that_are_not_there() {
    let (table, picture) = Table::with("good.jpg", &jpeg(&good()));
    let out = table.out();
    let words = [picture.as_os_str(), "--out".as_ref(), out.as_os_str()];
    let output = command().args(words).args(TOLD).args(["--notes", "gone.toml"]).output().expect("the program starts");
    let text = complaint(&output);
    assert!(text.contains("gone.toml") && !text.contains("os error"), "{text}");
    assert_eq!(output.status.code(), Some(2), "the call itself is wrong");
    assert!(nothing_written(&out));
}

#[test]
fn inner_seams_ask_for_one_picture() {
    let (table, picture) = Table::with("good.jpg", &jpeg(&good()));
    let other = table.folder.path().join("other.jpg");
    std::fs::copy(&picture, &other).expect("copied");
    let out = table.out();
    let words = [picture.as_os_str(), other.as_os_str(), "--out".as_ref(), out.as_os_str()];
    let output = command().args(words).args(TOLD).args(["--inner", "100,100 200,200"]).output().expect("the program starts");
    let text = complaint(&output);
    assert!(text.contains("--inner"), "{text}");
    assert_eq!(output.status.code(), Some(2), "the call itself is wrong");
    assert!(nothing_written(&table.out()));
}

#[test]
fn seams_within_that_can_not_be() {
    let good = jpeg(&good());
    let refused = |points: &str, words: &[&str]| refused("good.jpg", &good, &[&TOLD[..], &["--inner", points]].concat(), words);
    refused("100,100 2000,200", &["2000,200 given for a seam within the piece lies outside the picture, which is 1000 by 750"]);
    refused("-40,100 200,200", &["-40,100 given"]);
    refused("400,300 400,300", &["within 0.0 mm of each other"]);
}

#[test]
fn allowances_that_can_not_be() {
    let good = jpeg(&good());
    for allowance in ["0mm", "0.2mm", "1m"] {
        refused("good.jpg", &good, &[&TOLD[..], &["--line", "seam", "--allowance", allowance]].concat(), &["allowance from edge to seam"]);
    }
    refused("good.jpg", &good, &[&TOLD[..], &["--line", "seam"]].concat(), &["--allowance"]);
    // The notes may tell it, and may be wrong.
    for (noted, words) in [("", "--line seam needs"), ("allowance = \"0 mm\"", "allowance from edge to seam")] {
        let (table, picture) = Table::with("good.jpg", &good);
        std::fs::write(table.folder.path().join("garment.toml"), format!("[[shot]]\npicture = \"good.jpg\"\n{noted}\n")).expect("written");
        refused_at(&picture, &table.out(), &[&TOLD[..], &["--line", "seam"]].concat(), &[words]);
    }
}

/// One bad picture does not stop the others: exit code 1, the good one is written, one line for the bad one (and talk about the
/// good one's doubts).
#[test]
fn a_bad_picture_among_good_ones() {
    let (table, picture) = Table::with("good.jpg", &jpeg(&good()));
    let bad = table.folder.path().join("bad.jpg");
    std::fs::write(&bad, b"").expect("written");
    let words = [bad.as_os_str(), picture.as_os_str(), "--out".as_ref()];
    let output = command().args(words).arg(table.out()).args(TOLD).output().expect("the program starts");
    let text = String::from_utf8_lossy(&output.stderr);
    assert_eq!(text.lines().filter(|l| l.contains("bad.jpg")).count(), 1, "{text}");
    assert_eq!(output.status.code(), Some(1));
    assert!(table.out().join("good").join("outline.json").exists() && !table.out().join("bad").exists());
}
