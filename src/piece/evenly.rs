//! What is off in several seams shared out among their edges: the least change of all of them that makes every seam true, by least squares
//! (the minimum-norm solution; Penrose 1955). An edge that is sewn in two seams, as that of half a piece is, changes once for both.

use nalgebra::{DMatrix, DVector};

/// What is left in a seam after it was shared, mm: beyond it the seams contradict one another.
const LEFT: f64 = 0.01;
/// Changes are told to this, mm: what lies beyond is arithmetic's own noise.
const ROUNDED: f64 = 1.0 / 1_048_576.0;
/// Singular values below this are none.
const NONE: f64 = 1e-9;

/// One seam: its two edges by number, each with how often it is sewn there, and by how much the first is to become longer than the second, mm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Wanted {
    pub edges: [(usize, f64); 2],
    pub by: f64,
}

/// How much longer each of so many edges becomes, mm; nothing where no lengths make all seams true.
pub(super) fn evenly(edges: usize, seams: &[Wanted]) -> Option<Vec<f64>> {
    // Each seam's two sides count by what they give in that seam.
    let mut weight = vec![0.0; edges];
    seams.iter().flat_map(|s| s.edges).for_each(|(k, times)| weight[k] += times * times);
    let scale: Vec<f64> = weight.iter().map(|w: &f64| if *w > 0.0 { w.sqrt() } else { 1.0 }).collect();
    let mut matrix = DMatrix::<f64>::zeros(seams.len(), edges);
    for (row, s) in seams.iter().enumerate() {
        let [(a, p), (b, q)] = s.edges;
        matrix[(row, a)] += p / scale[a];
        matrix[(row, b)] -= q / scale[b];
    }
    let wanted = DVector::from_iterator(seams.len(), seams.iter().map(|s| s.by));
    let found = matrix.clone().svd(true, true).solve(&wanted, NONE).ok()?;
    let rounded = |x: f64| (x / ROUNDED).round() * ROUNDED;
    ((matrix * &found - wanted).amax() <= LEFT).then(|| found.iter().zip(&scale).map(|(y, s)| rounded(y / s)).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn seam(a: usize, b: usize, by: f64) -> Wanted {
        Wanted { edges: [(a, 1.0), (b, 1.0)], by }
    }

    #[test]
    fn two_edges_give_half_each() {
        let found = evenly(2, &[seam(0, 1, -4.0)]).expect("shared");
        assert!((found[0] + 2.0).abs() < 1e-9 && (found[1] - 2.0).abs() < 1e-9, "{found:?}");
    }

    /// A half (0) sewn to a left (1) and a right edge (2): it gives half of the mean of what is off, the others the rest.
    #[test]
    fn an_edge_in_two_seams_changes_once() {
        let found = evenly(3, &[seam(0, 1, -4.0), seam(0, 2, -2.0)]).expect("shared");
        assert!((found[0] + 1.5).abs() < 1e-9 && (found[1] - 2.5).abs() < 1e-9 && (found[2] - 0.5).abs() < 1e-9, "{found:?}");
    }

    /// Sewn twice, an edge at the fold gives a quarter of what is off, its other half another, the collar half.
    #[test]
    fn an_edge_at_the_fold_gives_with_both_halves() {
        let found = evenly(2, &[Wanted { edges: [(0, 2.0), (1, 1.0)], by: 4.0 }]).expect("shared");
        assert!((found[0] - 1.0).abs() < 1e-9 && (found[1] + 2.0).abs() < 1e-9, "{found:?}");
    }

    #[test]
    fn seams_that_contradict_one_another_are_not_shared() {
        assert_eq!(evenly(2, &[seam(0, 1, 4.0), seam(0, 1, 1.0)]), None);
        assert_eq!(evenly(1, &[seam(0, 0, 1.0)]), None);
    }
}
