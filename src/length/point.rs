//! Points of the picture and of the sheet. There is no conversion between the two except through a view.

use nalgebra::{Point2, Vector2};
use serde::Serialize;
use serde::de::{Deserialize, Deserializer, Error, IgnoredAny, SeqAccess, Visitor};
use std::fmt;

/// Reads a list of two numbers and refuses a longer or a shorter one, whatever the format lets pass.
struct TwoNumbers;

impl<'de> Visitor<'de> for TwoNumbers {
    type Value = [f64; 2];

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("two numbers, like [1204, 1730]")
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut list: A) -> Result<[f64; 2], A::Error> {
        let x = list.next_element()?.ok_or_else(|| A::Error::invalid_length(0, &self))?;
        let y = list.next_element()?.ok_or_else(|| A::Error::invalid_length(1, &self))?;
        match list.next_element::<IgnoredAny>()? {
            None => Ok([x, y]),
            Some(_) => Err(A::Error::invalid_length(3, &self)),
        }
    }
}

macro_rules! point {
    ($(#[$doc:meta])* $name:ident) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
        #[serde(into = "[f64; 2]")]
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

        /// Exactly two numbers: a third one is a slip of the pen and no point.
        impl<'de> Deserialize<'de> for $name {
            fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
                from.deserialize_seq(TwoNumbers).map(Self::from)
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
