//! What stands on a page, resolved: lines, areas and words in millimetres, x right, y down. Writers stay dumb.

use super::letters::Letters;
use kurbo::{Affine, BezPath, Point, Rect, Shape, Vec2};

/// What something is drawn with.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(in crate::write) enum Ink {
    /// 0 black, 1 white.
    Grey(f64),
    /// Red, green and blue as screens show them (sRGB).
    Colour([u8; 3]),
}

impl Ink {
    pub const BLACK: Self = Self::Grey(0.0);
}

/// How a line is drawn. Kinds of line are told apart by weight and dash, never by colour.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(in crate::write) struct Pen {
    /// Width, mm.
    pub width: f64,
    /// Lengths of dashes and gaps, mm; a whole line when empty.
    pub dash: &'static [f64],
    pub ink: Ink,
}

impl Pen {
    pub const fn new(width: f64, dash: &'static [f64]) -> Self {
        Self { width, dash, ink: Ink::BLACK }
    }

    pub const fn grey(self, grey: f64) -> Self {
        self.ink(Ink::Grey(grey))
    }

    pub const fn ink(self, ink: Ink) -> Self {
        Self { ink, ..self }
    }
}

/// Words.
#[derive(Clone, Debug, PartialEq)]
pub(in crate::write) struct Words {
    /// Left end of the baseline.
    pub at: Point,
    /// Size of the letters (em), mm.
    pub size: f64,
    /// Direction of the baseline, radians clockwise as seen from the page's right.
    pub turn: f64,
    pub text: String,
    pub ink: Ink,
}

/// One thing drawn.
#[derive(Clone, Debug, PartialEq)]
pub(in crate::write) enum Item {
    Stroke { path: BezPath, pen: Pen },
    Fill { path: BezPath, ink: Ink },
    Words(Words),
}

/// Things drawn, in order.
#[derive(Clone, Debug, Default, PartialEq)]
pub(in crate::write) struct Drawing {
    pub items: Vec<Item>,
}

/// Share of the size by which letters reach above the baseline, and below it.
pub(in crate::write) const ABOVE: f64 = 0.76;
pub(in crate::write) const BELOW: f64 = 0.24;

impl Drawing {
    pub fn stroke(&mut self, path: BezPath, pen: Pen) {
        self.items.push(Item::Stroke { path, pen });
    }

    pub fn fill(&mut self, path: BezPath, ink: Ink) {
        self.items.push(Item::Fill { path, ink });
    }

    pub fn line(&mut self, a: impl Into<Point>, b: impl Into<Point>, pen: Pen) {
        self.stroke(kurbo::Line::new(a, b).to_path(0.1), pen);
    }

    pub fn rect(&mut self, r: Rect, pen: Pen) {
        self.stroke(r.to_path(0.1), pen);
    }

    /// Words with the left end of their baseline at a place.
    pub fn words(&mut self, at: impl Into<Point>, size: f64, text: impl Into<String>) {
        self.items.push(Item::Words(Words { at: at.into(), size, turn: 0.0, text: text.into(), ink: Ink::BLACK }));
    }

    /// Words about the middle of their height and length, turned.
    pub fn words_about(&mut self, letters: &Letters, middle: Point, size: f64, turn: f64, text: &str) {
        let along = Vec2::from_angle(turn);
        let down = Vec2::new(-along.y, along.x);
        let at = middle - along * (letters.width(text, size) / 2.0) + down * (size * (ABOVE - BELOW) / 2.0);
        self.items.push(Item::Words(Words { at, size, turn, text: text.to_owned(), ink: Ink::BLACK }));
    }

    /// The same things moved, turned by quarters, or sized alike in both directions.
    pub fn mapped(&self, by: Affine) -> Self {
        let [a, b, ..] = by.as_coeffs();
        let (turn, size) = (b.atan2(a), a.hypot(b));
        let one = |item: &Item| match item {
            Item::Stroke { path, pen } => Item::Stroke { path: by * path.clone(), pen: *pen },
            Item::Fill { path, ink } => Item::Fill { path: by * path.clone(), ink: *ink },
            Item::Words(w) => Item::Words(Words { at: by * w.at, size: w.size * size, turn: w.turn + turn, ..w.clone() }),
        };
        Self { items: self.items.iter().map(one).collect() }
    }

    pub fn append(&mut self, other: Self) {
        self.items.extend(other.items);
    }
}

impl Item {
    /// A rectangle that holds it, lines with half their width.
    pub fn extent(&self, letters: &Letters) -> Rect {
        match self {
            Self::Stroke { path, pen } => path.bounding_box().inflate(pen.width / 2.0, pen.width / 2.0),
            Self::Fill { path, .. } => path.bounding_box(),
            Self::Words(w) => w.outline(letters).bounding_box(),
        }
    }
}

impl Words {
    /// The rectangle its letters stand in, as a closed path.
    pub fn outline(&self, letters: &Letters) -> BezPath {
        let along = Vec2::from_angle(self.turn);
        let down = Vec2::new(-along.y, along.x);
        let long = along * letters.width(&self.text, self.size);
        let (top, foot) = (self.at - down * (self.size * ABOVE), self.at + down * (self.size * BELOW));
        let mut out = BezPath::new();
        out.move_to(top);
        out.line_to(top + long);
        out.line_to(foot + long);
        out.line_to(foot);
        out.close_path();
        out
    }
}
