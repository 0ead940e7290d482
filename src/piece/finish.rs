//! How the cut lines of neighbouring edges are joined.
//!
//! What is called lengthened, squared and mirrored here is common practice of the trade, no source.

use super::allowance::{Allowance, AllowanceError, Finish, KINK, angle, ending, outward, starting};
use super::crossing::{Crossing, crossings};
use super::layer::{Edge, Line as Seen};
use super::walk::direction;
use kurbo::{Affine, Line, ParamCurve, PathSeg, Point};

/// Cut lines meet at most this many allowances from the corner; a sharper point is cut off blunt. Three leave corners down to
/// 39° pointed: a collar's stay, a dart's end does not run on for ever. Common practice, no source.
const LONGEST: f64 = 3.0;
/// Below this turn two unequal allowances are joined by a step across, radians (12°): lengthened they would meet far away.
const SLIGHT: f64 = 0.21;

/// Below this turn a seam's edges that don't cross near the corner are left apart, radians (35°): who asked leads them together.
const SLIGHT_SEAM: f64 = 0.61;

/// Seams may always be lengthened by this to where they cross, mm.
const SEAM_REACH: f64 = 6.0;

/// How neighbours meet.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Meet {
    /// As cut lines do: lengthened, far points cut off blunt, a step across at a slight corner.
    Pointed,
    /// As seams do: where they cross. At a slight corner where they don't, they are left apart.
    Crossing,
}

impl Meet {
    /// How far from the corner neighbours of these allowances may meet, mm.
    fn reach(self, widest: f64) -> f64 {
        match self {
            Self::Pointed => LONGEST * widest,
            Self::Crossing => (LONGEST * widest).max(SEAM_REACH),
        }
    }
}

/// A stretch of an edge without kinks, with its cut line.
pub(super) struct Run {
    pub edge: usize,
    pub allowance: Allowance,
    stitch: Vec<PathSeg>,
    /// The cut line between straight lengthenings at both ends.
    cut: Vec<PathSeg>,
    from: (usize, f64),
    to: (usize, f64),
    /// What joins it to the next run.
    pub after: Vec<PathSeg>,
}

impl Run {
    pub fn new(edge: usize, allowance: Allowance, stitch: Vec<PathSeg>, cut: Vec<PathSeg>) -> Self {
        let n = cut.len();
        Self { edge, allowance, stitch, cut, from: (0, 0.0), to: (n.saturating_sub(1), 1.0), after: Vec::new() }
    }

    fn start(&self) -> Point {
        self.stitch.first().map_or(Point::ZERO, ParamCurve::start)
    }

    /// Puts straight stretches before and after.
    fn lengthen(&mut self, by: f64) {
        let (Some(first), Some(last)) = (self.cut.first(), self.cut.last()) else { return };
        let (a, b) = (first.start(), last.end());
        // The stitch line's own directions: those of an offset curve can turn about where it is too tight.
        let back = a - direction(&self.stitch[0], 0.0) * by;
        let on = b + direction(&self.stitch[self.stitch.len() - 1], 1.0) * by;
        self.cut.insert(0, PathSeg::Line(Line::new(back, a)));
        self.cut.push(PathSeg::Line(Line::new(b, on)));
        self.whole();
    }

    /// All of it, without the lengthenings.
    fn whole(&mut self) {
        (self.from, self.to) = ((1, 0.0), (self.cut.len() - 2, 1.0));
        self.after.clear();
    }

    /// What is left of the cut line, each segment with whether it is a lengthening.
    pub fn kept(&self) -> Vec<(bool, PathSeg)> {
        let Some(last) = self.cut.len().checked_sub(1) else { return Vec::new() };
        let mut out = Vec::new();
        for k in self.from.0..=self.to.0.min(last) {
            let a = if k == self.from.0 { self.from.1 } else { 0.0 };
            let b = if k == self.to.0 { self.to.1 } else { 1.0 };
            if b - a > 1e-12 {
                out.push((k == 0 || k == last, self.cut[k].subsegment(a..b)));
            }
        }
        out
    }

    /// In halves, so that its end can be joined to its own start.
    fn halves(self) -> [Self; 2] {
        let split = |all: &[PathSeg]| -> [Vec<PathSeg>; 2] {
            let middle = all.len() / 2;
            if all.len().is_multiple_of(2) {
                return [all[..middle].to_vec(), all[middle..].to_vec()];
            }
            let (a, b) = all[middle].subdivide();
            [all[..middle].iter().copied().chain([a]).collect(), [b].into_iter().chain(all[middle + 1..].iter().copied()).collect()]
        };
        let ([s0, s1], [c0, c1]) = (split(&self.stitch), split(&self.cut));
        [Self::new(self.edge, self.allowance, s0, c0), Self::new(self.edge, self.allowance, s1, c1)]
    }
}

/// Joins all runs round the piece. Those of `gives` are lost where their neighbours' cut lines meet before them.
pub(super) fn join(runs: &mut Vec<Run>, edges: &[Edge], meet: Meet, gives: &[usize]) -> Result<(), AllowanceError> {
    if runs.len() == 1
        && turn(&runs[0], &runs[0]).abs() > KINK
        && let Some(only) = runs.pop()
    {
        runs.extend(only.halves());
    }
    let widest = runs.iter().map(|r| r.allowance.width.abs()).fold(0.0, f64::max);
    if let Some(gone) = runs.iter().find(|r| r.cut.is_empty()) {
        return Err(AllowanceError::TooShort { edge: edges[gone.edge].name.clone() });
    }
    runs.iter_mut().for_each(|r| r.lengthen(meet.reach(widest) + 1.0));
    loop {
        let lost = match joined(runs, edges, meet) {
            Ok(()) => return Ok(()),
            Err(lost) => lost,
        };
        match lost.iter().find(|&&i| gives.contains(&runs[i].edge) && runs.len() > 2) {
            Some(&i) => drop(runs.remove(i)),
            None => return Err(AllowanceError::TooShort { edge: edges[runs[lost[0]].edge].name.clone() }),
        }
    }
}

/// Joins every run to the next; those of which nothing is left where that can't be, the one or the other of two that do not meet.
fn joined(runs: &mut [Run], edges: &[Edge], meet: Meet) -> Result<(), Vec<usize>> {
    let n = runs.len();
    runs.iter_mut().for_each(Run::whole);
    for i in 0..n {
        let j = (i + 1) % n;
        if smooth(&runs[i], &runs[j]) {
            close_up(runs, i, j);
            continue;
        }
        let (a, b) = (&runs[i], &runs[j]);
        let fold = [a, b].iter().any(|r| edges[r.edge].line == Seen::Fold);
        let joint = joint(a, b, (meet, fold)).ok_or_else(|| if a.cut.len() <= b.cut.len() { vec![i, j] } else { vec![j, i] })?;
        runs[i].to = joint.to;
        runs[i].after = joint.after;
        runs[j].from = joint.from;
    }
    let none_left = |r: &Run| r.from.0 > r.to.0 || (r.from.0 == r.to.0 && r.from.1 >= r.to.1);
    match runs.iter().position(none_left) {
        Some(lost) => Err(vec![lost]),
        None => Ok(()),
    }
}

/// Whether two runs follow one another without a bend and have the same allowance.
fn smooth(a: &Run, b: &Run) -> bool {
    (a.allowance.width - b.allowance.width).abs() < 1e-9 && (turn(a, b).abs() <= KINK || a.allowance.width == 0.0)
}

/// Lays the end of one cut line on the start of the next; they lie within hundredths of a millimetre.
fn close_up(runs: &mut [Run], i: usize, j: usize) {
    let (last, first) = (runs[i].to.0, runs[j].from.0);
    let meet = runs[i].cut[last].end().midpoint(runs[j].cut[first].start());
    runs[i].cut[last] = ending(runs[i].cut[last], meet);
    runs[j].cut[first] = starting(runs[j].cut[first], meet);
}

/// Where one run ends and the next begins, and what lies between.
struct Joint {
    to: (usize, f64),
    after: Vec<PathSeg>,
    from: (usize, f64),
}

fn turn(a: &Run, b: &Run) -> f64 {
    match (a.stitch.last(), b.stitch.first()) {
        (Some(p), Some(q)) => angle(direction(p, 1.0), direction(q, 0.0)),
        _ => 0.0,
    }
}

/// `fold`: one of both lies on the fold of the cloth, which the cut line can't cross.
fn joint(a: &Run, b: &Run, (meet, fold): (Meet, bool)) -> Option<Joint> {
    let plain = Joint { to: a.to, after: Vec::new(), from: b.from };
    let (w, v, turn) = (a.allowance.width, b.allowance.width, turn(a, b));
    if a.edge != b.edge && !fold {
        let hem = match (a.allowance.finish, b.allowance.finish) {
            (Finish::Mitred, f) if f != Finish::Mitred && v > 0.0 => hem_after(a, b, f),
            (f, Finish::Mitred) if f != Finish::Mitred && w > 0.0 => hem_before(a, b, f),
            _ => None,
        };
        if hem.is_some() {
            return hem;
        }
    }
    if (w - v).abs() >= 1e-9 && turn.abs() < SLIGHT {
        return Some(plain);
    }
    let widest = w.abs().max(v.abs());
    let corner = b.start();
    let outer = turn * (w + v) > 0.0;
    let n = b.cut.len();
    let found = crossings(&a.cut[1..], &b.cut[..n - 1]);
    let near = found
        .into_iter()
        .filter(|c| c.at.distance(corner) <= meet.reach(widest))
        .min_by(|p, q| p.at.distance(corner).total_cmp(&q.at.distance(corner)));
    match near {
        Some(Crossing { a: (i, t), b: from, .. }) => Some(Joint { to: (i + 1, t), after: Vec::new(), from }),
        None if meet == Meet::Crossing && a.edge != b.edge && turn.abs() < SLIGHT_SEAM => Some(plain),
        // Too sharp a point: both go on by the wider allowance and are joined across.
        None if outer => {
            let share = widest / line_length(a.cut.last()?);
            Some(Joint { to: (a.cut.len() - 1, share), after: Vec::new(), from: (0, 1.0 - share) })
        }
        None => None,
    }
}

fn line_length(s: &PathSeg) -> f64 {
    s.start().distance(s.end())
}

/// The corner where a side runs into a hem.
fn hem_after(side: &Run, hem: &Run, finish: Finish) -> Option<Joint> {
    let n = hem.cut.len();
    let along = direction(hem.stitch.first()?, 0.0);
    let end = hem_end(&side.cut, &hem.cut[..n - 1], hem.start(), along, outward(along), finish)?;
    Some(Joint { to: end.side, after: end.between, from: end.hem })
}

/// The corner where a side leaves a hem: the same, walked backwards.
fn hem_before(hem: &Run, side: &Run, finish: Finish) -> Option<Joint> {
    let backwards = |all: &[PathSeg]| all.iter().rev().map(PathSeg::reverse).collect::<Vec<_>>();
    let along = direction(hem.stitch.last()?, 1.0);
    let (s, h) = (backwards(&side.cut), backwards(&hem.cut[1..]));
    let end = hem_end(&s, &h, side.start(), -along, outward(along), finish)?;
    let place = |all: &[PathSeg], (k, t): (usize, f64)| (all.len() - 1 - k, 1.0 - t);
    Some(Joint { to: place(&hem.cut, end.hem), after: backwards(&end.between), from: place(&side.cut, end.side) })
}

struct HemEnd {
    side: (usize, f64),
    between: Vec<PathSeg>,
    hem: (usize, f64),
}

/// The end of a hem's allowance. `side` runs towards the corner, `hem` away from it, `along` is the hem's direction there.
fn hem_end(side: &[PathSeg], hem: &[PathSeg], corner: Point, along: kurbo::Vec2, out: kurbo::Vec2, finish: Finish) -> Option<HemEnd> {
    let reach = line_length(side.last()?);
    let fold = [PathSeg::Line(Line::new(corner - along * reach, corner + along * reach))];
    let nearest = |found: Vec<Crossing>, to: Point| found.into_iter().min_by(|p, q| p.at.distance(to).total_cmp(&q.at.distance(to)));
    let meet = nearest(crossings(side, &fold), corner)?;
    let end: Vec<PathSeg> = match finish {
        Finish::Mirrored => {
            let mirror = Affine::reflect(corner, along);
            let before = side[..meet.a.0].iter().copied().chain([side[meet.a.0].subsegment(0.0..meet.a.1)]);
            before.collect::<Vec<_>>().iter().rev().map(|s| mirror * s.reverse()).filter(|s| line_length(s) > 1e-9).collect()
        }
        _ => vec![PathSeg::Line(Line::new(meet.at, meet.at + out * reach))],
    };
    let low = nearest(crossings(&end, hem), meet.at)?;
    let between = end[..low.a.0].iter().copied().chain([end[low.a.0].subsegment(0.0..low.a.1)]).collect();
    Some(HemEnd { side: meet.a, between, hem: low.b })
}
