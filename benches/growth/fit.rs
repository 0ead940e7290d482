//! How steeply something grows: a line with a constant, and the power that would fit better.

/// What was laid through the values, each weighed by itself (so that the small ones count as much as the large).
pub struct Fit {
    /// a and b of a + b x.
    pub constant: f64,
    pub slope: f64,
    /// p of the best a + b xᵖ with a, b ≥ 0.
    pub exponent: f64,
    /// The last value over what the line says there.
    pub last_over_line: f64,
    /// The largest value over the smallest.
    pub grows: f64,
}

/// Powers tried.
const POWERS: std::ops::RangeInclusive<usize> = 5..=300;

impl Fit {
    pub fn of(values: &[(f64, f64)]) -> Self {
        let Some(last) = values.last() else { return Self { constant: 0.0, slope: 0.0, exponent: 0.0, last_over_line: 1.0, grows: 1.0 } };
        let (least, most) = values.iter().fold((f64::INFINITY, 0.0_f64), |(a, b), v| (a.min(v.1), b.max(v.1)));
        let (constant, slope, _) = power(values, 1.0);
        let powers = POWERS.map(|k| k as f64 / 100.0);
        let exponent = powers.min_by(|a, b| power(values, *a).2.total_cmp(&power(values, *b).2)).unwrap_or(1.0);
        Self { constant, slope, exponent, last_over_line: last.1 / (constant + slope * last.0), grows: most / least }
    }
}

/// The best a + b xᵖ with neither below 0, and the sum of its squared misses as shares of the values.
fn power(values: &[(f64, f64)], p: f64) -> (f64, f64, f64) {
    let [mut s1, mut sx, mut sxx, mut sy, mut sxy] = [0.0; 5];
    for (x, y) in values {
        let (x, w) = (x.powf(p), 1.0 / (y * y));
        s1 += w;
        sx += w * x;
        sxx += w * x * x;
        sy += w * y;
        sxy += w * x * y;
    }
    let det = s1 * sxx - sx * sx;
    let both = ((sxx * sy - sx * sxy) / det, (s1 * sxy - sx * sy) / det);
    let (a, b) = match both {
        (a, b) if a >= 0.0 && b >= 0.0 => (a, b),
        (a, _) if a < 0.0 => (0.0, sxy / sxx),
        _ => (sy / s1, 0.0),
    };
    let misses = values.iter().map(|(x, y)| ((a + b * x.powf(p)) / y - 1.0).powi(2)).sum();
    (a, b, misses)
}
