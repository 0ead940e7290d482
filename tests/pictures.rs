//! Picture files: all kinds and makes that are read, all that must be refused, each with its words.
//!
//! The files in `tests/pictures` show one and the same wash of colours, `plain.png`; they were written and read back
//! with the Pillow library (libjpeg, libtiff, libwebp), which is the judge here.

// Says what was skipped for want of files.
#![allow(clippy::print_stderr)]

use image::codecs::jpeg::JpegEncoder;
use image::codecs::png::PngEncoder;
use image::codecs::tiff::TiffEncoder;
use image::codecs::webp::WebPEncoder;
use image::{ExtendedColorType, ImageEncoder};
use ruboff::shot::{Limits, Shot, ShotError};
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

const W: usize = 96;
const H: usize = 64;

fn here(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/pictures").join(name)
}

fn open(name: &str) -> Result<Shot, ShotError> {
    Shot::open(&here(name), &Limits::default())
}

fn decode(bytes: &[u8]) -> Result<Shot, ShotError> {
    Shot::decode(bytes, &Limits::default())
}

/// A grey ground with a dark F, upper left, so that no turn or mirror looks like another.
fn letter(w: usize, h: usize) -> Vec<u8> {
    let on = |x: usize, y: usize| {
        (8..16).contains(&x) && (8..56).contains(&y) || (8..40).contains(&x) && ((8..16).contains(&y) || (24..32).contains(&y))
    };
    (0..w * h).flat_map(|k| if on(k % w, k / w) { [20, 40, 60] } else { [200, 210, 220] }).collect()
}

fn encode(with: impl FnOnce(&mut std::io::Cursor<Vec<u8>>)) -> Vec<u8> {
    let mut out = std::io::Cursor::new(Vec::new());
    with(&mut out);
    out.into_inner()
}

fn jpeg(w: usize, h: usize, rgb: &[u8]) -> Vec<u8> {
    encode(|o| JpegEncoder::new_with_quality(o, 95).encode(rgb, w as u32, h as u32, ExtendedColorType::Rgb8).expect("written"))
}

fn png(w: usize, h: usize, rgb: &[u8], exif: Option<Vec<u8>>) -> Vec<u8> {
    encode(|o| {
        let mut encoder = PngEncoder::new(o);
        if let Some(exif) = exif {
            encoder.set_exif_metadata(exif).expect("PNG takes Exif");
        }
        encoder.write_image(rgb, w as u32, h as u32, ExtendedColorType::Rgb8).expect("written");
    })
}

fn webp(w: usize, h: usize, rgb: &[u8], exif: Option<Vec<u8>>) -> Vec<u8> {
    encode(|o| {
        let mut encoder = WebPEncoder::new_lossless(o);
        if let Some(exif) = exif {
            encoder.set_exif_metadata(exif).expect("WebP takes Exif");
        }
        encoder.write_image(rgb, w as u32, h as u32, ExtendedColorType::Rgb8).expect("written");
    })
}

/// Exif block, little endian: orientation and nothing else.
fn exif(orientation: u8) -> Vec<u8> {
    [b"II*\0\x08\0\0\0\x01\0\x12\x01\x03\0\x01\0\0\0".as_slice(), &[orientation, 0, 0, 0], &[0; 4]].concat()
}

/// A JPEG with an Exif segment right after its start.
fn with_exif(jpeg: &[u8], exif: &[u8]) -> Vec<u8> {
    let length = (exif.len() as u16 + 8).to_be_bytes();
    [&jpeg[..2], &[0xFF, 0xE1], &length, b"Exif\0\0", exif, &jpeg[2..]].concat()
}

/// The tag "Orientation" put into the first directory of a little-endian TIFF, in the place of one nobody reads.
fn with_tiff_orientation(tiff: &[u8], orientation: u8) -> Vec<u8> {
    let mut out = tiff.to_vec();
    let at = u32::from_le_bytes(out[4..8].try_into().expect("four bytes")) as usize;
    let count = usize::from(u16::from_le_bytes([out[at], out[at + 1]]));
    let entry = (0..count).map(|k| at + 2 + k * 12).find(|e| out[*e..*e + 2] == [0x1A, 1]).expect("XResolution is there");
    out[entry..entry + 12].copy_from_slice(&[0x12, 1, 3, 0, 1, 0, 0, 0, orientation, 0, 0, 0]);
    out
}

/// What a camera held like that would have stored: the reverse of what Exif 2.3 (tag 0x0112) says to undo.
fn stored(orientation: u8, rgb: &[u8]) -> (usize, usize, Vec<u8>) {
    let (w, h) = if orientation > 4 { (H, W) } else { (W, H) };
    let mut out = vec![0; rgb.len()];
    for y in 0..h {
        for x in 0..w {
            // Where stored column x and row y are seen; 6: row 0 is the right side, column 0 the top.
            let (u, v) = match orientation {
                1 => (x, y),
                2 => (W - 1 - x, y),
                3 => (W - 1 - x, H - 1 - y),
                4 => (x, H - 1 - y),
                5 => (y, x),
                6 => (W - 1 - y, x),
                7 => (W - 1 - y, H - 1 - x),
                _ => (y, H - 1 - x),
            };
            out[(y * w + x) * 3..][..3].copy_from_slice(&rgb[(v * W + u) * 3..][..3]);
        }
    }
    (w, h, out)
}

fn worst(a: &[u8], b: &[u8]) -> u8 {
    assert_eq!(a.len(), b.len());
    a.iter().zip(b).map(|(a, b)| a.abs_diff(*b)).max().unwrap_or(0)
}

fn mean(a: &[u8], b: &[u8]) -> f64 {
    assert_eq!(a.len(), b.len());
    a.iter().zip(b).map(|(a, b)| f64::from(a.abs_diff(*b))).sum::<f64>() / a.len() as f64
}

#[test]
fn the_letter_f_stands_upright_in_every_kind_of_file() {
    let upright = letter(W, H);
    for orientation in 1..=8 {
        let (w, h, rgb) = stored(orientation, &upright);
        let tiff = encode(|o| TiffEncoder::new(o).write_image(&rgb, w as u32, h as u32, ExtendedColorType::Rgb8).expect("written"));
        let files = [
            ("JPEG", with_exif(&jpeg(w, h, &rgb), &exif(orientation))),
            ("PNG", png(w, h, &rgb, Some(exif(orientation)))),
            ("WebP", webp(w, h, &rgb, Some(exif(orientation)))),
            ("TIFF", with_tiff_orientation(&tiff, orientation)),
        ];
        for (kind, file) in files {
            let shot = decode(&file).unwrap_or_else(|e| panic!("{kind} {orientation}: {e}"));
            assert_eq!((shot.width, shot.height), (W, H), "{kind} {orientation}");
            // JPEG rings around the letter; a letter elsewhere would be out by 180.
            let allowed = if kind == "JPEG" { 60 } else { 0 };
            assert!(worst(&shot.rgb, &upright) <= allowed, "{kind} {orientation}");
            assert_eq!(shot.blake3, blake3::hash(&file).to_hex().to_string());
        }
    }
}

#[test]
fn every_make_shows_the_same_picture() {
    let plain = open("plain.png").expect("the plain one");
    assert_eq!((plain.width, plain.height), (W, H));
    // Mean difference from the picture before it was coded, as the independent reader has it, and a tenth more.
    for (name, allowed) in [("progressive.jpg", 0.8), ("cmyk.jpg", 0.25), ("ycck.jpg", 1.1), ("chroma.tif", 1.4), ("lossy.webp", 1.45)] {
        let shot = open(name).unwrap_or_else(|e| panic!("{name}: {e}"));
        assert!(mean(&shot.rgb, &plain.rgb) <= allowed, "{name}: {}", mean(&shot.rgb, &plain.rgb));
    }
}

#[test]
fn sixteen_bits_grey_and_alpha() {
    let gray: Vec<u8> = (0..W * H).map(|k| (k % 251) as u8).collect();
    let want: Vec<u8> = gray.iter().flat_map(|v| [*v; 3]).collect();
    let deep: Vec<u8> = gray.iter().flat_map(|v| (u16::from(*v) * 257).to_ne_bytes()).collect();
    let alpha: Vec<u8> = gray.iter().flat_map(|v| [*v, *v, *v, 255]).collect();
    let nothing: Vec<u8> = gray.iter().flat_map(|v| [*v, *v, *v, 0]).collect();
    let (w, h) = (W as u32, H as u32);
    let cases: [(&[u8], ExtendedColorType, &[u8]); 4] = [
        (&gray, ExtendedColorType::L8, &want),
        (&deep, ExtendedColorType::L16, &want),
        (&alpha, ExtendedColorType::Rgba8, &want),
        (&nothing, ExtendedColorType::Rgba8, &vec![255; want.len()]),
    ];
    for (samples, colour, want) in cases {
        let png = encode(|o| PngEncoder::new(o).write_image(samples, w, h, colour).expect("written"));
        let tiff = encode(|o| TiffEncoder::new(o).write_image(samples, w, h, colour).expect("written"));
        for file in [png, tiff] {
            assert_eq!(decode(&file).unwrap_or_else(|e| panic!("{colour:?}: {e}")).rgb, want, "{colour:?}");
        }
    }
}

/// Cut anywhere, down to the last byte that matters, no file passes for a whole one.
#[test]
fn cut_short_is_noticed() {
    let rgb: Vec<u8> = (0..W * H * 3).map(|k| (k * k % 253) as u8).collect();
    let tiff = encode(|o| TiffEncoder::new(o).write_image(&rgb, W as u32, H as u32, ExtendedColorType::Rgb8).expect("written"));
    let read = |name| std::fs::read(here(name)).expect("there");
    let files = [
        jpeg(W, H, &rgb),
        png(W, H, &rgb, None),
        webp(W, H, &rgb, None),
        tiff,
        read("progressive.jpg"),
        read("cmyk.jpg"),
        read("lossy.webp"),
        read("chroma.tif"),
    ];
    for (k, file) in files.iter().enumerate() {
        assert!(decode(file).is_ok(), "file {k} is whole");
        for part in [0.1, 0.3, 0.5, 0.7, 0.9, 0.97] {
            let cut = &file[..(file.len() as f64 * part) as usize];
            let e = decode(cut).expect_err("cut short");
            assert!(matches!(e, ShotError::Truncated(_)), "file {k} at {part}: {e}");
        }
    }
    for file in &files[..2] {
        assert!(matches!(decode(&file[..file.len() - 1]), Err(ShotError::Truncated(_))));
    }
}

/// An end mark where most of the picture should be.
#[test]
fn an_end_that_comes_far_too_early_is_noticed() {
    let mut file = std::fs::read(here("cmyk.jpg")).expect("there");
    let frame = file.windows(2).position(|m| m == [0xFF, 0xC0]).expect("a frame header");
    file[frame + 5..frame + 9].copy_from_slice(&[0x20, 0, 0x20, 0]);
    assert!(matches!(decode(&file), Err(ShotError::Truncated(_))));
}

/// Zeros where the rest should be, as a copy that broke off leaves them.
#[test]
fn a_tail_of_zeros_is_noticed() {
    let mut file = jpeg(W, H, &letter(W, H));
    let half = file.len() / 2;
    file[half..].fill(0);
    assert!(matches!(decode(&file), Err(ShotError::Truncated(_))));
}

/// A phone puts a short film, or a second picture, behind the picture's end.
#[test]
fn bytes_after_the_end_do_not_matter() {
    let file = jpeg(W, H, &letter(W, H));
    let whole = decode(&file).expect("whole");
    let film = [file.as_slice(), b"\0\0\0\x18ftypmp42", &[0x55; 5000]].concat();
    assert_eq!(decode(&film).expect("with a film").rgb, whole.rgb);
    let two = [file.as_slice(), &file].concat();
    assert_eq!(decode(&two).expect("with another").rgb, whole.rgb);
}

/// Stray bytes between segments, which some cameras leave.
#[test]
fn stray_bytes_between_segments_do_not_matter() {
    let file = with_exif(&jpeg(W, H, &letter(W, H)), &exif(3));
    let second = 2 + 2 + usize::from(u16::from_be_bytes([file[4], file[5]]));
    let stray = [&file[..second], &[0x00, 0x11, 0x22, 0x33, 0x44, 0x55], &file[second..]].concat();
    assert_eq!(decode(&stray).expect("readable").rgb, decode(&file).expect("readable").rgb);
}

#[test]
fn too_large_is_refused_before_it_is_decoded() {
    // A PNG that says it has 60000 × 60000 pixels: header, and a little data that would unpack for long.
    let mut bomb = png(W, H, &letter(W, H), None);
    bomb[16..24].copy_from_slice(&[0, 0, 0xEA, 0x60, 0, 0, 0xEA, 0x60]);
    let sum = crc32(&bomb[12..29]);
    bomb[29..33].copy_from_slice(&sum.to_be_bytes());
    let mut wide = jpeg(W, H, &letter(W, H));
    let frame = wide.windows(2).position(|m| m == [0xFF, 0xC0]).expect("a frame header");
    wide[frame + 5..frame + 9].copy_from_slice(&[0xFF, 0xFF, 0xFF, 0xFF]);
    for file in [bomb, wide] {
        let start = Instant::now();
        let e = decode(&file).expect_err("far too large");
        assert!(matches!(e, ShotError::TooLarge { .. }), "{e}");
        assert!(e.to_string().contains("dpi"), "{e}");
        assert!(start.elapsed() < Duration::from_millis(200), "took {:?}", start.elapsed());
    }
}

/// Rendered pictures of bad and odd files, where they are at hand.
#[test]
fn rendered_pictures_bad_and_odd() {
    let folder = std::env::var_os("RUBOFF_PRACTICE")
        .map_or_else(|| Path::new(env!("CARGO_MANIFEST_DIR")).join("../shared/practice/pictures"), PathBuf::from);
    let Ok(entries) = std::fs::read_dir(&folder) else {
        eprintln!("skipped: no rendered pictures at {}", folder.display());
        return;
    };
    let mut names: Vec<_> = entries.map(|e| e.expect("an entry").path()).filter(|p| p.to_string_lossy().ends_with(".truth.json")).collect();
    names.sort();
    for truth in names {
        let text = std::fs::read_to_string(&truth).expect("read");
        let truth: serde_json::Value = serde_json::from_str(&text).expect("JSON");
        let file = truth["file"].as_str().expect("a file name");
        // D: bad and odd files; E: scans. The rest are photographs like any other.
        if !file.starts_with(['D', 'E']) {
            continue;
        }
        let start = Instant::now();
        let seen = Shot::open(&folder.join(file), &Limits::default());
        assert!(start.elapsed() < Duration::from_secs(10), "{file} took {:?}", start.elapsed());
        let unreadable = ["truncated", "text_named", "bomb"].iter().any(|w| file.contains(w));
        match seen {
            Ok(shot) => {
                let size = [shot.width, shot.height].map(|v| v as u64);
                let want = truth["upright_px"].as_array().expect("a size");
                assert!(!unreadable, "{file} was read");
                assert_eq!(size.map(Some), [want[0].as_u64(), want[1].as_u64()], "{file}");
            }
            Err(e) => assert!(unreadable, "{file}: {e}"),
        }
    }
}

/// CRC-32 of PNG (W3C PNG, annex D), bit by bit.
fn crc32(bytes: &[u8]) -> u32 {
    !bytes.iter().fold(!0u32, |crc, b| (0..8).fold(crc ^ u32::from(*b), |c, _| if c & 1 == 1 { 0xEDB8_8320 ^ (c >> 1) } else { c >> 1 }))
}

#[test]
fn dots_to_the_inch_by_kind() {
    // JFIF 1.02: unit 1 = dots to the inch, 2 = to the cm, 0 = only a ratio.
    let file = jpeg(W, H, &letter(W, H));
    let app0 = file.windows(5).position(|m| m == b"JFIF\0").expect("JFIF");
    for (unit, density, want) in [(1, 300u16, Some(300.0 / 25.4)), (2, 118, Some(11.8)), (0, 300, None)] {
        let mut file = file.clone();
        file[app0 + 7] = unit;
        file[app0 + 8..app0 + 10].copy_from_slice(&density.to_be_bytes());
        file[app0 + 10..app0 + 12].copy_from_slice(&density.to_be_bytes());
        let seen = decode(&file).expect("readable").tags.px_per_mm;
        assert_eq!(seen.map(|v| v[0]), want, "unit {unit}");
    }
    // PNG pHYs: 11811 pixels to the metre is 300 dpi, but for 2 parts in a million.
    let mut chunk = [b"pHYs".as_slice(), &11811u32.to_be_bytes(), &11811u32.to_be_bytes(), &[1]].concat();
    chunk.extend_from_slice(&crc32(&chunk).to_be_bytes());
    let plain = png(W, H, &letter(W, H), None);
    let file = [&plain[..33], &[0, 0, 0, 9], &chunk, &plain[33..]].concat();
    let seen = decode(&file).expect("readable").tags.px_per_mm.expect("given");
    assert!((seen[0] * 25.4 / 300.0 - 1.0).abs() < 3e-6 && seen[0] == seen[1]);
}

#[test]
fn refused_by_name_with_what_to_do() {
    let dir = tempfile::tempdir().expect("a folder");
    let file = |name: &str, bytes: &[u8]| {
        let path = dir.path().join(name);
        std::fs::write(&path, bytes).expect("written");
        Shot::open(&path, &Limits::default()).expect_err(name)
    };
    let cases = [
        (file("empty.jpg", b""), "empty"),
        (file("words.jpg", b"Dear diary, today I laid the coat on the sheet."), "text"),
        (file("short.jpg", b"\xFF"), "not a picture"),
        (file("start.jpg", b"\xFF\xD8"), "breaks off"),
        (file("noise.png", &[7, 1, 200, 3, 9, 0, 0, 1]), "not a picture"),
        (file("moving.gif", b"GIF89a\x01\0\x01\0\0\0\0"), "GIF"),
        (file("phone.heic", b"\0\0\0\x18ftypheic\0\0\0\0mif1heic"), "HEIC"),
        (file("new.avif", b"\0\0\0\x18ftypavif\0\0\0\0mif1"), "AVIF"),
        (file("film.jpg", b"\0\0\0\x18ftypmp42\0\0\0\0"), "film"),
        (file("page.pdf", b"%PDF-1.7"), "PDF"),
        (file("tiny.png", &png(1, 1, &[1, 2, 3], None)), "1 × 1"),
        (open("moving.webp").expect_err("moves"), "animated WebP"),
        (Shot::open(dir.path(), &Limits::default()).expect_err("a folder"), "folder"),
        (Shot::open(&dir.path().join("nowhere.jpg"), &Limits::default()).expect_err("missing"), "no such file"),
        (Shot::open(Path::new("/dev/null"), &Limits::default()).expect_err("a device"), "not an ordinary file"),
        (Shot::decode(&[0; 64], &Limits::default()).expect_err("zeros"), "zeros"),
    ];
    for (e, word) in &cases {
        let text = e.to_string();
        assert!(text.contains(word), "{word}: {text}");
        assert!((15..=270).contains(&text.chars().count()) && !text.contains('\n'), "{text}");
    }
}

#[test]
fn the_name_does_not_matter() {
    let dir = tempfile::tempdir().expect("a folder");
    let path = dir.path().join("really-a-png.jpg");
    std::fs::write(&path, png(W, H, &letter(W, H), None)).expect("written");
    let shot = Shot::open(&path, &Limits::default()).expect("a PNG all the same");
    assert_eq!((shot.file, shot.rgb), (path, letter(W, H)));
}
