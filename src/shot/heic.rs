//! HEIC, the high-efficiency pictures of phones (ISO/IEC 23008-12), by a young decoder in Rust: experimental, and only built with the feature `heic`.
//!
//! The container says how the picture is turned, and what Exif says of that is not meant (ISO/IEC 23008-12, 6.5.10). What goes wrong: coding that the
//! decoder does not know is refused as rare; its colours were measured against libheif and stray by some levels, which moves no outline.

use super::error::brief;
use super::{Limits, Raw, ShotError, written::Written};
use heic_rs::context::Context;
use heic_rs::{DecodeOptions, Error, Rotation};

const KIND: &str = "HEIC";

/// Bytes that decoding takes at its height for each pixel: planes of 16 bits with their colours thinned, and three bytes of the result, rounded up.
const BYTES_A_PIXEL: u64 = 10;

/// Decodes the picture that the file calls its own.
pub(super) fn decode(bytes: &[u8], limits: &Limits) -> Result<Raw, ShotError> {
    if cut_short(bytes) {
        return Err(ShotError::Truncated(KIND));
    }
    let about = heic_rs::probe(bytes).map_err(fault)?;
    let size = [about.coded_width, about.coded_height].map(u64::from);
    limits.check(size, BYTES_A_PIXEL, None)?;
    // Tiles are each as large as they say: many large ones are as bad as one.
    if let Some(g) = about.grid {
        let side = |count: u32, each: u32| u64::from(count) * u64::from(each);
        limits.check([side(g.columns, g.tile_width), side(g.rows, g.tile_height)], BYTES_A_PIXEL, None)?;
    }
    let (mut written, icc) = beside(bytes, about.primary_item);
    // A turn is left to be made here, so that it is known; what is mirrored or cut besides comes as it is meant to be seen.
    let turns = matches!(about.rotation, Rotation::Ccw90 | Rotation::Ccw270);
    let seen = if turns { [about.height, about.width] } else { [about.width, about.height] };
    let only_turned = about.mirror.is_none() && seen == [about.coded_width, about.coded_height];
    written.orientation = match about.rotation {
        _ if !only_turned => 1,
        Rotation::None => 1,
        Rotation::Ccw90 => 8,
        Rotation::Ccw180 => 3,
        Rotation::Ccw270 => 6,
    };
    // One thread: a panic in another would be told there before it is caught here.
    let options = DecodeOptions { max_pixels: Some(limits.pixels), apply_transforms: !only_turned, threads: Some(1), ..Default::default() };
    let image = heic_rs::decode(bytes, &options).map_err(fault)?;
    let (width, height) = (image.width as usize, image.height as usize);
    limits.check([width as u64, height as u64], BYTES_A_PIXEL, None)?;
    if image.data.len() != width * height * 3 {
        return Err(ShotError::Damaged { kind: KIND, why: "its size and its data do not agree".into() });
    }
    Ok(Raw { width, height, rgb: image.data, written, icc })
}

/// Whether the file ends within one of its boxes (ISO/IEC 14496-12, 4.2: a size of 32 bits, 1 for one of 64 after the name, 0 for all the rest).
fn cut_short(bytes: &[u8]) -> bool {
    let mut at = 0usize;
    while at < bytes.len() {
        let number = |from: usize, count: usize| {
            let all = bytes.get(from..from + count)?;
            Some(all.iter().fold(0u64, |n, b| n << 8 | u64::from(*b)))
        };
        let size = match number(at, 4) {
            Some(0) => return false,
            Some(1) => number(at + 8, 8),
            size => size,
        };
        match size.and_then(|s| usize::try_from(s).ok()).and_then(|s| at.checked_add(s.max(8))) {
            Some(next) if next <= bytes.len() => at = next,
            _ => return true,
        }
    }
    false
}

/// What the camera wrote, and the colour profile; what can't be understood is left out.
fn beside(bytes: &[u8], item: u32) -> (Written, Option<Vec<u8>>) {
    let Ok(file) = Context::open(bytes) else { return (Written::default(), None) };
    let exif = file.exif(item).ok().flatten().map(|block| Written::from_exif(block.to_vec()));
    let icc = file.props(item).ok().and_then(|p| file.icc(&p).map(<[u8]>::to_vec));
    (exif.unwrap_or_default(), icc)
}

fn fault(e: Error) -> ShotError {
    match e {
        Error::Truncated(_) | Error::BoxTooLarge { .. } => ShotError::Truncated(KIND),
        Error::Unsupported(_) => ShotError::Rare { kind: KIND, why: brief(e) },
        e => ShotError::Damaged { kind: KIND, why: brief(e) },
    }
}
