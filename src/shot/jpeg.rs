//! JPEG (ISO/IEC 10918-1): decoded strictly, so that a file cut short is noticed; bytes after its end are not minded.

use super::error::brief;
use super::{Limits, Raw, ShotError, written::Written, written::resolution};
use zune_core::bytestream::ZCursor;
use zune_core::colorspace::ColorSpace;
use zune_core::options::DecoderOptions;
use zune_jpeg::JpegDecoder;
use zune_jpeg::errors::DecodeErrors;

const KIND: &str = "JPEG";

const SOI: u8 = 0xD8;
const EOI: u8 = 0xD9;
const SOS: u8 = 0xDA;
const APP0: u8 = 0xE0;
const DQT: u8 = 0xDB;

/// Sum of the luminance quantisation table that ITU-T T.81 (Annex K, table K.1) suggests: 64 values from 10 to 121.
const SUGGESTED: f64 = 3688.0;

/// Decodes a JPEG.
pub(super) fn decode(bytes: &[u8], limits: &Limits) -> Result<Raw, ShotError> {
    let whole = ends(bytes);
    let (mut decoder, cleaned);
    decoder = open(bytes);
    if let Err(e) = decoder.decode_headers() {
        // Some cameras leave stray bytes between the segments, which the strict reading refuses.
        match headers_only_segments(bytes).filter(|c| whole && c.len() < bytes.len()) {
            Some(bytes) => cleaned = bytes,
            None => return Err(fault(e, whole)),
        }
        decoder = open(&cleaned);
        decoder.decode_headers().map_err(|e| fault(e, whole))?;
    }
    let (width, height) = decoder.dimensions().ok_or_else(|| damaged("it names no size"))?;
    let mut written = decoder.exif().map(|block| Written::from_exif(block.clone())).unwrap_or_default();
    written.px_per_mm = written.px_per_mm.or_else(|| jfif_resolution(bytes));
    written.jpeg_quality = quality(bytes);
    limits.check([width as u64, height as u64], 3, written.px_per_mm)?;
    // Each block of 8 × 8 takes a bit at the very least; fewer, and an end mark stands where the rest should be.
    let blocks = width.div_ceil(8) * height.div_ceil(8);
    if !whole || bytes.len() * 8 < blocks {
        return Err(ShotError::Truncated(KIND));
    }
    let mut rgb = vec![0; width * height * 3];
    decoder.decode_into(&mut rgb).map_err(|e| fault(e, whole))?;
    let icc = decoder.icc_profile();
    Ok(Raw { width, height, rgb, written, icc })
}

fn open(bytes: &[u8]) -> JpegDecoder<ZCursor<&[u8]>> {
    let options = DecoderOptions::default()
        .set_strict_mode(true)
        .set_max_width(usize::from(u16::MAX))
        .set_max_height(usize::from(u16::MAX))
        .jpeg_set_out_colorspace(ColorSpace::RGB);
    JpegDecoder::new_with_options(ZCursor::new(bytes), options)
}

fn damaged(why: &str) -> ShotError {
    ShotError::Damaged { kind: KIND, why: why.into() }
}

fn fault(e: DecodeErrors, whole: bool) -> ShotError {
    match e {
        DecodeErrors::Unsupported(_) | DecodeErrors::SofError(_) => {
            ShotError::Rare { kind: KIND, why: "not the usual 8-bit baseline or progressive coding".into() }
        }
        DecodeErrors::ZeroError => damaged("its size is given as zero"),
        _ if !whole => ShotError::Truncated(KIND),
        DecodeErrors::ExhaustedData | DecodeErrors::IoErrors(_) => ShotError::Truncated(KIND),
        e => damaged(&brief(e)),
    }
}

/// One marker segment: the marker, where it starts, and its payload.
struct Segment<'a> {
    marker: u8,
    start: usize,
    end: usize,
    payload: &'a [u8],
}

/// The segment at or after `at`, fill and stray bytes skipped; `None` at the end of the file.
fn segment(bytes: &[u8], at: usize) -> Option<Segment<'_>> {
    let mut k = at;
    loop {
        k += bytes.get(k..)?.iter().position(|b| *b == 0xFF)?;
        match *bytes.get(k + 1)? {
            0xFF => k += 1,
            0 => k += 2,
            marker @ (SOI | EOI | 0x01 | 0xD0..=0xD7) => return Some(Segment { marker, start: k, end: k + 2, payload: &[] }),
            marker => {
                let length = usize::from(u16::from_be_bytes([*bytes.get(k + 2)?, *bytes.get(k + 3)?]));
                let payload = bytes.get(k + 4..k + 2 + length.max(2))?;
                return Some(Segment { marker, start: k, end: k + 2 + length.max(2), payload });
            }
        }
    }
}

/// Whether the picture's own end is there; what follows it (a film, a second picture) does not count.
fn ends(bytes: &[u8]) -> bool {
    // The usual file ends with its own end; walking the coded data is left to the others.
    let mut at = 2;
    let quick = bytes.ends_with(&[0xFF, EOI]);
    while let Some(s) = segment(bytes, at) {
        match s.marker {
            EOI => return true,
            SOS if quick => return true,
            _ => at = s.end,
        }
    }
    false
}

/// The file without stray bytes between its segments before the coded data.
fn headers_only_segments(bytes: &[u8]) -> Option<Vec<u8>> {
    let mut out = vec![0xFF, SOI];
    let mut at = 2;
    while let Some(s) = segment(bytes, at) {
        if s.marker == SOS {
            out.extend_from_slice(&bytes[s.start..]);
            return Some(out);
        }
        out.extend_from_slice(&bytes[s.start..s.end]);
        at = s.end;
    }
    None
}

/// Quality on the scale of the IJG's library, from its first (luminance) quantisation table: above 50 the suggested table is
/// taken to 200 - 2q percent, below to 5000/q percent.
fn quality(bytes: &[u8]) -> Option<f64> {
    let mut at = 2;
    while let Some(s) = segment(bytes, at) {
        match (s.marker, s.payload) {
            (DQT, [first, values @ ..]) if first & 15 == 0 => {
                let sum: f64 = match first >> 4 {
                    0 => values.get(..64)?.iter().map(|v| f64::from(*v)).sum(),
                    _ => values.get(..128)?.chunks_exact(2).map(|v| f64::from(u16::from_be_bytes([v[0], v[1]]))).sum(),
                };
                let percent = 100.0 * sum / SUGGESTED;
                return Some(if percent <= 100.0 { 100.0 - percent / 2.0 } else { 5000.0 / percent }.clamp(1.0, 100.0));
            }
            (SOS | EOI, _) => return None,
            _ => at = s.end,
        }
    }
    None
}

/// JFIF 1.02, APP0: unit 1 = dots to the inch, 2 = dots to the cm, 0 = only a ratio.
fn jfif_resolution(bytes: &[u8]) -> Option<[f64; 2]> {
    let mut at = 2;
    while let Some(s) = segment(bytes, at) {
        match (s.marker, s.payload) {
            (APP0, [b'J', b'F', b'I', b'F', 0, _, _, unit, xh, xl, yh, yl, ..]) => {
                let density = |h: u8, l: u8| f64::from(u16::from_be_bytes([h, l]));
                return resolution(Some(density(*xh, *xl)), Some(density(*yh, *yl)), u32::from(*unit) + 1);
            }
            (SOS | EOI, _) => return None,
            _ => at = s.end,
        }
    }
    None
}
