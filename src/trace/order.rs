//! Places of a line in the order in which one comes by them.

use crate::length::Mm;

/// Places told in an order whose way is so many times the shortest are taken in that of the shortest: a seam winds, but does not run to and fro.
const TO_AND_FRO: f64 = 1.15;
/// More places than this between the ends are believed as they are told.
const MOST: usize = 12;

/// The order of places along a line from the first to the last of them: as told, or that of the shortest way where the told one runs to
/// and fro (the shortest way through all by subsets: Held & Karp 1962).
pub(super) fn in_order(at: &[Mm]) -> Vec<usize> {
    let told: Vec<usize> = (0..at.len()).collect();
    let between = at.len().saturating_sub(2);
    if !(2..=MOST).contains(&between) {
        return told;
    }
    let length = |order: &[usize]| order.windows(2).map(|w| at[w[0]].distance(at[w[1]])).sum::<f64>();
    let shortest = shortest(at, between);
    if length(&told) > TO_AND_FRO * length(&shortest) { shortest } else { told }
}

/// The shortest way from the first place to the last by all `between` them.
fn shortest(at: &[Mm], between: usize) -> Vec<usize> {
    let sets = 1usize << between;
    let step = |a: usize, b: usize| at[a].distance(at[b]);
    // For each set of places come by and the last of them: the shortest way there, and the one before.
    let mut ways = vec![(f64::INFINITY, 0usize); sets * between];
    (0..between).for_each(|k| ways[(1 << k) * between + k] = (step(0, k + 1), k));
    for set in 1..sets {
        for last in (0..between).filter(|k| set & (1 << k) != 0) {
            let so_far = ways[set * between + last].0;
            for next in (0..between).filter(|k| set & (1 << k) == 0) {
                let way = &mut ways[(set | 1 << next) * between + next];
                let length = so_far + step(last + 1, next + 1);
                if length < way.0 {
                    *way = (length, last);
                }
            }
        }
    }
    let home = |k: usize| ways[(sets - 1) * between + k].0 + step(k + 1, between + 1);
    let mut last = (0..between).min_by(|a, b| home(*a).total_cmp(&home(*b))).unwrap_or_default();
    let (mut set, mut order) = (sets - 1, vec![between + 1]);
    while set != 0 {
        order.push(last + 1);
        let before = ways[set * between + last].1;
        (set, last) = (set & !(1 << last), before);
    }
    order.push(0);
    order.reverse();
    order
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn places_told_to_and_fro_are_put_in_order() {
        // A neckline: from shoulder to shoulder by five places.
        let arc: Vec<Mm> =
            (0..7).map(|k| (f64::from(k) * std::f64::consts::PI / 6.0).sin_cos()).map(|(s, c)| Mm::new(-90.0 * c, 80.0 * s)).collect();
        assert_eq!(in_order(&arc), [0, 1, 2, 3, 4, 5, 6]);
        let mixed: Vec<Mm> = [0, 4, 2, 5, 1, 3, 6].map(|k| arc[k]).to_vec();
        assert_eq!(in_order(&mixed).into_iter().map(|k| mixed[k]).collect::<Vec<_>>(), arc);
        assert_eq!(in_order(&arc[..2]), [0, 1]);
        assert_eq!(in_order(&[]), [0usize; 0]);
    }

    #[test]
    fn a_winding_seam_stays_as_told() {
        let winding: Vec<Mm> = [(0.0, 0.0), (60.0, 20.0), (10.0, 50.0), (70.0, 80.0), (0.0, 110.0)].map(|(x, y)| Mm::new(x, y)).to_vec();
        assert_eq!(in_order(&winding), [0, 1, 2, 3, 4]);
    }
}
