//! A small seeded source of numbers (splitmix64, Steele, Lea & Flood 2014), the same on every machine.

use std::sync::LazyLock;

/// Draws one number after the other from a seed.
#[derive(Clone, Debug)]
pub struct Random(u64);

/// Scrambles one number into another; the whole of splitmix64.
#[inline]
pub fn scramble(seed: u64) -> u64 {
    let mut z = seed.wrapping_add(0x9e37_79b9_7f4a_7c15);
    z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    z ^ (z >> 31)
}

impl Random {
    pub fn new(seed: u64) -> Self {
        Self(scramble(seed))
    }

    pub fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        scramble(self.0)
    }

    /// Evenly spread over `low..high`.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * (self.bits() >> 11) as f64 / (1u64 << 53) as f64
    }

    /// One of `0..n`.
    pub fn below(&mut self, n: usize) -> usize {
        (self.bits() % n as u64) as usize
    }

    /// True in a share `p` of the draws.
    pub fn chance(&mut self, p: f64) -> bool {
        self.between(0.0, 1.0) < p
    }

    /// One of the given things.
    pub fn pick<T: Clone>(&mut self, of: &[T]) -> T {
        of[self.below(of.len())].clone()
    }
}

/// 4096 evenly likely values of a normal spread with mean 0 and standard deviation 1.
pub static NORMAL: LazyLock<Vec<f32>> = LazyLock::new(|| {
    let quantile = |p: f64| {
        // Bisection on the distribution function; slow, but asked 4096 times in a run.
        let (mut low, mut high) = (-6.0, 6.0);
        for _ in 0..60 {
            let mid = 0.5 * (low + high);
            if 0.5 * (1.0 + erf(mid / std::f64::consts::SQRT_2)) < p { low = mid } else { high = mid }
        }
        0.5 * (low + high)
    };
    let mut all: Vec<f64> = (0..4096).map(|k| quantile((k as f64 + 0.5) / 4096.0)).collect();
    let rms = (all.iter().map(|v| v * v).sum::<f64>() / 4096.0).sqrt();
    all.iter_mut().for_each(|v| *v /= rms);
    all.into_iter().map(|v| v as f32).collect()
});

/// The error function, by its Taylor series near 0 and a continued fraction further out (Abramowitz & Stegun 7.1.5, 7.1.14).
pub fn erf(x: f64) -> f64 {
    let a = x.abs();
    let value = if a < 2.5 {
        let (mut term, mut sum) = (a, a);
        for n in 1..60 {
            term *= -a * a / n as f64;
            sum += term / (2 * n + 1) as f64;
        }
        sum * 2.0 / std::f64::consts::PI.sqrt()
    } else {
        let mut tail = a;
        for n in (1..60).rev() {
            tail = a + 0.5 * n as f64 / tail;
        }
        1.0 - (-a * a).exp() / (tail * std::f64::consts::PI.sqrt())
    };
    value.copysign(x)
}

/// Smooth unevenness of mean 0 within ±1 over the plane, one wave about as long as `size`.
#[inline]
pub fn cloudiness(seed: u64, x: f64, y: f64, size: f64) -> f32 {
    let (u, v) = (x / size, y / size);
    // Downwards by hand: a call of the C library for each of some hundred million is a tenth of the time a picture takes.
    let whole = |v: f64| v as i64 - i64::from(v < (v as i64) as f64);
    let (i, j) = (whole(u), whole(v));
    let ease = |t: f64| (t * t * (3.0 - 2.0 * t)) as f32;
    let (s, t) = (ease(u - i as f64), ease(v - j as f64));
    let at = |a: i64, b: i64| {
        let h = scramble(seed ^ (a as u64).wrapping_mul(0x8da6_b343) ^ (b as u64).wrapping_mul(0xd816_3841_0000_0001));
        (h >> 40) as f32 / (1u32 << 23) as f32 - 1.0
    };
    let top = at(i, j) + (at(i + 1, j) - at(i, j)) * s;
    let low = at(i, j + 1) + (at(i + 1, j + 1) - at(i, j + 1)) * s;
    top + (low - top) * t
}
