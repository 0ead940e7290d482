//! Where a place of an outline is, in words a cutter uses: by the names of the notes, else by how the picture shows it.

use super::names;
use super::places::Place;
use super::tracing::Traced;
use crate::length::Mm;
use kurbo::{Rect, Shape};
use nalgebra::Vector2;

/// This near a corner a place is at the corner, mm.
const AT_CORNER: f64 = 4.0;
/// Distances above this are told to the next 5 mm.
const ROUGHLY: f64 = 20.0;
/// Parts of a piece's box that count as its middle.
const MIDDLE: std::ops::RangeInclusive<f64> = 0.35..=0.65;

/// The words for a place at `along` mm of edge `k`, to stand after "out by 1 mm"; of a piece of several its name is told. Left and
/// right are the wearer's elsewhere, so that those of the picture say that they are.
pub(super) fn words(piece: &Traced, several: bool, k: usize, along: f64, at: Mm, normal: Vector2<f64>) -> String {
    let words = place(piece, several, k, along, at, normal);
    if words.contains("-hand") { format!("{words} as seen") } else { words }
}

/// The place that is nearest to `at`.
pub(super) fn nearest(places: &[Place], at: Mm) -> Option<&Place> {
    places.iter().min_by(|a, b| a.at.distance(at).total_cmp(&b.at.distance(at)))
}

/// The words for the place of an outline that is nearest to `at`.
pub(super) fn near(piece: &Traced, several: bool, places: &[Place], at: Mm) -> Option<String> {
    let nearest = nearest(places, at)?;
    Some(words(piece, several, nearest.edge, nearest.along, nearest.at, nearest.normal))
}

fn place(piece: &Traced, several: bool, k: usize, along: f64, at: Mm, normal: Vector2<f64>) -> String {
    let edge = &piece.outline.edges[k];
    let of = if several { format!(" of {}", piece.name) } else { String::new() };
    let line = match piece.edges.get(k).map(|e| e.name.as_str()) {
        Some(name) if !names::is_number(name) => name.to_owned(),
        _ if edge.from.is_none() && edge.to.is_none() => "the round edge".to_owned(),
        _ => format!("the {} edge", side(normal)),
    };
    let ends = [(edge.from, along), (edge.to, edge.length() - along)];
    let nearest = ends.into_iter().filter_map(|(c, far)| c.map(|c| (c, far))).min_by(|a, b| a.1.total_cmp(&b.1));
    let Some((corner, far)) = nearest else { return format!("on {line}{of}, {}", about(&piece.outline.path.bounding_box(), at)) };
    let name = corner_words(piece, corner);
    if far <= AT_CORNER {
        return format!("on {line}{of}, at {name}");
    }
    let told = if far > ROUGHLY { (far / 5.0).round() * 5.0 } else { far.round() };
    format!("on {line}{of}, {told:.0} mm {} {name}", from(piece.outline.corners[corner].at, at))
}

/// The side of the piece that an outward normal shows, as the picture has it.
fn side(normal: Vector2<f64>) -> &'static str {
    match (normal.x.abs() > normal.y.abs(), normal.x > 0.0, normal.y > 0.0) {
        (true, true, _) => "right-hand",
        (true, false, _) => "left-hand",
        (false, _, true) => "lower",
        (false, _, false) => "upper",
    }
}

fn corner_words(piece: &Traced, corner: usize) -> String {
    let name = piece.corner_names.get(corner).map_or("", String::as_str);
    if !names::is_number(name) {
        return name.to_owned();
    }
    let (x, y) = thirds(&piece.outline.path.bounding_box(), piece.outline.corners[corner].at);
    match (y, x) {
        ("", "") => "the corner in the middle".into(),
        (y, x) => format!("the {} corner", [y, x].into_iter().filter(|w| !w.is_empty()).collect::<Vec<_>>().join(" ")),
    }
}

/// Which way a place lies from a corner.
fn from(corner: Mm, at: Mm) -> &'static str {
    let d = at - corner;
    match (d.x.abs() > d.y.abs(), d.x > 0.0, d.y > 0.0) {
        (true, true, _) => "right of",
        (true, false, _) => "left of",
        (false, _, true) => "below",
        (false, _, false) => "above",
    }
}

/// Left or right and upper or lower part of a box; nothing for the middle.
fn thirds(of: &Rect, at: Mm) -> (&'static str, &'static str) {
    let part = |v: f64, low: f64, size: f64, words: [&'static str; 2]| {
        let share = (v - low) / size.max(1e-9);
        if MIDDLE.contains(&share) { "" } else { words[usize::from(share > 0.5)] }
    };
    (part(at.x, of.x0, of.width(), ["left-hand", "right-hand"]), part(at.y, of.y0, of.height(), ["upper", "lower"]))
}

/// Where about a round piece a place lies.
fn about(of: &Rect, at: Mm) -> String {
    let (x, y) = thirds(of, at);
    let y = match y {
        "upper" => "top",
        "lower" => "bottom",
        other => other,
    };
    match (y, x) {
        ("", x) => format!("at the {x} side"),
        (y, "") => format!("at the {y}"),
        (y, x) => format!("at the {y}, {x} side"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::outline::{Corner, Edge, Outline, Shape as Drawn};
    use crate::trace::{EdgeFound, Found, Line};
    use kurbo::BezPath;

    /// A box of 100 by 300 mm.
    fn piece(names: [&str; 2]) -> Traced {
        let at = [[0.0, 0.0], [100.0, 0.0], [100.0, 300.0], [0.0, 300.0]].map(Mm::from);
        let corner = |at| Corner { at, error: 0.1, turn_deg: 90.0, rounded: 3.0, given: false };
        let line =
            |a: Mm, b: Mm| BezPath::from_vec(vec![kurbo::PathEl::MoveTo((a.x, a.y).into()), kurbo::PathEl::LineTo((b.x, b.y).into())]);
        let edge = |k: usize| Edge {
            from: Some(k),
            to: Some((k + 1) % 4),
            path: line(at[k], at[(k + 1) % 4]),
            shape: Drawn::Straight,
            cut: false,
            along: vec![],
        };
        let found = |name: &str| EdgeFound {
            name: name.into(),
            line: Line::Rim,
            bound: None,
            along: vec![],
            found: Found::Picture,
            rough: None,
            pictures: vec![0],
        };
        let mut path = line(at[0], at[1]);
        (2..4).for_each(|k| path.line_to((at[k].x, at[k].y)));
        path.close_path();
        Traced {
            name: "front".into(),
            outline: Outline { path, corners: at.map(corner).to_vec(), edges: (0..4).map(edge).collect() },
            corner_names: vec![names[0].into(), "corner 2".into(), "corner 3".into(), "corner 4".into()],
            edges: ["edge 1", "edge 2", "edge 3", names[1]].map(found).to_vec(),
            holes: vec![],
            inner: vec![],
            bound: None,
            joined: None,
            points: Vec::new(),
        }
    }

    #[test]
    fn by_place_where_nothing_is_named() {
        let p = piece(["corner 1", "edge 4"]);
        let left = Vector2::new(-1.0, 0.0);
        assert_eq!(
            words(&p, false, 3, 178.4, Mm::new(0.0, 121.6), left),
            "on the left-hand edge, 120 mm below the upper left-hand corner as seen"
        );
        assert_eq!(
            words(&p, true, 3, 299.0, Mm::new(0.0, 1.0), left),
            "on the left-hand edge of front, at the upper left-hand corner as seen"
        );
        assert_eq!(
            words(&p, false, 2, 12.2, Mm::new(87.8, 300.0), Vector2::new(0.0, 1.0)),
            "on the lower edge, 12 mm left of the lower right-hand corner as seen"
        );
    }

    #[test]
    fn by_the_names_of_the_notes() {
        let p = piece(["underarm left", "side left"]);
        let left = Vector2::new(-1.0, 0.0);
        assert_eq!(words(&p, false, 3, 200.0, Mm::new(0.0, 100.0), left), "on side left, 100 mm below underarm left");
    }

    #[test]
    fn a_round_piece_has_a_top_and_sides() {
        let of = Rect::new(0.0, 0.0, 100.0, 100.0);
        assert_eq!(about(&of, Mm::new(50.0, 0.0)), "at the top");
        assert_eq!(about(&of, Mm::new(10.0, 90.0)), "at the bottom, left-hand side");
        assert_eq!(about(&of, Mm::new(100.0, 50.0)), "at the right-hand side");
    }
}
