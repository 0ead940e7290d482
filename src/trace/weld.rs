//! Lines that cross: trimmed where they meet, joined to chains, and a chain laid across an outline that it cuts in two.

use super::composite::{Composite, CompositeError, Within};
use super::tracing::Line;
use crate::length::Mm;
use crate::path::{SeamPath, SeamPoint};
use nalgebra::Vector2;

/// A corner this far from the outline lies within the cloth, mm: beyond what a hand misses by and a line falls short.
const WITHIN: f64 = 10.0;
/// The end of a line is rounded or bent by what it meets over this length, mm.
const FRAYED: f64 = 2.5;
/// Its direction there is read over this length, mm.
const AHEAD: f64 = 6.0;
/// How far a line is led on to what it is to cross, mm.
const LED_ON: f64 = 14.0;
/// A named corner this near to an arc of the outline lies on it, mm.
const ON: f64 = 15.0;
/// Points nearer than this to where two lines cross belong to neither, mm.
const CLEAR: f64 = 0.7;

/// A line, or several that follow one another, from one corner to another.
pub(super) struct Cut {
    word: &'static str,
    /// Its corners in order: two, and one for every joint.
    names: Vec<String>,
    points: Vec<(SeamPoint, Line)>,
    correlation: f64,
    joints: Vec<(String, Mm)>,
}

impl Cut {
    pub fn of(edge: &Within, path: SeamPath) -> Self {
        Self {
            word: edge.word(),
            names: vec![edge.note.from.clone(), edge.note.to.clone()],
            points: path.points.into_iter().map(|p| (p, edge.line)).collect(),
            correlation: path.correlation_mm,
            joints: Vec::new(),
        }
    }

    fn ends(&self) -> [&String; 2] {
        [&self.names[0], &self.names[self.names.len() - 1]]
    }

    fn turned(mut self) -> Self {
        self.names.reverse();
        self.points.reverse();
        self
    }

    /// This line and the next, which begins where it ends, each trimmed to where they cross.
    fn joined(mut self, mut next: Self) -> Self {
        next = next.turned();
        let crossing = crossing(self.end(), next.end());
        let name = self.ends()[1].clone();
        trim(&mut self.points, crossing);
        trim(&mut next.points, crossing);
        next = next.turned();
        if let Some(at) = crossing {
            self.joints.push((name, at));
        }
        self.names.extend(next.names.into_iter().skip(1));
        self.points.extend(next.points);
        self.joints.extend(next.joints);
        self.correlation = self.correlation.max(next.correlation);
        self
    }

    /// A place a little before the last point, and the direction the line has there.
    fn end(&self) -> Option<(Mm, Vector2<f64>)> {
        let last = self.points.last()?.0.at;
        let far = |mm: f64| self.points.iter().rev().map(|p| p.0.at).find(|p| p.distance(last) >= mm);
        let (near, before) = (far(FRAYED)?, far(FRAYED + AHEAD).or_else(|| self.points.first().map(|p| p.0.at))?);
        Some((near, (near - before).try_normalize(1e-9)?))
    }

    /// The outline of the side that is kept, with this line in place of the rest.
    pub fn across(self, whole: &Composite, others: &[(String, Mm)]) -> Result<Composite, CompositeError> {
        let outer = &whole.outer.points;
        let (last, cut) = (self.meets(outer), self.turned());
        let (first, cut) = (cut.meets(outer), cut.turned());
        let astray = |name: &String, points: &[(SeamPoint, Line)], k: usize| {
            let at = points.get(k).map_or(Mm::default(), |p| p.0.at);
            let off = outer.iter().map(|p| p.at.distance(at)).fold(f64::INFINITY, f64::min);
            let [from, to] = cut.ends().map(Clone::clone);
            CompositeError::CutsNothing { line: cut.word, from, to, at: name.clone(), off }
        };
        let Some(first) = first else { return Err(astray(cut.ends()[0], &cut.points, 0)) };
        let Some(last) = last else { return Err(astray(cut.ends()[1], &cut.points, cut.points.len() - 1)) };
        let joints = [(cut.ends()[0].clone(), first.at), (cut.ends()[1].clone(), last.at)];
        let mut points = cut.points.clone();
        trim(&mut points, Some(last.at));
        points.reverse();
        trim(&mut points, Some(first.at));
        points.reverse();
        let named: Vec<Mm> = others.iter().filter(|(n, _)| !cut.names.contains(n)).map(|(_, at)| *at).collect();
        // Along the outline from the line's end back to its start, or on from its start to its end.
        let (back, on) = (arc(outer.len(), &last, &first), arc(outer.len(), &first, &last));
        let votes = |arc: &[usize]| {
            let near = |at: &&Mm| arc.iter().any(|k| outer[*k].at.distance(**at) < ON);
            named.iter().filter(near).count()
        };
        let area = |arc: &[usize], chain: Vec<Mm>| signed(&arc.iter().map(|k| outer[*k].at).chain(chain).collect::<Vec<_>>()).abs();
        let (there, again) = (points.iter().map(|p| p.0.at).collect(), points.iter().rev().map(|p| p.0.at).collect());
        let take_back = match votes(&back).cmp(&votes(&on)) {
            std::cmp::Ordering::Equal => area(&back, there) >= area(&on, again),
            more => more.is_gt(),
        };
        if !take_back {
            points.reverse();
        }
        let arc = if take_back { back } else { on };
        Ok(welded(whole, &arc, &points, joints.into_iter().chain(cut.joints).collect(), cut.correlation))
    }

    /// Where this line's end, led on, meets the outline; a line that ends on the outline meets it there, even where it slips past the tip of a
    /// corner.
    fn meets(&self, outer: &[SeamPoint]) -> Option<Meeting> {
        let n = outer.len();
        let (from, ahead) = self.end()?;
        let meets = (0..n).filter_map(|k| {
            let along = ray(from, ahead, outer[k].at, outer[(k + 1) % n].at)?;
            (-FRAYED..=FRAYED + LED_ON).contains(&along).then_some((along, Meeting { after: k, at: from + ahead * along }))
        });
        let end = self.points.last()?.0.at;
        let beside = || {
            let nearest = (0..n).min_by(|a, b| outer[*a].at.distance(end).total_cmp(&outer[*b].at.distance(end)))?;
            (outer[nearest].at.distance(end) < FRAYED).then_some(Meeting { after: nearest, at: outer[nearest].at })
        };
        meets.min_by(|a, b| a.0.abs().total_cmp(&b.0.abs())).map(|m| m.1).or_else(beside)
    }
}

/// Where a line meets an outline: at a place between a point and the next.
#[derive(Clone, Copy)]
struct Meeting {
    after: usize,
    at: Mm,
}

/// Lines that share a corner within the cloth, joined; those that reach the outline are left as they are.
pub(super) fn chains(cuts: Vec<Cut>, outer: &SeamPath) -> Vec<Cut> {
    let within = |cut: &Cut, last: bool| {
        let end = if last { cut.points.last() } else { cut.points.first() };
        end.is_some_and(|e| outer.points.iter().all(|p| p.at.distance(e.0.at) > WITHIN))
    };
    let mut open = cuts;
    let mut done: Vec<Cut> = Vec::new();
    while !open.is_empty() {
        let mut cut = open.remove(0);
        for _ in 0..2 {
            while within(&cut, true)
                && let Some(k) = open.iter().position(|c| c.ends().contains(&cut.ends()[1]))
            {
                let next = open.remove(k);
                cut = if next.ends()[0] == cut.ends()[1] { cut.joined(next) } else { cut.joined(next.turned()) };
            }
            cut = cut.turned();
        }
        done.push(cut);
    }
    done
}

/// Numbers of the points from one meeting on to another, without those right at them.
fn arc(n: usize, from: &Meeting, to: &Meeting) -> Vec<usize> {
    let count = (to.after + n - from.after) % n;
    (1..=count).map(|k| (from.after + k) % n).collect()
}

/// The outline of `arc`, closed by `points`.
fn welded(whole: &Composite, arc: &[usize], points: &[(SeamPoint, Line)], joints: Vec<(String, Mm)>, correlation: f64) -> Composite {
    let clear = |p: &SeamPoint| joints.iter().all(|(_, at)| p.at.distance(*at) > CLEAR);
    let old = arc.iter().map(|k| (whole.outer.points[*k], whole.kinds[*k]));
    let (outer, kinds): (Vec<SeamPoint>, Vec<Line>) = old.chain(points.iter().copied()).filter(|(p, _)| clear(p)).unzip();
    let mut outer = SeamPath { points: outer, closed: true, correlation_mm: whole.outer.correlation_mm.max(correlation) };
    point_out(&mut outer.points);
    let mut all = whole.joints.clone();
    all.extend(joints);
    Composite { outer, kinds, joints: all }
}

/// Turns normals that point into a piece whose outline runs clockwise.
fn point_out(points: &mut [SeamPoint]) {
    let n = points.len();
    let places: Vec<Mm> = points.iter().map(|p| p.at).collect();
    for (k, p) in points.iter_mut().enumerate() {
        let d = places[(k + 1) % n] - places[(k + n - 1) % n];
        if p.normal.x * d.y - p.normal.y * d.x < 0.0 {
            p.normal = -p.normal;
        }
    }
}

/// Takes off the end what lies near or beyond a crossing.
fn trim(points: &mut Vec<(SeamPoint, Line)>, crossing: Option<Mm>) {
    let Some(at) = crossing else { return };
    let n = points.len();
    // The place nearest to the crossing, of the last stretch: a line that comes back to it earlier is left alone.
    let low = n.saturating_sub(60);
    let nearest = (low..n).min_by(|a, b| points[*a].0.at.distance(at).total_cmp(&points[*b].0.at.distance(at)));
    if let Some(k) = nearest.filter(|k| *k > 2) {
        points.truncate(k);
    }
}

/// Where the ends of two lines, led on, cross.
fn crossing(a: Option<(Mm, Vector2<f64>)>, b: Option<(Mm, Vector2<f64>)>) -> Option<Mm> {
    let ((from, ahead), (other, beyond)) = (a?, b?);
    let det = ahead.perp(&beyond);
    if det.abs() < 0.05 {
        return Some(from + (other - from) * 0.5);
    }
    let at = from + ahead * ((other - from).perp(&beyond) / det);
    (at.distance(from) < FRAYED + LED_ON && at.distance(other) < FRAYED + LED_ON).then_some(at)
}

/// How far along a ray it crosses a leg; behind its start counts too.
fn ray(from: Mm, ahead: Vector2<f64>, a: Mm, b: Mm) -> Option<f64> {
    let (leg, off) = (b - a, a - from);
    let det = ahead.perp(&leg);
    let (t, s) = (off.perp(&leg) / det, off.perp(&ahead) / det);
    (det.abs() > 1e-12 && (0.0..=1.0).contains(&s)).then_some(t)
}

/// Area of a ring, clockwise as seen positive, mm².
fn signed(ring: &[Mm]) -> f64 {
    (0..ring.len()).map(|k| (ring[k], ring[(k + 1) % ring.len()])).map(|(a, b)| a.x * b.y - b.x * a.y).sum::<f64>() / 2.0
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::length::Px;

    fn line(from: Mm, to: Mm) -> Vec<SeamPoint> {
        let n = from.distance(to).round() as usize;
        let d = (to - from) / n as f64;
        let point = |k: usize| SeamPoint {
            at: from + d * k as f64,
            normal: Vector2::new(d.y, -d.x).normalize(),
            error: 0.05,
            px: Px::default(),
            flags: Default::default(),
        };
        (0..n).map(point).collect()
    }

    /// 200 mm wide, 100 mm high, clockwise as seen from its upper left corner.
    fn sheet() -> Composite {
        let at = [[0.0, 0.0], [200.0, 0.0], [200.0, 100.0], [0.0, 100.0]].map(Mm::from);
        let points: Vec<SeamPoint> = (0..4).flat_map(|k| line(at[k], at[(k + 1) % 4])).collect();
        let kinds = vec![Line::Rim; points.len()];
        Composite { outer: SeamPath { points, closed: true, correlation_mm: 3.0 }, kinds, joints: vec![] }
    }

    fn cut(names: [&str; 2], from: [f64; 2], to: [f64; 2]) -> Cut {
        let points = line(from.into(), to.into()).into_iter().map(|p| (p, Line::Seam)).collect();
        Cut { word: "seam", names: names.map(String::from).to_vec(), points, correlation: 4.0, joints: vec![] }
    }

    fn area(c: &Composite) -> f64 {
        signed(&c.outer.points.iter().map(|p| p.at).collect::<Vec<_>>())
    }

    #[test]
    fn the_larger_side_is_kept_unless_a_corner_says_otherwise() {
        let seam = || cut(["a", "b"], [150.0, 2.0], [150.0, 98.0]);
        let kept = seam().across(&sheet(), &[]).expect("cut in two");
        assert!((area(&kept) - 15_000.0).abs() < 40.0, "{}", area(&kept));
        let other = seam().across(&sheet(), &[("cuff".into(), Mm::new(200.0, 50.0))]).expect("cut in two");
        assert!((area(&other) - 5000.0).abs() < 40.0, "{}", area(&other));
        let seams = kept.kinds.iter().filter(|k| **k == Line::Seam).count();
        assert!((90..=100).contains(&seams), "{seams}");
        assert_eq!(kept.joints.len(), 2);
        assert!(kept.joints.iter().any(|(n, at)| n == "b" && at.distance(Mm::new(150.0, 100.0)) < 1e-9));
        // Where the seam runs down on the right, the cloth lies to its left as seen: normals point right.
        let down = kept.outer.points.iter().zip(&kept.kinds).filter(|(_, k)| **k == Line::Seam);
        assert!(down.clone().count() > 0 && down.clone().all(|(p, _)| p.normal.x > 0.99));
    }

    /// A seam that ends at an inner corner, a hair beside its tip, and led on runs along within the cloth: it meets the corner.
    #[test]
    fn a_seam_that_slips_past_an_inner_corner_meets_it() {
        let at = [[0.0, 0.0], [200.0, 0.0], [200.0, 100.0], [100.0, 100.0], [100.0, 60.0], [0.0, 60.0]].map(Mm::from);
        let points: Vec<SeamPoint> = (0..6).flat_map(|k| line(at[k], at[(k + 1) % 6])).collect();
        let kinds = vec![Line::Rim; points.len()];
        let whole = Composite { outer: SeamPath { points, closed: true, correlation_mm: 3.0 }, kinds, joints: vec![] };
        let kept = cut(["a", "b"], [100.4, 2.0], [100.4, 60.2]).across(&whole, &[]).expect("cut in two");
        assert!((area(&kept) - 10_000.0).abs() < 80.0, "{}", area(&kept));
    }

    #[test]
    fn a_seam_that_ends_within_the_cloth_cuts_nothing() {
        let e = cut(["a", "b"], [150.0, 2.0], [150.0, 60.0]).across(&sheet(), &[]).expect_err("no cut");
        assert!(matches!(&e, CompositeError::CutsNothing { at, off, .. } if at == "b" && (*off - 41.0).abs() < 2.0), "{e}");
        assert!((15..=240).contains(&e.to_string().chars().count()));
    }

    #[test]
    fn seams_that_meet_within_the_cloth_are_joined_where_they_cross() {
        let cuts = vec![cut(["a", "b"], [120.0, 0.0], [121.0, 52.0]), cut(["c", "b"], [200.0, 50.0], [118.0, 50.0])];
        let chains = chains(cuts, &sheet().outer);
        assert_eq!(chains.len(), 1);
        let kept = chains.into_iter().next().expect("one").across(&sheet(), &[]).expect("cut in two");
        assert!((area(&kept) - (20_000.0 - 50.0 * 79.5)).abs() < 60.0, "{}", area(&kept));
        assert_eq!(kept.joints.iter().map(|j| j.0.as_str()).collect::<Vec<_>>(), ["a", "c", "b"].as_slice(), "{:?}", kept.joints);
        assert!(kept.joints[2].1.distance(Mm::new(120.96, 50.0)) < 0.3, "{:?}", kept.joints[2]);
    }
}
