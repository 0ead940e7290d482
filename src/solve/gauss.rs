//! The normal distribution: how much of it lies within a distance, and mixtures of several.

/// 95 % of a normal distribution lie within so many standard deviations of its middle.
pub const TWO_SIDED: f64 = 1.96;

/// Share of a normal distribution of standard deviation 1 that lies within ±`x`.
///
/// Abramowitz & Stegun (1964), formula 7.1.26 for the error function; wrong by less than 1.5e-7.
pub fn within(x: f64) -> f64 {
    let z = x.abs() / std::f64::consts::SQRT_2;
    let t = 1.0 / (1.0 + 0.3275911 * z);
    let poly = t * (0.254829592 + t * (-0.284496736 + t * (1.421413741 + t * (-1.453152027 + t * 1.061405429))));
    1.0 - poly * (-z * z).exp()
}

/// The distance within which a `share` of points lies when each has its own standard error.
///
/// Returns 0 for no points; errors that are not finite are left out.
pub fn mixture_bound(errors: &[f64], share: f64) -> f64 {
    let errors: Vec<f64> = errors.iter().copied().filter(|e| e.is_finite()).collect();
    let widest = errors.iter().fold(0.0, |a: f64, &b| a.max(b));
    if widest <= 0.0 {
        return 0.0;
    }
    let covered = |b: f64| errors.iter().map(|&e| if e > 0.0 { within(b / e) } else { 1.0 }).sum::<f64>() / errors.len() as f64;
    // Eight standard errors hold everything that a double can tell from one.
    let (mut lo, mut hi) = (0.0, 8.0 * widest);
    for _ in 0..60 {
        let middle = 0.5 * (lo + hi);
        if covered(middle) < share { lo = middle } else { hi = middle }
    }
    hi
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 68.27, 95.45 and 99.73 % within one, two and three standard deviations (any table of the normal distribution).
    #[test]
    fn one_two_three_sigma() {
        for (x, share) in [(1.0, 0.6826895), (2.0, 0.9544997), (3.0, 0.9973002)] {
            assert!((within(x) - share).abs() < 1e-6);
        }
    }

    #[test]
    fn a_mixture_lies_between_its_parts() {
        assert!((mixture_bound(&[0.5; 7], 0.95) - 0.97998).abs() < 1e-4);
        let mixed = mixture_bound(&[0.1, 1.0], 0.95);
        assert!(mixed > 1.6 && mixed < 1.96);
        assert_eq!(mixture_bound(&[], 0.95), 0.0);
    }
}
