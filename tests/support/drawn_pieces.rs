//! Records of pieces that are polygons: what a test wants to know of them is plain arithmetic.

#![allow(dead_code)]

use ruboff::notes::Notes;
use ruboff::write::pattern::{Choices, Pattern, pattern_of_outline};
use ruboff::write::{GarmentRecord, Record, Seen, Shown, pieces};
use serde_json::{Value, json};

pub const OUTLINE: &str = include_str!("../golden/outline.json");

/// A letter F: neither its mirror image nor any turn of it is an F.
pub const F: [[f64; 2]; 10] = [
    [0.0, 0.0],
    [160.0, 0.0],
    [160.0, 40.0],
    [60.0, 40.0],
    [60.0, 90.0],
    [120.0, 90.0],
    [120.0, 130.0],
    [60.0, 130.0],
    [60.0, 240.0],
    [0.0, 240.0],
];

pub fn path(points: &[[f64; 2]], closed: bool) -> String {
    let all: Vec<String> = points.iter().map(|p| format!("{:.4} {:.4}", p[0], p[1])).collect();
    format!("M {}{}", all.join(" L "), if closed { " Z" } else { "" })
}

/// The golden record with other pieces: polygons by name, their edges `e0`, `e1` …, their corners `c0`, `c1` ….
pub fn outlines(pieces: &[(&str, &[[f64; 2]])]) -> Value {
    let mut record: Value = serde_json::from_str(OUTLINE).expect("the golden record");
    let pattern = record["pieces"][0].clone();
    let edge = pattern["edges"][0].clone();
    let one = |(name, points): &(&str, &[[f64; 2]])| {
        let n = points.len();
        let edges = (0..n).map(|k| {
            let mut e = edge.clone();
            e["name"] = json!(format!("e{k}"));
            e["line"] = json!("rim");
            e["path"] = json!(path(&[points[k], points[(k + 1) % n]], false));
            e["from"] = json!(k);
            e["to"] = json!((k + 1) % n);
            e
        });
        let mut p = pattern.clone();
        p["name"] = json!(name);
        p["outline"] = json!(path(points, true));
        p["edges"] = edges.collect();
        p["corners"] = points.iter().enumerate().map(|(k, at)| json!({"name": format!("c{k}"), "at": at, "error_mm": 0.1})).collect();
        p["inner"] = json!([]);
        p["holes"] = json!([]);
        p
    };
    record["pieces"] = pieces.iter().map(one).collect();
    record
}

pub fn pattern(record: &Value) -> Pattern {
    let record = Record::from_text(&record.to_string()).expect("a record");
    pattern_of_outline(&record, &Choices { date: "1926-05-17".into(), ..Choices::default() }).expect("a pattern")
}

/// A rectangle, clockwise from its upper left corner.
pub fn boxed(w: f64, h: f64) -> [[f64; 2]; 4] {
    [[0.0, 0.0], [w, 0.0], [w, h], [0.0, h]]
}

/// A garment of several pieces, each in a picture `NAME.jpg` of its own, with notes; the pictures' records too.
pub fn garment(notes: &str, each: &[(&str, &[[f64; 2]])]) -> (GarmentRecord, Vec<Record>) {
    let told = Notes::from_text(notes).unwrap_or_else(|e| panic!("{e}"));
    let mut records = Vec::new();
    let shown: Vec<Shown> = each
        .iter()
        .map(|piece| {
            let file = format!("{}.jpg", piece.0);
            let mut record = outlines(std::slice::from_ref(piece));
            record["pictures"][0]["file"] = json!(file);
            let record = Record::from_text(&record.to_string()).expect("a record");
            records.push(record.clone());
            let shot = told.shots.iter().find(|s| s.picture.as_deref() == Some(file.as_str())).cloned().unwrap_or_default();
            let seen = Seen {
                pieces: pieces(&record, &shot, &told).expect("pieces"),
                record,
                outline: format!("{}/outline.json", piece.0),
                beside: Vec::new(),
            };
            Shown { file, shot, found: Ok(Box::new(seen)) }
        })
        .collect();
    (GarmentRecord::of((&told, notes), &shown, "garment", Vec::new()), records)
}
