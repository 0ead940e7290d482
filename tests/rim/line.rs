//! Distance to a closed line.

use ruboff::length::Px;

/// Distance of a point to a closed line.
pub fn to_line(line: &[Px], p: Px) -> f64 {
    (0..line.len())
        .map(|k| {
            let (a, b) = (line[k], line[(k + 1) % line.len()]);
            let ab = b - a;
            let t = ((p - a).dot(&ab) / ab.norm_squared().max(1e-12)).clamp(0.0, 1.0);
            p.distance(a.lerp(b, t))
        })
        .fold(f64::MAX, f64::min)
}
