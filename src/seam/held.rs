//! Where a person has settled the line: places it passes through, and borders of regions that belong to the piece or don't.

use super::Settings;
use super::guide::Guide;
use crate::length::Mm;
use crate::path::{SeamPath, SeamPoint};
use crate::view::View;

/// A rough path this near a region's border runs along it, mm: it comes from pixels of a reduced picture.
const ON_BORDER: f64 = 2.0;
/// Length over which a line comes to where it is held, mm.
const OVER: f64 = 4.0;
/// A line this near a given place passes through it, mm and px: no hand points better.
const THROUGH: f64 = 0.4;
const THROUGH_PX: f64 = 1.5;
/// A line farther off than this was not meant, mm.
pub(super) const FAR: f64 = 8.0;
/// Half the length over which a line that passes by is bent to the place, mm: a shorter bump would be drawn over as a flaw.
const BENT: f64 = 25.0;
/// Standard error of what a hand gave, px: along a border, and at a place, which weighs enough to be passed through.
const HAND_PX: f64 = 1.0;
const PLACE_PX: f64 = 0.2;

/// What is settled, in mm at the cloth's height.
pub(super) struct Held {
    through: Vec<Mm>,
    borders: Vec<Vec<Mm>>,
}

impl Held {
    pub fn of(settings: &Settings, view: &View, height: f64) -> Self {
        let borders = settings.borders.iter().map(|a| a.border().iter().filter_map(|p| view.to_mm(*p, height)).collect());
        Self { through: settings.through.iter().filter_map(|p| view.to_mm(*p, height)).collect(), borders: borders.collect() }
    }

    /// Leads the offsets found along a guide, mm, over to the borders along which the line runs.
    pub fn lead(&self, guide: &Guide, offsets: &mut [f64]) {
        let held = self.offsets(guide);
        if held.iter().all(Option::is_none) {
            return;
        }
        let (n, over) = (offsets.len(), (OVER / guide.step) as usize + 1);
        // How far each place is from where the line is held, and what is to be added there.
        let mut near: Vec<(usize, f64)> = held.iter().zip(&*offsets).map(|(h, o)| h.map_or((over, 0.0), |h| (0, h - o))).collect();
        let mut pass = |k: usize, from: usize| {
            if near[from].0 + 1 < near[k].0 {
                near[k] = (near[from].0 + 1, near[from].1);
            }
        };
        (0..2 * n).for_each(|k| pass((k + 1) % n, k % n));
        (0..2 * n).rev().for_each(|k| pass(k % n, (k + 1) % n));
        offsets.iter_mut().zip(near).for_each(|(o, (away, add))| *o += add * (1.0 - away as f64 / over as f64));
    }

    /// For each point of the guide the offset of the border along which the line runs there, mm; nothing where there are none.
    fn offsets(&self, guide: &Guide) -> Vec<Option<f64>> {
        let on_border = |k: usize| self.on_border(guide.at[k]).map(|q| (q - guide.at[k]).dot(&guide.normal[k]));
        if self.borders.is_empty() { Vec::new() } else { (0..guide.len()).map(on_border).collect() }
    }

    /// The point of a border that a rough path near it runs along.
    fn on_border(&self, at: Mm) -> Option<Mm> {
        let feet = self.borders.iter().flat_map(|b| {
            (0..b.len()).map(move |k| {
                let (a, leg) = (b[k], b[(k + 1) % b.len()] - b[k]);
                a + leg * ((at - a).dot(&leg) / leg.norm_squared().max(1e-12)).clamp(0.0, 1.0)
            })
        });
        feet.filter(|q| q.distance(at) <= ON_BORDER).min_by(|a, b| a.distance(at).total_cmp(&b.distance(at)))
    }

    /// Lays the found line on the borders it runs along.
    pub fn obey(&self, path: &mut SeamPath, view: &View, height: f64) {
        let pixel = pixel(path, view);
        for p in path.points.iter_mut() {
            if let Some(at) = self.on_border(p.at) {
                (p.at, p.px, p.error) = (at, view.to_px(at, height), HAND_PX * pixel);
                p.flags.by_hand = true;
            }
        }
    }

    /// The places that were given.
    pub fn places(&self) -> &[Mm] {
        &self.through
    }

    /// Those that a line passes by, near enough that it was meant.
    pub fn passed_by(&self, path: &SeamPath, view: &View) -> Vec<Mm> {
        let pixel = pixel(path, view);
        let off = |p: &Mm| path.points.iter().map(|q| q.at.distance(*p)).fold(f64::INFINITY, f64::min);
        self.through.iter().copied().filter(|p| (THROUGH + THROUGH_PX * pixel..=FAR).contains(&off(p))).collect()
    }

    /// A stretch of line bent to a place.
    pub fn bent(&self, line: &[SeamPoint], to: Mm) -> Vec<Mm> {
        let places: Vec<Mm> = line.iter().map(|p| p.at).collect();
        let Some(k) = nearest(&places, to) else { return places };
        let off = (to - places[k]).dot(&line[k].normal);
        line.iter().map(|p| p.at + p.normal * (share(p.at.distance(places[k])) * off)).collect()
    }

    /// Bends a line to the places it still passes by.
    pub fn bend(&self, path: &mut SeamPath, view: &View, height: f64) {
        let pixel = pixel(path, view);
        let places: Vec<Mm> = path.points.iter().map(|p| p.at).collect();
        for through in &self.through {
            let Some(k) = nearest(&places, *through) else { continue };
            let off = (*through - places[k]).dot(&path.points[k].normal);
            if off.abs() <= THROUGH + THROUGH_PX * pixel || places[k].distance(*through) > FAR {
                continue;
            }
            for p in path.points.iter_mut() {
                let share = share(p.at.distance(places[k]));
                if share > 0.0 {
                    p.at = p.at + p.normal * (share * off);
                    (p.px, p.error, p.flags.by_hand) = (view.to_px(p.at, height), p.error.max(PLACE_PX * pixel), true);
                }
            }
        }
    }
}

/// How much of a bend is left so far from its middle, mm.
fn share(far: f64) -> f64 {
    0.5 + 0.5 * (std::f64::consts::PI * (far / BENT).min(1.0)).cos()
}

/// Millimetres a pixel where a line begins.
fn pixel(path: &SeamPath, view: &View) -> f64 {
    path.points.first().map_or(1.0, |p| 1.0 / view.px_per_mm(p.at).max(1e-3))
}

fn nearest(places: &[Mm], to: Mm) -> Option<usize> {
    (0..places.len()).min_by(|&a, &b| places[a].distance(to).total_cmp(&places[b].distance(to)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::length::Px;
    use crate::shot::Area;
    use crate::view::Model;
    use nalgebra::Vector2;

    fn view() -> View {
        View::known(Model::Scan { matrix: [4.0, 0.0, 0.0, 4.0, 0.0, 0.0] }, 400, 400)
    }

    /// A level line at y = 20 mm that runs to the right, its normals up.
    fn line() -> SeamPath {
        let point = |k: i32| SeamPoint {
            at: Mm::new(f64::from(k), 20.0),
            normal: Vector2::new(0.0, -1.0),
            error: 0.05,
            px: Px::new(4.0 * f64::from(k), 80.0),
            flags: Default::default(),
        };
        SeamPath { points: (10..60).map(point).collect(), closed: false, correlation_mm: 3.0 }
    }

    #[test]
    fn a_line_is_bent_to_a_place_it_passes_by() {
        let settings = Settings { through: vec![Px::new(120.0, 92.0)], ..Settings::default() };
        let mut path = line();
        Held::of(&settings, &view(), 0.0).bend(&mut path, &view(), 0.0);
        let at = |x: f64| path.points.iter().find(|p| p.at.x == x).expect("a point");
        assert!((at(30.0).at.y - 23.0).abs() < 1e-9 && at(30.0).flags.by_hand && (at(30.0).px.y - 92.0).abs() < 1e-9);
        assert!(at(42.0).at.y > 21.0 && at(42.0).at.y < 22.0);
        assert!(at(57.0).at.y == 20.0 && !at(57.0).flags.by_hand);
        let near = Settings { through: vec![Px::new(120.0, 81.0)], ..Settings::default() };
        let mut path = line();
        Held::of(&near, &view(), 0.0).bend(&mut path, &view(), 0.0);
        assert_eq!(path, line(), "what was measured is better than the hand");
    }

    #[test]
    fn a_line_near_a_border_runs_along_it() {
        let border = Area::new([[100.0, 86.0], [160.0, 86.0], [160.0, 200.0], [100.0, 200.0]].map(Px::from).to_vec()).expect("an area");
        let settings = Settings { borders: vec![border], ..Settings::default() };
        let held = Held::of(&settings, &view(), 0.0);
        let mut path = line();
        held.obey(&mut path, &view(), 0.0);
        assert!(path.points.iter().filter(|p| (25.0..=40.0).contains(&p.at.x)).all(|p| p.at.y == 21.5 && p.flags.by_hand));
        assert!(path.points.iter().filter(|p| p.at.x > 42.0).all(|p| p.at.y == 20.0));
        let guide = Guide::new(&line().points.iter().map(|p| p.at).collect::<Vec<_>>(), false, 0.5, 0.0).expect("a guide");
        let offsets = held.offsets(&guide);
        assert!(offsets.iter().flatten().all(|o| (o + 1.5).abs() < 0.6) && offsets.iter().any(Option::is_none));
        let mut led = vec![0.25; guide.len()];
        held.lead(&guide, &mut led);
        assert!(led.iter().zip(&offsets).all(|(l, o)| o.is_none_or(|o| (l - o).abs() < 1e-9)));
        assert!(led.iter().any(|l| (-1.0..0.0).contains(l)), "no jump beside it");
        let mut free = led.clone();
        Held::of(&Settings::default(), &view(), 0.0).lead(&guide, &mut free);
        assert_eq!(free, led);
    }
}
