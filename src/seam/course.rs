//! The best course through a table of costs when every turn has its price: edges of garments are smooth between a few
//! corners, so that a way round a letter or the square of a check, four turns, must be worth them.
//!
//! Straight legs of a few columns are joined at knots; a state is a knot's row and the leg that led there (a second-order
//! chain; Amini, Weymouth & Jain 1990 search snakes so). Turns are measured in the sheet, the guide's own bend taken
//! in, so that a winding guide neither hides nor makes any. A turn costs in proportion up to that of a corner, and no more: the least over
//! all legs before is then a lower envelope of equal cones, found in two passes over them (Felzenszwalb & Huttenlocher 2012).

use std::f64::consts::PI;
use std::ops::Range;

/// Columns a leg.
const LEG: usize = 4;
/// The steepest leg, rows up or down: about 55 degrees at cells half as high as wide.
const STEEP: i32 = 12;
const SLOPES: usize = 2 * STEEP as usize + 1;

/// What turning costs.
#[derive(Clone, Copy, Debug)]
pub(super) struct Turns {
    /// Price of a radian.
    pub radian: f32,
    /// No turn costs more.
    pub most: f32,
}

/// A table of costs along a guide.
pub(super) struct Field<'a> {
    /// Column by column.
    pub cost: &'a [f32],
    /// Values in a column.
    pub rows: usize,
    /// Height of a row over width of a column.
    pub slant: f64,
    /// Direction of the guide at each column, radians.
    pub heading: &'a [f64],
    /// Whether the last column joins the first.
    pub closed: bool,
}

/// For each column the row of the cheapest course, between rows.
pub(super) fn best_course(field: &Field<'_>, turns: Turns) -> Vec<f64> {
    let columns = field.cost.len() / field.rows.max(1);
    if columns < 3 * LEG {
        return vec![(field.rows / 2) as f64; columns];
    }
    let knots: Vec<usize> = field.knots(0);
    let free = field.walk(&knots, turns, None);
    if !field.closed {
        return field.spread(&knots, &free);
    }
    // Closed through the plainest knot of the free round, its row held.
    let plain = (knots.len() / 4..3 * knots.len() / 4)
        .max_by(|a, b| field.lead(knots[*a], free[*a]).total_cmp(&field.lead(knots[*b], free[*b])).then(b.cmp(a)))
        .unwrap_or(knots.len() / 2);
    let (start, row) = (knots[plain], free[plain]);
    let knots = field.knots(start);
    let held = field.walk(&knots, turns, Some(row));
    field.spread(&knots, &held)
}

impl Field<'_> {
    fn columns(&self) -> usize {
        self.cost.len() / self.rows
    }

    /// Columns of the knots from `start`, counted on past the join; a closed course ends where it starts.
    fn knots(&self, start: usize) -> Vec<usize> {
        let n = self.columns();
        let length = if self.closed { n } else { n - 1 };
        let legs = (length / LEG).max(1);
        (0..=legs).map(|k| start + k * length / legs).collect()
    }

    /// How much dearer the best distant row is.
    fn lead(&self, column: usize, row: usize) -> f32 {
        let column = &self.cost[column % self.columns() * self.rows..][..self.rows];
        let rival = (0..self.rows).filter(|r| r.abs_diff(row) > 3).map(|r| column[r]).fold(f32::INFINITY, f32::min);
        rival - column[row]
    }

    /// Direction of the guide from one knot to the next.
    fn direction(&self, from: usize, to: usize) -> f64 {
        let n = self.columns();
        let (mut sum, first) = (0.0, self.heading[from % n]);
        for c in from..to {
            sum += turned(self.heading[c % n] - first);
        }
        first + sum / (to - from).max(1) as f64
    }

    /// Cost of the leg that leaves row `r` of knot `from` for each row, by slope: added to `out`, rows of the arrival.
    fn leg(&self, from: usize, to: usize, slope: i32, out: &mut [f32]) {
        let (n, rows, length) = (self.columns(), self.rows as i32, to - from);
        for c in 0..length {
            let column = &self.cost[(from + c + 1) % n * self.rows..][..self.rows];
            // Seen from the arrival, a column lies so many rows back.
            let back = (f64::from(slope) * (length - c - 1) as f64 / length as f64).round() as i32;
            let (low, high) = ((back).max(0), (rows + back).min(rows));
            if low < high {
                let seen = &column[(low - back) as usize..(high - back) as usize];
                out[low as usize..high as usize].iter_mut().zip(seen).for_each(|(o, v)| *o += v);
            }
        }
    }

    /// The rows at which a leg of this slope arrives that left from a row of the table.
    fn arrivals(&self, slope: i32) -> Range<usize> {
        let rows = self.rows as i32;
        slope.clamp(0, rows) as usize..(rows + slope).clamp(0, rows) as usize
    }

    /// What is needed to price turns at a knot: how much the guide itself turns there, and what slopes before and after it lean.
    fn turn<'l>(&self, knots: &[usize], k: usize, leans: &'l Leans) -> Turn<'l> {
        let bend = turned(self.direction(knots[k], knots[k + 1]) - self.direction(knots[k - 1], knots[k]));
        Turn { bend, before: leans.of(knots[k] - knots[k - 1]), after: leans.of(knots[k + 1] - knots[k]) }
    }

    /// Rows of the knots of the best course; `held` fixes the row of the first and the last.
    fn walk(&self, knots: &[usize], turns: Turns, held: Option<usize>) -> Vec<usize> {
        let rows = self.rows;
        let size = SLOPES * rows;
        let mut total = vec![f32::INFINITY; knots.len() * size];
        let start: Vec<f32> = (0..rows).map(|r| if held.is_some_and(|h| h != r) { f32::INFINITY } else { 0.0 }).collect();
        let mut legs = vec![0f32; rows];
        let mut best = vec![0f32; size];
        let leans = Leans::new(self.slant, knots);
        for k in 1..knots.len() {
            let (before, after) = total.split_at_mut(k * size);
            let before = &before[(k - 1) * size..];
            if k > 1 {
                self.turn(knots, k - 1, &leans).cheapest(&before[..size], turns, &mut best);
            } else {
                best.chunks_exact_mut(rows).for_each(|best| best.copy_from_slice(&start));
            }
            for (to, best) in best.chunks_exact(rows).enumerate() {
                let slope = to as i32 - STEEP;
                legs.fill(0.0);
                self.leg(knots[k - 1], knots[k], slope, &mut legs);
                let arrivals = self.arrivals(slope);
                let left = arrivals.start.saturating_add_signed(-slope as isize).min(rows);
                let out = &mut after[to * rows..][..rows][arrivals.clone()];
                out.iter_mut().zip(&best[left..]).zip(&legs[arrivals]).for_each(|((out, best), leg)| *out = best + leg);
            }
        }
        self.back(knots, (turns, &leans), &total, held)
    }

    /// The course that led to the cheapest end.
    fn back(&self, knots: &[usize], (turns, leans): (Turns, &Leans), total: &[f32], held: Option<usize>) -> Vec<usize> {
        let (rows, last) = (self.rows, knots.len() - 1);
        let size = SLOPES * rows;
        let end = |v: &(usize, usize)| total[last * size + v.0 * rows + v.1];
        let ends = (0..SLOPES).flat_map(|s| (0..rows).map(move |r| (s, r))).filter(|v| held.is_none_or(|h| h == v.1));
        let (mut slope, mut row) = ends.min_by(|a, b| end(a).total_cmp(&end(b))).unwrap_or((STEEP as usize, rows / 2));
        let mut out = vec![row; knots.len()];
        for k in (1..=last).rev() {
            row = (row as i32 - (slope as i32 - STEEP)).clamp(0, rows as i32 - 1) as usize;
            out[k - 1] = row;
            if k > 1 {
                let prices = self.turn(knots, k - 1, leans).prices(slope, turns);
                let cost = |s: usize| total[(k - 1) * size + s * rows + row] + prices[s];
                slope = (0..SLOPES).min_by(|a, b| cost(*a).total_cmp(&cost(*b))).unwrap_or(slope);
            }
        }
        out
    }

    /// Rows of all columns from those of the knots.
    fn spread(&self, knots: &[usize], rows: &[usize]) -> Vec<f64> {
        let n = self.columns();
        let mut out = vec![0.0; n];
        for (k, pair) in knots.windows(2).enumerate() {
            for c in pair[0]..=pair[1] {
                let t = (c - pair[0]) as f64 / (pair[1] - pair[0]).max(1) as f64;
                out[c % n] = rows[k] as f64 * (1.0 - t) + rows[k + 1] as f64 * t;
            }
        }
        out
    }
}

/// By how much each slope leans against the guide, radians, for each length of leg there is.
struct Leans {
    shortest: usize,
    by_length: Vec<[f64; SLOPES]>,
}

impl Leans {
    fn new(slant: f64, knots: &[usize]) -> Self {
        let lengths = || knots.windows(2).map(|k| k[1] - k[0]);
        let (shortest, longest) = (lengths().min().unwrap_or(LEG), lengths().max().unwrap_or(LEG));
        let lean = |length: usize, s: usize| ((s as i32 - STEEP) as f64 * slant / length as f64).atan();
        Self { shortest, by_length: (shortest..=longest).map(|length| std::array::from_fn(|s| lean(length, s))).collect() }
    }

    fn of(&self, length: usize) -> &[f64; SLOPES] {
        &self.by_length[length - self.shortest]
    }
}

/// A knot at which a course may turn.
struct Turn<'l> {
    /// Turn of the guide itself, radians.
    bend: f64,
    before: &'l [f64; SLOPES],
    after: &'l [f64; SLOPES],
}

impl Turn<'_> {
    /// What it costs to go on with slope `to` after each.
    fn prices(&self, to: usize, turns: Turns) -> [f32; SLOPES] {
        // Rows grow to the left of the walk, headings to the right.
        let bend = self.bend - self.after[to];
        self.before.map(|before| ((bend + before).abs() as f32 * turns.radian).min(turns.most))
    }
}

/// Rows taken together: the compiler takes them side by side.
const TOGETHER: usize = 16;

/// Costs of some rows.
type Rows = [f32; TOGETHER];

/// The lesser of two costs, row by row; no cost is not a number.
#[inline]
fn lesser(a: &mut Rows, b: &Rows, more: f32) {
    a.iter_mut().zip(b).for_each(|(a, b)| {
        let b = b + more;
        *a = if b < *a { b } else { *a }
    });
}

impl Turn<'_> {
    /// For each slope and row the least of what it costs with any slope before and of going on from there. `before` holds the rows slope by
    /// slope, and so does `best`.
    fn cheapest(&self, before: &[f32], turns: Turns, best: &mut [f32]) {
        let rows = best.len() / SLOPES;
        // Slopes grow, and so do the angles they lean by. Which is the first before that turns the other way is the same for all rows.
        let angle = self.before.map(|v| v as f32 * turns.radian);
        let wanted = self.after.map(|v| (v - self.bend) as f32 * turns.radian);
        let split = wanted.map(|w| angle.partition_point(|a| *a < w));
        for first in (0..rows).step_by(TOGETHER) {
            // The last few are gone through together with some before them.
            let (first, count) = (first.min(rows.saturating_sub(TOGETHER)), TOGETHER.min(rows));
            let mut from = [[f32::INFINITY; TOGETHER]; SLOPES];
            from.iter_mut().enumerate().for_each(|(s, from)| from[..count].copy_from_slice(&before[s * rows + first..][..count]));
            // The least with a slope before of those up to each, and of those from each on; the least of all.
            let (mut below, mut above) = ([[f32::INFINITY; TOGETHER]; SLOPES + 1], [[f32::INFINITY; TOGETHER]; SLOPES + 1]);
            for s in 0..SLOPES {
                below[s + 1] = below[s];
                lesser(&mut below[s + 1], &from[s], -angle[s]);
                above[SLOPES - 1 - s] = above[SLOPES - s];
                lesser(&mut above[SLOPES - 1 - s], &from[SLOPES - 1 - s], angle[SLOPES - 1 - s]);
            }
            let mut any = [f32::INFINITY; TOGETHER];
            from.iter().for_each(|from| lesser(&mut any, from, 0.0));
            for (to, best) in best.chunks_exact_mut(rows).enumerate() {
                let mut least = [f32::INFINITY; TOGETHER];
                lesser(&mut least, &any, turns.most);
                lesser(&mut least, &below[split[to]], wanted[to]);
                lesser(&mut least, &above[split[to]], -wanted[to]);
                best[first..][..count].copy_from_slice(&least[..count]);
            }
        }
    }
}

/// An angle between minus and plus half a turn.
fn turned(angle: f64) -> f64 {
    (angle + PI).rem_euclid(2.0 * PI) - PI
}

#[cfg(test)]
mod tests {
    use super::*;

    const TURNS: Turns = Turns { radian: 8.0, most: 6.0 };

    fn course(rows: usize, heading: &[f64], closed: bool, cost: impl Fn(usize, usize) -> f32) -> Vec<f64> {
        let cost: Vec<f32> =
            heading.iter().enumerate().flat_map(|(c, _)| (0..rows).map(move |r| (c, r))).map(|(c, r)| cost(c, r)).collect();
        best_course(&Field { cost: &cost, rows, slant: 0.5, heading, closed }, TURNS)
    }

    /// By the definition: the least over all slopes before.
    #[test]
    fn the_envelope_is_the_least_over_all_slopes() {
        for rows in [7, 16, 41] {
            let leans = Leans::new(0.5, &[0, 4, 9]);
            let turn = Turn { bend: 0.3, before: leans.of(4), after: leans.of(5) };
            let before: Vec<f32> =
                (0..SLOPES * rows).map(|k| if k % 13 == 5 { f32::INFINITY } else { (k * 7919 % 101) as f32 * 0.2 }).collect();
            let mut best = vec![0f32; SLOPES * rows];
            turn.cheapest(&before, TURNS, &mut best);
            for (k, best) in best.iter().enumerate() {
                let prices = turn.prices(k / rows, TURNS);
                let least = (0..SLOPES).map(|s| before[s * rows + k % rows] + prices[s]).fold(f32::INFINITY, f32::min);
                assert!((best - least).abs() < 1e-4, "{k}: {best} {least}");
            }
        }
    }

    #[test]
    fn a_detour_must_be_worth_its_turns() {
        let heading = vec![0.0; 120];
        // A faint straight line, and a way round over 20 columns that is a little cheaper.
        let low = |gain: f32| {
            course(40, &heading, false, move |c, r| match (c, r) {
                (50..70, 30) => -gain,
                (_, 20) => -1.0,
                _ => 0.0,
            })
        };
        assert!(low(1.5).iter().all(|r| (r - 20.0).abs() < 0.6));
        assert!(low(4.0)[60] > 29.0);
    }

    #[test]
    fn a_ring_closes_and_a_bent_guide_costs_nothing() {
        let n = 200;
        let heading: Vec<f64> = (0..n).map(|c| c as f64 * 2.0 * PI / n as f64).collect();
        let path = course(30, &heading, true, |_, r| if r == 12 { -1.0 } else { 0.0 });
        assert!(path.iter().all(|r| *r == 12.0), "{path:?}");
    }

    #[test]
    fn a_corner_cut_off_by_the_guide_is_gone_round() {
        // Level, then down to the right at 45 degrees over the guide's chamfer: rows rise along it to a single peak.
        let heading = vec![0.0; 160];
        let peak = |c: usize| 10 + (30i32 - (c as i32 - 80).abs()).max(0) as usize / 2;
        let path = course(40, &heading, false, |c, r| if r == peak(c) { -1.0 } else { 0.0 });
        assert!((path[80] - 25.0).abs() < 1.6 && (path[30] - 10.0).abs() < 0.6, "{path:?}");
    }
}
