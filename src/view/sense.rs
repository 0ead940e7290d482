//! Whether places that a person gave can be one sheet seen by one camera, before and after the view is solved.
//!
//! A camera in front of a plane keeps the sense in which any three of its points follow each other (Hartley & Zisserman 2004,
//! oriented projective geometry): all triples turned round is a sheet seen from behind, some of them is no view at all.

use super::refused::GivenError;
use super::{Model, View};
use crate::length::{Mm, Px};
use nalgebra::Vector2;

/// A triangle thinner than this share of its longest side says nothing: pointing and the lens could turn it over.
const THIN: f64 = 0.05;
/// Beyond this tilt a millimetre up the picture is less than half of one across it, degrees.
const STEEP: f64 = 65.0;
/// How much larger the sheet may be drawn at one given place than at another: at 60° a wide lens reaches 5.
const UNEVEN: f64 = 6.0;
/// What is usual, mm: from nearer than that no lens holds a collar whole, and hardly a room is higher (common practice, no source).
pub(super) const USUAL: std::ops::RangeInclusive<f64> = 150.0..=8_000.0;
/// No garment is photographed from nearer than a hand's breadth, nor from across a hall, mm (common practice, no source).
const DISTANCE: std::ops::RangeInclusive<f64> = 60.0..=30_000.0;
/// A scan reduced since has a few times fewer pixels than its file says; ten times is a slip of the unit.
const SLIP: f64 = 5.0;
/// How far beyond the outermost pixels' middles a place may be pointed at, px.
const BRIM: f64 = 1.0;
/// How many places are tried for one that is exchanged with another, however many there are.
const TRIED: usize = 4;

/// Sees that the places lie in the picture and that a camera could see them so arranged; gives those that are in most of the triples
/// which no camera sees so, at most four, none when all is well.
///
/// # Errors
/// A place outside, the sheet seen from behind.
pub(super) fn suspects(points: &[(Px, Mm)], size: (usize, usize)) -> Result<Vec<usize>, GivenError> {
    let within = |x: f64, y: f64| (-BRIM..=size.0 as f64).contains(&x) && (-BRIM..=size.1 as f64).contains(&y);
    if let Some(number) = points.iter().position(|(p, _)| !within(p.x, p.y)) {
        let p = points[number].0;
        return Err(GivenError::Outside { number, size, turned: within(p.y, p.x) });
    }
    let (right, wrong) = turns(points);
    if right == 0 && !wrong.is_empty() {
        return Err(GivenError::Behind);
    }
    let blame = |i: usize| wrong.iter().filter(|t| t.contains(&i)).count();
    let mut found: Vec<usize> = (0..points.len()).filter(|&i| blame(i) > 0).collect();
    found.sort_by_key(|&i| std::cmp::Reverse(blame(i)));
    found.truncate(TRIED);
    found.sort_unstable();
    Ok(found)
}

/// Whether all triples follow each other as on the sheet.
pub(super) fn in_order(points: &[(Px, Mm)]) -> bool {
    turns(points).1.is_empty()
}

/// How many triples follow each other as on the sheet, and those that do not.
fn turns(points: &[(Px, Mm)]) -> (usize, Vec<[usize; 3]>) {
    let mut right = 0;
    let mut wrong = Vec::new();
    for a in 0..points.len() {
        for b in a + 1..points.len() {
            for c in b + 1..points.len() {
                let three = [a, b, c];
                let seen = turn(three.map(|i| points[i].0.vector()));
                let placed = turn(three.map(|i| points[i].1.vector()));
                match seen * placed {
                    s if s > 0.0 => right += 1,
                    s if s < 0.0 => wrong.push(three),
                    _ => {}
                }
            }
        }
    }
    (right, wrong)
}

/// 1 for a triangle that runs clockwise (y down), -1 for the other way, 0 for one too thin to tell.
fn turn([a, b, c]: [Vector2<f64>; 3]) -> f64 {
    let longest = (b - a).norm_squared().max((c - b).norm_squared()).max((a - c).norm_squared());
    let twice = (b - a).perp(&(c - a));
    if twice.abs() < THIN * longest { 0.0 } else { twice.signum() }
}

/// Sees that the solved view is one that a person could have taken; `told` is what the file says of its scale, px per mm, `lens` whether it
/// says through which lens. Gives the camera's distance, mm, where that is unusual and might be another lens's.
///
/// # Errors
/// A scan ten times off what its file says; a photograph from where no camera stands, or so far aslant that it can't be measured.
pub(super) fn likely(view: &View, points: &[(Px, Mm)], told: Option<[f64; 2]>, lens: bool) -> Result<Option<f64>, GivenError> {
    let [least, most] = points.iter().map(|p| view.px_per_mm(p.1)).fold([f64::INFINITY, 0.0f64], |a, b| [a[0].min(b), a[1].max(b)]);
    let Model::Pinhole { .. } = view.model else {
        let told = told.map(|[x, y]| (x * y).sqrt());
        return match told.filter(|t| !(t / SLIP..=t * SLIP).contains(&(least * most).sqrt())) {
            Some(told) => Err(GivenError::Slip { seen: (least * most).sqrt(), told }),
            None => Ok(None),
        };
    };
    let away = view.camera().map_or(f64::NAN, |c| -c.z);
    let (w, h) = (view.width as f64 - 1.0, view.height as f64 - 1.0);
    let seen = [(0.0, 0.0), (w, 0.0), (w, h), (0.0, h)].iter().all(|&(x, y)| view.to_mm(Px::new(x, y), 0.0).is_some());
    let tilt = view.tilt_deg();
    // Checked first: a camera at arm's length can be aslant, one in the sheet is nowhere.
    if !(if lens { USUAL } else { DISTANCE }).contains(&away) && away.is_finite() && tilt < STEEP {
        return Err(GivenError::Distance { away });
    }
    if !seen || tilt.is_nan() || tilt > STEEP || (least * UNEVEN).is_nan() || least * UNEVEN < most {
        return Err(GivenError::Aslant { tilt, px_per_mm: [least, most] });
    }
    Ok(Some(away).filter(|a| !USUAL.contains(a)))
}

#[cfg(test)]
mod tests {
    use super::super::{Lens, by_points};
    use super::*;
    use crate::shot::Tags;
    use nalgebra::{Rotation3, Vector3};
    use proptest::prelude::*;

    const SIZE: (usize, usize) = (1200, 900);

    fn view(tilt: f64, side: f64, roll: f64) -> View {
        let lens = Lens { k1: -0.02, ..Lens::ideal(1100.0, Px::new(599.5, 449.5)) };
        let turned = Rotation3::from_axis_angle(&Vector3::x_axis(), tilt) * Rotation3::from_axis_angle(&Vector3::y_axis(), side);
        let rotation = (turned * Rotation3::from_axis_angle(&Vector3::z_axis(), roll)).into_inner();
        let middle = rotation * Vector3::new(85.0, 85.0, 0.0);
        View::known(Model::Pinhole { lens, rotation, translation: Vector3::new(0.0, 0.0, 400.0) - middle }, SIZE.0, SIZE.1)
    }

    /// Places on a sheet seen as `view` has it.
    fn shown(view: &View, at: &[[f64; 2]]) -> Vec<(Px, Mm)> {
        at.iter().map(|&[x, y]| Mm::new(x, y)).map(|mm| (view.to_px(mm, 0.0), mm)).collect()
    }

    const FOUR: [[f64; 2]; 4] = [[0.0, 0.0], [170.0, 0.0], [170.0, 170.0], [0.0, 170.0]];
    const SIX: [[f64; 2]; 6] = [[0.0, 0.0], [170.0, 0.0], [170.0, 170.0], [0.0, 170.0], [40.0, 90.0], [120.0, 60.0]];

    fn fault(points: &[(Px, Mm)], tags: &Tags) -> Option<GivenError> {
        by_points(points, SIZE, tags, None).err()
    }

    proptest! {
        /// Exchanged axes, a mirrored picture and exchanged places are told for what they are, however the sheet lies.
        #[test]
        fn slips_are_told(tilt in -0.6..0.6f64, side in -0.4..0.4f64, roll in -3.1..3.1f64, six in any::<bool>(), slip in 0usize..6) {
            let right = shown(&view(tilt, side, roll), if six { &SIX } else { &FOUR });
            let tags = Tags::default();
            prop_assert_eq!(fault(&right, &tags), None);
            let mut wrong = right.clone();
            match slip {
                0 => wrong.iter_mut().for_each(|p| p.1 = Mm::new(p.1.y, p.1.x)),
                1 => wrong.iter_mut().for_each(|p| p.1.y = -p.1.y),
                2 => wrong.iter_mut().for_each(|p| p.0.x = 1199.0 - p.0.x),
                3 => (wrong[0].1, wrong[1].1) = (right[1].1, right[0].1),
                4 => (wrong[1].0, wrong[2].0) = (right[2].0, right[1].0),
                _ => wrong.iter_mut().for_each(|p| p.1 = Mm::new(p.1.x / 10.0, p.1.y / 10.0)),
            }
            let told = fault(&wrong, &tags);
            let as_it_is = match slip {
                0..3 => told == Some(GivenError::Behind),
                3 => told == Some(GivenError::Exchanged { numbers: [0, 1] }),
                4 => told == Some(GivenError::Exchanged { numbers: [1, 2] }),
                _ => matches!(told, Some(GivenError::Distance { .. })),
            };
            prop_assert!(as_it_is, "{slip}: {told:?}");
        }

        /// One number of six mistyped: its place is named, or none is; never another, never a view.
        #[test]
        fn a_mistyped_number_is_found(tilt in -0.5..0.5f64, side in -0.3..0.3f64, roll in -3.1..3.1f64, k in 0usize..6, by in 25.0..150.0f64, up in any::<bool>()) {
            let mut wrong = shown(&view(tilt, side, roll), &SIX);
            if up { wrong[k].1.y += by } else { wrong[k].1.x -= by }
            let told = fault(&wrong, &Tags::default());
            let named = match told {
                Some(GivenError::Misplaced { number }) => Some(number),
                Some(GivenError::Contradiction { number, .. }) => number,
                Some(GivenError::Unseeable | GivenError::Exchanged { .. } | GivenError::Aslant { .. }) => None,
                _ => { prop_assert!(false, "{told:?}"); None }
            };
            prop_assert!(named.is_none_or(|n| n == k), "{told:?}");
        }
    }

    /// One of four is wrong: four give a camera its pose and leave nothing to tell which by, so none is named.
    #[test]
    fn four_places_do_not_tell_which_is_wrong() {
        let tags = Tags { focal_px: Some(1100.0), camera: true, ..Tags::default() };
        let mut told = 0;
        for k in 0..4 {
            for by in [-60.0, -30.0, 30.0, 60.0] {
                let mut wrong = shown(&view(0.2, 0.05, 0.4), &FOUR);
                wrong[k].1.x += by;
                match fault(&wrong, &tags) {
                    Some(e @ GivenError::Contradiction { number: None, .. }) => {
                        told += 1;
                        assert!(e.to_string().contains("can't tell which"), "{e}");
                    }
                    other => assert!(matches!(other, None | Some(GivenError::Unseeable | GivenError::Aslant { .. })), "{other:?}"),
                }
            }
        }
        assert!(told > 8, "{told}");
    }

    /// Through a known lens, 400 mm away: centimetres make that 40, inches read from millimetres ten metres.
    #[test]
    fn another_unit_is_another_distance() {
        let tags = Tags { focal_px: Some(1100.0), camera: true, ..Tags::default() };
        let untold = Tags::default();
        for (by, lens, refused) in
            [(0.1, true, true), (1.0 / 25.4, false, true), (25.4, true, true), (25.4, false, false), (0.3, false, false)]
        {
            let points: Vec<_> =
                shown(&view(0.2, 0.0, 0.4), &SIX).into_iter().map(|(px, mm)| (px, Mm::new(mm.x * by, mm.y * by))).collect();
            match by_points(&points, SIZE, if lens { &tags } else { &untold }, None) {
                Err(GivenError::Distance { .. }) => assert!(refused, "{by}"),
                Ok(found) => assert!(!refused && found.doubts.iter().any(|d| d.code() == "unit-unsure"), "{by}: {:?}", found.doubts),
                Err(other) => panic!("{by}: {other}"),
            }
        }
    }

    #[test]
    fn px_that_lie_outside_are_told() {
        let mut points = shown(&view(0.2, 0.0, 0.0), &FOUR);
        points[1].0 = Px::new(200.0, 1000.0);
        assert_eq!(fault(&points, &Tags::default()), Some(GivenError::Outside { number: 1, size: SIZE, turned: true }));
        points[1].0 = Px::new(2000.0, 1000.0);
        assert_eq!(fault(&points, &Tags::default()), Some(GivenError::Outside { number: 1, size: SIZE, turned: false }));
    }

    #[test]
    fn a_view_nobody_takes_is_refused() {
        // Seen from 75° aslant, the horizon in the picture.
        let points = shown(&view(75f64.to_radians(), 0.0, 0.0), &SIX);
        assert!(matches!(fault(&points, &Tags::default()), Some(GivenError::Aslant { .. })), "{:?}", fault(&points, &Tags::default()));
        // On a scan, centimetres for millimetres, and the axes exchanged.
        let tags = Tags { px_per_mm: Some([4.0; 2]), ..Tags::default() };
        let scan = |by: f64| FOUR.map(|[x, y]| (Px::new(100.0 + 4.0 * x, 50.0 + 4.0 * y), Mm::new(by * x, by * y)));
        assert_eq!(fault(&scan(1.0), &tags), None);
        assert!(matches!(fault(&scan(0.1), &tags), Some(GivenError::Slip { .. })));
        let turned = scan(1.0).map(|(px, mm)| (px, Mm::new(mm.y, mm.x)));
        assert_eq!(fault(&turned, &tags), Some(GivenError::Behind));
    }
}
