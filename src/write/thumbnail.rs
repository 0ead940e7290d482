//! The evidence picture, small: for lists of hundreds.

use super::WriteError;
use super::evidence::as_jpeg;
use image::RgbImage;

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

/// The picture so many pixels wide and high, no more than it has: each the mean of those that come to lie in it.
fn reduced(picture: &RgbImage, width: u32, height: u32) -> RgbImage {
    let [wide, high, across, down] = [picture.width(), picture.height(), width, height].map(|n| n as usize);
    let mut out = RgbImage::new(width, height);
    let mut sums = vec![[0u32; 3]; across];
    let rows: Vec<&[[u8; 3]]> = picture.as_chunks::<3>().0.chunks_exact(wide).collect();
    for (v, out) in out.as_chunks_mut::<3>().0.chunks_exact_mut(across).enumerate() {
        let rows = &rows[v * high / down..(v + 1) * high / down];
        sums.fill([0; 3]);
        for row in rows {
            for (u, sum) in sums.iter_mut().enumerate() {
                row[u * wide / across..(u + 1) * wide / across].iter().for_each(|p| (0..3).for_each(|c| sum[c] += u32::from(p[c])));
            }
        }
        for (u, (out, sum)) in out.iter_mut().zip(&sums).enumerate() {
            let count = (((u + 1) * wide / across - u * wide / across) * rows.len()) as u32;
            *out = sum.map(|s| ((s + count / 2) / count) as u8);
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pixels_are_means_of_those_that_lie_in_them() {
        let picture = RgbImage::from_fn(7, 4, |x, y| image::Rgb([10 * x as u8, 20 * y as u8, 9]));
        let small = reduced(&picture, 3, 2);
        assert_eq!(small.get_pixel(0, 0).0, [5, 10, 9]);
        assert_eq!(small.get_pixel(2, 1).0, [50, 50, 9]);
        assert_eq!(reduced(&picture, 7, 4), picture);
    }

    #[test]
    fn its_longest_side_is_short_and_small_ones_stay() {
        for (from, to) in [((1600, 800), (320, 160)), ((100, 60), (100, 60)), ((5, 4000), (1, 320))] {
            let jpeg = thumbnail(&RgbImage::new(from.0, from.1)).expect("encoded");
            let size = image::load_from_memory(&jpeg).expect("a picture").to_rgb8().dimensions();
            assert_eq!(size, to);
        }
    }
}
