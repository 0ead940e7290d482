//! What is drawn on a piece beside its stitch line: cut line, notches, darts, drill marks, grain arrow, scale line and label.
//!
//! An arrow with a point at either end: the grain may lie either way (dresspatternmaking.com, grain line). A hole is drilled 1/2 in short
//! of a dart's point, so that the sewn dart hides it; hems that are folded up are cut as their mirror image (common practice, no source).

use super::allowance::{Allowance, CutLine, Finish, cut_line_past};
use super::drafting::Draft;
use super::layer::{Layer, Line, mm};
use super::page::Down;
use super::pleated::{self, FullnessDrawn};
use super::shrinking::Larger;
use super::{How, NotchAt, alike, double_pointed, notches};
use crate::length::{Length, Mm};
use crate::notes::{Called, EdgeIs, Garment, PieceLines, PieceNotes};
use kurbo::{BezPath, ParamCurve, Point, Shape, Vec2};

/// How far short of a dart's point a hole is drilled: 1/2 in.
const SHORT_OF_POINT: f64 = Length::from_inches(0.5).mm();
/// Share of the piece's height that the grain arrow takes up.
const ARROW: f64 = 0.6;
/// The arrow leaves the middle of the piece for a place where it can be longer by this factor.
const MORE_ROOM: f64 = 1.25;
/// Lengths that a scale line may have, mm, the longest that has room is drawn.
const SCALES: [f64; 3] = [100.0, 50.0, 10.0];

/// A notch with its drawing.
#[derive(Clone, Debug, PartialEq)]
pub struct NotchDrawn {
    /// The notch.
    pub notch: NotchAt,
    /// Where it is on the stitch line.
    pub place: Mm,
    /// From the cut line inward; none where no allowance is chosen or it is too narrow.
    pub paths: Vec<BezPath>,
}

/// A mark to be drilled, pricked or chalked.
#[derive(Clone, Debug, PartialEq)]
pub struct MarkAt {
    /// Its name.
    pub name: String,
    /// Where it is.
    pub at: Mm,
    /// What belongs there.
    pub is: Option<String>,
    /// Noted, or chosen as customary.
    pub how: How,
}

/// The stitch lines of a dart.
#[derive(Clone, Debug, PartialEq)]
pub struct DartDrawn {
    /// Its name.
    pub name: String,
    /// Its legs, each from the edge (or its widest place) to a point.
    pub legs: Vec<BezPath>,
}

/// All that is drawn on a piece.
#[derive(Clone, Debug, PartialEq)]
pub struct Marked {
    /// The line it is cut along; `None` where no allowance is chosen.
    pub cut: Option<CutLine>,
    /// Notches.
    pub notches: Vec<NotchDrawn>,
    /// Darts.
    pub darts: Vec<DartDrawn>,
    /// Pleats, tucks and gathers.
    pub fullness: Vec<FullnessDrawn>,
    /// Drill points and placement marks.
    pub marks: Vec<MarkAt>,
    /// The grain from top to bottom, and how it is known; `None` where nothing stands for it.
    pub grain: Option<([Mm; 2], How)>,
    /// A line of a known length to check a print by.
    pub scale: Option<[Mm; 2]>,
    /// What the label says, line by line.
    pub label: Vec<String>,
    /// What could not be drawn, a sentence each.
    pub undone: Vec<String>,
}

/// Draws what belongs on a piece. `record` is what the garment's record is cited by.
pub fn marked(draft: &Draft, garment: &Garment, record: &str) -> Marked {
    let layer = draft.piece.drafted();
    let mut undone = Vec::new();
    let cut = draft.notes.as_ref().and_then(|n| allowances(draft, n)).and_then(|all| {
        match cut_line_past(layer, &all, &draft.piece.dart_ends()) {
            Ok(cut) => Some(cut),
            Err(e) => {
                let line = draft.notes.as_ref().map(|n| n.lines.allowance).unwrap_or_default();
                undone.push(format!("no cut line was drawn: {}{line}", e.to_string().trim_end_matches('.')));
                None
            }
        }
    });
    let notches = draft.piece.notches.iter().filter_map(|n| notch(layer, cut.as_ref(), n)).collect::<Vec<_>>();
    for n in notches.iter().filter(|n| cut.is_some() && n.paths.is_empty()) {
        undone
            .push(format!("the notch in {} is not drawn: its allowance is too narrow for one that stays clear of the seam", n.notch.edge));
    }
    let (darts, mut marks) = darts(draft);
    for (k, (mark, at)) in draft.notes.iter().flat_map(|n| n.marks.iter().zip(&draft.pins.marks)).enumerate() {
        let name = &mark.name;
        match at {
            Some(at) => marks.push(MarkAt { name: name.clone(), at: mm(*at), is: mark.is.clone(), how: How::Noted }),
            None if draft.undone.iter().any(|u| u.starts_with(&format!("the mark \"{name}\" lies"))) => {}
            None => {
                let line = draft.notes.as_ref().map(|n| PieceLines::of(&n.lines.marks, k)).unwrap_or_default();
                undone.push(format!("the mark \"{name}\" has no place that can be told, or went with the half that was not kept{line}"));
            }
        }
    }
    let upright = upright(layer);
    let how = match draft.laying.down {
        Down::Grain => Some(How::Noted),
        Down::Centre => Some(How::Assumed),
        Down::AsLaid => None,
    };
    let scale = upright.and_then(|[_, foot]| scale(layer, foot));
    undone.extend(lost(draft));
    undone.extend(seam_on_fold(draft));
    let fullness = pleated::drawn(draft);
    Marked { cut, notches, darts, fullness, marks, grain: upright.zip(how), scale, label: label(draft, garment, record), undone }
}

/// Darts, pleats and gathers with a place that nothing on the piece answers to, so that they are not drawn, unless it was told why they were
/// not opened.
fn lost(draft: &Draft) -> Vec<String> {
    let Some(notes) = &draft.notes else { return Vec::new() };
    let pins = &draft.pins;
    let all = |places: &[Option<Point>]| places.iter().all(Option::is_some);
    let edge = |name: &str| !draft.piece.edges_of(name).0.is_empty();
    let lines = &notes.lines;
    let darts = notes.darts.iter().zip(pins.legs.iter().zip(&pins.points)).enumerate();
    let darts = darts.map(|(k, (d, (legs, points)))| {
        let there = all(legs) && points[0].is_some() && (d.other_point.is_none() || points[1].is_some());
        (&d.name, there, PieceLines::of(&lines.darts, k))
    });
    let pleats = notes.pleats.iter().zip(&pins.pleats).enumerate();
    let pleats = pleats.map(|(k, (p, between))| (&p.name, all(between) && edge(&p.edge), PieceLines::of(&lines.pleats, k)));
    let gathers = notes.gathers.iter().zip(&pins.gathers).enumerate();
    let gathers = gathers.map(|(k, (g, ends))| (&g.name, ends.is_none_or(|e| all(&e)) && edge(&g.edge), PieceLines::of(&lines.gathers, k)));
    let missed = darts.chain(pleats).chain(gathers).filter(|(name, there, _)| {
        let told = || draft.undone.iter().any(|u| u.contains(&format!("\"{name}\"")));
        !there && !told()
    });
    missed
        .map(|(name, _, line)| {
            format!(
                "\"{name}\" is not drawn: the edge or a place that the notes name for it is not on the piece, or went with the other half{line}"
            )
        })
        .collect()
}

/// Edges that are noted as the centre fold of a piece that is not cut on the fold, so that a seam would be left there without an allowance.
fn seam_on_fold(draft: &Draft) -> Vec<String> {
    let Some((cut, line)) = draft.notes.as_ref().and_then(|n| Some((n.cut.as_ref()?, n.lines.cut))).filter(|c| !c.0.on_fold) else {
        return Vec::new();
    };
    let fold = |name: &str| draft.noted(name).is_some_and(|n| n.is == Some(EdgeIs::CentreFold));
    let edges = draft.piece.drafted().edges.iter().map(|e| e.name.as_str()).filter(|name| fold(name));
    edges
        .map(|name| {
            format!(
                "{name} is noted as the centre fold, which has no allowance, but the piece is cut \"{}\", so that it is a seam there: write \
                 cut = \"1, place on fold\", or fold = \"{name}\" to lay it open about it, or what the edge is if it is no fold{line}",
                cut.words
            )
        })
        .collect()
}

/// The allowance of each edge; none where nobody chose any.
fn allowances(draft: &Draft, notes: &PieceNotes) -> Option<Vec<Allowance>> {
    if notes.allowance.is_empty() {
        return None;
    }
    let found = draft.piece.found();
    let one = |e: &super::Edge| {
        let is = draft.noted(&e.name).and_then(|n| n.is);
        let base = draft.origin(&e.name).map_or(e.name.as_str(), |k| found.edges[k].name.as_str());
        let called = Called::of(&e.name, is.map(EdgeIs::word), draft.kind.map(|k| k.value)).or(base);
        let own = notes.allowance_of(&called);
        let hem = base.to_lowercase().contains("hem") || own.is_some_and(|(key, _)| alike(key, "hem"));
        let finish = match is {
            Some(EdgeIs::HemFold) => Finish::Mirrored,
            Some(EdgeIs::RawEdge | EdgeIs::FacedEdge | EdgeIs::Selvedge) if hem => Finish::Squared,
            None if hem => Finish::Mirrored,
            _ => Finish::Mitred,
        };
        let none = Allowance { width: 0.0, finish: Finish::Mitred, how: How::Noted };
        match own {
            _ if matches!(e.line, Line::Fold | Line::Cut) || is == Some(EdgeIs::CentreFold) => none,
            Some((_, width)) => Allowance { width: width.mm(), finish, how: How::Chosen },
            None => Allowance { how: How::Assumed, ..none },
        }
    };
    Some(draft.piece.drafted().edges.iter().map(one).collect())
}

fn notch(layer: &Layer, cut: Option<&CutLine>, n: &NotchAt) -> Option<NotchDrawn> {
    let k = layer.edge(&n.edge)?;
    let stitch = &layer.edges[k].path;
    let place = mm(super::Walk::of(stitch).at(n.at));
    // A notch is drawn from the line that is cut, all round: near a corner that may be the neighbour's.
    let paths = cut.and_then(|c| notches(stitch, &c.path, n.at, n.count, n.style)).unwrap_or_default();
    Some(NotchDrawn { notch: n.clone(), place, paths })
}

/// Stitch lines of the darts, and a hole to drill for each point.
fn darts(draft: &Draft) -> (Vec<DartDrawn>, Vec<MarkAt>) {
    let (mut drawn, mut holes) = (Vec::new(), Vec::new());
    for (k, dart) in draft.notes.iter().flat_map(|n| n.darts.iter().enumerate()) {
        let points: Vec<Point> = draft.pins.points[k].iter().flatten().copied().collect();
        let line = |from: Point, to: Point| BezPath::from_vec(vec![kurbo::PathEl::MoveTo(from), kurbo::PathEl::LineTo(to)]);
        let Some(legs) = draft.pins.legs[k].iter().copied().collect::<Option<Vec<Point>>>() else { continue };
        // Within the piece: shut, its widest place is as wide as it takes in.
        let wide = match (legs.as_slice(), points.as_slice()) {
            ([wide], [a, b]) => {
                let across = (*b - *a).normalize().turn_90();
                let drawn = |l| Larger::drawn(draft.larger, l, &line(*wide, *wide + across));
                let half = across * dart.intake.map_or(0.0, |l| drawn(l) / 2.0);
                Some([*wide - half, *wide + half])
            }
            ([p, q], [_, _]) => Some([*p, *q]),
            _ => None,
        };
        let ends = wide.map_or(legs, |w| w.to_vec());
        let all = match (wide, points.as_slice()) {
            (Some(wide), [a, b]) => double_pointed::legs(wide, [*a, *b]),
            _ => points.iter().flat_map(|p| ends.iter().map(move |e| line(*e, *p))).collect(),
        };
        drawn.push(DartDrawn { name: dart.name.clone(), legs: all });
        let mouth = ends.iter().fold(Vec2::ZERO, |s, e| s + e.to_vec2() / ends.len().max(1) as f64).to_point();
        for (i, p) in points.iter().enumerate().filter(|(_, p)| p.distance(mouth) > 2.0 * SHORT_OF_POINT) {
            let name = if i == 0 { format!("{}: point", dart.name) } else { format!("{}: other point", dart.name) };
            let at = mm(*p + (mouth - *p).normalize() * SHORT_OF_POINT);
            holes.push(MarkAt { name, at, is: Some("drill hole, 1/2 in short of the point".into()), how: How::Chosen });
        }
    }
    (drawn, holes)
}

/// Where a line meets the outline, sorted along it.
fn met(layer: &Layer, line: kurbo::Line) -> Vec<Point> {
    let outline = layer.outline();
    let mut hits: Vec<(f64, Point)> =
        outline.segments().flat_map(|s| s.intersect_line(line).into_iter().map(move |h| (h.line_t, line.eval(h.line_t)))).collect();
    hits.sort_by(|a, b| a.0.total_cmp(&b.0));
    hits.into_iter().map(|h| h.1).collect()
}

/// The middle of the longest upright line within the piece near its middle, from top to bottom.
fn upright(layer: &Layer) -> Option<[Mm; 2]> {
    let whole = layer.outline();
    let b = whole.bounding_box();
    let long = |ends: &[Point; 2]| ends[1].y - ends[0].y;
    let at = |share: f64| {
        let x = b.x0 + b.width() * share;
        let hits = met(layer, kurbo::Line::new((x, b.y0 - 1.0), (x, b.y1 + 1.0)));
        let inside = hits.windows(2).filter(|w| whole.contains(w[0].midpoint(w[1])));
        inside.map(|w| [w[0], w[1]]).max_by(|p, q| long(p).total_cmp(&long(q)))
    };
    // In the middle, unless there is much more room beside it.
    let all = [0.5, 0.4, 0.6, 0.3, 0.7].into_iter().filter_map(at);
    let [a, b] = all.reduce(|best, next| if long(&next) > MORE_ROOM * long(&best) { next } else { best })?;
    let spare = (1.0 - ARROW) / 2.0;
    Some([mm(a.lerp(b, spare)), mm(a.lerp(b, 1.0 - spare))])
}

/// A level line that has room beside the foot of the grain arrow.
fn scale(layer: &Layer, foot: Mm) -> Option<[Mm; 2]> {
    let whole = layer.outline();
    SCALES.into_iter().find_map(|long| {
        // Beside the foot, else centred below it.
        let starts = [(5.0, 0.0), (-5.0 - long, 0.0), (-long / 2.0, 10.0)];
        let ends = starts.map(|(x, y)| [0.0, long].map(|far| Point::new(foot.x + x + far, foot.y + y)));
        let room = |[p, q]: &[Point; 2]| (0..=10).all(|k| whole.contains(p.lerp(*q, f64::from(k) / 10.0)));
        ends.into_iter().find(room).map(|e| e.map(mm))
    })
}

/// The label: what it is, of which garment and record, how it is cut, when it was drawn, which side is up, what is assumed.
fn label(draft: &Draft, garment: &Garment, record: &str) -> Vec<String> {
    let notes = draft.notes.as_ref();
    let mut out = vec![draft.piece.name.clone()];
    let named: Vec<&str> = [&garment.name, &garment.accession, &garment.number].into_iter().flatten().map(String::as_str).collect();
    out.push(if named.is_empty() { record.to_owned() } else { named.join(", ") });
    if !named.is_empty() {
        out.push(format!("record {record}"));
    }
    let cloth = notes.and_then(|n| n.cloth.as_ref()).map(|c| format!(", {c}")).unwrap_or_default();
    out.push(match notes.and_then(|n| n.cut.as_ref()) {
        Some(cut) => format!("cut {}{cloth}", cut.words),
        None => format!("how many are cut is not noted{cloth}"),
    });
    let by = [&garment.recorded_by, &garment.recorded_on].into_iter().flatten().map(String::as_str).collect::<Vec<_>>();
    out.extend((!by.is_empty()).then(|| format!("recorded by {}", by.join(", "))));
    out.push("right side up".into());
    out.extend(match draft.laying.down {
        Down::Grain => None,
        Down::Centre => Some("grain not recorded: the arrow is the centre line".to_owned()),
        Down::AsLaid => Some("grain not recorded".to_owned()),
    });
    out.extend(draft.larger.map(|l| l.words()));
    let assumed = draft.piece.drafted().edges.iter().filter(|e| e.how == How::Assumed).map(|e| e.name.as_str()).collect::<Vec<_>>();
    out.extend((!assumed.is_empty()).then(|| format!("assumed: {}", assumed.join(", "))));
    out
}
