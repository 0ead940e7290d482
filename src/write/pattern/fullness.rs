//! Darts, pleats and gathers on a pattern: their lines, arrows and words.

use super::draw::said;
use super::piece::{EdgeWords, LineKind, PatternLine, PatternPiece};
use crate::length::Length;
use crate::notes::{Dart, Gather, GatheredBy, PieceNotes, Pressed, Spot};
use crate::piece::{self, Larger, Layer, Walk, alike};
use crate::write::FoundError;
use crate::write::garment::{DraftOf, SewnOf};
use crate::write::marked::{DartOf, FullnessOf};
use crate::write::recalled::path;
use kurbo::{BezPath, Line, ParamCurve, PathEl, PathSeg, Point, Shape};

/// Puts the fullness of a drafted piece on its pattern; gives what the notes tell of and the record has not, a sentence each.
///
/// # Errors
/// Paths that are no path data.
pub(super) fn added(
    out: &mut PatternPiece,
    draft: &DraftOf,
    (layer, larger): (&Layer, Option<Larger>),
    notes: Option<&PieceNotes>,
) -> Result<Vec<String>, FoundError> {
    let piece = out.name.clone();
    for dart in &draft.marked.darts {
        // On the other half of a piece laid open it is called after that.
        let own = |name: &str| alike(name, &dart.name) || dart.name.rsplit_once(' ').is_some_and(|(first, _)| alike(name, first));
        let told = notes.and_then(|n| n.darts.iter().find(|d| own(&d.name)));
        drawn_dart(out, dart, told, larger)?;
    }
    for own in &draft.marked.fullness {
        let named = |name: &str| alike(name, &own.name) || own.name.rsplit_once(' ').is_some_and(|(first, _)| alike(name, first));
        let gathers = notes.is_some_and(|n| n.gathers.iter().any(|g| named(&g.name)));
        drawn(out, own, gathers)?;
    }
    let mut lost = Vec::new();
    let Some(notes) = notes else { return Ok(lost) };
    // Whatever could not be drawn when the record was made stands in it; older records hold no pleats at all.
    let known = |name: &str| draft.marked.fullness.iter().any(|p| alike(&p.name, name)) || draft.undone.iter().any(|u| u.contains(name));
    lost.extend(notes.pleats.iter().filter(|p| !known(&p.name)).map(|p| {
        format!("{piece}: the pleats \"{}\" are not drawn, for the record was made before such were kept; trace it again.", p.name)
    }));
    for gather in &notes.gathers {
        for (name, edge) in places(draft, notes, gather) {
            match gathered(draft, (layer, larger), gather, [name, edge]) {
                Some(words) => out.edge_words.push(words),
                None => lost.push(format!("{piece}: there is no edge called \"{edge}\" to write \"{name}\" on.")),
            }
        }
    }
    Ok(lost)
}

/// What a gather of the notes is called on each half that it was drawn on, and the edge it takes up there; as the notes have it where the record is
/// older.
fn places<'a>(draft: &'a DraftOf, notes: &PieceNotes, gather: &'a Gather) -> Vec<(&'a str, &'a str)> {
    let told = |name: &str| notes.gathers.iter().any(|g| alike(&g.name, name));
    let on_half = |name: &str| !told(name) && name.rsplit_once(' ').is_some_and(|(first, _)| alike(&gather.name, first));
    let own = draft.marked.fullness.iter().filter(|f| alike(&gather.name, &f.name) || on_half(&f.name));
    let all: Vec<(&str, &str)> = own.filter_map(|f| Some((f.name.as_str(), f.edge.as_deref()?))).collect();
    if all.is_empty() { vec![(&gather.name, &gather.edge)] } else { all }
}

fn drawn_dart(out: &mut PatternPiece, dart: &DartOf, notes: Option<&Dart>, larger: Option<Larger>) -> Result<(), FoundError> {
    let legs = dart.legs.iter().map(|leg| path(&out.name, &dart.name, leg)).collect::<Result<Vec<BezPath>, _>>()?;
    let mut words = dart.name.clone();
    if let Some(intake) = notes.and_then(|n| n.intake) {
        words += &format!(", takes in {}", said(Larger::drawn(larger, intake, &mouth(&legs))));
    }
    if let Some(pressed) = notes.and_then(|n| n.pressed) {
        words += match pressed {
            Pressed::Up => ", pressed up",
            Pressed::Down => ", pressed down",
            Pressed::ToCentre => ", pressed to centre",
            Pressed::ToSide => ", pressed to side",
            Pressed::Open => ", pressed open",
        };
    }
    if dart.legs.len() == 1 {
        words += ", lies sewn shut";
    }
    // What was made of an opened dart's mouth is too short for words of its own.
    let end = |w: &EdgeWords| w.words.split(',').next().is_some_and(|n| n == dart.name || n == format!("{} 2", dart.name));
    out.edge_words.retain(|w| !end(w));
    for (k, path) in legs.into_iter().enumerate() {
        let tip = path.elements().last().and_then(PathEl::end_point);
        out.tips.extend(tip.filter(|t| out.tips.iter().all(|p| p.distance(*t) > 1e-3)));
        if k == 0 {
            out.edge_words.push(EdgeWords { path: path.clone(), words: words.clone() });
        }
        out.lines.push(PatternLine { kind: LineKind::Dart, assumed: false, name: dart.name.clone(), path });
    }
    Ok(())
}

/// A line that lies as a dart's mouth does: from leg to leg, or straight across the one leg of a dart that lies shut.
fn mouth(legs: &[BezPath]) -> BezPath {
    let ends: Vec<[Point; 2]> = legs.iter().filter_map(|l| Some([l.segments().next()?.start(), l.segments().last()?.end()])).collect();
    let Some([first, tip]) = ends.first().copied() else { return BezPath::new() };
    let other = ends.iter().map(|e| e[0]).find(|p| p.distance(first) > 1e-3);
    Line::new(first, other.unwrap_or(first + (tip - first).turn_90())).to_path(0.1)
}

/// The lines of pleats with their arrows and words, or where gathers start and end, whose words stand along their edge.
fn drawn(out: &mut PatternPiece, own: &FullnessOf, gathers: bool) -> Result<(), FoundError> {
    let paths = own.lines.iter().map(|l| path(&out.name, &own.name, l)).collect::<Result<Vec<BezPath>, _>>()?;
    let (lines, arrows): (Vec<_>, Vec<_>) = paths.into_iter().partition(|p| p.segments().count() < 2);
    // An arrow is a line with its head behind it.
    let ends = arrows.iter().filter_map(|a| a.segments().next().map(|s| [s.start(), s.end()]));
    out.arrows.extend(ends.filter(|[from, to]| from.distance(*to) > 1e-6));
    if !gathers {
        // Each part on a side of a line of its own: a pleat's are short.
        let (first, more) = own.words.split_once(", ").unwrap_or((&own.words, ""));
        let words = std::iter::once(format!("{}: {first}", own.name)).chain(more.split(", ").filter(|w| !w.is_empty()).map(str::to_owned));
        let sides: Vec<BezPath> = lines.iter().flat_map(|l| [l.clone(), l.reverse_subpaths()]).collect();
        out.edge_words.extend(words.zip(sides.iter().cycle()).map(|(words, path)| EdgeWords { path: path.clone(), words }));
    }
    let kind = if gathers { LineKind::Inner } else { LineKind::Pleat };
    out.lines.extend(lines.into_iter().map(|path| PatternLine { kind, assumed: false, name: own.name.clone(), path }));
    Ok(())
}

/// What a gather takes up of its edge from mark to mark; nothing where that is all of it.
fn taken(draft: &DraftOf, name: &str, whole: &BezPath) -> Option<BezPath> {
    let own = draft.marked.fullness.iter().find(|f| alike(&f.name, name))?;
    let starts: Vec<PathSeg> = own.lines.iter().filter_map(|l| path(name, name, l).ok()?.segments().next()).collect();
    let [a, b] = starts[..] else { return None };
    Some(Walk::of(whole).between([a.start(), b.start()]))
}

/// To what length a gather is sewn from which its piece was spread, on the garment; nothing where it was not.
fn spread_from(draft: &DraftOf, name: &str) -> Option<Length> {
    let start = format!("\"{name}\" spread from ");
    let rest = draft.changes.iter().find_map(|c| c.what.strip_prefix(&start))?;
    rest.split_once(' ')?.0.parse().ok().map(Length::from_mm)
}

/// Numbers of the edges at the ends of a piece's open darts.
pub(super) fn dart_ends(layer: &Layer, sewn: &[SewnOf]) -> Vec<usize> {
    sewn.iter().flat_map(|s| piece::dart_ends(layer, &s.stretches)).collect()
}

/// What is written along an edge that is drawn together, by the names that the gather and the edge have there.
fn gathered(draft: &DraftOf, (layer, larger): (&Layer, Option<Larger>), g: &Gather, [name, on]: [&str; 2]) -> Option<EdgeWords> {
    // Of a piece laid open edges are called after the half they lie on.
    let of_half = |name: &str| layer.edges.iter().position(|e| e.name.rsplit_once(' ').is_some_and(|(first, _)| alike(first, name)));
    let own = |name: &str| layer.edge(name).or_else(|| of_half(name)).map(|k| &layer.edges[k]);
    let sewn = draft.sewn.iter().find(|s| alike(&s.edge, on));
    let stretches: Vec<_> = match sewn {
        Some(s) => s.stretches.iter().filter_map(|n| own(n)).collect(),
        None => own(on).into_iter().collect(),
    };
    // Along the longest of what darts left of the edge.
    let edge = stretches.iter().max_by(|a, b| a.length().total_cmp(&b.length()))?;
    let long = || {
        stretches.iter().map(|e| e.length()).sum::<f64>()
            - sewn.map_or(0.0, |s| s.taken_up_mm + s.open.iter().map(|o| o.legs_mm[1] - o.legs_mm[0]).sum::<f64>())
    };
    let word = match g.by {
        GatheredBy::Gathers | GatheredBy::Smocking => "gather",
        GatheredBy::Elastic => "draw up by elastic",
        GatheredBy::Ease => "ease",
    };
    let whole: BezPath = stretches.iter().flat_map(|e| e.path.elements().iter().copied()).collect();
    let taken = taken(draft, name, &whole);
    let as_drawn = |noted: Length| Larger::drawn(larger, noted, taken.as_ref().unwrap_or(&whole));
    let place = |s: &Spot| match s {
        Spot::Named(name) => Some(name.clone()),
        Spot::OnEdge(on) => Some(format!("{}{}", said(as_drawn(on.at)), on.from.as_ref().map(|f| format!(" off {f}")).unwrap_or_default())),
        Spot::Px(_) | Spot::Mm(_) => None,
    };
    // Where the edge was parted or spread its places lie further on.
    let moved = sewn.is_some_and(|s| s.taken_up_mm > 0.0 || s.stretches.len() > 1);
    let between = match &g.between {
        Some(_) if moved && taken.is_some() => " from mark to mark".to_owned(),
        Some([a, b]) => match (place(a), place(b)) {
            (Some(a), Some(b)) => format!(" from {a} to {b}"),
            _ => " a part of it".to_owned(),
        },
        None => String::new(),
    };
    let spread = spread_from(draft, name);
    let marked = || taken.as_ref().map(|t| Walk::of(t).length());
    let sewn = g.sewn.or(spread).map(as_drawn).or_else(marked).unwrap_or_else(long);
    let path: BezPath = edge.path.clone();
    // Elastic is no cloth that shrinks.
    let as_it_is = if larger.is_some() { ", not made larger" } else { "" };
    let elastic = g.relaxed.map_or(String::new(), |l| format!(", elastic {} long{as_it_is}", said(l.mm())));
    // Where it was not opened, its edge is as long as it is sewn, and what is to be added is told.
    let full = g
        .full
        .map(as_drawn)
        .filter(|f| spread.is_none() && *f > sewn)
        .map_or(String::new(), |f| format!(", from {} drawn out: not spread here", said(f)));
    Some(EdgeWords { path, words: format!("{word}{between} to {}{elastic}{full}", said(sewn)) })
}
