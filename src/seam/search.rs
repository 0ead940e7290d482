//! The best path through a table of costs: one row a column, neighbouring columns bound by a price for moving.
//!
//! Open paths by dynamic programming (Bellman); closed ones by the classical two rounds: the middle column of a free
//! round is taken as fixed and the loop is closed through it, which is the best closed path whenever that column is
//! plain (Appleton & Talbot 2005 give the exact search).

/// What moving between neighbouring columns costs.
#[derive(Clone, Copy, Debug)]
pub(super) struct Moves {
    /// Farthest move, rows a column.
    pub most: usize,
    /// Price per row moved.
    pub price: f32,
    /// Height of a row over width of a column where cells are charged by the length of path through them, else 0.
    pub slant: f32,
}

/// For each column of `cost` (`rows` values each) the row of the cheapest path.
///
/// # Panics
/// When `cost` does not hold whole columns.
pub(super) fn best_path(cost: &[f32], rows: usize, closed: bool, moves: Moves) -> Vec<usize> {
    assert_eq!(cost.len() % rows.max(1), 0, "whole columns");
    let columns = cost.len() / rows.max(1);
    if columns == 0 {
        return Vec::new();
    }
    let free = walk(cost, rows, moves, None);
    if !closed || columns < 3 {
        return free;
    }
    // Turn the ring so that it starts at the plainest column of the free round, and hold its row there.
    let plain = plainest(cost, rows, &free);
    let mut turned = Vec::with_capacity(cost.len() + rows);
    turned.extend_from_slice(&cost[plain * rows..]);
    turned.extend_from_slice(&cost[..plain * rows]);
    turned.extend_from_slice(&cost[plain * rows..][..rows]);
    let path = walk(&turned, rows, moves, Some(free[plain]));
    (0..columns).map(|k| path[(k + columns - plain) % columns]).collect()
}

/// The column in the middle half of the round where the path is cheaper than every distant row by most.
fn plainest(cost: &[f32], rows: usize, path: &[usize]) -> usize {
    let columns = path.len();
    let lead = |k: usize| {
        let column = &cost[k * rows..][..rows];
        let rival = (0..rows).filter(|r| r.abs_diff(path[k]) > 3).map(|r| column[r]).fold(f32::INFINITY, f32::min);
        rival - column[path[k]]
    };
    (columns / 4..columns.div_ceil(4) * 3)
        .filter(|k| *k < columns)
        .max_by(|a, b| lead(*a).total_cmp(&lead(*b)).then(b.cmp(a)))
        .unwrap_or(columns / 2)
}

/// One round; `held` fixes the row of the first and the last column.
fn walk(cost: &[f32], rows: usize, moves: Moves, held: Option<usize>) -> Vec<usize> {
    let columns = cost.len() / rows;
    let barred = |r: usize| held.is_some_and(|h| h != r);
    let mut total: Vec<f32> = (0..rows).map(|r| if barred(r) { f32::INFINITY } else { cost[r] }).collect();
    let mut from = vec![0i8; cost.len()];
    let mut next = vec![0f32; rows];
    let most = moves.most.min(100) as isize;
    let length: Vec<f32> = (0..=most).map(|d| (1.0 + (moves.slant * d as f32).powi(2)).sqrt()).collect();
    for c in 1..columns {
        for r in 0..rows {
            let own = cost[c * rows + r];
            let (mut best, mut step) = (total[r] + own, 0isize);
            for d in 1..=most {
                for s in [-d, d] {
                    let q = r as isize + s;
                    if q < 0 || q >= rows as isize {
                        continue;
                    }
                    let t = total[q as usize] + moves.price * d as f32 + own * length[d as usize];
                    if t < best {
                        (best, step) = (t, s);
                    }
                }
            }
            next[r] = best;
            from[c * rows + r] = step as i8;
        }
        std::mem::swap(&mut total, &mut next);
    }
    let mut row = held.unwrap_or_else(|| (0..rows).min_by(|a, b| total[*a].total_cmp(&total[*b]).then(a.cmp(b))).unwrap_or(0));
    let mut path = vec![row; columns];
    for c in (1..columns).rev() {
        row = (row as isize + from[c * rows + row] as isize) as usize;
        path[c - 1] = row;
    }
    path
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ring(columns: usize, rows: usize, low: impl Fn(usize) -> usize) -> Vec<f32> {
        (0..columns * rows).map(|k| if k % rows == low(k / rows) { 0.0 } else { 1.0 }).collect()
    }

    #[test]
    fn follows_the_cheap_cells_round_the_ring() {
        let low = |c: usize| (10.0 + 4.0 * (c as f64 * std::f64::consts::TAU / 60.0).sin()).round() as usize;
        let path = best_path(&ring(60, 20, low), 20, true, Moves { most: 2, price: 0.1, slant: 0.0 });
        assert_eq!(path, (0..60).map(low).collect::<Vec<_>>());
    }

    #[test]
    fn a_closed_path_meets_itself() {
        // A spiral that would gain by ending five rows away from where it began.
        let low = |c: usize| 5 + c / 12;
        let path = best_path(&ring(60, 20, low), 20, true, Moves { most: 1, price: 0.05, slant: 0.0 });
        assert!(path[0].abs_diff(path[59]) <= 1);
        assert!(path.windows(2).all(|w| w[0].abs_diff(w[1]) <= 1));
        let open = best_path(&ring(60, 20, low), 20, false, Moves { most: 1, price: 0.05, slant: 0.0 });
        assert_eq!((open[0], open[59]), (5, 9));
    }

    #[test]
    fn the_price_of_moving_keeps_it_from_a_short_bargain() {
        let mut cost = ring(30, 9, |_| 4);
        for c in 14..16 {
            cost[c * 9 + 4] = 1.0;
            cost[c * 9 + 8] = 0.0;
        }
        assert_eq!(best_path(&cost, 9, false, Moves { most: 4, price: 0.5, slant: 0.0 }), vec![4; 30]);
    }
}
