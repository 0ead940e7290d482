//! What is noted on a piece that lay folded, on both of its halves once it is laid open: cloth that was sewn folded has it on both, unless the
//! notes say `once`.

use super::bench::{Bench, Pins};
use super::misplaced::refused;
use crate::notes::{InLine, Laid, PieceLines, PieceNotes};
use kurbo::{Affine, Point};

/// Calls edges in the notes as the piece laid open has them, and adds what `mirror` lays on the other half; nothing where that was seen for itself.
pub(super) fn both_halves(bench: &mut Bench, notes: &mut PieceNotes, [own, other]: [&str; 2], mirror: Option<Affine>) {
    let mut more =
        PieceNotes { darts: notes.darts.clone(), pleats: notes.pleats.clone(), gathers: notes.gathers.clone(), ..PieceNotes::default() };
    (more.notches, more.marks) = (notes.notches.clone(), notes.marks.clone());
    for (half, notes) in [(own, &mut *notes), (other, &mut more)] {
        called_anew(bench, notes, half);
    }
    let Some(mirror) = mirror else { return };
    let lies = |p: &Option<Point>| p.map(|p| mirror * p);
    let Pins { legs, points, pleats, folds, pivots, gathers, marks, notches, .. } = bench.pins.clone();
    let called = |name: &str| format!("{name} {other}");
    for (k, mut dart) in more.darts.into_iter().enumerate().filter(|(_, d)| !d.once && !refused(bench, &d.name)).collect::<Vec<_>>() {
        dart.name = called(&dart.name);
        again(&mut notes.lines.darts, k);
        notes.darts.push(dart);
        bench.pins.legs.push(legs[k].iter().map(lies).collect());
        bench.pins.points.push(points[k].each_ref().map(lies));
    }
    for (k, mut pleat) in more.pleats.into_iter().enumerate().filter(|(_, p)| !p.once && !refused(bench, &p.name)).collect::<Vec<_>>() {
        pleat.name = called(&pleat.name);
        again(&mut notes.lines.pleats, k);
        pleat.laid = pleat.laid.map(|laid| match laid {
            Laid::Left => Laid::Right,
            Laid::Right => Laid::Left,
            as_it_is => as_it_is,
        });
        notes.pleats.push(pleat);
        bench.pins.pleats.push(pleats[k].each_ref().map(lies));
        bench.pins.folds.push(folds[k].iter().map(|f| f.each_ref().map(lies)).collect());
        bench.pins.pivots.push(pivots[k].iter().map(lies).collect());
    }
    for (k, mut gather) in more.gathers.into_iter().enumerate().filter(|(_, g)| !g.once && !refused(bench, &g.name)).collect::<Vec<_>>() {
        gather.name = called(&gather.name);
        again(&mut notes.lines.gathers, k);
        notes.gathers.push(gather);
        bench.pins.gathers.push(gathers[k].as_ref().map(|ends| ends.each_ref().map(lies)));
    }
    for (k, notch) in more.notches.into_iter().enumerate().filter(|(_, n)| !n.once) {
        notes.notches.push(notch);
        again(&mut notes.lines.notches, k);
        bench.pins.notches.push(lies(&notches[k]));
    }
    for (k, mut mark) in more.marks.into_iter().enumerate().filter(|(k, m)| !m.once && marks[*k].is_some()) {
        mark.name = called(&mark.name);
        again(&mut notes.lines.marks, k);
        notes.marks.push(mark);
        bench.pins.marks.push(lies(&marks[k]));
    }
}

/// What is on the other half too stands in the line of what is on this one.
fn again(lines: &mut Vec<InLine>, k: usize) {
    lines.push(PieceLines::of(lines, k));
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
