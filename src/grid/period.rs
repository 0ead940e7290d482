//! Which lines of a ruling are heavier: every n-th, and of those perhaps every m-th again.

use super::looks::ALIKE;
use std::collections::BTreeMap;

/// Logarithm of the ink of lines (width times depth) by their number.
pub(super) type Inks = BTreeMap<i32, f64>;

/// Most fine squares that make a heavy one: inches of twelfths and sixteenths.
const MOST: u32 = 16;
/// Fewest heavy lines along both axes together that show a period, and of an axis that says anything.
const FEWEST: usize = 4;
const FEWEST_EACH: usize = 2;
/// Share of the lines that must be as heavy, or as fine, as the period would have them.
const SHARE: f64 = 0.8;

/// How many squares make a heavier one, and how many of these a still heavier one; the finest first.
pub(super) fn chain(inks: &[Inks; 2]) -> Vec<u32> {
    let mut inks = inks.clone();
    let mut chain = Vec::new();
    while let Some((n, firsts)) = (2..=MOST).find_map(|n| Some((n, both(&inks, n)?))) {
        chain.push(n);
        for (inks, first) in inks.iter_mut().zip(firsts) {
            let heavy = |k: i32| first.filter(|first| (k - first).rem_euclid(n as i32) == 0).map(|first| (k - first) / n as i32);
            *inks = inks.iter().filter_map(|(&k, &ink)| Some((heavy(k)?, ink))).collect();
        }
    }
    chain
}

/// The first heavy line of both axes, when every n-th is heavier; of an axis with too few lines to tell, none.
fn both(inks: &[Inks; 2], n: u32) -> Option<[Option<i32>; 2]> {
    let firsts = [0, 1].map(|axis| phase(&inks[axis], n));
    let heavy = |axis: usize| firsts[axis].map_or(0, |first| inks[axis].keys().filter(|k| (*k - first).rem_euclid(n as i32) == 0).count());
    let open = |axis: usize| firsts[axis].is_some() || inks[axis].len() < (2 * n) as usize;
    (open(0) && open(1) && heavy(0) + heavy(1) >= FEWEST).then_some(firsts)
}

/// The first line (0 to n - 1) of those along one axis of which every n-th is heavier than its neighbours and the others are alike.
pub(super) fn phase(inks: &Inks, n: u32) -> Option<i32> {
    let every = n as i32;
    (0..every).find(|first| {
        let heavy = |k: i32| (k - first).rem_euclid(every) == 0;
        // The nearest fine lines to either side: the picture may be softer at one end.
        let over = |k: i32, ink: f64| {
            let below = inks.range(k - every..k).rev().find(|l| !heavy(*l.0)).map(|l| *l.1);
            let above = inks.range(k + 1..=k + every).find(|l| !heavy(*l.0)).map(|l| *l.1);
            let beside = match (below, above) {
                (Some(a), Some(b)) => 0.5 * (a + b),
                (a, b) => a.or(b)?,
            };
            Some(ink - beside)
        };
        let of = |wanted: bool| inks.iter().filter(|l| heavy(*l.0) == wanted).filter_map(|(&k, &ink)| over(k, ink)).collect::<Vec<f64>>();
        let (strong, fine) = (of(true), of(false));
        let share = |all: &[f64], good: &dyn Fn(f64) -> bool| all.iter().filter(|d| good(**d)).count() as f64 >= SHARE * all.len() as f64;
        strong.len() >= FEWEST_EACH
            && fine.len() >= strong.len().min(FEWEST)
            && share(&strong, &|d| d > ALIKE)
            && share(&fine, &|d| d < ALIKE)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn inks(from: i32, to: i32, ink: impl Fn(i32) -> f64) -> Inks {
        // Scatter of a tenth, paler towards one end.
        (from..to).map(|k| (k, ink(k) + 0.1 * f64::from(k * 7 % 5 - 2) / 2.0 + 0.02 * f64::from(k))).collect()
    }

    #[test]
    fn heavier_lines_are_counted() {
        for n in [2, 4, 5, 8, 10] {
            let heavy = |k: i32| if (k - 1) % n == 0 { 0.7 } else { 0.0 };
            let both = [inks(-20, 25, heavy), inks(-11, 12, heavy)];
            assert_eq!(chain(&both), [n as u32], "every {n}");
            assert_eq!(phase(&both[0], n as u32), Some(1));
        }
        let three = |k: i32| if k % 10 == 0 { 1.6 } else { f64::from(u8::from(k % 5 == 0)) * 0.8 };
        assert_eq!(chain(&[inks(-33, 34, three), inks(-33, 34, three)]), [5, 2]);
    }

    #[test]
    fn lines_that_are_alike_have_no_period() {
        assert!(chain(&[inks(-20, 25, |_| 0.0), inks(-20, 25, |_| 0.0)]).is_empty());
        // One odd line here and there is none either.
        let odd = |k: i32| if k == 3 || k == 7 { 0.8 } else { 0.0 };
        assert!(chain(&[inks(-20, 25, odd), inks(-20, 25, |_| 0.0)]).is_empty());
    }
}
