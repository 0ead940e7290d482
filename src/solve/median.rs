//! The middle of many numbers, which no minority of wild ones moves.

use std::cmp::Ordering;

/// `f32` or `f64`, in their total order.
pub trait Real: Copy {
    /// The total order, in which even what is no number has its place.
    fn order(&self, other: &Self) -> Ordering;
}

impl Real for f32 {
    fn order(&self, other: &Self) -> Ordering {
        self.total_cmp(other)
    }
}

impl Real for f64 {
    fn order(&self, other: &Self) -> Ordering {
        self.total_cmp(other)
    }
}

/// The middle value (of two the greater); `None` of none. The values change places.
pub fn median<T: Real>(values: &mut [T]) -> Option<T> {
    let middle = values.len() / 2;
    (!values.is_empty()).then(|| *values.select_nth_unstable_by(middle, T::order).1)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn middles() {
        assert_eq!(median::<f64>(&mut []), None);
        assert_eq!(median(&mut [3.0f32]), Some(3.0));
        assert_eq!(median(&mut [4.0, 1.0, 3.0, 2.0]), Some(3.0));
        assert_eq!(median(&mut [9.0, 1.0, f64::NAN]), Some(9.0));
    }
}
