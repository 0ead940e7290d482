//! Why a place of an outline is known badly, and what a person can do about it.

/// What keeps an edge from being seen well.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub enum Cause {
    /// Something lies over it, or the picture ends.
    Hidden,
    /// Cloth and sheet are nearly alike in light and colour.
    LowContrast,
    /// A stripe, print or stitching of the cloth runs beside it and is as strong.
    Print,
    /// Two lines side by side could each be it.
    Rivals,
    /// The sheet beside it lies in shadow.
    Shadow,
    /// The picture is out of focus or shaken there.
    Blur,
    /// It lies where two edges meet and the points are rounded off.
    Corner,
    /// Nothing of all this: it wanders.
    Uneven,
}

impl Cause {
    /// What is the matter, to stand after "because".
    pub fn why(self) -> &'static str {
        match self {
            Self::Hidden => "something hides the edge",
            Self::LowContrast => "cloth and sheet look alike",
            Self::Print => "print or stitching beside the edge is as strong as the edge",
            Self::Rivals => "two lines side by side could be the edge",
            Self::Shadow => "the sheet beside it lies in shadow",
            Self::Blur => "the picture is blurred there",
            Self::Corner => "the corner is rounded off",
            Self::Uneven => "the edge is not even",
        }
    }

    /// What to do about it.
    pub fn advice(self) -> &'static str {
        match self {
            Self::Hidden => "Take another picture in which it shows.",
            Self::LowContrast => "Use a sheet of another colour, or light it from one side.",
            Self::Print | Self::Rivals => "Look at the evidence picture; a through-point in the notes settles it.",
            Self::Shadow => "Light it from two sides.",
            Self::Blur => "Take the picture again, held still and focused on the cloth's edge.",
            Self::Corner | Self::Uneven => "Look at the evidence picture; a place in the notes settles it.",
        }
    }
}
