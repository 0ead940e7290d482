//! What is noted on a piece that lay folded, on both of its halves once it is laid open: cloth that was sewn folded has it on both, unless the
//! notes say `once`.

use super::bench::Bench;
use super::item::Item;
use super::misplaced::refused;
use crate::notes::PieceNotes;
use kurbo::Affine;

/// Calls edges in the notes as the piece laid open has them, and adds what `mirror` lays on the other half; nothing where that was seen for itself.
pub(super) fn both_halves(bench: &mut Bench, notes: &mut PieceNotes, [own, other]: [&str; 2], mirror: Option<Affine>) {
    called_anew(bench, notes, own);
    let Some(mirror) = mirror else { return };
    let lost = |item: &Item| matches!(item, Item::Mark(k) if bench.pins.marks[*k].is_none());
    let again = |item: &Item| !item.once(notes) && !refused(bench, item.name(notes)) && !lost(item);
    let lines = bench.piece.drafted().clone();
    let called = |edge: &str| {
        let there = edge.strip_suffix(own).map(|base| format!("{base}{other}"));
        there.filter(|name| lines.edge(name).is_some()).unwrap_or_else(|| edge.to_owned())
    };
    for item in Item::all(notes).into_iter().filter(again).collect::<Vec<_>>() {
        let name = format!("{} {other}", item.name(notes));
        item.again((notes, &mut bench.pins), mirror, name, &called);
    }
}

/// Calls edges in the notes as one half has them, where the piece has none by their plain name.
fn called_anew(bench: &Bench, notes: &mut PieceNotes, half: &str) {
    let has = |edge: &str| bench.piece.drafted().edge(edge).is_some();
    let on = |edge: &mut String| {
        let name = format!("{edge} {half}");
        if !has(edge) && has(&name) {
            *edge = name;
        }
    };
    let pleats = notes.pleats.iter_mut().map(|p| (&mut p.edge, &mut p.across));
    for (edge, across) in pleats.chain(notes.gathers.iter_mut().map(|g| (&mut g.edge, &mut g.across))) {
        on(edge);
        across.iter_mut().for_each(on);
    }
    notes.notches.iter_mut().for_each(|n| on(&mut n.edge));
    notes.darts.iter_mut().flat_map(|d| &mut d.gives).for_each(on);
}
