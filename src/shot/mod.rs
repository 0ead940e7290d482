//! A picture file decoded: upright pixels, what the camera or scanner wrote, and the file's own hash.
//!
//! | module | does |
//! |---|---|
//! | `open` | reads the file, checks limits, guards against what decoders do on bad bytes |
//! | `glance` | what can be told without decoding |
//! | `kind` | tells the kind by the first bytes |
//! | `jpeg`, `png`, `tiff`, `webp` | one kind each: stored pixels and tags |
//! | `entries` | what a TIFF's directory claims, before room is made for it |
//! | `samples` | grey, alpha, inks, 16 bits to three bytes a pixel |
//! | `written` | what camera or scanner wrote, and what of it is believed |
//! | `colour` | embedded profiles to sRGB |
//! | `upright` | the eight orientations |
//! | `light` | linear light, and samples of it |
//! | `levels` | the picture made smaller |
//! | `area` | a part of a picture |

mod area;
mod colour;
mod entries;
mod error;
mod glance;
#[cfg(feature = "heic")]
mod heic;
mod jpeg;
mod kind;
mod levels;
mod light;
mod open;
mod png;
mod samples;
mod tiff;
mod upright;
mod webp;
mod written;

pub use area::Area;
pub use error::ShotError;
pub use glance::Glance;
pub use levels::{Gray, Level, to_level, to_picture};
pub use light::{LINEAR, LUMA, encoded};
pub use open::Limits;

use levels::Base;
use open::Raw;

use std::path::PathBuf;

/// What camera or scanner wrote beside the pixels; a prior, never a measurement.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Tags {
    /// Maker and model as written.
    pub model: Option<String>,
    /// Focal length in pixels of the upright picture, from the 35 mm equivalent.
    pub focal_px: Option<f64>,
    /// Resolution along x and y of the upright picture, in pixels per mm, when the file gives a unit.
    pub px_per_mm: Option<[f64; 2]>,
    /// Whether there are tags only a camera writes (focal length, exposure).
    pub camera: bool,
    /// Whether the picture was zoomed or cut from what the lens drew, so that `focal_px` tells less than usual.
    pub cropped: bool,
    /// Quality (1 to 100, the scale of the IJG's library) that a JPEG's own tables amount to.
    pub jpeg_quality: Option<f64>,
    /// Quarter turns clockwise from the stored to the upright picture; `None` when it was mirrored, or nobody knows.
    pub turned: Option<u8>,
}

/// An upright picture in memory.
#[derive(Clone, Debug)]
pub struct Shot {
    /// The file it came from.
    pub file: PathBuf,
    /// BLAKE3 of the file's bytes, in hex.
    pub blake3: String,
    /// Columns of the upright picture.
    pub width: usize,
    /// Rows of the upright picture.
    pub height: usize,
    /// Upright pixels, three bytes each (red, green, blue, sRGB encoded), row by row.
    pub rgb: Vec<u8>,
    /// What the file says about how it was taken.
    pub tags: Tags,
    /// What coarser levels are made from, once one was asked for.
    base: Base,
}

impl Shot {
    /// A picture from upright sRGB pixels, for pictures that come from memory.
    ///
    /// # Panics
    /// When `rgb` does not hold `width * height * 3` bytes.
    pub fn from_rgb(width: usize, height: usize, rgb: Vec<u8>) -> Self {
        assert_eq!(rgb.len(), width * height * 3, "three bytes a pixel");
        let blake3 = blake3::hash(&rgb).to_hex().to_string();
        Self { file: PathBuf::new(), blake3, width, height, rgb, tags: Tags::default(), base: Base::default() }
    }
}
