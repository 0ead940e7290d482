//! What the notes say of a picture, in places of the sheet.

use crate::length::Mm;
use crate::notes::{Belongs, Notch, Notes, Place, ShotNotes, Spot};
use crate::piece::alike;
use crate::review::worst::point_along;
use crate::view::View;
use crate::write::{Record, spot_at, views};
use serde_json::{Value, json};

/// The map of a record's first picture, and the height of its cloth, mm.
fn view_of(record: &Record) -> Option<(View, f64)> {
    Some((views(record)?.into_iter().next()?, record.views.first()?.thickness_mm))
}

/// What the notes say of a picture.
pub(super) fn hints(shot: &ShotNotes, notes: &Notes, record: Option<&Record>) -> Value {
    let seen = record.and_then(view_of);
    let at = |place: &Place| -> Option<[f64; 2]> {
        match place {
            Place::Px(px) => seen.as_ref().and_then(|(view, height)| view.to_mm(*px, *height)).map(told),
            Place::Mm([x, y]) => Some([x.mm(), y.mm()]),
            Place::Mark(name) => {
                let own = |m: &&crate::write::MarkRecord| match name {
                    crate::notes::MarkName::Number(n) => m.number == *n,
                    crate::notes::MarkName::Name(n) => m.name.as_ref() == Some(n),
                };
                record.and_then(|r| r.marks.iter().find(own)).map(|m| m.shows.unwrap_or(m.at))
            }
        }
    };
    let all = |places: &[Place]| places.iter().filter_map(at).collect::<Vec<_>>();
    let corners = shot.corners.iter().map(|c| json!({"name": c.name, "at": at(&c.at), "round": c.round}));
    let through = shot.through.iter().enumerate().map(|(n, p)| json!({"n": n, "at": at(p)}));
    let inner = shot.inner.iter().enumerate().map(|(n, i)| json!({"n": n, "name": i.name, "through": all(&i.through)}));
    let is = |b: Belongs| if b == Belongs::Kept { "kept" } else { "left out" };
    let regions = shot.regions.iter().enumerate().map(|(n, r)| json!({"n": n, "is": is(r.is), "border": all(&r.border)}));
    let edges = shot
        .edges
        .iter()
        .map(|e| json!({"from": e.from, "to": e.to, "name": e.name, "straight": e.straight, "line": e.line, "is": e.is.map(|i| i.word())}));
    json!({
        "corners": corners.collect::<Vec<_>>(),
        // One whose place can't be told is none that the page can show.
        "through": through.filter(|t| !t["at"].is_null()).collect::<Vec<_>>(),
        "inner": inner.collect::<Vec<_>>(),
        "regions": regions.collect::<Vec<_>>(),
        "edges": edges.collect::<Vec<_>>(),
        "notches": notches(notes, record),
        "centre": centre(notes, record),
    })
}

fn told(at: Mm) -> [f64; 2] {
    [at.x, at.y].map(|v| (v * 1e4).round() / 1e4)
}

/// Notches of the pieces in the picture.
fn notches(notes: &Notes, record: Option<&Record>) -> Vec<Value> {
    let Some(record) = record else { return Vec::new() };
    let mut out = Vec::new();
    for piece in &record.pieces {
        let Some((name, own)) = notes.pieces.iter().find(|(name, _)| alike(name, &piece.name)) else { continue };
        for (n, notch) in own.notches.iter().enumerate() {
            out.push(
                json!({"piece": name, "n": n, "edge": notch.edge, "at_mm": notch.at.mm(), "at": notch_at(record, &piece.name, notch)}),
            );
        }
    }
    out
}

/// Where a notch lies, when its edge is one of the outline as found.
fn notch_at(record: &Record, piece: &str, notch: &Notch) -> Option<[f64; 2]> {
    let piece = record.pieces.iter().find(|p| p.name == piece)?;
    let edge = piece.edges.iter().find(|e| alike(&e.name, &notch.edge))?;
    let corner = |k: Option<usize>| k.and_then(|k| piece.corners.get(k)).map(|c| c.name.as_str());
    let from_end = notch.from.as_deref().is_some_and(|f| corner(edge.to).is_some_and(|c| alike(c, f)));
    let along = if from_end { edge.length_mm - notch.at.mm() } else { notch.at.mm() };
    point_along(&edge.path, along).map(|p| told(Mm::new(p.x, p.y)))
}

/// Centre lines of the pieces in the picture.
fn centre(notes: &Notes, record: Option<&Record>) -> Vec<Value> {
    let Some(record) = record else { return Vec::new() };
    let place = |spot: &Spot| match spot {
        Spot::Mm([x, y]) => Some([x.mm(), y.mm()]),
        other => spot_at(record, other).map(told),
    };
    let own = |name: &String| record.pieces.iter().any(|p| alike(&p.name, name));
    let lines = notes.pieces.iter().filter(|(name, _)| own(name)).filter_map(|(name, p)| {
        let [a, b] = p.centre.as_ref()?;
        Some(json!({"piece": name, "spots": [place(a)?, place(b)?]}))
    });
    lines.collect()
}
