//! Points of the picture and of the sheet. There is no conversion between the two except through a view.

use nalgebra::{Point2, Vector2};
use serde::{Deserialize, Serialize};

macro_rules! point {
    ($(#[$doc:meta])* $name:ident) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
        #[serde(from = "[f64; 2]", into = "[f64; 2]")]
        pub struct $name {
            /// To the right.
            pub x: f64,
            /// Down.
            pub y: f64,
        }

        impl $name {
            /// The point at `x`, `y`.
            pub const fn new(x: f64, y: f64) -> Self {
                Self { x, y }
            }

            /// Straight-line distance to `other`.
            pub fn distance(self, other: Self) -> f64 {
                (self - other).norm()
            }

            /// The point a share `t` of the way to `other` (0 here, 1 there).
            pub fn lerp(self, other: Self, t: f64) -> Self {
                self + (other - self) * t
            }

            /// True when both coordinates are finite numbers.
            pub fn is_finite(self) -> bool {
                self.x.is_finite() && self.y.is_finite()
            }

            /// The same numbers as a plain column, for linear algebra.
            pub fn vector(self) -> Vector2<f64> {
                Vector2::new(self.x, self.y)
            }
        }

        impl From<[f64; 2]> for $name {
            fn from([x, y]: [f64; 2]) -> Self {
                Self { x, y }
            }
        }

        impl From<$name> for [f64; 2] {
            fn from(p: $name) -> Self {
                [p.x, p.y]
            }
        }

        impl From<Point2<f64>> for $name {
            fn from(p: Point2<f64>) -> Self {
                Self { x: p.x, y: p.y }
            }
        }

        impl From<Vector2<f64>> for $name {
            fn from(v: Vector2<f64>) -> Self {
                Self { x: v.x, y: v.y }
            }
        }

        impl std::ops::Sub for $name {
            type Output = Vector2<f64>;
            fn sub(self, other: Self) -> Vector2<f64> {
                Vector2::new(self.x - other.x, self.y - other.y)
            }
        }

        impl std::ops::Add<Vector2<f64>> for $name {
            type Output = Self;
            fn add(self, v: Vector2<f64>) -> Self {
                Self::new(self.x + v.x, self.y + v.y)
            }
        }

        impl std::ops::Sub<Vector2<f64>> for $name {
            type Output = Self;
            fn sub(self, v: Vector2<f64>) -> Self {
                Self::new(self.x - v.x, self.y - v.y)
            }
        }
    };
}

point! {
    /// A point of the upright picture in pixels; whole numbers are pixel centres.
    Px
}
point! {
    /// A point of the sheet, or of a piece, in millimetres.
    Mm
}
