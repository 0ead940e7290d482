//! Bytes from outside must never bring the program down: pictures with spoilt headers, notes, sheet profiles, lengths.
//!
//! The short run is the same every time. The long one goes on with other seeds:
//! `RUBOFF_FUZZ_SECONDS=60 cargo test --release --test fuzz_headers -- --ignored`.

// The long run says its seed, so that what it finds can be found again.
#![allow(clippy::print_stderr)]

use image::codecs::png::PngEncoder;
use image::codecs::tiff::TiffEncoder;
use image::codecs::webp::WebPEncoder;
use image::{ExtendedColorType, ImageEncoder};
use ruboff::length::Length;
use ruboff::notes::{Draft, Notes, Place};
use ruboff::sheet::SheetProfile;
use ruboff::shot::{Limits, Shot};
use std::io::Cursor;
use std::path::Path;
use std::time::{Duration, Instant};

/// No single case may take longer, on a busy machine either.
const SLOW: Duration = Duration::from_secs(10);

/// Random numbers: xorshift64* (Marsaglia 2003, Vigna 2016).
struct Dice(u64);

impl Dice {
    fn roll(&mut self) -> u64 {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        self.0.wrapping_mul(0x2545_F491_4F6C_DD1D)
    }

    fn below(&mut self, n: usize) -> usize {
        (self.roll() % n.max(1) as u64) as usize
    }
}

/// Good files to spoil.
fn pictures() -> Vec<Vec<u8>> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/pictures");
    let mut names: Vec<_> = std::fs::read_dir(folder).expect("pictures").map(|e| e.expect("an entry").path()).collect();
    names.sort();
    let mut all: Vec<Vec<u8>> = names.iter().map(|p| std::fs::read(p).expect("read")).collect();
    let rgba: Vec<u8> = (0..48 * 40 * 4).map(|k| (k * 7 % 256) as u8).collect();
    let deep: Vec<u8> = (0..48 * 40 * 6).map(|k| (k * 5 % 256) as u8).collect();
    let mut add = |write: &dyn Fn(&mut Cursor<Vec<u8>>)| {
        let mut out = Cursor::new(Vec::new());
        write(&mut out);
        all.push(out.into_inner());
    };
    add(&|o| PngEncoder::new(o).write_image(&deep, 48, 40, ExtendedColorType::Rgb16).expect("written"));
    add(&|o| TiffEncoder::new(o).write_image(&deep, 48, 40, ExtendedColorType::Rgb16).expect("written"));
    add(&|o| TiffEncoder::new(o).write_image(&rgba, 48, 40, ExtendedColorType::Rgba8).expect("written"));
    add(&|o| {
        let mut encoder = WebPEncoder::new_lossless(o);
        encoder.set_exif_metadata(b"II*\0\x08\0\0\0\x01\0\x12\x01\x03\0\x01\0\0\0\x06\0\0\0\0\0\0\0".to_vec()).expect("takes Exif");
        encoder.write_image(&rgba, 48, 40, ExtendedColorType::Rgba8).expect("written");
    });
    let profile = moxcms::ColorProfile::new_display_p3().encode().expect("a profile");
    add(&|o| {
        let mut encoder = PngEncoder::new(o);
        encoder.set_icc_profile(profile.clone()).expect("takes a profile");
        encoder.write_image(&rgba, 48, 40, ExtendedColorType::Rgba8).expect("written");
    });
    all
}

/// One to a few spoilt places, most of them near the start, where headers are.
fn spoil(good: &[u8], dice: &mut Dice) -> Vec<u8> {
    const ODD: [u32; 8] = [0, 1, 0x7FFF_FFFF, 0x8000_0000, 0xFFFF_FFFF, 0xFF00, 0xFFFF, 0x0001_0000];
    let mut out = good.to_vec();
    for _ in 0..=dice.below(6) {
        let reach = if dice.below(4) == 0 { out.len() } else { out.len().min(300) };
        let at = dice.below(reach);
        match dice.below(8) {
            0 | 1 => out[at] = dice.roll() as u8,
            2 => out[at] ^= 1 << dice.below(8),
            3 | 4 => {
                let odd = ODD[dice.below(ODD.len())];
                let word = if dice.below(2) == 0 { odd.to_le_bytes() } else { odd.to_be_bytes() };
                let from = dice.below(3);
                out.iter_mut().skip(at).zip(&word[from..]).for_each(|(o, w)| *o = *w);
            }
            5 => out.truncate(at.max(1)),
            6 => {
                let (from, n) = (dice.below(out.len()), dice.below(40));
                let piece: Vec<u8> = out[from..].iter().take(n).copied().collect();
                out.splice(at..at, piece);
            }
            _ => {
                let n = dice.below(20).min(out.len() - at - 1);
                out.drain(at..at + n);
            }
        }
    }
    out
}

fn picture(good: &[Vec<u8>], dice: &mut Dice) {
    // Small limits, so that a header that asks for much is refused and not waited for.
    let limits = Limits { pixels: 2_000_000, bytes: 32 << 20 };
    let spoilt = spoil(&good[dice.below(good.len())], dice);
    match Shot::decode(&spoilt, &limits) {
        Ok(shot) => assert_eq!(shot.rgb.len(), shot.width * shot.height * 3),
        Err(e) => {
            let text = e.to_string();
            assert!((15..=290).contains(&text.chars().count()) && !text.contains('\n'), "{text}");
        }
    }
}

const NOTES: &str = r#"# a record
[garment]
name = "Coat of the second guard"
fragile = true
more = { act = "two" }
[[shot]]
picture = "front.jpg"
side = "inside out"
thickness = "1.5 mm"
[[shot.corner]]
name = "neck"
px = [1204, 1730.5]
[[shot.corner]]
name = "hem"
mm = ["312 mm", "18 1/2 in"]
[[shot.edge]]
from = "neck"
to = "hem"
line = "seam"
[piece.front]
cut = "1"
allowance = { all = "6 mm" }
[[join]]
edges = ["a: b", "c: d"]
"#;

const SHEET: &str = "name = \"roll\"\nkind = \"lines\"\npitch = [\"25.38 mm\", \"1 in\"]\nheavy_every = 4\npitch_error = 0.0005\n";

/// Text with pieces of itself and of TOML's signs moved about.
fn spoil_text(good: &str, dice: &mut Dice) -> String {
    const SIGNS: [&str; 14] = ["\"", "[", "]", "[[", "=", "\n", "{", "nan", "-", "1e999", "\u{0}", "é", "'''", "."];
    let mut chars: Vec<char> = good.chars().collect();
    for _ in 0..=dice.below(5) {
        let at = dice.below(chars.len());
        match dice.below(4) {
            0 => drop(chars.drain(at..(at + dice.below(12)).min(chars.len()))),
            1 => drop(chars.splice(at..at, SIGNS[dice.below(SIGNS.len())].chars())),
            2 => {
                let (from, n) = (dice.below(chars.len()), dice.below(30));
                let piece: Vec<char> = chars[from..].iter().take(n).copied().collect();
                chars.splice(at..at, piece);
            }
            _ => chars.truncate(at.max(1)),
        }
        if chars.is_empty() {
            chars.push('#');
        }
    }
    chars.into_iter().collect()
}

fn text(dice: &mut Dice) {
    let notes = spoil_text(NOTES, dice);
    if let Err(e) = Notes::from_text(&notes) {
        let words = e.to_string();
        assert!((10..=290).contains(&words.chars().count()) && !words.contains('\n'), "{words}");
        assert!(e.line <= notes.lines().count() + 1, "{words}");
    } else {
        let mut draft = Draft::from_text(&notes).unwrap_or_else(|e| panic!("good notes could not be taken up, {e}: {notes}"));
        if draft.set_corner("front.jpg", "new", Place::Px([1.0, 2.0].into())).is_ok() {
            assert!(draft.notes().is_ok(), "{}", draft.text());
        }
    }
    let _ = SheetProfile::from_text(&spoil_text(SHEET, dice));
    let _ = Length::signed(&spoil_text("19 1/8 in", dice));
}

fn run(seed: u64, mut more: impl FnMut(usize) -> bool) -> usize {
    let (good, mut dice) = (pictures(), Dice(seed));
    let mut cases = 0;
    while more(cases) {
        let (state, start) = (dice.0, Instant::now());
        picture(&good, &mut dice);
        text(&mut dice);
        assert!(start.elapsed() < SLOW, "the case that starts from {state:#x} took {:?}", start.elapsed());
        cases += 1;
    }
    cases
}

#[test]
fn spoilt_files_are_refused_or_read_but_never_bring_it_down() {
    run(0x9E37_79B9_7F4A_7C15, |cases| cases < 8_000);
}

/// The check sees what it should: most spoilt files are refused, some are still read.
#[test]
fn spoiling_spoils() {
    let (good, mut dice) = (pictures(), Dice(7));
    let read = (0..300).filter(|k| Shot::decode(&spoil(&good[k % good.len()], &mut dice), &Limits::default()).is_ok()).count();
    assert!((10..250).contains(&read), "{read} of 300 were read");
}

#[test]
#[ignore = "takes a minute; run by the cross-checks"]
fn spoilt_files_for_as_long_as_asked() {
    let seconds = std::env::var("RUBOFF_FUZZ_SECONDS").ok().and_then(|s| s.parse().ok()).unwrap_or(60);
    let seed = std::time::SystemTime::now().duration_since(std::time::UNIX_EPOCH).map_or(1, |d| d.as_nanos() as u64) | 1;
    let end = Instant::now() + Duration::from_secs(seconds);
    eprintln!("fuzz from seed {seed:#x}");
    let cases = run(seed, |_| Instant::now() < end);
    eprintln!("{cases} cases in {seconds} s, none brought it down");
}
