//! The evidence picture, small: for lists of hundreds.

use super::WriteError;
use super::evidence::as_jpeg;
use image::RgbImage;
use image::imageops::thumbnail as reduced;

/// Its longest side, px.
const LONGEST: u32 = 320;
/// JPEG quality: lines stay visible, a thousand stay small.
const QUALITY: u8 = 75;

/// Makes the thumbnail of a drawn evidence picture, as JPEG.
///
/// # Errors
/// The encoder refused.
pub fn thumbnail(evidence: &RgbImage) -> Result<Vec<u8>, WriteError> {
    let (width, height) = evidence.dimensions();
    let scale = (f64::from(LONGEST) / f64::from(width.max(height))).min(1.0);
    let size = |side: u32| ((f64::from(side) * scale).round() as u32).max(1);
    as_jpeg(&reduced(evidence, size(width), size(height)), QUALITY)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn its_longest_side_is_short_and_small_ones_stay() {
        for (from, to) in [((1600, 800), (320, 160)), ((100, 60), (100, 60)), ((5, 4000), (1, 320))] {
            let jpeg = thumbnail(&RgbImage::new(from.0, from.1)).expect("encoded");
            let size = image::load_from_memory(&jpeg).expect("a picture").to_rgb8().dimensions();
            assert_eq!(size, to);
        }
    }
}
