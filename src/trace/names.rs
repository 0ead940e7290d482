//! Names of corners and edges: a person's where given, plain numbers elsewhere.

use crate::length::Mm;
use crate::notes::{CornerNotes, EdgeNotes, Place};
use crate::outline::Outline;
use crate::path::SeamPath;
use crate::view::View;

/// A named corner belongs to the corner found within this distance, mm: a person points to a few px.
const REACH: f64 = 5.0;

/// The named corners by sheet place, each with the outline (of those given) it lies nearest to.
pub(super) fn placed(named: &[CornerNotes], view: &View, height: f64, rims: &[&SeamPath]) -> Vec<(usize, String, Mm)> {
    named
        .iter()
        .filter_map(|c| {
            let at = match &c.at {
                Place::Px(px) => view.to_mm(*px, height)?,
                Place::Mm([x, y]) => Mm::new(x.mm(), y.mm()),
                Place::Mark(_) => return None,
            };
            let far = |rim: &SeamPath| rim.points.iter().map(|p| p.at.distance(at)).fold(f64::INFINITY, f64::min);
            let nearest = (0..rims.len()).min_by(|&a, &b| far(rims[a]).total_cmp(&far(rims[b])))?;
            Some((nearest, c.name.clone(), at))
        })
        .collect()
}

/// A name for each corner of an outline.
pub(super) fn corners(outline: &Outline, named: &[(String, Mm)]) -> Vec<String> {
    let mut names: Vec<Option<&str>> = vec![None; outline.corners.len()];
    for (name, at) in named {
        let far = |k: usize| outline.corners[k].at.distance(*at);
        let nearest = (0..names.len()).filter(|&k| names[k].is_none()).min_by(|&a, &b| far(a).total_cmp(&far(b)));
        if let Some(k) = nearest.filter(|&k| far(k) <= REACH) {
            names[k] = Some(name);
        }
    }
    names.iter().enumerate().map(|(k, n)| n.map_or_else(|| format!("corner {}", k + 1), str::to_string)).collect()
}

/// A name for each edge: the one noted for its two corners, else those corners' own names, else a number.
pub(super) fn edges(outline: &Outline, corner_names: &[String], noted: &[EdgeNotes], given: &[(String, Mm)]) -> Vec<String> {
    let name = |k: Option<usize>| k.and_then(|k| corner_names.get(k)).filter(|n| given.iter().any(|g| g.0 == **n));
    outline
        .edges
        .iter()
        .enumerate()
        .map(|(k, e)| match (name(e.from), name(e.to)) {
            (Some(a), Some(b)) => noted
                .iter()
                .find(|n| (&n.from, &n.to) == (a, b) || (&n.to, &n.from) == (a, b))
                .and_then(|n| n.name.clone())
                .unwrap_or_else(|| format!("{a} to {b}")),
            _ => format!("edge {}", k + 1),
        })
        .collect()
}
