//! Names in the notes that nothing in the pictures answers to: a slip of the pen there must not pass in silence.

use super::joined::Shown;
use crate::notes::{Called, EdgeIs, InLine, Notes, Tape};
use crate::piece::{Draft, Edge, alike, compared, is_measure};
use crate::proof::Doubt;
use std::collections::BTreeMap;
use std::path::Path;

/// What the notes speak of and no picture shows, in words: pictures, pieces, edges with allowances, measures that were taped.
pub(super) fn unanswered(notes: &Notes, shown: &[Shown]) -> Vec<Doubt> {
    let (mut out, mut untaken) = (Vec::new(), Vec::new());
    let doubts = |out: Vec<String>| out.into_iter().map(|what| Doubt::Unanswered { what, known: false });
    let there = |p: &str| shown.iter().any(|s| Path::new(p).file_name().is_some_and(|n| n.to_string_lossy() == s.file));
    out.extend(notes.shots.iter().filter_map(|s| s.picture.as_deref()).filter(|p| !there(p)).map(|p| format!("picture \"{p}\"")));
    let none = |s: &&crate::notes::ShotNotes| !s.pictures.is_empty() && s.pictures.iter().all(|p| !there(p));
    out.extend(notes.shots.iter().filter(none).map(|s| format!("pictures \"{}\"", s.pictures.join("\", \""))));
    // Where a picture failed, its pieces are missed for that reason, and it has its own line.
    if shown.iter().any(|s| s.found.is_err()) {
        return doubts(out).collect();
    }
    let pieces: Vec<_> = shown.iter().filter_map(|s| s.found.as_ref().ok()).flat_map(|s| &s.pieces).collect();
    // What is derived from another piece is in no picture; where that can't be done it is told.
    let made = |name: &str| notes.pieces.iter().any(|(own, p)| p.from.is_some() && alike(own, name));
    let shows = |name: &str| made(name) || pieces.iter().any(|p| alike(&p.draft.piece.name, name));
    let taped = notes.tapes.iter().filter_map(|t| Some((t.piece.as_deref()?, t.line)));
    let changed = notes.changes.iter().map(|c| (c.piece.as_str(), c.line));
    let mut named: BTreeMap<&str, InLine> = BTreeMap::new();
    // Where it is named first: in its own table, else by a tape reading, else by a change.
    for (name, line) in notes.pieces.iter().map(|(n, p)| (n.as_str(), p.lines.table)).chain(taped).chain(changed) {
        named.entry(name).or_insert(line);
    }
    out.extend(named.into_iter().filter(|(n, _)| !shows(n)).map(|(n, line)| format!("piece \"{n}\"{line}")));
    for p in &pieces {
        let piece = &p.draft.piece;
        for (_, own) in notes.pieces.iter().filter(|(name, _)| alike(name, &piece.name)) {
            let nowhere = own.allowance.keys().filter(|key| !bears(&p.draft, key));
            out.extend(nowhere.map(|key| format!("{}{}", edge_nowhere(&p.draft, key), own.lines.allowance)));
        }
    }
    let compared_with_any =
        |t: &Tape| pieces.iter().any(|p| !compared(&p.draft.piece.name, &p.measures, std::slice::from_ref(t)).is_empty());
    let alone = notes.tapes.iter().filter(|t| t.piece.as_deref().is_none_or(shows) && !compared_with_any(t));
    for t in alone {
        let of = t.piece.as_deref().map_or(String::new(), |p| format!(" of {p}"));
        // Of half a piece the width itself is known only where its fold is.
        let half = format!("half {}", t.what.trim().to_lowercase());
        let own = pieces.iter().filter(|p| t.piece.as_deref().is_none_or(|name| alike(name, &p.draft.piece.name)));
        let halved = own.flat_map(|p| &p.measures).any(|m| m.name == half);
        let offer = if halved { format!(", of which there is \"{half}\": say that for what, or note the fold") } else { String::new() };
        let what = format!("measure \"{}\"{of}{}{offer}", t.what, t.line);
        if halved {
            out.push(what);
        } else if is_measure(&t.what) {
            untaken.push(what);
        } else {
            out.push(what);
        }
    }
    doubts(out).chain(untaken.into_iter().map(|what| Doubt::Unanswered { what, known: true })).collect()
}

/// Whether an allowance given by this name is meant for any edge of a piece.
fn bears(draft: &Draft, key: &str) -> bool {
    let (kind, piece) = (draft.kind.map(|k| k.value), &draft.piece);
    let meant = |edge: &Edge| {
        let is = draft.noted(&edge.name).and_then(|n| n.is).map(EdgeIs::word);
        Called::of(&edge.name, is, kind).key(std::iter::once(key)).is_some()
    };
    alike(key, "all") || piece.found().edges.iter().chain(&piece.drafted().edges).any(meant)
}

/// In words, with the edges that there are: an allowance for an edge of a piece that has none of that name.
fn edge_nowhere(draft: &Draft, key: &str) -> String {
    let piece = &draft.piece;
    let names: Vec<&str> = piece.drafted().edges.iter().map(|e| e.name.as_str()).collect();
    let is = EdgeIs::ALL.iter().any(|is| is.word() == key);
    let what = if is {
        format!("{key} among the edges of {}, with its allowance", piece.name)
    } else {
        format!("edge \"{key}\" of {} with its allowance", piece.name)
    };
    let waist = alike(key, "hem") && names.contains(&"waist");
    let why = if waist { "; a body with a skirt to it ends in its waist" } else { "" };
    format!("{what} (it has {}{why})", names.join(", "))
}
