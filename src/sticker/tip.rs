//! The tip of a paper pointer: a slim triangle whose two long sides, followed to where they cross, give it better than the
//! tip itself, which is narrower than a pixel.

use super::rim::{Axis, Light, mean};
use super::spots::Spot;
use crate::length::{Mm, Px};
use crate::shot::Shot;
use crate::solve::Line;
use crate::view::View;
use nalgebra::{Matrix2, SymmetricEigen, Vector2};

/// Lengths and widths of pointers, mm.
const LENGTH: [f64; 2] = [12.0, 200.0];
const WIDTH: [f64; 2] = [3.0, 45.0];
/// Skewness along its length from which on a spot tapers: a triangle's is 0.57, a strip's nothing.
const TAPERS: f64 = 0.3;
/// Places across at which the sides are sought, as shares of the length from the base.
const STATIONS: usize = 28;
const FIRST: f64 = 0.1;
const LAST: f64 = 0.85;
/// Narrower than this the two sides blur into one another, px.
const NARROW: f64 = 5.0;
/// Distance of samples across, px; what lies beside is taken from so many px beyond the side over so many mm.
const STEP: f64 = 0.3;
const BESIDE_PX: f64 = 1.5;
const BESIDE_MM: f64 = 1.2;
/// Fewest places that make a side.
const LEAST: usize = 8;
/// How far places may lie off a straight side (one standard deviation), mm and px.
const CROOKED: f64 = 0.1;
const CROOKED_PX: f64 = 0.15;
/// Angles between the sides, degrees.
const OPENING: [f64; 2] = [4.0, 60.0];

/// A pointer.
pub(super) struct Pointer {
    /// Where its sides cross, on the sheet.
    pub tip: Mm,
    /// Unit direction it points to.
    pub ahead: Vector2<f64>,
    /// Length and width of its base, mm.
    pub length: f64,
    pub width: f64,
    /// Standard error of the tip, mm.
    pub error: f64,
    /// Its own light.
    pub light: Light,
}

/// What is crossed at one place along a pointer, from its middle outwards to either side.
struct Station {
    middle: Mm,
    /// Light of the middle.
    light: Light,
    /// Half the width expected, mm.
    half: f64,
    sides: [Vec<Light>; 2],
    /// First of a side's samples that lies clear of the pointer.
    clear: usize,
}

/// The pointer a spot is; `None` when it is none.
pub(super) fn pointer(shot: &Shot, view: &View, spot: &Spot) -> Option<Pointer> {
    let rough = Rough::of(view, spot)?;
    let pixel = 1.0 / view.px_per_mm(rough.base).max(1e-3);
    let stations = rough.stations(shot, view, pixel);
    let light = mean(&stations.iter().map(|s| s.light).collect::<Vec<_>>())?;
    let [left, right] = rough.sides(&stations, light, pixel)?;
    let count = left.len().min(right.len());
    if count < LEAST {
        return None;
    }
    let [a, b] = [left, right].map(|s| Line::robust(&s, &vec![1.0; s.len()]));
    let (a, b) = (a?, b?);
    let spread = a.spread.max(b.spread);
    let tip = a.cross(&b)?;
    let half = 0.5 * a.along.perp(&b.along).abs().min(1.0).asin();
    let base = rough.base.vector();
    let ahead = (tip - base).try_normalize(1e-9)?;
    let opens = (OPENING[0]..=OPENING[1]).contains(&(2.0 * half).to_degrees());
    let near = (tip - rough.tip().vector()).norm() < 0.35 * rough.length + 2.0;
    if !opens || !near || ahead.dot(&rough.ahead) < 0.9 || spread > CROOKED + CROOKED_PX * pixel {
        return None;
    }
    Some(Pointer {
        tip: Mm::from(tip),
        ahead,
        length: (tip - base).norm(),
        width: rough.width,
        // Both sides out the same way move the tip along, by the slimness of the angle.
        error: (2.0 * spread / (count as f64).sqrt() / half.sin().max(0.02)).max(0.03),
        light,
    })
}

/// A triangle by its moments.
struct Rough {
    base: Mm,
    ahead: Vector2<f64>,
    length: f64,
    width: f64,
}

impl Rough {
    fn of(view: &View, spot: &Spot) -> Option<Self> {
        let points: Vec<Vector2<f64>> = spot.pixels.iter().filter_map(|p: &Px| view.to_mm(*p, 0.0)).map(Mm::vector).collect();
        let n = points.len() as f64;
        let middle = points.iter().sum::<Vector2<f64>>() / n;
        let scatter = points.iter().map(|p| (p - middle) * (p - middle).transpose()).sum::<Matrix2<f64>>() / n;
        let eigen = SymmetricEigen::new(scatter);
        let long = usize::from(eigen.eigenvalues[1] > eigen.eigenvalues[0]);
        let [along, across] = [long, 1 - long].map(|k| eigen.eigenvalues[k].max(0.0));
        let axis: Vector2<f64> = eigen.eigenvectors.column(long).into();
        let skew = points.iter().map(|p| (p - middle).dot(&axis).powi(3)).sum::<f64>() / n / along.powf(1.5).max(1e-9);
        // Moments of a triangle of length L and base W: L²/18 along, W²/24 across; its middle lies a third of L from the base.
        let (length, width) = ((18.0 * along).sqrt(), (24.0 * across).sqrt());
        let good = skew.abs() > TAPERS
            && (LENGTH[0]..=LENGTH[1]).contains(&length)
            && (WIDTH[0]..=WIDTH[1]).contains(&width)
            && length > 1.5 * width;
        let ahead = axis * skew.signum();
        good.then(|| Self { base: Mm::from(middle - ahead * (length / 3.0)), ahead, length, width })
    }

    fn tip(&self) -> Mm {
        self.base + self.ahead * self.length
    }

    fn across(&self) -> Vector2<f64> {
        Vector2::new(-self.ahead.y, self.ahead.x)
    }

    /// What lies across the pointer at places along it.
    fn stations(&self, shot: &Shot, view: &View, pixel: f64) -> Vec<Station> {
        let (across, step) = (self.across(), STEP * pixel);
        let station = |k: usize| {
            let t = FIRST + (LAST - FIRST) * k as f64 / (STATIONS - 1) as f64;
            let half = 0.5 * self.width * (1.0 - t);
            let middle = self.base + self.ahead * (t * self.length);
            let sample = |q: f64| shot.sample(view.to_px(middle + across * q, 0.0)).map(|v| v.map(f64::from));
            let inner: Vec<Light> = (-4..=4).filter_map(|i| sample(0.1 * f64::from(i) * half)).collect();
            // The base is known to some pixels, so a side may lie some way off.
            let beside = half + BESIDE_PX * pixel + 0.1 * self.width;
            let count = ((beside + BESIDE_MM) / step) as usize + 1;
            let side = |sign: f64| (0..count).map(|i| sample(sign * i as f64 * step)).collect::<Option<Vec<Light>>>();
            let clear = ((beside / step) as usize).min(count - 1);
            (2.0 * half >= NARROW * pixel).then_some(Station {
                middle,
                light: mean(&inner)?,
                half,
                sides: [side(1.0)?, side(-1.0)?],
                clear,
            })
        };
        (0..STATIONS).filter_map(station).collect()
    }

    /// Places on both long sides.
    fn sides(&self, stations: &[Station], light: Light, pixel: f64) -> Option<[Vec<Vector2<f64>>; 2]> {
        let round: Vec<Light> = stations.iter().flat_map(|s| s.sides.iter().flat_map(|v| &v[s.clear..])).copied().collect();
        let (axis, step) = (Axis::new(light, &round)?, STEP * pixel);
        let place = |s: &Station, k: usize| {
            let place = axis.edge(&s.sides[k], mean(&s.sides[k][s.clear..])?, s.half / step)?;
            let sign = if k == 0 { 1.0 } else { -1.0 };
            Some((s.middle + self.across() * (sign * place * step)).vector())
        };
        Some([0, 1].map(|k| stations.iter().filter_map(|s| place(s, k)).collect()))
    }
}
