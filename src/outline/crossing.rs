//! Where two neighbouring edges cross: each is followed towards the corner from a distance, where blur has not
//! rounded it, and both are continued as the curves they are until they meet.

use super::side::Side;
use nalgebra::{Matrix2, Vector2};

/// Points nearer to a corner than this are rounded by blur and by the search, mm.
pub(super) const ROUNDED: f64 = 3.0;

/// Longest step towards the crossing, mm; one longer has left the region where the curves mean anything.
const STEP: f64 = 5.0;

/// A crossing of two sides.
#[derive(Clone, Copy, Debug)]
pub(super) struct Crossing {
    /// Where, mm.
    pub at: Vector2<f64>,
    /// Standard error in any direction together, mm.
    pub error: f64,
    /// Turn from the one side into the other, radians.
    pub turn: f64,
    /// Standard error of the turn, radians.
    pub turn_error: f64,
}

/// Continues both sides until they meet near `from`; `None` when they run side by side.
pub(super) fn cross(before: &Side, after: &Side, from: Vector2<f64>) -> Option<Crossing> {
    let (mut a, mut b) = (before.along(from), after.along(from));
    for _ in 0..20 {
        let gap = after.point(b) - before.point(a);
        let step = Matrix2::from_columns(&[before.slope(a), -after.slope(b)]).try_inverse()? * gap;
        let step = step * (STEP / step.amax().max(STEP));
        a += step.x;
        b += step.y;
        if step.amax() < 1e-9 {
            break;
        }
    }
    let at = before.point(a);
    let met = (at - after.point(b)).norm() < 1e-6;
    if !met {
        return None;
    }
    // Both slopes point away from the corner: the travel comes in against the first.
    let (into, out) = (-before.slope(a), after.slope(b));
    let turn = into.perp(&out).atan2(into.dot(&out));
    let ((ea, da), (eb, db)) = (before.errors, after.errors);
    let sine = turn.sin().abs().max(0.05);
    Some(Crossing { at, error: ea.hypot(eb) / sine, turn, turn_error: da.hypot(db) })
}
