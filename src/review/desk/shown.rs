//! An entry as the page is told of it.

use super::Desk;
use super::current::{Current, name};
use super::entries::Entry;
use super::hints::hints;
use super::mending::why_not;
use crate::notes::{EdgeIs, Line, ShotNotes};
use crate::review::ReviewError;
use crate::review::opinion::{Opinions, doubt_id};
use crate::review::tile::Pyramid;
use crate::review::words::{gone, on_page};
use crate::review::worst::{Worst, worst};
use crate::shot::{Glance, Limits};
use crate::wardrobe::{noted, wants_a_look};
use crate::write::{GarmentRecord, Record};
use serde_json::{Value, json};
use std::collections::BTreeSet;

impl Desk {
    /// All that the page is told of an entry.
    pub(super) fn shown(&self, at: &str, by: &str, current: &Current) -> Result<Value, ReviewError> {
        let listed = self.queue.entry(at, by)?;
        let entry = self.entries.get(at);
        let record = current.record.as_deref();
        let opinions = Opinions::open(&self.results(at)?)?;
        let told = opinions.told(by, record);
        let doubts = record.map_or_else(Vec::new, |r| doubts(r, &opinions));
        let shot = entry.map(|e| noted::of(&current.notes, e.job())).unwrap_or_default();
        let why = current.wrong.clone().or_else(|| entry.map_or_else(|| Some(gone("its picture")), why_not));
        let bare = entry.filter(|_| record.is_none()).and_then(bare);
        let standing = listed.as_ref().map_or(("unread", "record can't be read"), |l| (l.standing, l.standing_word));
        Ok(json!({
            "at": at,
            "version": current.version,
            "title": listed.as_ref().map(|l| l.title.clone()).or_else(|| entry.map(|e| e.job().name())),
            "garment": listed.as_ref().and_then(|l| l.garment.clone()),
            "garment_at": listed.as_ref().and_then(|l| l.garment_at.clone()),
            "standing": standing.0,
            "standing_word": standing.1,
            "reason": listed.as_ref().map(|l| l.reason.clone()),
            "say": current.failed,
            "record": record,
            "frame": record.and_then(Pyramid::of).or(bare.as_ref().map(|b| b.0)).filter(|_| entry.is_some()).map(|p| p.told()),
            "picture_hash": record.map(picture_hash).or(bare.map(|b| b.1)),
            "worst": record.map(worst).unwrap_or_default().into_iter().map(|w| Worst { say: on_page(&w.say), ..w }).collect::<Vec<_>>(),
            "doubts": doubts,
            "hints": hints(&shot, &current.notes, record),
            "settings": entry.map(|e| settings(e, &shot)),
            "words": words(entry, current),
            "fragile": current.notes.garment.fragile,
            "mendable": why.is_none(),
            "why_not": why,
            "undo": self.undoes(at, by, current.text.as_ref()),
            "opinion": told.opinion,
            "others": told.others,
            "others_hidden": told.others_hidden,
        }))
    }
}

/// The picture of an entry without a record as it is, and its hash.
fn bare(entry: &Entry) -> Option<(Pyramid, String)> {
    let glance = Glance::at(&entry.job().picture, &Limits::default()).ok()?;
    Some((Pyramid::bare(glance.size?), glance.blake3[..16].to_owned()))
}

/// What a tile shows rests on the picture and how it is seen: a mended outline leaves it as it is, unless the frame must grow.
fn picture_hash(record: &Record) -> String {
    let mut views = serde_json::to_value(&record.views).unwrap_or_default();
    // How fine the picture is along the outline says nothing of the map.
    views.as_array_mut().into_iter().flatten().filter_map(Value::as_object_mut).for_each(|v| drop(v.remove("px_per_mm")));
    let frame = serde_json::to_value(Pyramid::of(record).map(|p| p.told())).unwrap_or_default();
    let pictures: Vec<&str> = record.pictures.iter().map(|p| p.blake3.as_str()).collect();
    blake3::hash(format!("{views}{pictures:?}{frame}").as_bytes()).to_hex()[..16].to_owned()
}

fn doubts(record: &Record, opinions: &Opinions) -> Vec<Value> {
    let told = |d: &crate::write::DoubtRecord| {
        let id = doubt_id(&d.code, d.place, &d.say);
        let ticked = opinions.ticked(&id).map(|t| json!({"by": t.by, "on": t.on}));
        json!({"id": id, "code": d.code, "where": d.place, "say": on_page(&d.say), "matters": wants_a_look(&d.code), "ticked": ticked})
    };
    record.doubts.iter().map(told).collect()
}

/// What is asked for, as written: by the notes, else by the call.
fn settings(entry: &Entry, shot: &ShotNotes) -> Value {
    let terms = &entry.terms;
    let line = shot.line.or(terms.line);
    json!({
        "sheet": shot.sheet.clone().unwrap_or_else(|| terms.sheet.clone()),
        "pitch": shot.pitch.or(terms.pitch).map(|l| l.to_string()),
        "thickness": shot.thickness.or(terms.thickness).map(|l| l.to_string()),
        "allowance": shot.allowance.or(terms.allowance).map(|l| l.to_string()),
        "line": if line == Some(Line::Seam) { "seam" } else { "rim" },
        "pieces": shot.pieces.or(terms.pieces),
        "piece": shot.piece,
        "notes": name(&entry.notes()),
    })
}

/// Names that corners and edges of this garment have elsewhere, and words for what an edge is.
fn words(entry: Option<&Entry>, current: &Current) -> Value {
    let (mut corners, mut edges) = (BTreeSet::new(), BTreeSet::new());
    let text = entry.filter(|e| e.unit.notes.is_some()).and_then(|e| std::fs::read_to_string(e.unit.home.join("garment.json")).ok());
    if let Some(garment) = text.and_then(|t| GarmentRecord::from_text(&t).ok()) {
        for piece in garment.pieces {
            corners.extend(piece.as_found.corners.into_iter().map(|c| c.name));
            edges.extend(piece.as_found.edges.into_iter().map(|e| e.name));
        }
    }
    for shot in &current.notes.shots {
        corners.extend(shot.corners.iter().map(|c| c.name.clone()));
        edges.extend(shot.edges.iter().filter_map(|e| e.name.clone()));
    }
    json!({"corners": corners, "edges": edges, "is": EdgeIs::ALL.map(EdgeIs::word)})
}
