//! Whether pictures that a lens is to be solved from show one bare sheet.

use crate::grid::{Lattice, words};
use crate::view::SolvedLens;
use std::collections::{BTreeMap, BTreeSet};

/// Share of a sheet's nodes hidden within what is seen of it from which something lies on it: a hand's breadth of an A3 sheet.
const COVERED: f64 = 0.02;
/// Share of all nodes that may be left out as not fitting: beyond it the lens is fitted to a choice among them.
const LEFT_OUT: f64 = 0.25;

/// A sheet is told to be bent from here on, mm: prints on a board are out by a tenth or two.
const BENT: f64 = 0.3;
/// Pictures all tilted by less than this, degrees, leave focal length and distance to each other.
const TILTED: f64 = 10.0;

/// What two pictures show, in words, where that can't be one sheet.
pub(super) fn differ(a: &Lattice, b: &Lattice) -> Option<[String; 2]> {
    let both = [a, b];
    let numbers = both.map(|l| l.code.map(|c| c.number));
    if a.kind != b.kind {
        Some(both.map(|l| words(Some(l.kind)).to_owned()))
    } else if a.pitch != b.pitch {
        Some(both.map(|l| format!("squares of {:.2} mm", l.pitch[0])))
    } else if numbers[0] != numbers[1] {
        Some(numbers.map(|n| n.map_or("a sheet without a number".into(), |n| format!("sheet number {n}"))))
    } else {
        None
    }
}

/// Share of a sheet's nodes that something hides: addresses between seen ones of their row and of their column, with no seen neighbour.
pub(super) fn covered(lattice: &Lattice) -> f64 {
    let seen: BTreeSet<(i32, i32)> = lattice.nodes.iter().map(|n| (n.i, n.j)).collect();
    let (rows, columns) = (ends(seen.iter().map(|a| (a.1, a.0))), ends(seen.iter().copied()));
    let hidden = |i: i32, j: i32| {
        columns.get(&i).is_some_and(|c| (c[0]..=c[1]).contains(&j)) && !(-1..=1).any(|y| (-1..=1).any(|x| seen.contains(&(i + x, j + y))))
    };
    let missing: usize = rows.iter().map(|(&j, r)| (r[0]..=r[1]).filter(|&i| hidden(i, j)).count()).sum();
    missing as f64 / (missing + seen.len()).max(1) as f64
}

/// First and last place along each line, of (line, place).
fn ends(seen: impl Iterator<Item = (i32, i32)>) -> BTreeMap<i32, [i32; 2]> {
    let mut ends: BTreeMap<i32, [i32; 2]> = BTreeMap::new();
    for (line, at) in seen {
        let e = ends.entry(line).or_insert([at, at]);
        *e = [e[0].min(at), e[1].max(at)];
    }
    ends
}

/// Whether something lies on the sheet.
pub(super) fn occupied(lattice: &Lattice) -> bool {
    covered(lattice) > COVERED
}

/// How many nodes of how many fit no lens, when they are too many for one to be believed.
pub(super) fn left_out(solved: &SolvedLens) -> Option<[usize; 2]> {
    let out: usize = solved.views.iter().map(|v| v.outliers).sum();
    let all = out + solved.views.iter().map(|v| v.nodes).sum::<usize>();
    (out as f64 > LEFT_OUT * all as f64).then_some([out, all])
}

/// What is told where in more than half of the pictures the sheet is out of flat.
pub(super) fn bent(solved: &SolvedLens) -> Option<String> {
    let mut most: Vec<f64> = solved.views.iter().filter_map(|v| v.bent_mm).filter(|m| *m > BENT).collect();
    most.sort_by(f64::total_cmp);
    let worst = *most.last().filter(|_| 2 * most.len() > solved.views.len())?;
    Some(format!(
        "In {} of {} pictures the sheet is out of flat, by up to {worst:.1} mm: it is bent, or the lens bends lines in a way that no profile holds. What the lens is known to is then too good. Lay the sheet on a board or a glass, and take the pictures again.",
        most.len(),
        solved.views.len()
    ))
}

/// What is told where the camera looked straight down in all pictures.
pub(super) fn square_on(solved: &SolvedLens) -> Option<String> {
    let most = solved.views.iter().map(|v| v.view.tilt_deg()).fold(0.0, f64::max);
    (most < TILTED).then(|| {
        format!(
            "No picture is tilted by more than {most:.0}°, so the focal length, known to {:.1} %, rests on little. Tilt the camera by 20 to 40 degrees, to a different side in each.",
            200.0 * solved.errors()[0] / solved.sensor.focal[0]
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::grid::Node;
    use crate::length::Px;

    fn sheet(seen: impl Fn(i32, i32) -> bool) -> Lattice {
        let all = (0..20).flat_map(|j| (0..30).map(move |i| (i, j)));
        let nodes = all.filter(|&(i, j)| seen(i, j)).map(|(i, j)| Node { at: Px::default(), i, j, error: 0.1 }).collect();
        Lattice { nodes, pitch: [10.0; 2], ..Lattice::default() }
    }

    #[test]
    fn what_lies_on_a_sheet_is_seen_and_missed_nodes_are_not() {
        assert!(!occupied(&sheet(|_, _| true)));
        assert!(!occupied(&sheet(|i, j| (i + 3 * j) % 5 != 0)), "a node in five was missed");
        assert!(!occupied(&sheet(|i, j| i + j > 8 && i + j < 40)), "corners out of the picture");
        assert!((covered(&sheet(|i, j| !(8..16).contains(&i) || !(6..12).contains(&j))) - 24.0 / (552.0 + 24.0)).abs() < 1e-12);
        assert!(occupied(&sheet(|i, j| !(8..16).contains(&i) || !(6..12).contains(&j))));
    }
}
