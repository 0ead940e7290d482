//! Errors by source, at the worst and at the median place of all outlines.
//!
//! What the view is not known to is split by Schur's complement: the pose's covariance with the lens held is what the nodes'
//! own errors leave (*grid*), the rest is what the lens adds. Both are carried to each place of the outline with rigid motion
//! taken out, as for the bound. The sheet's pitch scales everything alike: it is told apart from the bound of the shape.

use super::places::{Place, places};
use super::print::Unknown;
use super::tracing::{Budget, Sources};
use crate::length::Mm;
use crate::outline::Outline;
use crate::sheet::UNMEASURED;
use crate::solve::TWO_SIDED;
use crate::view::{Model, View};
use kurbo::Shape;
use nalgebra::DMatrix;

/// Places of one outline that one view sees.
pub(super) struct Group<'a> {
    pub places: Vec<&'a Place>,
    /// Middle of the outline.
    pub middle: Mm,
    pub view: &'a View,
}

/// The budget of outlines seen at `height` ± `height_error` mm above a sheet.
pub(super) fn budget(outlines: &[&Outline], view: &View, height: (f64, f64), sheet: Unknown) -> Budget {
    let every: Vec<(Vec<Place>, &&Outline)> = outlines.iter().map(|o| (places(o), o)).collect();
    let groups = every.iter().map(|own| {
        let (all, outline) = own;
        let b = outline.path.bounding_box().center();
        let seen = all.iter().filter(|p| !outline.edges[p.edge].cut).collect();
        Group { places: seen, middle: Mm::new(b.x, b.y), view }
    });
    of(&groups.collect::<Vec<_>>(), height, sheet)
}

/// The same of places that are seen by several views.
pub(super) fn of(groups: &[Group], height: (f64, f64), sheet: Unknown) -> Budget {
    let mut all: Vec<[f64; 5]> = Vec::new();
    let mut farthest = 0.0f64;
    for Group { places, middle, view } in groups {
        let points: Vec<Mm> = places.iter().map(|p| p.at).collect();
        let whole = view.shape_errors(&points, height.0, height.1);
        let held = lens_held(view).shape_errors(&points, height.0, 0.0);
        for (k, p) in places.iter().enumerate() {
            let across = |of: &Option<crate::view::ShapeErrors>| {
                of.as_ref().map_or(0.0, |e| (p.normal.transpose() * e.view[k] * p.normal)[(0, 0)].max(0.0))
            };
            let grid = across(&held);
            let lens = (across(&whole) - grid).max(0.0);
            let lean = whole.as_ref().map_or(0.0, |e| e.height[k].dot(&p.normal).abs());
            let arm = p.at - *middle;
            let scale = (sheet.pitch[0] * arm.x).hypot(sheet.pitch[1] * arm.y).hypot(sheet.lean * arm.y);
            farthest = farthest.max(arm.norm());
            all.push([scale, grid.sqrt(), lens.sqrt(), p.edge_error, lean].map(|e| TWO_SIDED * e));
        }
    }
    let rank = |of: fn(&[f64]) -> f64| -> Sources {
        let [sheet, grid, lens, edge, thickness] = std::array::from_fn(|k| {
            let mut v: Vec<f64> = all.iter().map(|p| p[k]).collect();
            v.sort_by(f64::total_cmp);
            of(&v)
        });
        Sources { sheet, grid, lens, edge, thickness }
    };
    let not_measured = TWO_SIDED * UNMEASURED * farthest;
    Budget { not_measured, worst: rank(|v| v.last().copied().unwrap_or(0.0)), median: rank(|v| v.get(v.len() / 2).copied().unwrap_or(0.0)) }
}

/// The view with its lens taken as known: what is left is the pose's covariance given the lens.
fn lens_held(view: &View) -> View {
    /// Numbers of the lens, before those of the pose.
    const LENS: usize = 7;
    let c = &view.covariance;
    let n = c.nrows();
    let mut held = c.clone();
    if matches!(view.model, Model::Pinhole { .. }) && n > LENS {
        let own = c.view((0, 0), (LENS, LENS)).into_owned();
        let across = c.view((LENS, 0), (n - LENS, LENS)).into_owned();
        // Numbers differ by eleven orders of magnitude: scaled to unit diagonal before they are inverted.
        let scale = DMatrix::from_diagonal(&own.diagonal().map(|d| if d > 0.0 { 1.0 / d.sqrt() } else { 0.0 }));
        let inverse = (&scale * own * &scale).pseudo_inverse(1e-12).map(|i| &scale * i * &scale);
        held.fill(0.0);
        if let Ok(inverse) = inverse {
            let pose = c.view((LENS, LENS), (n - LENS, n - LENS)) - &across * inverse * across.transpose();
            held.view_mut((LENS, LENS), (n - LENS, n - LENS)).copy_from(&pose);
        }
    }
    View { covariance: held, ..view.clone() }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::length::Px;
    use crate::view::Lens;
    use nalgebra::{Matrix3, Vector3};

    fn view(focal_error: f64) -> View {
        let model = Model::Pinhole {
            lens: Lens::ideal(3000.0, Px::new(2000.0, 1500.0)),
            rotation: Matrix3::identity(),
            translation: Vector3::new(0.0, 0.0, 1000.0),
        };
        let mut view = View::known(model, 4001, 3001);
        // Distance known to 0.5 mm for a given focal length, and tied to it: both are told by the size of the squares.
        let by_focal = 1000.0 / 3000.0;
        view.covariance[(0, 0)] = focal_error.powi(2);
        view.covariance[(12, 0)] = by_focal * focal_error.powi(2);
        view.covariance[(0, 12)] = view.covariance[(12, 0)];
        view.covariance[(12, 12)] = 0.25 + (by_focal * focal_error).powi(2);
        view
    }

    /// Seen from straight above, distance and focal length make one scale: given the lens, 0.5 mm in 1000 is 0.05 %; the lens
    /// adds nothing, for what it changes the distance takes back.
    #[test]
    fn the_lens_is_split_from_the_pose() {
        let held = lens_held(&view(30.0));
        assert!((held.covariance[(12, 12)] - 0.25).abs() < 1e-9 && held.covariance[(0, 0)] == 0.0);
        let points = [Mm::new(-100.0, 0.0), Mm::new(100.0, 0.0), Mm::new(0.0, 100.0), Mm::new(0.0, -100.0)];
        let all = view(30.0).shape_errors(&points, 0.0, 0.0).expect("maps");
        let own = held.shape_errors(&points, 0.0, 0.0).expect("maps");
        assert!((own.view[1][(0, 0)].sqrt() - 0.05).abs() < 1e-6, "{}", own.view[1]);
        assert!((all.view[1] - own.view[1]).norm() < 1e-6, "{} {}", all.view[1], own.view[1]);
    }
}
