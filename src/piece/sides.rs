//! One half of a piece kept, as its notes ask; and what was traced folded, laid open.

use super::How;
use super::bench::Bench;
use super::both_halves::both_halves;
use super::centre::{Centre, centre, difference};
use super::draft::Change;
use super::fullness::unfolded;
use super::halves::{Half, Keep, kept};
use super::kept_places::{Kept, settled};
use super::layer::{Edge, Layer, Line, alike, ends, joined, mm, point};
use super::misplaced::{bent_fold, no_fold};
use super::pairs::Pairs;
use crate::notes::{self, PieceKind, PieceNotes, Up};
use kurbo::{Affine, Shape};

/// Two halves are this share of their piece's width apart in the mean at most: laid garments are so by a few millimetres.
const UNLIKE: f64 = 0.05;

/// Lays a piece open that was traced folded, or marks the edge that is placed on the fold of the cloth.
pub(super) fn unfold(bench: &mut Bench, notes: &mut PieceNotes, up: Option<Up>, other: Option<&Layer>) {
    let Some(name) = &notes.fold.clone() else { return };
    let mut lines = bench.piece.drafted().clone();
    let Some(k) = lines.edge(name) else {
        return bench.undone(format!("it has no edge called \"{name}\" to unfold about or to place on the fold{}", notes.lines.fold));
    };
    if let Some(off) = no_fold(&lines, k) {
        return bench.undone(format!("{name} can be no fold: it bends {off:.0} mm from straight; look at \"fold\"{}", notes.lines.fold));
    }
    if let Some(off) = bent_fold(&lines, k) {
        bench.undone(format!(
            "{name} bends {off:.1} mm from straight, and what is placed on a fold or unfolded about one is straight: the cloth may not have lain flat; \
             say shape = \"straight\" of that edge to draw it so{}",
            notes.lines.fold
        ));
    }
    if notes.cut.as_ref().is_some_and(|c| c.on_fold) {
        lines.edges[k].line = Line::Fold;
        return bench.redraft(lines, Change::new(format!("{name} is placed on the fold"), How::Noted));
    }
    let n = lines.edges.len();
    let face = other.and_then(|l| Some((l, l.edge(name)?)));
    if other.is_some() && face.is_none() {
        bench.undone(format!("its other face has no edge called \"{name}\", so it is taken to be as the one seen"));
    }
    let (mut open, apart) = match unfolded(&lines, k, face) {
        Ok(open) => open,
        Err(e) => return bench.undone(format!("it was not unfolded: {e}")),
    };
    let words = match up {
        Some(Up::Front) => ["front", "back"],
        Some(Up::Back) => ["back", "front"],
        None => ["seen", "other"],
    };
    for (j, edge) in open.edges.iter_mut().enumerate() {
        let other = usize::from(j >= n - 1);
        let to = format!("{} {}", edge.name, words[other]);
        bench.rename(&edge.name, &to);
        edge.name = to;
        if other == 1 && face.is_none() {
            // Nobody saw the other face: it is taken to be the same.
            (edge.how, edge.bound) = (How::Assumed, None);
        }
    }
    for (j, corner) in open.corners.iter_mut().enumerate().filter(|(j, _)| *j != 0 && *j != n - 1) {
        corner.name = format!("{} {}", corner.name, words[usize::from(j >= n - 1)]);
    }
    let what = match face {
        Some(_) => format!(
            "unfolded about {name}, both faces as seen; their folds differ by {:.1} mm, and the other face gave evenly",
            apart.abs()
        ),
        None => format!("unfolded about {name}, its other face taken to be as the one seen"),
    };
    let mirror = ends(&lines.edges[k].path).filter(|_| face.is_none()).map(|(a, b)| Affine::reflect(a, b - a));
    bench.redraft(open, Change::new(what, How::Noted));
    both_halves(bench, notes, words, mirror);
}

/// Keeps one half, or the mean of both, as asked; left and right are the wearer's.
pub(super) fn keep(bench: &mut Bench, notes: &mut PieceNotes, kind: Option<PieceKind>, up: Option<Up>) {
    let on_fold = notes.cut.as_ref().is_some_and(|c| c.on_fold);
    let lines = bench.piece.drafted().clone();
    let wanted = match notes.keep {
        None | Some(notes::Keep::AsIs) => {
            if on_fold && lines.edges.iter().all(|e| e.line != Line::Fold) {
                bench
                    .undone("it is cut on the fold and drawn whole; say keep = \"left\", \"right\" or \"mean\", or which edge is the fold");
            }
            return;
        }
        Some(wanted) => wanted,
    };
    let left_right = left_lies_right(&lines, kind, up);
    let page = match (wanted, left_right) {
        (notes::Keep::Mean, _) => Keep::Mean,
        (_, None) => {
            return bench.undone("no half was kept, since it can't be told which is the wearer's left; name two corners left and right");
        }
        (wanted, Some(right)) if (wanted == notes::Keep::Left) == right => Keep::PageRight,
        _ => Keep::PageLeft,
    };
    let marked = bench.pins.centre;
    let line = match marked {
        [Some(a), Some(b)] => Centre::marked(mm(a), mm(b)),
        _ => centre(&lines, &Pairs::of(&lines)),
    };
    let Some(line) = line else { return bench.undone("no half was kept, since its centre line was not found; note two places on it") };
    // Half a piece has no halves of its own: kept about its middle, and mirrored, it would be no piece at all.
    let (apart, wide) = (difference(&lines, &line).mean, lines.outline().bounding_box().width());
    if apart > UNLIKE * wide {
        return bench.undone(format!(
            "no half was kept: what lies left and right of its centre line is {apart:.0} mm apart in the mean; if it is half a piece itself, leave keep out"
        ));
    }
    match kept(&lines, &line, page) {
        Ok(Some(half)) => {
            let words = match left_right {
                Some(true) => ["right", "left"],
                Some(false) => ["left", "right"],
                None => ["mirrored"; 2],
            };
            let (right, mean) = (page != Keep::PageLeft, page == Keep::Mean);
            drawn(bench, notes, half, wanted, &Kept { before: &lines, line: &line, right, mean, on_fold, words });
        }
        Ok(None) => {}
        Err(e) => bench.undone(format!("no half was kept: {e}")),
    }
}

/// Drafts the half, and lays the places of the notes on it.
fn drawn(bench: &mut Bench, notes: &mut PieceNotes, half: Half, wanted: notes::Keep, as_kept: &Kept) {
    let (half, moved) = if notes.squared { half.squared() } else { (half, [0.0; 2]) };
    let which = match wanted {
        notes::Keep::Left => "its left half kept",
        notes::Keep::Right => "its right half kept",
        _ => "the mean of both halves drawn",
    };
    let angles = half.meets.each_ref().map(|m| format!("{} meets the fold at {:.1}°", m.edge, m.angle_deg)).join(", ");
    let bent = if notes.squared { format!("; squared to it by up to {:.2} mm", moved[0].max(moved[1])) } else { String::new() };
    let (lines, as_what) = if as_kept.on_fold {
        (Ok(half.layer.clone()), "on the fold")
    } else {
        (half.opened().map(|whole| whole_again(whole, half.layer.edges.len() - 1)), "and mirrored for the other")
    };
    let lines = match lines {
        Ok(lines) => lines,
        Err(e) => return bench.undone(format!("no half was kept: {e}")),
    };
    let done = |more: &str| Change::new(format!("{which} {as_what}; {angles}{bent}{more}"), How::Chosen);
    // Places are laid on the lines once those are drafted.
    bench.piece.relined(lines.clone());
    let both = settled(bench, notes, as_kept);
    let more = if both.is_empty() { String::new() } else { format!("; on its other half too: {}", both.join(", ")) };
    bench.redraft(lines, done(&more));
}

/// A whole piece of a half and its mirror image: what was cut at the centre is one edge again, and the mirrored half is chosen.
fn whole_again(mut whole: Layer, own: usize) -> Layer {
    for edge in whole.edges.iter_mut().skip(own) {
        (edge.how, edge.bound) = (edge.how.drafted(), None);
    }
    while let Some(k) = (0..whole.edges.len()).find(|&k| {
        let next = (k + 1) % whole.edges.len();
        whole.edges.len() > 2 && alike(&whole.edges[k].name, &whole.edges[next].name) && whole.corners[next].name.starts_with("centre ")
    }) {
        let next = (k + 1) % whole.edges.len();
        let mut path = joined([&whole.edges[k].path, &whole.edges[next].path]);
        path.pop();
        let edge = Edge { path, how: whole.edges[k].how.drafted(), ..whole.edges[k].clone() };
        whole.edges[k] = edge;
        whole.edges.remove(next);
        whole.corners.remove(next);
    }
    whole
}

/// Whether the wearer's left lies right on the page, where corners' names or what the piece is tell it. The piece lies right side up.
pub(super) fn left_lies_right(lines: &Layer, kind: Option<PieceKind>, up: Option<Up>) -> Option<bool> {
    let mean = |word: &str| {
        let own = lines.corners.iter().filter(|c| c.name.split(' ').any(|w| w == word)).map(|c| point(c.at).x).collect::<Vec<_>>();
        (!own.is_empty()).then(|| own.iter().sum::<f64>() / own.len() as f64)
    };
    let named = mean("left").zip(mean("right")).map(|(l, r)| l > r);
    named.or_else(|| up.map(|up| up == Up::Front)).or(match kind {
        Some(PieceKind::BodyFront) => Some(true),
        Some(PieceKind::BodyBack) => Some(false),
        _ => None,
    })
}
