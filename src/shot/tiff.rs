//! TIFF 6.0, strip by strip or tile by tile.

use super::error::brief;
use super::samples::{Channels, byte, unpack};
use super::written::{Written, clean, resolution};
use super::{Limits, Raw, ShotError, entries};
use std::io::Cursor;
use tiff::decoder::ifd::Value;
use tiff::decoder::{ChunkType, Decoder, DecodingResult};
use tiff::tags::Tag;
use tiff::{ColorType, TiffError};

const KIND: &str = "TIFF";

type Tiff<'a> = Decoder<Cursor<&'a [u8]>>;

/// Decodes the first picture of a TIFF.
pub(super) fn decode(bytes: &[u8], limits: &Limits) -> Result<Raw, ShotError> {
    // The decoder makes room for what a directory claims before it can be told any limits.
    if !entries::lie_in(bytes) {
        return Err(ShotError::Truncated(KIND));
    }
    let mut room = tiff::decoder::Limits::default();
    room.decoding_buffer_size = usize::try_from(limits.bytes).unwrap_or(usize::MAX);
    room.intermediate_buffer_size = room.decoding_buffer_size;
    room.ifd_value_size = 16 << 20;
    let mut decoder = Decoder::new(Cursor::new(bytes)).map_err(fault)?.with_limits(room);
    let (width, height) = decoder.dimensions().map_err(fault)?;
    let written = written(&mut decoder);
    limits.check([u64::from(width), u64::from(height)], 8, written.px_per_mm)?;
    // Raw camera files are TIFFs that begin with a thumbnail (bit 0 of NewSubfileType).
    if decoder.find_tag_unsigned::<u32>(Tag::NewSubfileType).ok().flatten().is_some_and(|t| t & 1 == 1) {
        return Err(ShotError::Kind("a camera's raw file"));
    }
    let icc = decoder.get_tag_u8_vec(Tag::IccProfile).ok();
    let rgb = pixels(&mut decoder, width as usize, height as usize)?;
    Ok(Raw { width: width as usize, height: height as usize, rgb, written, icc })
}

/// Channels and bits of a stored sample.
fn make(decoder: &mut Tiff) -> Result<(Channels, u8), ShotError> {
    let rare = |why: &str| ShotError::Rare { kind: KIND, why: why.into() };
    let (channels, bits) = match decoder.colortype().map_err(fault)? {
        ColorType::Gray(b) => (Channels::Gray, b),
        ColorType::GrayA(b) => (Channels::GrayAlpha, b),
        ColorType::RGB(b) => (Channels::Rgb, b),
        ColorType::RGBA(b) => (Channels::Rgba, b),
        ColorType::CMYK(b) => (Channels::Cmyk, b),
        // Only JPEG inside a TIFF comes with luma and chroma of every pixel.
        ColorType::YCbCr(8) if decoder.get_tag_u32(Tag::Compression).ok() == Some(7) => (Channels::Ycc, 8),
        ColorType::Multiband { bit_depth, num_samples: 2 } => (Channels::GrayAlpha, bit_depth),
        _ => return Err(rare("its colours are stored in an unusual way")),
    };
    match bits {
        8 | 16 => Ok((channels, bits)),
        1 | 2 | 4 if channels == Channels::Gray => Ok((channels, bits)),
        _ => Err(rare("not 8 or 16 bits a channel")),
    }
}

fn pixels(decoder: &mut Tiff, width: usize, height: usize) -> Result<Vec<u8>, ShotError> {
    let (channels, bits) = make(decoder)?;
    // PlanarConfiguration 2: all red, then all green, then all blue.
    let planes = if decoder.find_tag_unsigned::<u32>(Tag::PlanarConfiguration).ok().flatten() == Some(2) { channels.count() } else { 1 };
    if planes > 1 && channels != Channels::Rgb {
        return Err(ShotError::Rare { kind: KIND, why: "its channels are stored apart".into() });
    }
    let stored = if planes > 1 { Channels::Gray } else { channels };
    let (cw, ch) = decoder.chunk_dimensions();
    let (cw, ch) = (cw as usize, ch as usize);
    let chunks = match decoder.get_chunk_type() {
        ChunkType::Strip => decoder.strip_count(),
        ChunkType::Tile => decoder.tile_count(),
    }
    .map_err(fault)?;
    let across = width.div_ceil(cw.max(1));
    let a_plane = across * height.div_ceil(ch.max(1));
    if (chunks as usize) < a_plane * planes {
        return Err(ShotError::Truncated(KIND));
    }
    let mut rgb = vec![0; width * height * 3];
    let mut line = Vec::new();
    for k in 0..a_plane * planes {
        let index = k as u32;
        if across == 1 && planes == 1 && (channels, bits) == (Channels::Rgb, 8) {
            // The usual scan: rows as wanted, read straight to their place.
            let rows = decoder.chunk_data_dimensions(index).1 as usize;
            let place = rgb.get_mut(k * ch * width * 3..).and_then(|r| r.get_mut(..rows * width * 3));
            decoder.read_chunk_bytes(index, place.ok_or(ShotError::Truncated(KIND))?).map_err(fault)?;
            continue;
        }
        let (w, h) = decoder.chunk_data_dimensions(index);
        let data = decoder.read_chunk(index).map_err(fault)?;
        let (left, top) = (k % a_plane % across * cw, k % a_plane / across * ch);
        let (w, h) = ((w as usize).min(width.saturating_sub(left)), (h as usize).min(height.saturating_sub(top)));
        let stride = row_stride(decoder.chunk_data_dimensions(index).0 as usize, stored.count(), bits);
        for y in 0..h {
            line.resize(w * stored.count(), 0);
            row(&data, y, stride, bits, &mut line)?;
            let out = &mut rgb[((top + y) * width + left) * 3..][..w * 3];
            if planes > 1 {
                out.chunks_exact_mut(3).zip(&line).for_each(|(p, v)| p[k / a_plane] = *v);
            } else {
                stored.to_rgb(&line, out);
            }
        }
    }
    Ok(rgb)
}

/// Samples from one row of a chunk to the next.
fn row_stride(width: usize, channels: usize, bits: u8) -> usize {
    if bits < 8 { (width * channels * usize::from(bits)).div_ceil(8) } else { width * channels }
}

/// Row `y` of a chunk as 8-bit samples.
fn row(data: &DecodingResult, y: usize, stride: usize, bits: u8, out: &mut [u8]) -> Result<(), ShotError> {
    let short = ShotError::Truncated(KIND);
    match data {
        DecodingResult::U8(all) => {
            let all = all.get(y * stride..).ok_or(short.clone())?;
            if bits < 8 {
                let packed = all.get(..out.len().div_ceil(8 / usize::from(bits))).ok_or(short)?;
                unpack(bits, packed, out);
            } else {
                out.copy_from_slice(all.get(..out.len()).ok_or(short)?);
            }
        }
        DecodingResult::U16(all) => {
            let all = all.get(y * stride..).and_then(|a| a.get(..out.len())).ok_or(short)?;
            out.iter_mut().zip(all).for_each(|(o, v)| *o = byte(*v));
        }
        _ => return Err(ShotError::Rare { kind: KIND, why: "not 8 or 16 bits a channel".into() }),
    }
    Ok(())
}

fn written(decoder: &mut Tiff) -> Written {
    let number = |d: &mut Tiff, tag| d.find_tag(tag).ok().flatten().and_then(number);
    let text = |d: &mut Tiff, tag| d.get_tag_ascii_string(tag).ok().and_then(|t| clean(&t));
    let unit = decoder.find_tag_unsigned::<u32>(Tag::ResolutionUnit).ok().flatten().unwrap_or(2);
    let (x, y) = (number(decoder, Tag::XResolution), number(decoder, Tag::YResolution));
    let mut out = Written {
        orientation: decoder.find_tag_unsigned::<u32>(Tag::Orientation).ok().flatten().unwrap_or(0),
        make: text(decoder, Tag::Make),
        model: text(decoder, Tag::Model),
        px_per_mm: resolution(x, y, unit),
        ..Written::default()
    };
    exif(decoder, &mut out);
    out
}

/// A number above nothing, whatever it is stored as.
fn number(value: Value) -> Option<f64> {
    let v = match value {
        Value::Rational(above, below) => f64::from(above) / f64::from(below),
        Value::SRational(above, below) => f64::from(above) / f64::from(below),
        Value::List(all) => return number(all.into_iter().next()?),
        Value::Float(v) => f64::from(v),
        Value::Double(v) => v,
        whole => f64::from(whole.into_u32().ok()?),
    };
    (v.is_finite() && v > 0.0).then_some(v)
}

/// Tags of the Exif directory, where there is one.
fn exif(decoder: &mut Tiff, out: &mut Written) -> Option<()> {
    let place = decoder.find_tag(Tag::ExifDirectory).ok()??.into_ifd_pointer().ok()?;
    let directory = decoder.read_directory(place).ok()?;
    let mut inside = decoder.read_directory_tags(&directory);
    let mut number = |tag| inside.find_tag(Tag::Unknown(tag)).ok().flatten().and_then(self::number);
    out.focal = number(0x920A);
    out.film_focal = number(0xA405);
    out.camera = out.focal.is_some() || out.film_focal.is_some() || number(0x829A).is_some() || number(0x829D).is_some();
    out.taken_size = number(0xA002).zip(number(0xA003)).map(|(w, h)| [w, h]);
    out.zoom = number(0xA404);
    Some(())
}

fn fault(e: TiffError) -> ShotError {
    match e {
        TiffError::IoError(_) => ShotError::Truncated(KIND),
        TiffError::UnsupportedError(e) => ShotError::Rare { kind: KIND, why: brief(e) },
        TiffError::LimitsExceeded => ShotError::Damaged { kind: KIND, why: "its parts are far too large".into() },
        e => ShotError::Damaged { kind: KIND, why: brief(e) },
    }
}
