//! What strong colours leave on the sheet beside them where a picture was saved coarsely: a JPEG keeps colour in blocks, mostly at half the
//! size, and coarse steps carry it over from one side of a block to the other.

use super::evidence::{colour, ratio};
use super::ground::Ground;
use super::light::SheetLight;
use rayon::prelude::*;

/// JPEG qualities at which its blocks begin to stain what lies beside strong colours, and from which on they do so in full.
const STAINS: [f64; 2] = [88.0, 70.0];

/// How coarsely a picture was saved: 0 finely, 1 at a JPEG's quality of 70 and below.
pub(super) fn coarseness(quality: Option<f64>) -> f32 {
    quality.map_or(0.0, |q| ((STAINS[0] - q) / (STAINS[0] - STAINS[1])).clamp(0.0, 1.0) as f32)
}

/// Scatter of colour beside strong colours in a coarsely saved picture, of those colours. (Red cloth on white paper, colour at half the size, quality
/// 60: one pixel in a hundred of the paper is turned by a tenth of the cloth's colour.)
const STAIN: f32 = 0.03;
/// Blocks of a JPEG whose colour is kept at half the size, px.
const BLOCK: usize = 16;

/// The strongest colours about each block of a coarsely saved picture.
pub(super) struct Stains {
    /// Side of a block, level px.
    side: usize,
    across: usize,
    coarse: f32,
    strongest: Vec<f32>,
}

impl Stains {
    /// Of a picture saved so coarsely, 0 to 1.
    pub fn of(ground: &Ground, light: &SheetLight, coarse: f32) -> Self {
        let (w, h) = (ground.level.width, ground.level.height);
        let side = (BLOCK / ground.level.factor).max(2);
        let (across, down) = (w.div_ceil(side), h.div_ceil(side));
        let mut own = vec![0f32; across * down];
        own.par_chunks_mut(across).enumerate().for_each_init(Vec::new, |lights, (v, own)| {
            for y in v * side..((v + 1) * side).min(h) {
                light.row(y, w, lights);
                for (x, plain) in lights.iter().enumerate() {
                    let c = colour(ratio(ground.level.rgb[y * w + x], *plain));
                    own[x / side] = own[x / side].max(c);
                }
            }
        });
        let near = |v: usize, n: usize| v.saturating_sub(1)..(v + 2).min(n);
        let strongest = (0..across * down)
            .map(|k| {
                near(k / across, down)
                    .flat_map(|v| near(k % across, across).map(move |u| v * across + u))
                    .map(|n| own[n])
                    .fold(0.0, f32::max)
            })
            .collect();
        Self { side, across, coarse, strongest }
    }

    /// Scatter of colour that the blocks may make at a pixel.
    #[inline]
    pub fn at(&self, x: usize, y: usize) -> f32 {
        self.coarse * (STAIN * self.strongest[y / self.side * self.across + x / self.side])
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_coarsely_saved_pictures_stain() {
        assert_eq!([None, Some(95.0), Some(88.0)].map(coarseness), [0.0; 3]);
        assert_eq!([Some(79.0), Some(70.0), Some(30.0)].map(coarseness), [0.5, 1.0, 1.0]);
    }
}
