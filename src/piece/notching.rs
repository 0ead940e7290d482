//! Where notches sit: those of the notes, and on request at matching points of a join.
//!
//! One notch is the front's, two are the back's, one marks the shoulder point (natalieinstitches.com, "The language of notches").
//! Armholes are notched below mid-height (fashion-incubator.com, notch maps 2): proposed here at a third of the armhole from the
//! underarm, as far up the cap, so that all ease lies above; other seams at their middle (common practice, no source).

use super::How;
use super::bench::Bench;
use super::draft::{NotchAt, Piece};
use super::layer::alike;
use super::row::Row;
use super::sewn::walked;
use super::truing::{is_cap, rows};
use crate::notes::{Join, Notch, NotchStyle, Notes, PieceKind, PieceLines, PieceNotes};

/// Share of an armhole, from the underarm up, at which it is notched.
const UP_THE_ARMHOLE: f64 = 1.0 / 3.0;
/// Notches proposed nearer to one another than this are one, and this near to a dart's leg one marks the leg, mm.
const SAME: f64 = 0.5;
/// A seam shorter than this needs no notch, mm.
const SHORT: f64 = 100.0;

/// Notches of the notes on the lines as drafted.
pub(super) fn noted(bench: &mut Bench, notes: &PieceNotes, kind: Option<PieceKind>) {
    for (k, notch) in notes.notches.iter().enumerate() {
        let found = bench.pins.notches[k].and_then(|p| bench.nearest_on(&notch.edge, p));
        let Some((edge, at)) = found else {
            bench.undone(format!(
                "a notch {} along {} has no place: {}{}",
                notch.at,
                notch.edge,
                no_place(bench, notch),
                PieceLines::of(&notes.lines.notches, k)
            ));
            continue;
        };
        if bench.piece.open_along(edge).iter().any(|[a, b]| a + SAME < at && at < b - SAME) {
            let line = PieceLines::of(&notes.lines.notches, k);
            bench.undone(format!(
                "the notch {} along {} lies in the mouth of a dart, where its seam is sewn shut; place it beside the dart{line}",
                notch.at, notch.edge
            ));
        }
        let name = bench.piece.drafted().edges[edge].name.clone();
        let count = notch.count.unwrap_or_else(|| usual(&bench.piece.name, &name, kind));
        let style = notch.style.unwrap_or(NotchStyle::Slit);
        bench.piece.notches.push(NotchAt { edge: name, at, count, style, how: How::Noted, answers: None });
    }
}

/// Why a notch has no place on its edge.
fn no_place(bench: &Bench, notch: &Notch) -> String {
    let found = bench.piece.found();
    match (found.edge(&notch.edge), &notch.from) {
        (None, _) => format!("there is no edge called \"{}\"", notch.edge),
        (Some(k), _) if notch.at.mm() > found.edges[k].length() => format!("the edge is {:.1} mm long", found.edges[k].length()),
        (Some(_), Some(from)) => format!("the edge does not end at \"{from}\", or went with the other half"),
        (Some(_), None) => "it went with the other half".into(),
    }
}

/// Single for front, double for back.
fn usual(piece: &str, edge: &str, kind: Option<PieceKind>) -> u32 {
    let back = |t: &str| t.to_lowercase().split(|c: char| !c.is_alphanumeric()).any(|w| w == "back");
    let of_back = matches!(kind, Some(PieceKind::BodyBack | PieceKind::TrouserBack)) || back(piece) || back(edge);
    if of_back { 2 } else { 1 }
}

/// Proposes notches at matching points of every join of which no edge has one noted. What is sewn twice, half a piece on either side or a sleeve's
/// cap into both armholes, is notched once for both. `kinds` are those of the pieces, in order.
pub fn match_notches(notes: &Notes, pieces: &mut [&mut Piece], kinds: &[Option<PieceKind>]) {
    for join in &notes.joins {
        let found = proposed(notes, &pieces.iter().map(|p| &**p).collect::<Vec<_>>(), kinds, join);
        for (k, notch) in found.unwrap_or_default() {
            let own = &mut pieces[k].notches;
            match own.iter_mut().find(|n| n.how == How::Assumed && alike(&n.edge, &notch.edge) && (n.at - notch.at).abs() < SAME) {
                Some(there) => there.answers = both(there.answers.take(), notch.answers),
                None => own.push(notch),
            }
        }
    }
}

/// What a notch answers in one seam and in another.
fn both(one: Option<String>, other: Option<String>) -> Option<String> {
    match (one, other) {
        (Some(a), Some(b)) if a != b => Some(format!("{a} and {b}")),
        (a, b) => a.or(b),
    }
}

/// Matching places: along the first row and along the second, each counted the way it runs; and how many notches, where that is fixed.
type Matched = (Option<f64>, Option<f64>, Option<u32>);

fn proposed(notes: &Notes, all: &[&Piece], kinds: &[Option<PieceKind>], join: &Join) -> Option<Vec<(usize, NotchAt)>> {
    let rows = rows(notes, all, join).ok()?;
    let lengths = rows.each_ref().map(Row::length);
    let noted = |r: &Row| r.edges().any(|(piece, edge)| notches(all, piece, edge).any(|n| n.how != How::Assumed));
    // What ends at the fold is matched there; where fullness lies along an edge, nobody knows how much of it comes before a place.
    if rows.iter().any(|r| noted(r) || r.folded() || r.full()) || lengths.iter().any(|l| *l < SHORT) {
        return None;
    }
    let same = walked(&rows[0], &rows[1], join.meet.as_ref()).ok()?.same_way;
    let places = places(notes, join, &rows, same);
    let mut out = Vec::new();
    for (a, b, count) in places {
        let at = [a.and_then(|s| rows[0].at(s)), b.and_then(|s| rows[1].at(s))];
        // The armhole's piece says whether it is the back's: its cap is notched alike.
        let count = count.unwrap_or_else(|| at.iter().flatten().map(|(p, e, _)| usual(p, e, kind_of(all, kinds, p))).max().unwrap_or(1));
        for (k, (piece, edge, at)) in at.iter().enumerate().filter_map(|(k, at)| at.map(|at| (k, at))) {
            let answers = Some(join.edges[1 - k].to_string());
            // Where another seam of the same edge asked for some already, those are meant.
            let there = notches(all, piece, edge).map(|n| n.at);
            let at = there.min_by(|p, q| (p - at).abs().total_cmp(&(q - at).abs())).unwrap_or(at);
            let notch = NotchAt { edge: edge.to_owned(), at, count, style: NotchStyle::Slit, how: How::Assumed, answers };
            out.extend(all.iter().position(|p| alike(&p.name, piece)).map(|number| (number, notch)));
        }
    }
    Some(out)
}

/// Where the two rows of a join are notched.
fn places(notes: &Notes, join: &Join, rows: &[Row; 2], same: bool) -> Vec<Matched> {
    let lengths = rows.each_ref().map(Row::length);
    let caps = join.edges.each_ref().map(|s| is_cap(notes, s));
    let second = |s: f64| if same { s } else { lengths[1] - s };
    let mut stops = rows[usize::from(caps[0])].stops();
    if caps[0] && !same {
        stops = stops.iter().rev().map(|s| lengths[1] - s).collect();
    }
    match caps {
        [true, false] => cap(&stops, lengths).into_iter().map(|(c, a, n)| (Some(c), a.map(second), n)).collect(),
        [false, true] => cap(&stops, [lengths[1], lengths[0]]).into_iter().map(|(c, a, n)| (a, Some(second(c)), n)).collect(),
        _ => vec![(Some(lengths[0] / 2.0), Some(second(lengths[1] / 2.0)), Some(1))],
    }
}

/// Notches of an edge of a piece.
fn notches<'a>(all: &[&'a Piece], piece: &str, edge: &'a str) -> impl Iterator<Item = &'a NotchAt> {
    let own = all.iter().find(|p| alike(&p.name, piece)).copied();
    own.into_iter().flat_map(move |p| p.notches.iter().filter(move |n| alike(&n.edge, edge)))
}

fn kind_of(all: &[&Piece], kinds: &[Option<PieceKind>], name: &str) -> Option<PieceKind> {
    let k = all.iter().position(|p| alike(&p.name, name))?;
    kinds.get(k).copied().flatten()
}

/// Along a cap and its armhole from the end where both start: below the middle at either end, and on the cap alone where front and back
/// armhole meet. All ease lies between the notches, half of it on either side of the shoulder. `stops` are those of the armhole.
fn cap(stops: &[f64], [cap, around]: [f64; 2]) -> Vec<(f64, Option<f64>, Option<u32>)> {
    let (first, last) = (stops.first().copied().unwrap_or(around), around - stops.last().copied().unwrap_or(0.0));
    let (up, down) = (first * UP_THE_ARMHOLE, last * UP_THE_ARMHOLE);
    let mut out = vec![(up, Some(up), None)];
    out.extend(stops.iter().map(|s| (s + (cap - around) / 2.0, None, Some(1))));
    out.push((cap - down, Some(around - down), None));
    out
}
