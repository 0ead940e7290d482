//! A sheet that does not lie flat: how far it is out where nodes are seen, and how far it may be out where none are.

use crate::length::Mm;
use nalgebra::Vector2;

/// A buckle is told over this distance from nodes that show it, mm: farther off it may be as large as anywhere (common practice, no
/// source: paper on a table buckles over a hand's breadth and more).
const TOLD_OVER: f64 = 100.0;

/// Nodes of which less than this power of e counts are left out: a ten thousand millionth.
const FAR: f64 = 23.0;

/// The smooth part of what a view leaves of its nodes, or all of what a view leaves that follows a buckled sheet.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Bend {
    /// Nodes, and how far the sheet is out of what the map has there, mm.
    pub(super) places: Vec<(Mm, Vector2<f64>)>,
    /// Distance of neighbouring nodes, mm.
    pub(super) pitch: f64,
    /// The greatest distance by which the sheet is out, mm, where the map follows it and `places` hold what is left of that.
    pub(super) followed: Option<f64>,
}

impl Bend {
    /// How far the sheet may be out of what the map has at a place, mm: as far as it is at the nodes round it, and the more of what it is at most, the
    /// farther they are.
    pub fn at(&self, place: Mm) -> f64 {
        let square = |at: &Mm| (*at - place).norm_squared();
        let Some(nearest) = self.places.iter().map(|p| square(&p.0)).min_by(f64::total_cmp).map(f64::sqrt) else { return 0.0 };
        let share = 0.5 / nearest.max(self.pitch).powi(2);
        let (mut sum, mut weights, mut most) = (0.0, 0.0, 0.0f64);
        for (at, out) in &self.places {
            let (far, out) = (share * square(at), out.norm_squared());
            most = most.max(out);
            if far < FAR {
                let weight = (-far).exp();
                sum += weight * out;
                weights += weight;
            }
        }
        let far = nearest / TOLD_OVER;
        // A surface that is followed goes on straight where it is not seen: it leaves the sheet as the square of the distance.
        let (most, far) = self.followed.map_or((most.sqrt(), far), |most| (most, far * far));
        let unseen = most * (1.0 - (-far).exp());
        (sum / weights).sqrt().hypot(unseen)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_seen_counts_there_and_what_is_not_seen_may_be_anything() {
        // Flat but for its right-hand end, where it is out by 2 mm.
        let out = |x: i32| if x > 6 { Vector2::new(0.0, 2.0) } else { Vector2::zeros() };
        let places = (-10..=10).flat_map(|x| (0..3).map(move |y| (Mm::new(f64::from(x) * 20.0, f64::from(y) * 20.0), out(x)))).collect();
        let bend = Bend { places, pitch: 20.0, followed: None };
        assert!((bend.at(Mm::new(190.0, 10.0)) - 2.0).abs() < 0.2 && bend.at(Mm::new(-100.0, 20.0)) < 1e-3);
        let hidden = bend.at(Mm::new(-100.0, 240.0));
        assert!((1.5..2.5).contains(&hidden), "two hand's breadths from the last node it may be out as far as anywhere: {hidden}");
        assert_eq!(Bend::default().at(Mm::new(3.0, 4.0)), 0.0);
    }
}
