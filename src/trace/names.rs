//! Names of corners and edges: a person's where given, plain numbers elsewhere.

use super::laid::{NotesError, Places};
use crate::length::Mm;
use crate::notes::{CornerNotes, EdgeNotes, Place};
use crate::outline::Outline;
use crate::path::SeamPath;

/// A named corner belongs to the corner found within this distance, mm: a person points to a few px.
const REACH: f64 = 5.0;
/// And within this where a mark lies beside it.
const MARK_REACH: f64 = 13.0;

/// What a person says of a place of an outline.
#[derive(Clone, Debug)]
pub(super) struct Named {
    /// Which outline (of those given) it lies nearest to.
    pub piece: usize,
    pub name: String,
    pub at: Mm,
    pub says: Says,
}

/// What it says of the outline there.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Says {
    /// There is a corner, however gentle.
    Corner,
    /// There is one, and a mark lies beside it.
    Marked,
    /// There is one at this very place.
    Exact,
    /// There is none.
    Round,
    /// Nothing: a mark lies there, and a corner near it takes its name.
    Nothing,
}

/// The named corners and marks by sheet place.
pub(super) fn placed(named: &[CornerNotes], places: &Places, rims: &[&SeamPath]) -> Result<Vec<Named>, NotesError> {
    let mut out: Vec<Named> = Vec::new();
    let far = |rim: &SeamPath, at: Mm| rim.points.iter().map(|p| p.at.distance(at)).fold(f64::INFINITY, f64::min);
    let mut put = |name: &str, at: Mm, says: Says| {
        if let Some(piece) = (0..rims.len()).min_by(|&a, &b| far(rims[a], at).total_cmp(&far(rims[b], at))) {
            out.push(Named { piece, name: name.to_owned(), at, says });
        }
    };
    for c in named {
        let px = places.px("a corner", &c.at)?;
        if let Some(at) = places.view.to_mm(px, places.height) {
            put(
                &c.name,
                at,
                match c {
                    CornerNotes { round: true, .. } => Says::Round,
                    CornerNotes { exact: true, .. } => Says::Exact,
                    // A pointer's tip shows the very place.
                    CornerNotes { at: Place::Mark(mark), .. } if places.mark(mark)?.shows.is_none() => Says::Marked,
                    _ => Says::Corner,
                },
            );
        }
    }
    for laid in places.laid {
        // A sticker reaches over the rim it shows, so that its height there is the cloth's.
        let at = laid.shows.or_else(|| places.view.to_mm(laid.mark.px, places.height));
        if let (Some(name), Some(at)) = (&laid.name, at)
            && named.iter().all(|c| c.name != *name)
        {
            put(name, at, Says::Nothing);
        }
    }
    Ok(out)
}

/// A name for each corner of an outline. A number that the notes give to some corner of the picture is none that another gets by itself.
pub(super) fn corners(outline: &Outline, named: &[&Named], noted: &[CornerNotes]) -> Vec<String> {
    let mut names: Vec<Option<&str>> = vec![None; outline.corners.len()];
    for Named { name, at, says, .. } in named.iter().filter(|n| n.says != Says::Round) {
        let far = |k: usize| outline.corners[k].at.distance(*at);
        let nearest = (0..names.len()).filter(|&k| names[k].is_none()).min_by(|&a, &b| far(a).total_cmp(&far(b)));
        let reach = if *says == Says::Marked { MARK_REACH } else { REACH };
        if let Some(k) = nearest.filter(|&k| far(k) <= reach) {
            names[k] = Some(name);
        }
    }
    let mut beyond = names.len();
    let mut number = |k: usize| {
        let mut name = format!("corner {}", k + 1);
        while noted.iter().any(|c| c.name == name) {
            beyond += 1;
            name = format!("corner {beyond}");
        }
        name
    };
    names.iter().enumerate().map(|(k, n)| n.map_or_else(|| number(k), str::to_string)).collect()
}

pub use crate::notes::is_number;

/// The name of an edge by those of its corners, which the notes or marks give; none where one is known by its number alone.
pub fn by_corners(from: &str, to: &str) -> Option<String> {
    (!is_number(from) && !is_number(to)).then(|| between(from, to))
}

/// An edge told by its two corners, whatever they are called.
pub fn between(from: &str, to: &str) -> String {
    format!("{from} to {to}")
}

/// A name for each edge: the one noted for its two corners, else those corners' own names, else a number.
pub(super) fn edges(outline: &Outline, corner_names: &[String], noted: &[EdgeNotes], given: &[&Named]) -> Vec<String> {
    let name = |k: Option<usize>| k.and_then(|k| corner_names.get(k)).filter(|n| given.iter().any(|g| g.name == **n));
    let told = EdgeNotes::told(noted, &corner_names.iter().map(String::as_str).collect::<Vec<_>>());
    outline
        .edges
        .iter()
        .enumerate()
        .map(|(k, e)| {
            // A name for further stretches of what is one edge to the notes.
            let of = |(n, stretch): (&EdgeNotes, usize)| {
                n.name.as_ref().map(|own| if stretch == 0 { own.clone() } else { format!("{own} {}", stretch + 1) })
            };
            let own = e.from.and_then(|c| told.get(c).copied().flatten()).and_then(of);
            // A corner that the notes know by its number alone gives no name to what it ends.
            let ends = || name(e.from).zip(name(e.to)).and_then(|(a, b)| by_corners(a, b));
            own.or_else(ends).unwrap_or_else(|| format!("edge {}", k + 1))
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::length::Px;
    use crate::notes::Place;
    use crate::outline::Corner;
    use kurbo::BezPath;

    /// A notch or a join that goes by an edge's number still finds it when its corners were put in place.
    #[test]
    fn numbers_of_corners_give_edges_no_name() {
        let corner = |x: f64| Corner { at: Mm::new(x, 0.0), error: 0.1, turn_deg: 90.0, rounded: 0.0, given: false };
        let edge = |k: usize| {
            let (path, shape) = (BezPath::new(), crate::outline::Shape::Straight);
            crate::outline::Edge { from: Some(k), to: Some(k + 1), path, shape, cut: false, along: Vec::new() }
        };
        let outline = Outline { path: BezPath::new(), corners: [0.0, 50.0, 100.0].map(corner).to_vec(), edges: vec![edge(0), edge(1)] };
        let named =
            ["corner 1", "corner 2", "hem"].map(|name| Named { piece: 0, name: name.into(), at: Mm::default(), says: Says::Corner });
        let given: Vec<&Named> = named.iter().collect();
        let names = ["corner 1", "corner 2", "hem"].map(String::from);
        assert_eq!(edges(&outline, &names, &[], &given), ["edge 1", "edge 2"]);
        let names = ["neck", "cuff", "hem"].map(String::from);
        let named = ["neck", "cuff", "hem"].map(|name| Named { piece: 0, name: name.into(), at: Mm::default(), says: Says::Corner });
        assert_eq!(edges(&outline, &names, &[], &named.iter().collect::<Vec<_>>()), ["neck to cuff", "cuff to hem"]);
    }

    #[test]
    fn a_number_that_the_notes_give_is_nobody_elses() {
        let corner = |x: f64| Corner { at: Mm::new(x, 0.0), error: 0.1, turn_deg: 90.0, rounded: 0.0, given: false };
        let outline = Outline { path: BezPath::new(), corners: [0.0, 50.0, 100.0].map(corner).to_vec(), edges: Vec::new() };
        let noted = [CornerNotes { name: "corner 2".into(), at: Place::Px(Px::new(1.0, 1.0)), picture: None, round: false, exact: false }];
        let here = Named { piece: 0, name: "corner 2".into(), at: Mm::new(0.5, 0.0), says: Says::Corner };
        assert_eq!(corners(&outline, &[&here], &noted), ["corner 2", "corner 4", "corner 3"]);
        // Nor that of a corner of another piece of the picture.
        assert_eq!(corners(&outline, &[], &noted), ["corner 1", "corner 4", "corner 3"]);
        assert_eq!(corners(&outline, &[], &[]), ["corner 1", "corner 2", "corner 3"]);
    }
}
