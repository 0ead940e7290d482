//! Fills a folder with an archive of invented garments, for looking at reports and for timing them:
//! `cargo run --release --example fill_archive -- FOLDER [GARMENTS]`. Records are those of the tests with other words and figures in them.

use jpeg_encoder::{ColorType, Encoder};
use serde_json::{Value, json};
use std::path::Path;

const OUTLINE: &str = include_str!("../tests/golden/outline.json");
const GARMENT: &str = include_str!("../tests/golden/garment.json");
const KINDS: [&str; 6] = ["coat", "waistcoat", "skirt", "dress", "trousers", "top"];
const OF: [&str; 8] = ["ferrywoman's", "miller's", "herald's", "gardener's", "пекаря", "bücherträger's", "漁師の", "lamplighter's"];
const MAKERS: [&str; 5] = ["Lantern Street Playhouse", "Élise's workroom", "unknown", "the Harbour Company", "Workroom Nine"];
const DOUBTS: [(&str, &str); 4] = [
    (
        "edge-unsure",
        "The outline may be out by 2.6 mm on the upper edge, because the edge is not even. Look at the evidence picture; a place in the notes settles it.",
    ),
    ("low-resolution", "Only 1.8 pixels to the millimetre here. Come nearer or take the piece in two pictures."),
    (
        "pitch-not-measured",
        "Nobody measured the sheet; its pitch may be out by 0.2 %. Lay a steel rule along many squares and write what you read in a sheet profile.",
    ),
    ("crease", "A crease runs into the outline here and may take up 1.2 mm of cloth. Smooth it and take the picture again."),
];

fn main() -> std::io::Result<()> {
    let mut words = std::env::args().skip(1);
    let (Some(folder), garments) = (words.next(), words.next().and_then(|n| n.parse().ok()).unwrap_or(2000)) else {
        return Err(std::io::Error::other("say a folder, and how many garments"));
    };
    (0..garments).try_for_each(|k| garment(Path::new(&folder), k))
}

/// A number drawn by lot for a garment, 0 to 1, the same every time.
fn lot(k: usize, of: u64) -> f64 {
    let mut x = (k as u64).wrapping_mul(0x9e37_79b9_7f4a_7c15) ^ of.wrapping_mul(0xbf58_476d_1ce4_e5b9);
    for _ in 0..3 {
        x = (x ^ (x >> 31)).wrapping_mul(0x94d0_49bb_1331_11eb);
    }
    (x >> 11) as f64 / (1u64 << 53) as f64
}

fn pick<T: Copy>(all: &[T], k: usize, of: u64) -> T {
    all[(lot(k, of) * all.len() as f64) as usize]
}

fn garment(root: &Path, k: usize) -> std::io::Result<()> {
    let kind = pick(&KINDS, k, 1);
    let name = format!("{} {kind}", pick(&OF, k, 2));
    let folder = root.join(format!("rail-{:02}", k / 100)).join(format!("{k:05}-{kind}"));
    let front = folder.join("front");
    std::fs::create_dir_all(&front)?;
    let mut record: Value = serde_json::from_str(GARMENT)?;
    let year = 1870 + (lot(k, 3) * 120.0) as u32;
    let said = |words: &str| json!({"value": words, "how": "noted", "by": "the wardrobe", "on": "2026-11-20"});
    record["id"] = format!("lsp-{k:05}").into();
    record["garment"] = json!({
        "name": said(&name), "kind": said(kind), "number": said(&format!("LSP-{k:05}")), "maker": said(pick(&MAKERS, k, 4)),
        "date": said(&format!("about {year}")), "date_earliest": said(&year.to_string()), "date_latest": said(&(year + 5).to_string()),
        "materials": said("brown wool twill, cotton thread"), "rights": said("picture and record free to use"),
    });
    if k.is_multiple_of(7) {
        record["garment"]["fragile"] = json!({"value": true, "how": "noted"});
    }
    record["pictures"] = json!([{"file": "front.jpg", "result": "traced", "outline": "front/outline.json"}]);
    let measure = |name: &str, mm: f64| json!({"id": name, "name": name, "mm": mm, "inches": format!("{:.2} in", mm / 25.4), "bound_mm": 1.2, "how": "seen", "half_round": true});
    record["pieces"][0]["measures"] = json!([
        measure("chest", 380.0 + 300.0 * lot(k, 5)),
        measure("waist", 320.0 + 300.0 * lot(k, 6)),
        measure("length", 400.0 + 800.0 * lot(k, 7)),
    ]);
    if !k.is_multiple_of(40) {
        (record["tape"], record["doubts"]) = (json!([]), json!([]));
    }
    std::fs::write(folder.join("garment.json"), serde_json::to_string_pretty(&record)?)?;
    std::fs::write(folder.join("measures.csv"), "garment,piece,measure\r\n")?;
    std::fs::write(front.join("evidence.jpg"), picture(k, 320))?;
    std::fs::write(front.join("thumbnail.jpg"), picture(k, 320))?;
    if lot(k, 8) < 0.02 {
        let failed = json!({"format": "ruboff-failed", "version": 1, "picture": {"file": "front.jpg", "blake3": null},
            "say": "no ruled sheet was found: lay the garment on one, or say --sheet and --pitch", "made_by": {"version": "0.1.0"}});
        return std::fs::write(front.join("failed.json"), failed.to_string());
    }
    std::fs::write(front.join("outline.json"), outline(k)?)?;
    std::fs::write(front.join("outline.svg"), "<svg xmlns=\"http://www.w3.org/2000/svg\"/>")
}

fn outline(k: usize) -> std::io::Result<String> {
    let mut record: Value = serde_json::from_str(OUTLINE)?;
    record["pictures"][0]["file"] = "front.jpg".into();
    let out = 0.1 + lot(k, 9).powi(4) * 3.0;
    for edge in record["pieces"][0]["edges"].as_array_mut().into_iter().flatten() {
        edge["bound_mm"] = out.into();
        // As many places as a coat's edges have.
        edge["along"] = (0..150).map(|j| json!([f64::from(j) * 5.0, out])).collect();
    }
    record["views"][0]["px_per_mm"] = json!([1.5 + 3.0 * lot(k, 10), 5.0]);
    record["views"][0]["tilt_deg"] = json!(20.0 * lot(k, 11));
    let doubts = DOUBTS.iter().enumerate().filter(|(j, _)| lot(k, 12 + *j as u64) < 0.35);
    record["doubts"] = doubts.map(|(_, (code, say))| json!({"code": code, "where": null, "say": say})).collect();
    Ok(serde_json::to_string_pretty(&record)?)
}

/// A picture of no garment: a shape on a ruled ground, with grain as photographs have it.
fn picture(k: usize, wide: u32) -> Vec<u8> {
    let high = wide * 3 / 4;
    let cloth = [lot(k, 20), lot(k, 21), lot(k, 22)].map(|v| 40.0 + 150.0 * v);
    let mut pixels = Vec::with_capacity((wide * high * 3) as usize);
    for y in 0..high {
        for x in 0..wide {
            let (u, v) = (f64::from(x) / f64::from(wide) - 0.5, f64::from(y) / f64::from(high) - 0.5);
            let grain = 26.0 * (lot((y * wide + x) as usize, k as u64) - 0.5);
            let inside = u.abs() < 0.22 + 0.12 * v && v.abs() < 0.38 && (u.abs() > 0.08 || v > -0.3);
            let ruled = x % 16 == 0 || y % 16 == 0;
            let rgb = if inside {
                cloth
            } else if ruled {
                [150.0, 165.0, 190.0]
            } else {
                [228.0, 228.0, 224.0]
            };
            pixels.extend(rgb.map(|c| (c + grain).clamp(0.0, 255.0) as u8));
        }
    }
    let mut bytes = Vec::new();
    let (w, h) = (u16::try_from(wide).unwrap_or(320), u16::try_from(high).unwrap_or(240));
    if Encoder::new(&mut bytes, 80).encode(&pixels, w, h, ColorType::Rgb).is_err() {
        bytes.clear();
    }
    bytes
}
