//! What is believed of a camera before its picture is looked at.

use super::Lens;
use crate::length::Px;
use crate::shot::Tags;
use crate::solve::Normal;

/// Relative error of a focal length read from the picture's tags: the 35 mm equivalent is a rounded whole number, and
/// focusing near lengthens it by a percent or two.
const TAG_ERROR: f64 = 0.03;

/// Focal length assumed without tags, in 35 mm equivalent, and its relative error: the main cameras of phones lie at
/// 23–30 mm.
const ASSUMED_MM: f64 = 26.0;
pub(super) const ASSUMED_ERROR: f64 = 0.15;

/// Error of the logarithm of a focal length that the picture has to tell by itself.
const FREE_ERROR: f64 = 1.0;

/// The same towards shorter lenses.
const SHORTER_ERROR: f64 = 0.3;

/// Error of a centre that the picture has to tell by itself, in diagonals.
const FREE_CENTRE: f64 = 0.1;

/// A belief is dropped when the sheet pulls it off by this many standard errors.
const CONTRADICTED: f64 = 2.5;

/// Diagonal of the 24 × 36 mm frame the equivalent refers to, mm.
const FRAME_DIAGONAL: f64 = 43.266_615;

/// Error of the principal point: 20 px in a picture of 12 megapixels, in proportion otherwise.
const CENTRE_ERROR: f64 = 20.0 / 5040.0;

/// Errors of k1, k2, p1, p2 about zero. Data decide k1 at once; k2 and the tangential terms act where few nodes are seen,
/// and a loose prior would let them extrapolate under the garment.
const DISTORTION_ERROR: [f64; 4] = [0.2, 0.05, 1e-3, 1e-3];

/// Where the focal length comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum FocalFrom {
    /// The camera wrote it and the picture does not know better.
    Tag,
    /// The perspective of the sheet fixes it.
    Picture,
    /// A lens solved before from several pictures.
    #[serde(rename = "lens profile")]
    LensProfile,
    /// Nobody knows: a usual phone was assumed.
    Assumed,
}

/// Belief about focal length (logarithm), centre x, y, k1, k2, p1, p2, each with a standard error.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Prior {
    /// Most likely lens.
    pub lens: Lens,
    /// Standard errors: relative for the focal length, px for the centre.
    pub errors: [f64; 7],
    /// Where the focal length comes from.
    pub from: FocalFrom,
}

/// A belief held against a lens.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pull {
    /// Miss, in standard errors.
    pub size: f64,
    /// Its derivative by the focal length, where that is not its own parameter.
    pub by_focal: f64,
    /// Its derivative by its own parameter.
    pub by_own: f64,
}

impl Prior {
    /// For a picture of `width` × `height` px with these tags.
    pub fn new(width: usize, height: usize, tags: &Tags) -> Self {
        let diagonal = (width as f64).hypot(height as f64);
        match tags.focal_px {
            Some(focal) if focal.is_finite() && (0.2..40.0).contains(&(focal / diagonal)) => {
                Self::about(width, height, focal, FocalFrom::Tag)
            }
            _ => Self::assumed(width, height),
        }
    }

    /// For a lens that the picture has to tell by itself.
    pub fn free(width: usize, height: usize) -> Self {
        let assumed = Self::assumed(width, height);
        assumed.freed(width, height).unwrap_or(assumed)
    }

    /// For a picture without a focal length, or one that its sheet contradicts.
    pub fn assumed(width: usize, height: usize) -> Self {
        let diagonal = (width as f64).hypot(height as f64);
        Self::about(width, height, ASSUMED_MM / FRAME_DIAGONAL * diagonal, FocalFrom::Assumed)
    }

    /// What to believe instead when the sheet contradicts this belief, seen from the lens it led to; `None` when it stands.
    /// A tagged focal length becomes an assumed one (cropped picture, tags of another lens), an assumed one as good as free
    /// (a long lens), a centre near the picture's as good as free (a cropped picture, an old camera).
    pub fn doubted(&self, lens: &Lens, width: usize, height: usize) -> Option<Self> {
        if self.from == FocalFrom::LensProfile {
            return None;
        }
        let pulls = self.pulls(lens).map(|p| p.size);
        let mut next = *self;
        if pulls[0].abs() > CONTRADICTED && self.from == FocalFrom::Tag {
            let assumed = Self::assumed(width, height);
            (next.lens.focal, next.errors[0], next.from) = (assumed.lens.focal, assumed.errors[0], assumed.from);
        } else if pulls[0].abs() > CONTRADICTED {
            next.errors[0] = FREE_ERROR;
        }
        // The two are tied: a wrong focal length drags the centre along, so it is doubted first.
        if next == *self && pulls[1].hypot(pulls[2]) > CONTRADICTED {
            next.errors[1..3].fill(FREE_CENTRE * (width as f64).hypot(height as f64));
        }
        (next != *self).then_some(next)
    }

    /// Focal length and centre as good as free; `None` when they are known from a lens profile.
    pub fn freed(&self, width: usize, height: usize) -> Option<Self> {
        if self.from == FocalFrom::LensProfile {
            return None;
        }
        let mut next = Self { from: FocalFrom::Assumed, ..*self };
        next.errors[0] = FREE_ERROR;
        next.errors[1..3].fill(FREE_CENTRE * (width as f64).hypot(height as f64));
        Some(next)
    }

    fn about(width: usize, height: usize, focal: f64, from: FocalFrom) -> Self {
        let diagonal = (width as f64).hypot(height as f64);
        let centre = Px::new((width as f64 - 1.0) / 2.0, (height as f64 - 1.0) / 2.0);
        let relative = if from == FocalFrom::Tag { TAG_ERROR } else { ASSUMED_ERROR };
        let (c, [k1, k2, p1, p2]) = (CENTRE_ERROR * diagonal, DISTORTION_ERROR);
        Self { lens: Lens::ideal(focal, centre), errors: [relative, c, c, k1, k2, p1, p2], from }
    }

    /// What a lens misses the belief by, in standard errors, with the derivative by the focal length and by its own
    /// parameter.
    pub fn pulls(&self, lens: &Lens) -> [Pull; 7] {
        let (a, b) = (lens, &self.lens);
        let ratio = a.focal / b.focal;
        let focal = Pull { size: ratio.ln() / self.focal_error(lens), by_focal: 0.0, by_own: 1.0 / (a.focal * self.focal_error(lens)) };
        let miss = [a.centre.x - b.centre.x, a.centre.y - b.centre.y, a.k1 - b.k1, a.k2 - b.k2, a.p1 - b.p1, a.p2 - b.p2];
        let mut all = [focal; 7];
        for (k, power) in [0, 0, 2, 4, 1, 1].into_iter().enumerate() {
            // What counts is the share by which a picture's corner is moved: a shorter lens sees it at a wider angle.
            let narrow = ratio < 1.0;
            let error = self.errors[k + 1] * if narrow { ratio.powi(power) } else { 1.0 };
            let size = miss[k] / error;
            let by_focal = if narrow { -f64::from(power) * size / a.focal } else { 0.0 };
            all[k + 1] = Pull { size, by_focal, by_own: 1.0 / error };
        }
        all
    }

    /// Adds the pulls to normal equations whose first unknowns are those of the lens.
    pub fn add_to(&self, n: &mut Normal, lens: &Lens) {
        for (k, pull) in self.pulls(lens).iter().enumerate() {
            n.cost += pull.size * pull.size;
            match k {
                0 => n.add_at(&[0], &[pull.by_own], pull.size, 1.0),
                _ => n.add_at(&[0, k], &[pull.by_focal, pull.by_own], pull.size, 1.0),
            }
        }
    }

    /// The focal length believed, as its equivalent on 24 × 36 mm film, mm.
    pub fn film_mm(lens: &Lens, width: usize, height: usize) -> f64 {
        lens.focal * FRAME_DIAGONAL / (width as f64).hypot(height as f64)
    }

    /// Lenses may be much longer than believed, but hardly shorter: a phone's widest is half its main one.
    fn focal_error(&self, lens: &Lens) -> f64 {
        if lens.focal < self.lens.focal { self.errors[0].min(SHORTER_ERROR) } else { self.errors[0] }
    }
}
