//! Views of pictures without a ruled sheet: by points whose places are known, or by a scanner's own resolution.

use super::camera::{self, Pair};
use super::prior::{FocalFrom, Prior};
use super::refused::GivenError;
use super::solve::INLIER;
use super::{Bend, Field, Lens, Model, Solved, View, check, sense};
use crate::length::{Mm, Px};
use crate::proof::Doubt;
use crate::shot::Tags;
use crate::solve::{Normal, TWO_SIDED};
use nalgebra::{DMatrix, DVector};

/// How well a person points at a place in a picture, px, and knows where it is on the sheet, mm (common practice, no source:
/// a pixel, and a quarter of a millimetre with a rule).
const POINTED: f64 = 1.0;
const PLACED: f64 = 0.25;
/// Relative standard error of a scanner's scale along each axis when nothing on the bed checks it, and how far its rows lean: of
/// four scans of ruled paper three were within 0.3 % of each other along both axes, one was 0.9 % short along one (paper feed).
const DPI_ERROR: f64 = 0.004;
const LEAN: f64 = 0.001;
/// Errors of k1 and k2 about zero where a handful of points can't tell them: phones take their lenses' distortion out before they
/// save, and leave 0.5 % at the corners (common practice, no source).
const BENDS: (f64, f64) = (0.02, 0.005);
/// Fewest points for a photograph: four fix a plane's perspective. A scan needs two.
pub(super) const PHOTO: usize = 4;
pub(super) const SCAN: usize = 2;
/// From here on points check each other.
const CHECKED: usize = 6;
/// Points nearer to one line than this share of their spread fix no plane.
const THIN: f64 = 0.05;

/// Largest glass of a flatbed, A3+ (329 × 483 mm), with a little over, mm (common practice, no source).
const GLASS: [f64; 2] = [345.0, 500.0];
/// What programs write that do not know a resolution, dots to the inch (common practice, no source).
const NOT_KNOWN: [f64; 2] = [72.0, 96.0];

/// The view of a scan by the resolution its file gives; the sheet's origin is the picture's middle.
///
/// # Errors
/// The file gives none, or one that makes the picture larger than any flatbed's glass.
pub fn by_dpi(size: (usize, usize), tags: &Tags) -> Result<Solved, GivenError> {
    let [x, y] = tags.px_per_mm.ok_or(GivenError::NoResolution)?;
    let glass = [size.0 as f64 / x, size.1 as f64 / y];
    if glass[0].min(glass[1]) > GLASS[0] || glass[0].max(glass[1]) > GLASS[1] {
        return Err(GivenError::Glass { px_per_mm: x, glass });
    }
    let middle = [(size.0 as f64 - 1.0) / 2.0, (size.1 as f64 - 1.0) / 2.0];
    let model = Model::Scan { matrix: [x, 0.0, 0.0, y, middle[0], middle[1]] };
    let errors = [DPI_ERROR * x, LEAN * x, LEAN * y, DPI_ERROR * y, 0.0, 0.0];
    let covariance = DMatrix::from_diagonal(&DVector::from_iterator(6, errors.map(|e| e * e)));
    let view = View { model, covariance, buckle: None, bend: Bend::default(), width: size.0, height: size.1 };
    let not_known = NOT_KNOWN.iter().any(|n| [x, y].iter().all(|v| (25.4 * v - n).abs() < 0.1));
    let doubts = vec![Doubt::ScaleByDpi { dpi: [25.4 * x, 25.4 * y], share: TWO_SIDED * DPI_ERROR, unused: None, not_known }];
    Ok(solved(view, &[], None, 0.0, doubts))
}

/// The view in which each picture point shows the place given with it. A picture whose file gives a scanner's resolution is
/// taken for a scan, any other for a photograph; `lens` is one solved before, as in [`super::Settings`].
///
/// # Errors
/// Too few points, points in one line, points that contradict each other or that no camera would see so.
pub fn by_points(points: &[(Px, Mm)], size: (usize, usize), tags: &Tags, lens: Option<(Lens, [f64; 7])>) -> Result<Solved, GivenError> {
    let scan = !tags.camera && tags.px_per_mm.is_some() && lens.is_none();
    let given = points.len();
    if given < if scan { SCAN } else { PHOTO } {
        return Err(GivenError::TooFew { given });
    }
    let scale = spread(points.iter().map(|p| p.0.into())).0 / spread(points.iter().map(|p| p.1.into())).0;
    if !scale.is_finite() || scale <= 0.0 || (!scan && thin(points)) {
        return Err(GivenError::OneLine);
    }
    let error = POINTED.hypot(PLACED * scale);
    let pairs: Vec<Pair> = points.iter().map(|&(px, mm)| Pair { mm, px, error }).collect();
    let fitted = |pairs: &[Pair]| if scan { Ok((affine(pairs, size)?, None, 0.0)) } else { photo(pairs, size, tags, lens) };
    let suspects = sense::suspects(points, size)?;
    let agrees = |pairs: &[Pair]| fitted(pairs).ok().map(|f| f.0).filter(|view| worst_of(view, pairs).is_none());
    let fit = fitted(&pairs);
    let worst = fit.as_ref().ok().and_then(|f| worst_of(&f.0, &pairs));
    if !suspects.is_empty() || worst.is_some() {
        let checked = given >= if scan { PHOTO } else { CHECKED };
        let alone = at_fault(&pairs, agrees).filter(|_| checked).map(contradiction);
        let exchanged = exchanged(&pairs, &suspects, agrees).map(|numbers| GivenError::Exchanged { numbers });
        let any = worst.filter(|w| suspects.is_empty() && w.1.is_finite()).map(|(_, off)| GivenError::Contradiction { number: None, off });
        return Err(exchanged.or(alone).or(any).unwrap_or(GivenError::Unseeable));
    }
    let (view, from, share) = fit?;
    let told = from.is_some_and(|f| f != FocalFrom::Assumed);
    let away = sense::likely(&view, points, tags.px_per_mm.filter(|_| scan), told)?;
    let mut doubts: Vec<Doubt> = away.map(|away| Doubt::UnitUnsure { away: Some(away), size: None }).into_iter().collect();
    if given < if scan { PHOTO } else { CHECKED } {
        doubts.push(Doubt::FewPlaces { places: given });
    }
    if from == Some(FocalFrom::Assumed) {
        doubts.push(Doubt::FocalAssumed { share, tilt: view.tilt_deg() });
    }
    Ok(solved(view, &pairs, from, share, doubts))
}

/// Two places whose exchange makes all agree.
fn exchanged(pairs: &[Pair], suspects: &[usize], agrees: impl Fn(&[Pair]) -> Option<View>) -> Option<[usize; 2]> {
    let two = suspects.iter().enumerate().flat_map(|(k, &a)| suspects[k + 1..].iter().map(move |&b| [a, b]));
    let mut found = two.filter(|&[a, b]| {
        let mut other = pairs.to_vec();
        (other[a].mm, other[b].mm) = (pairs[b].mm, pairs[a].mm);
        sense::in_order(&other.iter().map(|p| (p.px, p.mm)).collect::<Vec<_>>()) && agrees(&other).is_some()
    });
    found.next().filter(|_| found.next().is_none())
}

/// The one place without which the others agree, and how far from there it is, px. The least squares of all bend towards it. `None` where
/// the others agree without any of several.
fn at_fault(pairs: &[Pair], agrees: impl Fn(&[Pair]) -> Option<View>) -> Option<(usize, f64)> {
    let mut alone = (0..pairs.len()).filter_map(|k| {
        let others: Vec<Pair> = pairs.iter().enumerate().filter(|p| p.0 != k).map(|p| *p.1).collect();
        agrees(&others).map(|view| (k, view.to_px(pairs[k].mm, 0.0).distance(pairs[k].px)))
    });
    alone.next().filter(|_| alone.next().is_none())
}

/// What is said of a place that is so far off, px; one behind the camera is no number of pixels off.
fn contradiction((number, off): (usize, f64)) -> GivenError {
    if off.is_nan() { GivenError::Misplaced { number } } else { GivenError::Contradiction { number: Some(number), off } }
}

/// The point that lies furthest from where the view has it, and how far, px, when that is too far for a hand.
fn worst_of(view: &View, pairs: &[Pair]) -> Option<(usize, f64)> {
    let off = pairs.iter().map(|p| view.to_px(p.mm, 0.0).distance(p.px)).enumerate();
    off.max_by(|a, b| a.1.total_cmp(&b.1)).filter(|&(k, off)| off.is_nan() || off > INLIER * pairs[k].error)
}

fn photo(
    pairs: &[Pair],
    size: (usize, usize),
    tags: &Tags,
    lens: Option<(Lens, [f64; 7])>,
) -> Result<(View, Option<FocalFrom>, f64), GivenError> {
    let prior = match lens {
        Some((lens, errors)) => Prior { lens, errors, from: FocalFrom::LensProfile },
        None => {
            let mut prior = Prior::new(size.0, size.1, tags);
            (prior.errors[3], prior.errors[4]) = BENDS;
            prior
        }
    };
    let fit = camera::fit(pairs, &prior, None).ok_or(GivenError::OneLine)?;
    let covariance = fit.best.normal.covariance().ok_or(GivenError::OneLine)?;
    let share = covariance[(0, 0)].max(0.0).sqrt() / fit.best.state.lens.focal;
    Ok((
        View { model: fit.best.state.model(), covariance, buckle: None, bend: Bend::default(), width: size.0, height: size.1 },
        Some(prior.from),
        share,
    ))
}

/// A scanner's map by weighted least squares; that its axes have about one scale and stand about upright counts as two more
/// observations, which is all there is to go by with two points.
fn affine(pairs: &[Pair], size: (usize, usize)) -> Result<View, GivenError> {
    let scale = spread(pairs.iter().map(|p| p.px.into())).0 / spread(pairs.iter().map(|p| p.mm.into())).0;
    let mut n = Normal::zero(6);
    for p in pairs {
        let w = 1.0 / (p.error * p.error);
        n.add_at(&[0, 1, 4], &[p.mm.x, p.mm.y, 1.0], -p.px.x, w);
        n.add_at(&[2, 3, 5], &[p.mm.x, p.mm.y, 1.0], -p.px.y, w);
    }
    n.add_at(&[0, 3], &[1.0, -1.0], 0.0, (DPI_ERROR * scale).powi(-2) / 2.0);
    n.add_at(&[1, 2], &[1.0, 1.0], 0.0, (LEAN * scale).powi(-2));
    let covariance = n.covariance().ok_or(GivenError::OneLine)?;
    let x: DVector<f64> = -(&covariance * &n.gradient);
    let model = Model::Scan { matrix: std::array::from_fn(|k| x[k]) };
    Ok(View { model, covariance, buckle: None, bend: Bend::default(), width: size.0, height: size.1 })
}

fn solved(view: View, pairs: &[Pair], focal_from: Option<FocalFrom>, focal_error: f64, doubts: Vec<Doubt>) -> Solved {
    let off: f64 = pairs.iter().map(|p| (view.to_px(p.mm, 0.0) - p.px).norm_squared()).sum();
    let middle = [view.middle().unwrap_or_default()];
    let places = if pairs.is_empty() { middle.to_vec() } else { pairs.iter().map(|p| p.mm).collect() };
    let px_per_mm =
        places.iter().map(|p| view.local(*p, 0.0).px_per_mm()).fold([f64::INFINITY, 0.0f64], |a, b| [a[0].min(b[0]), a[1].max(b[1])]);
    Solved {
        nodes: pairs.len(),
        outliers: 0,
        rms_px: (off / pairs.len().max(1) as f64).sqrt(),
        held_out: None,
        coverage: if pairs.len() < 3 { 0.0 } else { check::coverage(pairs.iter().map(|p| p.px), view.width, view.height) },
        focal_from,
        focal_error,
        px_per_mm,
        joined: None,
        pitch: None,
        field: Field { most_mm: 0.0, at: Mm::default(), node: [0, 0] },
        doubts,
        view,
    }
}

/// Root mean square distance of points from their middle, and the same across their main direction.
fn spread(points: impl Iterator<Item = [f64; 2]>) -> (f64, f64) {
    let p: Vec<[f64; 2]> = points.collect();
    let n = p.len().max(1) as f64;
    let m = [0, 1].map(|k| p.iter().map(|p| p[k]).sum::<f64>() / n);
    let sum = |a: usize, b: usize| p.iter().map(|p| (p[a] - m[a]) * (p[b] - m[b])).sum::<f64>() / n;
    let (xx, xy, yy) = (sum(0, 0), sum(0, 1), sum(1, 1));
    let least = 0.5 * (xx + yy) - (0.25 * (xx - yy).powi(2) + xy * xy).sqrt();
    ((xx + yy).sqrt(), least.max(0.0).sqrt())
}

/// Whether points lie nearly in one line, in the picture or on the sheet, or all but one of them do.
fn thin(points: &[(Px, Mm)]) -> bool {
    let flat = |keep: &dyn Fn(usize) -> bool| {
        let chosen = || points.iter().enumerate().filter(|p| keep(p.0)).map(|p| *p.1);
        let (a, b) = (spread(chosen().map(|p| p.0.into())), spread(chosen().map(|p| p.1.into())));
        a.1 < THIN * a.0 || b.1 < THIN * b.0
    };
    flat(&|_| true) || (points.len() == PHOTO && (0..PHOTO).any(|out| flat(&|k| k != out)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::{Rotation3, Vector3};

    fn view() -> View {
        let rotation = Rotation3::new(Vector3::new(0.25, -0.1, 0.05)).into_inner();
        let lens = Lens::ideal(1100.0, Px::new(599.5, 449.5));
        View::known(Model::Pinhole { lens, rotation, translation: Vector3::new(-80.0, -90.0, 500.0) }, 1200, 900)
    }

    const PLACES: [Mm; 4] = [Mm::new(0.0, 0.0), Mm::new(170.0, 0.0), Mm::new(170.0, 170.0), Mm::new(0.0, 170.0)];

    #[test]
    fn four_marks_give_the_view_between_them() {
        let truth = view();
        let points = PLACES.map(|mm| (truth.to_px(mm, 0.0), mm));
        let found = by_points(&points, (1200, 900), &Tags::default(), None).expect("a view");
        for at in [Mm::new(80.0, 90.0), Mm::new(30.0, 140.0)] {
            let seen = found.view.to_mm(truth.to_px(at, 0.0), 0.0).expect("on the sheet");
            assert!(seen.distance(at) < 0.3, "{seen:?}");
            let error = found.view.error_at(at, 0.0).expect("maps");
            assert!(error[(0, 0)].sqrt() > 0.1, "pointing by hand is not exact");
        }
        assert!(found.doubts.iter().any(|d| d.code() == "few-places"));
        // Six points check each other: one that is 20 px off is named.
        let more = [(20.0, 90.0), (150.0, 60.0), (80.0, 150.0)].map(|(x, y)| Mm::new(x, y));
        let mut six: Vec<_> = PLACES.iter().chain(&more).map(|&mm| (truth.to_px(mm, 0.0), mm)).collect();
        assert!(by_points(&six, (1200, 900), &Tags::default(), None).is_ok_and(|s| s.doubts.iter().all(|d| d.code() != "few-places")));
        six[5].0.x += 60.0;
        let told = by_points(&six, (1200, 900), &Tags::default(), None).map(|s| s.nodes);
        assert!(matches!(told, Err(GivenError::Contradiction { number: Some(5), .. })), "{told:?}");
    }

    #[test]
    fn a_scan_needs_two() {
        let tags = Tags { px_per_mm: Some([4.0, 4.0]), ..Tags::default() };
        let two = [(Px::new(100.0, 50.0), Mm::new(0.0, 0.0)), (Px::new(900.0, 60.0), Mm::new(200.0, 0.0))];
        let found = by_points(&two, (1000, 1400), &tags, None).expect("a view");
        let at = found.view.to_mm(Px::new(500.0, 55.0), 0.0).expect("on the bed");
        assert!(at.distance(Mm::new(100.0, 0.0)) < 1e-6);
        // Across, the scale is known by the other axis only: 0.4 %.
        let error = |p: Mm| found.view.error_at(p, 0.0).expect("maps");
        assert!(error(Mm::new(100.0, 250.0))[(1, 1)].sqrt() > 0.9 && error(Mm::new(100.0, 0.0))[(1, 1)].sqrt() < 0.4);
        assert_eq!(by_points(&two[..1], (1000, 1400), &tags, None).map(|s| s.nodes), Err(GivenError::TooFew { given: 1 }));
        assert_eq!(by_points(&two, (1000, 1400), &Tags::default(), None).map(|s| s.nodes), Err(GivenError::TooFew { given: 2 }));
        let line = [0.0, 50.0, 100.0, 150.0].map(|x| (Px::new(100.0 + 4.0 * x, 50.0), Mm::new(x, 0.0)));
        assert_eq!(by_points(&line, (1000, 1400), &Tags::default(), None).map(|s| s.nodes), Err(GivenError::OneLine));
    }

    /// 300 dots to the inch are 11811 to the metre (PNG specification, pHYs); nothing checks it, so 0.8 % is carried.
    #[test]
    fn by_the_scanners_word() {
        let found = by_dpi((2480, 3508), &Tags { px_per_mm: Some([11.811; 2]), ..Tags::default() }).expect("a view");
        let (a, b) = (Px::new(0.0, 0.0), Px::new(2479.0, 3507.0));
        let [a, b] = [a, b].map(|p| found.view.to_mm(p, 0.0).expect("on the bed"));
        // A4 is 210 × 297 mm (ISO 216).
        assert!((b.x - a.x - 209.9).abs() < 0.1 && (b.y - a.y - 296.9).abs() < 0.1, "{a:?} {b:?}");
        let error = found.view.error_at(b, 0.0).expect("maps");
        assert!((error[(0, 0)].sqrt() - DPI_ERROR * b.x).abs() < 0.2);
        assert_eq!(by_dpi((100, 100), &Tags::default()).map(|s| s.nodes), Err(GivenError::NoResolution));
    }
}
