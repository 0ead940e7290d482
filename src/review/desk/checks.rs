//! The garment beside an entry: measures, tape readings, sides held against each other, joins.

use super::Desk;
use super::entries::Entry;
use crate::piece::alike;
use crate::review::ReviewError;
use crate::review::opinion::{Opinions, doubt_id};
use crate::write::GarmentRecord;
use serde_json::{Value, json};

/// Largest garment's record read, bytes.
const LONGEST: u64 = 64 << 20;

impl Desk {
    /// What there is to check beside an entry; nothing of a picture that is of no garment but its own sides.
    ///
    /// # Errors
    /// There is no such entry; its opinions can't be read.
    pub fn checks(&self, at: &str) -> Result<Value, ReviewError> {
        if let Some(say) = self.settle() {
            return Err(ReviewError::Cannot(format!("not all files could be written: {say}")));
        }
        let folder = self.results(at)?;
        let home = self.entries.get(at).map_or_else(|| folder.parent().map(Into::into), garment_home);
        let file =
            home.map(|h: std::path::PathBuf| h.join("garment.json")).filter(|f| std::fs::metadata(f).is_ok_and(|m| m.len() < LONGEST));
        let record = file.and_then(|f| std::fs::read_to_string(f).ok()).and_then(|t| GarmentRecord::from_text(&t).ok());
        let sides = self.record(at)?.map_or_else(Vec::new, |r| r.pieces.iter().flat_map(sides).collect());
        let Some(garment) = record else {
            return Ok(json!({"garment": null, "measures": [], "tape": [], "sides": sides, "joins": [], "doubts": []}));
        };
        let opinions = Opinions::open(&folder)?;
        Ok(json!({
            "garment": garment.garment.get("name").and_then(|n| n.get("value")).cloned().unwrap_or_else(|| json!(garment.id)),
            "measures": measures(&garment),
            "tape": garment.tape.iter().map(tape).collect::<Vec<_>>(),
            "sides": sides,
            "joins": garment.joins.iter().map(join).collect::<Vec<_>>(),
            "doubts": doubts(&garment, &opinions),
        }))
    }
}

fn garment_home(entry: &Entry) -> Option<std::path::PathBuf> {
    entry.unit.notes.as_ref().map(|_| entry.unit.home.clone())
}

fn measures(garment: &GarmentRecord) -> Vec<Value> {
    let all = garment.pieces.iter().flat_map(|p| {
        p.measures.iter().map(|m| {
            let mut told = serde_json::to_value(m).unwrap_or_default();
            told["piece"] = json!(p.name);
            told
        })
    });
    all.collect()
}

fn tape(t: &crate::write::TapeOf) -> Value {
    let mut told = serde_json::to_value(t).unwrap_or_default();
    let against = t.against.first().map(|a| serde_json::to_value(a).unwrap_or_default()).unwrap_or_default();
    for key in ["seen_mm", "off_mm", "agrees"] {
        told[key] = against.get(key).cloned().unwrap_or(Value::Null);
    }
    if told["piece"].is_null() {
        told["piece"] = against.get("piece").cloned().unwrap_or(Value::Null);
    }
    told
}

/// Lengths as sewn where they were walked, else as found.
fn join(j: &crate::write::JoinOf) -> Value {
    let mut told = serde_json::to_value(j).unwrap_or_default();
    if let Some(sewn) = j.sewn_mm {
        told["lengths_mm"] = json!(sewn);
    }
    let lengths: Vec<f64> = told["lengths_mm"].as_array().map(|l| l.iter().filter_map(Value::as_f64).collect()).unwrap_or_default();
    let ease = told["ease_mm"].as_f64().unwrap_or(0.0);
    told["differs_mm"] = if let [a, b] = lengths[..] { json!(((a - b - ease) * 1e4).round() / 1e4) } else { Value::Null };
    told
}

fn doubts(garment: &GarmentRecord, opinions: &Opinions) -> Vec<Value> {
    let own = garment.doubts.iter().filter(|d| d.picture.is_none()).map(|d| &d.doubt);
    let told = own.map(|d| {
        let id = doubt_id(&d.code, d.place, &d.say);
        let ticked = opinions.ticked(&id).map(|t| json!({"by": t.by, "on": t.on}));
        json!({"id": id, "code": d.code, "say": d.say, "ticked": ticked})
    });
    told.collect()
}

/// Edges of a piece that are each other's mirror by name: left against right.
fn sides(piece: &crate::write::PieceRecord) -> Vec<Value> {
    let mut out = Vec::new();
    for left in &piece.edges {
        let Some(other) = mirrored(&left.name) else { continue };
        let Some(right) = piece.edges.iter().find(|e| alike(&e.name, &other)) else { continue };
        let differs = ((left.length_mm - right.length_mm) * 1e4).round() / 1e4;
        out.push(json!({"piece": piece.name, "left": left.name, "right": right.name, "left_mm": left.length_mm, "right_mm": right.length_mm, "differs_mm": differs}));
    }
    out
}

/// The name of the other side's edge; none for one that is of no left side.
fn mirrored(name: &str) -> Option<String> {
    let words: Vec<&str> = name.split_whitespace().collect();
    let left = words.iter().position(|w| w.eq_ignore_ascii_case("left"))?;
    let turned = words.iter().enumerate().map(|(k, w)| if k == left { "right" } else { w });
    Some(turned.collect::<Vec<_>>().join(" "))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sides_are_found_by_their_names() {
        assert_eq!(mirrored("side left").as_deref(), Some("side right"));
        assert_eq!(mirrored("Left armhole upper").as_deref(), Some("right armhole upper"));
        assert_eq!(mirrored("side right"), None);
        assert_eq!(mirrored("leftover"), None);
    }
}
