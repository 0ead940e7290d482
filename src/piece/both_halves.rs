//! What is noted on a piece that lay folded, on both of its halves once it is laid open: cloth that was sewn folded has it on both, unless the
//! notes say `once`.

use super::bench::Bench;
use super::item::Item;
use super::misplaced::refused;
use crate::notes::{PieceLines, PieceNotes};
use kurbo::Affine;

/// Calls edges in the notes as the piece laid open has them, and adds what `mirror` lays on the other half; nothing where that was seen for itself.
pub(super) fn both_halves(bench: &mut Bench, notes: &mut PieceNotes, [own, other]: [&str; 2], mirror: Option<Affine>) {
    called_anew(bench, notes, own);
    let Some(mirror) = mirror else { return on_one_alone(bench, notes, [own, other]) };
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

/// Tells what takes up cloth on one half and, for all the notes say, not on the other, which was pictured for itself.
fn on_one_alone(bench: &mut Bench, notes: &PieceNotes, [own, other]: [&str; 2]) {
    let alone = |item: &Item| !item.once(notes) && !refused(bench, item.name(notes));
    let alone: Vec<Item> = Item::all(notes).into_iter().filter(alone).collect();
    for item in alone {
        let lines = match item {
            Item::Dart(_) => &notes.lines.darts,
            Item::Pleat(_) => &notes.lines.pleats,
            Item::Gather(_) => &notes.lines.gathers,
            Item::Notch(_) | Item::Mark(_) => continue,
        };
        let line = PieceLines::of(lines, item.number());
        bench.undone(format!(
            "\"{}\" is on the {own} half alone, for the {other} half was pictured by itself: what that has too is to be added there by hand, else say once = true{line}",
            item.name(notes)
        ));
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
