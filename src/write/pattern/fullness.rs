//! Darts, pleats and gathers on a pattern: their lines, arrows and words.

use super::draw::said;
use super::piece::{EdgeWords, LineKind, PatternLine, PatternPiece};
use crate::notes::{Dart, Gather, GatheredBy, PieceNotes, Pressed, Spot};
use crate::piece::{self, Layer, alike};
use crate::write::FoundError;
use crate::write::garment::{DraftOf, SewnOf};
use crate::write::marked::{DartOf, FullnessOf};
use crate::write::recalled::path;
use kurbo::{BezPath, ParamCurve, PathEl};

/// Puts the fullness of a drafted piece on its pattern; gives what the notes tell of and the record has not, a sentence each.
///
/// # Errors
/// Paths that are no path data.
pub(super) fn added(out: &mut PatternPiece, draft: &DraftOf, layer: &Layer, notes: Option<&PieceNotes>) -> Result<Vec<String>, FoundError> {
    let piece = out.name.clone();
    for dart in &draft.marked.darts {
        // On the other half of a piece laid open it is called after that.
        let own = |name: &str| alike(name, &dart.name) || dart.name.rsplit_once(' ').is_some_and(|(first, _)| alike(name, first));
        let told = notes.and_then(|n| n.darts.iter().find(|d| own(&d.name)));
        drawn_dart(out, dart, told)?;
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
        match gathered(draft, layer, gather) {
            Some(words) => out.edge_words.push(words),
            None => lost.push(format!("{piece}: there is no edge called \"{}\" to write \"{}\" on.", gather.edge, gather.name)),
        }
    }
    Ok(lost)
}

fn drawn_dart(out: &mut PatternPiece, dart: &DartOf, notes: Option<&Dart>) -> Result<(), FoundError> {
    let mut words = dart.name.clone();
    if let Some(intake) = notes.and_then(|n| n.intake) {
        words += &format!(", takes in {}", said(intake.mm()));
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
    for (k, leg) in dart.legs.iter().enumerate() {
        let path = path(&out.name, &dart.name, leg)?;
        let tip = path.elements().last().and_then(PathEl::end_point);
        out.tips.extend(tip.filter(|t| out.tips.iter().all(|p| p.distance(*t) > 1e-3)));
        if k == 0 {
            out.edge_words.push(EdgeWords { path: path.clone(), words: words.clone() });
        }
        out.lines.push(PatternLine { kind: LineKind::Dart, assumed: false, name: dart.name.clone(), path });
    }
    Ok(())
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

/// Numbers of the edges at the ends of a piece's open darts.
pub(super) fn dart_ends(layer: &Layer, sewn: &[SewnOf]) -> Vec<usize> {
    sewn.iter().flat_map(|s| piece::dart_ends(layer, &s.stretches)).collect()
}

/// What is written along an edge that is drawn together.
fn gathered(draft: &DraftOf, layer: &Layer, g: &Gather) -> Option<EdgeWords> {
    // Of a piece laid open edges are called after the half they lie on.
    let of_half = |name: &str| layer.edges.iter().position(|e| e.name.rsplit_once(' ').is_some_and(|(first, _)| alike(first, name)));
    let own = |name: &str| layer.edge(name).or_else(|| of_half(name)).map(|k| &layer.edges[k]);
    let sewn = draft.sewn.iter().find(|s| alike(&s.edge, &g.edge));
    let stretches: Vec<_> = match sewn {
        Some(s) => s.stretches.iter().filter_map(|n| own(n)).collect(),
        None => own(&g.edge).into_iter().collect(),
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
    let place = |s: &Spot| match s {
        Spot::Named(name) => Some(name.clone()),
        Spot::OnEdge(on) => Some(format!("{}{}", said(on.at.mm()), on.from.as_ref().map(|f| format!(" off {f}")).unwrap_or_default())),
        Spot::Px(_) | Spot::Mm(_) => None,
    };
    let between = match &g.between {
        Some([a, b]) => match (place(a), place(b)) {
            (Some(a), Some(b)) => format!(" from {a} to {b}"),
            _ => " a part of it".to_owned(),
        },
        None => String::new(),
    };
    let sewn = g.sewn.map_or_else(long, |l| l.mm());
    let path: BezPath = edge.path.clone();
    let elastic = g.relaxed.map_or(String::new(), |l| format!(", elastic {} long", said(l.mm())));
    // Where it was not opened, its edge is as long as it is sewn, and what is to be added is told.
    let spread = draft.sewn.iter().any(|s| alike(&s.edge, &g.edge));
    let full = g
        .full
        .filter(|f| !spread && f.mm() > sewn)
        .map_or(String::new(), |f| format!(", from {} drawn out: not spread here", said(f.mm())));
    Some(EdgeWords { path, words: format!("{word}{between} to {}{elastic}{full}", said(sewn)) })
}
