//! PNG (W3C, third edition), read row by row.

use super::error::brief;
use super::samples::Channels;
use super::{Limits, Raw, ShotError, written::Written};
use png::{ColorType, Decoder, DecodingError, Reader, Transformations, Unit};
use std::io::Cursor;

const KIND: &str = "PNG";

/// What a PNG may unpack beside its pixels (profile, texts), bytes.
const ASIDE: usize = 64 << 20;

/// Decodes a PNG.
pub(super) fn decode(bytes: &[u8], limits: &Limits) -> Result<Raw, ShotError> {
    let mut decoder = Decoder::new_with_limits(Cursor::new(bytes), png::Limits { bytes: ASIDE });
    decoder.set_transformations(Transformations::EXPAND | Transformations::STRIP_16);
    let (width, height) = decoder.read_header_info().map_err(fault)?.size();
    limits.check([u64::from(width), u64::from(height)], 3, None)?;
    let mut reader = decoder.read_info().map_err(fault)?;
    let info = reader.info();
    let px_per_mm = info.pixel_dims.filter(|d| d.unit == Unit::Meter).map(|d| [d.xppu, d.yppu].map(|v| f64::from(v) / 1000.0));
    let mut written = info.exif_metadata.as_ref().map(|e| Written::from_exif(e.to_vec())).unwrap_or_default();
    written.px_per_mm = px_per_mm.filter(|p| p.iter().all(|v| *v > 0.39)).or(written.px_per_mm);
    let icc = info.icc_profile.as_ref().map(|p| p.to_vec());
    let (width, height) = (width as usize, height as usize);
    let rgb = pixels(&mut reader, width, height)?;
    reader.finish().map_err(fault)?;
    Ok(Raw { width, height, rgb, written, icc })
}

fn pixels(reader: &mut Reader<Cursor<&[u8]>>, width: usize, height: usize) -> Result<Vec<u8>, ShotError> {
    let channels = match reader.output_color_type().0 {
        ColorType::Grayscale => Channels::Gray,
        ColorType::GrayscaleAlpha => Channels::GrayAlpha,
        ColorType::Rgb => Channels::Rgb,
        ColorType::Rgba => Channels::Rgba,
        ColorType::Indexed => return Err(ShotError::Rare { kind: KIND, why: "its palette is missing".into() }),
    };
    let mut rgb = vec![0; width * height * 3];
    if reader.info().interlaced {
        let mut all = vec![0; width * height * channels.count()];
        reader.next_frame(&mut all).map_err(fault)?;
        channels.to_rgb(&all, &mut rgb);
        return Ok(rgb);
    }
    let mut row = vec![0; width * channels.count()];
    for line in rgb.chunks_exact_mut(width * 3) {
        if channels == Channels::Rgb {
            reader.read_row(line).map_err(fault)?;
        } else {
            reader.read_row(&mut row).map_err(fault)?;
            channels.to_rgb(&row, line);
        }
    }
    Ok(rgb)
}

fn fault(e: DecodingError) -> ShotError {
    match e {
        DecodingError::IoError(_) => ShotError::Truncated(KIND),
        DecodingError::LimitsExceeded => {
            ShotError::Damaged { kind: KIND, why: "its texts or colour profile unpack to far too much".into() }
        }
        e => ShotError::Damaged { kind: KIND, why: brief(e) },
    }
}
