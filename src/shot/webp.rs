//! WebP (RFC 9649).

use super::error::brief;
use super::samples::Channels;
use super::{Limits, Raw, ShotError, written::Written};
use image::codecs::webp::WebPDecoder;
use image::{ColorType, ImageDecoder, ImageError};
use std::io::Cursor;

const KIND: &str = "WebP";

/// Decodes a still WebP.
pub(super) fn decode(bytes: &[u8], limits: &Limits) -> Result<Raw, ShotError> {
    // The container says how long it is; the decoder would fill what is missing.
    let length = bytes.get(4..8).and_then(|b| b.try_into().ok()).map_or(0, u32::from_le_bytes);
    let end = (length as usize).saturating_add(8);
    if bytes.len() < end || !chunks_lie_in(bytes, end) {
        return Err(ShotError::Truncated(KIND));
    }
    let mut decoder = WebPDecoder::new(Cursor::new(bytes)).map_err(fault)?;
    if decoder.has_animation() {
        return Err(ShotError::Animated("an animated WebP"));
    }
    let (width, height) = decoder.dimensions();
    limits.check([u64::from(width), u64::from(height)], 4, None)?;
    if frame(bytes).is_some_and(|size| size != [width, height]) {
        return Err(ShotError::Damaged { kind: KIND, why: "its picture is of another size than its head says".into() });
    }
    let written = decoder.exif_metadata().ok().flatten().map(Written::from_exif).unwrap_or_default();
    let icc = decoder.icc_profile().ok().flatten();
    let (width, height) = (width as usize, height as usize);
    let channels = if decoder.color_type() == ColorType::Rgba8 { Channels::Rgba } else { Channels::Rgb };
    let mut all = vec![0; width * height * channels.count()];
    decoder.read_image(&mut all).map_err(fault)?;
    let rgb = if channels == Channels::Rgb {
        all
    } else {
        let mut rgb = vec![0; width * height * 3];
        channels.to_rgb(&all, &mut rgb);
        rgb
    };
    Ok(Raw { width, height, rgb, written, icc })
}

/// The size that the picture's own chunk has, in px (RFC 9649, 2.5 and 2.6; RFC 6386, 9.1): the decoder makes room for that, whatever the container's head says,
/// and takes it from beyond the container's end as well.
fn frame(bytes: &[u8]) -> Option<[u32; 2]> {
    let number = |at: usize, count: usize| Some(bytes.get(at..)?.get(..count)?.iter().rev().fold(0u32, |n, b| (n << 8) | u32::from(*b)));
    let mut at = 12;
    loop {
        let (kind, length) = (bytes.get(at..)?.get(..4)?, number(at + 4, 4)?);
        match kind {
            b"VP8 " => return Some([number(at + 14, 2)? & 0x3fff, number(at + 16, 2)? & 0x3fff]),
            b"VP8L" => {
                let sizes = number(at + 9, 4)?;
                return Some([(sizes & 0x3fff) + 1, ((sizes >> 14) & 0x3fff) + 1]);
            }
            _ => at = (at + 8).saturating_add(length as usize).saturating_add(length as usize % 2),
        }
    }
}

/// Whether all chunks that begin before the container's `end` lie in the file: the decoder makes room for what a chunk of tags claims to hold
/// before it reads it.
fn chunks_lie_in(bytes: &[u8], end: usize) -> bool {
    let mut at = 12;
    while at < end {
        // What is cut short within its head is told by the decoder.
        let Some(length) = bytes.get(at + 4..at + 8).and_then(|b| b.try_into().ok()).map(u32::from_le_bytes) else { return true };
        let next = (at + 8).saturating_add(length as usize);
        if next > bytes.len() {
            return false;
        }
        at = next.saturating_add(next % 2);
    }
    true
}

fn fault(e: ImageError) -> ShotError {
    match e {
        ImageError::IoError(_) => ShotError::Truncated(KIND),
        e => ShotError::Damaged { kind: KIND, why: brief(e) },
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Found by the fuzz target `picture`: 362 bytes asked for 4 GB.
    #[test]
    fn a_chunk_longer_than_the_file_is_not_made_room_for() {
        let mut file = include_bytes!("../../tests/pictures/lossy.webp").to_vec();
        let end = file.len();
        assert!(chunks_lie_in(&file, end) && decode(&file, &Limits::default()).is_ok());
        file.extend(b"EXIF\xff\xff\xff\xff");
        let length = u32::try_from(file.len() - 8).expect("short");
        file[4..8].copy_from_slice(&length.to_le_bytes());
        assert!(!chunks_lie_in(&file, end + 8));
        assert!(matches!(decode(&file, &Limits::default()), Err(ShotError::Truncated(KIND))));
    }

    /// Found by the fuzz target `picture`: 550 bytes whose head says 48 × 40 px asked for 90 MB.
    #[test]
    fn a_frame_is_as_large_as_the_head_says() {
        let file = include_bytes!("../../tests/fuzz/corpus/picture/webp-frame-larger-than-canvas");
        assert_eq!(frame(file), Some([8442, 8224]));
        // Refused before the decoder sees it.
        assert!(matches!(decode(file, &Limits::default()), Err(ShotError::Damaged { why, .. }) if why.contains("another size")));
        let sound = include_bytes!("../../tests/pictures/lossy.webp");
        let size = decode(sound, &Limits::default()).map(|raw| [raw.width as u32, raw.height as u32]);
        assert_eq!(frame(sound), size.ok());
    }
}
