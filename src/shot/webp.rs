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
    if bytes.len() < length as usize + 8 {
        return Err(ShotError::Truncated(KIND));
    }
    let mut decoder = WebPDecoder::new(Cursor::new(bytes)).map_err(fault)?;
    if decoder.has_animation() {
        return Err(ShotError::Animated("an animated WebP"));
    }
    let (width, height) = decoder.dimensions();
    limits.check([u64::from(width), u64::from(height)], 4, None)?;
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

fn fault(e: ImageError) -> ShotError {
    match e {
        ImageError::IoError(_) => ShotError::Truncated(KIND),
        e => ShotError::Damaged { kind: KIND, why: brief(e) },
    }
}
